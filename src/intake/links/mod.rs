//! Links between rows: repeated keys, later exports, jobs and what hangs on
//! them. Gives every record its state and every row its job.

mod foreign;
mod index;
mod late;
mod mended;
mod overlap;
mod repeats;
mod resolver;
mod stack;
mod unique;
mod whys;

pub(super) use repeats::Alike;
pub(super) use resolver::{Answer, Resolver, meet_without_shop};
pub(super) use stack::{Located, Segment, Stack};

use super::file::FileRows;
use super::reason::Fault;
use crate::settings::contract::{TABLES, Table};
use crate::settings::shop::Shop;
use crate::threads::both_where;
use index::Index;
use std::collections::BTreeMap;
use whys::Whys;

/// What became of a record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum State {
    Accepted,
    Superseded,
    Quarantined,
}

/// A record: its file and its number among the records kept there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct RecordId {
    pub(super) file: u32,
    pub(super) record: u32,
}

/// The state of every record that was kept, and why some no longer are.
#[derive(Debug)]
pub(super) struct States {
    by_file: Vec<Vec<State>>,
    /// False as long as every record is accepted.
    differ: bool,
    pub(super) whys: Whys,
}

impl States {
    fn new(files: &[FileRows]) -> Self {
        let records = |f: &FileRows| f.chunks.iter().map(|(_, p)| p.records.len()).sum();
        let all = |f: &FileRows| vec![State::Accepted; records(f)];
        Self {
            by_file: files.iter().map(all).collect(),
            differ: false,
            whys: Whys::default(),
        }
    }

    #[inline]
    pub(super) fn of(&self, id: RecordId) -> State {
        self.by_file[id.file as usize][id.record as usize]
    }

    /// The states of a file's records, in order.
    pub(super) fn of_file(&self, file: usize) -> &[State] {
        &self.by_file[file]
    }

    pub(super) fn accepted(&self, id: RecordId) -> bool {
        self.of(id) == State::Accepted
    }

    fn supersede(&mut self, id: RecordId) {
        self.differ = true;
        self.by_file[id.file as usize][id.record as usize] = State::Superseded;
        self.whys.remove(id);
    }

    fn quarantine(&mut self, id: RecordId, fault: Fault) {
        self.differ = true;
        self.by_file[id.file as usize][id.record as usize] = State::Quarantined;
        self.whys.add(id, fault);
    }
}

/// Rows of one table after linking.
#[derive(Debug)]
pub(super) struct LinkedTable<'a> {
    pub(super) stack: Stack<'a>,
    /// Rows that are part of another row (a sheet that repeats its job).
    pub(super) merged: Vec<bool>,
    /// The row that counts for each key, where the table has keys of its own.
    index: Option<Index>,
    /// The row of each row's job among the rows of jobs; [`NO_JOB`] for none.
    pub(super) job_row: Vec<u32>,
}

/// No job.
pub(super) const NO_JOB: u32 = u32::MAX;

impl Linked<'_> {
    /// There are so many rows that a second thread pays.
    pub(super) fn are_many(&self) -> bool {
        let rows: u32 = self.tables.values().map(|t| t.stack.len).sum();
        rows >= WORTH_A_THREAD
    }
}

impl LinkedTable<'_> {
    /// True where a row is in the frames.
    pub(super) fn alive(&self, states: &States, row: u32) -> bool {
        let at = self.stack.locate(row);
        self.alive_at(states, at.segment, at.row)
    }

    /// The rows of a segment that are in the frames.
    pub(super) fn alive_in<'x>(
        &'x self,
        states: &'x States,
        segment: &'x Segment<'_>,
    ) -> impl Iterator<Item = usize> + 'x {
        let all = !states.differ && self.merged.is_empty();
        (0..segment.rows.len).filter(move |row| all || self.alive_at(states, segment, *row))
    }

    /// The same, of a row whose segment is at hand.
    #[inline]
    pub(super) fn alive_at(&self, states: &States, segment: &Segment<'_>, row: usize) -> bool {
        let global = segment.base as usize + row;
        let merged = self.merged.get(global).copied().unwrap_or(false);
        !merged && states.accepted(segment.id(row))
    }
}

