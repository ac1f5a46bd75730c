//! How many hands-on minutes does a job take, by vehicle class?
//!
//! ```text
//! ln m_i = alpha_class + gamma ln(covered_i) + sum_f delta_f share_if + u_person + e_i
//! u ~ N(0, tau^2)   e ~ N(0, sigma^2)
//! ```
//!
//! Symbols: m_i hands-on minutes of job i; covered_i its area over the class's
//! full area (1 for a full vehicle); share_if the share of finish f in its
//! area, the smoothest finish being the measure (delta = 0); u the person's
//! effect. Columns: one per class, then gamma, then every finish but the
//! smoothest. Fitted by REML ([`mixed`](super::mixed)); intervals by Kenward
//! and Roger. Per class, for a full vehicle in the smoothest finish and a
//! person of whom nothing is known:
//!
//! ```text
//! typical   exp(alpha)                            the median job
//! average   exp(alpha + (tau^2 + sigma^2)/2)      the lognormal mean, for costing
//! plan for  exp(alpha + z_0.8 sqrt(tau^2 + sigma^2))   4 of 5 jobs are done by then
//! ```
//!
//! The last two join the interval of alpha with that of the variance (MOVER:
//! Zou, Taleban and Huo, Computational Statistics and Data Analysis
//! 2009;53:3755-3764, doi:10.1016/j.csda.2009.03.016, for the mean; Donner and
//! Zou, Statistical Methods in Medical Research 2012;21:347-359,
//! doi:10.1177/0962280210383082, for quantiles).
//!
//! A job done by several people tells of the class and not of a person: it
//! enters as a group of its own that no other job shares, with the whole
//! variance tau^2 + sigma^2, a little more than a blend of two people has.
//!
//! It misleads where quick people are given the hard vehicles, where minutes
//! are written down from memory, and, with one person, as to anyone else.

mod blend;
mod design;
mod outliers;

pub use blend::Prior;
pub use design::{Jobs, NewJob, Shape};

use crate::estimate::{Estimate, Figure, NotEnough};
use crate::fits::collinear::Rank;
use crate::fits::dist::normal_quantile;
use crate::fits::error::FitError;
use crate::fits::evidence::{Evidence, Source};
use crate::fits::interval::{check_level, sum_of_independent, t_interval};
use crate::fits::mixed::{
    Combination, GroupEffect, GroupSpread, GroupStatistics, MixedFit,
    RandomIntercept,
};
use crate::fits::record::{LeftOut, Record};
use crate::fits::robust::Outliers;
use blend::Posterior;

/// Degrees of freedom that must be left for any interval.
const LEAST_DF: u64 = 2;

/// Jobs that must carry a coefficient.
const LEAST_JOBS: u64 = 2;

/// Share of jobs that are done within the plan-for minutes.
pub const PLAN_SHARE: f64 = 0.8;

/// What to fit, not yet fitted.
#[derive(Debug, Clone)]
pub struct Minutes<'a> {
    jobs: Jobs<'a>,
    prior: Option<&'a Prior>,
    outliers: Outliers,
    level: f64,
}

impl<'a> Minutes<'a> {
    /// From jobs, at level 0.95, without prior, jobs far from the rest of
    /// their class left out.
    pub fn new(jobs: Jobs<'a>) -> Self {
        Self {
            jobs,
            prior: None,
            outliers: Outliers::default(),
            level: 0.95,
        }
    }

    /// With the constants in force as evidence.
    ///
    /// # Errors
    /// [`FitError::Shape`] where they are not one per class, or
    /// [`FitError::Parameter`].
    pub fn with_prior(self, prior: &'a Prior) -> Result<Self, FitError> {
        prior.check(self.jobs.shape().classes)?;
        Ok(Self {
            prior: Some(prior),
            ..self
        })
    }

    /// What to do with jobs far from the rest.
    #[must_use]
    pub fn with_outliers(self, outliers: Outliers) -> Self {
        Self { outliers, ..self }
    }

    /// At another level.
    ///
    /// # Errors
    /// [`FitError::Parameter`].
    pub fn at_level(self, level: f64) -> Result<Self, FitError> {
        Ok(Self {
            level: check_level(level)?,
            ..self
        })
    }

