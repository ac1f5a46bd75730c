//! One of the four figures, month by month.

use super::{Index, IndexMonth};
use crate::charts::{Axis, Band, Control, Month as Mark, Tick, control, figure_of};
use crate::findings::certainty::Certainty;
use crate::findings::headline::Moved;
use crate::findings::year::FigureMonth;
use crate::pages::error::PageError;
use crate::pages::format::{Format, list, month, month_short};
use crate::pages::sections::{Section, drawn};
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{SectionView, sentence, words as plain};
use crate::pages::words::sure_word;

/// How a figure is named, written and drawn.
struct Kind {
    id: &'static str,
    heading: &'static str,
    unit: String,
    limits: Option<Band>,
    cell: fn(f64) -> Cell,
    /// From the unit of the findings to that of the axis.
    drawn: Box<dyn Fn(f64) -> f64>,
    tick: Box<dyn Fn(f64) -> String>,
}

fn kind(of: Moved, f: &Format) -> Kind {
    let scale = f.currency.scale() as f64;
    let own = f.clone();
    match of {
        Moved::Attach => Kind {
            id: "sold",
            heading: "Coating sold on",
            unit: "Share of film jobs that took the coating, by month".into(),
            limits: Some(Band {
                low: 0.0,
                high: 1.0,
            }),
            cell: Cell::Share,
            drawn: Box::new(|x| x),
            tick: Box::new(move |x| own.share(x)),
        },
        Moved::Margin => Kind {
            id: "earned",
            heading: "Left over per coated job",
            unit: format!(
                "Left of a coated job's price after all its costs, by month, {}",
                f.currency.code
            ),
            limits: None,
            cell: Cell::Money,
            drawn: Box::new(move |x| x / scale),
            tick: Box::new(move |x| own.money_tick(x)),
        },
        Moved::Use => Kind {
            id: "used",
            heading: "Coating used per area",
            unit: format!("Coating used, by month, {}", f.use_rate_unit()),
            limits: None,
            cell: Cell::PerArea,
            drawn: {
                let f = f.clone();
                Box::new(move |x| f.use_rate(x))
            },
            tick: Box::new(move |x| own.number(x, decimals(x))),
        },
        Moved::Minutes => Kind {
            id: "took",
            heading: "Hands-on time per job",
            unit: "Mean hands-on minutes of a coated job, by month".into(),
            limits: None,
            cell: Cell::Minutes,
            drawn: Box::new(|x| x),
            tick: Box::new(move |x| own.number(x, 0)),
        },
    }
}

/// As many decimals as a tick has, two at most.
fn decimals(x: f64) -> usize {
    let whole = |x: f64| (x - x.round()).abs() < 1e-6;
    match (whole(x), whole(10.0 * x)) {
        (true, _) => 0,
        (_, true) => 1,
        _ => 2,
    }
}

/// The section of figure `i` of each month.
pub(super) fn section(
    index: &Index,
    i: usize,
    of: Moved,
    f: &Format,
) -> Result<Section, PageError> {
    let kind = kind(of, f);
    let months: Vec<(&IndexMonth, FigureMonth)> = (index.months.iter())
        .filter_map(|m| Some((m, *m.figures.figures.get(i)?)))
        .collect();
    let sentence = sentence(&sentence_of(&months, &kind, f));
    let spec = Control {
        months: months.iter().map(|(m, x)| mark(m, x, &kind, f)).collect(),
        centre: None,
        axis: Axis {
            tick: Tick(&*kind.tick),
            from_zero: true,
            limits: kind.limits,
        },
    };
    let drawing = figure_of(kind.id, kind.heading, &plain(&sentence), |s| {
        control(&spec, s)
    });
    let view = SectionView {
        id: kind.id.into(),
        heading: kind.heading.into(),
        figures: drawn("year", kind.unit.clone(), spec.key(), drawing)?,
        sentence,
        ..SectionView::default()
    };
    Ok(Section::new(view, vec![table(&months, &kind)], f))
}

fn shown(kind: &Kind, x: f64, f: &Format) -> String {
    (kind.cell)(x).shown(f).text
}

/// The same in a sentence, with its unit.
fn said(kind: &Kind, x: f64, f: &Format) -> String {
    match (kind.cell)(x) {
        Cell::PerArea(x) => f.use_rate_text(x),
        cell => cell.shown(f).text,
    }
}

