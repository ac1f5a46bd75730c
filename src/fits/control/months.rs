//! A window of months, each against all the others.
//!
//! Question: which months' rates lie outside what chance makes of the usual,
//! when months have different numbers of offers and may differ from each
//! other by more than chance?
//!
//! For month i of n_i offers everything is taken from the window without it,
//! so that a bad month can't hide behind the spread that it makes itself.
//! The limits are exact ([`super::binomial`]). Then Laney's p' (Quality
//! Engineering 2002;14:531-537, doi:10.1081/QEN-120003555): with p̄ over
//! those other months, z_j = (p_j − p̄)/√(p̄(1−p̄)/n_j) and σ_z = mean
//! |z_j − z_{j−1}|/1.128, the distance of each limit from p̄ is multiplied by
//! σ_z. That is done only where it widens (σ_z > 1) and where Σ z_j² on
//! chi-square says at `widen_at` that the others differ by more than chance;
//! otherwise σ_z is noise. A σ_z from few months is itself a guess: with ν
//! = 0.605 per moving range (from the variance of a mean moving range of
//! independent normal values) the distance is further multiplied by
//! t_ν/z at `tail`, 1.6 for twelve months and 1.1 for fifty.
//!
//! Laney's own chart takes p̄ and σ_z over all months, the one judged too;
//! with twelve of them one month at zero widens its own limits by half. No
//! published limits of a p' chart on data that can be had: held to the
//! formula, written out a second time in the tests.
//!
//! When it misleads: months that drift are like their neighbours, so σ_z
//! stays small and many months are raised: rightly.

use super::binomial::{Ordinary, Usual, limits};
use super::{MOVING_RANGE_PER_SIGMA, Side, THREE_SIGMA_TAIL, mean_moving_range};
use crate::estimate::NotEnough;
use crate::fits::dist::{chi_squared_tail, normal_quantile, t_quantile};
use crate::fits::error::FitError;

/// Fewest months with offers for a chart: one to judge and two for the usual.
const MONTHS: usize = 3;

/// A month's counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Month {
    /// Yes (coated, accepted).
    pub yes: u64,
    /// Out of so many (eligible, offered).
    pub of: u64,
}

/// How the chart is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Params {
    /// Chance of a false alarm on each side of a month (default: that of
    /// three standard errors, 0.00135).
    pub tail: f64,
    /// Whether the usual rate's own uncertainty widens the limits
    /// (default true).
    pub usual_is_uncertain: bool,
    /// Tail area of the test for more than chance under which Laney's
    /// widening applies (default 0.05).
    pub widen_at: f64,
}

impl Default for Params {
    fn default() -> Self {
        Self {
            tail: THREE_SIGMA_TAIL,
            usual_is_uncertain: true,
            widen_at: 0.05,
        }
    }
}

/// One month on the chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// The month's rate.
    pub rate: f64,
    /// Rate of the window without the month.
    pub usual: f64,
    /// Lowest ordinary rate.
    pub low: f64,
    /// Highest ordinary rate.
    pub high: f64,
    /// What the distances of the limits were multiplied by; 1 where the
    /// other months differ by no more than chance.
    pub widened_by: f64,
    /// Where the month lies.
    pub side: Side,
}

/// The chart.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// Rate of the whole window.
    pub centre: f64,
    /// A point for each month, `None` for a month without offers.
    pub points: Vec<Option<Point>>,
    /// How the whole window spreads.
    pub spread: Spread,
}

/// Degrees of freedom of a mean moving range of two, for each range:
/// ½/(d3/d2)²/(1 + 2ρ), d3/d2 = 0.7555, ρ = 0.2239 the correlation of
/// neighbouring ranges.
const FREEDOM_PER_RANGE: f64 = 0.605;

/// How rates spread against what chance makes of them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Moving ranges behind `sigma_z`.
    pub ranges: usize,
    /// Laney's σ_z; about 1 where months differ just as chance makes them.
    pub sigma_z: f64,
    /// Tail area of the test that they differ by chance alone.
    pub chance_alone: f64,
}

