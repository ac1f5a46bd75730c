//! Each one's rate against the plain mean of everybody's.
//!
//! Question: how likely is p_j over (under) f times the mean of all p? Not
//! against μ: of two or three people the posterior of μ is wide and leans to
//! one half, so that its mean may lie away from all of them.
//!
//! Jointly, as the mean moves with the rates themselves: a cell (μ, r) of the
//! posterior, then every p_j ~ Beta(μφ + x_j, (1−μ)φ + n_j − x_j), which
//! within a cell are independent; the share of such draws in which p_j lies
//! beyond f times their mean. Seeded, so the same counts give the same
//! answer; a chance of ½ is out by less than 1 in 100 (one standard error).
//! Of many people the mean is nearly a number (its standard deviation is the
//! root of their number under that of one), and the distribution of p_j alone
//! is asked.

use super::grid::{Common, MANY, Point};
use super::{Count, Rates};
use crate::estimate::Estimate;
use crate::fits::dist::normal_margin;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Beta, Distribution};
use std::collections::BTreeMap;

/// Rates drawn in all, about.
const RATES: usize = 400_000;
/// Draws of everybody, at least.
const LEAST: usize = 4_000;
/// The same at most.
const MOST: usize = 20_000;
/// Seed of the draws.
const SEED: u64 = 20_240_607;

/// What counts as far from the mean, and whose rates it is of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Far {
    /// So many times the mean or more is far above it.
    pub above: f64,
    /// So many times the mean or less is far below it; 0 for never.
    pub below: f64,
    /// Jobs from which on a rate counts in the mean.
    pub least: u64,
}

/// One rate against the mean.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Against {
    /// Chance that it is far above.
    pub above: f64,
    /// Chance that it is far below.
    pub below: f64,
}

/// Everybody against the mean.
#[derive(Debug, Clone, PartialEq)]
pub struct AgainstMean {
    /// The plain mean of the shrunk rates; `n` is their jobs.
    pub mean: Estimate,
    /// In the order of the counts; 0 for those that do not count in the mean.
    pub each: Vec<Against>,
}

impl Rates {
    /// Every rate against the plain mean of those with jobs enough; `counts`
    /// as they were handed in. `None` where nobody has.
    pub fn against_mean(&self, counts: &[Count], far: Far) -> Option<AgainstMean> {
        let all = counts.iter().zip(&self.each).enumerate();
        let own: Vec<usize> = all
            .filter(|(_, (c, _))| c.of > 0 && c.of >= far.least)
            .map(|(i, _)| i)
            .collect();
        if own.is_empty() {
            return None;
        }
        let sum: f64 = own.iter().map(|i| self.each[*i].shrunk.value).sum();
        let value = sum / own.len() as f64;
        let theirs: Vec<Count> = own.iter().map(|i| counts[*i]).collect();
        let (range, found) = if own.len() < MANY {
            let draws = Draws::new(&self.posterior, &theirs, far);
            (draws.range(self.common.level), draws.chances())
        } else {
            let margin = normal_margin(self.common.level) * sd(&self.posterior, &theirs);
            let beside = |i: &usize| Against {
                above: self.each[*i].chance_over(far.above * value),
                below: 1.0 - self.each[*i].chance_over(far.below * value),
            };
            let range = [value - margin, value + margin].map(|x| x.clamp(0.0, 1.0));
            (range, own.iter().map(beside).collect())
        };
        let mut each = vec![Against::default(); counts.len()];
        for (i, against) in own.iter().zip(found) {
            each[*i] = against;
        }
        let mean = Estimate {
            value,
            low: range[0],
            high: range[1],
            level: self.common.level,
            n: theirs.iter().map(|c| c.of).sum(),
        };
        Some(AgainstMean { mean, each })
    }
}

/// What was drawn.
struct Draws {
    /// The mean of each draw, ascending.
    means: Vec<f64>,
    /// Draws in which each is far above, far below.
    beyond: Vec<[u32; 2]>,
}

