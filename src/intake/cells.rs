//! Cells of one column become values, or faults that say what was found and
//! what was expected.

mod amounts;

use super::columns::{Builder, Dictionary};
use super::dates::{self, Order, Shape};
use super::encoding;
use super::keys::hash_key;
use super::plan::{Claim, Evidence, How, Plan};
use super::reason::Fault;
use super::record::{Cell, resolve};
use super::refusals::{no_date, unknown_word};
use super::words::{Meaning, Words};
use polars::prelude::ChunkedBuilder as _;
use std::borrow::Cow;

/// A run of records of full arity, cell after cell.
pub(super) struct Block<'a> {
    pub(super) plan: &'a Plan,
    pub(super) bytes: &'a [u8],
    /// The bytes as text, where all of them are.
    pub(super) text: Option<&'a str>,
    /// True where they are ASCII.
    pub(super) ascii: bool,
    pub(super) cells: Vec<Cell>,
    /// Cells with escapes, once these are resolved, one after the other.
    pub(super) resolved: Vec<u8>,
}

/// Where a cell lies that is not empty, blanks around it taken off.
#[derive(Clone, Copy)]
struct Raw {
    start: u32,
    end: u32,
    /// True where it lies among the resolved.
    resolved: bool,
}

/// What filling a column found besides values: rows are of the block.
#[derive(Default)]
pub(super) struct Findings {
    /// True where empty cells are wanted.
    required: bool,
    /// Rows whose cell is empty, where they are wanted.
    pub(super) empty: Vec<u32>,
    /// Rows at fault.
    pub(super) faults: Vec<(u32, Fault)>,
}

impl Findings {
    #[inline]
    fn note_empty(&mut self, row: u32) {
        if self.required {
            self.empty.push(row);
        }
    }

    /// The value of a row's cell, noting an empty cell or a fault.
    #[inline]
    fn take<T>(&mut self, row: u32, cell: Result<Option<T>, Fault>) -> Option<T> {
        match cell {
            Ok(None) => self.note_empty(row),
            Ok(value) => return value,
            Err(fault) => self.faults.push((row, fault)),
        }
        None
    }
}

impl<'a> Block<'a> {
    pub(super) fn rows(&self) -> usize {
        self.cells.len() / self.plan.layout.arity.max(1)
    }

    /// True where the cell holds nothing but blanks.
    pub(super) fn is_empty_at(&self, row: usize, column: usize) -> bool {
        self.raw(row, column).is_none()
    }

    /// A hash of a record's cells in some columns.
    pub(super) fn hash_of(&self, row: usize, columns: impl Iterator<Item = usize>) -> u64 {
        columns.fold(0, |hash, column| {
            let raw = self.raw(row, column);
            let bytes = raw.map_or(&[][..], |r| self.bytes_of(r));
            hash_key("", bytes) ^ hash.rotate_left(5).wrapping_mul(0x9e37_79b9_7f4a_7c15)
        })
    }

    /// Resolves the escapes of all cells; their cells then lie among the
    /// resolved.
    pub(super) fn resolve_escapes(&mut self) {
        for cell in self.cells.iter_mut().filter(|c| c.is_escaped()) {
            let content = &self.bytes[cell.start()..cell.end()];
            let start = self.resolved.len();
            self.resolved
                .extend(resolve(content, self.plan.layout.marks));
            *cell = Cell::new(start, self.resolved.len(), true);
        }
    }

    /// Makes room for the next block's cells.
    pub(super) fn clear(&mut self) {
        self.cells.clear();
        self.resolved.clear();
    }

    #[inline]
    fn raw(&self, row: usize, column: usize) -> Option<Raw> {
        let cell = self.cells[row * self.plan.layout.arity + column];
        let resolved = cell.is_escaped();
        let source = if resolved { &self.resolved } else { self.bytes };
        let (mut start, mut end) = (cell.start(), cell.end());
        while start < end && source[start] <= b' ' {
            start += 1;
        }
        while start < end && source[end - 1] <= b' ' {
            end -= 1;
        }
        (start < end).then_some(Raw {
            start: start as u32,
            end: end as u32,
            resolved,
        })
    }

    #[inline]
    fn bytes_of(&self, raw: Raw) -> &[u8] {
        let source = if raw.resolved {
            &self.resolved
        } else {
            self.bytes
        };
        &source[raw.start as usize..raw.end as usize]
    }

