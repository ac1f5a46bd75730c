//! From plain tables to fits and back: which jobs enter, as which numbers, and
//! what each job is expected to take.

mod by_shop;
mod columns;
mod kinds;
mod time;
mod used;

pub(super) use by_shop::{BEFORE_FINISHES, known};
pub(super) use columns::Columns;
pub(super) use kinds::{Kinds, MOST};
pub(super) use time::{Predictor, Time, TimeSheet, fit_time, usual_time};
pub(super) use used::{Use, fit_use, use_by_constants};

use crate::findings::Scope;
use crate::findings::left_out::{LeftOut, Why};
use crate::findings::money::Expected;
use crate::fits::record;
use crate::fits::robust::Outliers;
use crate::measures::{CoatedJob, Measures};
use crate::settings::constants::Record;
use crate::settings::month::Month;
use crate::settings::shop::Review;
use std::collections::BTreeMap;

/// What the fits rest on beside the jobs.
#[derive(Debug, Clone, Copy)]
pub(super) struct Basis<'a> {
    pub(super) measures: &'a Measures,
    /// The same coated jobs as columns.
    pub(super) columns: &'a Columns,
    pub(super) scope: &'a Scope,
    pub(super) record: Option<&'a Record>,
    pub(super) review: &'a Review,
    /// Area of a full job by class [m²].
    pub(super) full_area: &'a BTreeMap<String, f64>,
}

impl Basis<'_> {
    fn outliers(&self) -> Outliers {
        if self.review.leave_out {
            Outliers::Drop
        } else {
            Outliers::Keep
        }
    }

    fn class(&self, job: &CoatedJob) -> &str {
        self.measures.classes.name(job.class)
    }

    pub(super) fn full_area(&self, class: &str) -> Option<f64> {
        let listed = self.record.and_then(|r| r.full_area.get(class));
        listed.or_else(|| self.full_area.get(class)).copied()
    }

    /// Areas by finish [m²], one per finish that is told apart; `None` for a
    /// job on another.
    pub(super) fn areas(&self, job: &CoatedJob) -> Option<Vec<f64>> {
        let finishes = &self.columns.finishes;
        let mut areas = vec![0.0; finishes.count()];
        columns::add_parts(job, finishes, &mut areas).then_some(areas)
    }

    /// Areas of full jobs [m²], by the classes' numbers.
    fn full_areas(&self) -> Vec<Option<f64>> {
        let classes = self.measures.classes.all().iter();
        classes.map(|c| self.full_area(c)).collect()
    }

    /// A job's area over a full one's; 1 for a full job without an area.
    pub(super) fn covered(&self, job: &CoatedJob) -> Option<f64> {
        covered(self.full_area(self.class(job)), job)
    }

    /// The finish for which constants by class stand: gloss where the shop has
    /// it, else the one that is said to take least, else the first. Its number
    /// among the shop's finishes; it is one of those told apart.
    pub(super) fn smoothest(&self) -> Option<u32> {
        let finishes = &self.columns.finishes;
        let named =
            || (finishes.numbers().iter().copied()).zip(finishes.names(&self.measures.finishes));
        let gloss = named().find(|(_, n)| *n == "gloss").map(|x| x.0);
        let rate = |name: &str| self.record?.ml_per_m2.get(name).copied();
        let rated = named().filter_map(|(i, n)| Some((i, rate(n)?)));
        let least = rated.min_by(|a, b| a.1.total_cmp(&b.1)).map(|x| x.0);
        gloss
            .or(least)
            .or_else(|| finishes.numbers().first().copied())
    }

    fn left_out(&self, rows: &[usize], record: &record::Record) -> Vec<LeftOut> {
        let named = |l: &record::LeftOut| {
            let job = &self.measures.coated[*rows.get(l.row)?];
            let why = match l.why {
                record::Why::FarFromTheRest { score } => Why::FarOff { score },
                _ => Why::NoArea,
            };
            Some(LeftOut {
                shop: job.shop.to_string(),
                job: job.job.to_string(),
                why,
            })
        };
        record.left_out.iter().filter_map(named).collect()
    }
}

/// Jobs that entered a fit, by their place among the coated ones, and those
/// that could not.
#[derive(Debug, Default)]
struct Entered {
    rows: Vec<usize>,
    refused: Vec<LeftOut>,
}

/// Jobs of some months that have a value above 0, unless `lacks` says, by a
/// job's place, what keeps it out.
fn entered(
    b: &Basis<'_>,
    keep: impl Fn(Month) -> bool,
    values: &[Option<f64>],
    lacks: impl Fn(usize) -> Option<Why>,
) -> Entered {
    let mut all = Entered::default();
    for (i, (value, month)) in values.iter().zip(&b.columns.month).enumerate() {
        let why = match value.filter(|_| keep(*month)) {
            None => continue,
            Some(x) if x <= 0.0 => Why::Zero,
            Some(_) => match lacks(i) {
                Some(why) => why,
                None => {
                    all.rows.push(i);
                    continue;
                }
            },
        };
        let job = &b.measures.coated[i];
        all.refused.push(LeftOut {
            shop: job.shop.to_string(),
            job: job.job.to_string(),
            why,
        });
    }
    all
}

/// A job's area over that of a full one of its class; 1 for a full job without
/// an area.
fn covered(full_area: Option<f64>, job: &CoatedJob) -> Option<f64> {
    share_of_full(full_area, job.area(), job.full)
}

/// The same of an area [m²], `is_full` where the job says so.
fn share_of_full(full_area: Option<f64>, area: f64, is_full: Option<bool>) -> Option<f64> {
    match full_area {
        Some(full) if area > 0.0 && full > 0.0 => Some(area / full),
        _ => (is_full == Some(true)).then_some(1.0),
    }
}

/// Share of each finish in a job's area; `None` for a job on one that is not
/// told apart.
fn shares(b: &Basis<'_>, job: &CoatedJob) -> Option<Vec<f64>> {
    let mut areas = b.areas(job)?;
    to_shares(&mut areas);
    Some(areas)
}

fn to_shares(areas: &mut [f64]) {
    let total: f64 = areas.iter().sum();
    if total > 0.0 {
        areas.iter_mut().for_each(|a| *a /= total);
    }
}

/// What every coated job is expected to take, in their order.
pub(super) fn expected(b: &Basis<'_>, used: Option<&Use>, time: Option<&Time>) -> Vec<Expected> {
    let one = |job: &CoatedJob| Expected {
        use_ml: used.and_then(|u| u.expected(b, job)),
        minutes: time.and_then(|t| t.expected(b, job)),
    };
    b.measures.coated.iter().map(one).collect()
}
