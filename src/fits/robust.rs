//! Which values are far from the rest? Median, MAD, modified z-scores, and
//! sample quantiles by name of their definition.
//!
//! ```text
//! MAD = median |x_i - median(x)|
//! M_i = 0.6745 (x_i - median(x)) / MAD      far where |M_i| > 3.5
//! ```
//!
//! A fit leaves out what is far by M and stays far from the fit made without
//! it ([`stays_far`]).
//!
//! Iglewicz and Hoaglin, How to Detect and Handle Outliers, ASQC 1993 (the
//! factor has four decimals there). Quantiles: Hyndman and Fan, The American
//! Statistician 1996;50:361-365, doi:10.1080/00031305.1996.10473566.
//!
//! It misleads where over half of the values are alike (MAD 0: nothing is
//! called far) and where the values are skewed: hand in logarithms or
//! residuals, not raw use or minutes.

/// Limit on |M|.
pub const FAR: f64 = 3.5;

/// Whether a value called far stays so once the fit is made without it: its
/// distance from that fit in standard deviations of a new observation is over
/// [`FAR`] too.
///
/// The score of a cell of ten is rough, since the MAD of ten values is: of
/// simulated sound jobs, 60 to a shop in cells of ten to twenty, it calls 7 in
/// 1,000 far; leaving those out would make every interval too narrow (a 95 %
/// interval of the spread held it 92 times in 100). The second look leaves 1
/// in 2,000.
pub fn stays_far(distance: f64, standard_deviation: f64) -> bool {
    distance.abs() > FAR * standard_deviation
}

/// Least size of a cell in which anything is called far.
pub const LEAST_CELL: usize = 10;

/// What to do with values far from the rest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Outliers {
    /// Leave them out of the fit and list them.
    #[default]
    Drop,
    /// Fit everything.
    Keep,
}

/// The middle value; the mean of the two middle ones of an even count.
/// `None` for an empty slice or one with a NaN.
pub fn median(values: &[f64]) -> Option<f64> {
    let mut own = values.to_vec();
    median_of(&mut own)
}

/// Median by selection, in time linear in the length; reorders its argument.
fn median_of(values: &mut [f64]) -> Option<f64> {
    if values.is_empty() || values.iter().any(|v| v.is_nan()) {
        return None;
    }
    let middle = values.len() / 2;
    let odd = values.len() % 2 == 1;
    let (below, upper, _) = values.select_nth_unstable_by(middle, f64::total_cmp);
    if odd {
        return Some(*upper);
    }
    let lower = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Some(lower + (*upper - lower) / 2.0)
}

/// Median absolute deviation from the median, unscaled (R's `mad` multiplies
/// by 1.4826).
pub fn mad(values: &[f64]) -> Option<f64> {
    mad_about(values, median(values)?)
}

fn mad_about(values: &[f64], centre: f64) -> Option<f64> {
    let mut apart: Vec<f64> = values.iter().map(|v| (v - centre).abs()).collect();
    median_of(&mut apart)
}

/// M_i of every value, in order; `None` where MAD is zero or there are none.
pub fn modified_z(values: &[f64]) -> Option<Vec<f64>> {
    let centre = median(values)?;
    let spread = mad_about(values, centre).filter(|m| *m > 0.0)?;
    Some(
        (values.iter())
            .map(|v| 0.6745 * (v - centre) / spread)
            .collect(),
    )
}

/// A value far from the rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Far {
    /// Its place in the slice.
    pub at: usize,
    /// Its modified z-score.
    pub score: f64,
}

/// The values far from the rest of their cell, in order: none in a cell of
/// fewer than [`LEAST_CELL`], and none where MAD is zero.
pub fn far_from_the_rest(values: &[f64]) -> Vec<Far> {
    if values.len() < LEAST_CELL {
        return Vec::new();
    }
    let scores = modified_z(values).unwrap_or_default();
    (scores.into_iter().enumerate())
        .filter(|(_, score)| score.abs() > FAR)
        .map(|(at, score)| Far { at, score })
        .collect()
}

/// Definitions of a sample quantile, numbered as Hyndman and Fan do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantile {
    /// 1: the inverse of the empirical distribution.
    InverseStep,
    /// 2: the same, averaged at its steps.
    AveragedStep,
    /// 3: nearest value, even one where two are as near.
    NearestEven,
    /// 4: linear between the steps.
    Linear,
    /// 5: linear between mid-steps.
    MidStep,
    /// 6: n+1 as the base (Weibull): the one of the NIST e-Handbook.
    Weibull,
    /// 7: n-1 as the base: the default of R, numpy and spreadsheets, and of
    /// this program.
    Ends,
    /// 8: median-unbiased.
    MedianUnbiased,
    /// 9: unbiased under the normal.
    NormalUnbiased,
}

/// The quantile of `p`, 0..1. `None` for an empty slice, a NaN in it, or `p`
/// out of range.
pub fn quantile(values: &[f64], p: f64, kind: Quantile) -> Option<f64> {
    if values.is_empty() || values.iter().any(|v| v.is_nan()) || !(0.0..=1.0).contains(&p) {
        return None;
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len() as f64;
    let (place, step) = position(kind, n, p);
    let below = (place + 4.0 * f64::EPSILON).floor();
    let part = if (place - below).abs() < 4.0 * f64::EPSILON * n {
        0.0
    } else {
        place - below
    };
    let share = step.map_or(part, |rule| rule(part, below));
    let at = |k: f64| sorted.get((k.clamp(1.0, n) - 1.0) as usize).copied();
    let (low, high) = (at(below)?, at(below + 1.0)?);
    Some(low + share * (high - low))
}

/// Turns the part beyond a whole place into the share of the next value.
type StepRule = fn(part: f64, below: f64) -> f64;

/// The one-based place of the quantile among the sorted values and, for the
/// kinds that do not interpolate, how the part beyond a whole place counts.
fn position(kind: Quantile, n: f64, p: f64) -> (f64, Option<StepRule>) {
    let up: StepRule = |part, _| f64::from(u8::from(part > 0.0));
    let averaged: StepRule = |part, _| if part > 0.0 { 1.0 } else { 0.5 };
    let even: StepRule = |part, below| f64::from(u8::from(part > 0.0 || below % 2.0 == 1.0));
    match kind {
        Quantile::InverseStep => (n * p, Some(up)),
        Quantile::AveragedStep => (n * p, Some(averaged)),
        Quantile::NearestEven => (n * p - 0.5, Some(even)),
        Quantile::Linear => (n * p, None),
        Quantile::MidStep => (n * p + 0.5, None),
        Quantile::Weibull => ((n + 1.0) * p, None),
        Quantile::Ends => (1.0 + (n - 1.0) * p, None),
        Quantile::MedianUnbiased => ((n + 1.0 / 3.0) * p + 1.0 / 3.0, None),
        Quantile::NormalUnbiased => ((n + 0.25) * p + 0.375, None),
    }
}
