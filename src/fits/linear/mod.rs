//! Weighted least squares: what does each column add to y, the others held?
//!
//! ```text
//! y_i = sum_j x_ij beta_j + e_i        Var(e_i) = sigma^2 / w_i
//! beta = argmin sum_i w_i (y_i - x_i beta)^2
//! sigma^2 = sum_i w_i r_i^2 / (n - p)  Cov(beta) = sigma^2 (X'WX)^-1
//! ```
//!
//! Shapes: X is n x p, row-major, with no column added (a model with an
//! intercept carries its column of ones); y and w have length n. Units: those
//! of y over those of the column. A weight of zero leaves a row out; weights
//! are taken as they come, so the residual SD is that of an observation of
//! weight 1 (Stata's analytic weights are scaled to sum to n first).
//!
//! [`LeastSquares`] works on rows by Householder QR, since cross-products lose
//! half the digits (Bjorck, Numerical Methods for Least Squares Problems, 1996,
//! 2.4). [`CrossProducts`] serves where rows are too many to hand over; on the
//! program's own designs both agree to 1e-9.
//!
//! It misleads where the spread does not go as 1/w, where one row far from the
//! rest pulls the line, and where the columns that matter were not recorded.

mod cross_products;
mod triangle;

pub use cross_products::CrossProducts;
pub use triangle::Triangle;

use crate::estimate::{Estimate, NotEnough};
use crate::fits::collinear::Rank;
use crate::fits::error::{FitError, check_shape};
use crate::fits::interval::t_interval;
use crate::fits::record::{LeftOut, Record, Why};
use nalgebra::{DMatrix, DVector};

/// A design: n rows of p numbers, row-major, all finite.
#[derive(Debug, Clone, Copy)]
pub struct Design<'a> {
    values: &'a [f64],
    columns: usize,
}

impl<'a> Design<'a> {
    /// Takes `values` as rows of `columns` numbers each.
    ///
    /// # Errors
    /// [`FitError::Shape`] where they do not fill whole rows,
    /// [`FitError::NotFinite`] naming the row.
    pub fn new(values: &'a [f64], columns: usize) -> Result<Self, FitError> {
        if columns == 0 || !values.len().is_multiple_of(columns) {
            return Err(FitError::Shape {
                what: "design",
                expected: values.len().div_ceil(columns.max(1)) * columns.max(1),
                found: values.len(),
            });
        }
        match values.iter().position(|v| !v.is_finite()) {
            Some(at) => Err(FitError::NotFinite {
                what: "design",
                row: at / columns,
            }),
            None => Ok(Self { values, columns }),
        }
    }

    /// Number of rows n.
    pub fn rows(&self) -> usize {
        self.values.len() / self.columns
    }

    /// Number of columns p.
    pub fn columns(&self) -> usize {
        self.columns
    }

    /// The rows in order, each a slice of p numbers.
    pub fn iter(&self) -> impl Iterator<Item = &'a [f64]> + use<'a> {
        self.values.chunks_exact(self.columns)
    }
}

/// A least-squares problem, not yet solved.
#[derive(Debug, Clone, Copy)]
pub struct LeastSquares<'a> {
    design: Design<'a>,
    y: &'a [f64],
    weights: Option<&'a [f64]>,
}

impl<'a> LeastSquares<'a> {
    /// y (length n) on the design (n x p), all rows of weight 1.
    ///
    /// # Errors
    /// [`FitError::Shape`] or [`FitError::NotFinite`] for y.
    pub fn new(design: Design<'a>, y: &'a [f64]) -> Result<Self, FitError> {
        check_length("y", design.rows(), y)?;
        Ok(Self {
            design,
            y,
            weights: None,
        })
    }

    /// The same with weights (length n, none negative).
    ///
    /// # Errors
    /// [`FitError::Shape`], [`FitError::NotFinite`], or
    /// [`FitError::OutOfRange`] for a negative weight.
    pub fn weighted(self, weights: &'a [f64]) -> Result<Self, FitError> {
        check_length("weights", self.design.rows(), weights)?;
        if let Some(row) = weights.iter().position(|w| *w < 0.0) {
            return Err(FitError::OutOfRange {
                what: "weights",
                row,
                found: weights[row],
                expected: "zero or more",
            });
        }
        Ok(Self {
            weights: Some(weights),
            ..self
        })
    }

    /// Solves it.
    ///
    /// # Errors
    /// [`FitError::NotEnough`] with fewer rows than columns,
    /// [`FitError::Collinear`] naming the columns that cannot be told apart.
    pub fn fit(&self) -> Result<LinearFit, FitError> {
        let p = self.design.columns();
        let mut triangle = Triangle::new(p);
        for (x, y, w) in self.live_rows() {
            triangle.add(x, y, w);
        }
        let used = triangle.rows();
        if used < p as u64 {
            return Err(NotEnough::new(used, p as u64, "rows of the design").into());
        }
        let factor = triangle.factor();
        let rank = Rank::of_columns(&factor);
        if !rank.dependencies.is_empty() {
            return Err(FitError::Collinear {
                columns: rank.entangled(),
            });
        }
        let failed = || FitError::Collinear {
            columns: rank.kept.clone(),
        };
        let inverse = upper_inverse(&factor).ok_or_else(failed)?;
        let beta = factor.solve_upper_triangular(&triangle.right_side());
        let beta = beta.ok_or_else(failed)?;
        let unscaled = &inverse * inverse.transpose();
        Ok(self.describe(beta, unscaled, used))
    }

