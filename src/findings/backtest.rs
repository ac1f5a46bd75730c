//! Would the refitted constants have predicted better than those in force?
//!
//! Rolling origin: each month's jobs are predicted by the constants in force
//! when they were quoted, and by a refit on what was known before that month
//! (Tashman, International Journal of Forecasting 2000;16:437-450,
//! doi:10.1016/S0169-2070(00)00065-0). Both are scored on the same jobs.
//!
//! ```text
//! bias = mean(predicted - actual)    error = mean |predicted - actual|
//! cover = share of jobs within the 80 % range
//! ```
//!
//! A constant has no range of its own: it is given the refit's, moved along.

use crate::estimate::Estimate;
use crate::settings::month::Month;
use serde::Serialize;
use std::collections::BTreeMap;

use super::recalibrate::Constant;

/// Level of the range whose cover is counted.
pub const RANGE: f64 = 0.8;
/// Months that are predicted.
pub const MONTHS: i32 = 12;

/// What happened beside what either said before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// What happened.
    pub actual: f64,
    /// By the constants in force then.
    pub in_force: Estimate,
    /// By the refit on what was known then.
    pub refit: Estimate,
}

/// How one of the two did.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Score {
    /// Mean of predicted less actual.
    pub bias: f64,
    /// Mean absolute error.
    pub mean_absolute_error: f64,
    /// Share within the range of [`RANGE`].
    pub cover: f64,
}

/// Both on the same jobs.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Compared {
    /// Jobs (bottles where no job is measured, or where bottles are priced).
    pub jobs: u64,
    /// The constants in force.
    pub in_force: Score,
    /// The refit.
    pub refit: Score,
}

impl Compared {
    /// Scores both; `None` without a pair.
    pub fn of<'a>(pairs: impl Iterator<Item = &'a Pair> + Clone) -> Option<Self> {
        let jobs = pairs.clone().count() as u64;
        let score = |which: fn(&Pair) -> Estimate| {
            let mean = |of: &dyn Fn(&Pair) -> f64| pairs.clone().map(of).sum::<f64>() / jobs as f64;
            Score {
                bias: mean(&|p| which(p).value - p.actual),
                mean_absolute_error: mean(&|p| (which(p).value - p.actual).abs()),
                cover: mean(&|p| f64::from(u8::from(which(p).holds(p.actual)))),
            }
        };
        (jobs > 0).then(|| Self {
            jobs,
            in_force: score(|p| p.in_force),
            refit: score(|p| p.refit),
        })
    }
}

/// The comparison over all months.
#[derive(Debug, Clone, PartialEq)]
pub struct Backtest {
    /// First month predicted.
    pub from: Month,
    /// Last month predicted.
    pub until: Month,
    /// Months of these for which both could predict something.
    pub months: u64,
    /// mL per job.
    pub use_ml: Option<Compared>,
    /// Hands-on minutes per job.
    pub minutes: Option<Compared>,
    /// Coating and labour per job [minor units].
    pub money: Option<Compared>,
    /// No job is measured, so use by constant is held against bottles.
    pub use_by_bottles: bool,
    /// The same, job by job, for the jobs that rest on one constant.
    pub by_constant: BTreeMap<(Constant, String), Compared>,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn estimate(value: f64, low: f64, high: f64) -> Estimate {
        Estimate {
            value,
            low,
            high,
            level: RANGE,
            n: 10,
        }
    }

    #[test]
    fn bias_error_and_cover_by_hand() {
        let pair = |actual| Pair {
            actual,
            in_force: estimate(10.0, 9.0, 11.0),
            refit: estimate(12.0, 10.5, 13.5),
        };
        let pairs = [pair(11.0), pair(13.0), pair(14.0), pair(10.0)];
        let got = Compared::of(pairs.iter()).unwrap();
        assert_eq!(got.jobs, 4);
        assert_eq!(got.in_force.bias, -2.0);
        assert_eq!(got.in_force.mean_absolute_error, 2.0);
        assert_eq!(got.in_force.cover, 0.5);
        assert_eq!(got.refit.bias, 0.0);
        assert_eq!(got.refit.mean_absolute_error, 1.5);
        assert_eq!(got.refit.cover, 0.5);
        assert_eq!(Compared::of([].iter()), None);
    }
}
