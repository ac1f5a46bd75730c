//! A person's own course: month by month, this month against the past, and
//! jobs that ran over a pause.

use super::{LEVEL, Person};
use crate::estimate::{Figure, NotEnough};
use crate::findings::FindError;
use crate::findings::pace::{Drift, LEAST_JOBS, OwnMonth};
use crate::fits::control::{Side, ewma};
use crate::fits::interval::t_interval;
use crate::fits::mean::Sample;
use crate::measures;
use crate::run::estimates::Basis;
use crate::settings::month::Month;
use std::collections::BTreeMap;

/// A pause that counts as long [min].
const LONG_PAUSE: f64 = 30.0;
/// Least jobs before the month for a drift.
const LEAST_BEFORE: usize = 8;
/// Least jobs in the month for a drift.
const LEAST_IN_MONTH: usize = 3;

/// Months with a job, each with a range by how much the person's own times
/// vary.
pub(super) fn own_months(person: &Person<'_>) -> Vec<OwnMonth> {
    let mut months: BTreeMap<Month, Vec<f64>> = BTreeMap::new();
    for job in &person.jobs {
        months.entry(job.job.month).or_default().extend(job.over);
    }
    let own = Sample::of(person.jobs.iter().filter_map(|j| j.over)).unwrap_or_default();
    let spread = own.variance().filter(|_| own.n >= LEAST_JOBS);
    let month = |(month, over): (Month, Vec<f64>)| {
        let jobs = over.len() as u64;
        let none = || NotEnough::new(own.n, LEAST_JOBS, "timed jobs").into();
        let figure = spread.filter(|_| jobs > 0).map_or_else(none, |v| {
            let mean = over.iter().sum::<f64>() / jobs as f64;
            let error = (v / jobs as f64).sqrt();
            let e = t_interval(mean, error, own.n as f64 - 1.0, LEVEL, jobs);
            Figure::from(e.map(f64::exp))
        });
        OwnMonth {
            month,
            jobs,
            over: figure,
        }
    };
    months.into_iter().map(month).collect()
}

/// Places of the jobs with a long pause, in order: one within a spell, or one
/// between the end of a spell and the start of the next.
pub(super) fn paused_jobs(m: &measures::Measures) -> Vec<usize> {
    let long = |s: &&measures::Spell| s.paused_minutes.is_some_and(|p| p >= LONG_PAUSE);
    let mut paused: Vec<usize> = m.spells.iter().filter(long).map(|s| s.job).collect();
    let span = |s: &measures::Spell| Some((s.job, s.started?, s.ended?));
    let mut spans: Vec<(usize, f64, f64)> = m.spells.iter().filter_map(span).collect();
    spans.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let gap = |pair: &[(usize, f64, f64)]| match pair {
        [(a, _, ended), (b, started, _)] => (a == b && started - ended >= LONG_PAUSE).then_some(*a),
        _ => None,
    };
    paused.extend(spans.windows(2).filter_map(gap));
    paused.sort_unstable();
    paused
}

pub(super) fn long_pauses(paused: &[usize], person: &Person<'_>) -> u64 {
    let own = person
        .jobs
        .iter()
        .filter(|j| paused.binary_search(&j.place).is_ok());
    own.count() as u64
}

/// The month's jobs against the person's own past, in the order of practice.
pub(super) fn drift(
    b: &Basis<'_>,
    person: &Person<'_>,
    within: f64,
    new: bool,
) -> Result<Drift, FindError> {
    let of = |now: bool| -> Vec<f64> {
        let jobs = person
            .jobs
            .iter()
            .filter(|j| (j.job.month == b.scope.month) == now);
        jobs.filter_map(|j| j.over).collect()
    };
    let (before, month) = (of(false), of(true));
    if new || before.len() < LEAST_BEFORE || month.len() < LEAST_IN_MONTH {
        return Ok(Drift::NotEnough);
    }
    let centre = before.iter().sum::<f64>() / before.len() as f64;
    // The own past is an estimate too; its error is common to all points.
    let sigma = within * (1.0 + month.len() as f64 / before.len() as f64).sqrt();
    let chart = ewma::chart(&month, centre, sigma, ewma::Params::default())?;
    Ok(match chart.last().map(|p| p.side) {
        Some(Side::Above) => Drift::Slower,
        Some(Side::Below) => Drift::Quicker,
        _ => Drift::Steady,
    })
}
