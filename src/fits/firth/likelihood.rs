//! l, l* and their derivatives on a design whose columns have been brought
//! to a root mean square of one (neither maximum depends on the scale).

use super::Offers;
use crate::estimate::NotEnough;
use crate::fits::collinear::Rank;
use crate::fits::error::{FitError, check_shape};
use crate::fits::newton::Local;
use crate::fits::positive::ScaledCholesky;
use nalgebra::{DMatrix, DVector};

/// The offers with a scaled design; rows without offers taken out.
#[derive(Debug)]
pub(super) struct Scaled {
    /// Scaled design, row after row.
    rows: Vec<f64>,
    yes: Vec<f64>,
    trials: Vec<f64>,
    /// Root mean square of each column.
    pub(super) rms: Vec<f64>,
    pub(super) empty_rows: Vec<usize>,
    columns: usize,
}

/// The chances of a row. Each keeps its digits far out: a separated fit
/// would otherwise seem to have converged once π rounds to 1.
#[derive(Debug, Clone, Copy)]
struct Chances {
    /// π.
    yes: f64,
    /// 1 − π.
    no: f64,
}

impl Chances {
    fn at(eta: f64) -> Self {
        let tail = (-eta.abs()).exp();
        let near = 1.0 / (1.0 + tail);
        let [yes, no] = if eta >= 0.0 {
            [near, tail * near]
        } else {
            [tail * near, near]
        };
        Self { yes, no }
    }

    /// π(1 − π).
    fn variance(self) -> f64 {
        self.yes * self.no
    }
}

/// ln(1 + e^η).
fn softplus(eta: f64) -> f64 {
    eta.max(0.0) + (-eta.abs()).exp().ln_1p()
}

impl Scaled {
    /// Checks the offers and scales them.
    pub(super) fn new(offers: &Offers<'_>) -> Result<Self, FitError> {
        check(offers)?;
        let p = offers.columns;
        let kept: Vec<usize> = (0..offers.trials.len())
            .filter(|&i| offers.trials[i] > 0.0)
            .collect();
        if kept.is_empty() || p == 0 {
            return Err(NotEnough::new(0, 1, "offers").into());
        }
        let empty = (0..offers.trials.len()).filter(|&i| offers.trials[i] == 0.0);
        let mut scaled = Self {
            rows: kept
                .iter()
                .flat_map(|&i| offers.design[i * p..(i + 1) * p].iter().copied())
                .collect(),
            yes: kept.iter().map(|&i| offers.yes[i]).collect(),
            trials: kept.iter().map(|&i| offers.trials[i]).collect(),
            rms: Vec::new(),
            empty_rows: empty.collect(),
            columns: p,
        };
        scaled.scale()?;
        Ok(scaled)
    }

    /// Divides each column by its root mean square and refuses columns that
    /// cannot be told apart.
    fn scale(&mut self) -> Result<(), FitError> {
        let (p, n) = (self.columns, self.trials.len() as f64);
        let mut squares = vec![0.0; p];
        for row in self.rows.chunks_exact(p) {
            row.iter().zip(&mut squares).for_each(|(x, s)| *s += x * x);
        }
        self.rms = squares.iter().map(|s| (s / n).sqrt()).collect();
        if let Some(zero) = self.rms.iter().position(|r| *r == 0.0) {
            return Err(FitError::Collinear {
                columns: vec![zero],
            });
        }
        for row in self.rows.chunks_exact_mut(p) {
            row.iter_mut().zip(&self.rms).for_each(|(x, r)| *x /= r);
        }
        let columns = Rank::of_cross_products(&self.gram()).entangled();
        if columns.is_empty() {
            return Ok(());
        }
        Err(FitError::Collinear { columns })
    }

    /// X'X of the scaled design, over the number of rows.
    fn gram(&self) -> DMatrix<f64> {
        let mut gram = DMatrix::zeros(self.columns, self.columns);
        let share = 1.0 / self.trials.len() as f64;
        for row in self.rows() {
            add_outer(&mut gram, row, share);
        }
        mirror(gram)
    }

    /// The scaled design rows.
    pub(super) fn rows(&self) -> impl Iterator<Item = &[f64]> {
        self.rows.chunks_exact(self.columns)
    }

