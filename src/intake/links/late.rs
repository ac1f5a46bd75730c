//! Dates that are too late: past the day that the settings name, or more than
//! a year past every other.

use super::super::columns::Filled;
use super::super::dates::{DAY_MICROS, day, day_text};
use super::super::reason::{Fault, Reason};
use super::stack::Stack;
use super::{LinkedTable, States, WORTH_A_THREAD};
use crate::settings::contract::Table;
use crate::settings::shop::Shop;
use crate::threads::both_where;
use chrono::Datelike;
use std::collections::BTreeMap;

/// Columns of things that have happened. (When somebody leaves may lie ahead.)
const HAPPENED: [(Table, &str); 9] = [
    (Table::Jobs, "finished_on"),
    (Table::Jobs, "quoted_on"),
    (Table::Coatings, "started_at"),
    (Table::Coatings, "ended_at"),
    (Table::Coatings, "released_at"),
    (Table::Bottles, "opened_on"),
    (Table::Bottles, "emptied_on"),
    (Table::Callbacks, "reported_on"),
    (Table::Inspections, "seen_on"),
];

/// A gap of more than this parts a date from every other [days].
const YEAR: i32 = 366;
/// Of this many dates one may stand apart from the others, and one of any
/// number: several slips of the pen must not vouch for each other.
const ONE_IN: u64 = 1000;

fn day_of(column: &Filled, row: usize) -> Option<i32> {
    let micros = column.whole(row).map(|m| m.div_euclid(DAY_MICROS) as i32);
    column.day(row).or(micros)
}

/// A column of dates, and how many of them fall on each day.
struct Counted<'s, 'a> {
    stack: &'s Stack<'a>,
    field: &'static str,
    counts: Counts,
}

/// Those of some columns that some file serves.
fn counted<'s, 'a>(
    tables: &'s BTreeMap<Table, LinkedTable<'a>>,
    columns: &[(Table, &'static str)],
) -> Vec<Counted<'s, 'a>> {
    let of = |(table, field): &(Table, &'static str)| {
        let stack = &tables.get(table)?.stack;
        stack.has(field).then(|| Counted {
            stack,
            field,
            counts: Counts::of(stack, field),
        })
    };
    columns.iter().filter_map(of).collect()
}

/// The last day that is not too late, and why.
struct Limit {
    day: i32,
    why: String,
}

/// Puts records aside that hold a date too late.
pub(super) fn put_aside(
    tables: &BTreeMap<Table, LinkedTable<'_>>,
    shop: &Shop,
    states: &mut States,
) {
    let until = shop
        .review
        .data_until
        .and_then(|d| day(d.year(), d.month(), d.day()));
    let many = tables.values().any(|t| t.stack.len >= WORTH_A_THREAD);
    let is_jobs = |(table, _): &(Table, &str)| *table == Table::Jobs;
    let (jobs, others): (Vec<_>, Vec<_>) = HAPPENED.into_iter().partition(is_jobs);
    let (jobs, others) = both_where(many, || counted(tables, &jobs), || counted(tables, &others));
    let mut finished = None;
    for column in jobs.into_iter().chain(others) {
        let Counted {
            stack,
            field,
            counts,
        } = column;
        let apart = counts.apart().map(|d| d.max(finished.unwrap_or(d)));
        if field == "finished_on" {
            finished = counts.last_to(apart);
        }
        let limit = match (until, apart) {
            (Some(day), _) => Limit {
                day,
                why: format!("no later than data_until in shop.toml ({})", day_text(day)),
            },
            (None, Some(last)) => Limit {
                day: last.saturating_add(YEAR),
                why: format!(
                    "within a year of every other date here, of which the latest is {}",
                    day_text(last)
                ),
            },
            (None, None) => continue,
        };
        if counts.last().is_some_and(|last| last > limit.day) {
            judge(stack, field, &limit, states);
        }
    }
}

fn judge(stack: &Stack<'_>, field: &str, limit: &Limit, states: &mut States) {
    let at = stack.field(field);
    for segment in &stack.segments {
        let Some(column) = segment.column(at) else {
            continue;
        };
        for row in 0..segment.rows.len {
            let Some(found) = day_of(column, row).filter(|d| *d > limit.day) else {
                continue;
            };
            states.quarantine(
                segment.id(row),
                Fault {
                    column: Some(segment.heading(stack.table, at)),
                    reason: Reason::ConstraintError,
                    found: day_text(found),
                    expected: limit.why.clone(),
                },
            );
        }
    }
}

/// How many dates fall on each day.
struct Counts {
    first: i32,
    on: Vec<u32>,
    all: u64,
}

impl Counts {
    fn of(stack: &Stack<'_>, field: &str) -> Self {
        let at = stack.field(field);
        let columns: Vec<&Filled> = stack.segments.iter().filter_map(|s| s.column(at)).collect();
        let (mut first, mut last) = (i32::MAX, i32::MIN);
        for column in &columns {
            column.each_day(|day| (first, last) = (first.min(day), last.max(day)));
        }
        let mut on = vec![
            0_u32;
            if first <= last {
                (last - first + 1) as usize
            } else {
                0
            }
        ];
        let mut all = 0;
        for column in &columns {
            column.each_day(|day| {
                on[(day - first) as usize] += 1;
                all += 1;
            });
        }
        Self { first, on, all }
    }

    /// The latest date that a gap of more than a year parts from a few later
    /// ones; `None` where nothing stands apart.
    fn apart(&self) -> Option<i32> {
        let most = (self.all / ONE_IN).max(1);
        let mut above = 0;
        let mut lowest_above: Option<i32> = None;
        let mut found = None;
        let days = self.on.iter().enumerate().rev().filter(|(_, n)| **n > 0);
        for (i, n) in days {
            let here = self.first + i as i32;
            if lowest_above.is_some_and(|above| above - here > YEAR) {
                found = Some(here);
            }
            above += u64::from(*n);
            if above > most {
                break;
            }
            lowest_above = Some(here);
        }
        found
    }

    /// The latest date.
    fn last(&self) -> Option<i32> {
        let last = self.on.iter().rposition(|n| *n > 0)?;
        Some(self.first + last as i32)
    }

    /// The latest date, those that stand apart left out.
    fn last_to(&self, apart: Option<i32>) -> Option<i32> {
        Some(apart.unwrap_or(self.last()?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn apart(days: &[i32]) -> Option<i32> {
        let first = -30_000;
        let mut on = vec![0; 80_000];
        for d in days {
            on[(d - first) as usize] += 1;
        }
        let all = days.len() as u64;
        Counts { first, on, all }.apart()
    }

    #[test]
    fn only_a_date_more_than_a_year_past_every_other_stands_apart() {
        assert_eq!(apart(&[100, 101, 102 + YEAR]), Some(101));
        assert_eq!(apart(&[100, 101, 101 + YEAR]), None);
        assert_eq!(apart(&[100]), None);
        assert_eq!(apart(&[]), None);
        // Two of three are no slip of the pen.
        assert_eq!(apart(&[100, 1000, 1001]), None);
        let mut many = vec![100; 3000];
        many.extend([5000, 5001, 9000]);
        assert_eq!(apart(&many), Some(100));
    }
}
