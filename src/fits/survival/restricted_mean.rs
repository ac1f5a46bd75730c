//! Mean sound time up to a horizon.
//!
//! Question: of the first h days, how many is the film sound on average?
//! Area under the Kaplan-Meier curve from 0 to h. Variance: Σ A_j² d_j /
//! (n_j (n_j − d_j)) over the failure times t_j ≤ h, A_j being the area from
//! t_j to h (Irwin 1949; Andersen, Borgan, Gill and Keiding 1993, IV.3; as
//! R's survival prints it). Two groups: difference, variances added.
//!
//! Needs no proportional hazards. When it misleads: it says nothing of what
//! comes after the horizon.

use super::Times;
use super::km::Curve;
use crate::estimate::{Estimate, NotEnough};
use crate::fits::dist::normal_margin;
use crate::fits::error::FitError;
use crate::fits::interval::check_level;

/// Mean sound time up to a horizon.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RestrictedMean {
    /// The horizon, in the unit of the times.
    pub horizon: f64,
    /// The mean.
    pub mean: f64,
    /// Its standard error; 0 where nothing failed before the horizon.
    pub standard_error: f64,
    /// Jobs.
    pub jobs: u64,
    /// Failures up to the horizon.
    pub failures: u64,
}

impl RestrictedMean {
    /// The mean with its interval, cut at 0 and the horizon.
    ///
    /// # Errors
    /// [`FitError::NotEnough`] without a failure before the horizon: there
    /// is nothing to take a spread from; [`FitError::Parameter`].
    pub fn estimate(&self, level: f64) -> Result<Estimate, FitError> {
        check_level(level)?;
        if self.failures == 0 {
            return Err(NotEnough::new(0, 1, "failures before the horizon").into());
        }
        let half = normal_margin(level) * self.standard_error;
        Ok(Estimate {
            value: self.mean,
            low: (self.mean - half).max(0.0),
            high: (self.mean + half).min(self.horizon),
            level,
            n: self.jobs,
        })
    }
}

/// The horizon for comparing two groups: the lesser of `cap` and the last
/// time at which both have `at_least` at risk.
///
/// # Errors
/// [`FitError::NotEnough`] where a group has fewer than `at_least` jobs;
/// [`FitError::Parameter`] for a cap that is not positive.
pub fn horizon(a: Times<'_>, b: Times<'_>, cap: f64, at_least: usize) -> Result<f64, FitError> {
    if cap.is_nan() || cap <= 0.0 {
        return Err(FitError::Parameter {
            what: "horizon",
            found: cap,
            expected: "a time above 0",
        });
    }
    let last = |jobs: Times<'_>| {
        jobs.check()?;
        let (have, need) = (jobs.total(), at_least.max(1) as u64);
        let missing = || FitError::from(NotEnough::new(have, need, "jobs in each group"));
        if at_least == 0 {
            return Err(missing());
        }
        let mut rows: Vec<usize> = (0..jobs.len()).collect();
        rows.sort_unstable_by(|&a, &b| jobs.time[b].total_cmp(&jobs.time[a]));
        let mut so_far = 0;
        let reached = |row: &&usize| {
            so_far += jobs.jobs_of(**row);
            so_far >= need
        };
        let last = rows.iter().find(reached).ok_or_else(missing)?;
        Ok(jobs.time[*last])
    };
    Ok(cap.min(last(a)?).min(last(b)?))
}

