//! The one limit of a pooled odds ratio that exists when it is 0 or ∞.
//!
//! Given its margins, the count a of a stratum has weight
//! C(n1, a) C(n0, m1 − a) ψ^a. Where every a is the largest that its margins
//! allow, the lower limit is the ψ at which that has chance `tail`; each
//! stratum is independent, so the chance is a product. (Conditional exact
//! limit; Cornfield 1956, Gart 1970.)

use super::Cells;
use crate::fits::error::FitError;
use crate::fits::roots::{Bracket, find_root};
use statrs::function::factorial::ln_binomial;

/// Far out on the scale of log ψ: beyond any table that can be counted.
const FAR: f64 = 60.0;

/// The lower limit where each stratum's `a` is as large as it can be.
pub(super) fn lowest(telling: &[Cells], tail: f64) -> Result<f64, FitError> {
    let miss = |log_psi: f64| -> f64 {
        let chance: f64 = telling.iter().map(|k| top_chance(k, log_psi)).sum();
        chance - tail.ln()
    };
    let bracket = Bracket {
        low: -FAR,
        at_low: miss(-FAR),
        high: FAR,
        at_high: miss(FAR),
    };
    Ok(find_root(bracket, 1e-14, |log_psi| Ok(miss(log_psi)))?.exp())
}

/// The upper limit where each stratum's `a` is as small as it can be.
pub(super) fn highest(telling: &[Cells], tail: f64) -> Result<f64, FitError> {
    let swapped: Vec<Cells> = telling.iter().map(swap).collect();
    Ok(1.0 / lowest(&swapped, tail)?)
}

/// The stratum with its groups exchanged.
fn swap(k: &Cells) -> Cells {
    Cells {
        a: k.c,
        b: k.d,
        c: k.a,
        d: k.b,
        n1: k.n0,
        n0: k.n1,
        n: k.n,
    }
}

/// log P(a is at its largest | margins, ψ).
fn top_chance(k: &Cells, log_psi: f64) -> f64 {
    let (n1, n0, m1) = (k.n1 as u64, k.n0 as u64, (k.a + k.c) as u64);
    let (from, to) = (m1.saturating_sub(n0), m1.min(n1));
    let weight =
        |a: u64| ln_binomial(n1, a) + ln_binomial(n0, m1 - a) + log_psi * (a as f64 - to as f64);
    let top = weight(to);
    -(from..=to)
        .map(|a| (weight(a) - top).exp())
        .sum::<f64>()
        .ln()
}
