//! The tables behind the bridges.

use super::months::{PerJob, cents};
use super::{Context, LISTED, name};
use crate::findings::bridge::{Bridge, JobBridge, Moved, STEPS, Term};
use crate::money::Minor;
use crate::pages::format::month;
use crate::pages::table::{Cell, Table, numbers_column, words_column};

// Long because it is a list: a row and a column a line.
pub(super) fn steps_table(m: &Moved, c: Context<'_>) -> Table {
    let n = m.jobs.len().max(1) as f64;
    let exact = |x: Option<Minor>| x.map_or(Cell::Blank, Cell::Exact);
    let each = |x: Option<f64>| exact(x.map(cents));
    let row = |what: &str, quoted: Option<Minor>, months: Option<Minor>, per_job: Option<f64>| {
        vec![
            Cell::Text(what.into()),
            exact(quoted),
            each(quoted.map(|x| x.as_f64() / n)),
            exact(months),
            each(per_job),
        ]
    };
    let per_job = PerJob::of(m);
    let ends = per_job.as_ref();
    let b = &m.quoted;
    let months = m.months.as_ref();
    let amount = |b: &Bridge, term: Term| b.terms.iter().find(|s| s.term == term).map(|s| s.amount);
    let only_months = [Term::Volume, Term::Mix, Term::NewConstants];
    let terms = only_months
        .into_iter()
        .filter(|_| months.is_some())
        .chain(STEPS);
    let step = |t: Term| {
        let months = months.and_then(|x| amount(x, t));
        row(name(t), amount(b, t), months, ends.and_then(|x| x.step(t)))
    };
    let from = (Some(b.from), months.map(|x| x.from), ends.map(|x| x.from));
    let to = (Some(b.to), months.map(|x| x.to), ends.map(|x| x.to));
    let moved = (
        Some(b.difference()),
        months.map(Bridge::difference),
        ends.map(|x| x.to - x.from),
    );
    let of = |what, (quoted, months, per_job)| row(what, quoted, months, per_job);
    let mut rows = vec![of("Starts from", from)];
    rows.extend(terms.map(step));
    rows.push(of("Ends at", to));
    rows.push(of("Difference", moved));
    let before = months.map(|_| m.jobs_before);
    rows.push(counts("Coated jobs in it", m.jobs.len() as u64, before));
    rows.push(counts("Not in it: money not known", m.without_money, None));
    rows.push(counts(
        "Not in it: quote not known",
        m.without_standard,
        None,
    ));
    Table {
        name: "bridge",
        fold: "The steps",
        caption: format!("From quoted to happened, {}", month(c.scope.month.first())),
        columns: vec![
            words_column("step", "Step"),
            numbers_column("quoted", "Quoted to happened"),
            numbers_column("quoted_per_job", "Per coated job"),
            numbers_column("months", "Month before to this one"),
            numbers_column("months_per_job", "The same per coated job"),
        ],
        rows,
        definition: format!(
            "{} this month, {} the month before. Quoted: the planning figures in use on the day of the quote; a partial job by its share of a full one; a two-tone job by the dearer of its finishes. Money added is above 0. Number of coated jobs: at what one left over the month before; every other step of that column: against the month before at as many jobs.",
            c.format
                .count_of(m.jobs.len() as u64, "coated job", "coated jobs"),
            c.format.count(m.jobs_before)
        ),
    }
}

fn counts(what: &str, jobs: u64, before: Option<u64>) -> Vec<Cell> {
    let mut cells = vec![Cell::Text(what.into()), Cell::Count(jobs)];
    cells.extend([
        Cell::Blank,
        before.map_or(Cell::Blank, Cell::Count),
        Cell::Blank,
    ]);
    cells
}

/// The month's jobs, those that lost most against their quote first.
pub(super) fn jobs_table(m: &Moved, c: Context<'_>, at_most: usize) -> Table {
    let mut jobs: Vec<&JobBridge> = m.jobs.iter().collect();
    jobs.sort_by_key(|j| j.to - j.from);
    let row = |j: &&JobBridge| {
        let mut cells = vec![
            Cell::Text(j.job.clone()),
            Cell::Text(j.shop.clone()),
            Cell::Exact(j.from),
        ];
        cells.extend(j.steps.iter().map(|s| Cell::Exact(*s)));
        cells.extend([Cell::Exact(j.to), Cell::Exact(j.to - j.from)]);
        cells
    };
    let keys = [
        "list_price",
        "discount",
        "coating_price",
        "coating_usage",
        "labour_rate",
        "labour_efficiency",
        "consumables_and_fees",
        "callbacks",
    ];
    let mut columns = vec![
        words_column("job", "Job"),
        words_column("shop", "Shop"),
        numbers_column("quoted", "Quoted"),
    ];
    let steps = keys.iter().zip(STEPS);
    columns.extend(steps.map(|(key, term)| numbers_column(key, name(term))));
    columns.push(numbers_column("left", "Left"));
    columns.push(numbers_column("difference", "Difference"));
    let mut table = Table {
        name: "bridge_jobs",
        fold: "Job by job",
        caption: format!(
            "From quoted to happened by job, {}",
            month(c.scope.month.first())
        ),
        columns,
        rows: jobs.iter().take(at_most).map(row).collect(),
        definition: format!(
            "Those that fell furthest below their quote first{}. Coating and minutes that were not recorded are the expected ones.",
            if m.jobs.len() > at_most {
                "; tables/bridge_jobs.csv has all"
            } else {
                ""
            }
        ),
    };
    if at_most == LISTED && m.jobs.iter().all(|j| j.shop.is_empty()) {
        table.columns.remove(1);
        table.rows.iter_mut().for_each(|row| {
            row.remove(1);
        });
    }
    table
}
