//! The two chi-square tests that go with a pooled odds ratio.

use super::{Cells, OddsRatio};
use crate::fits::dist::chi_squared_tail;

/// A chi-square statistic with its degrees of freedom and tail area.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChiSquare {
    /// The statistic.
    pub chi2: f64,
    /// Degrees of freedom.
    pub df: u32,
    /// Chance of so large a value or a larger one where there is no effect.
    pub p: f64,
}

impl ChiSquare {
    /// The statistic with its tail area.
    pub(crate) fn new(chi2: f64, df: u32) -> Self {
        Self {
            chi2,
            df,
            p: chi_squared_tail(chi2, f64::from(df)),
        }
    }
}

/// Mantel and Haenszel's test; `correction` is taken off |Σa − ΣE| where
/// that is larger.
pub(super) fn mantel_haenszel(telling: &[Cells], correction: f64) -> Option<ChiSquare> {
    let gap: f64 = telling.iter().map(|k| k.a - k.n1 * (k.a + k.c) / k.n).sum();
    let variance: f64 = telling.iter().map(hypergeometric_variance).sum();
    let correction = if gap.abs() >= correction {
        correction
    } else {
        0.0
    };
    let chi2 = (gap.abs() - correction).powi(2) / variance;
    (variance > 0.0).then(|| ChiSquare::new(chi2, 1))
}

/// Variance of `a` given its margins where the groups do not differ.
fn hypergeometric_variance(k: &Cells) -> f64 {
    k.n1 * k.n0 * (k.a + k.c) * (k.b + k.d) / (k.n * k.n * (k.n - 1.0))
}

/// Breslow and Day's test without Tarone's correction.
pub(super) fn breslow_day(telling: &[Cells], pooled: &OddsRatio) -> Option<ChiSquare> {
    let OddsRatio::Known(or) = pooled else {
        return None;
    };
    if telling.len() < 2 {
        return None;
    }
    let chi2 = telling.iter().map(|k| departure(k, or.value)).sum();
    Some(ChiSquare::new(chi2, telling.len() as u32 - 1))
}

/// (a − A)²/Var(A), A being the count that gives the stratum exactly the
/// pooled odds ratio ψ: A (n0 − m1 + A) = ψ (n1 − A)(m1 − A).
fn departure(k: &Cells, psi: f64) -> f64 {
    let m1 = k.a + k.c;
    let fitted = fitted_count(k.n1, k.n0, m1, psi);
    let cells = [fitted, k.n1 - fitted, m1 - fitted, k.n0 - m1 + fitted];
    let precision: f64 = cells.iter().map(|c| 1.0 / c).sum();
    (k.a - fitted).powi(2) * precision
}

/// The root of the quadratic within the margins, in the form that does not
/// cancel.
fn fitted_count(n1: f64, n0: f64, m1: f64, psi: f64) -> f64 {
    let square = 1.0 - psi;
    let linear = n0 - m1 + psi * (n1 + m1);
    let constant = -psi * n1 * m1;
    let root = (linear * linear - 4.0 * square * constant).sqrt();
    -2.0 * constant / (linear + root)
}
