//! A number with its exact digits.

/// A number: exactly `digits / 10^scale` with its sign, where it has at most
/// 18 digits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Number {
    pub(super) negative: bool,
    pub(super) digits: u64,
    pub(super) scale: u32,
    /// Set where there were more digits than that.
    pub(super) long: Option<f64>,
}

const POWERS: [f64; 19] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18,
];

impl Number {
    /// The nearest float. Exact digits under 2^53 over an exact power of ten
    /// are one correctly rounded division (Clinger 1990,
    /// doi:10.1145/93542.93557); longer ones go through the standard parser.
    #[inline]
    pub fn value(self) -> f64 {
        let size = match (self.long, POWERS.get(self.scale as usize)) {
            (Some(x), _) => x,
            (None, Some(power)) if self.digits < (1 << 53) => self.digits as f64 / power,
            _ => self.parsed(),
        };
        if self.negative { -size } else { size }
    }

    #[cold]
    fn parsed(self) -> f64 {
        let text = format!("{}e-{}", self.digits, self.scale);
        text.parse().unwrap_or(f64::INFINITY)
    }

    /// In minor units with `decimals` decimals, halves away from zero; `None`
    /// where it does not fit.
    pub fn minor(self, decimals: u32) -> Option<i64> {
        let size = if self.long.is_some() {
            crate::money::Minor::nearest(self.value().abs() * 10_f64.powi(decimals as i32))?.0
        } else if self.scale <= decimals {
            let more = 10_u64.checked_pow(decimals - self.scale)?;
            i64::try_from(self.digits.checked_mul(more)?).ok()?
        } else {
            let less = 10_u64.checked_pow(self.scale - decimals)?;
            i64::try_from(self.digits / less + u64::from(self.digits % less >= less / 2)).ok()?
        };
        Some(if self.negative { -size } else { size })
    }
}
