//! The minutes in force as evidence worth k typical jobs of each class.
//!
//! On the log scale alpha_c ~ N(ln constant, (tau^2 + sigma^2)/k): k jobs, each
//! by another person. Joined with the data's beta and Kenward and Roger's
//! covariance C by precisions,
//!
//! ```text
//! precision = C^-1 + diag(k/(tau^2 + sigma^2))    on classes with a constant
//! ```
//!
//! and read with the data's degrees of freedom. A class without a job keeps
//! its constant exactly. The constant is taken for the typical job, not the
//! average or plan-for one. Its cover depends on how wrong the constants were.

use super::model::Model;
use crate::estimate::Estimate;
use crate::fits::error::FitError;
use crate::fits::interval::t_interval;
use crate::fits::mixed::{Combination, MixedFit};
use crate::fits::positive::ScaledCholesky;
use nalgebra::{DMatrix, DVector};

/// Minutes in force and what they are worth.
#[derive(Debug, Clone, PartialEq)]
pub struct Prior {
    /// Typical minutes of a full vehicle in the smoothest finish, by class;
    /// `None` where none are in force.
    pub typical: Vec<Option<f64>>,
    /// k: typical jobs per class that they are worth; 0 turns them off.
    pub jobs: f64,
}

impl Prior {
    pub(super) fn check(&self, classes: usize) -> Result<(), FitError> {
        if self.typical.len() != classes {
            return Err(FitError::Shape {
                what: "minutes in force",
                expected: classes,
                found: self.typical.len(),
            });
        }
        let wrong = |what, found, expected| {
            Err(FitError::Parameter {
                what,
                found,
                expected,
            })
        };
        if !self.jobs.is_finite() || self.jobs < 0.0 {
            return wrong("jobs that constants are worth", self.jobs, "zero or more");
        }
        let minutes = self.typical.iter().flatten().copied();
        match minutes.clone().find(|m| !m.is_finite() || *m <= 0.0) {
            Some(found) => wrong("minutes in force", found, "above zero"),
            None => Ok(()),
        }
    }
}

/// The blended fit, on the log scale.
#[derive(Debug, Clone)]
pub(super) struct Posterior {
    /// Over the fitted columns.
    mean: DVector<f64>,
    covariance: DMatrix<f64>,
    /// ln of the constants, by class.
    constants: Vec<Option<f64>>,
    /// Variance of a constant: (tau^2 + sigma^2)/k.
    constant_variance: f64,
    /// Degrees of freedom of that variance.
    constant_df: f64,
}

impl Posterior {
    /// `None` with k = 0 or without constants.
    pub(super) fn new(prior: &Prior, model: &Model, fit: &MixedFit) -> Option<Self> {
        let constants: Vec<Option<f64>> = prior.typical.iter().map(|m| m.map(f64::ln)).collect();
        if prior.jobs <= 0.0 || constants.iter().all(Option::is_none) {
            return None;
        }
        let total = fit.group_variance + fit.residual_variance;
        let own = ScaledCholesky::new(fit.adjusted_covariance())?.inverse();
        let mut right = &own * DVector::from_column_slice(&fit.coefficients);
        let mut precision = own;
        for (class, constant) in constants.iter().enumerate() {
            if let (Some(log), Some(at)) = (constant, model.place(class)) {
                precision[(at, at)] += prior.jobs / total;
                right[at] += prior.jobs / total * log;
            }
        }
        let factor = ScaledCholesky::new(&precision)?;
        Some(Self {
            mean: factor.solve(&right),
            covariance: factor.inverse(),
            constants,
            constant_variance: total / prior.jobs,
            constant_df: fit.total_variance_df(),
        })
    }

    /// Whether class `c` has a constant in force.
    pub(super) fn has_class(&self, c: usize) -> bool {
        self.constants.get(c).is_some_and(Option::is_some)
    }

    /// alpha of class `c` on the log scale; `None` where jobs of the class
    /// cannot be told apart from another column.
    pub(super) fn class(&self, model: &Model, c: usize, level: f64) -> Option<Estimate> {
        let jobs = model.carrying[c];
        if jobs > 0 && model.rank.entangled().contains(&c) {
            return None;
        }
        let mut l = vec![0.0; model.carrying.len()];
        l[c] = 1.0;
        let found = self.combination(model, model.fit.as_ref()?, &l);
        Some(t_interval(
            found.value,
            found.standard_error,
            found.df,
            level,
            jobs,
        ))
    }

    /// A combination over all columns; a class without jobs enters by its
    /// constant.
    pub(super) fn combination(&self, model: &Model, fit: &MixedFit, l: &[f64]) -> Combination {
        let kept = model.fitted_columns(l);
        let v = DVector::from_column_slice(&kept);
        let mut sum = Combination {
            value: v.dot(&self.mean),
            standard_error: 0.0,
            df: self.constant_df,
        };
        let mut variance = v.dot(&(&self.covariance * &v));
        for (class, constant) in self.constants.iter().enumerate() {
            if let (Some(log), None) = (constant, model.place(class)) {
                sum.value += l[class] * log;
                variance += l[class] * l[class] * self.constant_variance;
            }
        }
        if kept.iter().any(|w| *w != 0.0) {
            sum.df = fit.combination(&kept).df;
        }
        sum.standard_error = variance.max(0.0).sqrt();
        sum
    }
}
