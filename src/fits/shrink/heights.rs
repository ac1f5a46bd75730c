//! The heights of a mixture of betas at even steps of the angle.
//!
//! A shop's people have hundreds of parts, and each takes an exponential at
//! every point. The logarithm of the height is smooth, so only every sixth
//! point (every third of the coarser rule) is summed up; those between are
//! read off the polynomial through the [`NEAR`] nearest of these. Where one
//! through two of them less says something else, as next to a pole at 0 or 1,
//! they are summed up too.

use super::density::Part;
use wide::f64x4;

/// Points that a polynomial goes through.
const NEAR: usize = 14;
/// Intervals between them.
const INTERVALS: usize = NEAR - 1;
/// Part of an interval that places are numbered by.
const PARTS: usize = 6;
/// How far both polynomials may lie apart halfway, as a share of the highest
/// point; the better one errs by less.
const APART: f64 = 1e-11;

/// What the polynomial says at each sixth of each interval, as weights of the
/// values that it goes through.
const BETWEEN: [[[f64; NEAR]; PARTS]; INTERVALS] = between();
/// Halfway on each interval, less what one through two values less says.
const DIFFERENCE: [[f64; NEAR]; INTERVALS] = difference();

/// Weights at `t` of the values at `from`, `from` + 1 ... `to` − 1.
const fn weights(t: f64, from: usize, to: usize) -> [f64; NEAR] {
    let mut all = [0.0; NEAR];
    let mut m = from;
    while m < to {
        let (mut weight, mut k) = (1.0, from);
        while k < to {
            if k != m {
                weight *= (t - k as f64) / (m as f64 - k as f64);
            }
            k += 1;
        }
        all[m] = weight;
        m += 1;
    }
    all
}

const fn between() -> [[[f64; NEAR]; PARTS]; INTERVALS] {
    let mut all = [[[0.0; NEAR]; PARTS]; INTERVALS];
    let mut i = 0;
    while i < INTERVALS {
        let mut j = 0;
        while j < PARTS {
            all[i][j] = weights(i as f64 + j as f64 / PARTS as f64, 0, NEAR);
            j += 1;
        }
        i += 1;
    }
    all
}

const fn difference() -> [[f64; NEAR]; INTERVALS] {
    let mut all = [[0.0; NEAR]; INTERVALS];
    let mut i = 0;
    while i < INTERVALS {
        let half = i as f64 + 0.5;
        let from = if i < NEAR / 2 - 1 { 0 } else { 1 };
        let from = if i < NEAR / 2 { from } else { 2 };
        let (whole, less) = (weights(half, 0, NEAR), weights(half, from, from + NEAR - 2));
        let mut m = 0;
        while m < NEAR {
            all[i][m] = whole[m] - less[m];
            m += 1;
        }
        i += 1;
    }
    all
}

/// The parts, four at a time.
pub(super) struct Lanes(Vec<Lane>);

/// Of four parts: a − ½, b − ½ and the logarithm of weight over norm.
struct Lane {
    yes: f64x4,
    no: f64x4,
    log_scale: f64x4,
}

impl Lanes {
    pub(super) fn of(parts: &[Part]) -> Self {
        let lane = |four: &[Part]| {
            let each = |of: fn(&Part) -> f64, none: f64| {
                f64x4::new(std::array::from_fn(|i| four.get(i).map_or(none, of)))
            };
            Lane {
                yes: each(|p| p.a - 0.5, 0.0),
                no: each(|p| p.b - 0.5, 0.0),
                log_scale: each(|p| p.weight.ln() - p.log_norm, f64::NEG_INFINITY),
            }
        };
        Self(parts.chunks(4).map(lane).collect())
    }

    /// Density in the angle: that of the rate times √(p(1−p)).
    fn height(&self, p: f64) -> f64 {
        let (log_p, log_q) = (p.ln(), (-p).ln_1p());
        if !(log_p.is_finite() && log_q.is_finite()) {
            return 0.0;
        }
        let (log_p, log_q) = (f64x4::splat(log_p), f64x4::splat(log_q));
        let one = |l: &Lane| (l.yes * log_p + l.no * log_q + l.log_scale).exp();
        self.0.iter().map(one).sum::<f64x4>().reduce_add()
    }

    /// Heights at the rates `at`, even in the angle, of which every `stride`th
    /// is summed up for certain; `stride` divides [`PARTS`] and the rates less
    /// one.
    pub(super) fn heights(&self, at: &[f64], stride: usize) -> Vec<f64> {
        let summed: Vec<f64> = (at.iter().step_by(stride))
            .map(|p| self.height(*p))
            .collect();
        let logs: Vec<f64> = summed.iter().map(|h| h.ln()).collect();
        let apart = apart(&summed, &logs);
        let rest = 1..stride;
        let mut all = Vec::with_capacity(at.len());
        for (k, height) in summed.iter().take(apart.len()).enumerate() {
            all.push(*height);
            // Both may meet by chance, but not on three intervals.
            let about = &apart[k.saturating_sub(1)..apart.len().min(k + 2)];
            let trusted = about.iter().all(|apart| *apart < APART);
            match Near::of(&logs, k).filter(|_| trusted) {
                Some(near) => all.extend(rest.clone().map(|j| near.at(j * PARTS / stride).exp())),
                None => all.extend(rest.clone().map(|j| self.height(at[k * stride + j]))),
            }
        }
        all.extend(summed.last());
        all
    }
}

