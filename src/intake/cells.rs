//! Cells of one column become values, or faults that say what was found and
//! what was expected.

use super::columns::{Builder, Dictionary};
use super::dates::{self, Order, Shape};
use super::encoding;
use super::keys::hash_key;
use super::numbers::{self, Around, Mark, Number, Refused};
use super::plan::{Claim, Evidence, How, Plan};
use super::reason::{Fault, Reason};
use super::record::{Cell, resolve};
use super::units::Unit;
use super::words::{Meaning, Words};
use crate::settings::contract::Kind;
use crate::units::UseUnit;
use polars::prelude::ChunkedBuilder as _;
use std::borrow::Cow;

/// A run of records of full arity, cell after cell.
pub(super) struct Block<'a> {
    pub(super) plan: &'a Plan,
    pub(super) bytes: &'a [u8],
    /// The bytes as text, where all of them are.
    pub(super) text: Option<&'a str>,
    pub(super) cells: Vec<Cell>,
}

/// A cell that is not empty, blanks around it taken off.
enum Raw {
    At(usize, usize),
    Resolved(Vec<u8>),
}

/// What filling a column found besides values: rows are of the block.
#[derive(Default)]
pub(super) struct Findings {
    /// Rows whose cell is empty.
    pub(super) empty: Vec<u32>,
    /// Rows at fault.
    pub(super) faults: Vec<(u32, Fault)>,
}

impl<'a> Block<'a> {
    pub(super) fn rows(&self) -> usize {
        self.cells.len() / self.plan.layout.arity.max(1)
    }

    /// True where the cell holds nothing but blanks.
    pub(super) fn is_empty_at(&self, row: usize, column: usize) -> bool {
        self.raw(row, column).is_none()
    }

    /// A hash of a record's claimed cells.
    pub(super) fn content_hash(&self, row: usize) -> u64 {
        let columns = self.plan.claims.iter().map(|c| c.column);
        columns.fold(0, |hash, column| {
            let raw = self.raw(row, column);
            let bytes = raw.as_ref().map_or(&[][..], |r| self.bytes_of(r));
            hash_key("", bytes) ^ hash.rotate_left(5).wrapping_mul(0x9e37_79b9_7f4a_7c15)
        })
    }

    #[inline]
    fn raw(&self, row: usize, column: usize) -> Option<Raw> {
        let cell = self.cells[row * self.plan.layout.arity + column];
        if cell.is_escaped() {
            let content = &self.bytes[cell.start()..cell.end()];
            let whole = resolve(content, self.plan.layout.marks);
            let trimmed = whole.trim_ascii().to_vec();
            return (!trimmed.is_empty()).then_some(Raw::Resolved(trimmed));
        }
        let (mut start, mut end) = (cell.start(), cell.end());
        while start < end && self.bytes[start] <= b' ' {
            start += 1;
        }
        while start < end && self.bytes[end - 1] <= b' ' {
            end -= 1;
        }
        (start < end).then_some(Raw::At(start, end))
    }

    #[inline]
    fn bytes_of<'b>(&'b self, raw: &'b Raw) -> &'b [u8] {
        match raw {
            Raw::At(start, end) => &self.bytes[*start..*end],
            Raw::Resolved(bytes) => bytes,
        }
    }

    #[inline]
    fn text_of<'b>(&'b self, raw: &'b Raw) -> Cow<'b, str> {
        let text = match (raw, self.text) {
            (Raw::At(start, end), Some(text)) => {
                Cow::Borrowed(text.get(*start..*end).unwrap_or(""))
            }
            _ => {
                let bytes = self.bytes_of(raw);
                encoding::text(bytes, self.plan.encoding.encoding).unwrap_or_default()
            }
        };
        if text.is_ascii() {
            return text;
        }
        match text {
            Cow::Borrowed(t) => Cow::Borrowed(t.trim()),
            Cow::Owned(t) => Cow::Owned(t.trim().to_string()),
        }
    }

