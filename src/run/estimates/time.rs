//! Hands-on minutes: jobs into the fit, and what it says of a job.

mod predictor;
mod rows;

pub(in crate::run) use predictor::Predictor;

use super::{Basis, covered, entered, share_of_full, shares, to_shares};
use crate::estimate::NotEnough;
use crate::findings;
use crate::findings::left_out::{LeftOut, Why};
use crate::findings::same_work::Pair;
use crate::fits::error::FitError;
use crate::fits::evidence::Source;
use crate::fits::minutes::{
    self as time_fit, Blocks, ClassMinutes, JobMinutes, Minutes, MinutesFit, NewJob,
};
use crate::measures::CoatedJob;
use crate::settings::month::Month;
use std::collections::{BTreeMap, BTreeSet};

/// Hands-on minutes: the fit and the jobs in it.
#[derive(Debug)]
pub(in crate::run) struct Time {
    pub(in crate::run) fit: MinutesFit,
    /// Column of the smoothest finish.
    smoothest: usize,
    rows: Vec<usize>,
    refused: Vec<LeftOut>,
    /// Areas of full jobs [m²], by class.
    full_areas: Vec<Option<f64>>,
    /// ln of the finishes' factors, 0 where one is not known.
    log_factors: Vec<f64>,
}

fn log_factors(fit: &MinutesFit) -> Vec<f64> {
    let factors = fit.finish_factors.iter();
    factors.map(|f| f.value().map_or(0.0, f64::ln)).collect()
}

/// Fits hands-on minutes, jobs and constants together, over the months that
/// `keep` keeps.
pub(in crate::run) fn fit_time(
    b: &Basis<'_>,
    keep: impl Fn(Month) -> bool,
) -> Result<Time, FitError> {
    time_of(b, keep, |jobs| fitted(Minutes::new(jobs), b, true))
}

/// The same of the jobs alone, to hold others against: spreads bear no
/// intervals.
pub(in crate::run) fn usual_time(
    b: &Basis<'_>,
    keep: impl Fn(Month) -> bool,
) -> Result<Time, FitError> {
    time_of(b, keep, |jobs| {
        fitted(Minutes::new(jobs).for_prediction(), b, false)
    })
}

fn time_of(
    b: &Basis<'_>,
    keep: impl Fn(Month) -> bool,
    fit: impl Fn(time_fit::Jobs<'_>) -> Result<MinutesFit, FitError>,
) -> Result<Time, FitError> {
    let full_areas = b.full_areas();
    let entered = timed(b, keep, &full_areas);
    let smoothest = smoothest(b)?;
    let table = TimeTable::of(b, &entered.rows, &full_areas);
    let fit = fit(table.jobs(shape(b, smoothest))?)?;
    Ok(Time {
        log_factors: log_factors(&fit),
        fit,
        smoothest,
        rows: entered.rows,
        refused: entered.refused,
        full_areas,
    })
}

/// Timed jobs of the months that `keep` keeps whose size is known.
fn timed(
    b: &Basis<'_>,
    keep: impl Fn(Month) -> bool,
    full_areas: &[Option<f64>],
) -> super::Entered {
    let of_full = |job: &CoatedJob| full_areas.get(job.class as usize).copied().flatten();
    let columns = b.columns;
    entered(b, keep, &columns.minutes, |i| {
        let job = &b.measures.coated[i];
        let area = columns.area[i];
        let sized = area > 0.0 && share_of_full(of_full(job), area, job.full).is_some();
        let told_apart = columns.on_known[i] && columns.classes.column(job.class).is_some();
        let without = (!sized).then_some(Why::NoArea);
        without.or((!told_apart).then_some(Why::Rare))
    })
}

fn smoothest(b: &Basis<'_>) -> Result<usize, FitError> {
    let none = || NotEnough::new(0, 1, "coated jobs with a finish").into();
    let column = b.smoothest().and_then(|f| b.columns.finishes.column(f));
    column.ok_or_else(none)
}

fn shape(b: &Basis<'_>, smoothest: usize) -> time_fit::Shape {
    time_fit::Shape {
        classes: b.columns.classes.count(),
        finishes: b.columns.finishes.count(),
        smoothest,
    }
}

fn fitted(task: Minutes<'_>, b: &Basis<'_>, with_constants: bool) -> Result<MinutesFit, FitError> {
    let prior = time_fit::Prior {
        typical: (b.columns.classes.names(&b.measures.classes))
            .map(|c| b.record?.minutes.get(c).copied())
            .collect(),
        jobs: b.review.evidence_jobs,
    };
    let task = task.with_outliers(b.outliers());
    if with_constants && b.record.is_some() && b.review.evidence_jobs > 0.0 {
        task.with_prior(&prior)?.fit()
    } else {
        task.fit()
    }
}

/// Timed jobs in the order of their months, as one record of constants makes
/// their columns: for fits over many runs of months.
#[derive(Debug)]
pub(in crate::run) struct TimeSheet {
    table: TimeTable,
    /// Places of the jobs among the coated ones.
    rows: Vec<usize>,
    months: Vec<Month>,
    /// One past the last row of each month.
    ends: Vec<usize>,
    shape: time_fit::Shape,
    full_areas: Vec<Option<f64>>,
}

impl TimeSheet {
    /// The jobs of the months `from` to `until`.
    pub(in crate::run) fn of(b: &Basis<'_>, from: Month, until: Month) -> Result<Self, FitError> {
        let full_areas = b.full_areas();
        let within = |m: Month| from <= m && m <= until;
        let rows = by_month(b, &timed(b, within, &full_areas).rows);
        let month = |i: &usize| b.columns.month[*i];
        let (mut months, mut ends) = (Vec::new(), Vec::new());
        for same in rows.chunk_by(|x, y| month(x) == month(y)) {
            months.extend(same.first().map(month));
            ends.push(ends.last().copied().unwrap_or(0) + same.len());
        }
        Ok(Self {
            table: TimeTable::of(b, &rows, &full_areas),
            rows,
            months,
            ends,
            shape: shape(b, smoothest(b)?),
            full_areas,
        })
    }

    /// The jobs' sums, month by month.
    pub(in crate::run) fn blocks(&self) -> Result<Blocks<'_>, FitError> {
        Blocks::new(self.table.jobs(self.shape)?, &self.ends)
    }

    /// As [`fit_time`] with constants over the window of `b`, whose record is
    /// the one of this sheet; to predict with, so spreads bear no intervals.
    pub(in crate::run) fn fit(&self, blocks: &Blocks<'_>, b: &Basis<'_>) -> Result<Time, FitError> {
        let before = self.months.partition_point(|m| *m < b.scope.window_from);
        let until = self.months.partition_point(|m| *m <= b.scope.month);
        let run = before.min(until)..until;
        let row = |month: usize| month.checked_sub(1).map_or(0, |m| self.ends[m]);
        let fit = fitted(blocks.over(run.clone())?.for_prediction(), b, true)?;
        Ok(Time {
            log_factors: log_factors(&fit),
            fit,
            smoothest: self.shape.smoothest,
            rows: self.rows[row(run.start)..row(run.end)].to_vec(),
            refused: Vec::new(),
            full_areas: self.full_areas.clone(),
        })
    }
}

