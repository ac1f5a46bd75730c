//! Jobs that the fits leave out, and why.

use serde::Serialize;

/// A job that the fits leave out, and why.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LeftOut {
    /// The shop's key; empty where there is one shop.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub shop: String,
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
    /// Its class or a finish of it is too rare to be told apart.
    Rare,
}

/// Classes, or finishes, that are too rare to be told apart in a shop that has
/// more of them than the fits tell apart.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Rare {
    /// Classes (or finishes) that are told apart: those with most coated jobs.
    pub told_apart: u64,
    /// Those that are not.
    pub others: u64,
    /// Coated jobs of these others.
    pub jobs: u64,
    /// Each of the others has fewer coated jobs than this.
    pub need: u64,
    /// The others, those with most jobs first; a table lists them.
    #[serde(skip)]
    pub kinds: Vec<RareKind>,
}

/// A class, or a finish, that is too rare to be told apart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RareKind {
    /// Its name.
    pub name: String,
    /// Its coated jobs.
    pub jobs: u64,
}
