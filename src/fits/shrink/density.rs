//! The density of one person's rate, on points even in the arcsine of its
//! root (there a binomial's spread is nearly the same everywhere).

use super::Count;
use super::grid::Common;
use super::heights::Lanes;
use crate::fits::dist::beta_cdf;
use statrs::function::beta::ln_beta;
use std::f64::consts::FRAC_PI_2;

/// Points.
const POINTS: usize = 601;
/// One in so many is summed up for certain.
const STRIDE: usize = 6;
/// Points for one of many people whose density has no pole at 0 or 1: the rule
/// for its areas is of the fourth order, so that steps of a tenth of a standard
/// deviation are fine enough.
const POINTS_OF_MANY: usize = 181;
/// One in so many of these is summed up for certain.
const STRIDE_OF_MANY: usize = 3;
/// Standard deviations on each side.
const REACH: f64 = 9.0;

/// The density as running shares.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Density {
    /// The rates, ascending.
    at: Vec<f64>,
    /// P(rate ≤ at).
    below: Vec<f64>,
    /// The density there, by step of the angle.
    slope: Vec<f64>,
    pub(super) mean: f64,
    variance: f64,
}

/// A beta of the mixture.
pub(super) struct Part {
    pub(super) weight: f64,
    pub(super) a: f64,
    pub(super) b: f64,
    pub(super) log_norm: f64,
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
        let [points, stride] = if common.many && is_smooth(&parts) {
            [POINTS_OF_MANY, STRIDE_OF_MANY]
        } else {
            [POINTS, STRIDE]
        };
        let step = (to - from) / (points - 1) as f64;
        let at: Vec<f64> = (0..points).map(|i| rate(from + step * i as f64)).collect();
        let heights = Lanes::of(&parts).heights(&at, stride);
        let ends = ends(&parts, &at);
        let (below, slope) = running(heights, ends);
        Self {
            at,
            below,
            slope,
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
                let [from, to, own] = [self.at[i], *next, rate].map(angle);
                // Shares are summed up, so that the last may be over 1 by rounding.
                (1.0 - self.between(i, (own - from) / (to - from))).max(0.0)
            }
        }
    }

    /// The rate with `share` of the density below it.
    pub(super) fn quantile(&self, share: f64) -> f64 {
        let after = self.below.partition_point(|b| *b < share);
        let after = after.min(self.below.len() - 1);
        let Some(i) = after.checked_sub(1) else {
            return self.at[0];
        };
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            if self.between(i, middle) < share {
                low = middle;
            } else {
                high = middle;
            }
        }
        let [from, to] = [self.at[i], self.at[after]].map(angle);
        rate(from + (to - from) * 0.5 * (low + high))
    }

    /// P(rate ≤ the one at part `t` of the step from point `i` on): the cubic
    /// through the shares at both ends with the density there as its slope,
    /// where that does not fall; else the straight line.
    fn between(&self, i: usize, t: f64) -> f64 {
        let (from, rise) = (self.below[i], self.below[i + 1] - self.below[i]);
        let [start, end] = [self.slope[i], self.slope[i + 1]];
        if start.max(end) > 3.0 * rise || i == 0 || i + 2 == self.at.len() {
            return from + t * rise;
        }
        let (square, cube) = (t * t, t * t * t);
        from + (cube - 2.0 * square + t) * start
            + (3.0 * square - 2.0 * cube) * rise
            + (cube - square) * end
    }
}

/// Halvings of a step: to a billionth of it.
const HALVINGS: u32 = 30;

/// The angle of a rate, 0..1.
fn angle(rate: f64) -> f64 {
    rate.clamp(0.0, 1.0).sqrt().asin() / FRAC_PI_2
}

/// The rate of an angle.
fn rate(angle: f64) -> f64 {
    (FRAC_PI_2 * angle).sin().powi(2)
}

/// True where no part rises towards 0 or 1 without end.
fn is_smooth(parts: &[Part]) -> bool {
    parts.iter().all(|p| p.a >= 1.0 && p.b >= 1.0)
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
    let reach = REACH * variance.sqrt();
    [angle(mean - reach), angle(mean + reach)]
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
            if is_nothing(p, [a, b], part.log_norm) {
                return 0.0;
            }
            part.weight * beta_cdf(p, a, b)
        };
        parts.iter().map(one).sum()
    };
    [below(at[1], false), below(1.0 - at[at.len() - 2], true)]
}

/// True where a beta has less than [`NOTHING`] below `p`: up to its mode its
/// density rises, so that no more than p times the density at p lies there.
fn is_nothing(p: f64, [a, b]: [f64; 2], log_norm: f64) -> bool {
    let rises = a > 1.0 && b > 1.0 && p <= (a - 1.0) / (a + b - 2.0);
    rises && a * p.ln() + (b - 1.0) * (-p).ln_1p() - log_norm < NOTHING
}

/// Logarithm of a share that no double beside 1 can tell from 0.
const NOTHING: f64 = -40.0;

