//! Least squares from a small table of centred cross-products.
//!
//! With z = (x, y) and weights w, kept are n, W = sum w, the weighted means m
//! and S = sum w (z - m)(z - m)'. Rows are added one at a time (West 1979,
//! doi:10.1145/359146.359153) and tables merged (Chan, Golub and LeVeque 1983,
//! doi:10.1080/00031305.1983.10483115). The intercept is never a column here:
//! it is regained from the means, which is what keeps the digits.

use super::{LinearFit, check_length};
use crate::estimate::NotEnough;
use crate::fits::collinear::Rank;
use crate::fits::error::FitError;
use crate::fits::positive::ScaledCholesky;
use crate::fits::record::Record;
use nalgebra::{DMatrix, DVector};

/// Weighted, centred cross-products of p columns and y: what a least-squares
/// fit needs of any number of rows.
#[derive(Debug, Clone, PartialEq)]
pub struct CrossProducts {
    rows: u64,
    weight: f64,
    /// Means of the p columns, then of y.
    mean: DVector<f64>,
    /// (p+1) x (p+1), about the means.
    scatter: DMatrix<f64>,
}

impl CrossProducts {
    /// None yet, of `columns` columns (without a column of ones).
    pub fn new(columns: usize) -> Self {
        Self {
            rows: 0,
            weight: 0.0,
            mean: DVector::zeros(columns + 1),
            scatter: DMatrix::zeros(columns + 1, columns + 1),
        }
    }

    /// From sums as a query gives them, taken about a provisional centre near
    /// the means (any centre will do; a near one keeps the digits).
    ///
    /// With z = (x, y): `about` and `sums` (sum w (z - about)) have length
    /// p+1, `products` (sum w (z - about)(z - about)') is (p+1) x (p+1)
    /// row-major.
    ///
    /// # Errors
    /// [`FitError::Shape`], [`FitError::NotFinite`], or
    /// [`FitError::OutOfRange`] where the weight is not above zero.
    pub fn from_sums(
        rows: u64,
        weight: f64,
        about: &[f64],
        sums: &[f64],
        products: &[f64],
    ) -> Result<Self, FitError> {
        let size = about.len();
        check_length("centre", size.max(1), about)?;
        check_length("sums", size, sums)?;
        check_length("products", size * size, products)?;
        if !weight.is_finite() || weight <= 0.0 {
            return Err(FitError::OutOfRange {
                what: "sum of the weights",
                row: 0,
                found: weight,
                expected: "above zero",
            });
        }
        let shift = DVector::from_column_slice(sums) / weight;
        let raw = DMatrix::from_row_slice(size, size, products);
        Ok(Self {
            rows,
            weight,
            scatter: raw - &shift * shift.transpose() * weight,
            mean: DVector::from_column_slice(about) + shift,
        })
    }

    /// Adds a row of p numbers and its y, of weight `w`; a weight of zero or
    /// less adds nothing. A row of another length is cut or filled with zeros.
    pub fn add(&mut self, x: &[f64], y: f64, w: f64) {
        if w.is_nan() || w <= 0.0 {
            return;
        }
        let p = self.mean.len() - 1;
        let entry = |j: usize| {
            if j == p {
                y
            } else {
                x.get(j).copied().unwrap_or(0.0)
            }
        };
        let delta = DVector::from_fn(p + 1, |j, _| entry(j) - self.mean[j]);
        let total = self.weight + w;
        self.scatter
            .ger(self.weight * w / total, &delta, &delta, 1.0);
        self.mean.axpy(w / total, &delta, 1.0);
        self.weight = total;
        self.rows += 1;
    }

    /// Adds all that `other` holds. Merging with an empty table, either way,
    /// gives the other back to the last bit.
    ///
    /// # Errors
    /// [`FitError::Shape`] where the columns differ in number.
    pub fn merge(&mut self, other: &Self) -> Result<(), FitError> {
        if self.mean.len() != other.mean.len() {
            return Err(FitError::Shape {
                what: "columns of the merged cross-products",
                expected: self.mean.len() - 1,
                found: other.mean.len() - 1,
            });
        }
        if other.rows == 0 {
            return Ok(());
        }
        let delta = &other.mean - &self.mean;
        let total = self.weight + other.weight;
        self.scatter += &other.scatter;
        self.scatter
            .ger(self.weight * other.weight / total, &delta, &delta, 1.0);
        self.mean.axpy(other.weight / total, &delta, 1.0);
        self.weight = total;
        self.rows += other.rows;
        Ok(())
    }

