//! What is a job's average, and has it moved? One sample, two samples.
//!
//! ```text
//! m = sum x / n,   s^2 = sum (x - m)^2 / (n - 1)
//! interval of m:                m -/+ t(n-1) s / sqrt(n)
//! Welch's difference a - b:     d -/+ t(v) sqrt(sa^2/na + sb^2/nb)
//! limits for the mean of k new: m -/+ t(n-1) s sqrt(1/k + 1/n)
//! ```
//!
//! v by Welch-Satterthwaite (Welch BL, Biometrika 1947;34:28-35,
//! doi:10.1093/biomet/34.1-2.28). Samples merge (Chan, Golub and LeVeque's
//! update), and a merge with an empty one changes nothing.
//!
//! It misleads at few observations with a long tail: the interval then covers
//! too little on the tail's side.

use crate::estimate::{Estimate, NotEnough};
use crate::fits::dist::t_margin;
use crate::fits::error::FitError;
use crate::fits::interval::{check_level, t_interval};

/// Count, mean and sum of squared deviations of a sample.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Sample {
    /// How many.
    pub n: u64,
    /// Their mean; 0 where there is none.
    pub mean: f64,
    /// Sum of squared deviations from the mean.
    pub squares: f64,
}

impl Sample {
    /// The sample of some values.
    ///
    /// # Errors
    /// [`FitError::NotFinite`].
    pub fn of(values: impl IntoIterator<Item = f64>) -> Result<Self, FitError> {
        let mut all = Self::default();
        for (row, x) in values.into_iter().enumerate() {
            if !x.is_finite() {
                return Err(FitError::NotFinite {
                    what: "values",
                    row,
                });
            }
            all = all.merge(Self {
                n: 1,
                mean: x,
                squares: 0.0,
            });
        }
        Ok(all)
    }

    /// Both samples as one.
    pub fn merge(self, other: Self) -> Self {
        if self.n == 0 {
            return other;
        }
        if other.n == 0 {
            return self;
        }
        let n = (self.n + other.n) as f64;
        let gap = other.mean - self.mean;
        let share = other.n as f64 / n;
        Self {
            n: self.n + other.n,
            mean: self.mean + gap * share,
            squares: self.squares + other.squares + gap * gap * self.n as f64 * share,
        }
    }

    /// Variance on n − 1; `None` for fewer than two.
    pub fn variance(&self) -> Option<f64> {
        (self.n >= 2).then(|| self.squares / (self.n - 1) as f64)
    }

    /// The mean with its t-interval.
    ///
    /// # Errors
    /// [`FitError::NotEnough`] for fewer than two; [`FitError::Parameter`] for
    /// the level.
    pub fn estimate(&self, level: f64) -> Result<Estimate, FitError> {
        check_level(level)?;
        let variance = self.spread()?;
        let error = (variance / self.n as f64).sqrt();
        Ok(t_interval(
            self.mean,
            error,
            (self.n - 1) as f64,
            level,
            self.n,
        ))
    }

    /// Limits between which the mean of `k` new observations falls with
    /// probability `level`; `n` is this sample's.
    ///
    /// # Errors
    /// As [`Self::estimate`]; [`FitError::NotEnough`] for `k` of 0.
    pub fn limits_for(&self, k: u64, level: f64) -> Result<Estimate, FitError> {
        check_level(level)?;
        if k == 0 {
            return Err(NotEnough::new(0, 1, "new observations").into());
        }
        let error = (self.spread()? * (1.0 / k as f64 + 1.0 / self.n as f64)).sqrt();
        Ok(t_interval(
            self.mean,
            error,
            (self.n - 1) as f64,
            level,
            self.n,
        ))
    }

    /// This sample's mean less the other's (Welch); `n` is this sample's.
    ///
    /// # Errors
    /// [`FitError::NotEnough`] where either has fewer than two,
    /// [`FitError::NoSpread`] where neither varies.
    pub fn less(&self, other: &Self, level: f64) -> Result<Estimate, FitError> {
        check_level(level)?;
        let a = self.spread()? / self.n as f64;
        let b = other.spread()? / other.n as f64;
        if a + b <= 0.0 {
            return Err(FitError::NoSpread { what: "the values" });
        }
        let df = (a + b).powi(2) / (a * a / (self.n - 1) as f64 + b * b / (other.n - 1) as f64);
        let margin = t_margin(level, df) * (a + b).sqrt();
        let value = self.mean - other.mean;
        Ok(Estimate {
            value,
            low: value - margin,
            high: value + margin,
            level,
            n: self.n,
        })
    }

    fn spread(&self) -> Result<f64, FitError> {
        self.variance()
            .ok_or_else(|| NotEnough::new(self.n, 2, "observations").into())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn merging_parts_gives_the_whole_and_an_empty_part_changes_nothing() {
        let all = Sample::of([3.0, 1.0, 4.0, 1.0, 5.0, 9.0]).unwrap();
        let a = Sample::of([3.0, 1.0]).unwrap();
        let b = Sample::of([4.0, 1.0, 5.0, 9.0]).unwrap();
        let merged = a.merge(b);
        assert_eq!(merged.n, all.n);
        assert!((merged.mean - all.mean).abs() < 1e-14);
        assert!((merged.squares - all.squares).abs() < 1e-12);
        assert_eq!(all.merge(Sample::default()), all);
        assert_eq!(Sample::default().merge(all), all);
    }

    #[test]
    fn shift_moves_the_mean_alone_and_scale_both() {
        let x = [2.0, 3.5, 7.0, 1.0];
        let s = Sample::of(x).unwrap();
        let moved = Sample::of(x.map(|v| v + 100.0)).unwrap();
        let scaled = Sample::of(x.map(|v| v * 3.0)).unwrap();
        assert!((moved.mean - s.mean - 100.0).abs() < 1e-12);
        assert!((moved.squares - s.squares).abs() < 1e-9);
        assert!((scaled.squares - 9.0 * s.squares).abs() < 1e-9);
    }

    #[test]
    fn too_few_or_no_spread_is_a_typed_outcome() {
        let one = Sample::of([1.0]).unwrap();
        assert!(matches!(one.estimate(0.95), Err(FitError::NotEnough(_))));
        let flat = Sample::of([1.0, 1.0]).unwrap();
        assert!(matches!(
            flat.less(&flat, 0.95),
            Err(FitError::NoSpread { .. })
        ));
        assert!(matches!(
            Sample::of([f64::NAN]),
            Err(FitError::NotFinite { .. })
        ));
    }
}
