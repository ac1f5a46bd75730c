//! Rates of several people or groups, each drawn towards the common one.
//!
//! Question: given callbacks per job (or acceptances per offer) of people
//! with few jobs each, what is each one's own rate likely to be?
//!
//! x_i of n_i ~ binomial(p_i), p_i ~ Beta(μφ, (1−μ)φ), φ = 1/r² − 1, so that
//! rates spread with a standard deviation of r √(μ(1−μ)) about the common
//! rate μ. Priors: μ Jeffreys' Beta(½, ½); r half-Cauchy with scale
//! `prior_scale`, cut at 1. μ and r are integrated out on a grid (plugging in
//! one estimate of them makes intervals too narrow and collapses where it
//! finds no spread). Each p_i is then a mixture of Beta(μφ + x_i, (1−μ)φ +
//! n_i − x_i).
//!
//! Beside it stands the person's own share with Clopper and Pearson's exact
//! interval, which borrows nothing. The prior's form is common practice, its
//! scale this program's own.
//!
//! When it misleads: people who do different work have no common rate.
//!
//! [`spread`] does the like for how erratic people's minutes are.

use crate::estimate::{Estimate, NotEnough};
use crate::fits::error::FitError;
use crate::fits::interval::check_level;
use crate::fits::proportion::{Method, share};
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::sync::Arc;

mod density;
mod grid;
mod heights;
mod mean;
mod rising;
pub mod spread;

use density::Density;
use grid::Common;
pub use mean::{Against, AgainstMean, Far};

/// One person's counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Count {
    /// Jobs with a callback (offers accepted ...).
    pub yes: u64,
    /// Jobs (offers ...).
    pub of: u64,
}

/// What is asked of the fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Params {
    /// Scale of the half-Cauchy prior of r (default 0.2: rates about 40 %
    /// spread with 10 points, half of all times less).
    pub prior_scale: f64,
    /// Level of the intervals (default 0.95).
    pub level: f64,
}

impl Default for Params {
    fn default() -> Self {
        Self {
            prior_scale: 0.2,
            level: 0.95,
        }
    }
}

/// One person's rate.
#[derive(Debug, Clone, PartialEq)]
pub struct Rate {
    /// Drawn towards the common rate, by how little the person's own counts
    /// say.
    pub shrunk: Estimate,
    /// The person's own share with its exact interval; `None` without jobs.
    pub exact: Option<Estimate>,
    density: Arc<Density>,
}

impl Rate {
    /// Chance that the person's own rate is over `rate`.
    pub fn chance_over(&self, rate: f64) -> f64 {
        self.density.above(rate)
    }
}

/// Everybody's rate.
#[derive(Debug, Clone, PartialEq)]
pub struct Rates {
    /// In the order of the counts handed in.
    pub each: Vec<Rate>,
    /// μ, the common rate; `n` is all jobs.
    pub common: Estimate,
    /// r √(μ(1−μ)), the standard deviation between people's rates; `n` is
    /// the number of people with jobs.
    pub between: Estimate,
    /// Of μ and r.
    posterior: Arc<Common>,
}

/// The posterior of everybody's rate.
///
/// # Errors
/// [`FitError::NotEnough`] with fewer than two people with jobs,
/// [`FitError::OutOfRange`] for more yes than jobs, [`FitError::Parameter`].
pub fn rates(counts: &[Count], params: Params) -> Result<Rates, FitError> {
    check(counts, params)?;
    let common = Common::new(counts, params.prior_scale);
    // People with the same counts have the same rate.
    let mut known: BTreeMap<[u64; 2], Rate> = BTreeMap::new();
    let mut each = Vec::with_capacity(counts.len());
    for count in counts {
        let own = match known.entry([count.yes, count.of]) {
            Entry::Occupied(found) => found.get().clone(),
            Entry::Vacant(place) => {
                let found = rate(*count, &common, params.level)?;
                place.insert(found).clone()
            }
        };
        each.push(own);
    }
    let people = counts.iter().filter(|c| c.of > 0).count();
    let all: u64 = counts.iter().map(|c| c.of).sum();
    Ok(Rates {
        each,
        common: common.estimate(|p| p.mu, params.level, all),
        between: common.estimate(
            |p| p.r * (p.mu * p.other).sqrt(),
            params.level,
            people as u64,
        ),
        posterior: Arc::new(common),
    })
}