impl Draws {
    fn new(posterior: &Common, counts: &[Count], far: Far) -> Self {
        let draws = (RATES / counts.len()).clamp(LEAST, MOST);
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        let mut means = Vec::with_capacity(draws);
        let mut beyond = vec![[0; 2]; counts.len()];
        let mut rates = vec![0.0; counts.len()];
        let mut cells = Cells::new(&posterior.points);
        for i in 0..draws {
            let point = cells.at((i as f64 + 0.5) / draws as f64);
            for (rate, count) in rates.iter_mut().zip(counts) {
                *rate = drawn(point, *count, &mut rng);
            }
            let mean = rates.iter().sum::<f64>() / rates.len() as f64;
            for (n, rate) in beyond.iter_mut().zip(&rates) {
                n[0] += u32::from(*rate > far.above * mean);
                n[1] += u32::from(*rate < far.below * mean);
            }
            means.push(mean);
        }
        means.sort_unstable_by(f64::total_cmp);
        Self { means, beyond }
    }

    fn chances(&self) -> Vec<Against> {
        let share = |n: u32| f64::from(n) / self.means.len() as f64;
        let one = |[above, below]: &[u32; 2]| Against {
            above: share(*above),
            below: share(*below),
        };
        self.beyond.iter().map(one).collect()
    }

    fn range(&self, level: f64) -> [f64; 2] {
        let tail = (1.0 - level) / 2.0;
        [tail, 1.0 - tail].map(|share| {
            let at = (share * self.means.len() as f64) as usize;
            self.means.get(at).or(self.means.last()).map_or(0.0, |m| *m)
        })
    }
}

/// The cells of the posterior one after the other: draws at even steps of
/// their running weight hold each in its share.
struct Cells<'a> {
    left: std::slice::Iter<'a, Point>,
    point: Point,
    until: f64,
}

impl<'a> Cells<'a> {
    fn new(points: &'a [Point]) -> Self {
        let nowhere = Point {
            weight: 0.0,
            mu: 0.5,
            other: 0.5,
            r: 0.5,
        };
        Self {
            left: points.iter(),
            point: nowhere,
            until: 0.0,
        }
    }

    /// The cell at `share` of the weight; shares must rise.
    fn at(&mut self, share: f64) -> &Point {
        while self.until <= share
            && let Some(next) = self.left.next()
        {
            self.point = *next;
            self.until += next.weight;
        }
        &self.point
    }
}

/// The shapes of a rate within a cell.
fn shapes(point: &Point, count: Count) -> [f64; 2] {
    let [a, b] = point.shapes();
    [a + count.yes as f64, b + (count.of - count.yes) as f64]
}

fn drawn(point: &Point, count: Count, rng: &mut ChaCha8Rng) -> f64 {
    let [a, b] = shapes(point, count);
    let draw = Beta::new(a, b).map(|law| law.sample(rng));
    // Shapes beyond all numbers leave no spread.
    draw.ok().filter(|p| p.is_finite()).unwrap_or(a / (a + b))
}

