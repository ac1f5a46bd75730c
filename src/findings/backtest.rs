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
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
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
    pub fn of<'a>(pairs: impl Iterator<Item = &'a Pair>) -> Option<Self> {
        let mut sums = Errors::default();
        pairs.for_each(|pair| sums.add(pair));
        sums.compared()
    }
}

/// Sums over pairs, of which only these are kept: there may be very many.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Errors {
    /// Pairs.
    pub jobs: u64,
    /// Summed, not yet divided by the pairs.
    in_force: Score,
    refit: Score,
}

impl Errors {
    /// Adds a pair.
    pub fn add(&mut self, pair: &Pair) {
        self.jobs += 1;
        self.in_force.add(&pair.in_force, pair.actual);
        self.refit.add(&pair.refit, pair.actual);
    }

    /// Adds what others sum up to.
    pub fn merge(&mut self, other: &Self) {
        self.jobs += other.jobs;
        self.in_force.merge(&other.in_force);
        self.refit.merge(&other.refit);
    }

    /// The scores; `None` without a pair.
    pub fn compared(&self) -> Option<Compared> {
        (self.jobs > 0).then(|| Compared {
            jobs: self.jobs,
            in_force: self.in_force.over(self.jobs),
            refit: self.refit.over(self.jobs),
        })
    }
}

impl Score {
    /// Adds what one job adds to the sums.
    fn add(&mut self, predicted: &Estimate, actual: f64) {
        let error = predicted.value - actual;
        self.bias += error;
        self.mean_absolute_error += error.abs();
        self.cover += f64::from(u8::from(predicted.holds(actual)));
    }

    fn merge(&mut self, other: &Self) {
        self.bias += other.bias;
        self.mean_absolute_error += other.mean_absolute_error;
        self.cover += other.cover;
    }

    /// The means, where the sums are over `jobs`.
    fn over(self, jobs: u64) -> Self {
        let jobs = jobs as f64;
        Self {
            bias: self.bias / jobs,
            mean_absolute_error: self.mean_absolute_error / jobs,
            cover: self.cover / jobs,
        }
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
        let [mut first, mut last] = [Errors::default(); 2];
        pairs[..1].iter().for_each(|p| first.add(p));
        pairs[1..].iter().for_each(|p| last.add(p));
        first.merge(&last);
        assert_eq!(first.compared(), Some(got));
    }
}