fn rate(count: Count, common: &Common, level: f64) -> Result<Rate, FitError> {
    let density = Arc::new(Density::new(count, common));
    let exact = match count.of {
        0 => None,
        n => Some(share(count.yes, n, Method::ClopperPearson, level)?),
    };
    let tail = (1.0 - level) / 2.0;
    let shrunk = Estimate {
        value: density.mean,
        low: density.quantile(tail),
        high: density.quantile(1.0 - tail),
        level,
        n: count.of,
    };
    Ok(Rate {
        shrunk,
        exact,
        density,
    })
}

fn check(counts: &[Count], params: Params) -> Result<(), FitError> {
    check_level(params.level)?;
    if !(params.prior_scale.is_finite() && params.prior_scale > 0.0) {
        return Err(FitError::Parameter {
            what: "scale of the prior",
            found: params.prior_scale,
            expected: "above 0",
        });
    }
    if let Some(row) = counts.iter().position(|c| c.yes > c.of) {
        return Err(FitError::OutOfRange {
            what: "yes of a person",
            row,
            found: counts[row].yes as f64,
            expected: "no more than the jobs",
        });
    }
    let people = counts.iter().filter(|c| c.of > 0).count();
    if people < 2 {
        return Err(NotEnough::new(people as u64, 2, "people with jobs").into());
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn counts(rows: &[(u64, u64)]) -> Vec<Count> {
        rows.iter().map(|&(yes, of)| Count { yes, of }).collect()
    }

    fn of(rows: &[(u64, u64)]) -> Rates {
        rates(&counts(rows), Params::default()).unwrap()
    }

    /// The slow twin: a plain grid over μ, r and p, nothing adaptive, no
    /// closed forms but the binomial and beta densities themselves.
    fn slow(rows: &[(u64, u64)], who: usize) -> [f64; 2] {
        use statrs::distribution::{Beta, Binomial, Continuous, Discrete};
        let steps = |n: usize| (0..n).map(move |i| (i as f64 + 0.5) / n as f64);
        let (mut whole, mut first, mut second) = (0.0, 0.0, 0.0);
        for mu in steps(80) {
            for r in steps(80) {
                let phi = 1.0 / (r * r) - 1.0;
                let law = Beta::new(mu * phi, (1.0 - mu) * phi).unwrap();
                let prior = (mu * (1.0 - mu)).powf(-0.5) / (1.0 + (r / 0.2).powi(2));
                let mut product = prior;
                let mut own = [0.0; 3];
                for (i, (x, n)) in rows.iter().enumerate() {
                    let mut sums = [0.0; 3];
                    for p in steps(400) {
                        let chance = Binomial::new(p, *n).unwrap().pmf(*x) * law.pdf(p) / 400.0;
                        sums[0] += chance;
                        sums[1] += chance * p;
                        sums[2] += chance * p * p;
                    }
                    product *= sums[0];
                    if i == who {
                        own = sums;
                    }
                }
                whole += product;
                first += product * own[1] / own[0];
                second += product * own[2] / own[0];
            }
        }
        let mean = first / whole;
        [mean, (second / whole - mean * mean).sqrt()]
    }

    #[test]
    fn agrees_with_a_plain_grid() {
        let rows = [(28, 40), (4, 36), (12, 30)];
        let found = of(&rows);
        let [mean, sd] = slow(&rows, 0);
        let rate = &found.each[0];
        // The plain grid's own steps are worth about 2e-4 of the sd.
        assert!(
            (rate.shrunk.value - mean).abs() < 0.002 * sd,
            "{rate:?} {mean}"
        );
        let own = rate.density.sd();
        assert!((own / sd - 1.0).abs() < 0.002, "{own} {sd}");
    }

    #[test]
    fn few_jobs_are_drawn_far_and_many_hardly() {
        let found = of(&[(3, 3), (90, 300), (100, 310), (80, 290), (30, 1000)]);
        let few = &found.each[0];
        assert!(few.shrunk.value < 0.75, "{few:?}");
        assert!(few.exact.unwrap().value == 1.0);
        let many = &found.each[4];
        assert!((many.shrunk.value - 0.03).abs() < 0.003, "{many:?}");
        assert!(many.chance_over(0.2) < 1e-6 && found.each[1].chance_over(0.2) > 0.99);
        assert!(found.common.low < found.common.value);
        assert!(found.between.low > 0.02);
    }

    #[test]
    fn people_alike_share_one_rate() {
        let found = of(&[(30, 100), (31, 100), (29, 100), (30, 100), (30, 100)]);
        let rate = &found.each[0];
        let (own, exact) = (rate.shrunk, rate.exact.unwrap());
        assert!(own.high - own.low < 0.8 * (exact.high - exact.low));
        assert!(found.between.low < 0.01);
    }

    #[test]
    fn nobody_called_back_is_not_never() {
        let found = of(&[(0, 20), (0, 35), (0, 12)]);
        let rate = &found.each[1];
        assert!(rate.shrunk.value > 0.0 && rate.shrunk.value < 0.05);
        assert_eq!(rate.exact.unwrap().low, 0.0);
        assert!(rate.shrunk.low >= 0.0);
        assert!(rate.shrunk.high < rate.exact.unwrap().high);
    }

    /// With no callbacks at all most of the posterior lies next to zero, where
    /// the density has no bound; its ends must still be right: checked by the
    /// share of the mixture's own distribution.
    #[test]
    fn the_limits_hold_where_the_density_has_no_bound() {
        let counted = counts(&[(0, 20), (0, 35), (0, 12)]);
        let common = Common::new(&counted, 0.2);
        let found = rates(&counted, Params::default()).unwrap();
        for (count, rate) in counted.iter().zip(&found.each) {
            let below = |x: f64| -> f64 {
                let one = |p: &grid::Point| {
                    let [a, b] = p.shapes();
                    p.weight * crate::fits::dist::beta_cdf(x, a, b + count.of as f64)
                };
                common.points.iter().map(one).sum()
            };
            assert!((below(rate.shrunk.high) - 0.975).abs() < 2e-3, "{rate:?}");
        }
        let certain = of(&[(1_000_000_000, 1_000_000_000), (900, 900)]);
        assert!(certain.each[0].shrunk.low > 0.999_999);
        assert!(certain.each[0].shrunk.high <= 1.0);
    }

    /// Of many people each rate rests on fewer points of the grid.
    #[test]
    fn fewer_points_serve_for_one_of_many_people() {
        let person = |i: u64| {
            (
                i * 7 % 13 / 4 + u64::from(i.is_multiple_of(50)) * 9,
                40 + i % 60,
            )
        };
        let all: Vec<(u64, u64)> = (0..300).map(person).collect();
        let counted = counts(&all);
        let few = Common::new(&counted, 0.2);
        let many = Common {
            for_one: few.points.clone(),
            points: few.points.clone(),
            many: false,
        };
        assert!(2 * few.for_one.len() < few.points.len());
        for count in counted.iter().take(60) {
            let [fast, slow] = [&few, &many].map(|c| rate(*count, c, 0.95).unwrap().shrunk);
            let wide = slow.high - slow.low;
            let ends = [
                (fast.value, slow.value),
                (fast.low, slow.low),
                (fast.high, slow.high),
            ];
            for (a, b) in ends {
                assert!((a - b).abs() < 1e-4 * wide, "{fast:?} {slow:?}");
            }
        }
    }

    #[test]
    fn a_person_without_jobs_gets_the_common_rate() {
        let found = of(&[(30, 100), (25, 90), (0, 0)]);
        assert_eq!(found.each[2].exact, None);
        assert!((found.each[2].shrunk.value - found.common.value).abs() < 0.01);
        let wide = |e: &Rate| e.shrunk.high - e.shrunk.low;
        assert!(wide(&found.each[2]) > wide(&found.each[0]));
    }

    #[test]
    fn a_million_jobs_are_no_harder() {
        let found = of(&[(300_000, 1_000_000), (310_000, 1_000_000)]);
        let rate = found.each[0].shrunk;
        let exact = found.each[0].exact.unwrap();
        assert!((rate.value - 0.3).abs() < 1e-4, "{rate:?}");
        // Where the own data say all, both intervals agree.
        assert!(((rate.high - rate.low) / (exact.high - exact.low) - 1.0).abs() < 0.02);
    }

    #[test]
    fn too_little_is_said() {
        let one = rates(&counts(&[(3, 9), (0, 0)]), Params::default());
        assert!(matches!(one, Err(FitError::NotEnough(_))));
        let odd = rates(&counts(&[(3, 9), (2, 1)]), Params::default());
        assert!(matches!(odd, Err(FitError::OutOfRange { row: 1, .. })));
    }
}
