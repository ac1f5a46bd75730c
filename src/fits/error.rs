//! What can keep a fit from being made: one enum for the whole stage.
//!
//! Too little data for *one* coefficient is no error: that coefficient is a
//! [`Figure::NotEnough`](crate::estimate::Figure) and the others stand.

use crate::estimate::NotEnough;

/// Why no fit could be made from what was handed in.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FitError {
    /// Slices whose lengths do not go together.
    #[error("{what}: {found} values where {expected} were expected")]
    Shape {
        /// Which input.
        what: &'static str,
        /// Length that goes with the others.
        expected: usize,
        /// Length found.
        found: usize,
    },
    /// A NaN or an infinity among the inputs.
    #[error("{what}, row {row}: not a finite number")]
    NotFinite {
        /// Which input.
        what: &'static str,
        /// Zero-based row.
        row: usize,
    },
    /// A finite value that the model has no place for.
    #[error("{what}, row {row}: {found} where {expected} was expected")]
    OutOfRange {
        /// Which input.
        what: &'static str,
        /// Zero-based row.
        row: usize,
        /// The value.
        found: f64,
        /// What would do.
        expected: &'static str,
    },
    /// A parameter (level, weight of a prior, target) out of its range.
    #[error("{what} is {found}; expected {expected}")]
    Parameter {
        /// Which parameter.
        what: &'static str,
        /// Its value.
        found: f64,
        /// What would do.
        expected: &'static str,
    },
    /// Columns of the design that cannot be told apart: a combination of
    /// them is zero in every row.
    #[error("columns {columns:?} of the design cannot be told apart")]
    Collinear {
        /// Zero-based columns, ascending; a lone one is zero throughout.
        columns: Vec<usize>,
    },
    /// Too few observations for any figure at all.
    #[error("{} {} where {} are needed", .0.have, .0.of, .0.need)]
    NotEnough(NotEnough),
    /// Every observation is alike, so nothing can be said about spread.
    #[error("{what} do not vary")]
    NoSpread {
        /// What does not vary, in the plural.
        what: &'static str,
    },
    /// An iteration ended without an answer.
    #[error("{what}: no answer after {iterations} iterations")]
    DidNotConverge {
        /// Which iteration.
        what: &'static str,
        /// How many were made.
        iterations: u32,
    },
}

impl From<NotEnough> for FitError {
    fn from(missing: NotEnough) -> Self {
        Self::NotEnough(missing)
    }
}

/// Refuses a slice of another length than goes with the others.
///
/// # Errors
/// [`FitError::Shape`].
pub(crate) fn check_shape(
    what: &'static str,
    expected: usize,
    found: usize,
) -> Result<(), FitError> {
    if expected == found {
        return Ok(());
    }
    Err(FitError::Shape {
        what,
        expected,
        found,
    })
}
