//! How many times as often does something happen in one group as in another?
//!
//! With x₁ of n₁ and x₀ of n₀, φ = p₁/p₀ is estimated by (x₁/n₁)/(x₀/n₀). Its
//! interval holds every φ that the score test does not refuse (Koopman,
//! Biometrics 1984;40:513-517, doi:10.2307/2531405): with the most likely
//! p₀, p₁ under p₁ = φ p₀,
//!
//! ```text
//! p1 = (φ(n1 + x0) + x1 + n0 − √((φ(n1 + x0) + x1 + n0)² − 4 φ (n1 + n0)(x1 + x0))) / 2(n1 + n0)
//! p0 = p1/φ
//! U(φ) = (x1 − n1 p1)²/(n1 p1 (1 − p1)) + (x0 − n0 p0)²/(n0 p0 (1 − p0)) ≤ z²
//! ```
//!
//! It holds its level for small counts, where the interval on the logarithm
//! (Katz) does not, and has a lower end of 0 where x₁ = 0.
//!
//! When it misleads: groups that differ in more than what names them.

use crate::estimate::{Estimate, NotEnough};
use crate::fits::dist::normal_margin;
use crate::fits::error::FitError;
use crate::fits::interval::check_level;
use crate::fits::roots::{Bracket, find_root};

/// How often something happened among so many.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Count {
    /// How often.
    pub yes: u64,
    /// Among how many.
    pub of: u64,
}

/// The search for an end stays within this factor of 1.
const FARTHEST: f64 = 1e9;

/// Risk in `a` over risk in `b`; `n` is both groups together.
///
/// # Errors
/// [`FitError::NotEnough`] for an empty group, or nothing in `b` (the ratio
/// has then no upper end); [`FitError::OutOfRange`] for more than there are;
/// [`FitError::Parameter`] for a level outside (0, 1).
pub fn risk_ratio(a: Count, b: Count, level: f64) -> Result<Estimate, FitError> {
    check_level(level)?;
    for (row, c) in [a, b].into_iter().enumerate() {
        if c.yes > c.of {
            return Err(FitError::OutOfRange {
                what: "counts of a group",
                row,
                found: c.yes as f64,
                expected: "no more than the group holds",
            });
        }
    }
    if a.of.min(b.of) == 0 {
        return Err(NotEnough::new(0, 1, "jobs in each group").into());
    }
    if b.yes == 0 {
        return Err(NotEnough::new(0, 1, "such jobs in the group compared with").into());
    }
    let share = |c: Count| c.yes as f64 / c.of as f64;
    let value = share(a) / share(b);
    let limit = normal_margin(level).powi(2);
    let excess = |log: f64| score(a, b, log.exp()) - limit;
    let (low, high) = (-FARTHEST.ln(), FARTHEST.ln());
    let middle = if value > 0.0 { value.ln() } else { low };
    let end = |from: f64, to: f64| -> Result<f64, FitError> {
        let bracket = Bracket {
            low: from,
            at_low: excess(from),
            high: to,
            at_high: excess(to),
        };
        find_root(bracket, 1e-12, |log| Ok(excess(log))).map(f64::exp)
    };
    Ok(Estimate {
        value,
        low: if a.yes == 0 { 0.0 } else { end(low, middle)? },
        high: end(middle, high)?,
        level,
        n: a.of + b.of,
    })
}

/// U(φ).
fn score(a: Count, b: Count, phi: f64) -> f64 {
    let (x1, n1) = (a.yes as f64, a.of as f64);
    let (x0, n0) = (b.yes as f64, b.of as f64);
    let n = n1 + n0;
    let half = phi * (n1 + x0) + x1 + n0;
    // The smaller root, written so that nothing cancels.
    let root = (half * half - 4.0 * phi * n * (x1 + x0)).max(0.0).sqrt();
    let p1 = (2.0 * phi * (x1 + x0) / (half + root)).min(1.0);
    let p0 = (p1 / phi).min(1.0);
    // A group whose count is just what p says adds nothing, p = 1 included.
    let part = |x: f64, n: f64, p: f64| {
        let gap = x - n * p;
        if gap == 0.0 {
            return 0.0;
        }
        gap * gap / (n * p * (1.0 - p))
    };
    part(x1, n1, p1) + part(x0, n0, p0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ratio(a: [u64; 2], b: [u64; 2]) -> Estimate {
        let count = |[yes, of]: [u64; 2]| Count { yes, of };
        risk_ratio(count(a), count(b), 0.95).unwrap()
    }

    /// Koopman's own example, 36 of 40 against 16 of 80: 2.94 to 7.15.
    #[test]
    fn the_published_example() {
        let r = ratio([36, 40], [16, 80]);
        assert!((r.value - 4.5).abs() < 1e-12);
        assert!(
            (r.low - 2.94).abs() < 5e-3 && (r.high - 7.15).abs() < 5e-3,
            "{r:?}"
        );
    }

    /// The ends by their definition: the plain two-group score test, with the
    /// constrained shares found by trying, is z² there.
    #[test]
    fn the_ends_are_where_the_score_test_turns() {
        let (x1, n1, x0, n0) = (7.0, 30.0, 9.0, 110.0);
        let r = ratio([7, 30], [9, 110]);
        for phi in [r.low, r.high] {
            let likelihood = |p0: f64| {
                let p1 = phi * p0;
                x1 * p1.ln()
                    + (n1 - x1) * (1.0 - p1).ln()
                    + x0 * p0.ln()
                    + (n0 - x0) * (1.0 - p0).ln()
            };
            let top = (1.0 / phi).min(1.0);
            let (mut a, mut b) = (1e-9, top - 1e-9);
            for _ in 0..200 {
                let (c, d) = (a + (b - a) * 0.382, a + (b - a) * 0.618);
                if likelihood(c) > likelihood(d) {
                    b = d
                } else {
                    a = c
                }
            }
            let p0 = f64::midpoint(a, b);
            let p1 = phi * p0;
            let u = (x1 - n1 * p1).powi(2) / (n1 * p1 * (1.0 - p1))
                + (x0 - n0 * p0).powi(2) / (n0 * p0 * (1.0 - p0));
            assert!((u - 3.841_458_820_694_124).abs() < 1e-4, "{phi}: {u}");
        }
    }

    #[test]
    fn nothing_in_a_group_has_one_end_or_none() {
        let none = ratio([0, 20], [5, 100]);
        assert_eq!((none.value, none.low), (0.0, 0.0));
        assert!(none.high > 1.0 && none.high < 10.0, "{none:?}");
        let count = |yes, of| Count { yes, of };
        assert!(matches!(
            risk_ratio(count(3, 20), count(0, 9), 0.95),
            Err(FitError::NotEnough(_))
        ));
        assert!(matches!(
            risk_ratio(count(0, 0), count(1, 9), 0.95),
            Err(FitError::NotEnough(_))
        ));
        assert!(risk_ratio(count(3, 2), count(1, 9), 0.95).is_err());
        let all = ratio([5, 5], [9, 9]);
        assert!(all.low < 1.0 && all.high > 1.0, "{all:?}");
    }
}
