//! The draft as text: settings first, what is unsure as comments.

use super::super::dates::Order;
use super::super::numbers::Mark;
use super::super::units::{Said, Unit, in_heading};
use super::guess::{Served, explained};
use super::sample::{Column, Sheet};
use super::words::guesses;
use super::{Draft, Guess, Sure};
use crate::settings::contract::{Kind, TABLES};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

/// Puts the draft together.
pub(super) fn draft(sheets: &[Sheet], served: &[Served], classes: &BTreeSet<String>) -> Draft {
    let mut text = String::from(
        "# Drafted from headings and values. Every line is a guess: read it, mend it,\n\
         # then run `check`. Lines that begin with # do nothing.\n",
    );
    let mut guesses = Vec::new();
    files(&mut text, sheets, served);
    columns(&mut text, sheets, served, &mut guesses);
    let used: Vec<&Column> = served
        .iter()
        .flat_map(|s| used_columns(sheets, s))
        .collect();
    units(&mut text, sheets, served);
    readings(&mut text, &used);
    words(&mut text, sheets, served, classes);
    let unused = sheets.iter().enumerate();
    let unused = unused.filter(|(at, _)| !served.iter().any(|s| s.sheet == *at));
    Draft {
        text,
        guesses,
        unused: unused.map(|(_, s)| s.file.clone()).collect(),
    }
}

fn used_columns<'a>(sheets: &'a [Sheet], served: &'a Served) -> impl Iterator<Item = &'a Column> {
    let columns = &sheets[served.sheet].columns;
    served.columns.iter().map(move |c| &columns[c.column])
}

/// A TOML string.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_string()).to_string()
}

/// What stands in a comment: one line.
fn comment(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}

fn files(text: &mut String, sheets: &[Sheet], served: &[Served]) {
    text.push_str("\n[files]\n");
    for table in TABLES {
        let names: Vec<String> = served
            .iter()
            .filter(|s| s.table == table)
            .map(|s| quoted(&sheets[s.sheet].file))
            .collect();
        let _ = match names.as_slice() {
            [] => writeln!(text, "# {table} = \"...\"  # no file found"),
            [one] => writeln!(text, "{table} = {one}"),
            several => writeln!(text, "{table} = [{}]", several.join(", ")),
        };
    }
    for (at, sheet) in sheets.iter().enumerate() {
        if !served.iter().any(|s| s.sheet == at) {
            let _ = writeln!(text, "# not used: {}", comment(&sheet.file));
        }
    }
}

fn columns(text: &mut String, sheets: &[Sheet], served: &[Served], out: &mut Vec<Guess>) {
    for table in TABLES {
        let mut all: Vec<Guess> = Vec::new();
        for s in served.iter().filter(|s| s.table == table) {
            let sheet = &sheets[s.sheet];
            for choice in &s.columns {
                let guess = explained(table, sheet, choice);
                if !all.iter().any(|g| g.field == guess.field) {
                    all.push(guess);
                }
            }
        }
        if all.is_empty() {
            continue;
        }
        let _ = writeln!(text, "\n[columns.{table}]");
        for guess in &all {
            column(text, guess);
        }
        for field in table.fields() {
            if !all.iter().any(|g| g.field == field.name) && field.name != "shop" {
                let _ = writeln!(text, "# {} = \"...\"  # no column found", field.name);
            }
        }
        out.append(&mut all);
    }
    for s in served {
        let free = unclaimed(&sheets[s.sheet], served, s.sheet);
        let first = served.iter().find(|o| o.sheet == s.sheet).map(|o| o.table);
        if !free.is_empty() && first == Some(s.table) {
            let file = comment(&sheets[s.sheet].file);
            let _ = writeln!(text, "# {file}: not read: {}", comment(&free.join(", ")));
        }
    }
}

fn unclaimed(sheet: &Sheet, served: &[Served], at: usize) -> Vec<String> {
    let claimed = |column: usize| {
        let mut here = served.iter().filter(|s| s.sheet == at);
        here.any(|s| s.columns.iter().any(|c| c.column == column))
    };
    let free = sheet
        .columns
        .iter()
        .enumerate()
        .filter(|(i, _)| !claimed(*i));
    free.map(|(_, c)| quoted(&c.heading)).collect()
}

fn column(text: &mut String, guess: &Guess) {
    let sure = match guess.sure {
        Sure::Quite => "quite sure",
        Sure::Fairly => "fairly sure",
        Sure::Somewhat => "unsure, look at it",
    };
    let heading = quoted(&guess.heading);
    let _ = writeln!(
        text,
        "{} = {heading}  # {sure}: {}",
        guess.field,
        comment(&guess.why)
    );
    for other in &guess.alternatives {
        let _ = writeln!(text, "# {} = {}", guess.field, comment(&quoted(other)));
    }
}

