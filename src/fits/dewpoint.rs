//! Is the panel cold enough for moisture to settle on it?
//!
//! Dew point by the Magnus form of WMO-No. 8 (Guide to Instruments and
//! Methods of Observation, annex 4.B), over water: with g = ln(RH/100) +
//! 17.62 T/(243.12 + T), T_d = 243.12 g/(17.62 − g). T and T_d in °C, RH in
//! percent. Margin: surface temperature less dew point; common practice asks
//! for 3 °C (5 °F), a figure that comes from painting steel.
//!
//! Range −45 to 60 °C. Below 0 °C this is still the *dew* point, over
//! supercooled water; the frost point lies up to 2 °C higher. When it
//! misleads: an air reading from another place than the panel's; 3 % RH of
//! sensor error move it by about 0.65 °C.

use crate::fits::error::FitError;

/// Magnus factor over water.
const FACTOR: f64 = 17.62;
/// Magnus temperature over water, °C.
const OFFSET: f64 = 243.12;

/// Dew point over water in °C of air at `air` °C and `humidity` % RH.
///
/// # Errors
/// [`FitError::Parameter`] for air outside −45..60 °C or a humidity that is
/// not above 0 and up to 100 %.
pub fn dew_point(air: f64, humidity: f64) -> Result<f64, FitError> {
    if !(-45.0..=60.0).contains(&air) {
        return Err(FitError::Parameter {
            what: "air temperature",
            found: air,
            expected: "−45 to 60 °C",
        });
    }
    if !(humidity > 0.0 && humidity <= 100.0) {
        return Err(FitError::Parameter {
            what: "relative humidity",
            found: humidity,
            expected: "above 0, up to 100 %",
        });
    }
    let g = (humidity / 100.0).ln() + FACTOR * air / (OFFSET + air);
    Ok(OFFSET * g / (FACTOR - g))
}

/// By how many °C a surface at `surface` °C is above the dew point.
///
/// # Errors
/// As [`dew_point`]; [`FitError::Parameter`] for a surface outside −45..120.
pub fn margin(surface: f64, air: f64, humidity: f64) -> Result<f64, FitError> {
    if !(-45.0..=120.0).contains(&surface) {
        return Err(FitError::Parameter {
            what: "surface temperature",
            found: surface,
            expected: "−45 to 120 °C",
        });
    }
    Ok(surface - dew_point(air, humidity)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn saturated_air_has_its_own_dew_point() {
        for air in [-10.0, 0.0, 10.0, 35.0] {
            assert!((dew_point(air, 100.0).unwrap() - air).abs() < 1e-12);
        }
        assert!((margin(12.0, 20.0, 100.0).unwrap() + 8.0).abs() < 1e-12);
    }

    #[test]
    fn readings_that_cannot_be_are_refused() {
        for (air, humidity) in [
            (20.0, 0.0),
            (20.0, 101.0),
            (20.0, f64::NAN),
            (61.0, 50.0),
            (f64::NAN, 50.0),
        ] {
            assert!(dew_point(air, humidity).is_err(), "{air} {humidity}");
        }
        assert!(margin(f64::INFINITY, 20.0, 50.0).is_err());
    }
}
