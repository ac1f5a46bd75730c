//! Exact limits for one month's count.
//!
//! Question: with n offers and the usual rate p, which counts does chance
//! explain? A count x is ordinary where P(X ≤ x) ≥ tail and P(X ≥ x) ≥ tail:
//! each side raises a false alarm with a chance under `tail`, never over.
//!
//! X is binomial(n, p) where p is known. Where the usual rate was itself
//! seen in `of` offers with `yes` yes, X is beta-binomial: p is drawn from
//! Jeffreys' posterior Beta(yes + ½, of − yes + ½), so that a short history
//! gives wider limits.
//!
//! When it misleads: offers that are not independent (one fleet owner, ten
//! vehicles) spread more than this; see [`super::months`].

use crate::estimate::NotEnough;
use crate::fits::dist::{beta_cdf, binomial_cdf};
use crate::fits::error::FitError;
use statrs::function::beta::ln_beta;

/// The usual rate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Usual {
    /// Taken as known.
    Known(f64),
    /// As seen in other months; its own uncertainty counts.
    Seen {
        /// Yes.
        yes: u64,
        /// Offers.
        of: u64,
    },
}

/// The counts that chance explains.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ordinary {
    /// Smallest ordinary count.
    pub low: u64,
    /// Largest ordinary count.
    pub high: u64,
    /// Offers of the month.
    pub of: u64,
    /// The usual rate, as a share.
    pub usual: f64,
}

impl Ordinary {
    /// The smallest ordinary rate.
    pub fn low_rate(&self) -> f64 {
        self.low as f64 / self.of as f64
    }

    /// The largest ordinary rate.
    pub fn high_rate(&self) -> f64 {
        self.high as f64 / self.of as f64
    }
}

/// The ordinary counts of a month of `of` offers, `tail` on each side.
///
/// # Errors
/// [`FitError::NotEnough`] without offers (in the month or in the usual),
/// [`FitError::Parameter`] for a rate or tail out of range.
pub fn limits(of: u64, usual: Usual, tail: f64) -> Result<Ordinary, FitError> {
    let rate = rate(usual)?;
    if !(tail > 0.0 && tail < 0.5) {
        return Err(parameter("tail", tail, "a share between 0 and a half"));
    }
    if of == 0 {
        return Err(NotEnough::new(0, 1, "offers in the month").into());
    }
    let [low, high] = match usual {
        Usual::Known(p) => known(of, p, tail),
        Usual::Seen { yes, of: seen } => predicted(of, yes, seen, tail),
    };
    Ok(Ordinary {
        low,
        high,
        of,
        usual: rate,
    })
}

fn parameter(what: &'static str, found: f64, expected: &'static str) -> FitError {
    FitError::Parameter {
        what,
        found,
        expected,
    }
}

/// The usual rate as a share.
fn rate(usual: Usual) -> Result<f64, FitError> {
    match usual {
        Usual::Known(p) if (0.0..=1.0).contains(&p) => Ok(p),
        Usual::Known(p) => Err(parameter("usual rate", p, "a share from 0 to 1")),
        Usual::Seen { of: 0, .. } => Err(NotEnough::new(0, 1, "offers in other months").into()),
        Usual::Seen { yes, of } if yes > of => Err(parameter(
            "usual yes",
            yes as f64,
            "no more than the offers",
        )),
        Usual::Seen { yes, of } => Ok(yes as f64 / of as f64),
    }
}

/// Ends of the ordinary counts of binomial(n, p).
fn known(n: u64, p: f64, tail: f64) -> [u64; 2] {
    let low = first(n, |x| binomial_cdf(x, n, p) >= tail);
    let beyond = first(n, |x| more_than(x, n, p) < tail);
    [low, beyond]
}

/// P(X > k), as its own tail so that small ones keep their digits.
fn more_than(k: u64, n: u64, p: f64) -> f64 {
    if k >= n {
        return 0.0;
    }
    beta_cdf(p, k as f64 + 1.0, (n - k) as f64)
}

/// The first of 0..=n at which `reached` holds; it holds from there on, and
/// at n.
fn first(n: u64, reached: impl Fn(u64) -> bool) -> u64 {
    let (mut low, mut high) = (0, n);
    while low < high {
        let mid = low + (high - low) / 2;
        if reached(mid) {
            high = mid;
        } else {
            low = mid + 1;
        }
    }
    low
}

