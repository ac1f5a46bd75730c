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
//! Every method sorts once and then goes through the distinct times, so that
//! a million jobs cost a sort.
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
}

impl Times<'_> {
    /// Jobs.
    pub fn len(&self) -> usize {
        self.time.len()
    }

    /// True without jobs.
    pub fn is_empty(&self) -> bool {
        self.time.is_empty()
    }

    /// Failures.
    pub fn failures(&self) -> usize {
        self.failed.iter().filter(|f| **f).count()
    }

    /// Lengths that go together, finite times, none negative.
    fn check(&self) -> Result<(), FitError> {
        check_shape("failures", self.len(), self.failed.len())?;
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
