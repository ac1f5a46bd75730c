//! How long the film lasts: times to a failure, some of them cut short.
//!
//! - [`km`]: the share still sound over time (Kaplan and Meier).
//! - [`logrank`]: do groups differ?
//! - [`cox`]: by what factor, other things equal?
//! - [`restricted_mean`]: mean sound time up to a horizon.
//!
//! A time is in days from the end of the film work (any one unit serves); a
//! job without a failure is censored at the last day that it is known to be
//! sound. A job censored on the day of another's failure was at risk then.
//! Every method sorts once and then goes through the distinct times. Jobs alike
//! in all that is asked may be one row with their number: a million jobs
//! followed for days over some years then are some thousands of rows.
//!
//! When they mislead: censoring that has to do with the film's state, and
//! groups that differ in more than the coating: people who pay for it may
//! care for the vehicle better.

pub mod cox;
pub mod km;
pub mod logrank;
pub mod restricted_mean;

use crate::fits::error::{FitError, check_shape};

/// Times and whether each ended in a failure (or was censored).
#[derive(Debug, Clone, Copy)]
pub struct Times<'a> {
    /// Time at risk, not negative.
    pub time: &'a [f64],
    /// True for a failure at that time, false for censored.
    pub failed: &'a [bool],
    /// Jobs that each row stands for; one each where there is none.
    pub jobs: Option<&'a [u64]>,
}

impl Times<'_> {
    /// Rows.
    pub fn len(&self) -> usize {
        self.time.len()
    }

    /// True without rows.
    pub fn is_empty(&self) -> bool {
        self.time.is_empty()
    }

    /// Jobs that a row stands for.
    pub fn jobs_of(&self, row: usize) -> u64 {
        let of = |jobs: &[u64]| jobs.get(row).copied().unwrap_or(0);
        self.jobs.map_or(1, of)
    }

    /// Jobs of all rows.
    pub fn total(&self) -> u64 {
        let none = self.len() as u64;
        self.jobs.map_or(none, |jobs| jobs.iter().sum())
    }

    /// Failures.
    pub fn failures(&self) -> u64 {
        let failed = self.failed.iter().enumerate().filter(|(_, f)| **f);
        failed.map(|(row, _)| self.jobs_of(row)).sum()
    }

    /// Lengths that go together, finite times, none negative, no row of no job.
    fn check(&self) -> Result<(), FitError> {
        check_shape("failures", self.len(), self.failed.len())?;
        if let Some(jobs) = self.jobs {
            check_shape("jobs of each row", self.len(), jobs.len())?;
            if let Some(row) = jobs.iter().position(|n| *n == 0) {
                return Err(FitError::OutOfRange {
                    what: "jobs of each row",
                    row,
                    found: 0.0,
                    expected: "one or more",
                });
            }
        }
        for (row, &t) in self.time.iter().enumerate() {
            if !t.is_finite() {
                return Err(FitError::NotFinite { what: "times", row });
            }
            if t < 0.0 {
                return Err(FitError::OutOfRange {
                    what: "times",
                    row,
                    found: t,
                    expected: "zero or more",
                });
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Times, failures, groups, strata and jobs of some rows.
    #[derive(Default)]
    struct Rows {
        time: Vec<f64>,
        failed: Vec<bool>,
        group: Vec<usize>,
        stratum: Vec<usize>,
        jobs: Vec<u64>,
    }

    impl Rows {
        fn add(&mut self, i: u64, jobs: u64) {
            self.time.push((i * 7 % 23) as f64);
            self.failed.push(i % 5 < 2);
            self.group.push((i % 3 / 2) as usize);
            self.stratum.push((i % 4 / 3) as usize);
            self.jobs.push(jobs);
        }

        fn times(&self) -> Times<'_> {
            Times {
                time: &self.time,
                failed: &self.failed,
                jobs: Some(&self.jobs),
            }
        }
    }

    /// The same jobs in 90 rows of one to six, and one by one.
    fn both() -> [Rows; 2] {
        let mut both = [Rows::default(), Rows::default()];
        for i in 0..90 {
            let jobs = 1 + i * i % 6;
            both[0].add(i, jobs);
            (0..jobs).for_each(|_| both[1].add(i, 1));
        }
        both
    }

    #[test]
    fn a_row_of_many_jobs_is_as_many_rows() {
        let [few, many] = both();
        let one_each = Times {
            jobs: None,
            ..many.times()
        };
        assert!(few.times().len() < one_each.len());
        assert_eq!(few.times().total(), one_each.total());
        let curves = [few.times(), one_each].map(|t| km::curve(t, 0.95).unwrap());
        assert_eq!(curves[0].steps, curves[1].steps);
        assert_eq!(curves[0].jobs(), curves[1].jobs());
        for day in [0.0, 3.5, 11.0, 22.0, 30.0] {
            assert_eq!(curves[0].at_risk(day), curves[1].at_risk(day));
        }
        for at_least in [1, 10, 60] {
            let horizon = |t| restricted_mean::horizon(t, t, 20.0, at_least).unwrap();
            assert_eq!(horizon(few.times()), horizon(one_each));
        }
        let tests = [(few.times(), &few), (one_each, &many)]
            .map(|(t, rows)| logrank::test(t, &rows.group, Some(&rows.stratum)).unwrap());
        assert_eq!(tests[0], tests[1]);
        let [a, b] = [(few.times(), &few), (one_each, &many)].map(|(times, rows)| {
            let covariates: Vec<f64> = rows.group.iter().map(|g| *g as f64).collect();
            let task = cox::Jobs {
                times,
                covariates: &covariates,
                columns: 1,
                strata: Some(&rows.stratum),
            };
            match cox::fit(&task, cox::Params::default()).unwrap() {
                cox::Outcome::Fitted(fit) => fit,
                cox::Outcome::Unbounded { .. } => panic!("unbounded"),
            }
        });
        assert!((a.coefficients[0] - b.coefficients[0]).abs() < 1e-12);
        assert!((a.covariance[(0, 0)] / b.covariance[(0, 0)] - 1.0).abs() < 1e-12);
        assert!((a.log_likelihood - b.log_likelihood).abs() < 1e-9);
        assert_eq!((a.jobs, a.failures), (b.jobs, b.failures));
        assert_eq!(a.record.rows_used, b.record.rows_used);
    }

    #[test]
    fn rows_of_no_job_and_too_few_numbers_are_refused() {
        let [mut few, _] = both();
        few.jobs[7] = 0;
        let found = km::curve(few.times(), 0.95);
        assert!(matches!(found, Err(FitError::OutOfRange { row: 7, .. })));
        few.jobs.pop();
        let found = km::curve(few.times(), 0.95);
        assert!(matches!(found, Err(FitError::Shape { .. })));
    }
}