impl Spread {
    /// The spread of these months; one by chance alone where fewer than two
    /// have offers or all answers are alike.
    fn of(months: &[Month]) -> Self {
        let z = standardised(months);
        let Some(range) = mean_moving_range(&z) else {
            return Self {
                ranges: 0,
                sigma_z: 1.0,
                chance_alone: 1.0,
            };
        };
        let squares: f64 = z.iter().map(|z| z * z).sum();
        Self {
            ranges: z.len() - 1,
            sigma_z: range / MOVING_RANGE_PER_SIGMA,
            chance_alone: chi_squared_tail(squares, z.len() as f64 - 1.0),
        }
    }

    /// What a σ_z from so few months must be multiplied by.
    fn few_months(&self, tail: f64) -> f64 {
        let df = FREEDOM_PER_RANGE * self.ranges as f64;
        t_quantile(1.0 - tail, df) / normal_quantile(1.0 - tail)
    }
}

/// The chart of these months, in their order.
///
/// # Errors
/// [`FitError::NotEnough`] with fewer than three months with offers,
/// [`FitError::NoSpread`] where all answers are alike,
/// [`FitError::OutOfRange`] for more yes than offers, [`FitError::Parameter`].
pub fn chart(months: &[Month], params: Params) -> Result<Chart, FitError> {
    check(months)?;
    let [yes, of] = totals(months);
    if yes == 0 || yes == of {
        return Err(FitError::NoSpread { what: "answers" });
    }
    let point = |i: usize| match months[i].of {
        0 => Ok(None),
        _ => point(months, i, params).map(Some),
    };
    Ok(Chart {
        centre: yes as f64 / of as f64,
        points: (0..months.len()).map(point).collect::<Result<_, _>>()?,
        spread: Spread::of(months),
    })
}

fn check(months: &[Month]) -> Result<(), FitError> {
    if let Some(row) = months.iter().position(|m| m.yes > m.of) {
        return Err(FitError::OutOfRange {
            what: "yes of a month",
            row,
            found: months[row].yes as f64,
            expected: "no more than its offers",
        });
    }
    let with_offers = months.iter().filter(|m| m.of > 0).count();
    if with_offers < MONTHS {
        let missing = NotEnough::new(with_offers as u64, MONTHS as u64, "months with offers");
        return Err(missing.into());
    }
    Ok(())
}

/// Yes and offers of these months.
fn totals(months: &[Month]) -> [u64; 2] {
    let sum = |of: fn(&Month) -> u64| months.iter().map(of).sum();
    [sum(|m| m.yes), sum(|m| m.of)]
}

/// z_j of the months with offers; none where all answers are alike.
fn standardised(months: &[Month]) -> Vec<f64> {
    let [yes, of] = totals(months);
    if yes == 0 || yes == of {
        return Vec::new();
    }
    let centre = yes as f64 / of as f64;
    let z = |m: &Month| {
        let n = m.of as f64;
        (m.yes as f64 / n - centre) / (centre * (1.0 - centre) / n).sqrt()
    };
    months.iter().filter(|m| m.of > 0).map(z).collect()
}

/// Month `i` against the others.
fn point(months: &[Month], i: usize, params: Params) -> Result<Point, FitError> {
    let others: Vec<Month> = [&months[..i], &months[i + 1..]].concat();
    let [yes, of] = totals(&others);
    let usual = if params.usual_is_uncertain {
        Usual::Seen { yes, of }
    } else {
        Usual::Known(yes as f64 / of as f64)
    };
    let month = months[i];
    let ordinary = limits(month.of, usual, params.tail)?;
    let spread = Spread::of(&others);
    let widened_by = if spread.chance_alone < params.widen_at {
        spread.sigma_z.max(1.0) * spread.few_months(params.tail)
    } else {
        1.0
    };
    let rate = month.yes as f64 / month.of as f64;
    let [low, high] = widen(ordinary, widened_by);
    Ok(Point {
        rate,
        usual: ordinary.usual,
        low,
        high,
        widened_by,
        side: Side::of(rate, low, high),
    })
}

