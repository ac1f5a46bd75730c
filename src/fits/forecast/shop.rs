//! One draw of what so many jobs take: the constants, the weights of past jobs,
//! and each job, or their sum at once.

use super::{CUT_MATTERS, DRAWN_JOBS, MANY_DRAWN, MANY_JOBS, Past};
use crate::fits::dist::normal_cdf;
use crate::fits::draws;
use nalgebra::{DMatrix, DVector};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rand_distr::{ChiSquared, Distribution, Exp1};

/// The shop's jobs and what they take.
pub(super) struct Shop<'a> {
    past: Past<'a>,
    mean: DVector<f64>,
    root: Vec<DVector<f64>>,
    /// Whole area of each past job.
    areas: Vec<f64>,
    /// What a sum of many jobs rests on; `None` where they are few, or drawn
    /// one by one all the same.
    pub(super) pool: Option<Pool>,
}

/// Past jobs together.
pub(super) struct Pool {
    /// Mean of (1, areas by finish).
    mean: DVector<f64>,
    /// Their covariance.
    covariance: DMatrix<f64>,
    /// Mean whole area.
    area: f64,
}

impl Pool {
    /// `None` with few jobs, or where the cut at 0 matters.
    fn new(past: &Past<'_>, areas: &[f64]) -> Option<Self> {
        let n = areas.len() as f64;
        if areas.len() < MANY_JOBS {
            return None;
        }
        let p = past.finishes + 1;
        let (mut mean, mut products) = (DVector::zeros(p), DMatrix::zeros(p, p));
        let (mut whole, mut cut) = (0.0, 0.0);
        for (own, area) in past.areas.chunks_exact(past.finishes).zip(areas) {
            let x = DVector::from_fn(p, |j, _| j.checked_sub(1).map_or(1.0, |f| own[f]));
            products.ger(1.0 / n, &x, &x, 1.0);
            mean.axpy(1.0 / n, &x, 1.0);
            let expected: f64 = past
                .uses
                .mean
                .iter()
                .zip(x.iter())
                .map(|(c, x)| c * x)
                .sum();
            whole += expected;
            cut += below_zero(expected, (past.uses.variance_per_area * area).sqrt());
        }
        products.ger(-1.0, &mean, &mean, 1.0);
        (cut <= CUT_MATTERS * whole).then(|| Self {
            mean,
            covariance: products,
            area: areas.iter().sum::<f64>() / n,
        })
    }

    /// The sum of `count` jobs that take `constants`, one draw.
    fn sum(&self, count: u64, constants: &DVector<f64>, sigma: f64, rng: &mut ChaCha8Rng) -> f64 {
        let count = count as f64;
        let between = constants.dot(&(&self.covariance * constants)).max(0.0);
        let spread = (count * (between + sigma * sigma * self.area)).sqrt();
        let sum = count * constants.dot(&self.mean) + spread * draws::normal(rng);
        sum.max(0.0)
    }
}

/// Mean of what a normal variable lies below 0.
fn below_zero(mean: f64, sd: f64) -> f64 {
    if sd <= 0.0 {
        return (-mean).max(0.0);
    }
    let z = mean / sd;
    let density = (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt();
    sd * density - mean * normal_cdf(-z)
}

impl<'a> Shop<'a> {
    pub(super) fn new(past: &Past<'a>) -> Self {
        let p = past.finishes + 1;
        let areas = past.areas.chunks_exact(past.finishes);
        let areas: Vec<f64> = areas.map(|a| a.iter().sum()).collect();
        Self {
            past: *past,
            mean: DVector::from_column_slice(past.uses.mean),
            root: draws::root(&DMatrix::from_row_slice(p, p, past.uses.covariance)),
            pool: Pool::new(past, &areas),
            areas,
        }
    }

    /// mL of `count` jobs under one draw of the constants and of the weights
    /// of past jobs. Of more than [`DRAWN_JOBS`] so many are drawn and scaled
    /// up: what single jobs add to the spread is long gone by then.
    pub(super) fn draw(&self, count: u64, rng: &mut ChaCha8Rng) -> f64 {
        let scale = self.scale(rng);
        let constants = draws::around(&self.mean, &self.root, scale, rng);
        let sigma = scale * self.past.uses.variance_per_area.sqrt();
        if let Some(pool) = self.pool.as_ref().filter(|_| count >= MANY_DRAWN) {
            return pool.sum(count, &constants, sigma, rng);
        }
        let picker = Picker::new(self.areas.len(), rng);
        let mut sum = 0.0;
        let drawn = count.min(DRAWN_JOBS);
        for _ in 0..drawn {
            let job = picker.pick(rng);
            let from = job * self.past.finishes;
            let areas = &self.past.areas[from..from + self.past.finishes];
            let finishes = constants.iter().skip(1).zip(areas);
            let expected = constants[0] + finishes.map(|(c, a)| c * a).sum::<f64>();
            let own = sigma * self.areas[job].sqrt() * draws::normal(rng);
            sum += (expected + own).max(0.0);
        }
        sum * (count as f64 / drawn.max(1) as f64)
    }

    /// √(df/χ²): 1 where the variance is known.
    fn scale(&self, rng: &mut ChaCha8Rng) -> f64 {
        let df = self.past.uses.df;
        match ChiSquared::new(df) {
            Ok(law) if df.is_finite() => (df / law.sample(rng)).sqrt(),
            _ => 1.0,
        }
    }
}

/// Picks past jobs, evenly or by weights drawn once.
enum Picker {
    Even(usize),
    /// Running sums of the weights.
    Weighted(Vec<f64>),
}

impl Picker {
    fn new(jobs: usize, rng: &mut ChaCha8Rng) -> Self {
        if jobs >= MANY_JOBS {
            return Self::Even(jobs);
        }
        let mut sum = 0.0;
        let add = |_| {
            let weight: f64 = Exp1.sample(rng);
            sum += weight;
            sum
        };
        Self::Weighted((0..jobs).map(add).collect())
    }

    fn pick(&self, rng: &mut ChaCha8Rng) -> usize {
        match self {
            Self::Even(jobs) => rng.random_range(0..*jobs),
            Self::Weighted(sums) => {
                let whole = sums.last().copied().unwrap_or(0.0);
                let at = rng.random::<f64>() * whole;
                sums.partition_point(|s| *s <= at).min(sums.len() - 1)
            }
        }
    }
}
