//! What must hold between the cells of one record.

use super::columns::Filled;
use super::dates::{day_text, moment_text};
use super::plan::{Part, Plan};
use super::reason::{Fault, Reason};
use crate::settings::contract::Table;

const MINUTE_MICROS: f64 = 60.0e6;
const DAY_MINUTES: f64 = 1440.0;

/// Pairs of fields of which the first must not be after the second.
fn orders(table: Table) -> &'static [(&'static str, &'static str)] {
    match table {
        Table::Coatings => &[("started_at", "ended_at"), ("ended_at", "released_at")],
        Table::Bottles => &[("opened_on", "emptied_on")],
        Table::People => &[("started_on", "ended_on")],
        _ => &[],
    }
}

/// Adds the faults of a part's rows; rows are of the chunk.
pub(super) fn within_rows(
    part: &Part,
    plan: &Plan,
    columns: &[Option<Filled>],
    faults: &mut Vec<(u32, Fault)>,
) {
    let column = |name: &str| {
        let claim = part.claim(name)?;
        Some((claim, columns.get(claim)?.as_ref()?))
    };
    for (first, then) in orders(part.table) {
        if let (Some((_, a)), Some((claim, b))) = (column(first), column(then)) {
            let heading = &plan.claims[claim].heading;
            out_of_order(a, b, |row, found, earliest| {
                let fault = Fault {
                    column: Some(heading.clone()),
                    reason: Reason::DateOrderError,
                    found,
                    expected: format!("not before {first} ({earliest})"),
                };
                faults.push((row, fault));
            });
        }
    }
    if let (Some((_, volume)), Some((claim, left))) = (column("volume"), column("left_over")) {
        let heading = &plan.claims[claim].heading;
        more_left_than_held(volume, left, |row, found, held| {
            let fault = Fault {
                column: Some(heading.clone()),
                reason: Reason::ConstraintError,
                found,
                expected: format!("no more than the bottle's volume ({held})"),
            };
            faults.push((row, fault));
        });
    }
    if part.table == Table::Coatings
        && let (Some((_, start)), Some((claim, end))) = (column("started_at"), column("ended_at"))
    {
        let heading = &plan.claims[claim].heading;
        let minutes = column("minutes").map(|(_, c)| c);
        let paused = column("paused_minutes").map(|(_, c)| c);
        spans(start, end, minutes, paused, |row, found| {
            let fault = Fault {
                column: Some(heading.clone()),
                reason: Reason::ConstraintError,
                found,
                expected: "0 to 1,440 minutes of work between start and end, pauses taken off"
                    .to_string(),
            };
            faults.push((row, fault));
        });
    }
}

/// Calls `report` with each row whose second is before its first.
fn out_of_order(first: &Filled, then: &Filled, mut report: impl FnMut(u32, String, String)) {
    for row in 0..first.len() {
        if let (Some(a), Some(b)) = (first.whole(row), then.whole(row))
            && b < a
        {
            report(row as u32, moment_text(b), moment_text(a));
        }
        if let (Some(a), Some(b)) = (first.day(row), then.day(row))
            && b < a
        {
            report(row as u32, day_text(b), day_text(a));
        }
    }
}

/// Calls `report` with each row of which more is left over than the bottle
/// held [mL].
fn more_left_than_held(
    volume: &Filled,
    left: &Filled,
    mut report: impl FnMut(u32, String, String),
) {
    // Two units may round the same volume to either side.
    const ROUNDING: f64 = 1e-9;
    for row in 0..left.len() {
        if let (Some(held), Some(left)) = (volume.real(row), left.real(row))
            && left > held * (1.0 + ROUNDING)
        {
            let text = |ml: f64| format!("{ml:.1} mL");
            report(row as u32, text(left), text(held));
        }
    }
}

/// Calls `report` with each row whose minutes follow from start, end and
/// pauses and are none or over a day.
fn spans(
    start: &Filled,
    end: &Filled,
    minutes: Option<&Filled>,
    paused: Option<&Filled>,
    mut report: impl FnMut(u32, String),
) {
    for row in 0..start.len() {
        let given = minutes.and_then(|m| m.real(row)).is_some();
        let (Some(a), Some(b)) = (start.whole(row), end.whole(row)) else {
            continue;
        };
        if given || b < a {
            continue;
        }
        let pause = paused.and_then(|p| p.real(row)).unwrap_or(0.0);
        let worked = (b - a) as f64 / MINUTE_MICROS - pause;
        if !(0.0..=DAY_MINUTES).contains(&worked) {
            report(row as u32, format!("{worked:.0} minutes"));
        }
    }
}
