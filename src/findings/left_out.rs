//! Jobs that the fits leave out, and why.

use serde::Serialize;

/// A job that the fits leave out, and why.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LeftOut {
    /// The job.
    pub job: String,
    /// Why, as one of the codes that README lists.
    pub why: Why,
}

/// Why a job is left out of a fit. It stays in counts and money.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Why {
    /// Far off its kind: a modified z-score over 3.5.
    FarOff {
        /// The score.
        score: f64,
    },
    /// The area is not recorded.
    NoArea,
    /// Used or minutes are 0, which no such job takes.
    Zero,
}
