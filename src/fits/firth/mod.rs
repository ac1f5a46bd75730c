//! Logistic regression, by plain likelihood and by Firth's.
//!
//! Question: how does the chance that an offer is accepted depend on price,
//! class, finish, sample and seller, where offers are few?
//!
//! Row i has the design row x_i (p), n_i offers, y_i acceptances,
//! logit π_i = x_i'β. Plain: maximise l(β) = Σ y_i ln π_i + (n_i − y_i)
//! ln(1 − π_i). Firth (Biometrika 1993;80:27-38, doi:10.1093/biomet/80.1.27;
//! Heinze and Schemper, Statistics in Medicine 2002;21:2409-2419,
//! doi:10.1002/sim.1047): maximise l*(β) = l(β) + ½ log det I(β),
//! I = Σ w_i x_i x_i', w_i = n_i π_i (1 − π_i). Its gradient is
//! Σ (y_i − n_i π_i + h_i (½ − π_i)) x_i with h_i = w_i x_i' I⁻¹ x_i.
//!
//! Standard errors: root of the diagonal of I⁻¹ at the estimate (the usual
//! convention; some programs report a smaller matrix). Intervals: Wald, or
//! by the profile of l* ([`Logistic::profile`]), which is the better one at
//! small n.
//!
//! When it misleads: the plain estimate does not exist where a combination
//! of columns splits yes from no ([`Plain::Separated`]). Firth's predicted
//! chances are drawn a little towards ½. Acceptance against price is
//! observed, not tried at random: who was quoted more may differ otherwise.

use crate::estimate::Estimate;
use crate::fits::dist::normal_margin;
use crate::fits::error::FitError;
use crate::fits::interval::check_level;
use crate::fits::newton::{Climb, End, Limits, climb};
use crate::fits::record::{Ended, LeftOut, Record, Why};
use nalgebra::{DMatrix, DVector};

mod likelihood;
pub mod price;
mod profile;
mod separation;

use likelihood::Scaled;

/// Offers, grouped or one by one.
#[derive(Debug, Clone, Copy)]
pub struct Offers<'a> {
    /// The design, row after row, `columns` numbers each. An intercept is a
    /// column of ones.
    pub design: &'a [f64],
    /// p.
    pub columns: usize,
    /// Acceptances of each row (0 or 1 for a single offer; times its weight
    /// where rows are weighted).
    pub yes: &'a [f64],
    /// Offers of each row (1 for a single offer; its weight where weighted).
    pub trials: &'a [f64],
}

/// How far the search goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Params {
    /// Most iterations (default 200; plain likelihood stops at 60, where a
    /// separated fit has long shown itself).
    pub iterations: u32,
    /// Largest change of a coefficient (times the root mean square of its
    /// column) that counts as none (default 1e-10).
    pub tolerance: f64,
}

impl Default for Params {
    fn default() -> Self {
        Self {
            iterations: 200,
            tolerance: 1e-10,
        }
    }
}

/// A fitted logistic regression.
#[derive(Debug, Clone)]
pub struct Logistic {
    /// β, length p.
    pub coefficients: Vec<f64>,
    /// I⁻¹ at β, p×p.
    pub covariance: DMatrix<f64>,
    /// l(β), without the binomial coefficients.
    pub log_likelihood: f64,
    /// l*(β) with I in the scale of the design; what Firth's fit maximises.
    pub penalised: f64,
    /// Twice the distance of l(β) from a fit that is right for every row.
    pub deviance: f64,
    /// Offers that it rests on.
    pub offers: u64,
    /// How the search ended.
    pub record: Record,
}

/// What plain maximum likelihood gives.
#[derive(Debug, Clone)]
pub enum Plain {
    /// An estimate.
    Fitted(Logistic),
    /// No estimate: a combination of these columns splits yes from no, so
    /// their coefficients run off to infinity.
    Separated {
        /// Zero-based columns, ascending.
        columns: Vec<usize>,
    },
}

impl Logistic {
    /// Standard error of coefficient `j`.
    pub fn standard_error(&self, j: usize) -> Option<f64> {
        self.covariance.get((j, j)).map(|v| v.sqrt())
    }

    /// Coefficient `j` with its Wald interval; `None` without such a column
    /// or with a level outside (0, 1).
    pub fn wald(&self, j: usize, level: f64) -> Option<Estimate> {
        let (value, se) = (*self.coefficients.get(j)?, self.standard_error(j)?);
        check_level(level).ok()?;
        let half = normal_margin(level) * se;
        Some(Estimate {
            value,
            low: value - half,
            high: value + half,
            level,
            n: self.offers,
        })
    }

