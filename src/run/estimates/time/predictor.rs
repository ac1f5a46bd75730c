//! Minutes of many jobs as one fit predicts them.

use super::super::{Basis, shares};
use super::Time;
use crate::fits::error::FitError;
use crate::fits::evidence::Source;
use crate::fits::minutes::{self as time_fit, NewJob, Predicted};
use crate::measures::CoatedJob;

/// A fit, jobs and constants together, that predicts job after job.
#[derive(Debug)]
pub(in crate::run) struct Predictor<'t> {
    time: &'t Time,
    fit: time_fit::Predictor<'t>,
}

/// What a fit says of a job.
#[derive(Debug, Clone, Copy)]
pub(in crate::run) struct JobPredicted {
    /// Average minutes of one such job, and the range of them.
    pub(in crate::run) minutes: Predicted,
    /// As [`Time::multiple`].
    pub(in crate::run) multiple: f64,
}

impl Time {
    /// To predict many jobs with, whoever does them; `level`: of their ranges.
    pub(in crate::run) fn predictor(&self, level: f64) -> Result<Predictor<'_>, FitError> {
        Ok(Predictor {
            time: self,
            fit: self.fit.predictor(Source::Blended, level)?,
        })
    }
}

impl Predictor<'_> {
    /// `None` where the fit cannot tell.
    pub(in crate::run) fn of(&self, b: &Basis<'_>, job: &CoatedJob) -> Option<JobPredicted> {
        let shares = shares(b, job)?;
        let covered = self.time.covered(job)?;
        let new = NewJob {
            class: b.columns.classes.column(job.class)?,
            covered,
            finish_shares: &shares,
        };
        Some(JobPredicted {
            minutes: self.fit.predict(&new).ok()?,
            multiple: self.time.multiple_of(job, covered, &shares)?,
        })
    }
}
