//! One chunk of a file: lines become rows of typed columns, structure, or
//! rejects. Knows nothing of other chunks; lines count from the chunk's first.

mod rows;

pub(super) use rows::{Rows, key_field};

use super::aside::{
    Reject, held_keys, nul_fault, quote_faults, raw_cells, reads_as_total, total_word,
};
use super::cells::Block;
use super::columns::{Builder, Filled};
use super::encoding::{self, Encoding, Outside};
use super::ledger::Structure;
use super::places::Places;
use super::plan::{Evidence, Plan};
use super::reason::{Fault, Reason};
use super::record::{Cell, FaultyLine, Machine, Record, Step, count_lines};
use super::refusals::empty_cell;
use polars::prelude::*;
use rows::{filtered, pick, rows_of};
use std::collections::BTreeMap;

/// Records whose cells are held before they become values: few enough for the
/// cells to stay in the processor's cache.
const BLOCK: usize = 1024;

/// What a chunk held.
#[derive(Debug)]
pub(super) struct Parsed {
    /// Physical lines as the machine counted them, those of the tail left out.
    pub(super) lines: u64,
    /// The same lines, counted by their ends alone: the check on the machine.
    pub(super) line_ends: u64,
    pub(super) structure: BTreeMap<Structure, u64>,
    /// First line of each record kept.
    pub(super) records: Places,
    /// Records kept that take several lines: which, and how many.
    pub(super) long: Vec<(u32, u32)>,
    pub(super) parts: Vec<Rows>,
    /// What orders exports, by record kept.
    pub(super) later: Option<Filled>,
    /// A hash of each record kept: of its claimed cells where several tables
    /// share the file, of the others where its table has no key of its own.
    pub(super) content: Vec<u64>,
    pub(super) rejects: Vec<Reject>,
    pub(super) evidence: Vec<Evidence>,
    pub(super) outside: Outside,
    /// A record that goes on in the next chunk.
    pub(super) tail: Vec<u8>,
}

/// Where a record kept lies.
#[derive(Clone, Copy)]
struct Place {
    start: u32,
    end: u32,
    line: u32,
    lines: u32,
}

struct Work<'a> {
    plan: &'a Plan,
    block: Block<'a>,
    places: Vec<Place>,
    /// Places before the block's first record.
    done: usize,
    builders: Vec<Builder>,
    /// By part, whether each record holds something of it; empty where the
    /// file serves one table.
    present: Vec<Vec<bool>>,
    /// By record, as [`Parsed::content`]; else empty.
    content: Vec<u64>,
    faults: Vec<(u32, Fault)>,
    structure: BTreeMap<Structure, u64>,
    rejects: Vec<Reject>,
    evidence: Vec<Evidence>,
    line: u32,
    from: usize,
}

/// Reads a chunk that begins where a record begins (`from`: after the
/// heading, in a file's first). `last`: no more bytes follow.
pub(super) fn parse(plan: &Plan, bytes: &[u8], from: usize, last: bool) -> PolarsResult<Parsed> {
    let wide = plan.encoding.encoding != Encoding::Windows1252;
    let ascii = bytes.is_ascii();
    let text = if wide || ascii {
        std::str::from_utf8(bytes).ok()
    } else {
        None
    };
    let guess = bytes.len() / plan.layout.record_bytes.max(4) + 16;
    let mut work = Work {
        plan,
        block: Block {
            plan,
            bytes,
            text,
            ascii,
            cells: Vec::with_capacity(BLOCK * plan.layout.arity),
            resolved: Vec::new(),
        },
        places: Vec::with_capacity(guess),
        done: 0,
        builders: plan
            .claims
            .iter()
            .map(|c| Builder::new(c.field, guess))
            .collect(),
        present: vec![
            Vec::new();
            if plan.parts.len() > 1 {
                plan.parts.len()
            } else {
                0
            }
        ],
        content: Vec::new(),
        faults: Vec::new(),
        structure: BTreeMap::new(),
        rejects: Vec::new(),
        evidence: plan.no_evidence(),
        line: 0,
        from,
    };
    let tail = work.run(last);
    work.finish(tail)
}