/// Places of jobs, ascending, in the order of their months.
fn by_month(b: &Basis<'_>, rows: &[usize]) -> Vec<usize> {
    let mut months = BTreeSet::new();
    for same in b.columns.month.chunk_by(|x, y| x == y) {
        months.extend(same.first());
    }
    let mut wanted = vec![false; b.columns.month.len()];
    rows.iter().for_each(|place| wanted[*place] = true);
    let in_month = months.into_iter().flat_map(|m| b.columns.in_month(m));
    in_month.copied().filter(|place| wanted[*place]).collect()
}

/// The columns of the minutes' fit.
#[derive(Debug, Default)]
struct TimeTable {
    minutes: Vec<f64>,
    class: Vec<usize>,
    covered: Vec<f64>,
    shares: Vec<f64>,
    person: Vec<Option<u64>>,
}

impl TimeTable {
    fn jobs(&self, shape: time_fit::Shape) -> Result<time_fit::Jobs<'_>, FitError> {
        time_fit::Jobs::new(
            &self.minutes,
            &self.class,
            &self.covered,
            &self.shares,
            &self.person,
            shape,
        )
    }

    fn of(b: &Basis<'_>, rows: &[usize], full_areas: &[Option<f64>]) -> Self {
        let n = rows.len();
        let mut t = Self {
            minutes: Vec::with_capacity(n),
            class: Vec::with_capacity(n),
            covered: Vec::with_capacity(n),
            shares: Vec::with_capacity(n * b.columns.finishes.count()),
            person: Vec::with_capacity(n),
        };
        for place in rows {
            let job = &b.measures.coated[*place];
            let full = full_areas.get(job.class as usize).copied().flatten();
            let covered = share_of_full(full, b.columns.area[*place], job.full);
            t.minutes.push(b.columns.minutes[*place].unwrap_or(0.0));
            t.class
                .push(b.columns.classes.column(job.class).unwrap_or(0));
            t.covered.push(covered.unwrap_or(1.0));
            let from = t.shares.len();
            t.shares.extend_from_slice(b.columns.areas_of(*place));
            to_shares(&mut t.shares[from..]);
            t.person.push(job.person.map(u64::from));
        }
        t
    }
}

