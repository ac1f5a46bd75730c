//! The density of one person's rate, on points even in the arcsine of its
//! root (there a binomial's spread is nearly the same everywhere).

use super::Count;
use super::grid::Common;
use crate::fits::dist::beta_cdf;
use statrs::function::beta::ln_beta;
use std::f64::consts::FRAC_PI_2;

/// Points.
const POINTS: usize = 601;
/// Standard deviations on each side.
const REACH: f64 = 9.0;

/// The density as running shares.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Density {
    /// The rates, ascending.
    at: Vec<f64>,
    /// P(rate ≤ at).
    below: Vec<f64>,
    pub(super) mean: f64,
    variance: f64,
}

/// A beta of the mixture.
struct Part {
    weight: f64,
    a: f64,
    b: f64,
    log_norm: f64,
}

impl Density {
    pub(super) fn new(count: Count, common: &Common) -> Self {
        let (x, rest) = (count.yes as f64, (count.of - count.yes) as f64);
        let part = |p: &super::grid::Point| {
            let [a, b] = p.shapes();
            let (a, b) = (a + x, b + rest);
            Part {
                weight: p.weight,
                a,
                b,
                log_norm: ln_beta(a, b),
            }
        };
        let parts: Vec<Part> = common.for_one.iter().map(part).collect();
        let [mean, variance] = moments(&parts);
        let [from, to] = range(mean, variance);
        let step = (to - from) / (POINTS - 1) as f64;
        let angle = |i: usize| from + step * i as f64;
        let at: Vec<f64> = (0..POINTS)
            .map(|i| (FRAC_PI_2 * angle(i)).sin().powi(2))
            .collect();
        let heights: Vec<f64> = at.iter().map(|p| height(&parts, *p)).collect();
        Self {
            below: running(&heights, ends(&parts, &at)),
            at,
            mean,
            variance,
        }
    }

    /// Standard deviation.
    #[cfg(test)]
    pub(super) fn sd(&self) -> f64 {
        self.variance.sqrt()
    }

    /// P(rate > `rate`).
    pub(super) fn above(&self, rate: f64) -> f64 {
        let after = self.at.partition_point(|p| *p <= rate);
        match (after.checked_sub(1), self.at.get(after)) {
            (None, _) => 1.0,
            (_, None) => 0.0,
            (Some(i), Some(next)) => {
                let share = (rate - self.at[i]) / (next - self.at[i]);
                1.0 - (self.below[i] + share * (self.below[after] - self.below[i]))
            }
        }
    }

    /// The rate with `share` of the density below it.
    pub(super) fn quantile(&self, share: f64) -> f64 {
        let after = self.below.partition_point(|b| *b < share).min(POINTS - 1);
        let Some(i) = after.checked_sub(1) else {
            return self.at[0];
        };
        let rise = self.below[after] - self.below[i];
        let part = if rise > 0.0 {
            (share - self.below[i]) / rise
        } else {
            0.0
        };
        self.at[i] + part * (self.at[after] - self.at[i])
    }
}

/// Mean and variance of the mixture.
fn moments(parts: &[Part]) -> [f64; 2] {
    let own = |p: &Part| p.a / (p.a + p.b);
    let mean: f64 = parts.iter().map(|p| p.weight * own(p)).sum();
    let square = |p: &Part| {
        let m = own(p);
        p.weight * (m * (1.0 - m) / (p.a + p.b + 1.0) + (m - mean).powi(2))
    };
    [mean, parts.iter().map(square).sum()]
}

/// The part of the angle 0..1 to look at.
fn range(mean: f64, variance: f64) -> [f64; 2] {
    let angle = |p: f64| p.clamp(0.0, 1.0).sqrt().asin() / FRAC_PI_2;
    let reach = REACH * variance.sqrt();
    [angle(mean - reach), angle(mean + reach)]
}

/// Density in the angle: that of the rate times √(p(1−p)).
fn height(parts: &[Part], p: f64) -> f64 {
    let (log_p, log_q) = (p.ln(), (-p).ln_1p());
    if !(log_p.is_finite() && log_q.is_finite()) {
        return 0.0;
    }
    let one = |part: &Part| {
        let log = (part.a - 0.5) * log_p + (part.b - 0.5) * log_q - part.log_norm;
        part.weight * log.exp()
    };
    parts.iter().map(one).sum()
}

/// Shares of the mixture below the second point and above the last but one:
/// towards 0 and 1 the density may rise without end, so there the exact
/// distribution is asked.
fn ends(parts: &[Part], at: &[f64]) -> [f64; 2] {
    let below = |p: f64, turned: bool| -> f64 {
        let one = |part: &Part| {
            let [a, b] = if turned {
                [part.b, part.a]
            } else {
                [part.a, part.b]
            };
            part.weight * beta_cdf(p, a, b)
        };
        parts.iter().map(one).sum()
    };
    [below(at[1], false), below(1.0 - at[POINTS - 2], true)]
}

/// Running integral, by trapezoids between the two ends.
fn running(heights: &[f64], [first, last]: [f64; 2]) -> Vec<f64> {
    let inner = &heights[1..heights.len() - 1];
    let area = |pair: &[f64]| 0.5 * (pair[0] + pair[1]);
    let whole: f64 = inner.windows(2).map(area).sum();
    let unit = if whole > 0.0 {
        (1.0 - first - last) / whole
    } else {
        0.0
    };
    let mut sum = first;
    let mut below = vec![0.0, first];
    for pair in inner.windows(2) {
        sum += unit * area(pair);
        below.push(sum);
    }
    below.push(1.0);
    below
}
