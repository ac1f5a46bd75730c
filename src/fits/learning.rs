//! Does a new person get faster with practice, and as fast as hoped?
//!
//! The *unit* model (Crawford's form of Wright's curve, J. Aeronautical
//! Sciences 1936;3:122-128, doi:10.2514/8.155): the n-th job takes
//! t_n = t_1 n^b, so every doubling of jobs multiplies the time by 2^b
//! ("80 % curve": 2^b = 0.8). The cumulative-average model, in which 2^b
//! applies to the mean of all jobs so far, is another one and not used here.
//!
//! Fit: log t_i = a + b log n_i + e_i by least squares, t in minutes, or in
//! minutes over what the work needs (then t_1 is a factor); intervals by
//! Student's t. n_i is the person's own count of jobs, from 1.
//!
//! When it misleads: jobs before the records began (n is then too small and
//! b too flat); practice levels off, the curve doesn't; work that got easier
//! over the same weeks.

use crate::estimate::{Estimate, NotEnough};
use crate::fits::dist::t_margin;
use crate::fits::error::FitError;
use crate::fits::interval::{check_level, t_interval};

/// Least jobs for a curve: a line and two degrees of freedom.
const JOBS: usize = 4;

/// A fitted unit curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Learning {
    /// Factor on the time per doubling of jobs, 2^b; under 1 is faster.
    pub per_doubling: Estimate,
    /// t_1 by the curve, e^a.
    pub first: Estimate,
    /// Standard deviation of e, on the log scale.
    pub residual_sd: f64,
    intercept: f64,
    slope: f64,
    mean_log: f64,
    /// Σ (log n_i − mean)².
    spread: f64,
}

impl Learning {
    /// The time that the curve gives for the person's `n`-th job (median, on
    /// the scale of the input), with the interval of the curve itself.
    /// `None` for an `n` under 1.
    pub fn expected(&self, n: f64) -> Option<Estimate> {
        if !(n.is_finite() && n >= 1.0) {
            return None;
        }
        let (jobs, level) = (self.per_doubling.n, self.per_doubling.level);
        let away = n.ln() - self.mean_log;
        let share = 1.0 / jobs as f64 + away * away / self.spread;
        let value = self.intercept + self.slope * n.ln();
        let half = t_margin(level, jobs as f64 - 2.0) * self.residual_sd * share.sqrt();
        Some(Estimate {
            value: value.exp(),
            low: (value - half).exp(),
            high: (value + half).exp(),
            level,
            n: jobs,
        })
    }
}

/// b of a curve that multiplies the time by `rate` per doubling.
///
/// # Errors
/// [`FitError::Parameter`] for a rate that is not above 0.
pub fn exponent(rate: f64) -> Result<f64, FitError> {
    if rate.is_finite() && rate > 0.0 {
        return Ok(rate.log2());
    }
    Err(FitError::Parameter {
        what: "factor per doubling",
        found: rate,
        expected: "above 0",
    })
}

/// The factor per doubling of a curve with exponent `b`.
pub fn per_doubling(b: f64) -> f64 {
    b.exp2()
}

/// The n-th job's time over the first one's, n^b.
pub fn unit_factor(n: f64, b: f64) -> f64 {
    n.powf(b)
}

