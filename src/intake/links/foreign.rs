//! What hangs on a job: surfaces, spells, callbacks and inspections find
//! theirs by shop and job, and go where it goes.

use super::super::chunk::key_field;
use super::super::file::FileRows;
use super::super::reason::{Fault, Reason};
use super::super::refusals::shown;
use super::index::Seeker;
use super::resolver::{Answer, Resolver, meet_without_shop};
use super::stack::{Segment, Stack};
use super::{LinkedTable, NO_JOB, RecordId, States, by_halves};
use crate::settings::contract::{TABLES, Table};
use std::collections::BTreeMap;

/// Tables whose rows hang on a job.
fn children() -> impl Iterator<Item = Table> {
    TABLES.into_iter().filter(|t| t.key().is_empty())
}

/// Keys of jobs that were put aside so far, with file and line.
type PutAside = BTreeMap<(String, String), (usize, u64)>;

/// Named so that what hangs on them can say where its job went.
fn put_aside(files: &[FileRows], jobs: &Stack<'_>, states: &States) -> PutAside {
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
    let (shop, key) = (jobs.field("shop"), jobs.field("job"));
    for segment in &jobs.segments {
        let quarantined = |row: &usize| states.of(segment.id(*row)) == super::State::Quarantined;
        for row in (0..segment.rows.len).filter(quarantined) {
            let text = |at| segment.column(at).and_then(|c| c.text(row)).unwrap_or("");
            if out.len() < MOST {
                out.entry((text(shop).to_string(), text(key).to_string()))
                    .or_insert((segment.file, segment.line(row)));
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
    let Some(jobs) = tables.remove(&Table::Jobs) else {
        return;
    };
    let aside = put_aside(files, &jobs.stack, states);
    let mut resolver = Resolver::new(&jobs);
    let apart = |t: Table| {
        tables
            .get(&t)
            .is_some_and(|c| meet_without_shop(&jobs.stack, &c.stack))
    };
    let alone = children().any(apart);
    if alone {
        resolver.by_key_alone(|row| winner(&jobs, states, row));
    }
    for table in children() {
        let Some(linked) = tables.get_mut(&table) else {
            continue;
        };
        if alone {
            by_number_alone(linked, &resolver);
        }
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
    let repeated = states.whys.has(id, Reason::UniqueError);
    !merged && !repeated && states.of(id) != super::State::Superseded
}

/// The row of each row's job by shop and job number; [`NO_JOB`] for none.
pub(super) fn jobs_of(stack: &Stack<'_>, jobs: &LinkedTable<'_>) -> Vec<u32> {
    let mut out = vec![NO_JOB; stack.len as usize];
    let Some(index) = &jobs.index else {
        return out;
    };
    let fields = |s: &Stack<'_>| (s.field("shop"), s.field(key_field(s.table)));
    let ((shop, key), theirs) = (fields(stack), fields(&jobs.stack));
    by_halves(stack, &mut out, |segment, to| {
        let Some(keys) = segment.column(key) else {
            return;
        };
        let shops = segment.column(shop);
        let mut seeker = Seeker::new(index, &jobs.stack, theirs);
        for (row, to) in to.iter_mut().enumerate() {
            if let Some(shops) = shops.filter(|s| !s.repeats(row)) {
                seeker.turn_to(shops.text(row).unwrap_or(""));
            }
            *to = seeker.find(keys.text(row).unwrap_or("")).unwrap_or(NO_JOB);
        }
    });
    out
}

/// Finds jobs by their number alone for rows that found none, where one of
/// the two tables names no shop.
fn by_number_alone(linked: &mut LinkedTable<'_>, resolver: &Resolver<'_, '_>) {
    let stack = &linked.stack;
    let (shop, key) = (stack.field("shop"), stack.field(key_field(stack.table)));
    for segment in &stack.segments {
        let text = |at, row| segment.column(at).and_then(|c| c.text(row)).unwrap_or("");
        for row in 0..segment.rows.len {
            let to = &mut linked.job_row[segment.base as usize + row];
            if *to != NO_JOB {
                continue;
            }
            *to = match resolver.find(text(shop, row), text(key, row)) {
                Answer::Row(row) => row,
                Answer::None => NO_JOB,
                Answer::Several => NO_JOB - 1,
            };
        }
    }
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
        for row in surfaces.alive_in(states, segment) {
            let job = surfaces.job_row[segment.base as usize + row];
            if job != NO_JOB {
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
    let mut not_coated = Vec::with_capacity(jobs.stack.len as usize);
    for segment in &jobs.stack.segments {
        let column = segment.column(coated);
        let said_no = |row| column.and_then(|c| c.yes(row)) == Some(false);
        not_coated.extend((0..segment.rows.len).map(said_no));
    }
    for segment in &coatings.stack.segments {
        for row in 0..segment.rows.len {
            let job = coatings.job_row[segment.base as usize + row];
            if job == NO_JOB || !not_coated[job as usize] || !states.accepted(segment.id(row)) {
                continue;
            }
            let at = jobs.stack.locate(job);
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
    if !states.differ {
        return false;
    }
    let mut gone = Vec::with_capacity(jobs.stack.len as usize);
    for segment in &jobs.stack.segments {
        gone.extend((0..segment.rows.len).map(|row| !states.accepted(segment.id(row))));
    }
    if !gone.contains(&true) {
        return false;
    }
    let mut more = false;
    for segment in &linked.stack.segments {
        for row in 0..segment.rows.len {
            let job = linked.job_row[segment.base as usize + row];
            let id: RecordId = segment.id(row);
            if job == NO_JOB || !gone[job as usize] || !states.accepted(id) {
                continue;
            }
            let at = jobs.stack.locate(job);
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
