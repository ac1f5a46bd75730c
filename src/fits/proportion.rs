//! What share is it, and how sure? Intervals for k successes in n trials, for
//! the difference of two shares, and the limits of a monthly chart.
//!
//! ```text
//! Wilson           (k + z^2/2 -/+ z sqrt(z^2/4 + k (n - k)/n)) / (n + z^2)
//! Clopper-Pearson  the p at which k or more (fewer) has chance alpha/2
//! mid-P            the same with half the chance of k itself
//! difference       Newcombe's hybrid: p1 - p2 with the two Wilson intervals
//!                  squared and added (his method 10; 11 with continuity
//!                  correction)
//! Laney's p'       z_i = (p_i - pbar)/s_i, s_i = sqrt(pbar (1 - pbar)/n_i);
//!                  widening = mean |z_i - z_(i-1)| / 1.128
//! ```
//!
//! Symbols: k successes, n trials, z the normal quantile, shares 0..1. No
//! units. Sources: Newcombe, Statistics in Medicine 1998;17:857-872 and
//! 873-890 (doi:10.1002/(SICI)1097-0258(19980430)17:8<857::AID-SIM777>3.0.CO;2-E,
//! <873::AID-SIM779>3.0.CO;2-I); Laney, Quality Engineering 2002;14:531-537,
//! doi:10.1081/QEN-120003555.
//!
//! It misleads where trials are not independent: jobs of one customer, or a
//! month whose seller was away. Laney's factor shows when they are not.

use crate::estimate::{Estimate, NotEnough};
use crate::fits::dist::{beta_quantile, binomial_cdf, binomial_probability, normal_margin};
use crate::fits::error::FitError;
use crate::fits::interval::{check_level, difference_of_independent};

/// Which interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// Wilson's score interval (Newcombe's method 3): the one to report.
    Wilson,
    /// Wilson with continuity correction (method 4).
    WilsonCorrected,
    /// Clopper and Pearson's exact interval (method 5): never covers too
    /// little, often too much.
    ClopperPearson,
    /// Mid-P (method 6).
    MidP,
}

/// The share of `k` in `n` with its interval.
///
/// # Errors
/// [`FitError::NotEnough`] where n is 0, [`FitError::OutOfRange`] where k > n,
/// [`FitError::Parameter`] for a level outside 0..1.
pub fn share(k: u64, n: u64, method: Method, level: f64) -> Result<Estimate, FitError> {
    check_level(level)?;
    if n == 0 {
        return Err(NotEnough::new(0, 1, "trials").into());
    }
    if k > n {
        return Err(FitError::OutOfRange {
            what: "successes",
            row: 0,
            found: k as f64,
            expected: "at most the number of trials",
        });
    }
    let upper = |k| upper_end(k, n, method, level);
    Ok(Estimate {
        value: k as f64 / n as f64,
        low: if k == 0 { 0.0 } else { 1.0 - upper(n - k) },
        high: if k == n { 1.0 } else { upper(k) },
        level,
        n,
    })
}

/// Wilson's interval: [`share`] by the method to report.
///
/// # Errors
/// As [`share`].
pub fn wilson(k: u64, n: u64, level: f64) -> Result<Estimate, FitError> {
    share(k, n, Method::Wilson, level)
}

/// The difference of the shares k1/n1 - k2/n2 by Newcombe's hybrid interval:
/// method 10 from [`Method::Wilson`], 11 from [`Method::WilsonCorrected`].
/// `n` is n1 + n2.
///
/// # Errors
/// As [`share`].
pub fn difference(
    first: (u64, u64),
    second: (u64, u64),
    method: Method,
    level: f64,
) -> Result<Estimate, FitError> {
    let a = share(first.0, first.1, method, level)?;
    let b = share(second.0, second.1, method, level)?;
    Ok(Estimate {
        n: a.n + b.n,
        ..difference_of_independent(a, b)
    })
}

/// Upper end for k < n; the lower end is its mirror image.
fn upper_end(k: u64, n: u64, method: Method, level: f64) -> f64 {
    let (x, m) = (k as f64, n as f64);
    let tail = (1.0 - level) / 2.0;
    match method {
        Method::Wilson => {
            let z = normal_margin(level);
            (x + z * z / 2.0 + z * (z * z / 4.0 + x * (m - x) / m).sqrt()) / (m + z * z)
        }
        Method::WilsonCorrected => {
            let z = normal_margin(level);
            let p = x / m;
            let root = (z * z + 2.0 - 1.0 / m + 4.0 * p * (m * (1.0 - p) - 1.0)).max(0.0);
            ((2.0 * x + z * z + 1.0 + z * root.sqrt()) / (2.0 * (m + z * z))).min(1.0)
        }
        Method::ClopperPearson => beta_quantile(1.0 - tail, x + 1.0, m - x),
        Method::MidP => mid_p_end(k, n, tail),
    }
}

