//! How much coating, and how many bottles, do the next months need?
//!
//! Seeded simulation. One draw: coated jobs per month ([`demand`]: Poisson,
//! or wider where past months say so, its rate uncertain), each job's areas
//! by finish taken from a past job, its use
//!
//! ```text
//! M = s + Σ_f c_f A_f + e,   e ~ N(0, σ² A),  A = Σ_f A_f,  M at least 0
//! ```
//!
//! with (s, c) drawn from their own uncertainty: multivariate t of `df`
//! degrees of freedom about `mean` with scale `covariance`, the same χ² draw
//! scaling σ (the posterior of a least-squares fit). Past jobs are weighted
//! anew in each draw (Rubin, Annals of Statistics 1981;9:130-134,
//! doi:10.1214/aos/1176345338: Bayesian bootstrap), so that few past jobs
//! leave the mean area uncertain; from [`MANY_JOBS`] on that is no longer
//! worth its time and they are drawn evenly.
//!
//! Of [`MANY_DRAWN`] jobs or more the sum is drawn at once, as a normal with
//! the mean and the spread of so many jobs: its skewness is then that of one
//! job over 45, which moves no quantile by more than a hundred thousandth of
//! it. Where jobs come so near to 0 mL that the cut there matters they are
//! drawn one by one all the same.
//!
//! Areas in m², use in mL, s in mL, c in mL/m², σ² in mL²/m².
//!
//! When it misleads: seasons, a price change, a new finish: the past months
//! are taken as they come.

mod check;
pub mod demand;
mod shop;

use crate::fits::error::FitError;
use check::check;
use demand::Demand;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use shop::Shop;

/// Past jobs from which on they are no longer weighted anew in each draw.
pub const MANY_JOBS: usize = 2_000;

/// Jobs of one draw from which on their sum is drawn at once.
pub const MANY_DRAWN: u64 = 2_000;

/// Share of the mean use that the cut at 0 may add before jobs are drawn one
/// by one.
const CUT_MATTERS: f64 = 1e-5;

/// Most jobs that one draw goes through one by one.
pub const DRAWN_JOBS: u64 = 20_000;

/// What a job takes, and how sure that is.
#[derive(Debug, Clone, Copy)]
pub struct Use<'a> {
    /// s, then c_f of each finish.
    pub mean: &'a [f64],
    /// Their covariance, row after row.
    pub covariance: &'a [f64],
    /// Degrees of freedom of σ²; infinite where σ² is taken as known.
    pub df: f64,
    /// σ².
    pub variance_per_area: f64,
}

/// What has been seen.
#[derive(Debug, Clone, Copy)]
pub struct Past<'a> {
    /// Coated jobs of each past month, in order.
    pub jobs_per_month: &'a [u64],
    /// Areas of each past coated job, row after row, one number per finish.
    pub areas: &'a [f64],
    /// Finishes.
    pub finishes: usize,
    /// What a job takes.
    pub uses: Use<'a>,
}

/// What is asked of the forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Params {
    /// Months ahead, 1 or more (default 1).
    pub months: u32,
    /// mL that a bottle gives, less what is usually left over.
    pub usable_ml: f64,
    /// Draws (default 4,000, at least 200).
    pub draws: usize,
    /// Seed.
    pub seed: u64,
}

/// A quantity at its 50 % and 90 % quantile.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantiles {
    /// Enough half of the time.
    pub half: f64,
    /// Enough nine times in ten.
    pub nine_tenths: f64,
}

/// The need over the months asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Need {
    /// Months ahead.
    pub months: u32,
    /// Coated jobs.
    pub jobs: Quantiles,
    /// Coating in mL.
    pub ml: Quantiles,
    /// Whole bottles that carry `ml`.
    pub bottles_half: u64,
    /// Whole bottles that carry it nine times in ten.
    pub bottles_nine_tenths: u64,
    /// How much wider than Poisson months are: mean over the posterior of
    /// the variance of a month over its mean; 1 is Poisson.
    pub dispersion: f64,
    /// Draws made.
    pub draws: usize,
    /// Their seed.
    pub seed: u64,
}

