//! Records and lines that are put aside: what they held, and whether they read
//! as a total.

use super::chunk::key_field;
use super::encoding;
use super::plan::{Claim, How, Part, Plan};
use super::reason::{Fault, Reason};
use super::record::{FaultyLine, QuoteFault, cells_of};
use std::collections::BTreeMap;
use std::sync::Arc;

/// A key that a reject held, as far as it could be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct HeldKey {
    pub(super) part: usize,
    pub(super) shop: String,
    pub(super) key: String,
}

/// A line or record that is put aside.
#[derive(Debug)]
pub(super) struct Reject {
    pub(super) line: u64,
    pub(super) lines: u32,
    pub(super) faults: Vec<Fault>,
    pub(super) raw: Vec<u8>,
    /// True where only the beginning of it is kept.
    pub(super) cut: bool,
    pub(super) held: Vec<HeldKey>,
    /// True where it reads as a total, which at the foot is structure.
    pub(super) total: bool,
}

/// Rejects that are counted and no longer kept, because there are too many.
#[derive(Debug, Clone, Default)]
pub(super) struct Dropped {
    /// Records or lines put aside.
    pub(super) records: u64,
    /// Their physical lines.
    pub(super) lines: u64,
    /// Physical lines by reason.
    pub(super) by_reason: BTreeMap<Reason, u64>,
}

impl Dropped {
    /// Keeps the first `room` rejects and counts the others.
    pub(super) fn beyond(&mut self, room: usize, rejects: &mut Vec<Reject>) {
        for reject in rejects.drain(room.min(rejects.len())..) {
            let lines = u64::from(reject.lines);
            self.records += 1;
            self.lines += lines;
            let mut reasons: Vec<Reason> = reject.faults.iter().map(|f| f.reason).collect();
            reasons.sort_unstable();
            reasons.dedup();
            for reason in reasons {
                *self.by_reason.entry(reason).or_default() += lines;
            }
        }
    }
}

/// A NUL byte in a column, or somewhere in a line.
pub(super) fn nul_fault(column: Option<Arc<str>>) -> Fault {
    Fault {
        column,
        reason: Reason::NulByte,
        found: "a NUL byte".to_string(),
        expected: "text without NUL bytes".to_string(),
    }
}

/// What is wrong with a line whose quotes are at fault.
pub(super) fn quote_faults(line: &FaultyLine, column: Option<Arc<str>>) -> Vec<Fault> {
    let (found, expected) = match line.fault {
        QuoteFault::Stray => (
            "a quote mark within a cell that does not begin with one",
            "quote marks around the whole cell, those within doubled",
        ),
        QuoteFault::TextAfter => (
            "text after a closing quote mark",
            "the cell's end, and quote marks within the cell doubled",
        ),
        QuoteFault::Unclosed | QuoteFault::TooLong => {
            ("a quote mark that is never closed", "a closing quote mark")
        }
        QuoteFault::Swallows => (
            "a quote mark that would swallow the records under it",
            "a closing quote mark on the same line",
        ),
    };
    let mut faults = vec![Fault {
        column,
        reason: Reason::QuoteError,
        found: found.to_string(),
        expected: expected.to_string(),
    }];
    if line.nul {
        faults.push(nul_fault(None));
    }
    faults
}

/// A reject's cells as text, as well as they can be told apart.
pub(super) fn raw_cells(raw: &[u8], plan: &Plan) -> Vec<String> {
    let marks = plan.layout.marks;
    let cells = cells_of(raw, marks).unwrap_or_else(|| {
        let parts = raw.split(|b| *b == marks.delimiter);
        parts
            .map(|p| p.iter().copied().filter(|b| *b != marks.quote).collect())
            .collect()
    });
    let text = |c: &Vec<u8>| {
        let text = encoding::text(c, plan.encoding.encoding);
        text.unwrap_or_default().trim().to_string()
    };
    cells.iter().map(text).collect()
}

/// The keys of its rows, or of their jobs.
pub(super) fn held_keys(cells: &[String], plan: &Plan) -> Vec<HeldKey> {
    let cell = |claim: Option<usize>| {
        let column = plan.claims[claim?].column;
        cells.get(column).filter(|c| !c.is_empty())
    };
    let of = |(part, p): (usize, &Part)| {
        let name = key_field(p.table);
        Some(HeldKey {
            part,
            shop: cell(p.claim("shop")).cloned().unwrap_or_default(),
            key: cell(p.claim(name))?.clone(),
        })
    };
    plan.parts.iter().enumerate().filter_map(of).collect()
}

/// Words that begin a line of totals.
const TOTALS: [&str; 11] = [
    "total",
    "totals",
    "grand total",
    "subtotal",
    "sub-total",
    "sum",
    "sums",
    "summe",
    "gesamt",
    "totaal",
    "totale",
];

fn is_total_word(cell: &str) -> bool {
    let word = cell.trim().trim_end_matches(':').trim_end().to_lowercase();
    TOTALS.contains(&word.as_str())
}

/// True where the first cell with content is a word for a total.
pub(super) fn total_word(raw: &[u8], plan: &Plan) -> bool {
    let marks = plan.layout.marks;
    let blank = |b: &u8| *b == marks.delimiter || *b == marks.quote || b.is_ascii_whitespace();
    let Some(start) = raw.iter().position(|b| !blank(b)) else {
        return false;
    };
    if !matches!(raw[start].to_ascii_lowercase(), b't' | b's' | b'g') {
        return false;
    }
    let first = raw_cells(raw, plan).into_iter().find(|c| !c.is_empty());
    first.is_some_and(|c| is_total_word(&c))
}

/// True where a reject reads as a total: by its first word, or because of
/// all claimed cells only numbers are filled.
pub(super) fn reads_as_total(cells: &[String], plan: &Plan) -> bool {
    let first = cells.iter().find(|c| !c.is_empty());
    if first.is_some_and(|c| is_total_word(c)) {
        return true;
    }
    let filled = plan
        .claims
        .iter()
        .filter(|c| cells.get(c.column).is_some_and(|t| !t.is_empty()));
    let number = |c: &Claim| matches!(c.how, How::Real { .. } | How::Money { .. });
    let mut filled = filled.peekable();
    cells.len() == plan.layout.arity && filled.peek().is_some() && filled.all(number)
}
