//! The ledger: every physical line of every file is in exactly one state, and
//! the states add up to the lines read.

use super::encoding::Settled;
use super::reason::Reason;
use crate::settings::contract::Table;
use serde::Serialize;
use std::collections::BTreeMap;
use std::ops::AddAssign;

/// A line that is no record by its nature.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Structure {
    /// The heading.
    Heading,
    /// A further row of headings under the first.
    SecondHeading,
    /// The heading again.
    RepeatedHeading,
    /// A line above the heading.
    Preamble,
    /// A `sep=` line.
    SepLine,
    /// A line without content.
    Blank,
    /// A total at the foot.
    Total,
}

/// Counts of physical lines by state.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct Lines {
    /// All lines.
    pub read: u64,
    /// Lines of records that are in the frames.
    pub accepted: u64,
    /// Lines that are no records by their nature.
    pub structure: u64,
    /// Lines whose key came again later, or that repeat another exactly.
    pub superseded: u64,
    /// Everything else.
    pub quarantined: u64,
}

impl Lines {
    /// True where the states add up to the lines read.
    pub fn add_up(&self) -> bool {
        self.accepted + self.structure + self.superseded + self.quarantined == self.read
    }
}

impl AddAssign for Lines {
    fn add_assign(&mut self, other: Self) {
        self.read += other.read;
        self.accepted += other.accepted;
        self.structure += other.structure;
        self.superseded += other.superseded;
        self.quarantined += other.quarantined;
    }
}

/// How many lines a reason put aside, and the first of them.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct ReasonCount {
    /// Physical lines.
    pub lines: u64,
    /// The first three, from 1.
    pub first: Vec<u64>,
}

/// How a file's records and cells are marked, as found or set.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Dialect {
    /// What stands between cells, in a word or as itself.
    pub delimiter: String,
    /// What may enclose a cell.
    pub quote: String,
    /// `doubled` or `backslash`.
    pub escape: &'static str,
    /// `lf`, `crlf`, `cr` or several, in the order found.
    pub line_ends: Vec<&'static str>,
    /// Physical line of the heading, from 1; 0 = none.
    pub heading_line: u64,
    /// Physical lines that the heading takes.
    pub heading_lines: u64,
    /// True where every record ends in a further, empty cell.
    pub trailing_delimiter: bool,
}

/// A field and where it was found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FieldFound {
    /// Its table.
    pub table: &'static str,
    /// Its canonical name.
    pub field: &'static str,
    /// The heading that serves it.
    pub heading: String,
    /// How its cells are read: unit, order of day and month, decimal mark.
    pub read_as: String,
}

/// One file's part of the ledger.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FileLedger {
    /// Its name within the folder.
    pub file: String,
    /// The tables that it serves.
    pub tables: Vec<&'static str>,
    /// Bytes on the disk.
    pub size: u64,
    /// SHA-256 of those bytes, in hexadecimal.
    pub sha256: String,
    /// How its bytes became text.
    pub encoding: Settled,
    /// How its cells are marked.
    pub dialect: Dialect,
    /// Its lines by state.
    pub lines: Lines,
    /// Its structure lines by kind.
    pub structure: BTreeMap<Structure, u64>,
    /// Its quarantined lines by reason; one line may count under several.
    pub by_reason: BTreeMap<Reason, ReasonCount>,
    /// Fields found.
    pub found: Vec<FieldFound>,
    /// Fields of its tables that no column serves, as "table.field".
    pub missing: Vec<String>,
    /// Headings that no field claims. Nothing else of them is kept.
    pub unclaimed: Vec<String>,
    /// What is odd and was read all the same.
    pub notes: Vec<String>,
    /// Its bytes above the data, mark left out (UTF-16 as UTF-8): what lines
    /// to mend stand under.
    #[serde(skip)]
    pub top: Vec<u8>,
}

impl FileLedger {
    /// Counts a quarantined record of `lines` lines beginning at `line`.
    pub(super) fn note_rejected(&mut self, reasons: &[Reason], line: u64, lines: u64) {
        const SHOWN: usize = 3;
        for reason in reasons {
            let count = self.by_reason.entry(*reason).or_default();
            count.lines += lines;
            let at = count.first.partition_point(|l| *l < line);
            count.first.insert(at, line);
            count.first.truncate(SHOWN);
        }
    }
}

/// All files' ledgers.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Ledger {
    /// One a file, in the order read.
    pub files: Vec<FileLedger>,
    /// Rejected records that are counted but not kept one by one, because
    /// there are too many.
    pub rejected_not_kept: u64,
}

impl Ledger {
    /// Lines of all files by state.
    pub fn lines(&self) -> Lines {
        let mut all = Lines::default();
        for file in &self.files {
            all += file.lines;
        }
        all
    }

    /// Quarantined lines of all files by reason.
    pub fn by_reason(&self) -> BTreeMap<Reason, u64> {
        let mut all = BTreeMap::new();
        for (reason, count) in self.files.iter().flat_map(|f| &f.by_reason) {
            *all.entry(*reason).or_default() += count.lines;
        }
        all
    }

    /// True where some column of some file serves the field.
    pub fn has(&self, table: Table, field: &str) -> bool {
        let serves = |f: &FieldFound| f.table == table.name() && f.field == field;
        self.files.iter().any(|f| f.found.iter().any(serves))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn states_add_up_or_do_not() {
        let mut lines = Lines {
            read: 4,
            accepted: 1,
            structure: 1,
            superseded: 1,
            quarantined: 1,
        };
        assert!(lines.add_up());
        lines.accepted = 2;
        assert!(!lines.add_up());
    }
}
