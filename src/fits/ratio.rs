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
//! included, x the mL that came to use: volume less left-over; there the value
//! is a fact and needs no interval. Not the mean of the bottles' own ratios,
//! which overstates small bottles.
//!
//! v_L: Davison and Hinkley, Bootstrap Methods and their Application, 1997,
//! chapter 2 (from memory). The factor n/(n-1) and Student's t are the usual
//! repair for few bottles (Cochran, Sampling Techniques, 1977, 6.4).
//!
//! The interval is that of rows drawn one by one from many more; it misleads
//! with fewer than about ten rows that differ much in size, and where rows come
//! in lots that are alike.

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
        if let Some(row) = x.iter().position(|v| *v < 0.0) {
            return Err(FitError::OutOfRange {
                what: "x",
                row,
                found: x[row],
                expected: "zero or more",
            });
        }
        Self::of_signed_totals(y, x)
    }

    /// The same where single x may be negative (a price less a larger
    /// discount); their sum must still be above 0.
    ///
    /// # Errors
    /// [`FitError::Shape`], [`FitError::NotFinite`], [`FitError::NotEnough`]
    /// for a sum that is not above 0.
    pub fn of_signed_totals(y: &[f64], x: &[f64]) -> Result<Self, FitError> {
        check_length("x", x.len(), x)?;
        check_length("y", x.len(), y)?;
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
        Ok(t_interval(
            self.value,
            self.variance().sqrt(),
            df,
            level,
            self.n,
        ))
    }

    /// v_L n/(n-1), for two rows or more.
    fn variance(&self) -> f64 {
        self.linearised_variance * self.n as f64 / (self.n - 1) as f64
    }
}

/// R_a - R_b of separate rows: Welch's interval; `n` is that of both together.
///
/// # Errors
/// As [`Ratio::estimate`].
pub fn difference(a: &Ratio, b: &Ratio, level: f64) -> Result<Estimate, FitError> {
    check_level(level)?;
    let fewest = a.n.min(b.n);
    if fewest < 2 {
        return Err(NotEnough::new(fewest, 2, "rows on either side").into());
    }
    let (x, y) = (a.variance(), b.variance());
    let df = |v: f64, n: u64| v * v / (n - 1) as f64;
    let total = x + y;
    let df = if total > 0.0 {
        total * total / (df(x, a.n) + df(y, b.n))
    } else {
        (a.n + b.n - 2) as f64
    };
    Ok(t_interval(
        a.value - b.value,
        total.sqrt(),
        df,
        level,
        a.n + b.n,
    ))
}

/// Sums over rows, from which parts can be put together and taken away.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Sums {
    /// Rows.
    pub n: u64,
    x: f64,
    y: f64,
    xx: f64,
    xy: f64,
    yy: f64,
}

impl Sums {
    /// Adds a row.
    pub fn add(&mut self, y: f64, x: f64) {
        self.merge(&Self {
            n: 1,
            x,
            y,
            xx: x * x,
            xy: x * y,
            yy: y * y,
        });
    }

    /// Adds the rows of `other`.
    pub fn merge(&mut self, other: &Self) {
        *self = self.with(other, 1.0);
        self.n += other.n;
    }

    /// Without the rows of `part`, which are among them.
    #[must_use]
    pub fn without(&self, part: &Self) -> Self {
        Self {
            n: self.n.saturating_sub(part.n),
            ..self.with(part, -1.0)
        }
    }

    fn with(&self, o: &Self, sign: f64) -> Self {
        Self {
            n: self.n,
            x: self.x + sign * o.x,
            y: self.y + sign * o.y,
            xx: self.xx + sign * o.xx,
            xy: self.xy + sign * o.xy,
            yy: self.yy + sign * o.yy,
        }
    }

    /// sum y / sum x.
    ///
    /// # Errors
    /// [`FitError::NotEnough`] where nothing is in x.
    pub fn ratio(&self) -> Result<Ratio, FitError> {
        if self.n == 0 || self.x <= 0.0 {
            return Err(NotEnough::new(0, 1, "rows with something in them").into());
        }
        let value = self.y / self.x;
        let squares = self.yy - value * (2.0 * self.xy - value * self.xx);
        Ok(Ratio {
            value,
            linearised_variance: squares.max(0.0) / (self.x * self.x),
            n: self.n,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_equal_rows_and_parts_can_be_taken_away() {
        let y = [29.0, 31.5, 40.0, 22.0, 35.0, 28.0];
        let x = [30.0, 30.0, 38.0, 24.0, 33.0, 29.0];
        let of = |at: &[usize]| {
            let mut sums = Sums::default();
            at.iter().for_each(|i| sums.add(y[*i], x[*i]));
            sums
        };
        let rows = |from: usize| Ratio::of_totals(&y[from..], &x[from..]).unwrap();
        let near = |a: Ratio, b: Ratio| {
            assert!((a.value - b.value).abs() < 1e-12 && a.n == b.n);
            assert!((a.linearised_variance / b.linearised_variance - 1.0).abs() < 1e-9);
        };
        let all = of(&[0, 1, 2, 3, 4, 5]);
        near(all.ratio().unwrap(), rows(0));
        near(all.without(&of(&[0, 1])).ratio().unwrap(), rows(2));
        assert_eq!(all.without(&Sums::default()), all);
        assert!(all.without(&all).ratio().is_err());
    }

    /// x of 1 makes the ratio a mean: Welch's example by hand. 1, 2, 3 against
    /// 4, 8: means 2 and 6, variances of the means 1/3 and 4, df =
    /// (13/3)^2/((1/9)/2 + 16/1) = 1.16955.
    #[test]
    fn a_difference_of_means_is_welchs() {
        let a = Ratio::of_totals(&[1.0, 2.0, 3.0], &[1.0; 3]).unwrap();
        let b = Ratio::of_totals(&[4.0, 8.0], &[1.0; 2]).unwrap();
        let got = difference(&a, &b, 0.95).unwrap();
        let half = crate::fits::dist::t_margin(0.95, 169.0 / 9.0 / (1.0 / 18.0 + 16.0))
            * (13.0_f64 / 3.0).sqrt();
        assert!((got.value + 4.0).abs() < 1e-12 && got.n == 5);
        assert!((got.high - (half - 4.0)).abs() < 1e-9, "{got:?}");
        let one = Ratio::of_totals(&[1.0], &[1.0]).unwrap();
        assert!(difference(&a, &one, 0.95).is_err());
    }
}
