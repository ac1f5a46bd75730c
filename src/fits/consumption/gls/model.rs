//! The restricted likelihood of measured jobs and bottles in sigma^2.

use super::chain::BottleRows;
use super::{select, table_right};
use crate::fits::error::FitError;
use crate::fits::positive::ScaledCholesky;
use crate::fits::record::Ended;
use crate::fits::roots::{Bracket, find_root};
use nalgebra::{DMatrix, DVector};

/// Measured jobs and bottles with the columns that are kept.
pub(super) struct Model<'a> {
    pub(super) bottles: &'a BottleRows,
    pub(super) measured: DMatrix<f64>,
    pub(super) measured_count: f64,
    pub(super) kept: &'a [usize],
}

/// The model at one sigma^2.
pub(super) struct State {
    pub(super) sigma2: f64,
    pub(super) beta: DVector<f64>,
    /// X'V^-1 X.
    pub(super) a: DMatrix<f64>,
    /// X'V^-1 y.
    pub(super) right: DVector<f64>,
    pub(super) factor: ScaledCholesky,
    pub(super) p: DMatrix<f64>,
    pub(super) q: DMatrix<f64>,
    pub(super) trace2: f64,
    pub(super) score: f64,
    /// -2 ln of the restricted likelihood, constants apart.
    pub(super) value: f64,
}

pub(super) struct Best {
    pub(super) state: State,
    pub(super) ended: Ended,
}

impl Model<'_> {
    fn at(&self, spread: &[f64], sigma2: f64) -> Result<State, FitError> {
        let lost = || FitError::DidNotConverge {
            what: "spread of the jobs between bottles",
            iterations: 0,
        };
        let b = self.bottles.tables(spread, sigma2).ok_or_else(lost)?;
        let n = self.measured_count;
        let plain = &self.measured / sigma2 + b.plain;
        let once = &self.measured / -(sigma2 * sigma2) + b.once;
        let twice = &self.measured / sigma2.powi(3) + b.twice;
        let a = select(&plain, self.kept);
        let right = table_right(&plain, self.kept);
        let factor = ScaledCholesky::new(&a).ok_or_else(lost)?;
        let beta = factor.solve(&right);
        let last = plain.nrows() - 1;
        let rss = plain[(last, last)] - beta.dot(&right);
        let p = select(&once, self.kept);
        let pull = table_right(&once, self.kept);
        let residual = once[(last, last)] - 2.0 * beta.dot(&pull) + beta.dot(&(&p * &beta));
        Ok(State {
            score: n / sigma2 + b.trace + factor.inverse().component_mul(&p).sum() + residual,
            value: n * sigma2.ln() + b.log_determinant + factor.log_determinant() + rss,
            trace2: n / (sigma2 * sigma2) + b.trace2,
            q: select(&twice, self.kept),
            sigma2,
            beta,
            a,
            right,
            factor,
            p,
        })
    }

    /// The sigma^2 of greatest restricted likelihood, looked for from a
    /// millionth to ten thousand times the crude one.
    pub(super) fn best(&self, spread: &[f64], start: f64) -> Result<Best, FitError> {
        let mut before = self.at(spread, start * 1e-6)?;
        let mut best: Option<State> = None;
        let lowest = before.sigma2;
        for step in 1..=20 {
            let sigma2 = start * 10f64.powf(-6.0 + f64::from(step) / 2.0);
            let here = self.at(spread, sigma2)?;
            if before.score < 0.0 && here.score >= 0.0 {
                let bracket = Bracket {
                    low: before.sigma2,
                    at_low: before.score,
                    high: here.sigma2,
                    at_high: here.score,
                };
                let root = find_root(bracket, 1e-13, |s| Ok(self.at(spread, s)?.score))?;
                let state = self.at(spread, root)?;
                if best.as_ref().is_none_or(|b| state.value < b.value) {
                    best = Some(state);
                }
            }
            before = here;
        }
        let boundary = self.at(spread, lowest)?;
        Ok(match best {
            Some(state) if state.value <= boundary.value => Best {
                state,
                ended: Ended::Converged,
            },
            _ => Best {
                state: boundary,
                ended: Ended::AtBoundary,
            },
        })
    }
}
