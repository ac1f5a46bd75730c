//! The fit itself: weighted least squares of measured jobs, or generalised
//! least squares where bottle rows join them.
//!
//! With V = sigma^2 D + K, D the spread of the jobs themselves (A_i for a
//! measured one) and K the spread of straddling jobs, sigma^2 is the root of
//! the REML score, K being taken at the fitted use, again and again until both
//! stand still. With Phi = (X'V^-1 X)^-1, P = -X'V^-1 D V^-1 X and Q = X'V^-1 D
//! V^-1 D V^-1 X:
//!
//! ```text
//! score      = tr(V^-1 D) + tr(Phi P) - r'V^-1 D V^-1 r
//! 1/w        = 1/2 [tr(V^-1 D V^-1 D) - 2 tr(Phi Q) + tr(Phi P Phi P)]
//! covariance = Phi + 2 w Phi (Q - P Phi P) Phi
//! df(l)      = 2 (l'Phi l)^2 / (w (l'Phi P Phi l)^2)
//! ```
//!
//! which is Kenward and Roger's rule (1997, doi:10.2307/2533558) for one
//! variance. Without bottle rows K is zero, the score gives rss/(n - p), and
//! the rest the usual covariance with n - p degrees of freedom exactly.

use super::active_set::not_negative;
use crate::fits::collinear::Rank;
use crate::fits::error::FitError;
use crate::fits::linear::{Design, LeastSquares};
use crate::fits::positive::ScaledCholesky;
use crate::fits::record::Ended;
use nalgebra::{DMatrix, DVector};

mod chain;
mod fitted;
mod model;
mod rows;

pub(super) use fitted::{Fitted, Spread};
pub(super) use rows::Rows;

use chain::BottleRows;
use model::Model;

/// Rounds of K after which the search ends.
const MOST_ROUNDS: u32 = 100;

/// Rounds in which the fitted use is taken over as it is.
const FULL_STEPS: u32 = 20;

fn dot(x: &[f64], beta: &[f64]) -> f64 {
    x.iter().zip(beta).map(|(a, b)| a * b).sum()
}

/// Fits the rows; `None` where no degree of freedom is left.
pub(super) fn fit(rows: &Rows) -> Result<Option<Fitted>, FitError> {
    let measured = rows.measured_table();
    let p = rows.columns;
    // Every row weighted by its area, straddles halved.
    let crude = match &rows.bottles {
        None => measured.clone(),
        Some(bottles) => &measured + bottles.crude_table(),
    };
    let rank = Rank::of_cross_products(&crude.view((0, 0), (p, p)).into_owned());
    if rank.kept.is_empty() || rows.count() <= rank.kept.len() as u64 {
        return Ok(None);
    }
    match &rows.bottles {
        None => measured_alone(rows, rank, &measured).map(Some),
        Some(bottles) => with_bottles(rows, bottles, rank, measured, &crude).map(Some),
    }
}

fn measured_alone(rows: &Rows, rank: Rank, table: &DMatrix<f64>) -> Result<Fitted, FitError> {
    let design: Vec<f64> = (rows.x.chunks_exact(rows.columns))
        .flat_map(|x| rank.kept.iter().map(|j| x[*j]))
        .collect();
    let weights: Vec<f64> = rows.area.iter().map(|a| 1.0 / a).collect();
    let design = Design::new(&design, rank.kept.len())?;
    let solved = LeastSquares::new(design, &rows.used)?
        .weighted(&weights)?
        .fit()?;
    let df = solved.degrees_of_freedom;
    let sigma2 = solved.residual_squares / df as f64;
    let beta = DVector::from_vec(solved.coefficients);
    let unit = solved.unscaled_covariance;
    let value = not_negative(&select(table, &rank.kept), &table_right(table, &rank.kept));
    Ok(Fitted {
        beta: spread_vector(&beta, &rank, rows.columns),
        value: spread_vector(&value, &rank, rows.columns),
        sigma2,
        df,
        iterations: 0,
        ended: Ended::Direct,
        covariance: spread_matrix(&(&unit * sigma2), &rank, rows.columns),
        plain: spread_matrix(&(&unit * sigma2), &rank, rows.columns),
        slope: spread_matrix(&-unit, &rank, rows.columns),
        variance_of_sigma2: 2.0 * sigma2 * sigma2 / df as f64,
        rank,
    })
}

