//! What the first records of each file hold, column by column.

use super::super::bytes::{self, Origin};
use super::super::dates::{self, Shape};
use super::super::dialect;
use super::super::encoding::{self, settle};
use super::super::error::IntakeError;
use super::super::numbers::{self, Around, Mark, Number};
use super::super::record::{Machine, Step};
use super::super::units;
use crate::money::Currency;
use crate::settings::contract::Kind;
use crate::settings::shop::FileFormat;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Bytes of a file that are looked at.
const LOOKED_AT: usize = 8 << 20;
/// Different values of a column that are remembered.
const REMEMBERED: usize = 2000;
/// Ends of the names of files that may be exports.
const ENDS: [&str; 5] = [".csv", ".csv.gz", ".txt", ".tsv", ".tab"];

/// A file's columns.
#[derive(Debug)]
pub(super) struct Sheet {
    pub(super) file: String,
    pub(super) columns: Vec<Column>,
}

/// What a column's cells are, as far as looked at.
#[derive(Debug, Default)]
pub(super) struct Column {
    pub(super) heading: String,
    /// Records.
    pub(super) rows: u64,
    /// Cells with content.
    pub(super) filled: u64,
    pub(super) dates: u64,
    pub(super) moments: u64,
    pub(super) numbers: u64,
    /// Numbers with a currency sign.
    pub(super) money: u64,
    /// The sum of the numbers.
    pub(super) sum: f64,
    pub(super) order: dates::Evidence,
    pub(super) mark: numbers::Evidence,
    /// Currency codes whose signs were seen.
    pub(super) currencies: BTreeSet<&'static str>,
    /// Values and how often, as long as they are few.
    pub(super) values: BTreeMap<String, u64>,
}

impl Column {
    fn share(&self, n: u64) -> f64 {
        n as f64 / self.filled.max(1) as f64
    }

    pub(super) fn is_empty(&self) -> bool {
        self.filled == 0
    }

    pub(super) fn are_dates(&self) -> bool {
        self.share(self.dates) > 0.9
    }

    pub(super) fn are_moments(&self) -> bool {
        self.share(self.moments) > 0.9
    }

    pub(super) fn are_numbers(&self) -> bool {
        self.share(self.numbers) > 0.9
    }

    pub(super) fn are_money(&self) -> bool {
        self.share(self.money) > 0.5
    }

    /// True where nearly every cell is another.
    pub(super) fn are_different(&self) -> bool {
        self.values.len() >= REMEMBERED || self.values.len() as f64 > 0.9 * self.filled as f64
    }

    /// The values, if they are few.
    pub(super) fn few(&self, most: usize) -> Option<&BTreeMap<String, u64>> {
        (self.values.len() <= most).then_some(&self.values)
    }

    pub(super) fn mean(&self) -> f64 {
        self.sum / self.numbers.max(1) as f64
    }

    fn note(&mut self, cell: &str) {
        self.rows += 1;
        let cell = cell.trim();
        if cell.is_empty() {
            return;
        }
        self.filled += 1;
        if self.values.len() < REMEMBERED {
            *self.values.entry(cell.to_string()).or_default() += 1;
        }
        if let Some(reading) = dates::read(cell) {
            match reading.time {
                Some(_) => self.moments += 1,
                None => self.dates += 1,
            }
            if let Some(shape) = reading.shape().filter(|s| *s != Shape::Plain) {
                self.order.note(shape, cell);
            }
        } else {
            self.note_number(cell);
        }
    }

    fn note_number(&mut self, cell: &str) {
        const TRIED: [&str; 5] = ["USD", "EUR", "GBP", "SEK", "JPY"];
        let units = units::all_spellings();
        let plain = Around {
            percent: true,
            currency: None,
            units: &units,
            thousands: None,
        };
        let mut found = read_number(cell, plain);
        for code in TRIED.iter().filter(|_| found.is_none()) {
            let currency = Currency::of(code);
            let around = Around {
                currency: currency.as_ref(),
                ..plain
            };
            if let Some(number) = read_number(cell, around) {
                self.money += 1;
                self.currencies.insert(code);
                found = Some(number);
                break;
            }
        }
        if let Some(number) = found {
            self.numbers += 1;
            self.sum += number.value();
            if let Some(shape) = numbers::shape(cell, None) {
                self.mark.note(shape);
            }
        }
    }