/// Units that the headings name, and Fahrenheit where no shop is that hot.
fn units(text: &mut String, sheets: &[Sheet], served: &[Served]) {
    let mut found: BTreeMap<String, (String, String)> = BTreeMap::new();
    let mut unclear: Vec<String> = Vec::new();
    for s in served {
        for choice in &s.columns {
            let column = &sheets[s.sheet].columns[choice.column];
            let field = format!("{}.{}", s.table, choice.field.name);
            let kind = choice.field.kind;
            let measured = matches!(
                kind,
                Kind::Area | Kind::Used | Kind::Volume | Kind::Temperature
            );
            if !measured {
                continue;
            }
            const HOT_CELSIUS: f64 = 45.0;
            let (unit, why) = match in_heading(&column.heading, kind) {
                Said::Unit(unit) => (unit.name(kind), "the heading says so"),
                Said::Unclear(unit) => {
                    unclear.push(format!(
                        "# {} = \"...\"  # \"{unit}\" may be several",
                        quoted(&field)
                    ));
                    continue;
                }
                Said::Nothing if kind == Kind::Temperature && column.mean() > HOT_CELSIUS => {
                    ("F", "too hot for Celsius")
                }
                Said::Nothing => (Unit::Canonical.name(kind), "no word of another"),
            };
            found.insert(field, (unit.to_string(), why.to_string()));
        }
    }
    text.push_str("\n[units]\n");
    for (field, (unit, why)) in found {
        let _ = writeln!(text, "{} = {}  # {why}", quoted(&field), quoted(&unit));
    }
    for line in unclear {
        let _ = writeln!(text, "{line}");
    }
}

/// Order of dates, marks of numbers, currency: where all columns together
/// decide.
fn readings(text: &mut String, used: &[&Column]) {
    let mut order = super::super::dates::Evidence::default();
    let mut mark = super::super::numbers::Evidence::default();
    let mut currencies: BTreeSet<&str> = BTreeSet::new();
    for column in used {
        order.add(column.order.clone());
        mark.add(column.mark.clone());
        currencies.extend(&column.currencies);
    }
    if order.month + order.day + order.either > 0 {
        text.push_str("\n[dates]\n");
        let _ = match order.verdict() {
            Some(Order::DayFirst) => writeln!(
                text,
                "order = \"day-first\"  # {} dates fit only so",
                order.day
            ),
            Some(_) => writeln!(
                text,
                "order = \"month-first\"  # {} dates fit only so",
                order.month
            ),
            None => writeln!(
                text,
                "# order = \"month-first\"  # or day-first: every date fits both"
            ),
        };
    }
    if mark.comma + mark.either_comma + mark.either_point > 0 {
        text.push_str("\n[numbers]\n");
        let _ = match mark.own() {
            Some(Mark::Comma) => writeln!(
                text,
                "decimal = \",\"  # {} numbers fit only so",
                mark.comma
            ),
            Some(Mark::Point) => writeln!(
                text,
                "decimal = \".\"  # {} numbers fit only so",
                mark.point
            ),
            None => writeln!(text, "# decimal = \".\"  # or \",\": the numbers fit both"),
        };
    }
    let currencies: Vec<&str> = currencies.into_iter().collect();
    if let [one] = currencies.as_slice() {
        let _ = writeln!(text, "\n[money]\ncurrency = {}  # by its sign", quoted(one));
    }
}

fn words(text: &mut String, sheets: &[Sheet], served: &[Served], classes: &BTreeSet<String>) {
    let mut by_field: BTreeMap<&str, BTreeMap<String, (u64, Option<String>)>> = BTreeMap::new();
    let mut order: Vec<&str> = Vec::new();
    for s in served {
        for choice in &s.columns {
            let column = &sheets[s.sheet].columns[choice.column];
            for guess in guesses(choice.field, column, choice.opposite, classes) {
                if !order.contains(&choice.field.name) {
                    order.push(choice.field.name);
                }
                let map = by_field.entry(choice.field.name).or_default();
                let known = map.entry(guess.theirs).or_insert((0, guess.ours));
                known.0 += guess.count;
            }
        }
    }
    for field in order {
        let _ = writeln!(text, "\n[words.{field}]");
        for (theirs, (count, ours)) in by_field.get(field).into_iter().flatten() {
            let times = if *count == 1 {
                "once".to_string()
            } else {
                format!("{count} times")
            };
            let theirs = quoted(theirs);
            let _ = match ours {
                Some(ours) => writeln!(text, "{theirs} = {}  # {times}", quoted(ours)),
                None => writeln!(
                    text,
                    "# {} = \"...\"  # {times}; say what it stands for",
                    comment(&theirs)
                ),
            };
        }
    }
}