    /// Fits. Too little data is no error: the figures say what is missing.
    ///
    /// # Errors
    /// [`FitError::NoSpread`] where nothing is left for sigma,
    /// [`FitError::DidNotConverge`] where an interval cannot be found.
    pub fn fit(&self) -> Result<MinutesFit, FitError> {
        let mut left_out = self.jobs.empty();
        let mut model = Model::new(&self.jobs.gather(&left_out))?;
        if let (Some(first), Outliers::Drop) = (&model.fit, self.outliers) {
            let called = outliers::far(&self.jobs, &left_out, &model.rank, first);
            if !called.is_empty() {
                let tried = outliers::merged(&left_out, &called);
                let without = Model::new(&self.jobs.gather(&tried))?;
                let far = outliers::still_far(&self.jobs, &called, &without);
                let all = far.len() == called.len();
                left_out = outliers::merged(&left_out, &far);
                model = if all { without } else { Model::new(&self.jobs.gather(&left_out))? };
            }
        }
        MinutesFit::new(self, model, left_out)
    }
}

/// The rows' statistics, the columns that stand, and the fit where there are
/// rows enough.
#[derive(Debug, Clone)]
struct Model {
    rows: u64,
    /// Jobs carrying each column.
    carrying: Vec<u64>,
    rank: Rank,
    fit: Option<MixedFit>,
}

impl Model {
    fn new(gathered: &design::Gathered) -> Result<Self, FitError> {
        let statistics: &GroupStatistics = &gathered.statistics;
        let rank = Rank::of_cross_products(&statistics.cross_products());
        let need = rank.kept.len() as u64 + LEAST_DF;
        let enough = !rank.kept.is_empty() && statistics.rows() >= need;
        let fit = enough
            .then(|| RandomIntercept::default().fit(&statistics.select(&rank.kept)))
            .transpose()?;
        Ok(Self {
            rows: statistics.rows(),
            carrying: gathered.carrying.clone(),
            rank,
            fit,
        })
    }

    /// Place of a column among those that are fitted.
    fn place(&self, column: usize) -> Option<usize> {
        self.rank.kept.binary_search(&column).ok()
    }

    /// Why column `j` has no figure, if it has none.
    fn missing(&self, j: usize) -> Option<NotEnough> {
        let jobs = self.carrying[j];
        if jobs < LEAST_JOBS {
            return Some(NotEnough::new(jobs, LEAST_JOBS, "timed jobs that carry it"));
        }
        if self.fit.is_none() {
            let need = self.rank.kept.len() as u64 + LEAST_DF;
            return Some(NotEnough::new(self.rows, need, "timed jobs"));
        }
        let entangled = self.rank.entangled().contains(&j);
        entangled.then(|| {
            NotEnough::new(0, LEAST_JOBS, "timed jobs that tell it apart from the others")
        })
    }

    /// Weights over the fitted columns from weights over all of them.
    fn fitted_columns(&self, l: &[f64]) -> Vec<f64> {
        self.rank.kept.iter().map(|j| l[*j]).collect()
    }