    /// Appends the block's cells of a claimed column to its builder.
    pub(super) fn fill(
        &self,
        claim: &Claim,
        builder: &mut Builder,
        evidence: &mut Evidence,
    ) -> Findings {
        let mut found = Findings::default();
        match (&claim.how, builder) {
            (How::Key, Builder::Text(to)) => self.each(claim, |row, cell| match cell {
                None => {
                    found.empty.push(row);
                    to.append_null();
                }
                Some(raw) => to.append_value(self.text_of(&raw)),
            }),
            (How::Open(words), Builder::Word(to)) => {
                let field = claim.field.name;
                self.words(claim, &mut found, to, words, |w, t| w.open(t, field));
            }
            (How::Listed(words, list), Builder::Word(to)) => {
                self.words(claim, &mut found, to, words, |w, t| w.listed(t, list));
            }
            (How::YesNo(words), Builder::YesNo(to)) => self.yes_no(claim, &mut found, to, words),
            (How::Day(order), Builder::Day(to)) => {
                self.each(claim, |row, cell| {
                    match self.day(claim, *order, cell, evidence) {
                        Ok(Some(day)) => to.append_value(day),
                        Ok(None) => {
                            found.empty.push(row);
                            to.append_null();
                        }
                        Err(fault) => {
                            found.faults.push((row, fault));
                            to.append_null();
                        }
                    }
                });
            }
            (How::Moment(order), Builder::Whole(to)) => {
                self.each(claim, |row, cell| {
                    match self.moment(claim, *order, cell, evidence) {
                        Ok(Some(micros)) => to.append_value(micros),
                        Ok(None) => {
                            found.empty.push(row);
                            to.append_null();
                        }
                        Err(fault) => {
                            found.faults.push((row, fault));
                            to.append_null();
                        }
                    }
                });
            }
            (How::Later(order), Builder::Whole(to)) => self.each(claim, |_, cell| {
                to.append_option(cell.and_then(|raw| self.later(*order, &raw, evidence)));
            }),
            (How::Money { mark }, Builder::Whole(to)) => self.each(claim, |row, cell| {
                match self.money(claim, *mark, cell, evidence) {
                    Ok(Some(minor)) => to.append_value(minor),
                    Ok(None) => {
                        found.empty.push(row);
                        to.append_null();
                    }
                    Err(fault) => {
                        found.faults.push((row, fault));
                        to.append_null();
                    }
                }
            }),
            (How::Real { mark, unit }, Builder::Real(to)) => {
                self.each(claim, |row, cell| {
                    match self.real(claim, *mark, *unit, row, cell, evidence) {
                        Ok(Some(x)) => to.append_value(x),
                        Ok(None) => {
                            found.empty.push(row);
                            to.append_null();
                        }
                        Err(fault) => {
                            found.faults.push((row, fault));
                            to.append_null();
                        }
                    }
                })
            }
            _ => {}
        }
        found
    }

    #[inline]
    fn each(&self, claim: &Claim, mut take: impl FnMut(u32, Option<Raw>)) {
        for row in 0..self.rows() {
            take(row as u32, self.raw(row, claim.column));
        }
    }

