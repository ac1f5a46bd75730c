//! Which price brings most per offer, within what was tried?
//!
//! Contribution per offer at price x, over the offers' own mix i (weights
//! v_i): C(x) = Σ v_i π_i(x) (κ x b_i − k_i) / Σ v_i, where b_i is the row's
//! price at x = 1 (1 where x is a price, the list price where x is a
//! multiple of it), κ the share of a price that is kept, k_i the row's cost
//! and logit π_i(x) = the fitted x_i'β with ln(x b_i) in the price column.
//! Prices and costs in one currency unit.
//!
//! Intervals: draws of β from N(β̂, I⁻¹), seeded; percentiles of C, π and of
//! where C peaks. Grid: even on the log scale over the range tried, which
//! ends where fewer than `support` offers lie at or beyond.
//!
//! When it misleads: beyond the range nothing is known, so a peak at its end
//! is reported as such ([`Peak`]). Offers were not priced at random.

mod check;

use super::Logistic;
use crate::estimate::{Estimate, NotEnough};
use crate::fits::draws;
use crate::fits::error::FitError;
use check::check;
use nalgebra::DVector;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

/// The offers' mix and what each kind costs.
#[derive(Debug, Clone, Copy)]
pub struct Mix<'a> {
    /// Design rows as in the fit; the price column is written over.
    pub design: &'a [f64],
    /// Column that holds the logarithm of the price.
    pub price_column: usize,
    /// Offers of each row.
    pub weights: &'a [f64],
    /// The row's price at x = 1.
    pub base: &'a [f64],
    /// The row's cost if accepted, in the unit of the prices.
    pub costs: &'a [f64],
    /// Share of a price that is left after tax, fees and discount; 1 where
    /// all of it is.
    pub kept: f64,
}

/// What is asked of the curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Params {
    /// Offers that must lie at or beyond each end of the range (default 5).
    pub support: usize,
    /// Points of the grid (default 61, at least 3).
    pub grid: usize,
    /// Draws of the coefficients (default 2,000, at least 100).
    pub draws: usize,
    /// Seed of the draws.
    pub seed: u64,
    /// Level of the intervals (default 0.95).
    pub level: f64,
    /// Loss against the peak, as a share, that counts as flat (default 0.02).
    pub flat: f64,
}

impl Default for Params {
    fn default() -> Self {
        Self {
            support: 5,
            grid: 61,
            draws: 2_000,
            seed: 1,
            level: 0.95,
            flat: 0.02,
        }
    }
}

/// The curve at one price.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PricePoint {
    /// x.
    pub price: f64,
    /// Share of offers accepted at x.
    pub acceptance: Estimate,
    /// Contribution per offer at x.
    pub contribution: Estimate,
}

/// Where the contribution per offer peaks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Peak {
    /// Within the range tried.
    Inside {
        /// The price, its interval cut at the ends of the range.
        price: Estimate,
    },
    /// At the highest price tried or beyond it.
    AtOrBeyondTop {
        /// The highest price tried.
        tried: f64,
    },
    /// At the lowest price tried or below it.
    AtOrBelowBottom {
        /// The lowest price tried.
        tried: f64,
    },
}

/// Contribution per offer over the range tried.
#[derive(Debug, Clone, PartialEq)]
pub struct PriceCurve {
    /// The curve, by rising price.
    pub points: Vec<PricePoint>,
    /// Where it peaks.
    pub peak: Peak,
    /// The point of the grid at or next to the peak.
    pub best: PricePoint,
    /// Share of the draws that peak at the top of the range.
    pub chance_top: f64,
    /// Share of the draws that peak at its bottom.
    pub chance_bottom: f64,
    /// Lowest price of the grid that loses no more than `flat` of the peak.
    pub flat_from: f64,
    /// Highest such price.
    pub flat_to: f64,
    /// Contribution per offer at `best` less that at x = 1, over the same draws;
    /// `None` where 1 lies outside the range tried. That `best` was chosen by
    /// these offers draws `value` up a little; the draws are of the difference
    /// at that one price, so that where they peak elsewhere it is less.
    pub gain: Option<Estimate>,
}

