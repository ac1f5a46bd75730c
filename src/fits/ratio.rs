//! What does one unit cost over all that was bought? Ratio of totals.
//!
//! ```text
//! R = sum y_i / sum x_i
//! l_i = (y_i - R x_i) / xbar          (influence of bottle i)
//! v_L = sum l_i^2 / n^2               (linearised variance)
//! interval: R -/+ t(n-1) sqrt(v_L n/(n-1))
//! ```
//!
//! Shapes: x and y of length n; units: those of y over those of x (money minor
//! units over mL). For cost per mL, y is what a bottle cost, left-over
//! included, x the mL that came to use: volume less left-over. Not the mean of
//! the bottles' own ratios, which overstates small bottles.
//!
//! v_L: Davison and Hinkley, Bootstrap Methods and their Application, 1997,
//! chapter 2 (from memory). The factor n/(n-1) and Student's t are the usual
//! repair for few bottles (Cochran, Sampling Techniques, 1977, 6.4).
//!
//! It misleads with fewer than about ten bottles that differ much in size, and
//! where price changed within the window: then it is an average of old and new.

use crate::estimate::{Estimate, NotEnough};
use crate::fits::error::FitError;
use crate::fits::interval::{check_level, t_interval};
use crate::fits::linear::check_length;

/// A ratio of totals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ratio {
    /// R.
    pub value: f64,
    /// v_L, without the factor n/(n-1).
    pub linearised_variance: f64,
    /// n.
    pub n: u64,
}

impl Ratio {
    /// sum y / sum x. x must not be negative, and its sum must be above 0.
    ///
    /// # Errors
    /// [`FitError::Shape`], [`FitError::NotFinite`], [`FitError::OutOfRange`]
    /// for a negative x, [`FitError::NotEnough`] for an empty or all-zero x.
    pub fn of_totals(y: &[f64], x: &[f64]) -> Result<Self, FitError> {
        check_length("x", x.len(), x)?;
        check_length("y", x.len(), y)?;
        if let Some(row) = x.iter().position(|v| *v < 0.0) {
            return Err(FitError::OutOfRange {
                what: "x",
                row,
                found: x[row],
                expected: "zero or more",
            });
        }
        let n = x.len() as f64;
        let total: f64 = x.iter().sum();
        if total <= 0.0 {
            return Err(NotEnough::new(0, 1, "rows with something in them").into());
        }
        let value = y.iter().sum::<f64>() / total;
        let squares: f64 = (y.iter().zip(x))
            .map(|(y, x)| (y - value * x).powi(2))
            .sum();
        Ok(Self {
            value,
            linearised_variance: squares / (total * total),
            n: n as u64,
        })
    }

    /// The interval; takes two rows or more.
    ///
    /// # Errors
    /// [`FitError::NotEnough`] for one row, [`FitError::Parameter`] for the
    /// level.
    pub fn estimate(&self, level: f64) -> Result<Estimate, FitError> {
        check_level(level)?;
        if self.n < 2 {
            return Err(NotEnough::new(self.n, 2, "rows").into());
        }
        let df = (self.n - 1) as f64;
        let error = (self.linearised_variance * self.n as f64 / df).sqrt();
        Ok(t_interval(self.value, error, df, level, self.n))
    }
}

/// Cost per mL from bottles: `cost` (any one unit of money), `volume` and
/// `left_over` in mL, one entry per bottle. All the money bought only what
/// was not thrown away.
///
/// # Errors
/// As [`Ratio::of_totals`] and [`Ratio::estimate`]; a bottle with more left
/// over than it held is [`FitError::OutOfRange`].
pub fn cost_per_ml(
    cost: &[f64],
    volume: &[f64],
    left_over: &[f64],
    level: f64,
) -> Result<Estimate, FitError> {
    check_length("volume", cost.len(), volume)?;
    check_length("left over", cost.len(), left_over)?;
    let used: Vec<f64> = volume.iter().zip(left_over).map(|(v, l)| v - l).collect();
    Ratio::of_totals(cost, &used)?.estimate(level)
}