    /// Column `j` with its interval on the log scale.
    fn column(&self, j: usize, level: f64) -> Figure {
        let fit = match (self.missing(j), &self.fit) {
            (Some(missing), _) => return missing.into(),
            (None, Some(fit)) => fit,
            (None, None) => return NotEnough::new(self.rows, LEAST_DF, "timed jobs").into(),
        };
        let mut l = vec![0.0; self.carrying.len()];
        l[j] = 1.0;
        let c = fit.combination(&self.fitted_columns(&l));
        t_interval(c.value, c.standard_error, c.df, level, self.carrying[j]).into()
    }
}

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
    shape: Shape,
    model: Model,
    posterior: Option<Posterior>,
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
    fn new(task: &Minutes, model: Model, left_out: Vec<LeftOut>) -> Result<Self, FitError> {
        let shape = task.jobs.shape();
        let level = task.level;
        let posterior = match (task.prior, &model.fit) {
            (Some(prior), Some(fit)) => Posterior::new(prior, &model, fit),
            _ => None,
        };
        let sds = StandardDeviations::new(&model, level)?;
        let one = |f: usize| Figure::Known(Estimate {
            value: 1.0,
            low: 1.0,
            high: 1.0,
            level,
            n: task.jobs.jobs_of_finish(f),
        });
        let factor = |f| match shape.finish_column(f) {
            None => one(f),
            Some(j) => model.column(j, level).map(f64::exp),
        };
        let fit = model.fit.as_ref();
        let record = fit.map_or_else(|| Record::direct(0), |f| f.record.clone());
        Ok(Self {
            classes: (0..shape.classes)
                .map(|c| class_minutes(c, &model, posterior.as_ref(), level))
                .collect(),
            covered_share_exponent: model.column(shape.exponent_column(), level),
            finish_factors: (0..shape.finishes).map(factor).collect(),
            person_sd: sds.person,
            residual_sd: sds.residual,
            spread: fit.map(|f| f.spread),
            effects: fit.map_or_else(Vec::new, |f| f.effects.clone()),
            shared_jobs: task.jobs.shared(&left_out),
            level,
            record: Record {
                rows_used: model.rows as usize,
                left_out,
                ..record
            },
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
        check_level(level)?;
        let l = self.shape.row(job)?;
        let fit = self.needs(source, job, &l)?;
        let kept = self.model.fitted_columns(&l);
        let n = self.record.rows_used as u64;
        let total = fit.total_variance(self.level)?;
        let (mean, range) = match (&self.posterior, source) {
            (Some(p), Source::Blended) => {
                let mean = p.combination(&self.model, fit, &l);
                let error = mean.standard_error.hypot(total.value.sqrt());
                let df = fit.total_variance_df();
                (mean, t_interval(mean.value, error, df, level, n))
            }
            _ => (fit.combination(&kept), fit.new_row(&kept, level)?),
        };
        Ok(job_minutes(mean, range, total, self.level, n))
    }

    /// Refuses a job that needs a missing coefficient.
    fn needs(&self, source: Source, job: &NewJob, l: &[f64]) -> Result<&MixedFit, FitError> {
        let constant = source == Source::Blended
            && self.posterior.as_ref().is_some_and(|p| p.has_class(job.class));
        let needed = (l.iter().enumerate()).filter(|(j, v)| **v != 0.0 && !(constant && *j == job.class));
        for (j, _) in needed {
            if let Some(missing) = self.model.missing(j) {
                return Err(missing.into());
            }
        }
        let none = || NotEnough::new(self.model.rows, LEAST_DF, "timed jobs").into();
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
    level: f64,
) -> ClassMinutes {
    let jobs = model.carrying[c];
    let total = model.fit.as_ref().and_then(|f| f.total_variance(level).ok());
    let data_alone = match (model.column(c, level), total) {
        (Figure::Known(alpha), Some(total)) => Levels::from_log(alpha, total),
        (Figure::NotEnough(missing), _) => Levels::not_enough(&missing),
        (_, None) => Levels::not_enough(&NotEnough::new(model.rows, LEAST_DF, "timed jobs")),
    };
    let posterior = posterior.filter(|p| p.has_class(c));
    let alpha = posterior.and_then(|p| p.class(model, c, level));
    let blended = alpha.zip(total).map(|(alpha, total)| Levels::from_log(alpha, total));
    ClassMinutes {
        jobs,
        blended: blended.unwrap_or_else(|| data_alone.clone()),
        data_alone,
        evidence: Evidence::of(jobs > 0, posterior.is_some()),
    }
}

/// tau and sigma with their intervals.
struct StandardDeviations {
    person: Figure,
    residual: Figure,
}

impl StandardDeviations {
    fn new(model: &Model, level: f64) -> Result<Self, FitError> {
        let Some(fit) = &model.fit else {
            let need = model.rank.kept.len() as u64 + LEAST_DF;
            let missing = NotEnough::new(model.rows, need, "timed jobs");
            return Ok(Self {
                person: missing.clone().into(),
                residual: missing.into(),
            });
        };
        let person = match (fit.group_sd(level)?, fit.spread) {
            (Some(sd), _) => sd.into(),
            (None, GroupSpread::OneGroup) => NotEnough::new(1, 2, "people").into(),
            (None, _) => NotEnough::new(0, 2, "people who did the same classes").into(),
        };
        Ok(Self {
            person,
            residual: fit.residual_sd(level)?.into(),
        })
    }
}
