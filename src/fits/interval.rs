//! Intervals made from a value, its standard error and degrees of freedom, or
//! from the intervals of its parts.
//!
//! MOVER ("method of variance estimates recovery") turns separate intervals
//! of two independent figures a and b into one for their sum:
//!
//! ```text
//! low  = a + b - sqrt((a - a_low)^2  + (b - b_low)^2)
//! high = a + b + sqrt((a_high - a)^2 + (b_high - b)^2)
//! ```
//!
//! Zou GY, Donner A. Construction of confidence limits about effect measures:
//! a general approach. Statistics in Medicine 2008;27:1693-1702,
//! doi:10.1002/sim.3095. It misleads where the parts are strongly correlated.

use crate::estimate::Estimate;
use crate::fits::dist::{chi_squared_quantile, t_margin};
use crate::fits::error::FitError;

/// `value` with its t-interval: `value` -/+ t(level, df) standard errors.
/// Where `df` is infinite this is the normal interval.
pub fn t_interval(value: f64, standard_error: f64, df: f64, level: f64, n: u64) -> Estimate {
    let margin = t_margin(level, df) * standard_error;
    Estimate {
        value,
        low: value - margin,
        high: value + margin,
        level,
        n,
    }
}

/// A variance estimated on `df` degrees of freedom, with the interval from
/// chi-squared quantiles. Exact for one normal sample; Satterthwaite's
/// approximation where `df` was matched to the variance of the estimate.
pub fn variance_interval(variance: f64, df: f64, level: f64, n: u64) -> Estimate {
    let tail = (1.0 - level) / 2.0;
    Estimate {
        value: variance,
        low: variance * df / chi_squared_quantile(1.0 - tail, df),
        high: variance * df / chi_squared_quantile(tail, df),
        level,
        n,
    }
}

/// The sum of two independent figures (MOVER; see the head of this file).
/// `level` and `n` are those of `a`.
pub fn sum_of_independent(a: Estimate, b: Estimate) -> Estimate {
    let value = a.value + b.value;
    Estimate {
        value,
        low: value - (a.value - a.low).hypot(b.value - b.low),
        high: value + (a.high - a.value).hypot(b.high - b.value),
        ..a
    }
}

/// The difference of two independent figures (MOVER).
pub fn difference_of_independent(a: Estimate, b: Estimate) -> Estimate {
    let negative = Estimate {
        value: -b.value,
        low: -b.high,
        high: -b.low,
        ..b
    };
    sum_of_independent(a, negative)
}

/// Refuses a level that is not strictly between 0 and 1.
pub fn check_level(level: f64) -> Result<f64, FitError> {
    if level > 0.0 && level < 1.0 {
        Ok(level)
    } else {
        Err(FitError::Parameter {
            what: "level",
            found: level,
            expected: "a share strictly between 0 and 1",
        })
    }
}