    /// Coefficient `j` with its profile penalised-likelihood interval: all
    /// values whose best l* is within half a chi-square quantile of the top.
    /// `offers` are those that the fit was made from, by Firth's likelihood.
    ///
    /// # Errors
    /// [`FitError::Parameter`] for a column or level that is not there;
    /// [`FitError::DidNotConverge`] where no such limit is found.
    pub fn profile(
        &self,
        offers: &Offers<'_>,
        j: usize,
        level: f64,
        params: Params,
    ) -> Result<Estimate, FitError> {
        profile::interval(self, offers, j, level, params)
    }

    /// Twice the loss of l* when coefficient `j` is held at `value`: a
    /// chi-square with one degree of freedom where that is the truth.
    ///
    /// # Errors
    /// As [`Logistic::profile`].
    pub fn drop_at(
        &self,
        offers: &Offers<'_>,
        j: usize,
        value: f64,
        params: Params,
    ) -> Result<f64, FitError> {
        profile::drop_at(self, offers, j, value, params)
    }
}

/// Firth's fit. It exists for any offers whose columns can be told apart.
///
/// # Errors
/// [`FitError::Shape`], [`FitError::NotFinite`], [`FitError::OutOfRange`] for
/// bad input, [`FitError::NotEnough`] without rows,
/// [`FitError::Collinear`], [`FitError::DidNotConverge`].
pub fn fit(offers: &Offers<'_>, params: Params) -> Result<Logistic, FitError> {
    let scaled = Scaled::new(offers)?;
    let run = climb(
        |beta| scaled.firth(beta),
        DVector::zeros(offers.columns),
        limits(params, u32::MAX),
    );
    match run {
        Some(run) if run.end == End::Converged => scaled.finish(offers, &run),
        other => Err(no_answer("Firth's logistic regression", other.as_ref())),
    }
}

/// Plain maximum likelihood, or which columns keep it from existing.
///
/// # Errors
/// As [`fit`]; separation is no error.
pub fn fit_plain(offers: &Offers<'_>, params: Params) -> Result<Plain, FitError> {
    let scaled = Scaled::new(offers)?;
    let run = climb(
        |beta| scaled.plain(beta),
        DVector::zeros(offers.columns),
        limits(params, 60),
    );
    match run {
        Some(run) if run.end == End::Converged => scaled.finish(offers, &run).map(Plain::Fitted),
        Some(run) => separation::columns(&scaled, &run.step)
            .map(|columns| Plain::Separated { columns })
            .ok_or_else(|| no_answer("logistic regression", Some(&run))),
        None => Err(no_answer("logistic regression", None)),
    }
}

/// The search's limits, never more than `most` iterations.
fn limits(params: Params, most: u32) -> Limits {
    Limits {
        iterations: params.iterations.min(most),
        tolerance: params.tolerance,
    }
}

/// The error of a search that ended nowhere.
fn no_answer(what: &'static str, run: Option<&Climb>) -> FitError {
    FitError::DidNotConverge {
        what,
        iterations: run.map_or(0, |r| r.iterations),
    }
}

impl Scaled {
    /// The fit in the units of the design.
    fn finish(&self, offers: &Offers<'_>, run: &Climb) -> Result<Logistic, FitError> {
        let beta = self.to_units(&run.at);
        let covariance = self
            .covariance(&run.at)
            .ok_or_else(|| no_answer("logistic regression", Some(run)))?;
        let log_likelihood = self.log_likelihood(&run.at);
        Ok(Logistic {
            penalised: self.penalised(&run.at).unwrap_or(log_likelihood),
            deviance: 2.0 * (self.best_possible() - log_likelihood),
            coefficients: beta,
            covariance,
            log_likelihood,
            offers: offers.trials.iter().sum::<f64>().round() as u64,
            record: self.record(run.iterations),
        })
    }

    /// Rows used and left out; a row without offers carries nothing.
    fn record(&self, iterations: u32) -> Record {
        let empty = |&row: &usize| LeftOut {
            row,
            why: Why::Empty,
        };
        Record {
            rows_used: self.rows_used(),
            left_out: self.empty_rows.iter().map(empty).collect(),
            iterations,
            ended: Ended::Converged,
        }
    }
}

#[cfg(test)]
mod tests;
