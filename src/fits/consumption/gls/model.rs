//! The restricted likelihood of measured jobs and bottles in sigma^2.

use super::chain::{BottleRows, Splits};
use super::{select, spread_vector, table_right};
use crate::fits::collinear::Rank;
use crate::fits::consumption::active_set::not_negative;
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
    pub(super) rank: &'a Rank,
}

/// Most steps of [`Model::follow`].
const MOST_STEPS: u32 = 40;

/// Relative spread of sigma^2 under which [`Model::follow`] is trusted.
const WELL_KNOWN: f64 = 0.1;

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

impl State {
    /// s and c_f, none below 0. No job takes less than nothing: at an
    /// unconstrained s of -7 mL (1 of 130 shops of 17 bottles) a small
    /// straddling job would have no spread at all and tie its bottles together
    /// without error.
    pub(super) fn used(&self) -> DVector<f64> {
        not_negative(&self.a, &self.right)
    }

    /// tr(V^-1 D V^-1 D) - 2 tr(Phi Q) + tr(Phi P Phi P): 2/w, the expected
    /// slope of the score.
    pub(super) fn information(&self, phi: &DMatrix<f64>) -> f64 {
        let moved = phi * &self.p;
        self.trace2 - 2.0 * (phi * &self.q).trace() + (&moved * &moved).trace()
    }
}

impl Model<'_> {
    /// beta, with zeros for columns that are not kept.
    pub(super) fn whole(&self, beta: &DVector<f64>) -> Vec<f64> {
        spread_vector(beta, self.rank, self.bottles.columns())
    }

    /// From a first answer by Fisher's scoring: sigma^2 and the straddling
    /// jobs' spread, which follows the fitted use, both take one step at a
    /// time until they stand still; with the steps taken. `None` where they do
    /// not, or where sigma^2 is not known to a tenth: with fewer rows the
    /// likelihood may have two peaks, and [`best`](Self::best) must look at
    /// both. Where it is known to a tenth a second peak, decades away, is none.
    pub(super) fn follow(&self, used: &DVector<f64>, sigma2: f64) -> Option<(Best, u32)> {
        let (mut used, mut sigma2) = (used.clone(), sigma2);
        for steps in 1..=MOST_STEPS {
            let splits = self.bottles.splits(&self.whole(&used));
            let state = self.at(&splits, sigma2).ok()?;
            let information = state.information(&state.factor.inverse());
            let change = state.score / information;
            let known = (2.0 / information).sqrt() < WELL_KNOWN * sigma2;
            let now = state.used();
            let still = (&now - &used).amax() <= 1e-10 * (now.amax() + 1e-12);
            if still && change.abs() <= 1e-10 * sigma2 {
                let ended = Ended::Converged;
                return known.then_some((Best { state, ended }, steps));
            }
            let next = sigma2 - change;
            if !(next > 0.0 && next.is_finite()) {
                return None;
            }
            (used, sigma2) = (now, next);
        }
        None
    }

    fn at(&self, splits: &Splits, sigma2: f64) -> Result<State, FitError> {
        let lost = || FitError::DidNotConverge {
            what: "spread of the jobs between bottles",
            iterations: 0,
        };
        let b = self.bottles.tables(splits, sigma2).ok_or_else(lost)?;
        let n = self.measured_count;
        let plain = &self.measured / sigma2 + b.plain;
        let once = &self.measured / -(sigma2 * sigma2) + b.once;
        let twice = &self.measured / sigma2.powi(3) + b.twice;
        let a = select(&plain, &self.rank.kept);
        let right = table_right(&plain, &self.rank.kept);
        let factor = ScaledCholesky::new(&a).ok_or_else(lost)?;
        let beta = factor.solve(&right);
        let last = plain.nrows() - 1;
        let rss = plain[(last, last)] - beta.dot(&right);
        let p = select(&once, &self.rank.kept);
        let pull = table_right(&once, &self.rank.kept);
        let residual = once[(last, last)] - 2.0 * beta.dot(&pull) + beta.dot(&(&p * &beta));
        Ok(State {
            score: n / sigma2 + b.trace + factor.inverse().component_mul(&p).sum() + residual,
            value: n * sigma2.ln() + b.log_determinant + factor.log_determinant() + rss,
            trace2: n / (sigma2 * sigma2) + b.trace2,
            q: select(&twice, &self.rank.kept),
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
    pub(super) fn best(&self, splits: &Splits, start: f64) -> Result<Best, FitError> {
        let mut before = self.at(splits, start * 1e-6)?;
        let mut best: Option<State> = None;
        let lowest = before.sigma2;
        for step in 1..=20 {
            let sigma2 = start * 10f64.powf(-6.0 + f64::from(step) / 2.0);
            let here = self.at(splits, sigma2)?;
            if before.score < 0.0 && here.score >= 0.0 {
                let bracket = Bracket {
                    low: before.sigma2,
                    at_low: before.score,
                    high: here.sigma2,
                    at_high: here.score,
                };
                let root = find_root(bracket, 1e-13, |s| Ok(self.at(splits, s)?.score))?;
                let state = self.at(splits, root)?;
                if best.as_ref().is_none_or(|b| state.value < b.value) {
                    best = Some(state);
                }
            }
            before = here;
        }
        let boundary = self.at(splits, lowest)?;
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
