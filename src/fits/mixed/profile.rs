//! Profile-likelihood intervals of tau and sigma.
//!
//! With D(sigma^2, v) = M ln(2 pi sigma^2) + logarithms(v) + rss(v)/sigma^2, M
//! being N - p (REML) or N (ML), the interval of a parameter holds the values
//! at which D, minimised over the other, stays within the chi-squared quantile
//! (1 degree of freedom) of its least. tau is fixed by sigma^2 = tau^2/v. The
//! ends are roots of the likelihood itself, not of a spline through it (lme4's
//! ends differ from exact ones in the fifth digit).

use super::criterion::Point;
use super::{Criterion, GroupStatistics, MixedFit};
use crate::estimate::Estimate;
use crate::fits::dist::chi_squared_quantile;
use crate::fits::error::FitError;
use crate::fits::roots::{Bracket, find_root};

/// Relative tolerance on the ends.
const TOLERANCE: f64 = 1e-10;

/// Relative tolerance on the inner minimum: D is flat there, so that it holds
/// to the square of this.
const INNER_TOLERANCE: f64 = 1e-6;

/// Steps of the search for a bracket, each by a factor of 2 or more.
const MOST_STEPS: u32 = 60;

/// Which parameter is held.
#[derive(Debug, Clone, Copy)]
enum Held {
    /// sigma^2.
    Residual(f64),
    /// tau^2 > 0.
    Group(f64),
}

struct Profile<'a> {
    statistics: &'a GroupStatistics,
    kind: Criterion,
    /// D may rise to this.
    limit: f64,
    /// Where the last inner minimum lay: the next is near it.
    near: f64,
}

pub(super) fn group_sd(
    statistics: &GroupStatistics,
    kind: Criterion,
    fit: &MixedFit,
    level: f64,
    n: u64,
) -> Result<Estimate, FitError> {
    let value = fit.group_variance.sqrt();
    let mut profile = Profile::new(statistics, kind, fit, level);
    let at_zero = Point::at(statistics, kind, 0.0)?.value - profile.limit;
    let low = if at_zero <= 0.0 {
        0.0
    } else {
        let at_value = fit.criterion - profile.limit;
        let bracket = Bracket {
            low: 0.0,
            at_low: at_zero,
            high: value,
            at_high: at_value,
        };
        find_root(bracket, TOLERANCE, |tau| match tau {
            0.0 => Ok(at_zero),
            _ => profile.over(Held::Group(tau * tau)),
        })?
    };
    profile.near = start(fit);
    let first = if value > 0.0 {
        value
    } else {
        0.1 * fit.residual_variance.sqrt()
    };
    let high = profile.outer_end(value, first, |tau| Held::Group(tau * tau), fit.criterion)?;
    Ok(Estimate {
        value,
        low,
        high,
        level,
        n,
    })
}

pub(super) fn residual_sd(
    statistics: &GroupStatistics,
    kind: Criterion,
    fit: &MixedFit,
    level: f64,
) -> Result<Estimate, FitError> {
    let value = fit.residual_variance.sqrt();
    let held = |sigma: f64| Held::Residual(sigma * sigma);
    let mut profile = Profile::new(statistics, kind, fit, level);
    let high = profile.outer_end(value, value * 0.1, held, fit.criterion)?;
    profile.near = start(fit);
    // Down from the value by the inverse, so that one search serves both.
    let inverse = |up: f64| held(1.0 / up);
    let low = 1.0 / profile.outer_end(1.0 / value, 0.1 / value, inverse, fit.criterion)?;
    Ok(Estimate {
        value,
        low,
        high,
        level,
        n: statistics.rows(),
    })
}

/// Ratio to start the inner search from.
fn start(fit: &MixedFit) -> f64 {
    (fit.group_variance / fit.residual_variance).max(1e-3)
}

impl<'a> Profile<'a> {
    fn new(statistics: &'a GroupStatistics, kind: Criterion, fit: &MixedFit, level: f64) -> Self {
        Self {
            statistics,
            kind,
            limit: fit.criterion + chi_squared_quantile(level, 1.0),
            near: start(fit),
        }
    }

    /// The end above `from`: steps out until D is over the limit, then solves.
    fn outer_end(
        &mut self,
        from: f64,
        first_step: f64,
        held: impl Fn(f64) -> Held,
        at_estimate: f64,
    ) -> Result<f64, FitError> {
        let mut low = (from, at_estimate - self.limit);
        let mut step = first_step;
        for _ in 0..MOST_STEPS {
            let x = from + step;
            let over = self.over(held(x))?;
            if over > 0.0 {
                let bracket = Bracket {
                    low: low.0,
                    at_low: low.1,
                    high: x,
                    at_high: over,
                };
                return find_root(bracket, TOLERANCE, |x| self.over(held(x)));
            }
            low = (x, over);
            step *= 2.0;
        }
        Err(FitError::DidNotConverge {
            what: "search for the end of an interval",
            iterations: MOST_STEPS,
        })
    }

    /// D, minimised over the other parameter, less the limit.
    fn over(&mut self, held: Held) -> Result<f64, FitError> {
        let v = self.best_ratio(held)?;
        self.near = v.max(1e-6);
        let point = Point::at(self.statistics, self.kind, v)?;
        let sigma2 = held.sigma2(v);
        let scale = (2.0 * std::f64::consts::PI * sigma2).ln();
        let d = point.divisor * scale + point.logarithms + point.rss / sigma2;
        Ok(d - self.limit)
    }

    /// The v that minimises D, walking out from where the last one lay.
    fn best_ratio(&self, held: Held) -> Result<f64, FitError> {
        let slope = |v: f64| self.slope(held, v);
        let mut here = (self.near, slope(self.near)?);
        for _ in 0..MOST_STEPS {
            // Below 1e-12 the ratio is zero to any figure that is shown.
            if here.1 > 0.0 && here.0 < 1e-12 && matches!(held, Held::Residual(_)) {
                return Ok(0.0);
            }
            let v = if here.1 > 0.0 {
                here.0 / 4.0
            } else {
                here.0 * 4.0
            };
            let next = (v, slope(v)?);
            if here.1 * next.1 <= 0.0 {
                let bracket = Bracket {
                    low: here.0,
                    at_low: here.1,
                    high: next.0,
                    at_high: next.1,
                };
                return find_root(bracket, INNER_TOLERANCE, slope);
            }
            here = next;
        }
        Err(FitError::DidNotConverge {
            what: "profile of a standard deviation",
            iterations: MOST_STEPS,
        })
    }

    /// dD/dv with one parameter held.
    fn slope(&self, held: Held, v: f64) -> Result<f64, FitError> {
        let point = Point::at(self.statistics, self.kind, v)?;
        let slope = point.slope(self.statistics, self.kind);
        Ok(match held {
            Held::Residual(sigma2) => slope.logarithms - slope.rss_fall / sigma2,
            Held::Group(tau2) => {
                slope.logarithms - point.divisor / v + (point.rss - v * slope.rss_fall) / tau2
            }
        })
    }
}

impl Held {
    fn sigma2(self, v: f64) -> f64 {
        match self {
            Self::Residual(sigma2) => sigma2,
            Self::Group(tau2) => tau2 / v,
        }
    }
}