/// The lowest and highest price tried.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tried {
    /// Lowest.
    pub low: f64,
    /// Highest.
    pub high: f64,
}

/// The range with at least `support` of the offers at or beyond each end.
///
/// # Errors
/// [`FitError::NotEnough`] with fewer than twice `support` offers,
/// [`FitError::NoSpread`] where the ends meet, [`FitError::OutOfRange`] for
/// a price that is not positive.
pub fn tried(prices: &[f64], support: usize) -> Result<Tried, FitError> {
    let bad = |p: &f64| !(p.is_finite() && *p > 0.0);
    if let Some(row) = prices.iter().position(bad) {
        return Err(FitError::OutOfRange {
            what: "prices",
            row,
            found: prices[row],
            expected: "a price above zero",
        });
    }
    let (have, need) = (prices.len(), 2 * support.max(1));
    if have < need {
        return Err(NotEnough::new(have as u64, need as u64, "offers with a price").into());
    }
    let mut sorted = prices.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let (low, high) = (sorted[support.max(1) - 1], sorted[have - support.max(1)]);
    if low >= high {
        return Err(FitError::NoSpread { what: "prices" });
    }
    Ok(Tried { low, high })
}

/// The curve over the range of `prices` (x of every offer made).
///
/// # Errors
/// Those of [`tried`]; [`FitError::Shape`] for slices that do not go
/// together, [`FitError::Parameter`] for a parameter out of range.
pub fn curve(
    fit: &Logistic,
    mix: &Mix<'_>,
    prices: &[f64],
    params: Params,
) -> Result<PriceCurve, FitError> {
    check(fit, mix, params)?;
    let range = tried(prices, params.support)?;
    let grid = grid(range, params.grid);
    let centre = evaluate(mix, &fit.coefficients, &grid);
    let draws = draw(fit, mix, &grid, params);
    Ok(assemble(fit, &grid, &centre, &draws, params))
}

/// Acceptance and contribution along the grid for one β.
#[derive(Debug, Clone)]
struct Along {
    acceptance: Vec<f64>,
    contribution: Vec<f64>,
    /// Contribution at x = 1.
    at_one: f64,
}

/// Points even on the log scale.
fn grid(range: Tried, points: usize) -> Vec<f64> {
    let step = (range.high / range.low).ln() / (points - 1) as f64;
    let within = (0..points - 1).map(|i| range.low * (step * i as f64).exp());
    within.chain([range.high]).collect()
}

/// The curve for one β.
fn evaluate(mix: &Mix<'_>, beta: &[f64], grid: &[f64]) -> Along {
    let p = beta.len();
    let slope = beta[mix.price_column];
    // e^{-η} of each row at x = 1; the price then multiplies it by x^{-slope}.
    let odds_against: Vec<f64> = mix
        .design
        .chunks_exact(p)
        .zip(mix.base)
        .map(|(row, base)| (-linear(row, beta, mix.price_column) - slope * base.ln()).exp())
        .collect();
    let total: f64 = mix.weights.iter().sum();
    let at = |x: f64| {
        let factor = (-slope * x.ln()).exp();
        let [mut accepted, mut brought] = [0.0, 0.0];
        for (i, against) in odds_against.iter().enumerate() {
            let taken = mix.weights[i] / (1.0 + against * factor);
            accepted += taken;
            brought += taken * (mix.kept * x * mix.base[i] - mix.costs[i]);
        }
        [accepted / total, brought / total]
    };
    let along: Vec<[f64; 2]> = grid.iter().map(|x| at(*x)).collect();
    let [_, at_one] = at(1.0);
    Along {
        acceptance: along.iter().map(|a| a[0]).collect(),
        contribution: along.iter().map(|a| a[1]).collect(),
        at_one,
    }
}

/// x'β without the price column.
fn linear(row: &[f64], beta: &[f64], price_column: usize) -> f64 {
    let pairs = row.iter().zip(beta).enumerate();
    pairs
        .filter(|(j, _)| *j != price_column)
        .map(|(_, (x, b))| x * b)
        .sum()
}

