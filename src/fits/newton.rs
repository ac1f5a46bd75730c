//! Step-halving Newton ascent, shared by the logistic and the Cox fits.
//!
//! Question: where is a smooth, nearly concave surface highest?
//!
//! Formula: β ← β + h·I(β)⁻¹ U(β), with h = 1, ½, ¼ ... the first that does
//! not lower the surface. U (p) is the gradient, I (p×p) the information; for
//! Firth's likelihood I is the Fisher information, so the ascent converges
//! at a steady ratio and not quadratically.
//!
//! Columns are expected on a common scale (mean square about 1), so that one
//! tolerance fits all. When it misleads: a surface without a maximum is
//! climbed for ever; the end is then [`End::OutOfIterations`] or
//! [`End::Singular`], and the caller looks for the reason (separation).

use crate::fits::positive::ScaledCholesky;
use nalgebra::{DMatrix, DVector};

/// The surface at one point.
#[derive(Debug, Clone)]
pub(crate) struct Local {
    /// Height (a log-likelihood).
    pub(crate) value: f64,
    /// U, length p.
    pub(crate) gradient: DVector<f64>,
    /// I, p×p, symmetric.
    pub(crate) information: DMatrix<f64>,
}

/// How far the search may go.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Limits {
    /// Most iterations.
    pub(crate) iterations: u32,
    /// Largest change of a coefficient that counts as none.
    pub(crate) tolerance: f64,
}

/// How the search ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum End {
    /// The step fell under the tolerance.
    Converged,
    /// The information could not be inverted.
    Singular,
    /// No fraction of the step went up.
    Stalled,
    /// The iterations ran out.
    OutOfIterations,
}

/// Where a search ended.
#[derive(Debug, Clone)]
pub(crate) struct Climb {
    /// β, length p.
    pub(crate) at: DVector<f64>,
    /// The surface there.
    pub(crate) local: Local,
    /// The last full step, length p.
    pub(crate) step: DVector<f64>,
    /// Iterations made.
    pub(crate) iterations: u32,
    /// How it ended.
    pub(crate) end: End,
}

/// Climbs `surface` from `start`. `None` where the start itself has no
/// finite height.
pub(crate) fn climb(
    surface: impl Fn(&DVector<f64>) -> Option<Local>,
    start: DVector<f64>,
    limits: Limits,
) -> Option<Climb> {
    let mut run = Climb {
        local: surface(&start)?,
        step: DVector::zeros(start.len()),
        at: start,
        iterations: 0,
        end: End::OutOfIterations,
    };
    while run.iterations < limits.iterations {
        run.iterations += 1;
        let Some(factor) = ScaledCholesky::new(&run.local.information) else {
            run.end = End::Singular;
            break;
        };
        run.step = factor.solve(&run.local.gradient);
        let Some((at, local)) = uphill(&surface, &run) else {
            run.end = End::Stalled;
            break;
        };
        run.at = at;
        run.local = local;
        if run.step.amax() < limits.tolerance {
            run.end = End::Converged;
            break;
        }
    }
    Some(run)
}

/// The longest of the step's halvings that does not go down.
fn uphill(
    surface: &impl Fn(&DVector<f64>) -> Option<Local>,
    run: &Climb,
) -> Option<(DVector<f64>, Local)> {
    // Rounding alone moves the height by about this much.
    let slack = 1e-12 * (run.local.value.abs() + 1.0);
    let mut fraction = 1.0;
    for _ in 0..40 {
        let at = &run.at + &run.step * fraction;
        if let Some(local) = surface(&at)
            && local.value >= run.local.value - slack
        {
            return Some((at, local));
        }
        fraction *= 0.5;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A surface with its top at (1, −2).
    fn bowl(at: &DVector<f64>) -> Option<Local> {
        let away = DVector::from_vec(vec![at[0] - 1.0, at[1] + 2.0]);
        let information = DMatrix::from_row_slice(2, 2, &[4.0, 1.0, 1.0, 3.0]);
        Some(Local {
            value: -0.5 * away.dot(&(&information * &away)),
            gradient: -(&information * &away),
            information,
        })
    }

    const LIMITS: Limits = Limits {
        iterations: 50,
        tolerance: 1e-10,
    };

    #[test]
    fn a_quadratic_is_climbed_in_one_step() {
        let end = climb(bowl, DVector::zeros(2), LIMITS).unwrap();
        assert_eq!(end.end, End::Converged);
        assert_eq!(end.iterations, 2);
        assert!((end.at[0] - 1.0).abs() < 1e-12 && (end.at[1] + 2.0).abs() < 1e-12);
    }

    #[test]
    fn a_slope_without_a_top_runs_out() {
        let slope = |at: &DVector<f64>| {
            Some(Local {
                value: at[0],
                gradient: DVector::from_vec(vec![1.0]),
                information: DMatrix::from_vec(1, 1, vec![1.0]),
            })
        };
        let end = climb(slope, DVector::zeros(1), LIMITS).unwrap();
        assert_eq!(end.end, End::OutOfIterations);
    }
}
