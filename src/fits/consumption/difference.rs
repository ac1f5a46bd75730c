//! Has it changed? One window against another.

use super::ConsumptionFit;
use crate::estimate::{Estimate, Figure};
use crate::fits::error::FitError;
use crate::fits::interval::{check_level, t_interval};

/// Differences newer - older of every coefficient, from the data alone.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    /// Of s, mL.
    pub setup: Figure,
    /// Of c_f by finish, mL per m2.
    pub finishes: Vec<Figure>,
}

/// The difference of two fits to separate jobs (windows, products, lots) with
/// the same finishes: unconstrained values, Welch's interval (standard errors
/// squared and added, degrees of freedom by Satterthwaite). A difference is
/// known where both sides are; `n` is that of both together.
///
/// # Errors
/// [`FitError::Shape`] where the finishes differ in number,
/// [`FitError::Parameter`] for the level.
pub fn difference(
    newer: &ConsumptionFit,
    older: &ConsumptionFit,
    level: f64,
) -> Result<Difference, FitError> {
    check_level(level)?;
    if newer.finishes.len() != older.finishes.len() {
        return Err(FitError::Shape {
            what: "finishes of the two windows",
            expected: newer.finishes.len(),
            found: older.finishes.len(),
        });
    }
    let of = |j| column(newer, older, j, level);
    Ok(Difference {
        setup: of(0),
        finishes: (1..=newer.finishes.len()).map(of).collect(),
    })
}

fn column(newer: &ConsumptionFit, older: &ConsumptionFit, j: usize, level: f64) -> Figure {
    let figure = |fit: &ConsumptionFit| match j.checked_sub(1) {
        None => fit.setup.data_alone.clone(),
        Some(f) => fit.finishes[f].data_alone.clone(),
    };
    let (a, b) = match (figure(newer), figure(older)) {
        (Figure::Known(a), Figure::Known(b)) => (a, b),
        (missing @ Figure::NotEnough(_), _) | (_, missing) => return missing,
    };
    let mut l = vec![0.0; newer.finishes.len() + 1];
    l[j] = 1.0;
    let (Some(x), Some(y)) = (&newer.fitted, &older.fitted) else {
        return figure(newer);
    };
    let (x, y) = (x.unconstrained(&l), y.unconstrained(&l));
    let (vx, vy) = (x.standard_error.powi(2), y.standard_error.powi(2));
    let total = vx + vy;
    let df = total * total / (vx * vx / x.df + vy * vy / y.df);
    let interval: Estimate = t_interval(x.mean - y.mean, total.sqrt(), df, level, a.n + b.n);
    interval.into()
}
