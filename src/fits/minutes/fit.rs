//! The fitted minutes and what can be read from them.

use super::blend::Posterior;
use super::design::{NOT_ONE_PERSON, NewJob, Shape};
use super::model::Model;
use super::{Minutes, PLAN_SHARE};
use crate::estimate::{Estimate, Figure, NotEnough};
use crate::fits::dist::normal_quantile;
use crate::fits::error::FitError;
use crate::fits::evidence::{Evidence, Source};
use crate::fits::interval::{check_level, sum_of_independent, t_interval};
use crate::fits::mixed::{Combination, GroupEffect, GroupSpread, MixedFit, Spreads};
use crate::fits::record::{LeftOut, Record};

/// Minutes of a full vehicle of one class in the smoothest finish.
#[derive(Debug, Clone, PartialEq)]
pub struct Levels {
    /// The median job.
    pub typical: Figure,
    /// The mean over people and jobs, for costing.
    pub average: Figure,
    /// Four of five jobs are done within these.
    pub plan_for: Figure,
}

impl Levels {
    fn not_enough(missing: &NotEnough) -> Self {
        let figure = Figure::NotEnough(missing.clone());
        Self {
            typical: figure.clone(),
            average: figure.clone(),
            plan_for: figure,
        }
    }

    /// From alpha with its interval and the variance of a job about it.
    fn from_log(alpha: Estimate, variance: Estimate) -> Self {
        let z = normal_quantile(PLAN_SHARE);
        let average = sum_of_independent(alpha, variance.map(|v| v / 2.0));
        let plan_for = sum_of_independent(alpha, variance.map(|v| z * v.sqrt()));
        Self {
            typical: alpha.map(f64::exp).into(),
            average: average.map(f64::exp).into(),
            plan_for: plan_for.map(f64::exp).into(),
        }
    }
}

/// One class.
#[derive(Debug, Clone, PartialEq)]
pub struct ClassMinutes {
    /// Timed jobs of the class that were used.
    pub jobs: u64,
    /// From the window's jobs alone.
    pub data_alone: Levels,
    /// With the constants in force; equal to `data_alone` without a prior.
    pub blended: Levels,
    /// What `blended` rests on.
    pub evidence: Evidence,
}

/// The fitted minutes.
#[derive(Debug, Clone)]
pub struct MinutesFit {
    /// By class.
    pub classes: Vec<ClassMinutes>,
    /// gamma: 1 would mean minutes in proportion to area, less that part of
    /// the work does not shrink with it.
    pub covered_share_exponent: Figure,
    /// Factor on the minutes by finish, against the smoothest, whose own is 1
    /// by definition.
    pub finish_factors: Vec<Figure>,
    /// tau: spread between people on the log scale (0.1: about 10 %).
    pub person_sd: Figure,
    /// sigma: spread between jobs of one person on the log scale.
    pub residual_sd: Figure,
    /// What came of the spread between people; `None` without a fit.
    pub spread: Option<GroupSpread>,
    /// Effects of people on the log scale, by label.
    pub effects: Vec<GroupEffect>,
    /// Jobs shared by several people.
    pub shared_jobs: u64,
    /// Level of the intervals.
    pub level: f64,
    /// Jobs used and left out, by their place in the input.
    pub record: Record,
    /// tau^2 + sigma^2.
    pub(super) total: Option<Estimate>,
    pub(super) shape: Shape,
    pub(super) model: Model,
    pub(super) posterior: Option<Posterior>,
}

/// Minutes of one new job.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JobMinutes {
    /// The median of such jobs, with its interval.
    pub typical: Estimate,
    /// Mean of such jobs, for costing, with its interval.
    pub average: Estimate,
    /// The range in which such a job lies at the level asked for, whoever
    /// does it; its `value` is the median.
    pub range: Estimate,
}

impl MinutesFit {
    pub(super) fn new(
        task: &Minutes,
        model: Model,
        left_out: Vec<LeftOut>,
    ) -> Result<Self, FitError> {
        let shape = task.jobs.shape();
        let level = task.level;
        let posterior = match (task.prior, &model.fit) {
            (Some(prior), Some(fit)) => Posterior::new(prior, fit),
            _ => None,
        };
        let spreads = |f: &MixedFit| match task.points_only {
            true => Ok(f.spread_points(level)),
            false => f.spreads(level),
        };
        let spreads = model.fit.as_ref().map(spreads).transpose()?;
        let total = spreads.map(|s| s.total_variance);
        let one = |f: usize| {
            Figure::Known(Estimate {
                value: 1.0,
                low: 1.0,
                high: 1.0,
                level,
                n: task.jobs.jobs_of_finish(f),
            })
        };
        let factor = |f| match shape.finish_column(f) {
            None => one(f),
            Some(j) => model.column(j, level).map(f64::exp),
        };
        let fit = model.fit.as_ref();
        let record = fit.map_or_else(|| Record::direct(0), |f| f.record.clone());
        Ok(Self {
            classes: (0..shape.classes)
                .map(|c| class_minutes(c, &model, posterior.as_ref(), total, level))
                .collect(),
            covered_share_exponent: model.column(shape.exponent_column(), level),
            finish_factors: (0..shape.finishes).map(factor).collect(),
            person_sd: person_sd(&model, spreads),
            residual_sd: spreads.map_or_else(|| model.too_few().into(), |s| s.residual_sd.into()),
            spread: fit.map(|f| f.spread),
            effects: fit.map_or_else(Vec::new, people),
            shared_jobs: task.jobs.shared(&left_out),
            level,
            record: Record {
                rows_used: model.rows as usize,
                left_out,
                ..record
            },
            total,
            shape,
            posterior,
            model,
        })
    }