/// The ordinary rates, their distances from the usual multiplied.
fn widen(ordinary: Ordinary, by: f64) -> [f64; 2] {
    let [low, high] = [ordinary.low_rate(), ordinary.high_rate()];
    if by == 1.0 {
        return [low, high];
    }
    let centre = ordinary.usual;
    let low = centre - by * (centre - low);
    [low.max(0.0), (centre + by * (high - centre)).min(1.0)]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn months(counts: &[(u32, u32)]) -> Vec<Month> {
        let month = |&(yes, of): &(u32, u32)| Month {
            yes: yes.into(),
            of: of.into(),
        };
        counts.iter().map(month).collect()
    }

    const STEADY: [(u32, u32); 8] = [
        (12, 40),
        (15, 44),
        (9, 35),
        (14, 50),
        (13, 38),
        (10, 41),
        (16, 47),
        (12, 39),
    ];

    #[test]
    fn steady_months_are_not_widened_and_none_is_raised() {
        let chart = chart(&months(&STEADY), Params::default()).unwrap();
        for p in chart.points.iter().flatten() {
            assert_eq!(p.widened_by, 1.0);
            assert_eq!(p.side, Side::Within);
        }
    }

    #[test]
    fn one_bad_month_among_steady_ones_is_raised() {
        let mut counts = STEADY;
        counts[4] = (0, 38);
        let chart = chart(&months(&counts), Params::default()).unwrap();
        let raised: Vec<usize> = (0..8)
            .filter(|&i| chart.points[i].unwrap().side != Side::Within)
            .collect();
        assert_eq!(raised, [4], "{chart:?}");
    }

    /// Months that differ from each other far more than offers alone make
    /// them: the formula of the header, written out a second time.
    #[test]
    fn restless_months_are_widened_by_laneys_factor() {
        let counts = [
            (60, 200),
            (110, 210),
            (48, 190),
            (130, 220),
            (70, 200),
            (120, 205),
        ];
        let params = Params {
            usual_is_uncertain: false,
            ..Params::default()
        };
        let found = chart(&months(&counts), params).unwrap();
        // The first month, so the other five: 478 of 1,025.
        let pbar = 478.0 / 1025.0;
        let z: Vec<f64> = counts[1..]
            .iter()
            .map(|&(y, n)| {
                let (y, n) = (f64::from(y), f64::from(n));
                (y / n - pbar) / (pbar * (1.0 - pbar) / n).sqrt()
            })
            .collect();
        let mut range = 0.0;
        for i in 1..5 {
            range += (z[i] - z[i - 1]).abs() / 4.0;
        }
        let point = found.points[0].unwrap();
        // Four ranges: t at 2.42 degrees of freedom, tail 0.00135, over 3
        // (scipy 1.17.1: t.isf(0.0013498980316300933, 2.42) = 12.97273881).
        let few = 12.972738813192597 / 3.0;
        assert!((point.widened_by / (few * range / 1.128) - 1.0).abs() < 1e-9);
        assert!(point.widened_by > 4.0);
        let alone = limits(200, Usual::Known(pbar), THREE_SIGMA_TAIL).unwrap();
        let high = pbar + point.widened_by * (alone.high_rate() - pbar);
        assert!((point.high - high.min(1.0)).abs() < 1e-12);
        assert!(
            found
                .points
                .iter()
                .flatten()
                .all(|p| p.side == Side::Within)
        );
        assert!(found.spread.chance_alone < 1e-6);
    }

    #[test]
    fn a_month_without_offers_has_no_point_and_changes_none() {
        let with: Vec<(u32, u32)> = STEADY[..4]
            .iter()
            .chain(&[(0, 0)])
            .chain(&STEADY[4..])
            .copied()
            .collect();
        let with = chart(&months(&with), Params::default()).unwrap();
        let without = chart(&months(&STEADY), Params::default()).unwrap();
        assert_eq!(with.points[4], None);
        let rest: Vec<_> = with.points.into_iter().flatten().map(Some).collect();
        assert_eq!(rest, without.points);
    }

    #[test]
    fn too_few_months_or_no_spread_is_said() {
        let few = chart(&months(&STEADY[..2]), Params::default());
        assert!(matches!(few, Err(FitError::NotEnough(_))));
        let alike = chart(&months(&[(0, 9); 5]), Params::default());
        assert!(matches!(alike, Err(FitError::NoSpread { .. })));
        let wrong = chart(&months(&[(9, 8); 5]), Params::default());
        assert!(matches!(wrong, Err(FitError::OutOfRange { row: 0, .. })));
    }
}