/// All tables after linking.
#[derive(Debug)]
pub(super) struct Linked<'a> {
    pub(super) tables: BTreeMap<Table, LinkedTable<'a>>,
    pub(super) states: States,
    /// Rejects, by file and place in its list, whose key a later export
    /// brings again: superseded.
    pub(super) mended: Vec<(usize, usize)>,
    /// Rows that are like an earlier one in every cell, and count.
    pub(super) alike: BTreeMap<Table, Vec<Alike>>,
}

/// Rows from which a second thread pays.
const WORTH_A_THREAD: u32 = 50_000;

/// What the two halves of the hashes give, on two threads where there are
/// many rows.
fn both_halves<T: Send>(rows: u32, half: impl Fn(u32) -> T + Sync) -> [T; 2] {
    let (low, high) = both_where(rows >= WORTH_A_THREAD, || half(0), || half(1));
    [low, high]
}

/// Fills `to`, a value a row, segment by segment: on two threads where there
/// are several.
fn by_halves<T: Send>(
    stack: &Stack<'_>,
    to: &mut [T],
    fill: impl Fn(&Segment<'_>, &mut [T]) + Sync,
) {
    let half = stack.segments.len() / 2;
    let (first, second) = stack.segments.split_at(half);
    let at = second.first().map_or(0, |s| s.base as usize);
    let (low, high) = to.split_at_mut(at);
    let each = |segments: &[Segment<'_>], mut to: &mut [T]| {
        for segment in segments {
            let (here, rest) = to.split_at_mut(segment.rows.len);
            fill(segment, here);
            to = rest;
        }
    };
    let many = stack.len >= WORTH_A_THREAD;
    both_where(many, || each(first, low), || each(second, high));
}

/// Settles a table with keys of its own; returns the rejects that it mends.
fn by_key(
    linked: &mut LinkedTable<'_>,
    files: &[FileRows],
    states: &mut States,
) -> Vec<mended::Place> {
    let index = unique::settle(linked, files, states);
    mended::rows_by_key(&linked.stack, &index, states);
    let rejects = mended::rejects_by_key(files, &linked.stack, &index, states);
    linked.index = Some(index);
    rejects
}

/// Links the rows of all files.
pub(super) fn link<'a>(files: &'a [FileRows], shop: &Shop) -> Linked<'a> {
    let mut states = States::new(files);
    let mut tables: BTreeMap<Table, LinkedTable<'a>> = BTreeMap::new();
    for table in TABLES {
        let stack = Stack::of(files, table);
        tables.insert(
            table,
            LinkedTable {
                stack,
                merged: Vec::new(),
                index: None,
                job_row: Vec::new(),
            },
        );
    }
    late::put_aside(&tables, shop, &mut states);
    let mut put_right = Vec::new();
    let mut alike = BTreeMap::new();
    // Jobs come first, and what hangs on them finds them by their index.
    for table in TABLES {
        let Some(mut linked) = tables.remove(&table) else {
            continue;
        };
        match tables.get(&Table::Jobs) {
            Some(jobs) if table.key().is_empty() => {
                linked.job_row = foreign::jobs_of(&linked.stack, jobs);
                let again = repeats::supersede(&linked, jobs.stack.len, &mut states);
                alike.insert(table, again);
                overlap::supersede(&linked.stack, &mut states);
            }
            _ => put_right.extend(by_key(&mut linked, files, &mut states)),
        }
        tables.insert(table, linked);
    }
    foreign::link(&mut tables, files, &mut states);
    put_right.extend(mended::by_number(files, &tables, &mut states));
    put_right.sort_unstable();
    put_right.dedup();
    Linked {
        tables,
        states,
        mended: put_right,
        alike,
    }
}