    /// Words of a list, open or closed.
    fn words<'w>(
        &self,
        claim: &Claim,
        found: &mut Findings,
        to: &mut Dictionary,
        words: &'w Words,
        meaning: impl for<'t> Fn(&'t Words, &'t str) -> Meaning<'t>,
    ) {
        self.each(claim, |row, cell| {
            let Some(raw) = cell else {
                found.empty.push(row);
                return to.push(None);
            };
            let bytes = self.bytes_of(&raw);
            let word = match to.known(bytes) {
                Some(word) => word,
                None => {
                    let text = self.text_of(&raw);
                    match meaning(words, &text) {
                        Meaning::Unknown => {
                            found.faults.push((row, unknown_word(claim, &text)));
                            return to.push(None);
                        }
                        Meaning::Nothing => to.learn(bytes, None),
                        Meaning::Word(word) => to.learn(bytes, Some(word)),
                    }
                }
            };
            if word.is_none() {
                found.empty.push(row);
            }
            to.push(word);
        });
    }

    fn yes_no(
        &self,
        claim: &Claim,
        found: &mut Findings,
        to: &mut polars::prelude::BooleanChunkedBuilder,
        words: &Words,
    ) {
        let own = !words.is_empty();
        self.each(claim, |row, cell| {
            let Some(raw) = cell else {
                found.empty.push(row);
                return to.append_null();
            };
            match self.bytes_of(&raw) {
                b"yes" if !own => return to.append_value(true),
                b"no" if !own => return to.append_value(false),
                _ => {}
            }
            let text = self.text_of(&raw);
            match words.yes_no(&text) {
                Meaning::Word(word) => to.append_value(word == "yes"),
                Meaning::Nothing => {
                    found.empty.push(row);
                    to.append_null();
                }
                Meaning::Unknown => {
                    found.faults.push((row, unknown_word(claim, &text)));
                    to.append_null();
                }
            }
        });
    }

    #[inline]
    fn day(
        &self,
        claim: &Claim,
        order: Order,
        cell: Option<Raw>,
        evidence: &mut Evidence,
    ) -> Result<Option<i32>, Fault> {
        let Some(raw) = cell else { return Ok(None) };
        if let Some(day) = dates::iso(self.bytes_of(&raw)) {
            return Ok(Some(day));
        }
        let text = self.text_of(&raw);
        let reading = note_date(&text, evidence);
        let day = reading.and_then(|r| r.day(order));
        day.map(Some)
            .ok_or_else(|| no_date(claim, order, &text, false))
    }

    #[inline]
    fn moment(
        &self,
        claim: &Claim,
        order: Order,
        cell: Option<Raw>,
        evidence: &mut Evidence,
    ) -> Result<Option<i64>, Fault> {
        let Some(raw) = cell else { return Ok(None) };
        if let Some(micros) = dates::iso_moment(self.bytes_of(&raw)) {
            return Ok(Some(micros));
        }
        let text = self.text_of(&raw);
        let reading = note_date(&text, evidence);
        let micros = reading.and_then(|r| r.moment(order));
        micros
            .map(Some)
            .ok_or_else(|| no_date(claim, order, &text, true))
    }

    /// What orders exports: a moment, a day, or else a whole number.
    fn later(&self, order: Order, raw: &Raw, evidence: &mut Evidence) -> Option<i64> {
        let text = self.text_of(raw);
        match note_date(&text, evidence) {
            Some(reading) => {
                let day = i64::from(reading.day(order)?) * dates::DAY_MICROS;
                Some(day + reading.time.unwrap_or(0))
            }
            None => text.parse().ok(),
        }
    }

    #[inline]
    fn number(
        &self,
        claim: &Claim,
        mark: Mark,
        unit: Unit,
        raw: &Raw,
        evidence: &mut Evidence,
    ) -> Result<Number, Fault> {
        let bytes = self.bytes_of(raw);
        if mark == Mark::Point
            && let Some((number, shape)) = numbers::plain(bytes)
        {
            if !claim.settled {
                note_number(shape, raw, self, evidence);
            }
            return Ok(number);
        }
        let text = self.text_of(raw);
        if !claim.settled
            && let Some(shape) = numbers::shape(&text, self.plan.thousands)
        {
            note_number(shape, raw, self, evidence);
        }
        let kind = claim.field.kind;
        let around = Around {
            percent: kind == Kind::Humidity,
            currency: (kind == Kind::Money).then_some(&self.plan.currency),
            units: unit.spellings(kind),
            thousands: self.plan.thousands,
        };
        numbers::ornate(&text, mark, around).map_err(|e| no_number(claim, unit, &text, e))
    }

    #[inline]
    fn money(
        &self,
        claim: &Claim,
        mark: Mark,
        cell: Option<Raw>,
        evidence: &mut Evidence,
    ) -> Result<Option<i64>, Fault> {
        let Some(raw) = cell else { return Ok(None) };
        let number = self.number(claim, mark, Unit::Canonical, &raw, evidence)?;
        match number.minor(self.plan.currency.decimals) {
            Some(minor) if minor >= 0 => Ok(Some(minor)),
            other => {
                let expected = if other.is_some() {
                    "an amount of 0 or more"
                } else {
                    "an amount that can be paid"
                };
                let text = self.text_of(&raw);
                Err(fault(claim, Reason::ConstraintError, &text, expected))
            }
        }
    }

    #[inline]
    fn real(
        &self,
        claim: &Claim,
        mark: Mark,
        unit: Unit,
        row: u32,
        cell: Option<Raw>,
        evidence: &mut Evidence,
    ) -> Result<Option<f64>, Fault> {
        let Some(raw) = cell else { return Ok(None) };
        let number = self.number(claim, mark, unit, &raw, evidence)?;
        let per_ml = match unit {
            Unit::Used(UseUnit::Gram | UseUnit::Drop) => self.per_ml(claim, unit, row)?,
            _ => 1.0,
        };
        let value = unit.convert(number.value(), per_ml);
        match out_of_range(claim.field.kind, value) {
            None => Ok(Some(value)),
            Some(expected) => {
                let text = self.text_of(&raw);
                Err(fault(claim, Reason::ConstraintError, &text, expected))
            }
        }
    }

    /// What of the unit makes a mL of the row's product.
    fn per_ml(&self, claim: &Claim, unit: Unit, row: u32) -> Result<f64, Fault> {
        let part = self.plan.parts.get(claim.part);
        let product = part.and_then(|p| p.claim("product"));
        let product = product.and_then(|c| {
            let claim = &self.plan.claims[c];
            let text = self
                .raw(row as usize, claim.column)
                .map(|r| self.text_of(&r).into_owned())?;
            match &claim.how {
                How::Open(words) => match words.open(&text, claim.field.name) {
                    Meaning::Word(word) => Some(word.to_string()),
                    _ => None,
                },
                _ => Some(text),
            }
        });
        let (factors, setting) = match unit {
            Unit::Used(UseUnit::Gram) => (&self.plan.density, "density"),
            _ => (&self.plan.drops, "drops_per_ml"),
        };
        factors.of(product.as_deref()).ok_or_else(|| Fault {
            column: Some(claim.heading.clone()),
            reason: Reason::UnitError,
            found: match product {
                Some(p) => format!("product \"{}\" without a factor", shown(&p)),
                None => "no product".to_string(),
            },
            expected: format!("the product under [{setting}] in shop.toml, or \"*\" there"),
        })
    }
}

