//! What the curve refuses.

use super::{Mix, Params};
use crate::estimate::NotEnough;
use crate::fits::error::{FitError, check_shape};
use crate::fits::firth::Logistic;

/// Slices that go together, parameters in range.
pub(super) fn check(fit: &Logistic, mix: &Mix<'_>, params: Params) -> Result<(), FitError> {
    let (n, p) = (mix.weights.len(), fit.coefficients.len());
    let lengths = [
        ("design of the mix", n * p, mix.design.len()),
        ("base prices of the mix", n, mix.base.len()),
        ("costs of the mix", n, mix.costs.len()),
    ];
    for (what, expected, found) in lengths {
        check_shape(what, expected, found)?;
    }
    let ranges = [
        (
            "level",
            params.level,
            params.level > 0.0 && params.level < 1.0,
        ),
        ("points of the grid", params.grid as f64, params.grid >= 3),
        ("draws", params.draws as f64, params.draws >= 100),
        (
            "price column",
            mix.price_column as f64,
            mix.price_column < p,
        ),
        ("share kept", mix.kept, mix.kept > 0.0 && mix.kept <= 1.0),
    ];
    for (what, found, fine) in ranges {
        if !fine {
            let expected =
                "a level in (0, 1), 3 points, 100 draws, a column of the design, a share";
            return Err(FitError::Parameter {
                what,
                found,
                expected,
            });
        }
    }
    check_mix(mix)
}

/// Finite numbers, no negative weight, prices above zero, some offers.
fn check_mix(mix: &Mix<'_>) -> Result<(), FitError> {
    let columns = [
        ("weights of the mix", mix.weights, 0.0),
        ("base prices of the mix", mix.base, f64::MIN_POSITIVE),
        ("costs of the mix", mix.costs, f64::MIN),
        ("design of the mix", mix.design, f64::MIN),
    ];
    for (what, values, least) in columns {
        let bad = |v: &f64| !v.is_finite() || *v < least;
        if let Some(row) = values.iter().position(bad) {
            return Err(FitError::NotFinite { what, row });
        }
    }
    let offers: f64 = mix.weights.iter().sum();
    if offers <= 0.0 {
        return Err(NotEnough::new(0, 1, "offers in the mix").into());
    }
    Ok(())
}
