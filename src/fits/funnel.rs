//! Exact funnel limits: how far from the shop's rate may n offers lie?
//!
//! Question: of people or films with different numbers of offers, which lie
//! outside what chance makes of one common rate? No ranks.
//!
//! Spiegelhalter (Statistics in Medicine 2005;24:1185-1202,
//! doi:10.1002/sim.1970), appendix A.1.1, item 4: r_p = the smallest r with
//! P(R ≤ r) ≥ p for R binomial(n, θ), α = (P(R ≤ r_p) − p)/P(R = r_p), limit
//! = (r_p − α)/n. θ is the target as a share, n offers, p a tail area. The
//! interpolation makes a smooth line of a staircase; at small n it may pass
//! 0 or 1, where the drawn limit is cut.
//!
//! When it misleads: a common rate that was never common (different work,
//! different customers); many points, some of which lie out by chance.

use crate::estimate::NotEnough;
use crate::fits::dist::{binomial_cdf, binomial_probability};
use crate::fits::error::FitError;

/// Tail area of the inner limits: 95 % lie within.
pub const ALERT_TAIL: f64 = 0.025;
/// Tail area of the outer limits: 99.8 % lie within.
pub const ALARM_TAIL: f64 = 0.001;

/// The limits at one number of offers, as shares cut to 0..1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Offers.
    pub n: u64,
    /// Lower 95 % limit.
    pub alert_low: f64,
    /// Upper 95 % limit.
    pub alert_high: f64,
    /// Lower 99.8 % limit.
    pub alarm_low: f64,
    /// Upper 99.8 % limit.
    pub alarm_high: f64,
}

/// The interpolated limit at tail area `p`, not cut: it may be below 0 or
/// above 1 at small `n`.
///
/// # Errors
/// [`FitError::Parameter`] for a target or tail that is not strictly between
/// 0 and 1, [`FitError::NotEnough`] without offers.
pub fn interpolated(target: f64, n: u64, p: f64) -> Result<f64, FitError> {
    for (what, found) in [("target", target), ("tail area", p)] {
        if !(found > 0.0 && found < 1.0) {
            return Err(FitError::Parameter {
                what,
                found,
                expected: "a share between 0 and 1",
            });
        }
    }
    if n == 0 {
        return Err(NotEnough::new(0, 1, "offers").into());
    }
    let r = quantile(target, n, p);
    let upto = binomial_cdf(r, n, target);
    // Rounding must not carry α out of its range where P(R = r) is tiny.
    let alpha = ((upto - p) / binomial_probability(r, n, target)).clamp(0.0, 1.0);
    Ok((r as f64 - alpha) / n as f64)
}

/// The smallest r with P(R ≤ r) ≥ p.
fn quantile(target: f64, n: u64, p: f64) -> u64 {
    let (mut low, mut high) = (0, n);
    while low < high {
        let mid = low + (high - low) / 2;
        if binomial_cdf(mid, n, target) >= p {
            high = mid;
        } else {
            low = mid + 1;
        }
    }
    low
}

/// The limits around `target` at each of `sizes`.
///
/// # Errors
/// As [`interpolated`].
pub fn limits(target: f64, sizes: &[u64]) -> Result<Vec<Limits>, FitError> {
    let cut = |n, p| interpolated(target, n, p).map(|l| l.clamp(0.0, 1.0));
    let at = |&n: &u64| {
        Ok(Limits {
            n,
            alert_low: cut(n, ALERT_TAIL)?,
            alert_high: cut(n, 1.0 - ALERT_TAIL)?,
            alarm_low: cut(n, ALARM_TAIL)?,
            alarm_high: cut(n, 1.0 - ALARM_TAIL)?,
        })
    };
    sizes.iter().map(at).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_close_in_as_offers_grow_and_stay_within_zero_and_one() {
        let sizes: Vec<u64> = (1..400).collect();
        let lines = limits(0.3, &sizes).unwrap();
        for at in &lines {
            assert!(0.0 <= at.alarm_low && at.alarm_low <= at.alert_low);
            assert!(at.alert_low < 0.3 && 0.3 < at.alert_high, "{at:?}");
            assert!(at.alert_high <= at.alarm_high && at.alarm_high <= 1.0);
        }
        assert!(lines[398].alarm_high < lines[20].alarm_high);
    }

    #[test]
    fn bad_targets_are_refused() {
        assert!(limits(0.0, &[10]).is_err());
        assert!(limits(f64::NAN, &[10]).is_err());
        assert!(matches!(limits(0.3, &[0]), Err(FitError::NotEnough(_))));
    }
}
