//! Money as integers in minor units (cents): sums never drift.

use serde::Serialize;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Neg, Sub};

/// An amount in minor units of the shop's currency.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize)]
#[serde(transparent)]
pub struct Minor(pub i64);

impl Minor {
    /// Nothing.
    pub const ZERO: Self = Self(0);

    /// The nearest whole minor unit, halves away from zero. `None` where `x`
    /// is not finite or does not fit.
    pub fn nearest(x: f64) -> Option<Self> {
        const FITS: f64 = 9.0e15;
        let whole = x.round();
        (whole.is_finite() && whole.abs() <= FITS).then_some(Self(whole as i64))
    }

    /// As a float, in minor units.
    pub fn as_f64(self) -> f64 {
        self.0 as f64
    }
}

impl Add for Minor {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl Sub for Minor {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

impl Neg for Minor {
    type Output = Self;
    fn neg(self) -> Self {
        Self(self.0.saturating_neg())
    }
}

impl AddAssign for Minor {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Sum for Minor {
    fn sum<I: Iterator<Item = Self>>(amounts: I) -> Self {
        amounts.fold(Self::ZERO, Add::add)
    }
}

/// A currency: its ISO 4217 code, sign and number of decimals.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Currency {
    /// ISO 4217 code.
    pub code: String,
    /// What is printed before the amount ("$", or the code and a space).
    pub sign: String,
    /// Decimals of the major unit (ISO 4217 exponent).
    pub decimals: u32,
}

/// ISO 4217 codes whose exponent is not 2 (from memory of the standard's
/// table A.1; the four-decimal funds codes are left out).
const NO_DECIMALS: [&str; 16] = [
    "BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "UYI", "VND",
    "VUV", "XAF", "XPF",
];
const THREE_DECIMALS: [&str; 7] = ["BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"];

impl Currency {
    /// The currency of a three-letter code, or `None` where it is not three
    /// capital letters.
    pub fn of(code: &str) -> Option<Self> {
        if code.len() != 3 || !code.bytes().all(|b| b.is_ascii_uppercase()) {
            return None;
        }
        let decimals = if NO_DECIMALS.contains(&code) || code == "XOF" {
            0
        } else if THREE_DECIMALS.contains(&code) {
            3
        } else {
            2
        };
        let sign = match code {
            "USD" => "$".to_string(),
            "EUR" => "€".to_string(),
            "GBP" => "£".to_string(),
            _ => format!("{code}\u{a0}"),
        };
        Some(Self {
            code: code.to_string(),
            sign,
            decimals,
        })
    }

    /// Minor units in one major unit: 100 for dollars.
    pub fn scale(&self) -> i64 {
        10_i64.pow(self.decimals)
    }

    /// An amount in major units as minor ones.
    pub fn minor(&self, major: f64) -> Option<Minor> {
        Minor::nearest(major * self.scale() as f64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounds_halves_away_from_zero_and_refuses_what_does_not_fit() {
        assert_eq!(Minor::nearest(2.5), Some(Minor(3)));
        assert_eq!(Minor::nearest(-2.5), Some(Minor(-3)));
        assert_eq!(Minor::nearest(f64::NAN), None);
        assert_eq!(Minor::nearest(1.0e17), None);
    }

    #[test]
    fn a_currency_knows_its_decimals() {
        let yen = Currency::of("JPY").unwrap();
        assert_eq!((yen.decimals, yen.minor(310.0)), (0, Some(Minor(310))));
        let dollar = Currency::of("USD").unwrap();
        assert_eq!(dollar.minor(310.005), Some(Minor(31001)));
        assert_eq!(Currency::of("usd"), None);
        assert_eq!(Currency::of("DOLLAR"), None);
    }

    #[test]
    fn a_million_cents_do_not_drift() {
        let total: Minor = (0..1_000_000).map(|_| Minor(1)).sum();
        assert_eq!(total, Minor(1_000_000));
    }
}