/// The curve for each draw of β.
fn draw(fit: &Logistic, mix: &Mix<'_>, grid: &[f64], params: Params) -> Vec<Along> {
    let root = draws::root(&fit.covariance);
    let centre = DVector::from_column_slice(&fit.coefficients);
    let mut rng = ChaCha8Rng::seed_from_u64(params.seed);
    let one = |_| {
        let beta = draws::around(&centre, &root, 1.0, &mut rng);
        evaluate(mix, beta.as_slice(), grid)
    };
    (0..params.draws).map(one).collect()
}

/// Place of the largest value.
fn highest(values: &[f64]) -> usize {
    let mut best = 0;
    for (i, v) in values.iter().enumerate() {
        if *v > values[best] {
            best = i;
        }
    }
    best
}

/// The draws' percentiles around a value.
fn around(value: f64, mut draws: Vec<f64>, level: f64, n: u64) -> Estimate {
    draws.sort_unstable_by(f64::total_cmp);
    let tail = (1.0 - level) / 2.0;
    let at = |share: f64| draws[((draws.len() - 1) as f64 * share).round() as usize];
    Estimate {
        value,
        low: at(tail).min(value),
        high: at(1.0 - tail).max(value),
        level,
        n,
    }
}

/// The curve from the estimate's own line and the draws'.
fn assemble(
    fit: &Logistic,
    grid: &[f64],
    centre: &Along,
    draws: &[Along],
    params: Params,
) -> PriceCurve {
    let estimate = |value, column: Vec<f64>| around(value, column, params.level, fit.offers);
    let drawn = |of: fn(&Along) -> &[f64], i: usize| draws.iter().map(|d| of(d)[i]).collect();
    let point = |i: usize| PricePoint {
        price: grid[i],
        acceptance: estimate(centre.acceptance[i], drawn(|d| &d.acceptance, i)),
        contribution: estimate(centre.contribution[i], drawn(|d| &d.contribution, i)),
    };
    let points: Vec<PricePoint> = (0..grid.len()).map(point).collect();
    let (best, last) = (highest(&centre.contribution), grid.len() - 1);
    let peaks: Vec<usize> = draws.iter().map(|d| highest(&d.contribution)).collect();
    let share = |at: usize| peaks.iter().filter(|p| **p == at).count() as f64 / peaks.len() as f64;
    let peak = match best {
        0 => Peak::AtOrBelowBottom { tried: grid[0] },
        at if at == last => Peak::AtOrBeyondTop { tried: grid[last] },
        at => Peak::Inside {
            price: estimate(
                refined(grid, &centre.contribution, at),
                peaks.iter().map(|p| grid[*p]).collect(),
            ),
        },
    };
    let [first, end] = flat(&centre.contribution, best, params.flat);
    let over = |a: &Along| a.contribution[best] - a.at_one;
    let tried = grid[0] <= 1.0 && 1.0 <= grid[last];
    let gain = tried.then(|| estimate(over(centre), draws.iter().map(over).collect()));
    PriceCurve {
        best: points[best],
        points,
        peak,
        chance_top: share(last),
        chance_bottom: share(0),
        flat_from: grid[first],
        flat_to: grid[end],
        gain,
    }
}

/// First and last place that lose no more than `share` of the highest.
fn flat(values: &[f64], best: usize, share: f64) -> [usize; 2] {
    let least = values[best] - share * values[best].abs();
    let first = values.iter().position(|v| *v >= least);
    let last = values.iter().rposition(|v| *v >= least);
    [first.unwrap_or(best), last.unwrap_or(best)]
}

/// The top of the parabola through the highest point and its neighbours, on
/// the log scale of the grid.
fn refined(grid: &[f64], values: &[f64], at: usize) -> f64 {
    let (left, mid, right) = (values[at - 1], values[at], values[at + 1]);
    let bend = left - 2.0 * mid + right;
    let step = (grid[at + 1] / grid[at]).ln();
    if bend >= 0.0 {
        return grid[at];
    }
    grid[at] * (0.5 * (left - right) / bend * step).exp()
}