impl Work<'_> {
    /// All records; returns where one begins that goes on in the next chunk.
    fn run(&mut self, last: bool) -> usize {
        let bytes = self.block.bytes;
        let mut machine = Machine::new(bytes, self.plan.layout.marks, self.plan.layout.arity, last);
        machine.go_to(self.from);
        loop {
            match machine.step(&mut self.block.cells) {
                Step::Record(record) => self.record(&record),
                Step::Faulty(line) => self.faulty(&line),
                Step::NeedMore(at) => return at,
                Step::End => return bytes.len(),
            }
            if self.places.len() - self.done >= BLOCK {
                self.fill();
            }
        }
    }

    /// Classifies a record; one that is kept leaves its cells in the block.
    #[inline]
    fn record(&mut self, record: &Record) {
        let line = self.line;
        self.line += record.lines;
        let raw = &self.block.bytes[record.start..record.end];
        let odd = record.cells != self.plan.layout.arity
            || record.nul
            || self.block.text.is_none()
            || raw.len() == self.plan.layout.heading_raw.len()
            || raw.first().is_none_or(|b| !b.is_ascii_digit())
            || self.plan.layout.trailing;
        if odd && self.odd(record, line) {
            let before = self.block.cells.len() - record.cells;
            self.block.cells.truncate(before);
            return;
        }
        self.places.push(Place {
            start: record.start as u32,
            end: record.end as u32,
            line,
            lines: record.lines,
        });
    }

    /// Looks closer at a record; true where it is structure or put aside.
    fn odd(&mut self, record: &Record, line: u32) -> bool {
        let layout = &self.plan.layout;
        let raw = &self.block.bytes[record.start..record.end];
        let structure = if super::dialect::is_blank(raw, layout.marks) {
            Some(Structure::Blank)
        } else if raw == layout.heading_raw && layout.heading_line > 0 {
            Some(Structure::RepeatedHeading)
        } else {
            None
        };
        if let Some(kind) = structure {
            *self.structure.entry(kind).or_default() += u64::from(record.lines);
            return true;
        }
        let mut faults = self.byte_faults(record);
        faults.extend(self.size_fault(record));
        let total = total_word(raw, self.plan);
        if faults.is_empty() && !total {
            return false;
        }
        if faults.is_empty() {
            faults.push(Fault {
                column: None,
                reason: Reason::ConstraintError,
                found: "a total between records".to_string(),
                expected: "a record; totals stand at the foot".to_string(),
            });
        }
        self.reject(record.start, record.end, line, record.lines, faults);
        true
    }

    /// NUL bytes and bytes that are no text.
    fn byte_faults(&self, record: &Record) -> Vec<Fault> {
        let mut faults = Vec::new();
        let raw = &self.block.bytes[record.start..record.end];
        if record.nul {
            faults.push(nul_fault(
                self.column_with(record, |cell| cell.contains(&0)),
            ));
        }
        let encoding = self.plan.encoding.encoding;
        if self.block.text.is_none() && encoding::text(raw, encoding).is_none() {
            faults.push(Fault {
                column: self.column_with(record, |cell| encoding::text(cell, encoding).is_none()),
                reason: Reason::EncodingError,
                found: "bytes that are no text".to_string(),
                expected: format!("text in {}", encoding.name()),
            });
        }
        faults
    }

    /// The heading of the first cell of the record (the last one pushed) that
    /// passes a test.
    fn column_with(&self, record: &Record, test: impl Fn(&[u8]) -> bool) -> Option<Arc<str>> {
        let cells = &self.block.cells[self.block.cells.len() - record.cells..];
        let hit = |c: &Cell| test(&self.block.bytes[c.start()..c.end()]);
        self.heading(cells.iter().position(hit)?)
    }

    fn heading(&self, column: usize) -> Option<Arc<str>> {
        let label = self.plan.layout.labels.get(column)?;
        Some(Arc::clone(&label.text))
    }

    /// Too few or too many cells.
    fn size_fault(&self, record: &Record) -> Option<Fault> {
        let layout = &self.plan.layout;
        let last = self.block.cells.last();
        let full = layout.trailing
            && record.cells == layout.arity
            && last.is_some_and(|c| c.start() < c.end());
        let reason = match record.cells.cmp(&layout.arity) {
            std::cmp::Ordering::Less => Reason::MissingCell,
            std::cmp::Ordering::Equal if !full => return None,
            _ => Reason::ExtraCell,
        };
        let wanted = layout.labels.len();
        let plural = if record.cells == 1 { "" } else { "s" };
        Some(Fault {
            column: None,
            reason,
            found: format!("{} cell{plural}", record.cells),
            expected: format!("{wanted}, as many as headings"),
        })
    }

    fn faulty(&mut self, line: &FaultyLine) {
        let at = self.line;
        self.line += 1;
        let faults = quote_faults(line, self.heading(line.cell));
        self.reject(line.start, line.end, at, 1, faults);
    }

    fn reject(&mut self, start: usize, end: usize, line: u32, lines: u32, faults: Vec<Fault>) {
        let raw = self.block.bytes[start..end].to_vec();
        let cells = raw_cells(&raw, self.plan);
        self.rejects.push(Reject {
            line: u64::from(line),
            lines,
            faults,
            held: held_keys(&cells, self.plan),
            total: reads_as_total(&cells, self.plan),
            raw,
            cut: false,
        });
    }

    /// Turns the block's cells into values.
    fn fill(&mut self) {
        self.block.resolve_escapes();
        let rows = self.block.rows();
        for (part, present) in self.present.iter_mut().enumerate() {
            let own = &self.plan.parts[part].own;
            let holds = |row: usize| own.iter().any(|c| !self.block.is_empty_at(row, *c));
            present.extend((0..rows).map(holds));
        }
        self.someone_is_present(rows);
        if !self.present.is_empty() {
            let claimed = || self.plan.claims.iter().map(|c| c.column);
            let hash = |row| self.block.hash_of(row, claimed());
            self.content.extend((0..rows).map(hash));
        } else if !self.plan.unclaimed.is_empty() {
            let unclaimed = |row| self.block.hash_of(row, self.plan.unclaimed.iter().copied());
            self.content.extend((0..rows).map(unclaimed));
        }
        let base = self.done as u32;
        for (c, claim) in self.plan.claims.iter().enumerate() {
            let found = self
                .block
                .fill(claim, &mut self.builders[c], &mut self.evidence[c]);
            let present = self.present.get(claim.part);
            let here = |row: &u32| present.is_none_or(|p| p[(base + row) as usize]);
            let empty = found.empty.iter().filter(|row| here(row));
            self.faults
                .extend(empty.map(|row| (base + row, empty_cell(claim))));
            let faults = found.faults.into_iter().filter(|(row, _)| here(row));
            self.faults
                .extend(faults.map(|(row, fault)| (base + row, fault)));
        }
        self.done += rows;
        self.block.clear();
    }

    /// A record that holds nothing of any table is of the first.
    fn someone_is_present(&mut self, rows: usize) {
        let from = self.done;
        for row in from..from + rows {
            if !self.present.is_empty() && !self.present.iter().any(|p| p[row]) {
                self.present[0][row] = true;
            }
        }
    }

    fn finish(mut self, tail: usize) -> PolarsResult<Parsed> {
        self.fill();
        let bytes = self.block.bytes;
        let filled = self.builders.drain(..).map(|b| Some(b.finish()));
        let mut columns: Vec<Option<Filled>> = filled.collect();
        for part in &self.plan.parts {
            super::checks::within_rows(part, self.plan, &columns, &mut self.faults);
        }
        let mut keep = vec![true; self.places.len()];
        self.reject_faulty(&mut keep);
        let kept: Vec<Place> = pick(&self.places, &keep);
        let later = self.plan.later.and_then(|c| columns[c].take());
        let mut parts = Vec::with_capacity(self.plan.parts.len());
        for (p, part) in self.plan.parts.iter().enumerate() {
            let here = self.present.get(p);
            parts.push(rows_of(part, &mut columns, &keep, here.map(Vec::as_slice))?);
        }
        let content = if self.content.is_empty() {
            Vec::new()
        } else {
            pick(&self.content, &keep)
        };
        let long = kept.iter().enumerate().filter(|(_, p)| p.lines > 1);
        self.rejects.sort_by_key(|r| r.line);
        Ok(Parsed {
            lines: u64::from(self.line),
            line_ends: count_lines(bytes.get(self.from..tail).unwrap_or_default()),
            structure: self.structure,
            records: Places::of(kept.iter().map(|p| p.line)),
            long: long.map(|(i, p)| (i as u32, p.lines)).collect(),
            parts,
            later: later.map(|l| filtered(l, &keep)).transpose()?,
            content,
            rejects: self.rejects,
            evidence: self.evidence,
            outside: match self.block.ascii {
                true => Outside::default(),
                false => Outside::count(&bytes[..tail]),
            },
            tail: bytes[tail..].to_vec(),
        })
    }

    /// Moves records at fault to the rejects.
    fn reject_faulty(&mut self, keep: &mut [bool]) {
        let mut faults = std::mem::take(&mut self.faults);
        faults.sort_by_key(|(row, _)| *row);
        let mut faults = faults.into_iter().peekable();
        while let Some((row, first)) = faults.next() {
            let mut all = vec![first];
            while let Some((_, next)) = faults.next_if(|(r, _)| *r == row) {
                if !all.contains(&next) {
                    all.push(next);
                }
            }
            let Place {
                start,
                end,
                line,
                lines,
            } = self.places[row as usize];
            keep[row as usize] = false;
            self.reject(start as usize, end as usize, line, lines, all);
        }
    }
}
