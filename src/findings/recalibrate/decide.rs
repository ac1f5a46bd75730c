//! What to do with one constant, and why.

use super::Found;
use crate::estimate::{Estimate, Figure, NotEnough};
use crate::findings::backtest::Compared;
use serde::Serialize;

/// An error of this share of a typical job is worth finding; an interval that
/// could not see it says "not enough". Common practice, no published source.
pub const MATTERS: f64 = 0.10;
/// A constant that stands for a fact (what bottles cost) is worth changing
/// where it is off by more than this share of itself; lots of one product
/// differ by about half of it. Common practice, no published source.
pub const WORTH_CHANGING: f64 = 0.02;
/// Predicted jobs (or bottles) that it takes to call one set of constants the
/// better predictor.
pub const LEAST_PREDICTED: u64 = 5;
/// Half width of a 95 % interval, in standard errors, with many observations.
const NORMAL: f64 = 1.96;
/// Significant digits of a proposed constant.
const DIGITS: i32 = 3;

/// What to do with a constant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Change it.
    Adopt,
    /// Leave it.
    Keep,
    /// Not enough to say.
    NotEnough,
}

/// Why.
#[derive(Debug, Clone, PartialEq)]
pub enum Why {
    /// The interval excludes the constant (a fact differs from it) and the
    /// refit predicted better.
    PredictsBetter(Compared),
    /// None is in force.
    NoneInForce,
    /// The interval holds the constant and is narrow enough to have seen an
    /// error that matters.
    Agrees,
    /// The interval excludes it (a fact differs), but the refit did not predict
    /// better.
    PredictsNoBetter(Compared),
    /// The new one is the old one, to the digits in which constants are kept.
    SameDigits,
    /// A fact that differs by less than [`WORTH_CHANGING`].
    Close,
    /// No figure from the data.
    NoFigure(NotEnough),
    /// The interval is too wide to tell: so many more observations would.
    TooWide {
        /// More of them.
        more: u64,
        /// The least of the two aims was to exclude the constant, if the
        /// estimate stays; else to see an error that matters.
        to_exclude: bool,
    },
    /// The interval holds the constant and is too wide to tell, but people
    /// differ by more than any number of jobs would narrow.
    PeopleDiffer,
    /// The interval excludes it (a fact differs), but too little could be
    /// predicted to prove the new one.
    Unproven(NotEnough),
}

/// Decides one constant. `proof_of`: what was predicted, "jobs" or "bottles".
pub(super) fn decide(
    f: &Found,
    in_force: Option<f64>,
    proof: Option<Compared>,
    proof_of: &str,
) -> (Verdict, Why) {
    let estimate = match &f.data_alone {
        Figure::Known(e) => *e,
        Figure::NotEnough(n) => return (Verdict::NotEnough, Why::NoFigure(n.clone())),
    };
    let proposed = f.blended.value().map_or(estimate.value, to_digits);
    let Some(constant) = in_force else {
        // A constant of 0 is none: constants.toml refuses it too, set-up apart.
        return if proposed > 0.0 {
            (Verdict::Adopt, Why::NoneInForce)
        } else {
            (Verdict::Keep, Why::SameDigits)
        };
    };
    if f.exact && (proposed - constant).abs() <= WORTH_CHANGING * constant {
        return (Verdict::Keep, Why::Close);
    }
    if estimate.holds(constant) {
        let matters = f.matters.unwrap_or(MATTERS * constant);
        return agrees_or_wide(&estimate, constant, matters, f.residual);
    }
    if proposed == to_digits(constant) || proposed <= 0.0 {
        return (Verdict::Keep, Why::SameDigits);
    }
    proven(proof, proof_of)
}

/// What the months that were predicted beforehand say of a constant that the
/// data contradict.
fn proven(proof: Option<Compared>, proof_of: &str) -> (Verdict, Why) {
    match proof {
        Some(p) if p.jobs >= LEAST_PREDICTED => {
            if p.refit.mean_absolute_error < p.in_force.mean_absolute_error {
                (Verdict::Adopt, Why::PredictsBetter(p))
            } else {
                (Verdict::Keep, Why::PredictsNoBetter(p))
            }
        }
        p => {
            let have = p.map_or(0, |p| p.jobs);
            let of = format!("{proof_of} predicted beforehand");
            let n = NotEnough::new(have, LEAST_PREDICTED, of);
            (Verdict::NotEnough, Why::Unproven(n))
        }
    }
}

/// An interval that holds the constant agrees where it could have seen an
/// error that matters; else the number of observations grows until it could,
/// or until it would exclude the constant. The part of the squared half width
/// that is residual falls with 1/n, and the rest stays.
fn agrees_or_wide(
    e: &Estimate,
    constant: f64,
    matters: f64,
    residual: Option<f64>,
) -> (Verdict, Why) {
    let half = if e.low > 0.0 {
        (e.high - e.low) / 2.0
    } else {
        // Cut at 0, it is short on that side; the other tells its width.
        e.high - e.value
    };
    if half <= matters {
        return (Verdict::Keep, Why::Agrees);
    }
    let off = (e.value - constant).abs();
    let to_exclude = off > matters;
    let aim = off.max(matters);
    let n = e.n as f64;
    let one = residual.map_or(half * n.sqrt(), |sd| (NORMAL * sd).min(half * n.sqrt()));
    let stays = half * half - one * one / n;
    let room = aim * aim - stays;
    if room <= 0.0 {
        return (Verdict::Keep, Why::PeopleDiffer);
    }
    let more = ((one * one / room).ceil() - n).clamp(1.0, 1e9) as u64;
    (Verdict::NotEnough, Why::TooWide { more, to_exclude })
}

/// `x` to [`DIGITS`] significant digits.
pub(super) fn to_digits(x: f64) -> f64 {
    if x == 0.0 || !x.is_finite() {
        return x;
    }
    let places = DIGITS - 1 - x.abs().log10().floor() as i32;
    if places >= 0 {
        let scale = 10_f64.powi(places);
        (x * scale).round() / scale
    } else {
        let scale = 10_f64.powi(-places);
        (x / scale).round() * scale
    }
}
