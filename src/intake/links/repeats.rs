//! Records without a key of their own that stand in an export twice, every
//! cell alike: pasted twice, or two of a kind.
//!
//! Where a record says when it was (or, of a surface, which one it is), it
//! cannot happen again: the second is superseded by the first. Where it does
//! not, both count, because two spells of twenty minutes are as likely as a
//! slip, and the second is listed.

use super::stack::{Located, Segment, Stack};
use super::{LinkedTable, NO_JOB, States, both_halves};
use crate::settings::contract::Table;
use foldhash::fast::FixedState;
use std::collections::HashMap;

/// Fields of which one, filled, makes a record one of its own.
fn anchors(table: Table) -> &'static [&'static str] {
    match table {
        Table::Surfaces => &["surface"],
        Table::Coatings => &["started_at", "ended_at"],
        Table::Callbacks => &["reported_on"],
        Table::Inspections => &["seen_on"],
        Table::Jobs | Table::Bottles | Table::People => &[],
    }
}

/// A row that is like an earlier one of its export in every cell, and counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(in super::super) struct Alike {
    pub(in super::super) row: u32,
    pub(in super::super) first: u32,
}

/// Supersedes records that repeat another of their export exactly; returns
/// those that may as well be two of a kind. `jobs`: rows of jobs.
pub(super) fn supersede(linked: &LinkedTable<'_>, jobs: u32, states: &mut States) -> Vec<Alike> {
    let stack = &linked.stack;
    let half = |which| find_half(linked, jobs, states, which);
    let again = both_halves(stack.len, half).concat();
    let fields: Vec<usize> = anchors(stack.table)
        .iter()
        .map(|f| stack.field(f))
        .collect();
    let mut alike = Vec::new();
    for pair in again {
        let at = stack.locate(pair.row);
        let filled = |f: &usize| {
            at.segment
                .column(*f)
                .is_some_and(|c| !c.is_empty_at(at.row))
        };
        if fields.iter().any(filled) {
            states.supersede(at.id());
        } else if stack.table != Table::Surfaces {
            // Two panels of one area are no oddity: areas that do not add up are.
            alike.push(pair);
        }
    }
    alike.sort_unstable();
    alike
}

/// Rows that repeat an earlier one, of one half of the jobs. Rows are alike
/// only where their jobs are, and those of a job are few and near each other.
fn find_half(linked: &LinkedTable<'_>, jobs: u32, states: &States, which: u32) -> Vec<Alike> {
    let mut earlier = Earlier::of(&linked.stack, jobs);
    let mut again = Vec::new();
    for segment in &linked.stack.segments {
        for row in 0..segment.rows.len {
            let global = segment.base + row as u32;
            let job = linked.job_row[global as usize];
            if job & 1 != which || !states.accepted(segment.id(row)) {
                continue;
            }
            let job = (job != NO_JOB).then_some(job / 2);
            if let Some(first) = earlier.put(job, global, Located { segment, row }) {
                again.push(Alike { row: global, first });
            }
        }
    }
    again
}

/// No row.
const NONE: u32 = u32::MAX;

/// Rows of one job that are compared one by one; more, and rows without a
/// job, go by a hash of all that they hold.
const FEW: usize = 8;

/// The rows that came before and are unlike each other.
struct Earlier<'s, 'a> {
    stack: &'s Stack<'a>,
    /// By job, the last of its first few rows.
    last: Vec<u32>,
    /// By row, the one before it of the same job, or of the same hash.
    before: Vec<u32>,
    by_hash: HashMap<u64, u32, FixedState>,
}

impl<'s, 'a> Earlier<'s, 'a> {
    fn of(stack: &'s Stack<'a>, jobs: u32) -> Self {
        Self {
            stack,
            last: vec![NONE; jobs as usize / 2 + 1],
            before: vec![NONE; stack.len as usize],
            by_hash: HashMap::default(),
        }
    }

    /// Puts a row there; one that is like it in every cell and came before is
    /// returned instead.
    #[inline]
    fn put(&mut self, job: Option<u32>, row: u32, at: Located<'_, '_>) -> Option<u32> {
        if let Some(job) = job {
            let last = self.last[job as usize];
            let mut other = last;
            for _ in 0..FEW {
                if other == NONE {
                    self.before[row as usize] = last;
                    self.last[job as usize] = row;
                    return None;
                }
                if self.alike(other, at) {
                    return Some(other);
                }
                other = self.before[other as usize];
            }
        }
        self.put_by_hash(row, at)
    }

    fn put_by_hash(&mut self, row: u32, at: Located<'_, '_>) -> Option<u32> {
        let hash = at.segment.hash_of_all(at.row);
        let last = self.by_hash.get(&hash).copied().unwrap_or(NONE);
        let mut other = last;
        while other != NONE {
            if self.alike(other, at) {
                return Some(other);
            }
            other = self.before[other as usize];
        }
        self.before[row as usize] = last;
        self.by_hash.insert(hash, row);
        None
    }

    /// True where a row is of the same export and holds the same.
    fn alike(&self, other: u32, at: Located<'_, '_>) -> bool {
        let there = self.stack.locate(other);
        let (here, there_segment): (&Segment<'_>, &Segment<'_>) = (at.segment, there.segment);
        here.file == there_segment.file
            && here.content(at.row) == there_segment.content(there.row)
            && self.stack.same_at(there, at)
    }
}
