//! Mixtures of normals, and weighted points.

use crate::estimate::Estimate;
use crate::fits::dist::{normal_cdf, normal_quantile};

/// One normal of a mixture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Normal {
    /// Share of the mixture.
    pub(super) weight: f64,
    pub(super) mean: f64,
    pub(super) sd: f64,
}

impl Normal {
    fn below(&self, x: f64) -> f64 {
        if self.sd > 0.0 {
            normal_cdf((x - self.mean) / self.sd)
        } else if x >= self.mean {
            1.0
        } else {
            0.0
        }
    }
}

/// A mixture of normals whose shares add up to one.
#[derive(Debug, Clone)]
pub(super) struct Mixture {
    parts: Vec<Normal>,
}

impl Mixture {
    pub(super) fn new(parts: Vec<Normal>) -> Self {
        Self { parts }
    }

    pub(super) fn mean(&self) -> f64 {
        self.parts.iter().map(|p| p.weight * p.mean).sum()
    }

    pub(super) fn sd(&self) -> f64 {
        let mean = self.mean();
        let square = |p: &Normal| p.weight * (p.sd * p.sd + (p.mean - mean).powi(2));
        self.parts.iter().map(square).sum::<f64>().sqrt()
    }

    /// P(X ≤ x).
    pub(super) fn below(&self, x: f64) -> f64 {
        let sum: f64 = self.parts.iter().map(|p| p.weight * p.below(x)).sum();
        sum.clamp(0.0, 1.0)
    }

    /// Density at x; a part without spread has none.
    fn density(&self, x: f64) -> f64 {
        let one = |p: &Normal| {
            let z = (x - p.mean) / p.sd;
            p.weight / p.sd * (-0.5 * z * z).exp()
        };
        let spread = self.parts.iter().filter(|p| p.sd > 0.0);
        spread.map(one).sum::<f64>() / (2.0 * std::f64::consts::PI).sqrt()
    }

    /// The x with P(X ≤ x) = `share`, 0 < share < 1: Newton's steps, kept
    /// within a bracket that every step narrows.
    pub(super) fn quantile(&self, share: f64) -> f64 {
        let fold = |side: f64, pick: fn(f64, f64) -> f64, start: f64| {
            let reach = |p: &Normal| p.mean + side * 9.0 * p.sd;
            self.parts.iter().map(reach).fold(start, pick)
        };
        let mut low = fold(-1.0, f64::min, f64::INFINITY);
        let mut high = fold(1.0, f64::max, f64::NEG_INFINITY);
        let mut at = self.mean() + normal_quantile(share) * self.sd();
        for _ in 0..200 {
            let miss = self.below(at) - share;
            if miss < 0.0 {
                low = at;
            } else {
                high = at;
            }
            if miss.abs() < 1e-12 || high - low <= 1e-13 * (high.abs() + low.abs()) {
                break;
            }
            let newton = at - miss / self.density(at);
            let inside = newton > low && newton < high;
            at = if inside { newton } else { 0.5 * (low + high) };
        }
        at
    }
}

/// Mean and quantiles of points given as weight and value.
pub(super) fn weighted(points: impl Iterator<Item = [f64; 2]>, level: f64, n: u64) -> Estimate {
    let mut points: Vec<[f64; 2]> = points.collect();
    points.sort_unstable_by(|a, b| a[1].total_cmp(&b[1]));
    let tail = (1.0 - level) / 2.0;
    let at = |share: f64| {
        let mut sum = 0.0;
        let reached = |p: &&[f64; 2]| {
            sum += p[0];
            sum >= share
        };
        let found = points.iter().find(reached).or(points.last());
        found.map_or(0.0, |p| p[1])
    };
    Estimate {
        value: points.iter().map(|p| p[0] * p[1]).sum(),
        low: at(tail),
        high: at(1.0 - tail),
        level,
        n,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_undo_the_distribution() {
        let parts = [(0.3, -1.0, 0.2), (0.5, 0.4, 1.0), (0.2, 3.0, 0.01)];
        let part = |(weight, mean, sd)| Normal { weight, mean, sd };
        let mixture = Mixture::new(parts.into_iter().map(part).collect());
        for share in [0.025, 0.3, 0.5, 0.85, 0.975] {
            let x = mixture.quantile(share);
            assert!((mixture.below(x) - share).abs() < 1e-10, "{share}");
        }
        assert!((mixture.mean() - 0.5).abs() < 1e-12);
    }

    #[test]
    fn weighted_points_have_their_quantiles() {
        let points = [[0.5, 2.0], [0.02, 1.0], [0.48, 3.0]];
        let found = weighted(points.into_iter(), 0.9, 7);
        assert_eq!([found.low, found.high], [2.0, 3.0]);
        assert!((found.value - 2.46).abs() < 1e-12);
    }
}
