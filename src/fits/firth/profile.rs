//! The profile of l*: its best value with one coefficient held.

use super::likelihood::Scaled;
use super::{Logistic, Offers, Params, limits, no_answer};
use crate::estimate::Estimate;
use crate::fits::dist::normal_margin;
use crate::fits::error::FitError;
use crate::fits::interval::check_level;
use crate::fits::newton::{End, Local, climb};
use crate::fits::roots::{Bracket, find_root};
use nalgebra::DVector;

const WHAT: &str = "profile of the penalised likelihood";

/// The offers with coefficient `j` held, and the top of l*.
struct Held {
    scaled: Scaled,
    j: usize,
    top: f64,
    /// The coefficients at the top, in scale.
    best: DVector<f64>,
    /// How they move with the one held, to first order, in scale.
    drift: DVector<f64>,
    params: Params,
}

/// Both limits of coefficient `j`.
pub(super) fn interval(
    fit: &Logistic,
    offers: &Offers<'_>,
    j: usize,
    level: f64,
    params: Params,
) -> Result<Estimate, FitError> {
    check_level(level)?;
    let held = Held::new(fit, offers, j, params)?;
    let rms = held.scaled.rms[j];
    let reach = normal_margin(level) * fit.covariance[(j, j)].sqrt() * rms;
    let low = held.limit(-reach, normal_margin(level))?;
    let high = held.limit(reach, normal_margin(level))?;
    Ok(Estimate {
        value: fit.coefficients[j],
        low: low / rms,
        high: high / rms,
        level,
        n: fit.offers,
    })
}

/// Twice the loss of l* with coefficient `j` at `value`.
pub(super) fn drop_at(
    fit: &Logistic,
    offers: &Offers<'_>,
    j: usize,
    value: f64,
    params: Params,
) -> Result<f64, FitError> {
    let held = Held::new(fit, offers, j, params)?;
    let loss = held.root_loss(value * held.scaled.rms[j])?;
    Ok(loss * loss)
}

impl Held {
    fn new(
        fit: &Logistic,
        offers: &Offers<'_>,
        j: usize,
        params: Params,
    ) -> Result<Self, FitError> {
        let scaled = Scaled::new(offers)?;
        let fits_together = fit.coefficients.len() == offers.columns;
        if j >= offers.columns || !fits_together {
            return Err(FitError::Shape {
                what: "coefficients of the fit to be profiled",
                expected: offers.columns,
                found: fit.coefficients.len(),
            });
        }
        let best = DVector::from_iterator(
            offers.columns,
            fit.coefficients.iter().zip(&scaled.rms).map(|(b, r)| b * r),
        );
        let top = scaled.firth(&best).map(|l| l.value);
        let of_held = fit.covariance[(j, j)] * scaled.rms[j];
        let drift = DVector::from_iterator(
            offers.columns,
            (0..offers.columns).map(|i| fit.covariance[(i, j)] * scaled.rms[i] / of_held),
        );
        Ok(Self {
            j,
            top: top.ok_or_else(|| no_answer(WHAT, None))?,
            best,
            drift,
            params,
            scaled,
        })
    }

    /// √(2(l*top − l*(held))), coefficient j being at `value` (in scale).
    fn root_loss(&self, value: f64) -> Result<f64, FitError> {
        // From where the others are expected: a column far from 0 on the
        // average (a logarithm of prices) would else start on a cliff.
        let moved = &self.best + &self.drift * (value - self.best[self.j]);
        let start = moved.remove_row(self.j);
        let height = if start.is_empty() {
            let only = DVector::from_element(1, value);
            self.scaled.firth(&only).map(|l| l.value)
        } else {
            climb(
                |rest| self.surface(rest, value),
                start,
                limits(self.params, u32::MAX),
            )
            .filter(|run| run.end == End::Converged)
            .map(|run| run.local.value)
        };
        let height = height.ok_or_else(|| no_answer(WHAT, None))?;
        Ok((2.0 * (self.top - height)).max(0.0).sqrt())
    }

    /// l* as a function of the other coefficients.
    fn surface(&self, rest: &DVector<f64>, value: f64) -> Option<Local> {
        let whole = rest.clone().insert_row(self.j, value);
        let local = self.scaled.firth(&whole)?;
        Some(Local {
            value: local.value,
            gradient: local.gradient.remove_row(self.j),
            information: local.information.remove_row(self.j).remove_column(self.j),
        })
    }

    /// The value on the side of `reach` at which the root loss is `z`:
    /// bracketed by doubling, then by Brent's method on the distance from the
    /// estimate; the root loss is nearly a straight line.
    fn limit(&self, reach: f64, z: f64) -> Result<f64, FitError> {
        let centre = self.best[self.j];
        let mut inside = [0.0, -z];
        let mut outside = [reach, self.root_loss(centre + reach)? - z];
        for _ in 0..12 {
            if outside[1] >= 0.0 {
                break;
            }
            inside = outside;
            let further = outside[0] * 2.0;
            outside = [further, self.root_loss(centre + further)? - z];
        }
        let bracket = Bracket {
            low: inside[0],
            at_low: inside[1],
            high: outside[0],
            at_high: outside[1],
        };
        let away = find_root(bracket, 1e-9, |away| Ok(self.root_loss(centre + away)? - z))?;
        Ok(centre + away)
    }
}
