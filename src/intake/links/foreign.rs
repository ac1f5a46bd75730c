//! What hangs on a job: surfaces, spells, callbacks and inspections find
//! theirs by shop and job, and go where it goes.

use super::super::chunk::key_field;
use super::super::file::FileRows;
use super::super::keys::{KeyIndex, row_hash};
use super::super::reason::{Fault, Reason};
use super::super::refusals::shown;
use super::stack::{Segment, Stack};
use super::{LinkedTable, NO_JOB, RecordId, States};
use crate::settings::contract::{TABLES, Table};
use std::collections::BTreeMap;

/// Finds rows of a table by shop and key.
#[derive(Debug)]
pub(in super::super) struct Resolver<'s, 'a> {
    stack: &'s Stack<'a>,
    shop: usize,
    key: usize,
    with_shop: Option<&'s KeyIndex>,
    /// By key alone, for tables that carry no shop where this one does, or
    /// the other way round; `None` where nobody needs it.
    alone: Option<KeyIndex>,
    /// Rows whose key stands in several shops.
    several: Vec<bool>,
}

/// What a key stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in super::super) enum Answer {
    /// This row.
    Row(u32),
    /// No row.
    None,
    /// Rows of several shops, and none was named.
    Several,
}

impl<'s, 'a> Resolver<'s, 'a> {
    /// A resolver over the rows that count for their keys.
    pub(in super::super) fn new(table: &'s LinkedTable<'a>) -> Self {
        let stack = &table.stack;
        Self {
            stack,
            shop: stack.field("shop"),
            key: stack.field(key_field(stack.table)),
            with_shop: table.index.as_ref(),
            alone: None,
            several: Vec::new(),
        }
    }

    /// Makes it find rows by their key alone too.
    pub(in super::super) fn by_key_alone(&mut self, counts: impl Fn(u32) -> bool) {
        let mut alone = KeyIndex::with_rows(self.stack.len as usize);
        self.several = vec![false; self.stack.len as usize];
        for global in (0..self.stack.len).filter(|g| counts(*g)) {
            let key = self
                .stack
                .locate(global)
                .text(self.key)
                .unwrap_or("")
                .to_string();
            let is = |other| self.stack.locate(other).text(self.key) == Some(key.as_str());
            if let Some(before) = alone.put_new(row_hash("", &key), global, is) {
                self.several[global as usize] = true;
                self.several[before as usize] = true;
            }
        }
        self.alone = Some(alone);
    }

    /// The row of a shop and key; `hash` is theirs.
    #[inline]
    pub(in super::super) fn find(&self, hash: u32, shop: &str, key: &str) -> Answer {
        let is = |row| {
            let at = self.stack.locate(row);
            at.text(self.key) == Some(key) && at.text(self.shop).unwrap_or("") == shop
        };
        match (self.with_shop.and_then(|i| i.find(hash, is)), &self.alone) {
            (Some(row), _) => Answer::Row(row),
            (None, None) => Answer::None,
            (None, Some(alone)) => {
                let is = |row| self.stack.locate(row).text(self.key) == Some(key);
                match alone.find(row_hash("", key), is) {
                    None => Answer::None,
                    Some(row) if self.several[row as usize] => Answer::Several,
                    Some(row) => Answer::Row(row),
                }
            }
        }
    }
}

/// True where some file of one table carries a shop and some file of the
/// other does not, so that their keys meet without it.
pub(in super::super) fn meet_without_shop(a: &Stack<'_>, b: &Stack<'_>) -> bool {
    let at = |s: &Stack<'_>| s.field("shop");
    let without = |s: &Stack<'_>| s.segments.iter().any(|x| x.column(at(s)).is_none());
    (a.has("shop") && without(b)) || (b.has("shop") && without(a))
}

/// Tables whose rows hang on a job.
fn children() -> impl Iterator<Item = Table> {
    TABLES.into_iter().filter(|t| t.key().is_empty())
}

/// Keys of jobs that were put aside before linking, with file and line.
type PutAside = BTreeMap<(String, String), (usize, u64)>;

