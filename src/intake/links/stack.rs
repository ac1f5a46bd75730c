//! The rows of one table, chunk upon chunk.

use super::super::chunk::Rows;
use super::super::columns::Filled;
use super::super::file::FileRows;
use super::super::keys::{hash_key, row_hash};
use super::super::places::Places;
use super::super::plan::Plan;
use super::RecordId;
use crate::settings::contract::Table;
use std::sync::Arc;

/// The rows that one chunk of a file gives one table.
#[derive(Debug)]
pub(in super::super) struct Segment<'a> {
    pub(in super::super) file: usize,
    pub(in super::super) part: usize,
    pub(in super::super) rows: &'a Rows,
    /// Rows of the table before these.
    pub(in super::super) base: u32,
    /// Records of the file before the chunk.
    first_record: u32,
    /// Lines of the file before the chunk.
    before: u64,
    /// First line of each record, within the chunk.
    lines: &'a Places,
    later: Option<&'a Filled>,
    content: &'a [u64],
    all_parts: &'a [Rows],
    plan: &'a Plan,
}

impl Segment<'_> {
    fn local(&self, row: usize) -> usize {
        match &self.rows.record {
            Some(records) => records[row] as usize,
            None => row,
        }
    }

    /// The record of a row.
    #[inline]
    pub(in super::super) fn id(&self, row: usize) -> RecordId {
        RecordId {
            file: self.file as u32,
            record: self.first_record + self.local(row) as u32,
        }
    }

    /// The physical line of a row, from 1.
    pub(in super::super) fn line(&self, row: usize) -> u64 {
        self.before + 1 + u64::from(self.lines.line(self.local(row)))
    }

    /// The hash of a row's shop and key, given their places among the fields.
    #[inline]
    pub(super) fn hash(&self, row: usize, fields: (usize, usize)) -> u32 {
        let text = |at| self.column(at).and_then(|c| c.text(row)).unwrap_or("");
        row_hash(text(fields.0), text(fields.1))
    }

    /// A hash of all that a row holds, and of what no field claims.
    pub(super) fn hash_of_all(&self, row: usize) -> u64 {
        let content = self.content(row).unwrap_or(0) ^ self.file as u64;
        let columns = self.rows.columns.iter();
        columns.fold(content, |hash, column| {
            let number = column.as_ref().map_or(0, |c| c.bits(row));
            let text = column.as_ref().and_then(|c| c.text(row)).unwrap_or("");
            hash_key(text, &(hash ^ number).to_le_bytes())
        })
    }

    /// What orders a row among exports: the column that does, then the file.
    pub(super) fn order(&self, row: usize) -> (i64, usize) {
        let later = self.later.and_then(|l| l.whole(self.local(row)));
        (later.unwrap_or(i64::MIN), self.file)
    }

    /// A hash of the record's claimed cells, where it may hold several tables.
    pub(super) fn content(&self, row: usize) -> Option<u64> {
        self.content.get(self.local(row)).copied()
    }

    /// True where records of the file may hold rows of several tables.
    pub(super) fn is_shared(&self) -> bool {
        self.rows.record.is_some()
    }

    /// True where the record of a row holds a row of another table too.
    pub(super) fn holds_others(&self, row: usize) -> bool {
        let record = self.local(row) as u32;
        let others = self
            .all_parts
            .iter()
            .enumerate()
            .filter(|(p, _)| *p != self.part);
        let holds = |rows: &Rows| {
            let records = rows.record.as_deref().unwrap_or(&[]);
            records.binary_search(&record).is_ok()
        };
        others.into_iter().any(|(_, rows)| holds(rows))
    }

    /// The heading of a field's column; its name where it has none.
    pub(in super::super) fn heading(&self, table: Table, at: usize) -> Arc<str> {
        let claim = self.plan.parts[self.part].claims.get(at).copied().flatten();
        match claim {
            Some(claim) => Arc::clone(&self.plan.claims[claim].heading),
            None => table.fields().get(at).map_or("", |f| f.name).into(),
        }
    }

    pub(in super::super) fn column(&self, at: usize) -> Option<&Filled> {
        self.rows.columns.get(at).and_then(Option::as_ref)
    }
}

/// A row: its segment and its number there.
#[derive(Debug, Clone, Copy)]
pub(in super::super) struct Located<'s, 'a> {
    pub(in super::super) segment: &'s Segment<'a>,
    pub(in super::super) row: usize,
}

/// All rows of one table.
#[derive(Debug)]
pub(in super::super) struct Stack<'a> {
    pub(in super::super) table: Table,
    pub(in super::super) segments: Vec<Segment<'a>>,
    pub(in super::super) len: u32,
}

impl<'a> Stack<'a> {
    pub(super) fn of(files: &'a [FileRows], table: Table) -> Self {
        let mut segments = Vec::new();
        let mut base = 0;
        for (file, rows) in files.iter().enumerate() {
            let part = rows.plan.parts.iter().position(|p| p.table == table);
            let Some(part) = part else { continue };
            let mut first_record = 0;
            for (before, parsed) in &rows.chunks {
                segments.push(Segment {
                    file,
                    part,
                    rows: &parsed.parts[part],
                    base,
                    first_record,
                    before: *before,
                    lines: &parsed.records,
                    later: parsed.later.as_ref(),
                    content: &parsed.content,
                    all_parts: &parsed.parts,
                    plan: &rows.plan,
                });
                base += parsed.parts[part].len as u32;
                first_record += parsed.records.len() as u32;
            }
        }
        Self {
            table,
            segments,
            len: base,
        }
    }

    /// The place of a row.
    #[inline]
    pub(in super::super) fn locate(&self, row: u32) -> Located<'_, 'a> {
        let after = self.segments.partition_point(|s| s.base <= row);
        let segment = &self.segments[after - 1];
        Located {
            segment,
            row: (row - segment.base) as usize,
        }
    }

    /// The place of a field among the table's.
    pub(in super::super) fn field(&self, name: &str) -> usize {
        let at = self.table.fields().iter().position(|f| f.name == name);
        at.unwrap_or(usize::MAX)
    }

    /// True where some file serves the field.
    pub(in super::super) fn has(&self, name: &str) -> bool {
        let at = self.field(name);
        self.segments.iter().any(|s| s.column(at).is_some())
    }

    /// True where two rows hold the same in every field.
    pub(super) fn same(&self, a: u32, b: u32) -> bool {
        self.same_at(self.locate(a), self.locate(b))
    }

    /// The same, of rows whose places are known.
    pub(super) fn same_at(&self, a: Located<'_, '_>, b: Located<'_, '_>) -> bool {
        (0..self.table.fields().len()).all(|at| {
            match (a.segment.column(at), b.segment.column(at)) {
                (None, None) => true,
                (Some(x), Some(y)) => x.same(a.row, y, b.row),
                (Some(x), None) => x.is_empty_at(a.row),
                (None, Some(y)) => y.is_empty_at(b.row),
            }
        })
    }
}

impl Located<'_, '_> {
    pub(in super::super) fn text(&self, at: usize) -> Option<&str> {
        self.segment.column(at)?.text(self.row)
    }

    pub(in super::super) fn id(&self) -> RecordId {
        self.segment.id(self.row)
    }

    pub(in super::super) fn line(&self) -> u64 {
        self.segment.line(self.row)
    }
}