    #[inline]
    fn text_of(&self, raw: Raw) -> Cow<'_, str> {
        let text = match self.text {
            Some(text) if !raw.resolved => {
                let cell = text.get(raw.start as usize..raw.end as usize);
                Cow::Borrowed(cell.unwrap_or(""))
            }
            _ => {
                let bytes = self.bytes_of(raw);
                encoding::text(bytes, self.plan.encoding.encoding).unwrap_or_default()
            }
        };
        if self.ascii || text.is_ascii() {
            return text;
        }
        // A wide blank may stand outside a narrow one, and the other way round.
        let blank = |c: char| c <= ' ' || c.is_whitespace();
        match text {
            Cow::Borrowed(t) => Cow::Borrowed(t.trim_matches(blank)),
            Cow::Owned(t) => Cow::Owned(t.trim_matches(blank).to_string()),
        }
    }

    /// Appends the block's cells of a claimed column to its builder.
    pub(super) fn fill(
        &self,
        claim: &Claim,
        builder: &mut Builder,
        evidence: &mut Evidence,
    ) -> Findings {
        let mut found = Findings {
            required: claim.field.cell_required,
            ..Findings::default()
        };
        match (&claim.how, builder) {
            (How::Key, Builder::Text(to)) => self.each(claim, |row, cell| match cell {
                None => {
                    found.note_empty(row);
                    to.append_null();
                }
                Some(raw) => to.append_value(self.text_of(raw)),
            }),
            (How::Key, Builder::Word(to)) => self.few_keys(claim, &mut found, to),
            (How::Open(words), Builder::Word(to)) => {
                let field = claim.field.name;
                self.words(claim, &mut found, to, words, |w, t| w.open(t, field));
            }
            (How::Listed(words, list), Builder::Word(to)) => {
                self.words(claim, &mut found, to, words, |w, t| w.listed(t, list));
            }
            (How::YesNo(words), Builder::YesNo(to)) => self.yes_no(claim, &mut found, to, words),
            (How::Day(order), Builder::Day(to)) => self.each(claim, |row, cell| {
                let day = self.day(claim, *order, cell, evidence);
                to.append_option(found.take(row, day));
            }),
            (How::Moment(order), Builder::Whole(to)) => self.each(claim, |row, cell| {
                let moment = self.moment(claim, *order, cell, evidence);
                to.append_option(found.take(row, moment));
            }),
            (How::Later(order), Builder::Whole(to)) => self.each(claim, |_, cell| {
                to.append_option(cell.and_then(|raw| self.later(*order, raw, evidence)));
            }),
            (How::Money { mark }, Builder::Whole(to)) => self.each(claim, |row, cell| {
                if let Some(minor) = self.plain_money(claim, *mark, cell, evidence) {
                    return to.append_value(minor);
                }
                let minor = self.money(claim, *mark, cell, evidence);
                to.append_option(found.take(row, minor));
            }),
            (How::Real { mark, unit }, Builder::Real(to)) => self.each(claim, |row, cell| {
                if let Some(x) = self.plain_real(claim, (*mark, *unit), cell, evidence) {
                    return to.append_value(x);
                }
                let x = self.real(claim, *mark, *unit, row, cell, evidence);
                to.append_option(found.take(row, x));
            }),
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
                found.note_empty(row);
                return to.push(0);
            };
            let bytes = self.bytes_of(raw);
            let number = match to.known(bytes) {
                Some(number) => number,
                None => {
                    let text = self.text_of(raw);
                    match meaning(words, &text) {
                        Meaning::Unknown => {
                            found.faults.push((row, unknown_word(claim, &text)));
                            return to.push(0);
                        }
                        Meaning::Nothing => to.learn(bytes, None),
                        Meaning::Word(word) => to.learn(bytes, Some(word)),
                    }
                }
            };
            if number == 0 {
                found.note_empty(row);
            }
            to.push(number);
        });
    }

    /// Keys of which many rows hold the same.
    fn few_keys(&self, claim: &Claim, found: &mut Findings, to: &mut Dictionary) {
        self.each(claim, |row, cell| {
            let Some(raw) = cell else {
                found.note_empty(row);
                return to.push(0);
            };
            let bytes = self.bytes_of(raw);
            let known = to.known(bytes);
            let number = known.unwrap_or_else(|| to.learn(bytes, Some(&self.text_of(raw))));
            to.push(number);
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
                found.note_empty(row);
                return to.append_null();
            };
            match self.bytes_of(raw) {
                b"yes" if !own => return to.append_value(true),
                b"no" if !own => return to.append_value(false),
                _ => {}
            }
            let text = self.text_of(raw);
            match words.yes_no(&text) {
                Meaning::Word(word) => to.append_value(word == "yes"),
                Meaning::Nothing => {
                    found.note_empty(row);
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
        if let Some(day) = dates::iso(self.bytes_of(raw)) {
            return Ok(Some(day));
        }
        let text = self.text_of(raw);
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
        if let Some(micros) = dates::iso_moment(self.bytes_of(raw)) {
            return Ok(Some(micros));
        }
        let text = self.text_of(raw);
        let reading = note_date(&text, evidence);
        let micros = reading.and_then(|r| r.moment(order));
        micros
            .map(Some)
            .ok_or_else(|| no_date(claim, order, &text, true))
    }

    /// What orders exports: a moment, a day, or else a whole number.
    fn later(&self, order: Order, raw: Raw, evidence: &mut Evidence) -> Option<i64> {
        let text = self.text_of(raw);
        match note_date(&text, evidence) {
            Some(reading) => {
                let day = i64::from(reading.day(order)?) * dates::DAY_MICROS;
                Some(day + reading.time.unwrap_or(0))
            }
            None => text.parse().ok(),
        }
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