/// Simulates the need.
///
/// # Errors
/// [`FitError::NotEnough`] with fewer than three past months or without past
/// jobs; [`FitError::Shape`], [`FitError::NotFinite`],
/// [`FitError::OutOfRange`] (a negative area or variance),
/// [`FitError::Parameter`].
pub fn need(past: &Past<'_>, params: Params) -> Result<Need, FitError> {
    check(past, params)?;
    let demand = Demand::new(past.jobs_per_month)?;
    let shop = Shop::new(past);
    let mut rng = ChaCha8Rng::seed_from_u64(params.seed);
    let (mut jobs, mut ml) = (Vec::new(), Vec::new());
    for _ in 0..params.draws {
        let count = demand.draw(params.months, &mut rng);
        jobs.push(count as f64);
        ml.push(shop.draw(count, &mut rng));
    }
    let ml = quantiles(ml);
    let bottles = |ml: f64| (ml / params.usable_ml).ceil() as u64;
    Ok(Need {
        months: params.months,
        jobs: quantiles(jobs),
        ml,
        bottles_half: bottles(ml.half),
        bottles_nine_tenths: bottles(ml.nine_tenths),
        dispersion: demand.dispersion(),
        draws: params.draws,
        seed: params.seed,
    })
}

/// The quantiles of draws: the smallest draw with so large a share at or
/// under it.
fn quantiles(mut draws: Vec<f64>) -> Quantiles {
    draws.sort_unstable_by(f64::total_cmp);
    let at = |share: f64| {
        let rank = (draws.len() as f64 * share).ceil() as usize;
        draws.get(rank.saturating_sub(1)).copied().unwrap_or(0.0)
    };
    Quantiles {
        half: at(0.5),
        nine_tenths: at(0.9),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MONTHS: [u64; 12] = [40, 44, 38, 41, 39, 45, 36, 42, 40, 43, 37, 41];

    fn past<'a>(months: &'a [u64], areas: &'a [f64], covariance: &'a [f64]) -> Past<'a> {
        Past {
            jobs_per_month: months,
            areas,
            finishes: 1,
            uses: Use {
                mean: &[1.0, 1.5],
                covariance,
                df: f64::INFINITY,
                variance_per_area: 0.0,
            },
        }
    }

    fn params(months: u32) -> Params {
        Params {
            months,
            usable_ml: 48.0,
            draws: 4_000,
            seed: 9,
        }
    }

    /// All jobs of 20 m² at 1 + 1.5·20 = 31 mL exactly: mL are 31 × jobs.
    #[test]
    fn known_constants_turn_jobs_into_ml() {
        let found = need(&past(&MONTHS, &[20.0; 30], &[0.0; 4]), params(1)).unwrap();
        assert_eq!(found.ml.half, 31.0 * found.jobs.half);
        assert_eq!(found.ml.nine_tenths, 31.0 * found.jobs.nine_tenths);
        assert!((found.jobs.half - 40.5).abs() <= 1.5, "{found:?}");
        // Poisson of about 40.5: 90 % quantile 49; its rate's own
        // uncertainty adds a little.
        assert!((48.0..=51.0).contains(&found.jobs.nine_tenths), "{found:?}");
        let carry = (found.ml.nine_tenths / 48.0).ceil() as u64;
        assert_eq!(found.bottles_nine_tenths, carry);
        assert!(found.dispersion < 1.5, "{found:?}");
    }

    #[test]
    fn uncertain_constants_widen_and_months_add_up() {
        let sure = need(&past(&MONTHS, &[20.0; 30], &[0.0; 4]), params(1)).unwrap();
        let unsure = [0.0, 0.0, 0.0, 0.09];
        let unsure = need(&past(&MONTHS, &[20.0; 30], &unsure), params(1)).unwrap();
        let over = |n: &Need| n.ml.nine_tenths / n.ml.half;
        assert!(over(&unsure) > 1.02 * over(&sure));
        let three = need(&past(&MONTHS, &[20.0; 30], &[0.0; 4]), params(3)).unwrap();
        assert!((three.ml.half / sure.ml.half - 3.0).abs() < 0.1);
        assert!(over(&three) < over(&sure), "months even out");
    }

    /// The same scale on three degrees of freedom has the heavier tails.
    #[test]
    fn few_degrees_of_freedom_widen() {
        let covariance = [0.0, 0.0, 0.0, 0.25];
        let known = past(&MONTHS, &[20.0; 30], &covariance);
        let mut guessed = known;
        guessed.uses.df = 3.0;
        let over = |p: &Past<'_>| {
            let found = need(p, params(1)).unwrap();
            found.ml.nine_tenths / found.ml.half
        };
        assert!(over(&guessed) > 1.05 * over(&known));
    }

    #[test]
    fn restless_months_call_for_more_in_hand() {
        let restless = [10, 80, 35, 5, 90, 20, 60, 15, 70, 30, 55, 22];
        let found = need(&past(&restless, &[20.0; 30], &[0.0; 4]), params(1)).unwrap();
        let calm = need(&past(&MONTHS, &[20.0; 30], &[0.0; 4]), params(1)).unwrap();
        assert!(found.dispersion > 5.0, "{found:?}");
        assert!(found.jobs.nine_tenths > calm.jobs.nine_tenths + 20.0);
    }

    #[test]
    fn the_seed_decides() {
        let areas: Vec<f64> = (0..50).map(|i| 15.0 + f64::from(i % 9)).collect();
        let past = past(&MONTHS, &areas, &[0.1, 0.0, 0.0, 0.01]);
        assert_eq!(need(&past, params(2)), need(&past, params(2)));
        let other = Params {
            seed: 10,
            ..params(2)
        };
        assert_ne!(need(&past, params(2)), need(&past, other));
    }

    #[test]
    fn very_many_jobs_are_scaled_up() {
        let many = [2_000_000_u64, 2_010_000, 1_995_000, 2_004_000];
        let areas = [20.0; 4];
        let few = Params {
            draws: 200,
            ..params(1)
        };
        let found = need(&past(&many, &areas, &[0.0; 4]), few).unwrap();
        assert!((found.ml.half / (31.0 * found.jobs.half) - 1.0).abs() < 1e-9);
    }

    /// The slow twin draws jobs one by one.
    #[test]
    fn a_sum_drawn_at_once_has_the_quantiles_of_jobs_drawn_one_by_one() {
        let areas: Vec<f64> = (0..2_500).map(|i| 5.0 + f64::from(i % 31)).collect();
        let mut past = past(&MONTHS, &areas, &[0.02, 0.0, 0.0, 0.001]);
        past.uses.variance_per_area = 0.4;
        let at_once = Shop::new(&past);
        assert!(at_once.pool.is_some());
        let mut one_by_one = Shop::new(&past);
        one_by_one.pool = None;
        let drawn = |shop: &Shop<'_>| {
            let mut rng = ChaCha8Rng::seed_from_u64(3);
            quantiles(
                (0..4_000)
                    .map(|_| shop.draw(MANY_DRAWN, &mut rng))
                    .collect(),
            )
        };
        let (fast, slow) = (drawn(&at_once), drawn(&one_by_one));
        // Both are simulated: the sd of a sum is 2 % of it, that of a quantile
        // of 4,000 draws a fiftieth of that.
        assert!(
            (fast.half / slow.half - 1.0).abs() < 0.002,
            "{fast:?} {slow:?}"
        );
        let wide = |q: Quantiles| q.nine_tenths / q.half - 1.0;
        assert!(
            (wide(fast) / wide(slow) - 1.0).abs() < 0.1,
            "{fast:?} {slow:?}"
        );
    }

    #[test]
    fn jobs_that_come_near_to_nothing_are_drawn_one_by_one() {
        let areas = [1.0; 2_500];
        let mut past = past(&MONTHS, &areas, &[0.0; 4]);
        past.uses.variance_per_area = 4.0;
        assert!(Shop::new(&past).pool.is_none());
    }

    #[test]
    fn too_little_or_bad_is_said() {
        let zero = [0.0; 4];
        let few = need(&past(&MONTHS[..2], &[20.0], &zero), params(1));
        assert!(matches!(few, Err(FitError::NotEnough(_))));
        let none = need(&past(&MONTHS, &[], &zero), params(1));
        assert!(matches!(none, Err(FitError::NotEnough(_))));
        let odd = need(&past(&MONTHS, &[-1.0], &zero), params(1));
        assert!(matches!(odd, Err(FitError::OutOfRange { row: 0, .. })));
        let short = need(&past(&MONTHS, &[20.0], &[0.0; 3]), params(1));
        assert!(matches!(short, Err(FitError::Shape { .. })));
        assert!(need(&past(&MONTHS, &[20.0], &zero), params(0)).is_err());
        let nothing = need(&past(&[0, 0, 0], &[20.0], &zero), params(1)).unwrap();
        assert_eq!(nothing.ml.half, 0.0);
    }
}
