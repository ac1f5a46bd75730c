//! The record that travels with every fit: what went in, what did not and
//! why, and how the search for the answer ended.

/// How an iteration ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    /// Solved directly; nothing was iterated.
    Direct,
    /// The tolerance was met.
    Converged,
    /// The best value lies at an end of its range (a variance of zero).
    AtBoundary,
    /// The number of iterations ran out; the last value is given.
    OutOfIterations,
}

/// Why a row took no part in a fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Why {
    /// Its modified z-score is over the limit
    /// ([`robust`](crate::fits::robust)).
    FarFromTheRest {
        /// The modified z-score.
        score: f64,
    },
    /// Its weight, area or count is zero, or it carries no value.
    Empty,
}

/// A row that took no part in a fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeftOut {
    /// Zero-based row of the input.
    pub row: usize,
    /// Why.
    pub why: Why,
}

/// The record of a fit.
#[derive(Debug, Clone, PartialEq)]
pub struct Record {
    /// Rows that took part.
    pub rows_used: usize,
    /// Rows that did not, in the order of the input.
    pub left_out: Vec<LeftOut>,
    /// Iterations (evaluations of the criterion) made.
    pub iterations: u32,
    /// How the iteration ended.
    pub ended: Ended,
}

impl Record {
    /// The record of a fit that was solved directly on all of `rows_used`.
    pub fn direct(rows_used: usize) -> Self {
        Self {
            rows_used,
            left_out: Vec::new(),
            iterations: 0,
            ended: Ended::Direct,
        }
    }
}
