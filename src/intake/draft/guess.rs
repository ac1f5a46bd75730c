//! Which table a file serves, and which column serves which field.

use super::fields::{named, words};
use super::sample::{Column, Sheet};
use super::vocabulary::file_names;
use super::{Guess, Sure};
use crate::settings::contract::{Field, Kind, TABLES, Table};

/// A pair of field and column is considered from this score on.
const LEAST: f64 = 0.45;

/// A table, the sheet that serves it, and the columns of its fields.
#[derive(Debug)]
pub(super) struct Served {
    pub(super) table: Table,
    /// Place of the sheet.
    pub(super) sheet: usize,
    pub(super) columns: Vec<Chosen>,
}

/// A field and the column that seems to be it.
#[derive(Debug)]
pub(super) struct Chosen {
    pub(super) field: &'static Field,
    pub(super) column: usize,
    pub(super) score: f64,
    pub(super) opposite: bool,
    pub(super) alternatives: Vec<usize>,
}

struct Pair {
    field: &'static Field,
    column: usize,
    score: f64,
    opposite: bool,
}

fn pairs(table: Table, columns: &[Column], free: &[bool]) -> Vec<Pair> {
    let mut out = Vec::new();
    for field in table.fields() {
        for (at, column) in columns.iter().enumerate().filter(|(at, _)| free[*at]) {
            let name = named(&column.heading, table, field);
            let mut fits = column.fits(field.kind);
            if table.key().contains(&field.name) && !column.are_different() && !column.is_empty() {
                fits *= 0.7;
            }
            let score = name.score * fits;
            if score >= LEAST {
                out.push(Pair {
                    field,
                    column: at,
                    score,
                    opposite: name.opposite,
                });
            }
        }
    }
    out.sort_by(|a, b| b.score.total_cmp(&a.score));
    out
}

/// The best column for each field, each column for one field.
fn choose(table: Table, columns: &[Column], free: &[bool]) -> Vec<Chosen> {
    let pairs = pairs(table, columns, free);
    let mut chosen: Vec<Chosen> = Vec::new();
    for pair in &pairs {
        let taken = |c: &Chosen| c.field.name == pair.field.name || c.column == pair.column;
        if !chosen.iter().any(taken) {
            chosen.push(Chosen {
                field: pair.field,
                column: pair.column,
                score: pair.score,
                opposite: pair.opposite,
                alternatives: Vec::new(),
            });
        }
    }
    for choice in &mut chosen {
        let others = pairs.iter().filter(|p| p.field.name == choice.field.name);
        let others = others.filter(|p| p.column != choice.column).take(3);
        choice.alternatives = others.map(|p| p.column).collect();
    }
    let place = |c: &Chosen| table.fields().iter().position(|f| f.name == c.field.name);
    chosen.sort_by_key(place);
    chosen
}

/// How well a sheet serves a table.
fn strength(table: Table, sheet: &Sheet, chosen: &[Chosen]) -> f64 {
    let found: f64 = chosen.iter().map(|c| c.score).sum();
    let has = |f: &&Field| chosen.iter().any(|c| c.field.name == f.name);
    let needed = table.fields().iter().filter(|f| f.column_required);
    let lacking = needed.filter(|f| !has(f)).count() as f64;
    let name = words(&sheet.file).join(" ");
    let named = file_names(table).iter().any(|n| name.contains(n));
    let unused = sheet.columns.len().saturating_sub(chosen.len()) as f64;
    found - 1.5 * lacking - 0.3 * unused + if named { 1.5 } else { 0.0 }
}

/// The tables that the sheets serve: each sheet the one that it serves best,
/// and a wide sheet of jobs the coatings too.
pub(super) fn served(sheets: &[Sheet]) -> Vec<Served> {
    let mut out: Vec<Served> = Vec::new();
    for (at, sheet) in sheets.iter().enumerate() {
        let all = vec![true; sheet.columns.len()];
        let tried = TABLES.map(|table| {
            let columns = choose(table, &sheet.columns, &all);
            (strength(table, sheet, &columns), table, columns)
        });
        let best = tried.into_iter().max_by(|a, b| a.0.total_cmp(&b.0));
        let Some((strength, table, columns)) = best.filter(|b| b.0 > 0.5) else {
            continue;
        };
        let _ = strength;
        let wide = (table == Table::Jobs)
            .then(|| also_coatings(at, sheet, &columns))
            .flatten();
        out.push(Served {
            table,
            sheet: at,
            columns,
        });
        out.extend(wide);
    }
    out.sort_by_key(|s| (s.table, s.sheet));
    out
}

/// The coatings of a wide sheet: what is left of its columns, and its key.
fn also_coatings(at: usize, sheet: &Sheet, jobs: &[Chosen]) -> Option<Served> {
    let is_key = |f: &Field| f.kind == Kind::Key && (f.name == "job" || f.name == "shop");
    let taken = |column: usize| jobs.iter().any(|c| c.column == column && !is_key(c.field));
    let free: Vec<bool> = (0..sheet.columns.len()).map(|c| !taken(c)).collect();
    let mut columns = choose(Table::Coatings, &sheet.columns, &free);
    // The key is that of the job, not what is left over.
    columns.retain(|c| !is_key(c.field));
    const LEAST_FIELDS: usize = 3;
    if columns.len() < LEAST_FIELDS {
        return None;
    }
    for key in jobs.iter().filter(|c| is_key(c.field)).rev() {
        let field = Table::Coatings.field(key.field.name)?;
        columns.insert(
            0,
            Chosen {
                field,
                column: key.column,
                score: key.score,
                opposite: false,
                alternatives: Vec::new(),
            },
        );
    }
    Some(Served {
        table: Table::Coatings,
        sheet: at,
        columns,
    })
}

/// A choice in words.
pub(super) fn explained(table: Table, sheet: &Sheet, choice: &Chosen) -> Guess {
    let column = &sheet.columns[choice.column];
    let held = if column.is_empty() {
        "no values to judge by".to_string()
    } else if column.are_moments() {
        "its values are dates with a time".to_string()
    } else if column.are_dates() {
        "its values are dates".to_string()
    } else if column.are_money() {
        "its values are amounts of money".to_string()
    } else if column.are_numbers() {
        format!("its values are numbers, {:.1} on average", column.mean())
    } else {
        match column.few(12) {
            Some(values) => format!("it holds {} different words", values.len()),
            None => "its values are keys or free text".to_string(),
        }
    };
    let sure = match choice.score {
        s if s > 0.9 => Sure::Quite,
        s if s > 0.65 => Sure::Fairly,
        _ => Sure::Somewhat,
    };
    let name = if choice.score > 0.65 {
        "the name fits"
    } else {
        "the name fits in part"
    };
    Guess {
        table,
        field: choice.field.name,
        file: sheet.file.clone(),
        heading: column.heading.clone(),
        sure,
        why: format!("{name}, {held}"),
        alternatives: choice
            .alternatives
            .iter()
            .map(|c| sheet.columns[*c].heading.clone())
            .collect(),
    }
}