fn put_aside(files: &[FileRows]) -> PutAside {
    const MOST: usize = 100_000;
    let mut out = PutAside::new();
    for (file, rows) in files.iter().enumerate() {
        let jobs = rows.plan.parts.iter().position(|p| p.table == Table::Jobs);
        for reject in &rows.rejects {
            for held in reject.held.iter().filter(|h| Some(h.part) == jobs) {
                if out.len() < MOST {
                    let key = (held.shop.clone(), held.key.clone());
                    out.entry(key).or_insert((file, reject.line));
                }
            }
        }
    }
    out
}

/// Finds every row's job and puts aside what has none.
pub(super) fn link(
    tables: &mut BTreeMap<Table, LinkedTable<'_>>,
    files: &[FileRows],
    states: &mut States,
) {
    let aside = put_aside(files);
    let Some(jobs) = tables.remove(&Table::Jobs) else {
        return;
    };
    let mut resolver = Resolver::new(&jobs);
    let apart = |t: Table| {
        tables
            .get(&t)
            .is_some_and(|c| meet_without_shop(&jobs.stack, &c.stack))
    };
    if children().any(apart) {
        resolver.by_key_alone(|row| winner(&jobs, states, row));
    }
    for table in children() {
        let Some(linked) = tables.get_mut(&table) else {
            continue;
        };
        linked.job_row = jobs_of(&linked.stack, &resolver);
        orphans(linked, files, &aside, states);
    }
    if let Some(surfaces) = tables.get(&Table::Surfaces) {
        without_finish(&jobs, surfaces, states);
    }
    if let Some(coatings) = tables.get(&Table::Coatings) {
        coated_no(&jobs, coatings, files, states);
    }
    loop {
        let mut more = false;
        for table in children() {
            if let Some(linked) = tables.get(&table) {
                more |= follow(&jobs, linked, files, states);
            }
        }
        if !more {
            break;
        }
    }
    tables.insert(Table::Jobs, jobs);
}

/// True where a row is the one that counts for its key: not superseded, not
/// part of another, and not a second one with other content.
fn winner(jobs: &LinkedTable<'_>, states: &States, row: u32) -> bool {
    let id = jobs.stack.locate(row).id();
    let merged = jobs.merged.get(row as usize).copied().unwrap_or(false);
    let repeated = states
        .faults
        .get(&id)
        .is_some_and(|f| f.iter().any(|f| f.reason == Reason::UniqueError));
    !merged && !repeated && states.of(id) != super::State::Superseded
}

/// The row of each row's job, on two threads where there are many.
fn jobs_of(stack: &Stack<'_>, resolver: &Resolver<'_, '_>) -> Vec<u32> {
    let (shop, key) = (stack.field("shop"), stack.field(key_field(stack.table)));
    let mut out = vec![NO_JOB; stack.len as usize];
    let find = |segment: &Segment<'_>, to: &mut [u32]| {
        let (shops, keys) = (segment.column(shop), segment.column(key));
        for (row, to) in to.iter_mut().enumerate() {
            let shop = shops.and_then(|s| s.text(row)).unwrap_or("");
            let key = keys.and_then(|k| k.text(row)).unwrap_or("");
            *to = match resolver.find(row_hash(shop, key), shop, key) {
                Answer::Row(row) => row,
                Answer::None => NO_JOB,
                Answer::Several => NO_JOB - 1,
            };
        }
    };
    let half = stack.segments.len() / 2;
    let (first, second) = stack.segments.split_at(half);
    let at = second.first().map_or(0, |s| s.base as usize);
    let (low, high) = out.split_at_mut(at);
    let each = |segments: &[Segment<'_>], mut to: &mut [u32]| {
        for segment in segments {
            let (here, rest) = to.split_at_mut(segment.rows.len);
            find(segment, here);
            to = rest;
        }
    };
    if first.is_empty() {
        each(second, high);
    } else {
        std::thread::scope(|scope| {
            scope.spawn(|| each(first, low));
            each(second, high);
        });
    }
    out
}

fn job_fault(segment: &Segment<'_>, row: usize, stack: &Stack<'_>, expected: String) -> Fault {
    let at = stack.field("job");
    let key = segment.column(at).and_then(|c| c.text(row)).unwrap_or("");
    Fault {
        column: Some(segment.heading(stack.table, at)),
        reason: Reason::ForeignKeyError,
        found: format!("job \"{}\"", shown(key)),
        expected,
    }
}

