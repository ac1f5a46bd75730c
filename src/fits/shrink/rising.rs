//! Σ ln Γ(a + n) − ln Γ(a) over many whole n, for many a.
//!
//! ```text
//! n ≤ 10   ln a(a + 1) ... (a + n − 1)
//! n > 10   the same up to 10 and, with x = a + 10, m = n − 10, y = x + m,
//!          (y − ½) ln(1 + m/x) + m(ln x − 1) + s(y) − s(x)
//! s(z) = 1/12z − 1/360z³ + 1/1260z⁵ − 1/1680z⁷ + ...
//! ```
//!
//! by Stirling's series (Abramowitz and Stegun 6.1.41), whose first term left
//! out is under 1e-15 from z = 10 on. Differences of ln Γ itself would lose
//! all digits where a is far above n, as it is where people are alike.

use std::collections::BTreeMap;
use wide::f64x4;

/// Up to here each n is told apart.
const SMALL: usize = 10;
/// So many factors are multiplied before a logarithm is taken: five of 1e61
/// are still a number.
const FACTORS: usize = 5;

/// How often each n stands.
#[derive(Debug, Clone)]
pub(super) struct Tally {
    /// How many are 1, 2 ... [`SMALL`] or more.
    at_least: [f64; SMALL],
    /// Larger ones, four at a time: m, and how often it stands.
    larger: Vec<[f64x4; 2]>,
    /// Σ m.
    beyond: f64,
}

impl Tally {
    /// Of all these numbers; zeros add nothing.
    pub(super) fn of(numbers: impl Iterator<Item = u64>) -> Self {
        let mut all: BTreeMap<u64, f64> = BTreeMap::new();
        for n in numbers {
            *all.entry(n).or_insert(0.0) += 1.0;
        }
        let from = |least: usize| all.range(least as u64..);
        let larger: Vec<[f64; 2]> = from(SMALL + 1)
            .map(|(n, times)| [(n - SMALL as u64) as f64, *times])
            .collect();
        let lane = |four: &[[f64; 2]]| {
            let each = |of: usize| std::array::from_fn(|i| four.get(i).map_or(0.0, |x| x[of]));
            [f64x4::new(each(0)), f64x4::new(each(1))]
        };
        Self {
            at_least: std::array::from_fn(|i| from(i + 1).map(|(_, times)| times).sum()),
            larger: larger.chunks(4).map(lane).collect(),
            beyond: larger.iter().map(|[m, times]| m * times).sum(),
        }
    }

    /// Σ ln Γ(a + n) − ln Γ(a), a > 0.
    pub(super) fn rising(&self, a: f64) -> f64 {
        self.up_to_small(a) + self.beyond_small(a + SMALL as f64)
    }

    /// Σ over the factors of each n up to [`SMALL`].
    fn up_to_small(&self, a: f64) -> f64 {
        let mut sum = 0.0;
        let mut factor = a;
        let alike = self.at_least.chunk_by(|a, b| a == b);
        for alike in alike.take_while(|times| times[0] > 0.0) {
            for few in alike.chunks(FACTORS) {
                let mut product = 1.0;
                for _ in few {
                    product *= factor;
                    factor += 1.0;
                }
                sum += few[0] * product.ln();
            }
        }
        sum
    }

    /// Σ ln Γ(x + m) − ln Γ(x) over the larger ones, x > [`SMALL`].
    fn beyond_small(&self, x: f64) -> f64 {
        if self.larger.is_empty() {
            return 0.0;
        }
        let (start, inverse) = (f64x4::splat(x), f64x4::splat(1.0 / x));
        let rest = stirling(start);
        let one = |[m, times]: &[f64x4; 2]| {
            let y = start + *m;
            let rise = (y - 0.5) * log_one_and(*m * inverse) + (stirling(y) - rest);
            *times * rise
        };
        let each: f64x4 = self.larger.iter().map(one).sum();
        each.reduce_add() + self.beyond * (x.ln() - 1.0)
    }
}

/// ln(1 + t), t ≥ 0, with what 1 + t loses to rounding made good.
fn log_one_and(t: f64x4) -> f64x4 {
    let whole = t + 1.0;
    whole.ln() + (t - (whole - 1.0)) / whole
}

/// ln Γ(z) less (z − ½) ln z − z + ½ ln 2π, z ≥ 10.
fn stirling(z: f64x4) -> f64x4 {
    let inverse = f64x4::ONE / z;
    let square = inverse * inverse;
    let tail = square * (square * (square * (-691.0 / 360360.0) + 1.0 / 1188.0) - 1.0 / 1680.0);
    inverse * (square * (square * (tail + 1.0 / 1260.0) - 1.0 / 360.0) + 1.0 / 12.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The slow twin: ln of every factor, added up.
    fn slow(numbers: &[u64], a: f64) -> f64 {
        let one = |n: u64| (0..n).map(|i| (a + i as f64).ln()).sum::<f64>();
        numbers.iter().map(|n| one(*n)).sum()
    }

    #[test]
    fn rises_as_factor_by_factor() {
        let sets: [&[u64]; 6] = [
            &[],
            &[0, 0],
            &[1, 3, 3, 10],
            &[11, 12, 12, 400, 401, 9000],
            &[0, 2, 10, 11, 57, 58, 3000],
            &[5_000; 50],
        ];
        for numbers in sets {
            let tally = Tally::of(numbers.iter().copied());
            for a in [1e-7, 0.02, 0.5, 3.7, 40.0, 2.5e3, 1e6, 3e9, 1e13] {
                let (fast, slow) = (tally.rising(a), slow(numbers, a));
                let off = (fast - slow).abs();
                assert!(off <= 1e-12 * slow.abs(), "{numbers:?} {a}: {fast} {slow}");
            }
        }
    }
}
