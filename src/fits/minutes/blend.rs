//! The minutes in force as evidence worth k typical jobs of each class.
//!
//! On the log scale ln constant_c ~ N(alpha_c, v), v = (tau^2 + sigma^2)/k: k
//! jobs, each by another person. With the data's beta and Kenward and Roger's
//! covariance C, any sum l'beta of a job of class c becomes
//!
//! ```text
//! l'beta + g (ln constant_c - alpha_c)      g = (l'C)_c / (C_cc + v)
//! variance   l'C l - g (l'C)_c
//! ```
//!
//! and is read with the data's degrees of freedom. Each class is joined with
//! its own constant alone. Joined all at once, a constant that is far off for
//! one class would move every other, since all lean on the same people: the
//! typical minutes of a class then came to lie outside both its data and its
//! constant. So a class's figure lies between the two. A class without a job
//! keeps its constant exactly. The constant is taken for the typical job, not
//! the average or plan-for one. Its cover depends on how wrong the constants
//! were.

use super::design::Carried;
use super::model::Model;
use crate::estimate::Estimate;
use crate::fits::error::FitError;
use crate::fits::interval::t_interval;
use crate::fits::mixed::{Combination, MixedFit};
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
    /// beta of the data over the fitted columns.
    mean: DVector<f64>,
    /// C.
    covariance: DMatrix<f64>,
    /// ln of the constants, by class.
    constants: Vec<Option<f64>>,
    /// v.
    constant_variance: f64,
    /// Degrees of freedom of that variance.
    constant_df: f64,
}

impl Posterior {
    /// `None` with k = 0 or without constants.
    pub(super) fn new(prior: &Prior, fit: &MixedFit) -> Option<Self> {
        let constants: Vec<Option<f64>> = prior.typical.iter().map(|m| m.map(f64::ln)).collect();
        if prior.jobs <= 0.0 || constants.iter().all(Option::is_none) {
            return None;
        }
        let total = fit.group_variance + fit.residual_variance;
        Some(Self {
            mean: DVector::from_column_slice(&fit.coefficients),
            covariance: fit.adjusted_covariance().clone(),
            constants,
            constant_variance: total / prior.jobs,
            constant_df: fit.total_variance_df(),
        })
    }

    /// Whether class `c` has a constant in force.
    pub(super) fn has_class(&self, c: usize) -> bool {
        self.constants.get(c).is_some_and(Option::is_some)
    }

    /// Whether jobs of class `c`, if there are any, can be told apart from
    /// another column.
    pub(super) fn tells_apart(&self, model: &Model, c: usize) -> bool {
        model.carrying[c] == 0 || !model.rank.entangled().contains(&c)
    }

    /// alpha of class `c` on the log scale; `None` where jobs of the class
    /// cannot be told apart from another column.
    pub(super) fn class(&self, model: &Model, c: usize, level: f64) -> Option<Estimate> {
        if !self.tells_apart(model, c) {
            return None;
        }
        let jobs = model.carrying[c];
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

    /// A combination over all columns for a job, which is of one class; a class
    /// without jobs enters by its constant.
    pub(super) fn combination(&self, model: &Model, fit: &MixedFit, l: &[f64]) -> Combination {
        let carried: Carried = (l.iter().copied().enumerate())
            .filter(|(_, weight)| *weight != 0.0)
            .collect();
        let [value, variance] = self.moments(model, &carried);
        let kept = model.fitted_columns(l);
        let by_jobs = kept.iter().any(|w| *w != 0.0);
        Combination {
            value,
            standard_error: variance.sqrt(),
            df: if by_jobs {
                fit.combination(&kept).df
            } else {
                self.constant_df
            },
        }
    }

    /// Value and variance of such a combination, of the columns that are not 0.
    pub(super) fn moments(&self, model: &Model, carried: &[(usize, f64)]) -> [f64; 2] {
        let kept: Carried = (carried.iter())
            .filter_map(|(column, weight)| Some((model.place(*column)?, *weight)))
            .collect();
        let along = |at: usize| -> f64 {
            let cells = kept.iter().map(|(k, w)| self.covariance[(*k, at)] * w);
            cells.sum()
        };
        let mut value: f64 = kept.iter().map(|(k, w)| self.mean[*k] * w).sum();
        let mut variance: f64 = kept.iter().map(|(k, w)| w * along(*k)).sum();
        for (class, weight) in carried {
            let Some(log) = self.constants.get(*class).copied().flatten() else {
                continue;
            };
            match model.place(*class) {
                None => {
                    value += weight * log;
                    variance += weight * weight * self.constant_variance;
                }
                Some(at) => {
                    let carried = along(at);
                    let gain = carried / (self.covariance[(at, at)] + self.constant_variance);
                    value += gain * (log - self.mean[at]);
                    variance -= gain * carried;
                }
            }
        }
        [value, variance.max(0.0)]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fits::minutes::predictor::tests::fit;

    /// The slow twin: the formula of the head with whole vectors, for a class
    /// with a constant and jobs, one with jobs alone, one with a constant alone.
    #[test]
    fn moments_are_those_of_the_formula() {
        let fit = fit(Some(70.0));
        let (p, model) = (fit.posterior.as_ref().unwrap(), &fit.model);
        let (c, v) = (&p.covariance, p.constant_variance);
        for class in 0..3 {
            let row = [(class, 1.0), (3, -0.4), (4, 0.75)];
            let at = |j: usize| row.iter().find(|(k, _)| *k == j).map_or(0.0, |x| x.1);
            let kept = model.rank.kept.iter().map(|j| at(*j));
            let l = DVector::from_iterator(model.rank.kept.len(), kept);
            let (plain, along) = (l.dot(&p.mean), c * &l);
            let variance = l.dot(&along);
            let slow = match (class, model.place(class)) {
                (0, Some(own)) => {
                    let g = along[own] / (c[(own, own)] + v);
                    let moved = g * (f64::ln(45.0) - p.mean[own]);
                    [plain + moved, variance - g * along[own]]
                }
                (1, _) => [plain, variance],
                _ => [plain + f64::ln(70.0), variance + v],
            };
            let fast = p.moments(model, &row);
            for (a, b) in fast.into_iter().zip(slow) {
                assert!((a - b).abs() < 1e-13 * b.abs(), "{class}: {a} {b}");
            }
        }
    }
}
