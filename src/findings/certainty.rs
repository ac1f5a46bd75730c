//! How sure a change is, decided once for the whole program.
//!
//! The four figures of the first screen are looked at together, every month.
//! So a change is called likely only at [`LIKELY_LEVEL`], which shares one
//! error in twenty among four figures (Bonferroni): in a shop where nothing
//! changes, some figure is wrongly called likely in about one month of twenty.

use crate::estimate::Estimate;
use serde::Serialize;

/// Figures that the first screen shows side by side.
const FIGURES: f64 = 4.0;
/// Level of the interval that must exclude "no change" for a change to be
/// called likely: 1 − 0.05 / 4.
pub const LIKELY_LEVEL: f64 = 1.0 - 0.05 / FIGURES;
/// Level of the limits outside of which a month is called out of the usual:
/// three standard deviations of a normal figure, the convention of control
/// charts (NIST/SEMATECH e-Handbook, 6.3.1).
pub const LIMIT_LEVEL: f64 = 0.9973;
/// Least number of jobs in a month for a word other than "too few".
pub const LEAST_IN_A_MONTH: u64 = 5;

/// How sure a change against the usual is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Certainty {
    /// Outside the limits of the usual range.
    Outside,
    /// Inside the limits, yet the interval of the change excludes none.
    Likely,
    /// Within ordinary ups and downs.
    Luck,
    /// Too few jobs to say.
    TooFew,
    /// Jobs enough, and no earlier month in the window to compare with.
    NoUsual,
}

/// The word for a change against the usual.
///
/// `outside`: the figure lies outside the limits of the usual range, which
/// are at [`LIMIT_LEVEL`]. `change`: now less usual, with its interval at
/// [`LIKELY_LEVEL`]; `None` where it could not be had.
pub fn certainty(outside: bool, change: Option<&Estimate>) -> Certainty {
    match change {
        None => Certainty::TooFew,
        Some(c) if c.n < LEAST_IN_A_MONTH => Certainty::TooFew,
        Some(_) if outside => Certainty::Outside,
        Some(c) if c.holds(0.0) => Certainty::Luck,
        Some(_) => Certainty::Likely,
    }
}

/// A month against the usual: how far off, and how sure that is.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Change {
    /// The month before; `None` where it had too few jobs.
    pub before: Option<f64>,
    /// The window without the month; `None` where it had too few jobs.
    pub usual: Option<f64>,
    /// Now less usual, interval at [`LIKELY_LEVEL`], `n` jobs this month.
    pub difference: Option<Estimate>,
    /// The figure itself, interval at 0.95; `None` where it had too few jobs.
    pub now: Option<Estimate>,
    /// Where it falls when nothing has changed; `None` without a usual.
    pub range: Option<Range>,
    /// How sure.
    pub certainty: Certainty,
}

/// Where a figure of the month falls when nothing has changed, at
/// [`LIMIT_LEVEL`]; in the figure's unit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Range {
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
}

impl Range {
    /// Both limits, or none.
    pub fn of(low: Option<f64>, high: Option<f64>) -> Option<Self> {
        low.zip(high).map(|(low, high)| Self { low, high })
    }
}

impl Change {
    /// The same, said as such where it is the usual that is missing: `jobs`
    /// are those of the month.
    #[must_use]
    pub fn of_jobs(self, jobs: u64) -> Self {
        let lacks_usual = self.certainty == Certainty::TooFew && self.usual.is_none();
        Self {
            certainty: if lacks_usual && jobs >= LEAST_IN_A_MONTH {
                Certainty::NoUsual
            } else {
                self.certainty
            },
            ..self
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn change(low: f64, high: f64, n: u64) -> Estimate {
        Estimate {
            value: f64::midpoint(low, high),
            low,
            high,
            level: LIKELY_LEVEL,
            n,
        }
    }

    #[test]
    fn each_word_has_its_threshold() {
        let up = change(0.01, 0.3, 20);
        let none = change(-0.01, 0.3, 20);
        assert_eq!(certainty(true, Some(&up)), Certainty::Outside);
        assert_eq!(certainty(false, Some(&up)), Certainty::Likely);
        assert_eq!(certainty(false, Some(&none)), Certainty::Luck);
        assert_eq!(
            certainty(false, Some(&change(0.0, 0.3, 20))),
            Certainty::Luck
        );
        assert_eq!(
            certainty(true, Some(&change(0.01, 0.3, 4))),
            Certainty::TooFew
        );
        assert_eq!(certainty(true, None), Certainty::TooFew);
    }

    #[test]
    fn the_level_shares_one_error_in_twenty_among_four_figures() {
        assert!((4.0 * (1.0 - LIKELY_LEVEL) - 0.05).abs() < 1e-12);
    }
}