    /// Rows that carry weight.
    fn live_rows(&self) -> impl Iterator<Item = (&'a [f64], f64, f64)> + '_ {
        (self.design.iter().zip(self.y).enumerate())
            .map(|(i, (x, y))| (x, *y, self.weights.map_or(1.0, |w| w[i])))
            .filter(|row| row.2 > 0.0)
    }

    fn describe(&self, beta: DVector<f64>, unscaled: DMatrix<f64>, used: u64) -> LinearFit {
        let total: f64 = self.live_rows().map(|row| row.2).sum();
        let mean = self.live_rows().map(|(_, y, w)| w * y).sum::<f64>() / total;
        let mut fit = LinearFit {
            coefficients: beta.as_slice().to_vec(),
            unscaled_covariance: unscaled,
            residual_squares: 0.0,
            squares_about_zero: 0.0,
            squares_about_mean: 0.0,
            degrees_of_freedom: used - beta.len() as u64,
            record: self.record(used),
        };
        for (x, y, w) in self.live_rows() {
            fit.residual_squares += w * residual(x, y, beta.as_slice()).powi(2);
            fit.squares_about_zero += w * y * y;
            fit.squares_about_mean += w * (y - mean).powi(2);
        }
        fit
    }

    fn record(&self, used: u64) -> Record {
        let empty = |row| LeftOut {
            row,
            why: Why::Empty,
        };
        let weights = self.weights.unwrap_or_default();
        Record {
            left_out: (weights.iter().enumerate())
                .filter(|(_, w)| **w == 0.0)
                .map(|(row, _)| empty(row))
                .collect(),
            ..Record::direct(used as usize)
        }
    }
}

/// What R-squared and F compare the fit with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Against {
    /// The (weighted) mean of y: for a design that spans the constant.
    Mean,
    /// Zero: for a design without an intercept, as NIST certifies NoInt1.
    Zero,
}

/// A solved least-squares problem.
#[derive(Debug, Clone, PartialEq)]
pub struct LinearFit {
    /// beta, length p.
    pub coefficients: Vec<f64>,
    /// (X'WX)^-1, p x p; times the residual variance it is the covariance.
    pub unscaled_covariance: DMatrix<f64>,
    /// sum w r^2.
    pub residual_squares: f64,
    /// sum w y^2.
    pub squares_about_zero: f64,
    /// sum w (y - weighted mean)^2.
    pub squares_about_mean: f64,
    /// n - p.
    pub degrees_of_freedom: u64,
    /// Rows used and left out.
    pub record: Record,
}

impl LinearFit {
    /// sigma^2; `None` without degrees of freedom.
    pub fn residual_variance(&self) -> Option<f64> {
        let df = self.degrees_of_freedom;
        (df > 0).then(|| self.residual_squares / df as f64)
    }

    /// sigma, in the units of y (of an observation of weight 1).
    pub fn residual_sd(&self) -> Option<f64> {
        self.residual_variance().map(f64::sqrt)
    }

    /// Covariance of the coefficients, p x p.
    pub fn covariance(&self) -> Option<DMatrix<f64>> {
        self.residual_variance()
            .map(|v| &self.unscaled_covariance * v)
    }

    /// Standard errors of the coefficients, length p.
    pub fn standard_errors(&self) -> Option<Vec<f64>> {
        self.covariance()
            .map(|c| c.diagonal().iter().map(|v| v.sqrt()).collect())
    }

    /// Share of the spread of y that the fit accounts for.
    pub fn r_squared(&self, against: Against) -> f64 {
        1.0 - self.residual_squares / self.squares(against)
    }

    /// The F statistic of the whole model, on p less one (against the mean)
    /// or p degrees of freedom.
    pub fn f_statistic(&self, against: Against) -> Option<f64> {
        let lost = usize::from(against == Against::Mean);
        let terms = (self.coefficients.len() - lost) as f64;
        let explained = self.squares(against) - self.residual_squares;
        self.residual_variance().map(|v| explained / terms / v)
    }

    /// t-interval of coefficient `j`; `None` without degrees of freedom or
    /// where there is no such column.
    pub fn estimate(&self, j: usize, level: f64) -> Option<Estimate> {
        let value = *self.coefficients.get(j)?;
        let error = (self.residual_variance()? * self.unscaled_covariance[(j, j)]).sqrt();
        let df = self.degrees_of_freedom as f64;
        let n = self.record.rows_used as u64;
        Some(t_interval(value, error, df, level, n))
    }

    fn squares(&self, against: Against) -> f64 {
        match against {
            Against::Mean => self.squares_about_mean,
            Against::Zero => self.squares_about_zero,
        }
    }
}

/// y - x beta.
fn residual(x: &[f64], y: f64, beta: &[f64]) -> f64 {
    y - x.iter().zip(beta).map(|(a, b)| a * b).sum::<f64>()
}

/// The inverse of an upper triangular matrix.
fn upper_inverse(factor: &DMatrix<f64>) -> Option<DMatrix<f64>> {
    factor.solve_upper_triangular(&DMatrix::identity(factor.nrows(), factor.ncols()))
}

/// Refuses a slice of another length, or with a NaN or an infinity.
pub(crate) fn check_length(
    what: &'static str,
    expected: usize,
    values: &[f64],
) -> Result<(), FitError> {
    check_shape(what, expected, values.len())?;
    match values.iter().position(|v| !v.is_finite()) {
        Some(row) => Err(FitError::NotFinite { what, row }),
        None => Ok(()),
    }
}
