//! How many coated jobs will a month bring?
//!
//! Month j brings x_j jobs, Poisson with a rate of its own: gamma with mean λ
//! and coefficient of variation κ, so x_j is negative binomial with variance
//! λ + κ²λ²; κ near 0 is Poisson. Whether past months are wider than Poisson
//! is not decided but weighed: κ runs over a grid that is even under a
//! half-Cauchy prior of scale 0.15, cut at 1.5 (no published source; in
//! simulated shops of 12 past months the 90 % quantile of the next month then
//! holds 88 to 93 times in 100, Poisson or κ up to 0.4, where 0.3 held up to
//! 94), each with its marginal likelihood; λ has Jeffreys' λ^{−½}, and
//! with k = 1/κ², p = k/(k + λ) is then Beta(mk − ½, Σx + ½), m months.
//!
//! When it misleads: a trend or a season is read as width.

use crate::estimate::NotEnough;
use crate::fits::error::FitError;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Beta, Distribution, Gamma, Poisson};
use statrs::function::beta::ln_beta;
use statrs::function::gamma::ln_gamma;

/// Fewest past months.
const MONTHS: usize = 3;
/// Points of κ.
const POINTS: usize = 60;
/// Scale of its prior.
const SCALE: f64 = 0.15;
/// Its largest value; also keeps m k over ½.
const WIDEST: f64 = 1.5;

/// The law of a month's jobs, as past months leave it.
#[derive(Debug, Clone, PartialEq)]
pub struct Demand {
    months: f64,
    sum: f64,
    /// κ and the running share of the posterior up to it.
    points: Vec<[f64; 2]>,
}

impl Demand {
    /// From the jobs of past months.
    ///
    /// # Errors
    /// [`FitError::NotEnough`] with fewer than three months.
    pub fn new(jobs_per_month: &[u64]) -> Result<Self, FitError> {
        if jobs_per_month.len() < MONTHS {
            let have = jobs_per_month.len() as u64;
            return Err(NotEnough::new(have, MONTHS as u64, "past months").into());
        }
        let sum = jobs_per_month.iter().map(|x| *x as f64).sum();
        let months = jobs_per_month.len() as f64;
        let cut = (WIDEST / SCALE).atan();
        let kappa = |i: usize| SCALE * (cut * (i as f64 + 0.5) / POINTS as f64).tan();
        let height = |kappa: f64| log_marginal(jobs_per_month, sum, kappa);
        let heights: Vec<f64> = (0..POINTS).map(|i| height(kappa(i))).collect();
        let top = heights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let whole: f64 = heights.iter().map(|h| (h - top).exp()).sum();
        let mut running = 0.0;
        let point = |i: usize| {
            running += (heights[i] - top).exp() / whole;
            [kappa(i), running]
        };
        Ok(Self {
            months,
            sum,
            points: (0..POINTS).map(point).collect(),
        })
    }

    /// Variance of a month over its mean, at the past mean, averaged over
    /// what κ may be; 1 is Poisson.
    pub fn dispersion(&self) -> f64 {
        let mean = self.sum / self.months;
        let mut before = 0.0;
        let mut excess = 0.0;
        for [kappa, upto] in &self.points {
            excess += (upto - before) * kappa * kappa;
            before = *upto;
        }
        1.0 + mean * excess
    }

    /// Jobs over `months` coming months, one draw of λ and κ for all.
    pub fn draw(&self, months: u32, rng: &mut ChaCha8Rng) -> u64 {
        let at: f64 = rng.random();
        let place = self.points.partition_point(|p| p[1] < at).min(POINTS - 1);
        let k = self.points[place][0].powi(-2);
        let rate = self.rate(k, rng);
        (0..months).map(|_| month(rate, k, rng)).sum()
    }

    /// A draw of λ given k.
    fn rate(&self, k: f64, rng: &mut ChaCha8Rng) -> f64 {
        match Beta::new(self.months * k - 0.5, self.sum + 0.5) {
            Ok(law) => {
                let p: f64 = law.sample(rng);
                k * (1.0 - p) / p.max(f64::MIN_POSITIVE)
            }
            Err(_) => self.sum / self.months,
        }
    }
}

/// Jobs of one month at rate λ and k = 1/κ².
fn month(rate: f64, k: f64, rng: &mut ChaCha8Rng) -> u64 {
    let Ok(law) = Gamma::new(k, rate / k) else {
        return 0;
    };
    let own: f64 = law.sample(rng);
    Poisson::new(own).map_or(0, |law| law.sample(rng) as u64)
}

/// log of the months' chance at κ with λ integrated out, but for what does
/// not depend on κ.
fn log_marginal(jobs: &[u64], sum: f64, kappa: f64) -> f64 {
    let (k, m) = (kappa.powi(-2), jobs.len() as f64);
    let months = jobs.iter().map(|x| ln_gamma(*x as f64 + k) - ln_gamma(k));
    months.sum::<f64>() + 0.5 * k.ln() + ln_beta(m * k - 0.5, sum + 0.5)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

    /// The marginal likelihood against integrating λ by brute force.
    #[test]
    fn the_marginal_is_the_integral() {
        use statrs::distribution::{Discrete, NegativeBinomial};
        let jobs = [4_u64, 9, 2, 6];
        let slow = |kappa: f64| -> f64 {
            let k = kappa.powi(-2);
            let step = 0.01;
            (1..20_000)
                .map(|i| {
                    let rate = step * f64::from(i);
                    let law = NegativeBinomial::new(k, k / (k + rate)).unwrap();
                    let chance: f64 = jobs.iter().map(|x| law.pmf(*x)).product();
                    chance * rate.powf(-0.5) * step
                })
                .sum::<f64>()
                .ln()
        };
        let fast = |kappa| log_marginal(&jobs, 21.0, kappa);
        let (a, b) = (0.2, 0.9);
        let difference = (fast(a) - fast(b)) - (slow(a) - slow(b));
        assert!(difference.abs() < 1e-3, "{difference}");
    }

    #[test]
    fn draws_have_the_mean_of_the_past() {
        let demand = Demand::new(&[40, 44, 38, 41, 39, 45]).unwrap();
        let mut rng = ChaCha8Rng::seed_from_u64(4);
        let draws = 20_000;
        let sum: u64 = (0..draws).map(|_| demand.draw(1, &mut rng)).sum();
        let mean = sum as f64 / f64::from(draws);
        // Jeffreys' prior adds half a job over six months.
        assert!((mean - 41.3).abs() < 0.5, "{mean}");
    }
}
