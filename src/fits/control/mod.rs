//! Is this month within what chance makes of the usual? Control charts.
//!
//! - [`binomial`]: exact limits for a month's count of yes, given the usual
//!   rate or the offers it was seen in.
//! - [`months`]: a whole window of months, each against the others, widened
//!   by Laney's p' where months differ by more than chance.
//! - [`individuals`]: single values and their moving range.
//! - [`ewma`]: slow drift, by an exponentially weighted mean.
//!
//! When they mislead: a chart finds that something changed, not what. With
//! twelve months and three-sigma tails up to one shop in thirty is flagged by
//! chance in some month of a year.

pub mod binomial;
pub mod ewma;
pub mod individuals;
pub mod months;

/// Mean moving range of two over the standard deviation, as the e-Handbook,
/// Montgomery and Laney print it (exactly 2/√π = 1.128379...). Published
/// limits depend on the rounding from the fourth digit on.
pub const MOVING_RANGE_PER_SIGMA: f64 = 1.128;

/// The tail of three standard errors on one side of a normal: the default of
/// every chart here.
pub const THREE_SIGMA_TAIL: f64 = 0.001_349_898_031_630_093;

/// Where a point lies against its limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Under the lower limit.
    Below,
    /// Between the limits, ends included.
    Within,
    /// Over the upper limit.
    Above,
}

impl Side {
    /// The side of `value` against `low..high`.
    pub fn of(value: f64, low: f64, high: f64) -> Self {
        if value < low {
            Self::Below
        } else if value > high {
            Self::Above
        } else {
            Self::Within
        }
    }
}

/// Mean distance between neighbours; `None` with fewer than two values.
fn mean_moving_range(values: &[f64]) -> Option<f64> {
    let steps = values.len().checked_sub(1).filter(|s| *s > 0)?;
    let sum: f64 = values.windows(2).map(|w| (w[1] - w[0]).abs()).sum();
    Some(sum / steps as f64)
}
