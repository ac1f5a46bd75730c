//! Lines that cannot be used, added to the sound ones.

use super::sheet::{Dialect, Sheet, job_key};
use serde::Serialize;

/// A broken line, and what is to be said of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Broken {
    /// File.
    pub file: &'static str,
    /// Physical line, from 1.
    pub line: u64,
    /// What was done to it.
    pub kind: &'static str,
    /// Heading of the column at fault; `None` = the line as a whole.
    pub column: Option<&'static str>,
    /// Reason code of the contract.
    pub reason: &'static str,
}

/// What is done to a sound line to break it.
#[derive(Debug, Clone, Copy)]
pub(super) enum Damage {
    /// Only so many cells are left.
    Cut(usize),
    /// One more cell.
    Extra(&'static str),
    /// Other values in these columns.
    Cells(&'static [[&'static str; 2]]),
    /// A value that is not quoted although it should be.
    Bare(&'static str, &'static str),
    /// A byte that is no text in the file's encoding, in this column.
    Byte(&'static str, u8),
}

/// A line to be broken.
#[derive(Debug, Clone, Copy)]
pub(super) struct Plot {
    pub(super) kind: &'static str,
    pub(super) column: Option<&'static str>,
    pub(super) reason: &'static str,
    pub(super) damage: Damage,
    /// False where the key of the sound line stays.
    pub(super) new_key: bool,
}

/// A line that no sound record shares a job with.
pub(super) const fn plot(
    kind: &'static str,
    column: Option<&'static str>,
    reason: &'static str,
    damage: Damage,
) -> Plot {
    Plot {
        kind,
        column,
        reason,
        damage,
        new_key: true,
    }
}

/// First job number of broken lines, above any sound one.
const FIRST_KEY: u64 = 90_001;

/// Adds broken lines to a sheet, each made from a sound one.
#[derive(Debug)]
pub(super) struct Breaker<'a> {
    headings: &'a [&'a str],
    plots: std::slice::Iter<'a, Plot>,
    every: usize,
    seen: usize,
    broken: &'a mut Vec<Broken>,
}

impl<'a> Breaker<'a> {
    /// Spreads the plots over `rows` sound rows.
    pub(super) fn new(
        headings: &'a [&'a str],
        plots: &'a [Plot],
        rows: usize,
        broken: &'a mut Vec<Broken>,
    ) -> Self {
        Self {
            headings,
            plots: plots.iter(),
            every: (rows / (plots.len() + 1)).max(1),
            seen: 0,
            broken,
        }
    }

    /// Called after each sound row that may serve as a pattern.
    pub(super) fn after(&mut self, cells: &[String], sheet: &mut Sheet) {
        self.seen += 1;
        if !self.seen.is_multiple_of(self.every) {
            return;
        }
        let Some(plot) = self.plots.next() else {
            return;
        };
        let mut cells = cells.to_vec();
        if let (true, Some(key)) = (plot.new_key, cells.first_mut()) {
            *key = job_key(FIRST_KEY + self.broken.len() as u64);
        }
        let line = sheet.raw_damaged(self.headings, cells, plot.damage);
        self.broken.push(Broken {
            file: sheet.dialect.name,
            line,
            kind: plot.kind,
            column: plot.column,
            reason: plot.reason,
        });
    }
}

impl Sheet {
    fn raw_damaged(&mut self, headings: &[&str], mut cells: Vec<String>, damage: Damage) -> u64 {
        let dialect = self.dialect;
        let place = |name: &str| headings.iter().position(|h| *h == name);
        match damage {
            Damage::Cut(keep) => cells.truncate(keep),
            Damage::Extra(cell) => cells.push(cell.to_string()),
            Damage::Cells(values) => {
                for [name, value] in values {
                    if let Some(cell) = place(name).and_then(|p| cells.get_mut(p)) {
                        *cell = (*value).to_string();
                    }
                }
            }
            Damage::Bare(name, value) => {
                let line = bare(dialect, &cells, place(name), value);
                return self.line(&line);
            }
            Damage::Byte(name, byte) => {
                let mark = '\u{1}';
                let line = bare(dialect, &cells, place(name), &mark.to_string());
                let bytes: Vec<u8> = line
                    .bytes()
                    .map(|b| if b == mark as u8 { byte } else { b })
                    .collect();
                return self.raw(&bytes);
            }
        }
        self.row(&cells)
    }
}

/// The line with one cell as it is, whatever it holds.
fn bare(dialect: Dialect, cells: &[String], place: Option<usize>, value: &str) -> String {
    let mut line = String::new();
    for (at, cell) in cells.iter().enumerate() {
        if at > 0 {
            line.push(dialect.delimiter);
        }
        if Some(at) == place {
            line.push_str(value);
        } else {
            line.push_str(&dialect.join(&[cell]));
        }
    }
    line
}