/// The mean sound time of one curve up to `horizon`.
///
/// # Errors
/// [`FitError::Parameter`] for a horizon that is not positive;
/// [`FitError::NotEnough`] where the curve ends before it (the last job was
/// censored earlier, so the area is not known).
pub fn mean(curve: &Curve, horizon: f64) -> Result<RestrictedMean, FitError> {
    if !(horizon.is_finite() && horizon > 0.0) {
        return Err(FitError::Parameter {
            what: "horizon",
            found: horizon,
            expected: "a time above 0",
        });
    }
    let last = curve.steps.last().map_or(1.0, |s| s.share);
    if curve.at_risk(horizon) == 0 && last > 0.0 {
        return Err(NotEnough::new(0, 1, "jobs at risk at the horizon").into());
    }
    let within: Vec<_> = curve.steps.iter().filter(|s| s.time <= horizon).collect();
    // From the last step backwards, so that each A_j is at hand.
    let (mut area, mut variance, mut until) = (0.0, 0.0, horizon);
    for step in within.iter().rev() {
        area += step.share * (until - step.time);
        until = step.time;
        let (d, n) = (step.failures as f64, step.at_risk as f64);
        if step.failures < step.at_risk {
            variance += area * area * d / (n * (n - d));
        }
    }
    Ok(RestrictedMean {
        horizon,
        mean: area + until,
        standard_error: f64::sqrt(variance),
        jobs: curve.jobs(),
        failures: within.iter().map(|s| s.failures).sum(),
    })
}

/// How much longer `a` is sound than `b`, within the horizon of both.
///
/// # Errors
/// [`FitError::Parameter`] for horizons that differ or a level out of range;
/// [`FitError::NotEnough`] where either group has no failure: its spread is
/// then unknown, not zero.
pub fn difference(
    a: &RestrictedMean,
    b: &RestrictedMean,
    level: f64,
) -> Result<Estimate, FitError> {
    check_level(level)?;
    if a.horizon != b.horizon {
        return Err(FitError::Parameter {
            what: "horizon of the second group",
            found: b.horizon,
            expected: "the horizon of the first",
        });
    }
    if a.failures.min(b.failures) == 0 {
        return Err(NotEnough::new(0, 1, "failures in each group before the horizon").into());
    }
    let value = a.mean - b.mean;
    let half = normal_margin(level) * a.standard_error.hypot(b.standard_error);
    Ok(Estimate {
        value,
        low: value - half,
        high: value + half,
        level,
        n: a.jobs + b.jobs,
    })
}

#[cfg(test)]
mod tests {
    use super::super::km::curve;
    use super::*;

    #[test]
    fn the_horizon_is_the_last_time_with_enough_at_risk() {
        let time: Vec<f64> = (1..=20).map(f64::from).collect();
        let failed = [false; 20];
        let a = Times {
            time: &time,
            failed: &failed,
            jobs: None,
        };
        let b = Times {
            time: &time[..12],
            failed: &failed[..12],
            jobs: None,
        };
        // Ten of the twelve have a time of 3 or more.
        assert_eq!(horizon(a, b, 36.0, 10).unwrap(), 3.0);
        assert_eq!(horizon(a, a, 36.0, 10).unwrap(), 11.0);
        assert_eq!(horizon(a, a, 4.5, 10).unwrap(), 4.5);
        assert!(matches!(
            horizon(a, b, 36.0, 13),
            Err(FitError::NotEnough(_))
        ));
    }

    /// Without censoring it is the plain mean of min(time, h).
    #[test]
    fn without_censoring_it_is_the_mean_of_the_shorter() {
        let time = [1.0, 2.0, 2.0, 5.0, 9.0];
        let jobs = Times {
            time: &time,
            failed: &[true; 5],
            jobs: None,
        };
        let found = mean(&curve(jobs, 0.95).unwrap(), 6.0).unwrap();
        assert!((found.mean - 16.0 / 5.0).abs() < 1e-12);
        // Variance of a mean with divisor n, here by hand.
        let squares: f64 = [1.0, 2.0, 2.0, 5.0, 6.0]
            .iter()
            .map(|x| (x - 3.2_f64).powi(2))
            .sum();
        assert!((found.standard_error - (squares / 25.0).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn a_curve_that_ends_before_the_horizon_is_said_to() {
        let jobs = Times {
            time: &[1.0, 4.0, 5.0],
            failed: &[true, false, false],
            jobs: None,
        };
        let curve = curve(jobs, 0.95).unwrap();
        assert!(matches!(mean(&curve, 6.0), Err(FitError::NotEnough(_))));
        assert!(mean(&curve, 5.0).is_ok());
        let none = mean(&curve, 0.5).unwrap();
        assert_eq!(none.mean, 0.5);
        assert!(matches!(none.estimate(0.95), Err(FitError::NotEnough(_))));
    }
}