    /// How well the values fit a kind: 0 not at all, 1 well.
    pub(super) fn fits(&self, kind: Kind) -> f64 {
        if self.is_empty() {
            return 0.5;
        }
        let yes = |fits: bool| if fits { 1.0 } else { 0.0 };
        match kind {
            Kind::Date => yes(self.are_dates() || (self.are_moments())),
            Kind::Moment => yes(self.are_moments()),
            Kind::Money => yes(self.are_numbers()),
            Kind::Area | Kind::Used | Kind::Volume | Kind::Minutes => {
                yes(self.are_numbers() && !self.are_money())
            }
            Kind::Temperature | Kind::Humidity => yes(self.are_numbers() && !self.are_money()),
            Kind::YesNo => yes(self.few(4).is_some() && !self.are_dates() && !self.are_moments()),
            Kind::Word(_) => {
                yes(self.few(12).is_some() && !self.are_dates() && !self.are_numbers())
            }
            Kind::Text => yes(!self.are_dates()
                && !self.are_moments()
                && !self.are_money()
                && !self.are_numbers()),
            // Keys may be numbers, but none with a decimal mark.
            Kind::Key => {
                let broken = self.mark.point + self.mark.comma > 0;
                yes(!self.are_dates() && !self.are_moments() && !self.are_money() && !broken)
            }
        }
    }
}

/// A number under either decimal mark.
fn read_number(cell: &str, around: Around<'_>) -> Option<Number> {
    let marks = [Mark::Point, Mark::Comma].into_iter();
    let mut read = marks.filter_map(|mark| numbers::ornate(cell, mark, around).ok());
    read.next()
}

/// The files of a folder that may be exports, looked at.
pub(super) fn sheets(folder: &Path) -> Result<Vec<Sheet>, IntakeError> {
    let mut files: BTreeMap<String, PathBuf> = BTreeMap::new();
    for pattern in ["*", "*/*"] {
        let within = format!(
            "{}/{pattern}",
            glob::Pattern::escape(&folder.to_string_lossy())
        );
        for path in glob::glob(&within).into_iter().flatten().flatten() {
            let name = path
                .strip_prefix(folder)
                .unwrap_or(&path)
                .to_string_lossy()
                .replace('\\', "/");
            let lower = name.to_lowercase();
            let output = lower.starts_with("reviews/");
            if path.is_file() && !output && ENDS.iter().any(|e| lower.ends_with(e)) {
                files.insert(name, path);
            }
        }
    }
    let mut sheets = Vec::new();
    for (name, path) in files {
        let raw = bytes::head(&Origin::Disk(path), LOOKED_AT).map_err(|source| {
            IntakeError::Unreadable {
                file: name.clone(),
                source,
            }
        })?;
        sheets.extend(sheet(name, &raw));
    }
    Ok(sheets)
}

/// A file's columns; `None` where no heading can be made out.
fn sheet(file: String, raw: &[u8]) -> Option<Sheet> {
    let settled = settle(raw, None);
    let text = bytes::as_utf8(raw, settled);
    let whole = raw.len() < LOOKED_AT;
    let (format, none) = (FileFormat::default(), BTreeSet::new());
    let layout = dialect::find(&text, whole, settled.encoding, &format, &none).ok()?;
    let mut columns: Vec<Column> = layout
        .labels
        .iter()
        .map(|l| Column {
            heading: l.text.to_string(),
            ..Column::default()
        })
        .collect();
    let mut machine = Machine::new(&text, layout.marks, layout.arity, whole);
    machine.go_to(layout.data_start);
    let mut cells = Vec::new();
    loop {
        cells.clear();
        match machine.step(&mut cells) {
            Step::Record(r) if r.cells == layout.arity => {
                for (column, cell) in columns.iter_mut().zip(&cells) {
                    let content = match cell.is_escaped() {
                        true => machine.resolve(*cell),
                        false => text[cell.start()..cell.end()].to_vec(),
                    };
                    let content = encoding::text(&content, settled.encoding);
                    column.note(&content.unwrap_or_default());
                }
            }
            Step::Record(_) | Step::Faulty(_) => {}
            Step::NeedMore(_) | Step::End => break,
        }
    }
    Some(Sheet { file, columns })
}
