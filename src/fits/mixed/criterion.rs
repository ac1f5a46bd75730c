//! The criterion d(v) and its slope at one ratio of variances v.

use super::{Criterion, GroupStatistics};
use crate::fits::error::FitError;
use crate::fits::positive::ScaledCholesky;
use nalgebra::{DMatrix, DVector};

/// Share of the spread of y below which what is left is rounding.
const NOTHING_LEFT: f64 = 1e-14;

/// Everything that the model says at one v.
#[derive(Debug, Clone)]
pub(super) struct Point {
    /// v = tau^2 / sigma^2.
    pub(super) ratio: f64,
    /// d(v).
    pub(super) value: f64,
    /// beta(v).
    pub(super) beta: DVector<f64>,
    /// rss(v).
    pub(super) rss: f64,
    /// N - p, or N under maximum likelihood.
    pub(super) divisor: f64,
    /// A(v).
    pub(super) factor: ScaledCholesky,
    /// sum_g ln(1 + n_g v), and ln det A unless under maximum likelihood.
    pub(super) logarithms: f64,
}

/// Parts of the slope of d at a point.
#[derive(Debug, Clone, Copy)]
pub(super) struct Slope {
    /// Slope of the logarithms.
    pub(super) logarithms: f64,
    /// -d rss / d v.
    pub(super) rss_fall: f64,
}

impl Point {
    pub(super) fn at(
        statistics: &GroupStatistics,
        criterion: Criterion,
        ratio: f64,
    ) -> Result<Self, FitError> {
        let p = statistics.columns();
        let table = statistics.combine(1.0, |n| n / (1.0 + n * ratio), 1.0 / (1.0 + ratio));
        let a = table.view((0, 0), (p, p)).into_owned();
        let factor = ScaledCholesky::new(&a).ok_or_else(|| FitError::Collinear {
            columns: (0..p).collect(),
        })?;
        let right = table.view((0, p), (p, 1)).column(0).into_owned();
        let beta = factor.solve(&right);
        let rss = table[(p, p)] - beta.dot(&right);
        if rss <= NOTHING_LEFT * table[(p, p)] {
            return Err(FitError::NoSpread {
                what: "observations, once the columns are taken out,",
            });
        }
        let restricted = criterion == Criterion::Reml;
        let lost = if restricted { p } else { 0 };
        let divisor = statistics.rows() as f64 - lost as f64;
        let groups: f64 = statistics.sizes().map(|n| (n * ratio).ln_1p()).sum();
        let alone = statistics.rows_alone() as f64 * ratio.ln_1p();
        let det = if restricted {
            factor.log_determinant()
        } else {
            0.0
        };
        let logarithms = groups + alone + det;
        let scale = (2.0 * std::f64::consts::PI * rss / divisor).ln();
        Ok(Self {
            ratio,
            value: logarithms + divisor * (1.0 + scale),
            beta,
            rss,
            divisor,
            factor,
            logarithms,
        })
    }

    pub(super) fn residual_variance(&self) -> f64 {
        self.rss / self.divisor
    }

    /// ybar - xbar beta for the means of a group.
    pub(super) fn mean_residual(&self, mean: &DVector<f64>) -> f64 {
        let p = self.beta.len();
        mean[p] - mean.rows(0, p).dot(&self.beta)
    }

    /// The parts of d'(v).
    pub(super) fn slope(&self, statistics: &GroupStatistics, criterion: Criterion) -> Slope {
        let (p, v) = (self.beta.len(), self.ratio);
        let square = |n: f64| (n / (1.0 + n * v)).powi(2);
        let table = statistics.combine(0.0, square, square(1.0));
        let groups: f64 = statistics.sizes().map(|n| n / (1.0 + n * v)).sum();
        let alone = statistics.rows_alone() as f64 / (1.0 + v);
        let trace = match criterion {
            Criterion::Reml => trace_of(&self.factor, &table.view((0, 0), (p, p)).into_owned()),
            Criterion::Ml => 0.0,
        };
        let contrast = DVector::from_fn(p + 1, |j, _| if j == p { 1.0 } else { -self.beta[j] });
        Slope {
            logarithms: groups + alone - trace,
            rss_fall: contrast.dot(&(table * &contrast)),
        }
    }

    /// d'(v).
    pub(super) fn derivative(&self, statistics: &GroupStatistics, criterion: Criterion) -> f64 {
        let slope = self.slope(statistics, criterion);
        slope.logarithms - slope.rss_fall / self.residual_variance()
    }
}

/// tr(A^-1 B).
fn trace_of(factor: &ScaledCholesky, b: &DMatrix<f64>) -> f64 {
    factor.inverse().component_mul(b).sum()
}