impl Time {
    /// What the findings take.
    pub(in crate::run) fn fitted(&self, b: &Basis<'_>) -> findings::minutes::Fitted {
        let finishes = || b.columns.finishes.names(&b.measures.finishes);
        let factors = finishes().zip(&self.fit.finish_factors).enumerate();
        let factors = factors.filter(|(f, _)| *f != self.smoothest);
        let classes = &b.columns.classes;
        let names = classes.names(&b.measures.classes).zip(month_jobs(b));
        let mut left_out = b.left_out(&self.rows, &self.fit.record);
        left_out.extend(self.refused.iter().cloned());
        findings::minutes::Fitted {
            classes: (names.zip(&self.fit.classes))
                .map(|((name, month_jobs), c)| findings::minutes::ClassFit {
                    class: name.to_string(),
                    jobs: c.jobs,
                    typical: c.data_alone.typical.clone(),
                    average: c.data_alone.average.clone(),
                    plan_for: c.data_alone.plan_for.clone(),
                    month_jobs,
                })
                .collect(),
            rare: classes.rare(&b.measures.classes),
            rare_finishes: b.columns.finishes.rare(&b.measures.finishes),
            smoothest: finishes().nth(self.smoothest).map(String::from),
            covered_share: self.fit.covered_share_exponent.clone(),
            finishes: factors
                .map(|(_, (name, factor))| findings::minutes::FinishFactor {
                    finish: name.to_string(),
                    factor: factor.clone(),
                })
                .collect(),
            person_sd: self.fit.person_sd.clone(),
            residual_sd: self.fit.residual_sd.clone(),
            jobs_used: self.fit.record.rows_used as u64,
            left_out,
        }
    }

    /// What the fit says of the class of this number, where it is told apart.
    pub(in crate::run) fn class(&self, b: &Basis<'_>, number: u32) -> Option<&ClassMinutes> {
        self.fit.classes.get(b.columns.classes.column(number)?)
    }

    /// A job's area over that of a full one.
    fn covered(&self, job: &CoatedJob) -> Option<f64> {
        let full = self.full_areas.get(job.class as usize).copied().flatten();
        covered(full, job)
    }

    /// Minutes of a job as a multiple of a full one of its class on the
    /// smoothest finish; `None` where the fit cannot tell.
    pub(in crate::run) fn multiple(&self, b: &Basis<'_>, job: &CoatedJob) -> Option<f64> {
        self.multiple_of(job, self.covered(job)?, &shares(b, job)?)
    }

    /// The same of a job that covers so much, with these shares of finishes.
    fn multiple_of(&self, job: &CoatedJob, covered: f64, shares: &[f64]) -> Option<f64> {
        let size = match self.fit.covered_share_exponent.value() {
            Some(gamma) => covered.powf(gamma),
            None if job.full == Some(true) => 1.0,
            None => return None,
        };
        let finish = self.log_factors.iter().zip(shares);
        let finish = finish.filter(|(_, share)| **share > 0.0);
        let log: f64 = finish.map(|(f, share)| share * f).sum();
        Some(size * log.exp())
    }

    /// Typical and average minutes of one such job, and the range of them,
    /// whoever does it: jobs and constants together.
    pub(in crate::run) fn one_job(
        &self,
        b: &Basis<'_>,
        job: &CoatedJob,
        level: f64,
    ) -> Option<JobMinutes> {
        let shares = shares(b, job)?;
        let new = self.new_job(b, job, &shares)?;
        self.fit.one_job(Source::Blended, &new, level).ok()
    }

    fn new_job<'s>(
        &self,
        b: &Basis<'_>,
        job: &CoatedJob,
        finish_shares: &'s [f64],
    ) -> Option<NewJob<'s>> {
        Some(NewJob {
            class: b.columns.classes.column(job.class)?,
            covered: self.covered(job)?,
            finish_shares,
        })
    }

    /// The design's shape.
    pub(in crate::run) fn shape(&self, b: &Basis<'_>) -> time_fit::Shape {
        shape(b, self.smoothest)
    }

    /// Minutes that a job is expected to take on average, whoever does it.
    pub(in crate::run) fn expected(&self, b: &Basis<'_>, job: &CoatedJob) -> Option<f64> {
        let constant = || b.record?.minutes.get(b.class(job)).copied();
        let fitted = self.class(b, job.class);
        let full = fitted.and_then(|c| c.blended.average.value());
        let full = full.or_else(constant)?;
        Some(full * self.multiple(b, job)?)
    }

    /// The month's timed jobs beside what this fit says they take in the hands
    /// of the same people.
    pub(in crate::run) fn pairs(&self, b: &Basis<'_>) -> Vec<Pair> {
        let effects: BTreeMap<u64, f64> = (self.fit.effects.iter())
            .map(|e| (e.label, e.value))
            .collect();
        let pair = |job: &CoatedJob| {
            let took = job.minutes.filter(|m| *m > 0.0)?;
            let class = self.class(b, job.class)?;
            let typical = class.data_alone.typical.value()? * self.multiple(b, job)?;
            let person = job.person.and_then(|p| effects.get(&u64::from(p)));
            Some(Pair {
                took,
                usual: typical * person.map_or(1.0, |e| e.exp()),
            })
        };
        let month = b.measures.coated.iter();
        month
            .filter(|j| j.month == b.scope.month)
            .filter_map(pair)
            .collect()
    }
}

/// The month's coated jobs by class that is told apart.
fn month_jobs(b: &Basis<'_>) -> Vec<u64> {
    let classes = &b.columns.classes;
    let mut jobs = vec![0; classes.count()];
    let month = b.measures.coated.iter();
    let of_month = month.filter(|j| j.month == b.scope.month);
    for column in of_month.filter_map(|j| classes.column(j.class)) {
        jobs[column] += 1;
    }
    jobs
}