/// Fits the unit curve to a person's jobs: `counts` n_i, `log_times` the
/// natural logarithm of t_i.
///
/// # Errors
/// [`FitError::NotEnough`] with fewer than four jobs,
/// [`FitError::NoSpread`] where all counts are alike or the line fits to the
/// last digit; [`FitError::Shape`], [`FitError::NotFinite`],
/// [`FitError::OutOfRange`] (a count under 1), [`FitError::Parameter`].
pub fn fit(counts: &[f64], log_times: &[f64], level: f64) -> Result<Learning, FitError> {
    check(counts, log_times)?;
    check_level(level)?;
    let jobs = counts.len() as f64;
    let logs: Vec<f64> = counts.iter().map(|n| n.ln()).collect();
    let mean = |v: &[f64]| v.iter().sum::<f64>() / jobs;
    let (mean_log, mean_time) = (mean(&logs), mean(log_times));
    let spread: f64 = logs.iter().map(|l| (l - mean_log).powi(2)).sum();
    if spread <= 0.0 {
        return Err(FitError::NoSpread { what: "job counts" });
    }
    let pairs = || logs.iter().zip(log_times);
    let slope = pairs().map(|(l, t)| (l - mean_log) * t).sum::<f64>() / spread;
    let intercept = mean_time - slope * mean_log;
    let squares: f64 = pairs()
        .map(|(l, t)| (t - intercept - slope * l).powi(2))
        .sum();
    let (df, n) = (jobs - 2.0, counts.len() as u64);
    let residual_sd = (squares / df).sqrt();
    if residual_sd <= 1e-12 {
        return Err(FitError::NoSpread {
            what: "times about the curve",
        });
    }
    let estimate = |value, share: f64| t_interval(value, residual_sd * share.sqrt(), df, level, n);
    Ok(Learning {
        per_doubling: estimate(slope, 1.0 / spread).map(f64::exp2),
        first: estimate(intercept, 1.0 / jobs + mean_log * mean_log / spread).map(f64::exp),
        residual_sd,
        intercept,
        slope,
        mean_log,
        spread,
    })
}

fn check(counts: &[f64], log_times: &[f64]) -> Result<(), FitError> {
    if counts.len() != log_times.len() {
        return Err(FitError::Shape {
            what: "times of the jobs",
            expected: counts.len(),
            found: log_times.len(),
        });
    }
    for (row, (n, t)) in counts.iter().zip(log_times).enumerate() {
        if !(n.is_finite() && t.is_finite()) {
            let what = "jobs of a person";
            return Err(FitError::NotFinite { what, row });
        }
        if *n < 1.0 {
            return Err(FitError::OutOfRange {
                what: "job counts",
                row,
                found: *n,
                expected: "1 or more",
            });
        }
    }
    if counts.len() < JOBS {
        let have = counts.len() as u64;
        return Err(NotEnough::new(have, JOBS as u64, "jobs of this person").into());
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values: R's lm would print the same; by hand for log2 n = 0, 1, 2, 3
    /// and log t = 4.0, 3.8, 3.7, 3.3: slope −0.22 per doubling, residuals
    /// −.03, −.01, .11, −.07, so s² = .018/2 and se = s/√5.
    #[test]
    fn a_small_fit_by_hand() {
        let fit = fit(&[1.0, 2.0, 4.0, 8.0], &[4.0, 3.8, 3.7, 3.3], 0.95).unwrap();
        let per = fit.per_doubling;
        assert!((per.value - (-0.22_f64).exp()).abs() < 1e-12);
        let se = (0.018_f64 / 2.0 / 5.0).sqrt();
        let low = (-0.22 - 4.302652729749462 * se).exp();
        assert!((per.low - low).abs() < 1e-9);
        assert!((fit.first.value - 4.03_f64.exp()).abs() < 1e-9);
        let third = fit.expected(4.0).unwrap();
        assert!((third.value - (4.03_f64 - 0.44).exp()).abs() < 1e-9);
        assert_eq!(fit.expected(0.0), None);
        let first = fit.expected(1.0).unwrap();
        assert!((first.low - fit.first.low).abs() < 1e-9);
    }

    #[test]
    fn too_little_or_no_spread_is_said() {
        let few = fit(&[1.0, 2.0, 3.0], &[1.0; 3], 0.95);
        assert!(matches!(few, Err(FitError::NotEnough(_))));
        let same = fit(&[5.0; 6], &[1.0, 2.0, 1.0, 2.0, 1.0, 2.0], 0.95);
        assert!(matches!(same, Err(FitError::NoSpread { .. })));
        let zero = fit(&[0.0; 6], &[1.0; 6], 0.95);
        assert!(matches!(zero, Err(FitError::OutOfRange { row: 0, .. })));
        let flat = fit(&[1.0, 2.0, 3.0, 4.0, 5.0], &[1.0; 5], 0.95);
        assert!(matches!(flat, Err(FitError::NoSpread { .. })));
        assert!(exponent(0.0).is_err());
    }
}
