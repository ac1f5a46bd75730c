//! Measured jobs as they are handed in.

use crate::fits::error::FitError;
use crate::fits::linear::check_length;

/// Measured jobs: what each used and the areas it covered.
#[derive(Debug, Clone, Copy)]
pub struct Jobs<'a> {
    pub(super) used: &'a [f64],
    pub(super) areas: &'a [f64],
    pub(super) finishes: usize,
}

impl<'a> Jobs<'a> {
    /// `used` mL of n jobs, `areas` m2 as n x finishes, row-major.
    ///
    /// # Errors
    /// [`FitError::Shape`], [`FitError::NotFinite`], or
    /// [`FitError::OutOfRange`] naming the row of a negative use or area.
    pub fn new(used: &'a [f64], areas: &'a [f64], finishes: usize) -> Result<Self, FitError> {
        check_length("mL used", used.len(), used)?;
        check_length("areas", used.len() * finishes, areas)?;
        check_not_negative("mL used", used, 1)?;
        check_not_negative("areas", areas, finishes)?;
        Ok(Self {
            used,
            areas,
            finishes,
        })
    }

    pub(super) fn areas_of(&self, job: usize) -> &'a [f64] {
        &self.areas[job * self.finishes..(job + 1) * self.finishes]
    }
}

/// Refuses a negative number, naming its row.
pub(super) fn check_not_negative(
    what: &'static str,
    values: &[f64],
    per_row: usize,
) -> Result<(), FitError> {
    match values.iter().position(|v| *v < 0.0) {
        None => Ok(()),
        Some(at) => Err(FitError::OutOfRange {
            what,
            row: at / per_row.max(1),
            found: values[at],
            expected: "zero or more",
        }),
    }
}