fn with_bottles(
    rows: &Rows,
    bottles: &BottleRows,
    rank: Rank,
    measured: DMatrix<f64>,
    crude: &DMatrix<f64>,
) -> Result<Fitted, FitError> {
    let model = Model {
        bottles,
        measured,
        measured_count: rows.measured_count() as f64,
        kept: &rank.kept,
    };
    let df = rows.count() - rank.kept.len() as u64;
    let (mut beta, start) = crude_fit(crude, &rank.kept, df)?;
    let mut rounds = 0;
    let (state, ended) = loop {
        rounds += 1;
        let full = spread_vector(&beta, &rank, rows.columns);
        let spread = bottles.spread(&full);
        let found = model.best(&spread, start)?;
        let moved = (&found.state.beta - &beta).amax();
        if moved <= 1e-10 * (found.state.beta.amax() + 1e-12) {
            break (found.state, found.ended);
        }
        if rounds == MOST_ROUNDS {
            break (found.state, Ended::OutOfIterations);
        }
        // Full steps settle in 5 to 10 rounds; with 7 bottles they can swing
        // between two answers, and half steps end that.
        let step = if rounds <= FULL_STEPS { 1.0 } else { 0.5 };
        beta += (&found.state.beta - &beta) * step;
    };
    let phi = state.factor.inverse();
    let moved = &phi * &state.p;
    let w = 2.0 / (state.trace2 - 2.0 * (&phi * &state.q).trace() + (&moved * &moved).trace());
    let w = if w.is_finite() && w > 0.0 { w } else { 0.0 };
    let added = &phi * (&state.q - &state.p * &phi * &state.p) * &phi * w;
    let value = not_negative(&state.a, &state.right);
    let all = rows.columns;
    Ok(Fitted {
        value: spread_vector(&value, &rank, all),
        beta: spread_vector(&state.beta, &rank, all),
        sigma2: state.sigma2,
        df,
        iterations: rounds,
        ended,
        covariance: spread_matrix(&(&phi + (&added + added.transpose())), &rank, all),
        slope: spread_matrix(&(&moved * &phi), &rank, all),
        plain: spread_matrix(&phi, &rank, all),
        variance_of_sigma2: w,
        rank,
    })
}

/// beta and a first sigma^2 with the rows taken as independent.
fn crude_fit(
    crude: &DMatrix<f64>,
    kept: &[usize],
    df: u64,
) -> Result<(DVector<f64>, f64), FitError> {
    let right = table_right(crude, kept);
    let factor = ScaledCholesky::new(&select(crude, kept)).ok_or_else(|| FitError::Collinear {
        columns: kept.to_vec(),
    })?;
    let beta = factor.solve(&right);
    let last = crude.nrows() - 1;
    let left = crude[(last, last)] - beta.dot(&right);
    let floor = 1e-12 * crude[(last, last)];
    Ok((beta, left.max(floor) / df as f64))
}

fn select(table: &DMatrix<f64>, kept: &[usize]) -> DMatrix<f64> {
    DMatrix::from_fn(kept.len(), kept.len(), |i, j| table[(kept[i], kept[j])])
}

fn table_right(table: &DMatrix<f64>, kept: &[usize]) -> DVector<f64> {
    let last = table.ncols() - 1;
    DVector::from_fn(kept.len(), |i, _| table[(kept[i], last)])
}

fn spread_vector(part: &DVector<f64>, rank: &Rank, columns: usize) -> Vec<f64> {
    let mut whole = vec![0.0; columns];
    for (i, j) in rank.kept.iter().enumerate() {
        whole[*j] = part[i];
    }
    whole
}

fn spread_matrix(part: &DMatrix<f64>, rank: &Rank, columns: usize) -> DMatrix<f64> {
    let mut whole = DMatrix::zeros(columns, columns);
    for (a, i) in rank.kept.iter().enumerate() {
        for (b, j) in rank.kept.iter().enumerate() {
            whole[(*i, *j)] = part[(a, b)];
        }
    }
    whole
}