/// Ends of the ordinary counts of the beta-binomial.
fn predicted(n: u64, yes: u64, of: u64, tail: f64) -> [u64; 2] {
    let (a, b) = (yes as f64 + 0.5, (of - yes) as f64 + 0.5);
    [climb_to(n, a, b, tail), n - climb_to(n, b, a, tail)]
}

/// The smallest x with P(X ≤ x) ≥ tail, adding up P(X = x) from 0:
/// P(x+1)/P(x) = (n−x)(x+a) / ((x+1)(n−x−1+b)).
fn climb_to(n: u64, a: f64, b: f64, tail: f64) -> u64 {
    let size = n as f64;
    let mut log_chance = ln_beta(a, size + b) - ln_beta(a, b);
    let mut sum = log_chance.exp();
    let mut at = 0;
    while sum < tail && at < n {
        let x = at as f64;
        let ratio = (size - x) * (x + a) / ((x + 1.0) * (size - x - 1.0 + b));
        log_chance += ratio.ln();
        sum += log_chance.exp();
        at += 1;
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;
    use statrs::distribution::{Binomial, Discrete};

    /// The slow twin: adds up the probabilities one by one.
    fn slow(n: u64, p: f64, tail: f64) -> [u64; 2] {
        let law = Binomial::new(p, n).unwrap();
        let at_most = |x: u64| (0..=x).map(|k| law.pmf(k)).sum::<f64>();
        let at_least = |x: u64| (x..=n).map(|k| law.pmf(k)).sum::<f64>();
        let low = (0..=n).find(|x| at_most(*x) >= tail).unwrap();
        let high = (0..=n).rev().find(|x| at_least(*x) >= tail).unwrap();
        [low, high]
    }

    #[test]
    fn agrees_with_adding_up_one_by_one() {
        for n in [1, 2, 7, 20, 61, 250] {
            for p in [0.01, 0.3, 0.5, 0.97] {
                for tail in [0.00135, 0.025, 0.2] {
                    let found = limits(n, Usual::Known(p), tail).unwrap();
                    assert_eq!([found.low, found.high], slow(n, p, tail), "{n} {p} {tail}");
                }
            }
        }
    }

    /// Values: scipy 1.17.1, `betabinom(40, 30.5, 70.5)`: cdf(2) = 0.00055,
    /// cdf(3) = 0.00232; P(X ≥ 23) = 0.00203, P(X ≥ 24) = 0.00085.
    #[test]
    fn a_usual_rate_that_was_only_seen_gives_wider_limits() {
        let seen = Usual::Seen { yes: 30, of: 100 };
        let wide = limits(40, seen, 0.00135).unwrap();
        let narrow = limits(40, Usual::Known(0.3), 0.00135).unwrap();
        assert_eq!([wide.low, wide.high], [3, 23]);
        assert!(wide.low < narrow.low && wide.high > narrow.high);
        let long = Usual::Seen {
            yes: 300_000,
            of: 1_000_000,
        };
        let settled = limits(40, long, 0.00135).unwrap();
        assert_eq!([settled.low, settled.high], [narrow.low, narrow.high]);
    }

    #[test]
    fn a_rate_of_zero_or_one_allows_just_that() {
        let none = limits(30, Usual::Known(0.0), 0.00135).unwrap();
        assert_eq!([none.low, none.high], [0, 0]);
        let all = limits(30, Usual::Known(1.0), 0.00135).unwrap();
        assert_eq!([all.low, all.high], [30, 30]);
        // Seen in few offers, zero is not certain.
        let seen = limits(30, Usual::Seen { yes: 0, of: 20 }, 0.00135).unwrap();
        assert!(seen.high > 0);
    }

    #[test]
    fn nothing_offered_is_said() {
        let missing = limits(0, Usual::Known(0.3), 0.01);
        assert!(matches!(missing, Err(FitError::NotEnough(_))));
        let missing = limits(9, Usual::Seen { yes: 0, of: 0 }, 0.01);
        assert!(matches!(missing, Err(FitError::NotEnough(_))));
        assert!(limits(9, Usual::Known(1.5), 0.01).is_err());
        assert!(limits(9, Usual::Known(0.5), 0.5).is_err());
        assert!(limits(9, Usual::Known(f64::NAN), 0.1).is_err());
    }
}