/// Running integral between the two ends, and the heights on its scale. Each
/// step's area is that of the cubic through the four points about it (−1, 13,
/// 13, −1 over 24; of the straight line at the first and last step).
fn running(mut heights: Vec<f64>, [first, last]: [f64; 2]) -> (Vec<f64>, Vec<f64>) {
    let inner = &heights[1..heights.len() - 1];
    let area = |i: usize| {
        let straight = 0.5 * (inner[i] + inner[i + 1]);
        match (i.checked_sub(1).map(|b| inner[b]), inner.get(i + 2)) {
            (Some(before), Some(after)) => {
                (straight + (straight - 0.5 * (before + after)) / 12.0).max(0.0)
            }
            _ => straight,
        }
    };
    let areas: Vec<f64> = (0..inner.len() - 1).map(area).collect();
    let whole: f64 = areas.iter().sum();
    let unit = if whole > 0.0 {
        (1.0 - first - last) / whole
    } else {
        0.0
    };
    let mut sum = first;
    let mut below = vec![0.0, first];
    for area in areas {
        sum += unit * area;
        below.push(sum);
    }
    below.push(1.0);
    heights.iter_mut().for_each(|h| *h *= unit);
    (below, heights)
}

#[cfg(test)]
pub(super) mod tests {
    use super::super::{Params, Rate, rate};
    use super::*;

    /// How far the coarse figures of these people are from the fine ones: of
    /// percentiles and mean as a share of the interval's width, of chances as
    /// they are.
    fn furthest(people: &[[u64; 3]]) -> f64 {
        let of = |&[yes, of, times]: &[u64; 3]| vec![Count { yes, of }; times as usize];
        let counts: Vec<Count> = people.iter().flat_map(of).collect();
        let few = Common::new(&counts, Params::default().prior_scale);
        let all = Common {
            for_one: few.points.clone(),
            points: few.points.clone(),
            many: false,
        };
        let mu: f64 = all.points.iter().map(|p| p.weight * p.mu).sum();
        let apart = |count: Count| {
            let [fast, slow]: [Rate; 2] = [&few, &all].map(|c| rate(count, c, 0.95).unwrap());
            let wide = slow.shrunk.high - slow.shrunk.low;
            let share = |of: fn(&Rate) -> f64| (of(&fast) - of(&slow)).abs() / wide;
            let chance = |r: f64| (fast.chance_over(r) - slow.chance_over(r)).abs();
            [
                share(|r| r.shrunk.value),
                share(|r| r.shrunk.low),
                share(|r| r.shrunk.high),
                chance(0.5 * mu),
                chance(mu),
                chance(1.5 * mu),
                chance(3.0 * mu),
            ]
        };
        let each = people
            .iter()
            .flat_map(|&[yes, of, _]| apart(Count { yes, of }));
        each.fold(0.0, f64::max)
    }

    /// Some parts, not a multiple of four, one of them so far off that it is
    /// nothing at most rates.
    pub(in crate::fits::shrink) fn parts() -> Vec<Part> {
        let shapes = [
            [1.2, 40.0],
            [3.0, 7.0],
            [250.0, 750.0],
            [0.6, 0.7],
            [9.0, 2.0],
        ];
        let part = |[a, b]: [f64; 2]| Part {
            weight: 1.0 / shapes.len() as f64,
            a,
            b,
            log_norm: ln_beta(a, b),
        };
        shapes.map(part).into()
    }

    /// Sums of shares that reach over 1 by rounding make no chance under 0.
    #[test]
    fn chances_are_shares() {
        let counts: Vec<Count> = (0..240)
            .map(|i| Count {
                yes: 3_000 + 37 * (i % 40),
                of: 20_000 + 11 * i,
            })
            .collect();
        let common = Common::new(&counts, Params::default().prior_scale);
        let mut over = 0;
        for count in &counts {
            let density = Density::new(*count, &common);
            over += density.below.iter().filter(|b| **b > 1.0).count();
            for (i, at) in density.at.iter().enumerate().skip(1) {
                for t in [0.0, 0.3, 0.9, 1.0] {
                    let rate = density.at[i - 1] + t * (at - density.at[i - 1]);
                    let chance = density.above(rate);
                    assert!(
                        (0.0..=1.0).contains(&chance),
                        "{count:?} {rate}: {chance:e}"
                    );
                }
            }
        }
        assert!(over > 0, "none reached over 1: this tells nothing");
    }

    /// Where a share is called nothing it is, and the border is not far off.
    #[test]
    fn nothing_is_nothing() {
        let mut called = 0;
        for part in parts() {
            for i in 1..1000 {
                let p = f64::from(i) / 1000.0;
                let share = beta_cdf(p, part.a, part.b);
                let is_called = is_nothing(p, [part.a, part.b], part.log_norm);
                assert!(!is_called || share < 1e-17, "{p}: {share}");
                called += u32::from(is_called);
            }
        }
        assert!(called > 100, "{called}");
    }

    /// Fewer points where they serve (the first), all where they do not: of one
    /// job each, and where nobody has a yes, they would be out by 0.09 and 0.7.
    #[test]
    fn fewer_points_serve_for_people_of_few_jobs_too() {
        // Binomial of 40 at 3 %.
        let alike = [
            [0, 40, 59],
            [1, 40, 73],
            [2, 40, 45],
            [3, 40, 18],
            [4, 40, 5],
        ];
        let one_job_each = [[0, 1, 190], [1, 1, 10]];
        let never = [[0, 40, 200], [0, 5, 10]];
        let apart = [[0, 40, 150], [1, 40, 30], [20, 40, 15], [40, 40, 5]];
        for people in [&alike[..], &one_job_each, &never, &apart] {
            let found = furthest(people);
            assert!(found < 1e-3, "{people:?}: {found}");
        }
    }
}
