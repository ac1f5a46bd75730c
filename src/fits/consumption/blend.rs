//! The constants in force as evidence worth k typical jobs of each finish.
//!
//! A normal-inverse-gamma prior centred on the constants: s ~ N(s0, sigma^2/l_0),
//! c_f ~ N(c0_f, sigma^2/l_f), independent, with the precisions that k jobs give
//!
//! ```text
//! l_0 = k / Abar           l_f = k Abar_f
//! ```
//!
//! Abar being the mean area of a job, Abar_f of a job's share of that finish
//! (over the measured jobs; 20 m2 where there is none). Independent, so that a
//! finish without a job keeps its constant exactly. The constants say nothing
//! of sigma^2 beyond how far the data lie from them:
//!
//! ```text
//! precision = X'X + L       mean = precision^-1 (X'y + L b0)
//! sigma^2   = [y'y + b0'L b0 - mean' precision mean] / df
//! df        = rows + constants - columns
//! ```
//!
//! (rows whitened by the data's covariance). With k = 0 this is the data alone
//! to the last digit. Gelman et al., Bayesian Data Analysis, 3rd ed., 2013,
//! 14.8. Its cover depends on how wrong the constants were.

use super::Expected;
use super::active_set::not_negative;
use super::gls::{Fitted, Rows, Spread, dot};
use crate::estimate::Estimate;
use crate::fits::collinear::Rank;
use crate::fits::error::FitError;
use crate::fits::interval::t_interval;
use crate::fits::positive::{ScaledCholesky, quadratic};
use nalgebra::{DMatrix, DVector};

/// Area of a typical job where none was measured, m2: common practice for a
/// full vehicle, no published source.
const USUAL_AREA: f64 = 20.0;

/// Constants in force and what they are worth.
#[derive(Debug, Clone, PartialEq)]
pub struct Prior {
    /// s in force, mL.
    pub setup: Option<f64>,
    /// c_f in force by finish, mL per m2; `None` where none is in force.
    pub per_m2: Vec<Option<f64>>,
    /// k: typical jobs per finish that they are worth; 0 turns them off.
    pub jobs: f64,
}

impl Prior {
    pub(super) fn check(&self, finishes: usize) -> Result<(), FitError> {
        if self.per_m2.len() != finishes {
            return Err(FitError::Shape {
                what: "constants in force",
                expected: finishes,
                found: self.per_m2.len(),
            });
        }
        let numbers = self
            .per_m2
            .iter()
            .chain([&self.setup])
            .flatten()
            .chain([&self.jobs]);
        match numbers.copied().find(|v| !v.is_finite() || *v < 0.0) {
            None => Ok(()),
            Some(found) => Err(FitError::Parameter {
                what: "a constant in force or its weight",
                found,
                expected: "zero or more",
            }),
        }
    }

    fn constants(&self) -> impl Iterator<Item = Option<f64>> + '_ {
        std::iter::once(self.setup).chain(self.per_m2.iter().copied())
    }
}

/// The blended fit. Vectors and matrices have all columns.
#[derive(Debug, Clone)]
pub(super) struct Posterior {
    mean: DVector<f64>,
    value: DVector<f64>,
    /// precision^-1; zeros where a column has neither jobs nor a constant.
    unit: DMatrix<f64>,
    sigma2: f64,
    df: f64,
    /// Whether a column can be told apart with the constants' help.
    known: Vec<bool>,
    constants: Vec<Option<f64>>,
}