    /// Design row, acceptances and offers of each row.
    pub(super) fn each(&self) -> impl Iterator<Item = Row<'_>> {
        let counts = self.yes.iter().zip(&self.trials);
        self.rows()
            .zip(counts)
            .map(|(x, (&yes, &trials))| Row { x, yes, trials })
    }

    /// Rows that take part.
    pub(super) fn rows_used(&self) -> usize {
        self.trials.len()
    }

    /// l(β).
    pub(super) fn log_likelihood(&self, beta: &DVector<f64>) -> f64 {
        self.each()
            .map(|r| {
                let eta = dot(r.x, beta);
                r.yes * eta - r.trials * softplus(eta)
            })
            .sum()
    }

    /// The l of a fit that gives each row its own share.
    pub(super) fn best_possible(&self) -> f64 {
        let part = |k: f64, n: f64| if k > 0.0 { k * (k / n).ln() } else { 0.0 };
        self.each()
            .map(|r| part(r.yes, r.trials) + part(r.trials - r.yes, r.trials))
            .sum()
    }

    /// I(β).
    pub(super) fn information(&self, beta: &DVector<f64>) -> DMatrix<f64> {
        let mut information = DMatrix::zeros(self.columns, self.columns);
        for r in self.each() {
            let variance = Chances::at(dot(r.x, beta)).variance();
            add_outer(&mut information, r.x, r.trials * variance);
        }
        mirror(information)
    }

    /// The plain likelihood at β.
    pub(super) fn plain(&self, beta: &DVector<f64>) -> Option<Local> {
        let value = self.log_likelihood(beta);
        value.is_finite().then(|| Local {
            value,
            gradient: self.gradient(beta, |_, _, _| 0.0),
            information: self.information(beta),
        })
    }

    /// Firth's likelihood at β; `None` where I is singular there.
    pub(super) fn firth(&self, beta: &DVector<f64>) -> Option<Local> {
        let information = self.information(beta);
        let factor = ScaledCholesky::new(&information)?;
        let inverse = factor.inverse();
        let value = self.log_likelihood(beta) + 0.5 * factor.log_determinant();
        let pull = |x: &[f64], weight: f64, pi: f64| weight * quadratic(&inverse, x) * (0.5 - pi);
        value.is_finite().then(|| Local {
            value,
            gradient: self.gradient(beta, pull),
            information,
        })
    }

    /// Σ (y − nπ + pull) x, `pull` being given x, w and π.
    fn gradient(
        &self,
        beta: &DVector<f64>,
        pull: impl Fn(&[f64], f64, f64) -> f64,
    ) -> DVector<f64> {
        let mut gradient = DVector::zeros(self.columns);
        for r in self.each() {
            let chances = Chances::at(dot(r.x, beta));
            let residual = r.yes * chances.no - (r.trials - r.yes) * chances.yes
                + pull(r.x, r.trials * chances.variance(), chances.yes);
            for (g, x) in gradient.iter_mut().zip(r.x) {
                *g += residual * x;
            }
        }
        gradient
    }

    /// l* at β with I in the units of the design.
    pub(super) fn penalised(&self, beta: &DVector<f64>) -> Option<f64> {
        let units: f64 = self.rms.iter().map(|r| r.ln()).sum();
        let factor = ScaledCholesky::new(&self.information(beta))?;
        Some(self.log_likelihood(beta) + 0.5 * factor.log_determinant() + units)
    }

    /// I⁻¹ at β in the units of the design.
    pub(super) fn covariance(&self, beta: &DVector<f64>) -> Option<DMatrix<f64>> {
        let inverse = ScaledCholesky::new(&self.information(beta))?.inverse();
        let rms = &self.rms;
        Some(DMatrix::from_fn(self.columns, self.columns, |i, j| {
            inverse[(i, j)] / (rms[i] * rms[j])
        }))
    }

    /// β in the units of the design.
    pub(super) fn to_units(&self, beta: &DVector<f64>) -> Vec<f64> {
        beta.iter().zip(&self.rms).map(|(b, r)| b / r).collect()
    }
}

/// One row of the scaled offers.
#[derive(Debug, Clone, Copy)]
pub(super) struct Row<'a> {
    pub(super) x: &'a [f64],
    pub(super) yes: f64,
    pub(super) trials: f64,
}

/// Lengths that go together, finite numbers, 0 ≤ yes ≤ trials.
fn check(offers: &Offers<'_>) -> Result<(), FitError> {
    let n = offers.trials.len();
    let lengths = [
        ("design", n * offers.columns, offers.design.len()),
        ("acceptances", n, offers.yes.len()),
    ];
    for (what, expected, found) in lengths {
        check_shape(what, expected, found)?;
    }
    if let Some(at) = offers.design.iter().position(|x| !x.is_finite()) {
        let row = at / offers.columns.max(1);
        return Err(FitError::NotFinite {
            what: "design",
            row,
        });
    }
    for (row, (&yes, &trials)) in offers.yes.iter().zip(offers.trials).enumerate() {
        if !yes.is_finite() || !trials.is_finite() {
            return Err(FitError::NotFinite {
                what: "offers",
                row,
            });
        }
        if yes < 0.0 || yes > trials {
            return Err(FitError::OutOfRange {
                what: "acceptances",
                row,
                found: yes,
                expected: "between 0 and the row's offers",
            });
        }
    }
    Ok(())
}

/// x'β.
pub(super) fn dot(x: &[f64], beta: &DVector<f64>) -> f64 {
    x.iter().zip(beta.iter()).map(|(a, b)| a * b).sum()
}

/// x'Ax.
fn quadratic(a: &DMatrix<f64>, x: &[f64]) -> f64 {
    let mut sum = 0.0;
    for (column, xj) in a.column_iter().zip(x) {
        let inner: f64 = column.iter().zip(x).map(|(a, xi)| a * xi).sum();
        sum += inner * xj;
    }
    sum
}

/// Adds weight·xx' to the lower triangle.
fn add_outer(sum: &mut DMatrix<f64>, x: &[f64], weight: f64) {
    for (j, xj) in x.iter().enumerate() {
        let by = weight * xj;
        for (i, xi) in x.iter().enumerate().skip(j) {
            sum[(i, j)] += by * xi;
        }
    }
}

/// The whole matrix from its lower triangle.
fn mirror(mut lower: DMatrix<f64>) -> DMatrix<f64> {
    lower.fill_upper_triangle_with_lower_triangle();
    lower
}