fn mark(m: &IndexMonth, x: &FigureMonth, kind: &Kind, f: &Format) -> Mark {
    let label = month_short(m.month.first());
    let text = x.value.map_or_else(String::new, |v| shown(kind, v, f));
    let word = x.certainty.map_or("not enough data", sure_word);
    let tip = match x.likely {
        Some(e) => format!(
            "{label}: {text}, likely {} to {}. {word}",
            shown(kind, e.low, f),
            shown(kind, e.high, f)
        ),
        None => format!("{label}: {word}"),
    };
    Mark {
        figure: x.likely.map(|e| e.map(&kind.drawn)),
        usual: x.range.map(|r| Band {
            low: (kind.drawn)(r.low),
            high: (kind.drawn)(r.high),
        }),
        outside: x.certainty == Some(Certainty::Outside),
        label,
        text,
        tip,
    }
}

/// Names of the months called so, oldest first.
fn called(months: &[(&IndexMonth, FigureMonth)], certainty: Certainty) -> Option<String> {
    let named = months
        .iter()
        .filter(|(_, x)| x.certainty == Some(certainty));
    let names: Vec<String> = named.map(|(m, _)| month(m.month.first())).collect();
    (!names.is_empty()).then(|| list(&names))
}

fn sentence_of(months: &[(&IndexMonth, FigureMonth)], kind: &Kind, f: &Format) -> String {
    let last = months
        .iter()
        .rev()
        .find_map(|(m, x)| Some((m, x, x.value?)));
    let Some((m, x, value)) = last else {
        return "No month has enough data for this figure yet.".into();
    };
    let usual = x.usual.map_or_else(String::new, |u| {
        format!(", the usual being {}", shown(kind, u, f))
    });
    let mut all = vec![format!(
        "{}: **{}**{usual}.",
        month(m.month.first()),
        said(kind, value, f)
    )];
    if let Some(names) = called(months, Certainty::Outside) {
        all.push(format!("A real change: {names}."));
    }
    if let Some(names) = called(months, Certainty::Likely) {
        all.push(format!("Probably real: {names}."));
    }
    let quiet = all.len() == 1;
    let luck = called(months, Certainty::Luck).is_some();
    all.push(match (luck, quiet) {
        (true, true) => "What moved from month to month could be luck.".into(),
        (true, false) => "The other months could be luck, or have too few jobs to say.".into(),
        (false, true) => "There are too few jobs, or months, to say whether it moved.".into(),
        (false, false) => String::new(),
    });
    all.retain(|s| !s.is_empty());
    all.join(" ")
}

fn table(months: &[(&IndexMonth, FigureMonth)], kind: &Kind) -> Table {
    let row = |(m, x): &(&IndexMonth, FigureMonth)| {
        let word = x.certainty.map_or("Not enough data", sure_word);
        vec![
            Cell::Month(m.month),
            Cell::maybe(x.value, kind.cell),
            Cell::maybe(x.likely.map(|e| e.low), kind.cell),
            Cell::maybe(x.likely.map(|e| e.high), kind.cell),
            Cell::maybe(x.usual, kind.cell),
            Cell::maybe(x.range.map(|r| r.low), kind.cell),
            Cell::maybe(x.range.map(|r| r.high), kind.cell),
            Cell::Text(word.into()),
        ]
    };
    Table {
        name: "year",
        fold: "The numbers, month by month",
        caption: format!("{}, by month", kind.heading),
        columns: vec![
            numbers_column("month", "Month"),
            numbers_column("value", "Figure"),
            numbers_column("likely_low", "Likely from"),
            numbers_column("likely_high", "Likely to"),
            numbers_column("usual", "Usual"),
            numbers_column("usual_low", "Usual from"),
            numbers_column("usual_high", "Usual to"),
            words_column("certainty", "How sure"),
        ],
        rows: months.iter().rev().map(row).collect(),
        definition: "Figure, usual and words as on the month's own page. Likely from, to: 95% interval of the month. Usual from, to: limits at 99.73% within which the month falls when nothing has changed. An empty cell: too few jobs, or nothing before to compare with.".into(),
    }
}
