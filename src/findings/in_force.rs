//! A fitted figure against the constant in force.

use crate::estimate::Figure;
use serde::Serialize;

/// How a fitted figure stands to the constant in force.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Against {
    /// The interval holds the constant: nothing says that it is wrong.
    Agrees,
    /// The whole interval lies above the constant.
    Above,
    /// The whole interval lies below the constant.
    Below,
    /// The figure could not be estimated.
    NotEnough,
    /// There is no constant to compare with.
    NoneInForce,
}

/// Compares `found` with the constant.
pub fn against(found: &Figure, in_force: Option<f64>) -> Against {
    match (found, in_force) {
        (Figure::NotEnough(_), _) => Against::NotEnough,
        (_, None) => Against::NoneInForce,
        (Figure::Known(e), Some(x)) if x < e.low => Against::Above,
        (Figure::Known(e), Some(x)) if x > e.high => Against::Below,
        _ => Against::Agrees,
    }
}

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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::{Estimate, NotEnough};

    #[test]
    fn the_constant_is_held_against_the_interval_ends_included() {
        let e = Figure::from(Estimate {
            value: 1.5,
            low: 1.4,
            high: 1.6,
            level: 0.95,
            n: 40,
        });
        assert_eq!(against(&e, Some(1.4)), Against::Agrees);
        assert_eq!(against(&e, Some(1.39)), Against::Above);
        assert_eq!(against(&e, Some(1.61)), Against::Below);
        assert_eq!(against(&e, None), Against::NoneInForce);
        let few = Figure::from(NotEnough::new(1, 2, "jobs"));
        assert_eq!(against(&few, Some(1.0)), Against::NotEnough);
    }
}
