//! The search for the ratio of variances v.

use super::criterion::Point;
use super::{Criterion, GroupStatistics};
use crate::fits::error::FitError;
use crate::fits::record::Ended;
use crate::fits::roots::{Bracket, find_root};

/// First and last power of ten of v that is looked at, in steps of a half.
/// v = 1e-8 moves a group of a million rows by 1 %; at 1e8 the rows of a group
/// are alike to 1 part in 10,000 of the spread between groups.
const POWERS: (i32, i32) = (-8, 8);

/// Relative tolerance on v.
const TOLERANCE: f64 = 1e-13;

/// The ratio that minimises d.
#[derive(Debug, Clone, Copy)]
pub(super) struct Found {
    pub(super) ratio: f64,
    pub(super) evaluations: u32,
    pub(super) ended: Ended,
}

impl Found {
    /// Ordinary least squares: nothing to search for.
    pub(super) fn direct() -> Self {
        Self {
            ratio: 0.0,
            evaluations: 0,
            ended: Ended::Direct,
        }
    }
}

/// Minimises d over v >= 0: the best of v = 0 (where d rises from there) and
/// of every place where d' turns from negative to positive.
pub(super) fn minimise(
    statistics: &GroupStatistics,
    criterion: Criterion,
) -> Result<Found, FitError> {
    let mut evaluations = 0;
    let mut slope_at = |v: f64| -> Result<f64, FitError> {
        evaluations += 1;
        Ok(Point::at(statistics, criterion, v)?.derivative(statistics, criterion))
    };
    let mut minima = Vec::new();
    let mut before = (0.0, slope_at(0.0)?);
    if before.1 >= 0.0 {
        minima.push(0.0);
    }
    for half in 2 * POWERS.0..=2 * POWERS.1 {
        let v = 10f64.powf(f64::from(half) / 2.0);
        let here = (v, slope_at(v)?);
        if before.1 < 0.0 && here.1 >= 0.0 {
            let bracket = Bracket {
                low: before.0,
                at_low: before.1,
                high: here.0,
                at_high: here.1,
            };
            minima.push(find_root(bracket, TOLERANCE, &mut slope_at)?);
        }
        before = here;
    }
    if before.1 < 0.0 {
        return Err(FitError::NoSpread {
            what: "observations of a group, once the columns are taken out,",
        });
    }
    let best = least(&minima, statistics, criterion)?;
    Ok(Found {
        ratio: best,
        evaluations: evaluations + minima.len() as u32,
        ended: if best > 0.0 {
            Ended::Converged
        } else {
            Ended::AtBoundary
        },
    })
}

/// The minimum with the least d.
fn least(
    minima: &[f64],
    statistics: &GroupStatistics,
    criterion: Criterion,
) -> Result<f64, FitError> {
    let mut best = (0.0, f64::INFINITY);
    for &v in minima {
        let value = Point::at(statistics, criterion, v)?.value;
        if value < best.1 {
            best = (v, value);
        }
    }
    Ok(best.0)
}
