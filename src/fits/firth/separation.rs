//! Is there a direction in which the plain likelihood rises for ever?
//!
//! Yes exactly where some δ has x_i'δ ≥ 0 on every row that is all yes,
//! ≤ 0 on every row that is all no, = 0 on every mixed one, and is not zero
//! throughout (Albert and Anderson, Biometrika 1984;71:1-10,
//! doi:10.1093/biomet/71.1.1). The Newton step of a climb that does not
//! converge tends to such a δ, so it is tried, and believed only if every
//! row agrees.

use super::likelihood::{Row, Scaled, dot};
use nalgebra::DVector;

/// Largest contradiction, against the largest |x_i'δ|, that counts as zero.
const SLACK: f64 = 1e-6;

/// The columns in which `step` runs off, if every row lets it.
pub(super) fn columns(scaled: &Scaled, step: &DVector<f64>) -> Option<Vec<usize>> {
    let reach = scaled
        .rows()
        .map(|x| dot(x, step).abs())
        .fold(0.0, f64::max);
    if reach == 0.0 || !reach.is_finite() {
        return None;
    }
    let agrees = |r: Row<'_>| {
        let moved = dot(r.x, step) / reach;
        let (some_no, some_yes) = (r.yes < r.trials, r.yes > 0.0);
        (!some_no || moved <= SLACK) && (!some_yes || moved >= -SLACK)
    };
    scaled.each().all(agrees).then(|| {
        let runs = |&j: &usize| step[j].abs() > SLACK * step.amax();
        (0..step.len()).filter(runs).collect()
    })
}