fn note_date(text: &str, evidence: &mut Evidence) -> Option<dates::Reading> {
    let reading = dates::read(text)?;
    if let (Evidence::Date(e), Some(shape)) = (evidence, reading.shape())
        && shape != Shape::Plain
    {
        e.note(shape, text);
    }
    Some(reading)
}

#[inline]
fn note_number(shape: numbers::Shape, raw: &Raw, block: &Block<'_>, evidence: &mut Evidence) {
    let Evidence::Number(e) = evidence else {
        return;
    };
    e.note(shape);
    let either = matches!(
        shape,
        numbers::Shape::EitherPoint | numbers::Shape::EitherComma
    );
    if either && e.example.is_none() {
        e.example = Some(block.text_of(raw).into_owned());
    }
}

/// A cell for people: in one line, and not without end.
pub(super) fn shown(text: &str) -> String {
    const MOST: usize = 60;
    let line: String = text
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .take(MOST + 1)
        .collect();
    match line.char_indices().nth(MOST) {
        Some((at, _)) => format!("{}…", &line[..at]),
        None => line,
    }
}

fn fault(claim: &Claim, reason: Reason, text: &str, expected: impl Into<String>) -> Fault {
    Fault {
        column: Some(claim.heading.clone()),
        reason,
        found: format!("\"{}\"", shown(text)),
        expected: expected.into(),
    }
}

/// A required cell that is empty.
pub(super) fn empty_cell(claim: &Claim) -> Fault {
    Fault {
        column: Some(claim.heading.clone()),
        reason: Reason::ConstraintError,
        found: "nothing".to_string(),
        expected: format!("{}, which every record needs", kind_name(claim.field.kind)),
    }
}

fn kind_name(kind: Kind) -> &'static str {
    match kind {
        Kind::Key => "a key",
        Kind::Text | Kind::Word(_) => "a word",
        Kind::Date => "a date",
        Kind::Moment => "a date and time of day",
        Kind::Money => "an amount of money",
        Kind::YesNo => "yes or no",
        _ => "a number",
    }
}

fn unknown_word(claim: &Claim, text: &str) -> Fault {
    let (allowed, map) = match claim.field.kind {
        Kind::Word(list) => (list.join(", "), claim.field.name),
        _ => ("yes or no".to_string(), claim.field.name),
    };
    let expected = format!(
        "{allowed}; say what \"{}\" means under [words.{map}] in shop.toml",
        shown(text)
    );
    fault(claim, Reason::TypeError, text, expected)
}

fn no_date(claim: &Claim, order: Order, text: &str, moment: bool) -> Fault {
    let time = if moment { " 14:05" } else { "" };
    let example = match order {
        Order::MonthFirst => format!("as 2026-10-31{time} or 10/31/2026{time}"),
        Order::DayFirst => format!("as 2026-10-31{time} or 31/10/2026{time}"),
        Order::YearFirst => format!("as 2026-10-31{time}"),
    };
    let what = if moment {
        "a date and local time of day"
    } else {
        "a date"
    };
    fault(claim, Reason::TypeError, text, format!("{what}, {example}"))
}

fn no_number(claim: &Claim, unit: Unit, text: &str, refused: Refused) -> Fault {
    let kind = claim.field.kind;
    let what = kind_name(kind);
    let name = unit.name(kind);
    let in_unit = if name.is_empty() {
        String::new()
    } else {
        format!(" in {name}")
    };
    match refused {
        Refused::NotANumber | Refused::NotFinite => {
            fault(claim, Reason::TypeError, text, format!("{what}{in_unit}"))
        }
        Refused::Unit(_) if kind == Kind::Money => fault(
            claim,
            Reason::UnitError,
            text,
            format!("{what} in the shop's currency"),
        ),
        Refused::Unit(_) => fault(claim, Reason::UnitError, text, format!("{what}{in_unit}")),
    }
}

/// What the contract allows of a number, where `x` is not.
fn out_of_range(kind: Kind, x: f64) -> Option<&'static str> {
    let (sound, expected) = match kind {
        Kind::Area => (x > 0.0, "an area above 0"),
        Kind::Minutes => ((0.0..=1440.0).contains(&x), "0 to 1,440 minutes (a day)"),
        Kind::Used | Kind::Volume => (x >= 0.0, "0 or more"),
        Kind::Humidity => ((0.0..=100.0).contains(&x), "0 to 100 %"),
        // Wider than any weather on record; -999 and its like stand for "none".
        Kind::Temperature => ((-90.0..=100.0).contains(&x), "-90 to 100 °C"),
        _ => (true, ""),
    };
    (!(sound && x.is_finite())).then_some(expected)
}
