//! Small symmetric positive definite systems: cross-products of a few columns.
//!
//! Each is scaled to a unit diagonal before it is factored, so that columns in
//! m2, columns of ones and columns in thousands are served alike.

use nalgebra::{DMatrix, DVector};

/// Solves A x = b for a positive definite A, scaled to a unit diagonal first
/// so that columns in m2 and columns of ones are served alike. `None` where A
/// is not positive definite.
pub fn solve_positive(a: &DMatrix<f64>, b: &DVector<f64>) -> Option<DVector<f64>> {
    let inverse = ScaledCholesky::new(a)?;
    Some(inverse.solve(b))
}

/// l'M l. Most of a row's numbers are 0, and these are passed over.
pub(in crate::fits) fn quadratic(m: &DMatrix<f64>, l: &[f64]) -> f64 {
    let carried = || l.iter().enumerate().filter(|(_, l)| **l != 0.0);
    let row = |i: usize| carried().map(|(j, l)| m[(i, j)] * l).sum::<f64>();
    carried().map(|(i, l)| l * row(i)).sum()
}

/// The Cholesky factor of a positive definite matrix scaled to a unit
/// diagonal.
#[derive(Debug, Clone)]
pub struct ScaledCholesky {
    scale: DVector<f64>,
    factor: nalgebra::Cholesky<f64, nalgebra::Dyn>,
}

impl ScaledCholesky {
    /// Factors `a`; `None` where it is not positive definite.
    pub fn new(a: &DMatrix<f64>) -> Option<Self> {
        if a.diagonal().iter().any(|d| d.is_nan() || *d <= 0.0) {
            return None;
        }
        let scale = a.diagonal().map(|d| 1.0 / d.sqrt());
        let scaled = DMatrix::from_fn(a.nrows(), a.ncols(), |i, j| a[(i, j)] * scale[i] * scale[j]);
        let factor = scaled.cholesky()?;
        Some(Self { scale, factor })
    }

    /// x with A x = b.
    pub fn solve(&self, b: &DVector<f64>) -> DVector<f64> {
        let inner = self.factor.solve(&b.component_mul(&self.scale));
        inner.component_mul(&self.scale)
    }

    /// The inverse of A, symmetric to the last bit.
    pub fn inverse(&self) -> DMatrix<f64> {
        let inner = self.factor.inverse();
        let n = inner.nrows();
        DMatrix::from_fn(n, n, |i, j| {
            0.5 * (inner[(i, j)] + inner[(j, i)]) * self.scale[i] * self.scale[j]
        })
    }

    /// ln det A.
    pub fn log_determinant(&self) -> f64 {
        let factor: f64 = self
            .factor
            .l_dirty()
            .diagonal()
            .iter()
            .map(|d| d.ln())
            .sum();
        let scale: f64 = self.scale.iter().map(|s| s.ln()).sum();
        2.0 * (factor - scale)
    }
}