/// The p at which fewer than k, and half of k itself, has chance `tail`: by
/// bisection, since the chance falls steadily with p.
fn mid_p_end(k: u64, n: u64, tail: f64) -> f64 {
    let chance = |p| binomial_cdf(k, n, p) - 0.5 * binomial_probability(k, n, p);
    let (mut low, mut high) = (k as f64 / n as f64, 1.0);
    for _ in 0..100 {
        let middle = 0.5 * (low + high);
        if chance(middle) > tail {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// The limits within which a month's share lies by chance alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Lower limit, a share.
    pub low: f64,
    /// Upper limit, a share.
    pub high: f64,
}

/// Exact binomial limits for a month of `n` trials about the usual share
/// `usual`, widened by `widening` (1 for none, [`laney_widening`]).
///
/// They are the binomial quantiles at (1 -/+ level)/2, so that by chance alone
/// a month lies beyond them at most 1 - level of the time, whatever n (limits
/// interpolated between counts, as on a funnel, would raise up to twice as
/// many). Each one's distance from `usual` is then multiplied by `widening`
/// and cut to 0..1. `None` where n is 0, or an argument is out of range.
pub fn chart_limits(usual: f64, n: u64, level: f64, widening: f64) -> Option<Limits> {
    if n == 0 || !(0.0..=1.0).contains(&usual) || check_level(level).is_err() {
        return None;
    }
    let tail = (1.0 - level) / 2.0;
    let share = |q| least_count(q, usual, n) as f64 / n as f64;
    let wide = |x: f64| (usual + (x - usual) * widening.max(1.0)).clamp(0.0, 1.0);
    Some(Limits {
        low: wide(share(tail).min(usual)),
        high: wide(share(1.0 - tail).max(usual)),
    })
}

/// The least count with a chance of at least `q` of that many or fewer.
fn least_count(q: f64, p: f64, n: u64) -> u64 {
    let (mut low, mut high) = (0, n);
    while low < high {
        let middle = low + (high - low) / 2;
        if binomial_cdf(middle, n, p) >= q {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    low
}

/// How much wider than chance alone months differ (Laney's sigma_z), from
/// months' counts (k, n) in order; months without trials are passed over.
/// The divisor is 1.128, as Laney and the e-Handbook print it.
///
/// Under 1 the months differ less than chance would make them; [`chart_limits`]
/// never narrows. `None` for fewer than two months, or a usual share of 0 or 1.
pub fn laney_widening(months: &[(u64, u64)]) -> Option<f64> {
    let trials: u64 = months.iter().map(|m| m.1).sum();
    let successes: u64 = months.iter().map(|m| m.0).sum();
    let usual = successes as f64 / trials.max(1) as f64;
    let spread = usual * (1.0 - usual);
    if spread <= 0.0 {
        return None;
    }
    let z: Vec<f64> = (months.iter())
        .filter(|m| m.1 > 0)
        .map(|&(k, n)| (k as f64 / n as f64 - usual) / (spread / n as f64).sqrt())
        .collect();
    let moves = z.len().checked_sub(1).filter(|m| *m > 0)?;
    let range: f64 = z.windows(2).map(|w| (w[1] - w[0]).abs()).sum();
    Some(range / moves as f64 / 1.128)
}

/// The limits of the textbook p chart: `usual` -/+ three standard deviations
/// of a month's share, not below 0 or above 1. Kept to hold the chart against
/// published examples; [`chart_limits`] is what the review draws.
pub fn three_sigma_limits(usual: f64, n: u64) -> Option<Limits> {
    if n == 0 || !(0.0..=1.0).contains(&usual) {
        return None;
    }
    let margin = 3.0 * (usual * (1.0 - usual) / n as f64).sqrt();
    Some(Limits {
        low: (usual - margin).max(0.0),
        high: (usual + margin).min(1.0),
    })
}

/// The level at which [`chart_limits`] stand where a three-sigma chart's
/// would: 0.9973.
pub fn three_sigma_level() -> f64 {
    1.0 - 2.0 * crate::fits::dist::normal_cdf(-3.0)
}