/// Puts aside rows without a job.
fn orphans(
    linked: &mut LinkedTable<'_>,
    files: &[FileRows],
    aside: &PutAside,
    states: &mut States,
) {
    let stack = &linked.stack;
    let (shop, key) = (stack.field("shop"), stack.field("job"));
    for segment in &stack.segments {
        for row in 0..segment.rows.len {
            let to = &mut linked.job_row[segment.base as usize + row];
            if *to < NO_JOB - 1 || !states.accepted(segment.id(row)) {
                continue;
            }
            let text = |at| {
                segment
                    .column(at)
                    .and_then(|c| c.text(row))
                    .unwrap_or("")
                    .to_string()
            };
            let expected = match (*to, aside.get(&(text(shop), text(key)))) {
                (NO_JOB, Some((file, line))) => format!(
                    "a job that was accepted; its own, line {line} of {}, was put aside",
                    files[*file].plan.file
                ),
                (NO_JOB, None) => "a job that is in the file of jobs".to_string(),
                _ => "its shop too, for several shops have a job of that number".to_string(),
            };
            *to = NO_JOB;
            states.quarantine(segment.id(row), job_fault(segment, row, stack, expected));
        }
    }
}

/// Puts aside jobs that have a finish neither themselves nor in surfaces.
fn without_finish(jobs: &LinkedTable<'_>, surfaces: &LinkedTable<'_>, states: &mut States) {
    let finish = jobs.stack.field("finish");
    let mut has = vec![false; jobs.stack.len as usize];
    for segment in &surfaces.stack.segments {
        for row in 0..segment.rows.len {
            let job = surfaces.job_row[segment.base as usize + row];
            if job != NO_JOB && surfaces.alive_at(states, segment, row) {
                has[job as usize] = true;
            }
        }
    }
    for segment in &jobs.stack.segments {
        let column = segment.column(finish);
        for row in 0..segment.rows.len {
            let global = segment.base + row as u32;
            let named = column.is_some_and(|c| !c.is_empty_at(row));
            if named || has[global as usize] || !jobs.alive_at(states, segment, row) {
                continue;
            }
            let column = column.map(|_| segment.heading(Table::Jobs, finish));
            states.quarantine(
                segment.id(row),
                Fault {
                    column,
                    reason: Reason::ConstraintError,
                    found: "nothing".to_string(),
                    expected: "a finish, or rows of the job in surfaces".to_string(),
                },
            );
        }
    }
}

/// Puts aside spells of jobs that are said not to be coated.
fn coated_no(
    jobs: &LinkedTable<'_>,
    coatings: &LinkedTable<'_>,
    files: &[FileRows],
    states: &mut States,
) {
    let coated = jobs.stack.field("coated");
    for segment in &coatings.stack.segments {
        for row in 0..segment.rows.len {
            let job = coatings.job_row[segment.base as usize + row];
            if job == NO_JOB || !states.accepted(segment.id(row)) {
                continue;
            }
            let at = jobs.stack.locate(job);
            if at.segment.column(coated).and_then(|c| c.yes(at.row)) != Some(false) {
                continue;
            }
            let place = format!("line {} of {}", at.line(), files[at.segment.file].plan.file);
            let mut fault = job_fault(
                segment,
                row,
                &coatings.stack,
                format!("work on a coated job; {place} says coated \"no\""),
            );
            fault.reason = Reason::ConstraintError;
            states.quarantine(segment.id(row), fault);
        }
    }
}

/// Puts aside rows whose job was put aside; true where that took a job along.
fn follow(
    jobs: &LinkedTable<'_>,
    linked: &LinkedTable<'_>,
    files: &[FileRows],
    states: &mut States,
) -> bool {
    let mut more = false;
    for segment in &linked.stack.segments {
        for row in 0..segment.rows.len {
            let job = linked.job_row[segment.base as usize + row];
            let id: RecordId = segment.id(row);
            if job == NO_JOB || !states.accepted(id) {
                continue;
            }
            let at = jobs.stack.locate(job);
            if states.accepted(at.id()) {
                continue;
            }
            let expected = format!(
                "a job that was accepted; its own, line {} of {}, was put aside",
                at.line(),
                files[at.segment.file].plan.file
            );
            states.quarantine(id, job_fault(segment, row, &linked.stack, expected));
            more |= segment.is_shared();
        }
    }
    more
}
