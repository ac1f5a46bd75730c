//! Single values and their moving range.
//!
//! Question: which single values (mL per m² of a month) lie further out than
//! neighbours usually lie apart? x̄ ± 3 MR̄/1.128, MR̄ being the mean
//! |x_i − x_{i−1}|; moving ranges up to 3.267 MR̄ are ordinary
//! (NIST/SEMATECH e-Handbook 6.3.2.2). Values in time order, any one unit.
//!
//! When it misleads: strongly skewed values, or values that drift, so that
//! neighbours are closer than the rest.

use super::{MOVING_RANGE_PER_SIGMA, mean_moving_range};
use crate::estimate::NotEnough;
use crate::fits::error::FitError;

/// Upper limit of a moving range of two, in mean moving ranges (1 + 3 d3/d2).
const MOVING_RANGE_LIMIT: f64 = 3.267;

/// An individuals chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Individuals {
    /// Mean of the values.
    pub centre: f64,
    /// Mean moving range.
    pub moving_range: f64,
    /// Standard deviation that it stands for.
    pub sigma: f64,
    /// centre − 3 sigma.
    pub low: f64,
    /// centre + 3 sigma.
    pub high: f64,
    /// Largest ordinary moving range.
    pub moving_range_high: f64,
}

/// The chart of these values.
///
/// # Errors
/// [`FitError::NotEnough`] with fewer than two values,
/// [`FitError::NoSpread`] where all are alike, [`FitError::NotFinite`].
pub fn chart(values: &[f64]) -> Result<Individuals, FitError> {
    if let Some(row) = values.iter().position(|v| !v.is_finite()) {
        return Err(FitError::NotFinite {
            what: "values",
            row,
        });
    }
    let missing = NotEnough::new(values.len() as u64, 2, "values");
    let moving_range = mean_moving_range(values).ok_or(missing)?;
    if moving_range == 0.0 {
        return Err(FitError::NoSpread { what: "values" });
    }
    let centre = values.iter().sum::<f64>() / values.len() as f64;
    let sigma = moving_range / MOVING_RANGE_PER_SIGMA;
    Ok(Individuals {
        centre,
        moving_range,
        sigma,
        low: centre - 3.0 * sigma,
        high: centre + 3.0 * sigma,
        moving_range_high: MOVING_RANGE_LIMIT * moving_range,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_value_or_no_spread_is_said() {
        assert!(matches!(chart(&[1.0]), Err(FitError::NotEnough(_))));
        assert!(matches!(
            chart(&[2.0, 2.0, 2.0]),
            Err(FitError::NoSpread { .. })
        ));
        assert!(matches!(
            chart(&[2.0, f64::NAN]),
            Err(FitError::NotFinite { row: 1, .. })
        ));
    }

    #[test]
    fn shifting_and_scaling_carry_over() {
        let x = [3.0, 5.0, 4.0, 6.5, 2.0];
        let moved: Vec<f64> = x.iter().map(|v| 10.0 + 2.0 * v).collect();
        let (a, b) = (chart(&x).unwrap(), chart(&moved).unwrap());
        assert!((b.high - (10.0 + 2.0 * a.high)).abs() < 1e-12);
        assert!((b.moving_range_high - 2.0 * a.moving_range_high).abs() < 1e-12);
    }
}
