//! Slow drift, by an exponentially weighted moving average.
//!
//! Question: has a level crept away from its usual value? z_i = λ x_i +
//! (1−λ) z_{i−1}, z_0 = centre; ordinary where |z_i − centre| ≤
//! L σ √(λ/(2−λ) · (1 − (1−λ)^{2i})) (NIST/SEMATECH e-Handbook 6.3.2.4,
//! there with the limit of large i; Montgomery with the limits here).
//!
//! Values in time order, any one unit; σ is that of a single value. When it
//! misleads: values that follow each other closely without any drift.

use super::Side;
use crate::fits::error::FitError;

/// Weight and width of the chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Params {
    /// λ, the weight of the newest value (default 0.2).
    pub weight: f64,
    /// L, in standard errors (default 3).
    pub width: f64,
}

impl Default for Params {
    fn default() -> Self {
        Self {
            weight: 0.2,
            width: 3.0,
        }
    }
}

/// One point of the chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// z_i.
    pub mean: f64,
    /// Lower limit at i.
    pub low: f64,
    /// Upper limit at i.
    pub high: f64,
    /// Where z_i lies.
    pub side: Side,
}

/// Half the distance between the limits after very many values.
///
/// # Errors
/// [`FitError::Parameter`] for λ outside (0, 1] or a σ or L that is not
/// positive.
pub fn settled_width(sigma: f64, params: Params) -> Result<f64, FitError> {
    check(sigma, params)?;
    Ok(params.width * sigma * (params.weight / (2.0 - params.weight)).sqrt())
}

/// The chart of `values` around `centre`; none for none.
///
/// # Errors
/// As [`settled_width`]; [`FitError::NotFinite`] for a value or centre.
pub fn chart(
    values: &[f64],
    centre: f64,
    sigma: f64,
    params: Params,
) -> Result<Vec<Point>, FitError> {
    let settled = settled_width(sigma, params)?;
    if let Some(row) = values.iter().position(|v| !v.is_finite()) {
        return Err(FitError::NotFinite {
            what: "values",
            row,
        });
    }
    if !centre.is_finite() {
        return Err(FitError::NotFinite {
            what: "centre",
            row: 0,
        });
    }
    let (mut mean, mut left) = (centre, 1.0);
    let point = |x: &f64| {
        mean += params.weight * (x - mean);
        left *= (1.0 - params.weight).powi(2);
        let half = settled * f64::sqrt(1.0 - left);
        let (low, high) = (centre - half, centre + half);
        Point {
            mean,
            low,
            high,
            side: Side::of(mean, low, high),
        }
    };
    Ok(values.iter().map(point).collect())
}

fn check(sigma: f64, params: Params) -> Result<(), FitError> {
    let ranges = [
        (
            "weight of the newest value",
            params.weight,
            params.weight <= 1.0,
        ),
        ("width of the limits", params.width, true),
        ("sigma", sigma, true),
    ];
    for (what, found, fine) in ranges {
        if !(fine && found > 0.0 && found.is_finite()) {
            return Err(FitError::Parameter {
                what,
                found,
                expected: "above 0 (a weight: up to 1)",
            });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_weight_of_one_is_the_plain_chart() {
        let params = Params {
            weight: 1.0,
            width: 3.0,
        };
        let points = chart(&[1.0, 4.5, 2.0], 1.0, 1.0, params).unwrap();
        assert_eq!(points[1].mean, 4.5);
        assert_eq!(points[1].high, 4.0);
        assert_eq!(points[1].side, Side::Above);
        assert_eq!(points[2].side, Side::Within);
    }

    #[test]
    fn a_slow_drift_is_found_and_bad_parameters_are_refused() {
        let values: Vec<f64> = (0..20).map(|i| 0.12 * f64::from(i)).collect();
        let points = chart(&values, 0.0, 1.0, Params::default()).unwrap();
        assert!(points.iter().any(|p| p.side == Side::Above));
        assert!(chart(&values, 0.0, 0.0, Params::default()).is_err());
        let heavy = Params {
            weight: 1.2,
            width: 3.0,
        };
        assert!(chart(&values, 0.0, 1.0, heavy).is_err());
        assert_eq!(chart(&[], 0.0, 1.0, Params::default()), Ok(vec![]));
    }
}