    /// The fitted mixed model on the log scale, where there is one: columns
    /// that could be fitted only, in order.
    pub fn mixed(&self) -> Option<&MixedFit> {
        self.model.fit.as_ref()
    }

    /// Typical minutes, average and range of a new job by a person of whom
    /// nothing is known; `level` is that of the range (0.8 is usual).
    ///
    /// # Errors
    /// [`FitError::NotEnough`] where a coefficient that the job needs is
    /// missing; [`FitError::Shape`], [`FitError::OutOfRange`],
    /// [`FitError::Parameter`].
    pub fn one_job(
        &self,
        source: Source,
        job: &NewJob,
        level: f64,
    ) -> Result<JobMinutes, FitError> {
        let (mean, range) = self.mean_and_range(source, job, level)?;
        let total = self.total.ok_or_else(|| self.model.too_few())?;
        let n = self.record.rows_used as u64;
        Ok(job_minutes(mean, range, total, self.level, n))
    }

    /// The mean of such a job and its range, on the log scale.
    pub(super) fn mean_and_range(
        &self,
        source: Source,
        job: &NewJob,
        level: f64,
    ) -> Result<(Combination, Estimate), FitError> {
        check_level(level)?;
        let l = self.shape.row(job)?;
        let fit = self.needs(source, job, &l)?;
        let kept = self.model.fitted_columns(&l);
        let n = self.record.rows_used as u64;
        let total = self.total.ok_or_else(|| self.model.too_few())?;
        match (&self.posterior, source) {
            (Some(p), Source::Blended) => {
                let mean = p.combination(&self.model, fit, &l);
                let error = mean.standard_error.hypot(total.value.sqrt());
                let df = fit.total_variance_df();
                Ok((mean, t_interval(mean.value, error, df, level, n)))
            }
            _ => Ok((fit.combination(&kept), fit.new_row(&kept, level)?)),
        }
    }

    /// Whether a constant makes up for the column of class `c`.
    pub(super) fn has_constant(&self, source: Source, c: usize) -> bool {
        let known = |p: &Posterior| p.has_class(c) && p.tells_apart(&self.model, c);
        source == Source::Blended && self.posterior.as_ref().is_some_and(known)
    }

    /// Refuses a job that needs a missing coefficient.
    fn needs(&self, source: Source, job: &NewJob, l: &[f64]) -> Result<&MixedFit, FitError> {
        let constant = self.has_constant(source, job.class);
        let needed =
            (l.iter().enumerate()).filter(|(j, v)| **v != 0.0 && !(constant && *j == job.class));
        for (j, _) in needed {
            if let Some(missing) = self.model.missing(j) {
                return Err(missing.into());
            }
        }
        let none = || self.model.too_few().into();
        self.model.fit.as_ref().ok_or_else(none)
    }
}

fn job_minutes(
    mean: Combination,
    range: Estimate,
    variance: Estimate,
    level: f64,
    n: u64,
) -> JobMinutes {
    let log = t_interval(mean.value, mean.standard_error, mean.df, level, n);
    JobMinutes {
        typical: log.map(f64::exp),
        average: sum_of_independent(log, variance.map(|v| v / 2.0)).map(f64::exp),
        range: range.map(f64::exp),
    }
}

fn class_minutes(
    c: usize,
    model: &Model,
    posterior: Option<&Posterior>,
    total: Option<Estimate>,
    level: f64,
) -> ClassMinutes {
    let jobs = model.carrying[c];
    let data_alone = match (model.column(c, level), total) {
        (Figure::Known(alpha), Some(total)) => Levels::from_log(alpha, total),
        (Figure::NotEnough(missing), _) => Levels::not_enough(&missing),
        (_, None) => Levels::not_enough(&model.too_few()),
    };
    let posterior = posterior.filter(|p| p.has_class(c));
    let alpha = posterior.and_then(|p| p.class(model, c, level));
    let blended = alpha
        .zip(total)
        .map(|(alpha, total)| Levels::from_log(alpha, total));
    ClassMinutes {
        jobs,
        blended: blended.unwrap_or_else(|| data_alone.clone()),
        data_alone,
        evidence: Evidence::of(jobs > 0, posterior.is_some()),
    }
}

/// tau, or why it cannot be given.
fn person_sd(model: &Model, spreads: Option<Spreads>) -> Figure {
    let Some((spreads, fit)) = spreads.zip(model.fit.as_ref()) else {
        return model.too_few().into();
    };
    match (spreads.group_sd, fit.spread) {
        (Some(sd), _) => sd.into(),
        (None, GroupSpread::OneGroup) => NotEnough::new(1, 2, "people").into(),
        (None, _) => NotEnough::new(0, 2, "people who did the same classes").into(),
    }
}

/// Effects of people: the group of jobs that are not one person's is none.
fn people(fit: &MixedFit) -> Vec<GroupEffect> {
    let named = |e: &&GroupEffect| e.label != NOT_ONE_PERSON;
    fit.effects.iter().filter(named).copied().collect()
}
