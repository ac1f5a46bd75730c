//! Figures made of estimated figures: how sure the result is.
//!
//! Question: a cost is made of a use, a price and minutes, each an estimate
//! with its standard error. How likely is the true cost over a limit?
//!
//! Independent figures a ± s_a on df_a degrees of freedom and b ± s_b on df_b:
//!
//! ```text
//! a + b   variance s_a² + s_b²
//! a b     variance a² s_b² + b² s_a² + s_a² s_b²
//! df      (Σ v_i)² / Σ (v_i² / df_i)      v_i the parts of the variance
//! chance that the true figure is over x:  P(T_df > (x − value) / s)
//! ```
//!
//! Product: Goodman LA, J Am Stat Assoc 1960;55:708-713,
//! doi:10.1080/01621459.1960.10483369. Degrees of freedom: Satterthwaite FE,
//! Biometrics Bulletin 1946;2:110-114, doi:10.2307/3002019. The chance takes
//! the figure's t-interval for its distribution, as a flat prior would.
//!
//! When it misleads: parts that depend on each other, and a product of two
//! very uncertain figures, which is skewed.

use crate::estimate::Estimate;
use crate::fits::dist::{beta_cdf, normal_cdf, t_margin};
use crate::fits::interval::t_interval;

/// A figure, its standard error and the degrees of freedom of that.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Uncertain {
    /// Best single value.
    pub value: f64,
    /// Its standard error, 0 where it is taken as known.
    pub standard_error: f64,
    /// Degrees of freedom; infinite where the error itself is known.
    pub df: f64,
}

impl Uncertain {
    /// A figure that is taken as known.
    pub fn exact(value: f64) -> Self {
        Self {
            value,
            standard_error: 0.0,
            df: f64::INFINITY,
        }
    }

    /// From an estimate whose interval is a t-interval on `df`.
    pub fn of(e: &Estimate, df: f64) -> Self {
        Self {
            value: e.value,
            standard_error: (e.high - e.low) / 2.0 / t_margin(e.level, df),
            df,
        }
    }

    /// From an estimate above 0 whose interval is even on the log scale, by
    /// the first term of its series.
    pub fn of_log(e: &Estimate, df: f64) -> Self {
        let half = (e.high / e.low).ln() / 2.0;
        Self {
            value: e.value,
            standard_error: e.value * half / t_margin(e.level, df),
            df,
        }
    }

    fn variance(&self) -> f64 {
        self.standard_error * self.standard_error
    }

    /// Times a number that is known.
    #[must_use]
    pub fn scaled(self, k: f64) -> Self {
        Self {
            value: self.value * k,
            standard_error: self.standard_error * k.abs(),
            ..self
        }
    }

    /// Plus an independent figure.
    #[must_use]
    pub fn plus(self, other: Self) -> Self {
        let parts = [(self.variance(), self.df), (other.variance(), other.df)];
        joined(self.value + other.value, &parts)
    }

    /// Times an independent figure.
    #[must_use]
    pub fn times(self, other: Self) -> Self {
        let (a, b) = (self.variance(), other.variance());
        let parts = [
            (other.value * other.value * a, self.df),
            (self.value * self.value * b, other.df),
            (a * b, self.df.min(other.df)),
        ];
        joined(self.value * other.value, &parts)
    }

    /// Chance that the true figure is over `x`; ½ at the value itself.
    pub fn chance_over(&self, x: f64) -> f64 {
        let gap = x - self.value;
        if self.standard_error > 0.0 {
            return upper_tail(gap / self.standard_error, self.df);
        }
        if gap > 0.0 {
            0.0
        } else if gap < 0.0 {
            1.0
        } else {
            0.5
        }
    }

    /// With its t-interval.
    pub fn estimate(&self, level: f64, n: u64) -> Estimate {
        t_interval(self.value, self.standard_error, self.df, level, n)
    }
}

fn joined(value: f64, parts: &[(f64, f64)]) -> Uncertain {
    let variance: f64 = parts.iter().map(|p| p.0).sum();
    let weight: f64 = parts.iter().map(|(v, df)| v * v / df).sum();
    Uncertain {
        value,
        standard_error: variance.sqrt(),
        df: if weight > 0.0 {
            variance * variance / weight
        } else {
            f64::INFINITY
        },
    }
}

/// P(T > t) of Student's t: half of the regularised incomplete beta function
/// at df / (df + t²) (NIST Digital Library, 8.17).
fn upper_tail(t: f64, df: f64) -> f64 {
    if df.is_infinite() {
        return normal_cdf(-t);
    }
    let half = 0.5 * beta_cdf(df / (df + t * t), df / 2.0, 0.5);
    if t > 0.0 { half } else { 1.0 - half }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fits::dist::t_quantile;

    fn u(value: f64, standard_error: f64, df: f64) -> Uncertain {
        Uncertain {
            value,
            standard_error,
            df,
        }
    }

    #[test]
    fn the_chance_is_the_tail_that_the_quantile_cuts() {
        for df in [1.0, 4.0, 37.5, 1e6] {
            for p in [0.01, 0.3, 0.5, 0.8, 0.975] {
                let x = 10.0 + 2.0 * t_quantile(p, df);
                assert!(
                    (u(10.0, 2.0, df).chance_over(x) - (1.0 - p)).abs() < 1e-9,
                    "{df} {p}"
                );
            }
        }
        assert!(
            (u(0.0, 1.0, f64::INFINITY).chance_over(1.0) - 0.158_655_253_931_457).abs() < 1e-10
        );
        let known = Uncertain::exact(3.0);
        let chances = [2.0, 3.0, 4.0].map(|x| known.chance_over(x));
        assert_eq!(chances, [1.0, 0.5, 0.0]);
    }

    /// Welch's own example of the sum is not at hand; the formula by hand:
    /// v = 4 + 9 on 5 and 10 gives 169 / (16/5 + 81/10) = 14.956.
    #[test]
    fn sums_and_products_by_hand() {
        let sum = u(1.0, 2.0, 5.0).plus(u(2.0, 3.0, 10.0));
        assert_eq!((sum.value, sum.standard_error), (3.0, 13.0_f64.sqrt()));
        assert!((sum.df - 169.0 / (16.0 / 5.0 + 8.1)).abs() < 1e-12);
        let product = u(10.0, 1.0, 8.0).times(Uncertain::exact(3.0));
        assert_eq!(product, u(10.0, 1.0, 8.0).scaled(3.0));
        let both = u(10.0, 1.0, 8.0).times(u(3.0, 0.5, 20.0));
        assert!((both.standard_error.powi(2) - (9.0 + 25.0 + 0.25)).abs() < 1e-12);
        let none = Uncertain::exact(1.0).plus(Uncertain::exact(2.0));
        assert_eq!((none.value, none.standard_error), (3.0, 0.0));
    }

    #[test]
    fn an_estimate_goes_in_and_comes_out_again() {
        let e = t_interval(5.0, 0.7, 12.0, 0.95, 14);
        let back = Uncertain::of(&e, 12.0).estimate(0.95, 14);
        assert!((back.low - e.low).abs() < 1e-12 && (back.high - e.high).abs() < 1e-12);
        let log = t_interval(2.0, 0.05, 12.0, 0.95, 14).map(f64::exp);
        let error = Uncertain::of_log(&log, 12.0).standard_error;
        assert!((error - 0.05 * 2.0_f64.exp()).abs() < 1e-12);
    }
}
