//! What `recalibrate` prints and writes.

use super::File;
use super::constants::{self, Tested};
use super::error::PageError;
use super::format::{Format, date, month};
use super::json;
use super::table::{Cell, Table};
use crate::estimate::Figure;
use crate::findings::Findings;
use crate::findings::recalibrate::{Line, effective_on};
use crate::settings::adopt;
use serde_json::json;

/// For people.
pub(super) fn text(all: &Findings, f: &Format) -> String {
    let r = &all.constants;
    let mut out = format!(
        "Planning figures, review of {}\n",
        month(all.scope.month.first())
    );
    for line in in_force(all) {
        out.push_str(&line);
        out.push('\n');
    }
    out.push('\n');
    let mut rows = vec![
        [
            "",
            "in use",
            "records say",
            "likely",
            "n",
            "both together",
            "verdict",
            "",
        ]
        .map(String::from)
        .to_vec(),
    ];
    rows.extend(r.lines.iter().map(|l| row(l, f)));
    let widths = widths(&rows);
    for (i, row) in rows.iter().enumerate() {
        out.push_str(&aligned(row, &widths));
        if let Some(line) = i.checked_sub(1).and_then(|i| r.lines.get(i)) {
            out.push_str(&format!("    {}\n", constants::why(line, f)));
        }
    }
    out.push('\n');
    out.push_str(&backtest(&backtest_table(all), f));
    out.push('\n');
    out.replace('\u{a0}', " ")
}

/// Which record is in force, and what else stands in the file.
fn in_force(all: &Findings) -> Vec<String> {
    let Some(r) = &all.record else {
        return vec!["No constants.toml: no planning figure is set.".into()];
    };
    let source = if r.source.is_empty() {
        "not stated"
    } else {
        &r.source
    };
    let mut lines = vec![format!(
        "In use: the record of {} (source: {source}).",
        date(r.effective_on)
    )];
    if r.effective_on > all.scope.month.last() {
        lines.push("No record starts by the end of that month, so the first one stands in.".into());
    }
    if let Some(later) = all.constants.later {
        lines.push(format!(
            "A later record starts on {}; it takes over then.",
            date(later)
        ));
    }
    lines
}

fn row(l: &Line, f: &Format) -> Vec<String> {
    let value =
        |x: Option<f64>| x.map_or_else(|| "-".into(), |x| constants::text(l.constant, x, f));
    let likely = match &l.data_alone {
        Figure::Known(e) if !l.exact => {
            format!("{} to {}", value(Some(e.low)), value(Some(e.high)))
        }
        _ => "-".into(),
    };
    let name = match l.key.as_str() {
        "" => l.constant.name().to_string(),
        key => format!("{} {key}", l.constant.name()),
    };
    vec![
        name,
        value(l.in_force),
        value(l.data_alone.value()),
        likely,
        f.count(constants::observations(l)),
        value(l.blended.value()),
        constants::verdict_word(l.verdict).to_string(),
        l.proposed
            .map_or_else(String::new, |x| constants::text(l.constant, x, f)),
    ]
}

fn widths(rows: &[Vec<String>]) -> Vec<usize> {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |i: usize| {
        rows.iter()
            .filter_map(|r| r.get(i))
            .map(|c| c.chars().count())
            .max()
    };
    (0..columns).map(|i| width(i).unwrap_or(0)).collect()
}

fn aligned(row: &[String], widths: &[usize]) -> String {
    let cell = |(text, width): (&String, &usize)| {
        let pad = " ".repeat(width.saturating_sub(text.chars().count()));
        format!("{text}{pad}")
    };
    let cells: Vec<String> = row.iter().zip(widths).map(cell).collect();
    format!("{}\n", cells.join("  ").trim_end())
}

fn backtest_table(all: &Findings) -> Table {
    let b = &all.constants.backtest;
    let tested = [
        Tested {
            what: "coating",
            kind: Cell::Volume,
            found: b.use_ml.as_ref(),
        },
        Tested {
            what: "minutes",
            kind: Cell::Minutes,
            found: b.minutes.as_ref(),
        },
        Tested {
            what: "coating and labor",
            kind: Cell::PerVolume,
            found: b.money.as_ref(),
        },
    ];
    constants::backtest_table("backtest", b, &tested)
}

fn backtest(table: &Table, f: &Format) -> String {
    if table.rows.is_empty() {
        return "Too little was known before each of the last months to predict it.\n".into();
    }
    let mut rows = vec![
        table
            .columns
            .iter()
            .map(|c| c.title.clone())
            .collect::<Vec<_>>(),
    ];
    let cells = |row: &Vec<Cell>| row.iter().map(|c| c.shown(f).text).collect();
    rows.extend(table.rows.iter().map(cells));
    let widths = widths(&rows);
    let lines: String = rows.iter().map(|r| aligned(r, &widths)).collect();
    format!("{}\n{lines}", table.caption)
}

/// For machines.
///
/// # Errors
/// None in practice: it is written to memory.
pub(super) fn json(all: &Findings, f: &Format) -> Result<String, PageError> {
    let r = &all.constants;
    let mut value = json!({
        "format": "tallycoat-constants",
        "version": 1,
        "month": all.scope.month,
        "effective_on": effective_on(all.scope.month).to_string(),
        "adopt": r.proposed.is_some(),
        "constants": json::constants(r, f),
        "backtest": json::backtest(&r.backtest),
    });
    if let (Some(record), Some(map)) = (&all.record, value.as_object_mut()) {
        let said =
            json!({"effective_on": record.effective_on.to_string(), "source": record.source});
        map.insert("in_force".into(), said);
    }
    let mut text = serde_json::to_string_pretty(&value)?;
    text.push('\n');
    Ok(text)
}

/// The next record of constants.toml, or a line that says that there is none.
///
/// # Errors
/// Where the record cannot be written as TOML.
pub(super) fn proposed(all: &Findings) -> Result<File, PageError> {
    let about = format!("# From the review of {}.", all.scope.month);
    let text = match &all.constants.proposed {
        None => format!("{about} No planning figure is to be changed.\n"),
        Some(record) => format!(
            "{about} To adopt it: tallycoat recalibrate FOLDER --month {} --adopt\n\n{}",
            all.scope.month,
            adopt::text(record)?
        ),
    };
    Ok(File {
        path: "constants-proposed.toml".into(),
        bytes: text.into_bytes(),
    })
}

/// The files of `--out`.
///
/// # Errors
/// As [`json`] and [`proposed`].
pub(super) fn files(all: &Findings, f: &Format) -> Result<Vec<File>, PageError> {
    let lines = all.constants.lines.iter();
    let table = constants::table("constants", "Planning figures", lines, f);
    Ok(vec![
        proposed(all)?,
        File {
            path: "constants.csv".into(),
            bytes: table.csv(f.currency.scale())?,
        },
        File {
            path: "constants.json".into(),
            bytes: json(all, f)?.into_bytes(),
        },
    ])
}
