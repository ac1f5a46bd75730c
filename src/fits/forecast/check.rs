//! What the simulation refuses.

use super::{Params, Past};
use crate::estimate::NotEnough;
use crate::fits::error::{FitError, check_shape};

pub(super) fn check(past: &Past<'_>, params: Params) -> Result<(), FitError> {
    let (p, uses) = (past.finishes + 1, &past.uses);
    let jobs = past.areas.len() / past.finishes.max(1);
    let lengths = [
        ("areas of past jobs", jobs * past.finishes, past.areas.len()),
        ("constants", p, uses.mean.len()),
        ("covariance of the constants", p * p, uses.covariance.len()),
    ];
    for (what, expected, found) in lengths {
        check_shape(what, expected, found)?;
    }
    if jobs == 0 {
        return Err(NotEnough::new(0, 1, "past coated jobs with an area").into());
    }
    let columns = [
        ("areas of past jobs", past.areas, 0.0),
        ("constants", uses.mean, f64::MIN),
        ("covariance of the constants", uses.covariance, f64::MIN),
        ("variance per area", &[uses.variance_per_area][..], 0.0),
    ];
    for (what, values, least) in columns {
        check_values(what, values, least)?;
    }
    check_params(params, uses.df)
}

fn check_values(what: &'static str, values: &[f64], least: f64) -> Result<(), FitError> {
    for (row, &found) in values.iter().enumerate() {
        if !found.is_finite() {
            return Err(FitError::NotFinite { what, row });
        }
        if found < least {
            let expected = "zero or more";
            return Err(FitError::OutOfRange {
                what,
                row,
                found,
                expected,
            });
        }
    }
    Ok(())
}

fn check_params(params: Params, df: f64) -> Result<(), FitError> {
    let ranges = [
        ("months ahead", f64::from(params.months), params.months >= 1),
        (
            "usable mL of a bottle",
            params.usable_ml,
            params.usable_ml > 0.0 && params.usable_ml.is_finite(),
        ),
        ("draws", params.draws as f64, params.draws >= 200),
        ("degrees of freedom", df, df > 0.0),
    ];
    for (what, found, fine) in ranges {
        if !fine {
            let expected = "1 month, 200 draws or more; above 0 else";
            return Err(FitError::Parameter {
                what,
                found,
                expected,
            });
        }
    }
    Ok(())
}
