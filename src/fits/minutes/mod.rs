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
//! A job done by several people, or by nobody known, tells how classes, sizes
//! and finishes compare, and nothing of a person. Its own effect is a blend of
//! the very effects that the others carry; were it taken for a further,
//! independent person, the level would look surer than it is (at 6 people and
//! one shared job in thirty the 95 % intervals of the typical minutes held the
//! truth 79 % of the time). So where there are both kinds, such jobs make one
//! group whose level a column of its own sets apart. Where no job is one
//! person's, there is no such column, and the level rests on them.
//!
//! It misleads where quick people are given the hard vehicles, where minutes
//! are written down from memory, and, with one person, as to anyone else.

mod blend;
mod blocks;
mod design;
mod fit;
mod gathered;
mod model;
mod outliers;
mod predictor;

pub use blend::Prior;
pub use blocks::Blocks;
pub use design::{Jobs, NewJob, Shape};
pub use fit::{ClassMinutes, JobMinutes, Levels, MinutesFit};
pub use predictor::{Predicted, Predictor};

use crate::fits::error::FitError;
use crate::fits::interval::check_level;
use crate::fits::robust::Outliers;
use gathered::Gathered;
use model::Model;

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
    /// All jobs gathered beforehand, empty ones left out.
    gathered: Option<Gathered>,
    prior: Option<&'a Prior>,
    outliers: Outliers,
    level: f64,
    points_only: bool,
}

impl<'a> Minutes<'a> {
    /// From jobs, at level 0.95, without prior, jobs far from the rest of
    /// their class left out.
    pub fn new(jobs: Jobs<'a>) -> Self {
        Self {
            jobs,
            gathered: None,
            prior: None,
            outliers: Outliers::default(),
            level: 0.95,
            points_only: false,
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

    /// Without the intervals of tau and sigma (low = high = value), which take
    /// longer than the fit: where it only serves to predict.
    #[must_use]
    pub fn for_prediction(self) -> Self {
        Self {
            points_only: true,
            ..self
        }
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
        let taken = (!self.jobs.has_logs()).then(|| self.jobs.take_logs());
        let jobs = match &taken {
            Some(logs) => self.jobs.with_logs(logs),
            None => self.jobs,
        };
        let mut left_out = jobs.empty();
        let own;
        let gathered = match &self.gathered {
            Some(sums) => sums,
            None => {
                own = jobs.gather(&left_out);
                &own
            }
        };
        let mut model = Model::new(gathered)?;
        if let (Some(first), Outliers::Drop) = (&model.fit, self.outliers) {
            let called = outliers::far(&jobs, &left_out, &model.rank, first);
            if !called.is_empty() {
                let without = Model::new(&gathered.without(&jobs, &called))?;
                let far = outliers::still_far(&jobs, &called, &without);
                let all = far.len() == called.len();
                model = if all {
                    without
                } else {
                    Model::new(&gathered.without(&jobs, &far))?
                };
                left_out = outliers::merged(&left_out, &far);
            }
        }
        MinutesFit::new(self, model, left_out)
    }
}
