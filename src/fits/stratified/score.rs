//! The score interval of the pooled difference (Miettinen and Nurminen,
//! Statistics in Medicine 1985;4:213-226, doi:10.1002/sim.4780040211), with
//! Mantel and Haenszel's weights.
//!
//! A difference δ is inside where
//!
//! ```text
//! (Σ w_k (p1_k − p0_k − δ))² ≤ z² Σ w_k² V_k(δ),      w = n1 n0 / n
//! V_k(δ) = (π1 (1 − π1)/n1 + π0 (1 − π0)/n0) n/(n − 1)
//! ```
//!
//! π1, π0: the stratum's most likely shares among those that differ by δ. The
//! variance is thus the one that δ itself implies, not the one that a few
//! offers happen to show; a stratum of one mind adds to it, and at δ = 0 it is
//! the hypergeometric one of the Mantel-Haenszel test.
//!
//! When it misleads: as the pooled difference does, where strata truly differ.

use super::Cells;

/// Halvings of a search: beyond the precision of a double.
const HALVINGS: u32 = 60;

/// Ends of the interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Ends {
    pub(super) low: f64,
    pub(super) high: f64,
}

/// The differences that `z` standard deviations do not exclude, about the
/// pooled difference `value`. Every stratum has offers in both groups.
pub(super) fn ends(comparing: &[Cells], value: f64, z: f64) -> Ends {
    let excluded = |delta: f64| excess(comparing, value, delta, z) > 0.0;
    Ends {
        low: limit(value, -1.0, excluded),
        high: limit(value, 1.0, excluded),
    }
}

/// The last difference from `inside` towards `outside` that is not excluded.
fn limit(mut inside: f64, mut outside: f64, excluded: impl Fn(f64) -> bool) -> f64 {
    if !excluded(outside) {
        return outside;
    }
    for _ in 0..HALVINGS {
        let mid = 0.5 * (inside + outside);
        if excluded(mid) {
            outside = mid;
        } else {
            inside = mid;
        }
    }
    inside
}

/// Squared distance of the pooled difference from δ less z² variances.
fn excess(comparing: &[Cells], value: f64, delta: f64, z: f64) -> f64 {
    let weight: f64 = comparing.iter().map(Cells::weight).sum();
    let variance: f64 = comparing
        .iter()
        .map(|k| k.weight().powi(2) * variance(k, delta))
        .sum();
    (weight * (value - delta)).powi(2) - z * z * variance
}

/// V_k(δ).
fn variance(k: &Cells, delta: f64) -> f64 {
    let p0 = likeliest(k, delta);
    let p1 = (p0 + delta).clamp(0.0, 1.0);
    (p1 * (1.0 - p1) / k.n1 + p0 * (1.0 - p0) / k.n0) * k.n / (k.n - 1.0)
}

/// π0: the root of the likelihood's cubic that lies between 0 and 1, in
/// closed form (the paper's equations 27 and 28).
fn likeliest(k: &Cells, delta: f64) -> f64 {
    let third = 3.0 * k.n;
    let square = (k.n1 + 2.0 * k.n0) * delta - k.n - (k.a + k.c);
    let linear = (k.n0 * delta - k.n - 2.0 * k.c) * delta + k.a + k.c;
    let constant = k.c * delta * (1.0 - delta);
    let q = (square / third).powi(3) - square * linear / (6.0 * k.n * k.n) + constant / (2.0 * k.n);
    let p = ((square / third).powi(2) - linear / third).max(0.0).sqrt();
    let p = p.copysign(q);
    let (low, high) = ((-delta).max(0.0), (1.0 - delta).min(1.0));
    let root = if p == 0.0 {
        -square / third
    } else {
        let turn = (std::f64::consts::PI + (q / p.powi(3)).clamp(-1.0, 1.0).acos()) / 3.0;
        2.0 * p * turn.cos() - square / third
    };
    root.max(low).min(high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fits::stratified::Stratum;

    fn cells(a: (u64, u64), b: (u64, u64)) -> Cells {
        Cells::new(&Stratum {
            name: String::new(),
            a_yes: a.0,
            a_offers: a.1,
            b_yes: b.0,
            b_offers: b.1,
        })
    }

    /// The slow twin: the top of the likelihood by halving its slope.
    fn slowly(k: &Cells, delta: f64) -> f64 {
        let (mut low, mut high) = ((-delta).max(0.0), (1.0 - delta).min(1.0));
        let share = |count: f64, p: f64| if count == 0.0 { 0.0 } else { count / p };
        for _ in 0..200 {
            let p0 = 0.5 * (low + high);
            let p1 = p0 + delta;
            let rise = share(k.a, p1) + share(k.c, p0);
            let fall = share(k.b, 1.0 - p1) + share(k.d, 1.0 - p0);
            if rise > fall {
                low = p0;
            } else {
                high = p0;
            }
        }
        0.5 * (low + high)
    }

    #[test]
    fn the_closed_form_finds_the_top_of_the_likelihood() {
        let mut tried = 0;
        for (n1, n0) in [(1, 1), (3, 2), (7, 5), (40, 61)] {
            for a in 0..=n1 {
                for c in 0..=n0 {
                    let k = cells((a, n1), (c, n0));
                    for delta in [-0.93, -0.4, -0.01, 0.0, 0.02, 0.35, 0.8] {
                        let (fast, slow) = (likeliest(&k, delta), slowly(&k, delta));
                        assert!((fast - slow).abs() < 1e-7, "{k:?} {delta}: {fast} {slow}");
                        tried += 1;
                    }
                }
            }
        }
        assert!(tried > 17_000);
    }

    /// Miettinen and Nurminen's interval of one table: Newcombe, Statistics in
    /// Medicine 1998;17:873-890, Table II (a) and (b), as asserted in the
    /// tests of R's DescTools; (d) as in those of R's ratesci.
    #[test]
    fn one_table_gives_the_published_limits() {
        let z = crate::fits::dist::normal_margin(0.95);
        for (a, b, low, high) in [
            ((56, 70), (48, 80), 0.0528, 0.3382),
            ((9, 10), (3, 10), 0.1700, 0.8406),
            ((5, 56), (0, 29), -0.0326, 0.1933),
            ((84, 101), (89, 105), -0.1191, 0.0860),
        ] {
            let k = cells(a, b);
            let e = ends(&[k], k.a / k.n1 - k.c / k.n0, z);
            assert!((e.low - low).abs() <= 5e-5, "{a:?} {b:?} {e:?}");
            assert!((e.high - high).abs() <= 5e-5, "{a:?} {b:?} {e:?}");
        }
    }
}