/// Standard deviation of the mean: within cells and between them.
fn sd(posterior: &Common, counts: &[Count]) -> f64 {
    let mut known: BTreeMap<[u64; 2], f64> = BTreeMap::new();
    for c in counts {
        *known.entry([c.yes, c.of]).or_default() += 1.0;
    }
    let of = |point: &Point| {
        let (mut mean, mut variance) = (0.0, 0.0);
        for ([yes, of], times) in &known {
            let count = Count { yes: *yes, of: *of };
            let [a, b] = shapes(point, count);
            let own = a / (a + b);
            mean += times * own;
            variance += times * own * (1.0 - own) / (a + b + 1.0);
        }
        let n = counts.len() as f64;
        [mean / n, variance / (n * n)]
    };
    let parts: Vec<(f64, [f64; 2])> = (posterior.for_one.iter())
        .map(|p| (p.weight, of(p)))
        .collect();
    let mean: f64 = parts.iter().map(|(w, [m, _])| w * m).sum();
    let one = |(w, [m, v]): &(f64, [f64; 2])| w * (v + (m - mean).powi(2));
    parts.iter().map(one).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use super::super::{Params, rates};
    use super::*;

    const FAR: Far = Far {
        above: 1.1,
        below: 0.9,
        least: 8,
    };

    fn against(rows: &[(u64, u64)], far: Far) -> AgainstMean {
        let counts: Vec<Count> = rows.iter().map(|&(yes, of)| Count { yes, of }).collect();
        let found = rates(&counts, Params::default()).unwrap();
        found.against_mean(&counts, far).unwrap()
    }

    /// Rates that the counts alone set (a million jobs): by hand, 0.33 is 1.1
    /// times the mean of 0.33 and 0.27, and lies as often over as under it.
    #[test]
    fn what_many_jobs_say_is_what_comes_out() {
        let found = against(&[(330_000, 1_000_000), (270_000, 1_000_000)], FAR);
        assert!((found.mean.value - 0.30).abs() < 1e-4, "{found:?}");
        assert!((found.each[0].above - 0.5).abs() < 0.03, "{found:?}");
        assert!((found.each[1].below - 0.5).abs() < 0.03, "{found:?}");
        assert!(found.each[0].below == 0.0 && found.each[1].above == 0.0);
        let m = found.mean;
        assert!(
            m.low < 0.30 && 0.30 < m.high && m.high - m.low < 0.002,
            "{m:?}"
        );
    }

    /// The same chance by another way: p_1 over f times the mean of two is
    /// p_1 over f/(2 − f) times p_2, summed over even steps of p_2 within each
    /// cell with the distribution function of p_1.
    #[test]
    fn agrees_with_an_integral_over_the_other_rate() {
        use crate::fits::dist::{beta_cdf, beta_quantile};
        let rows = [(14_u64, 60_u64), (9, 75)];
        let counts = rows.map(|(yes, of)| Count { yes, of });
        let found = rates(&counts, Params::default()).unwrap();
        let (mut above, mut whole) = (0.0, 0.0);
        for point in found.posterior.points.iter().step_by(7) {
            let ([a, b], [c, d]) = (shapes(point, counts[0]), shapes(point, counts[1]));
            for i in 0..20 {
                let other = beta_quantile((f64::from(i) + 0.5) / 20.0, c, d);
                let over = (other * 1.1 / 0.9).min(1.0);
                above += point.weight * (1.0 - beta_cdf(over, a, b)) / 20.0;
            }
            whole += point.weight;
        }
        let drawn = found.against_mean(&counts, FAR).unwrap().each[0].above;
        assert!(
            (drawn - above / whole).abs() < 0.02,
            "{drawn} {}",
            above / whole
        );
    }

    /// Of many people both ways must agree.
    #[test]
    fn the_short_way_for_many_agrees_with_the_draws() {
        let person = |i: u64| Count {
            yes: 20 + i % 9 + 30 * u64::from(i.is_multiple_of(40)),
            of: 100,
        };
        let counts: Vec<Count> = (0..220).map(person).collect();
        let found = rates(&counts, Params::default()).unwrap();
        let short = found.against_mean(&counts, FAR).unwrap();
        let draws = Draws::new(&found.posterior, &counts, FAR);
        for (a, b) in short.each.iter().zip(draws.chances()) {
            assert!((a.above - b.above).abs() < 0.04, "{a:?} {b:?}");
            assert!((a.below - b.below).abs() < 0.04, "{a:?} {b:?}");
        }
        let [low, high] = draws.range(0.95);
        let wide = high - low;
        assert!((short.mean.low - low).abs() < 0.1 * wide);
        assert!((short.mean.high - high).abs() < 0.1 * wide);
    }

    #[test]
    fn few_jobs_do_not_move_the_mean() {
        let found = against(&[(20, 100), (22, 100), (3, 3)], FAR);
        assert!((0.19..0.23).contains(&found.mean.value), "{found:?}");
        assert_eq!(found.each[2], Against::default());
        assert_eq!(found.mean.n, 200);
        let none = Far { least: 500, ..FAR };
        let counts = [Count { yes: 1, of: 9 }; 2];
        let found = rates(&counts, Params::default()).unwrap();
        assert!(found.against_mean(&counts, none).is_none());
    }

    #[test]
    fn the_ends_of_rates_are_no_error() {
        for rows in [
            [(0, 30), (0, 40)],
            [(30, 30), (40, 40)],
            [(0, 1_000_000_000), (1_000_000_000, 1_000_000_000)],
        ] {
            let found = against(&rows, FAR);
            assert!(found.mean.is_finite(), "{found:?}");
            assert!(found.each.iter().all(|a| a.above <= 1.0 && a.below <= 1.0));
        }
    }
}
