//! What a fit of the data alone says: values, intervals, spread of new jobs.

use super::dot;
use super::partly_known::PartlyKnown;
use crate::estimate::Estimate;
use crate::fits::collinear::Rank;
use crate::fits::consumption::Expected;
use crate::fits::interval::t_interval;
use crate::fits::positive::quadratic;
use crate::fits::record::Ended;
use nalgebra::DMatrix;

/// A fit of the data alone. Vectors and matrices have all columns; those that
/// could not be told apart hold zeros.
#[derive(Debug, Clone)]
pub(in crate::fits::consumption) struct Fitted {
    /// Unconstrained.
    pub(in crate::fits::consumption) beta: Vec<f64>,
    /// With no coefficient below zero.
    pub(in crate::fits::consumption) value: Vec<f64>,
    pub(in crate::fits::consumption) sigma2: f64,
    /// Rows less coefficients.
    pub(in crate::fits::consumption) df: u64,
    pub(in crate::fits::consumption) iterations: u32,
    pub(in crate::fits::consumption) ended: Ended,
    pub(in crate::fits::consumption) covariance: DMatrix<f64>,
    pub(in crate::fits::consumption) plain: DMatrix<f64>,
    /// Phi P Phi.
    pub(in crate::fits::consumption) slope: DMatrix<f64>,
    /// How far sigma2 may be off.
    pub(in crate::fits::consumption) known: PartlyKnown,
    pub(in crate::fits::consumption) rank: Rank,
}

/// A variance's root, and the degrees of freedom that match it.
#[derive(Debug, Clone, Copy)]
pub(in crate::fits::consumption) struct Spread {
    pub(in crate::fits::consumption) standard_error: f64,
    pub(in crate::fits::consumption) df: f64,
}

impl Fitted {
    /// Whether column `j` stands by itself.
    pub(in crate::fits::consumption) fn tells_apart(&self, j: usize) -> bool {
        !self.rank.entangled().contains(&j)
    }

    /// Value of column `j`, with the unconstrained interval cut at 0.
    pub(in crate::fits::consumption) fn figure(&self, j: usize, level: f64, n: u64) -> Estimate {
        let mut l = vec![0.0; self.beta.len()];
        l[j] = 1.0;
        let free = self.unconstrained(&l);
        let interval = t_interval(free.mean, free.standard_error, free.df, level, n);
        let value = self.value[j];
        Estimate {
            value,
            low: interval.low.max(0.0).min(value),
            high: interval.high.max(value),
            ..interval
        }
    }

    pub(in crate::fits::consumption) fn combination(&self, l: &[f64]) -> Expected {
        Expected {
            mean: self.mean(l),
            ..self.unconstrained(l)
        }
    }

    /// l'beta, with no coefficient below zero.
    pub(in crate::fits::consumption) fn mean(&self, l: &[f64]) -> f64 {
        dot(l, &self.value)
    }

    /// l'beta of the unconstrained solution.
    pub(in crate::fits::consumption) fn unconstrained(&self, l: &[f64]) -> Expected {
        let plain = quadratic(&self.plain, l);
        let slope = quadratic(&self.slope, l);
        Expected {
            mean: dot(l, &self.beta),
            standard_error: quadratic(&self.covariance, l).max(0.0).sqrt(),
            df: self.known.degrees_of_freedom(plain, -slope),
        }
    }

    /// Spread of a new job of `area` m2 about its fitted mean.
    pub(in crate::fits::consumption) fn new_job(&self, l: &[f64], area: f64) -> Spread {
        let own = self.sigma2 * area;
        let plain = quadratic(&self.plain, l);
        let slope = quadratic(&self.slope, l);
        let error = quadratic(&self.covariance, l).max(0.0);
        Spread {
            standard_error: (own + error).sqrt(),
            df: self.known.degrees_of_freedom(own + plain, area - slope),
        }
    }
}
