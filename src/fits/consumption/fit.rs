//! The fitted constants and what can be read from them.

use super::blend::Posterior;
use super::gls::Fitted;
use super::jobs::check_not_negative;
use crate::estimate::{Estimate, Figure, NotEnough};
use crate::fits::error::FitError;
use crate::fits::evidence::{Evidence, Source};
use crate::fits::interval::{check_level, t_interval};
use crate::fits::linear::check_length;
use crate::fits::record::{LeftOut, Record};

/// One coefficient: s in mL, or c_f in mL per m2.
#[derive(Debug, Clone, PartialEq)]
pub struct Coefficient {
    /// From the window's jobs and bottles alone.
    pub data_alone: Figure,
    /// With the constants in force; equal to `data_alone` without a prior.
    pub blended: Figure,
    /// Where `blended` comes from.
    pub evidence: Evidence,
    /// Jobs that carry it, measured or on bottles.
    pub jobs: u64,
}

/// The fitted constants.
#[derive(Debug, Clone)]
pub struct ConsumptionFit {
    /// s.
    pub setup: Coefficient,
    /// c_f, by finish.
    pub finishes: Vec<Coefficient>,
    /// Bottle rows used.
    pub bottles_used: usize,
    /// Bottles that carry nothing, by their place in the input.
    pub bottles_left_out: Vec<LeftOut>,
    /// Level of the intervals.
    pub level: f64,
    /// Measured jobs used and left out, by their place in the input.
    pub record: Record,
    pub(super) fitted: Option<Fitted>,
    pub(super) posterior: Option<Posterior>,
}

/// What one job takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// mL on average for such jobs, none below 0.
    pub mean: f64,
    /// Standard error of that average, mL.
    pub standard_error: f64,
    /// Degrees of freedom of that standard error.
    pub df: f64,
}

impl ConsumptionFit {
    /// sigma^2 in mL^2 per m2 from the data alone.
    pub fn residual_variance(&self) -> Option<f64> {
        self.fitted.as_ref().map(|f| f.sigma2)
    }

    /// Rows less coefficients, data alone.
    pub fn degrees_of_freedom(&self) -> Option<u64> {
        self.fitted.as_ref().map(|f| f.df)
    }

    /// The unconstrained solution from the data alone, s first; columns that
    /// nothing carries are 0.
    pub fn unconstrained(&self) -> Option<&[f64]> {
        self.fitted.as_ref().map(|f| f.beta.as_slice())
    }

    /// Covariance of s and c_f, columns in that order; rows and columns of
    /// what cannot be told apart are 0. `None` where there is no such fit.
    pub fn covariance(&self, source: Source) -> Option<nalgebra::DMatrix<f64>> {
        match source {
            Source::DataAlone => self.fitted.as_ref().map(|f| f.covariance.clone()),
            Source::Blended => match &self.posterior {
                Some(p) => Some(p.covariance()),
                None => self.covariance(Source::DataAlone),
            },
        }
    }

    /// What a job with `areas` m2 by finish takes on average.
    ///
    /// # Errors
    /// [`FitError::NotEnough`] where a coefficient that it needs is missing,
    /// [`FitError::Shape`], [`FitError::NotFinite`], [`FitError::OutOfRange`].
    pub fn expected(&self, source: Source, areas: &[f64]) -> Result<Expected, FitError> {
        let l = self.job_columns(areas)?;
        self.combination(source, &l)
    }

    /// The mean of [`expected`](Self::expected) alone [mL], for many jobs.
    ///
    /// # Errors
    /// As [`expected`](Self::expected).
    pub fn mean(&self, source: Source, areas: &[f64]) -> Result<f64, FitError> {
        let l = self.job_columns(areas)?;
        self.needs(source, &l)?;
        let none = || FitError::from(NotEnough::new(0, 1, "jobs with known use"));
        match (&self.posterior, source) {
            (Some(p), Source::Blended) => Ok(p.mean_of(&l)),
            _ => Ok(self.fitted.as_ref().ok_or_else(none)?.mean(&l)),
        }
    }

    /// sum_j l_j beta_j with its standard error, l_0 for s and l_(1+f) for
    /// c_f: for the expected cost of any mixture of jobs.
    ///
    /// # Errors
    /// As [`expected`](Self::expected).
    pub fn combination(&self, source: Source, l: &[f64]) -> Result<Expected, FitError> {
        check_length("combination", self.finishes.len() + 1, l)?;
        self.needs(source, l)?;
        let none = || FitError::from(NotEnough::new(0, 1, "jobs with known use"));
        match (&self.posterior, source) {
            (Some(p), Source::Blended) => Ok(p.combination(l)),
            _ => Ok(self.fitted.as_ref().ok_or_else(none)?.combination(l)),
        }
    }

    /// Range of mL for one new job with `areas` m2 by finish, its own spread
    /// included; `level` of such jobs lie in it. Not below 0.
    ///
    /// # Errors
    /// As [`expected`](Self::expected), and for the level.
    pub fn one_job(&self, source: Source, areas: &[f64], level: f64) -> Result<Estimate, FitError> {
        check_level(level)?;
        let l = self.job_columns(areas)?;
        let mean = self.combination(source, &l)?;
        let area: f64 = areas.iter().sum();
        let none = || FitError::from(NotEnough::new(0, 1, "jobs with known use"));
        let spread = match (&self.posterior, source) {
            (Some(p), Source::Blended) => p.new_job(mean, area),
            _ => self.fitted.as_ref().ok_or_else(none)?.new_job(&l, area),
        };
        let n = self.record.rows_used as u64;
        let range = t_interval(mean.mean, spread.standard_error, spread.df, level, n);
        Ok(range.map(|ml| ml.max(0.0)))
    }

    /// s once, then the areas.
    fn job_columns(&self, areas: &[f64]) -> Result<Vec<f64>, FitError> {
        check_length("areas", self.finishes.len(), areas)?;
        check_not_negative("areas", areas, areas.len())?;
        Ok(std::iter::once(1.0).chain(areas.iter().copied()).collect())
    }

    /// Refuses a combination that needs a missing coefficient.
    fn needs(&self, source: Source, l: &[f64]) -> Result<(), FitError> {
        let all = std::iter::once(&self.setup).chain(&self.finishes);
        for (coefficient, _) in all.zip(l).filter(|(_, l)| **l != 0.0) {
            let figure = match source {
                Source::DataAlone => &coefficient.data_alone,
                Source::Blended => &coefficient.blended,
            };
            if let Figure::NotEnough(missing) = figure {
                return Err(missing.clone().into());
            }
        }
        Ok(())
    }
}
