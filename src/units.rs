//! Units of measure and their exact factors.
//!
//! Factors are exact by definition: 1 in = 2.54 cm, 1 US gallon = 231 in³ =
//! 128 US fluid ounces, °C = (°F − 32) / 1.8 (NIST SP 811, Appendix B).

use serde::Deserialize;

/// Square metres in a square foot: (12 × 0.0254)².
pub const M2_PER_FT2: f64 = 0.092_903_04;
/// Millilitres in a US fluid ounce: 231 × 2.54³ / 128.
pub const ML_PER_US_FL_OZ: f64 = 29.573_529_562_5;

/// Unit in which film areas are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub enum AreaUnit {
    /// Square metres.
    #[serde(rename = "m2")]
    SquareMetre,
    /// Square feet.
    #[serde(rename = "ft2")]
    SquareFoot,
}

impl AreaUnit {
    /// `x` in m².
    pub fn to_m2(self, x: f64) -> f64 {
        match self {
            Self::SquareMetre => x,
            Self::SquareFoot => x * M2_PER_FT2,
        }
    }
}

/// Unit in which the coating used on a job is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub enum UseUnit {
    /// Millilitres.
    #[serde(rename = "mL")]
    Millilitre,
    /// Grams, which need the product's density.
    #[serde(rename = "g")]
    Gram,
    /// US fluid ounces.
    #[serde(rename = "US fl oz")]
    UsFluidOunce,
    /// Drops, which need that product's drops per mL.
    #[serde(rename = "drops")]
    Drop,
}

/// Unit in which a bottle's content is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub enum VolumeUnit {
    /// Millilitres.
    #[serde(rename = "mL")]
    Millilitre,
    /// Litres.
    #[serde(rename = "L")]
    Litre,
    /// US fluid ounces.
    #[serde(rename = "US fl oz")]
    UsFluidOunce,
}

impl VolumeUnit {
    /// `x` in mL.
    pub fn to_ml(self, x: f64) -> f64 {
        match self {
            Self::Millilitre => x,
            Self::Litre => x * 1000.0,
            Self::UsFluidOunce => x * ML_PER_US_FL_OZ,
        }
    }
}

/// Unit in which temperatures are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub enum TemperatureUnit {
    /// Degrees Celsius.
    C,
    /// Degrees Fahrenheit.
    F,
}

impl TemperatureUnit {
    /// `x` in °C.
    pub fn to_celsius(self, x: f64) -> f64 {
        match self {
            Self::C => x,
            Self::F => (x - 32.0) / 1.8,
        }
    }
}

/// The system of measures that a page is written in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum System {
    /// m², mL, °C.
    #[default]
    Metric,
    /// ft², US fl oz for bottles (mL for drops and films), °F.
    Us,
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed forms of the definitions (inch = 2.54 cm, gallon = 231 in³).
    #[test]
    fn factors_follow_from_the_definitions() {
        assert!((M2_PER_FT2 - (12.0_f64 * 0.0254).powi(2)).abs() < 1e-15);
        let ounce = 231.0 * 2.54_f64.powi(3) / 128.0;
        assert!((ML_PER_US_FL_OZ - ounce).abs() < 1e-12);
        assert_eq!(TemperatureUnit::F.to_celsius(50.0), 10.0);
        assert_eq!(TemperatureUnit::F.to_celsius(32.0), 0.0);
        assert_eq!(VolumeUnit::Litre.to_ml(0.03), 30.0);
        assert!((AreaUnit::SquareFoot.to_m2(100.0) - 9.290304).abs() < 1e-12);
    }
}