    /// Rows added.
    pub fn rows(&self) -> u64 {
        self.rows
    }

    /// Solves for y on the columns with an intercept: the coefficients are
    /// the intercept, then one per column.
    ///
    /// # Errors
    /// As [`LeastSquares::fit`](super::LeastSquares::fit); collinear columns
    /// are counted with the intercept as column 0.
    pub fn fit_with_intercept(&self) -> Result<LinearFit, FitError> {
        let p = self.mean.len() - 1;
        self.enough(p + 1)?;
        let slopes = self.solve(&self.scatter, 1)?;
        let mean = self.mean.rows(0, p);
        let intercept = self.mean[p] - mean.dot(&slopes.beta);
        let pull = &slopes.inverse * mean;
        let own = 1.0 / self.weight + mean.dot(&pull);
        let unscaled = DMatrix::from_fn(p + 1, p + 1, |i, j| match (i, j) {
            (0, 0) => own,
            (0, j) => -pull[j - 1],
            (i, 0) => -pull[i - 1],
            (i, j) => slopes.inverse[(i - 1, j - 1)],
        });
        let coefficients = std::iter::once(intercept).chain(slopes.beta.iter().copied());
        Ok(self.describe(coefficients.collect(), unscaled, slopes.left))
    }

    /// Solves for y on the columns alone.
    ///
    /// # Errors
    /// As [`LeastSquares::fit`](super::LeastSquares::fit).
    pub fn fit_without_intercept(&self) -> Result<LinearFit, FitError> {
        self.enough(self.mean.len() - 1)?;
        let raw = &self.scatter + &self.mean * self.mean.transpose() * self.weight;
        let solved = self.solve(&raw, 0)?;
        let coefficients = solved.beta.iter().copied().collect();
        Ok(self.describe(coefficients, solved.inverse, solved.left))
    }

    fn enough(&self, need: usize) -> Result<(), FitError> {
        if self.rows >= need as u64 {
            return Ok(());
        }
        Err(NotEnough::new(self.rows, need as u64, "rows of the design").into())
    }

    /// Solves the normal equations in the (p+1) x (p+1) table.
    fn solve(&self, table: &DMatrix<f64>, first: usize) -> Result<Solved, FitError> {
        let p = table.nrows() - 1;
        let gram = table.view((0, 0), (p, p)).into_owned();
        let rank = Rank::of_cross_products(&gram);
        let named = |columns: Vec<usize>| FitError::Collinear {
            columns: columns.into_iter().map(|j| j + first).collect(),
        };
        if !rank.dependencies.is_empty() {
            return Err(named(rank.entangled()));
        }
        let factor = ScaledCholesky::new(&gram).ok_or_else(|| named(rank.kept))?;
        let right = table.view((0, p), (p, 1)).column(0).into_owned();
        let beta = factor.solve(&right);
        Ok(Solved {
            left: (table[(p, p)] - beta.dot(&right)).max(0.0),
            inverse: factor.inverse(),
            beta,
        })
    }

    fn describe(&self, coefficients: Vec<f64>, unscaled: DMatrix<f64>, left: f64) -> LinearFit {
        let p = self.mean.len() - 1;
        let about_mean = self.scatter[(p, p)];
        LinearFit {
            degrees_of_freedom: self.rows - coefficients.len() as u64,
            coefficients,
            unscaled_covariance: unscaled,
            residual_squares: left,
            squares_about_zero: about_mean + self.weight * self.mean[p].powi(2),
            squares_about_mean: about_mean,
            record: Record::direct(self.rows as usize),
        }
    }
}

struct Solved {
    beta: DVector<f64>,
    inverse: DMatrix<f64>,
    /// Residual sum of squares.
    left: f64,
}
