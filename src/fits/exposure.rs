//! How often does something happen per so much time followed?
//!
//! k events over an exposure of T are Poisson with mean λT. The exact
//! interval of λ (Garwood, Biometrika 1936;28:437-442,
//! doi:10.1093/biomet/28.3-4.437), with χ²_{p, d} the quantile of d degrees
//! of freedom:
//!
//! ```text
//! low = χ²_{α/2, 2k} / 2T   (0 where k = 0)     high = χ²_{1−α/2, 2k+2} / 2T
//! ```
//!
//! T in any unit; the rate is per that unit. The interval holds at least as
//! often as its level says.
//!
//! When it misleads: a rate that changes with age is averaged over the ages
//! that were followed.

use crate::estimate::{Estimate, NotEnough};
use crate::fits::dist::chi_squared_quantile;
use crate::fits::error::FitError;
use crate::fits::interval::check_level;

/// Events per unit of exposure; `n` is the number of events.
///
/// # Errors
/// [`FitError::NotEnough`] without exposure; [`FitError::NotFinite`] for one
/// that is no number; [`FitError::Parameter`] for a level outside (0, 1).
pub fn rate(events: u64, exposure: f64, level: f64) -> Result<Estimate, FitError> {
    check_level(level)?;
    if !exposure.is_finite() {
        let what = "time followed";
        return Err(FitError::NotFinite { what, row: 0 });
    }
    if exposure <= 0.0 {
        return Err(NotEnough::new(0, 1, "days followed").into());
    }
    let tail = (1.0 - level) / 2.0;
    let k = events as f64;
    let end = |p: f64, df: f64| chi_squared_quantile(p, df) / (2.0 * exposure);
    Ok(Estimate {
        value: k / exposure,
        low: if events == 0 { 0.0 } else { end(tail, 2.0 * k) },
        high: end(1.0 - tail, 2.0 * k + 2.0),
        level,
        n: events,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Limits for 0, 1, 5 and 10 events as tables of the Poisson law print
    /// them (0 to 3.69, 0.0253 to 5.57, 1.62 to 11.67, 4.80 to 18.39; from
    /// memory), to the digits printed.
    #[test]
    fn limits_are_those_of_the_tables() {
        for (k, low, high) in [
            (0, 0.0, 3.69),
            (1, 0.0253, 5.57),
            (5, 1.62, 11.67),
            (10, 4.80, 18.39),
        ] {
            let found = rate(k, 1.0, 0.95).unwrap();
            assert!((found.low - low).abs() < 0.006, "{found:?}");
            assert!((found.high - high).abs() < 0.006, "{found:?}");
        }
    }

    #[test]
    fn the_unit_of_exposure_is_that_of_the_rate_and_none_is_not_enough() {
        let (years, months) = (rate(7, 20.0, 0.95).unwrap(), rate(7, 240.0, 0.95).unwrap());
        assert!((years.low / months.low - 12.0).abs() < 1e-9);
        assert!(matches!(rate(0, 0.0, 0.95), Err(FitError::NotEnough(_))));
        assert!(rate(1, f64::NAN, 0.95).is_err());
        assert!(rate(1, 1.0, 1.5).is_err());
    }
}