impl Posterior {
    /// `None` with k = 0, without constants, or without any row.
    pub(super) fn new(prior: &Prior, rows: &Rows<'_>, fitted: Option<&Fitted>) -> Option<Self> {
        let p = rows.columns();
        let constants: Vec<Option<f64>> = prior.constants().collect();
        let given = constants.iter().flatten().count();
        if prior.jobs <= 0.0 || given == 0 || rows.count() == 0 {
            return None;
        }
        let mut table = rows.unit_table(fitted)?;
        for (j, constant) in constants.iter().enumerate() {
            let Some(b0) = constant else { continue };
            let weight = prior.jobs * job_weight(j, rows);
            table[(j, j)] += weight;
            table[(j, p)] += weight * b0;
            table[(p, j)] += weight * b0;
            table[(p, p)] += weight * b0 * b0;
        }
        let precision = table.view((0, 0), (p, p)).into_owned();
        let rank = Rank::of_cross_products(&precision);
        let df = rows.count() as f64 + given as f64 - rank.kept.len() as f64;
        let kept = &rank.kept;
        let part = DMatrix::from_fn(kept.len(), kept.len(), |i, j| precision[(kept[i], kept[j])]);
        let right = DVector::from_fn(kept.len(), |i, _| table[(kept[i], p)]);
        let factor = ScaledCholesky::new(&part)?;
        let mean = factor.solve(&right);
        let left = (table[(p, p)] - mean.dot(&right)).max(0.0);
        let entangled = rank.entangled();
        let widen = |v: &DVector<f64>| {
            let at = |j| kept.iter().position(|k| *k == j).map_or(0.0, |i| v[i]);
            DVector::from_fn(p, |j, _| at(j))
        };
        let inverse = factor.inverse();
        let mut unit = DMatrix::zeros(p, p);
        for (a, i) in kept.iter().enumerate() {
            for (b, j) in kept.iter().enumerate() {
                unit[(*i, *j)] = inverse[(a, b)];
            }
        }
        Some(Self {
            value: widen(&not_negative(&part, &right)),
            mean: widen(&mean),
            unit,
            sigma2: left / df,
            df,
            known: (0..p).map(|j| !entangled.contains(&j)).collect(),
            constants,
        })
    }

    pub(super) fn has_constant(&self, j: usize) -> bool {
        self.constants[j].is_some()
    }

    /// Value and interval of column `j`; `None` where it cannot be told apart.
    /// Without a constant of its own a column still needs what the data alone
    /// needs, so the data's figure stands there.
    pub(super) fn figure(&self, j: usize, level: f64, jobs: u64) -> Option<Estimate> {
        if !self.known[j] || !self.has_constant(j) {
            return None;
        }
        let error = (self.sigma2 * self.unit[(j, j)]).sqrt();
        let interval = t_interval(self.mean[j], error, self.df, level, jobs);
        let value = match self.constants[j] {
            Some(constant) if jobs == 0 => constant,
            _ => self.value[j],
        };
        Some(Estimate {
            value,
            low: interval.low.max(0.0).min(value),
            high: interval.high.max(value),
            ..interval
        })
    }

    pub(super) fn covariance(&self) -> DMatrix<f64> {
        &self.unit * self.sigma2
    }

    /// l'beta.
    pub(super) fn mean_of(&self, l: &[f64]) -> f64 {
        dot(l, self.value.as_slice())
    }

    pub(super) fn combination(&self, l: &[f64]) -> Expected {
        Expected {
            mean: self.mean_of(l),
            standard_error: (self.sigma2 * quadratic(&self.unit, l)).max(0.0).sqrt(),
            df: self.df,
        }
    }

    /// Spread of a new job of `area` m2 about its mean.
    pub(super) fn new_job(&self, mean: Expected, area: f64) -> Spread {
        Spread {
            standard_error: mean.standard_error.hypot((self.sigma2 * area).sqrt()),
            df: self.df,
        }
    }
}

/// What one typical job tells of column `j`, in units of 1/sigma^2.
fn job_weight(j: usize, rows: &Rows<'_>) -> f64 {
    let job = rows.typical_job().unwrap_or(USUAL_AREA);
    match j.checked_sub(1) {
        None => 1.0 / job,
        Some(f) => rows.typical_area(f).unwrap_or(job),
    }
}