/// How far two polynomials lie apart halfway on each interval, as a share of
/// the highest point; no number where a value that they go through is none.
fn apart(summed: &[f64], logs: &[f64]) -> Vec<f64> {
    let top = summed.iter().copied().fold(0.0, f64::max);
    let own = |(k, ends): (usize, &[f64])| {
        let apart = Near::of(logs, k).map_or(f64::NAN, |near| near.apart());
        apart * ends[0].max(ends[1]) / top
    };
    summed.windows(2).enumerate().map(own).collect()
}

/// The values that a polynomial goes through, about the interval looked at.
struct Near<'a> {
    values: &'a [f64],
    interval: usize,
}

impl<'a> Near<'a> {
    /// About the interval from value `k` on; `None` where there are too few.
    fn of(values: &'a [f64], k: usize) -> Option<Self> {
        let from = k
            .saturating_sub(NEAR / 2 - 1)
            .min(values.len().checked_sub(NEAR)?);
        Some(Self {
            values: &values[from..from + NEAR],
            interval: k - from,
        })
    }

    /// What stands at `part` sixths of the interval.
    fn at(&self, part: usize) -> f64 {
        dot(&BETWEEN[self.interval][part], self.values)
    }

    /// How far two polynomials lie apart halfway.
    fn apart(&self) -> f64 {
        dot(&DIFFERENCE[self.interval], self.values).abs()
    }
}

fn dot(weights: &[f64; NEAR], values: &[f64]) -> f64 {
    weights.iter().zip(values).map(|(w, v)| w * v).sum()
}

#[cfg(test)]
mod tests {
    use super::super::density::tests::parts;
    use super::*;
    use std::f64::consts::FRAC_PI_2;

    #[test]
    fn four_at_a_time_are_as_one_by_one() {
        let parts = parts();
        for p in [0.0, 1e-9, 0.01, 0.25, 0.5, 0.9, 1.0 - 1e-9, 1.0] {
            let one = |part: &Part| {
                let log = (part.a - 0.5) * f64::ln(p) + (part.b - 0.5) * (-p).ln_1p();
                part.weight * (log - part.log_norm).exp()
            };
            let slow: f64 = parts.iter().map(one).sum();
            let slow = if p == 0.0 || p == 1.0 { 0.0 } else { slow };
            let fast = Lanes::of(&parts).height(p);
            assert!((fast - slow).abs() <= 1e-13 * slow, "{p}: {fast}, {slow}");
        }
    }

    /// The slow twin: every point summed up. With a pole at both ends and a
    /// peak narrower than the points that are summed up lie apart, and where
    /// all is smooth.
    #[test]
    fn points_read_off_are_as_summed_up() {
        let even = |from: f64, to: f64| -> Vec<f64> {
            let angle = |i: i32| FRAC_PI_2 * (from + (to - from) * f64::from(i) / 600.0);
            (0..=600).map(|i| angle(i).sin().powi(2)).collect()
        };
        let whole = Lanes::of(&parts());
        let smooth = Lanes::of(&parts()[1..3]);
        for (lanes, at) in [
            (&whole, even(0.0, 1.0)),
            (&smooth, even(0.2, 0.6)),
            (&smooth, even(0.0, 0.9)),
        ] {
            let slow: Vec<f64> = at.iter().map(|p| lanes.height(*p)).collect();
            let top = slow.iter().copied().fold(0.0, f64::max);
            for stride in [2, 3, 6] {
                let fast = lanes.heights(&at, stride);
                assert_eq!(fast.len(), slow.len());
                let off = fast.iter().zip(&slow).map(|(a, b)| (a - b).abs());
                let worst = off.fold(0.0, f64::max) / top;
                assert!(worst < APART, "{stride}: {worst:e}");
            }
        }
    }

    #[test]
    fn few_points_are_all_summed_up() {
        let at = [0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7];
        let lanes = Lanes::of(&parts());
        let slow = at.map(|p| lanes.height(p));
        assert_eq!(lanes.heights(&at, 3), slow);
    }

    /// By hand: of x¹³ at 0, 1 ... 13 each sixth is its own power, and a
    /// polynomial through twelve values misses it.
    #[test]
    fn a_polynomial_is_met() {
        let values: Vec<f64> = (0..NEAR).map(|i| (i as f64 / 13.0).powi(13)).collect();
        for interval in 0..INTERVALS {
            let near = Near {
                values: &values,
                interval,
            };
            for part in 0..PARTS {
                let x = (interval as f64 + part as f64 / 6.0) / 13.0;
                let off = (near.at(part) - x.powi(13)).abs();
                assert!(off < 1e-13, "{interval} {part}: {off:e}");
            }
            assert!(near.apart() > 1e-9, "{interval}: {:e}", near.apart());
        }
    }
}
