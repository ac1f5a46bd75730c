//! Film: what came back or was looked at before the work was finished, and film
//! seen sound after it had failed.

use super::super::links::{LinkedTable, NO_JOB, Segment};
use super::{Collected, Look, Oddity, alive, day_text};
use crate::settings::contract::Table;
use foldhash::fast::FixedState;
use std::collections::HashMap;

/// The first day on which each job's film was found failed.
type Failures = HashMap<u32, i32, FixedState>;

/// Where a table says that a film failed, and when.
#[derive(Clone, Copy)]
struct Failed {
    table: Table,
    day: &'static str,
    what: &'static str,
    word: &'static str,
}

const FAILED: [Failed; 2] = [
    Failed {
        table: Table::Callbacks,
        day: "reported_on",
        what: "cause",
        word: "film_failure",
    },
    Failed {
        table: Table::Inspections,
        day: "seen_on",
        what: "condition",
        word: "failed",
    },
];

/// A row that is about a job's film.
struct About<'s, 'a> {
    segment: &'s Segment<'a>,
    row: usize,
    job: u32,
    day: i32,
    failed: bool,
}

/// Rows of a table with a day and a job.
fn about<'s, 'a>(
    look: &'s Look<'_, 'a>,
    rows: &'s LinkedTable<'a>,
    of: Failed,
) -> impl Iterator<Item = About<'s, 'a>> {
    let (day, what) = (rows.stack.field(of.day), rows.stack.field(of.what));
    alive(look.linked, rows).filter_map(move |(segment, row, global)| {
        let job = rows.job_row.get(global as usize).copied()?;
        let said = segment.column(what).and_then(|c| c.text(row));
        (job != NO_JOB).then_some(About {
            segment,
            row,
            job,
            day: segment.column(day).and_then(|c| c.day(row))?,
            failed: said == Some(of.word),
        })
    })
}

/// Callbacks and looks against the day on which the work was finished, and
/// looks against the first failure.
pub(super) fn film(look: &Look<'_, '_>, list: &mut Collected) {
    let Some(jobs) = look.table(Table::Jobs) else {
        return;
    };
    let mut first_failure = Failures::default();
    for of in FAILED {
        if let Some(rows) = look.table(of.table) {
            before_the_work(look, jobs, rows, of, list);
            failures(look, rows, of, &mut first_failure);
        }
    }
    for of in FAILED.into_iter().filter(|f| f.table == Table::Inspections) {
        if let Some(rows) = look.table(of.table) {
            sound_after(look, rows, of, &first_failure, list);
        }
    }
}

fn before_the_work(
    look: &Look<'_, '_>,
    jobs: &LinkedTable<'_>,
    rows: &LinkedTable<'_>,
    of: Failed,
    list: &mut Collected,
) {
    let column = jobs.stack.field("finished_on");
    for x in about(look, rows, of) {
        let job = jobs.stack.locate(x.job);
        let finished = job.segment.column(column).and_then(|c| c.day(job.row));
        let Some(finished) = finished.filter(|f| x.day < *f) else {
            continue;
        };
        let [day, finished] = [x.day, finished].map(day_text);
        list.add(Oddity::BeforeTheWork, 1, || {
            let found = format!("{} {day}, film work finished on {finished}", of.day);
            let job = Look::job(&rows.stack, x.segment, x.row);
            look.listed(Oddity::BeforeTheWork, x.segment, x.row, job, found)
        });
    }
}

/// The first day on which each job's film was found failed.
fn failures(look: &Look<'_, '_>, rows: &LinkedTable<'_>, of: Failed, to: &mut Failures) {
    for x in about(look, rows, of).filter(|x| x.failed) {
        let first = to.entry(x.job).or_insert(x.day);
        *first = x.day.min(*first);
    }
}

fn sound_after(
    look: &Look<'_, '_>,
    rows: &LinkedTable<'_>,
    of: Failed,
    first_failure: &Failures,
    list: &mut Collected,
) {
    for x in about(look, rows, of).filter(|x| !x.failed) {
        let Some(failed) = first_failure.get(&x.job).filter(|f| x.day > **f) else {
            continue;
        };
        let [day, failed] = [x.day, *failed].map(day_text);
        list.add(Oddity::SoundAfterFailure, 1, || {
            let found = format!("seen sound on {day}, failed on {failed}");
            let job = Look::job(&rows.stack, x.segment, x.row);
            look.listed(Oddity::SoundAfterFailure, x.segment, x.row, job, found)
        });
    }
}
