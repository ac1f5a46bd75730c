//! The root of a function between two points where its sign differs.

use crate::fits::error::FitError;

/// Two points and the values of the function there, of opposite sign.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bracket {
    /// One end.
    pub low: f64,
    /// The function there.
    pub at_low: f64,
    /// The other end.
    pub high: f64,
    /// The function there.
    pub at_high: f64,
}

/// Iterations after which the search gives up; bisection alone needs 1,100
/// in the worst case, the mixture of methods hardly ever over 20.
const MOST: u32 = 200;

/// The root within `bracket` to a relative `tolerance`: Brent's method
/// (Algorithms for Minimization without Derivatives, 1973, chapter 4), which
/// takes the secant or inverse quadratic step where that helps and halves the
/// bracket where it does not.
///
/// # Errors
/// What `f` returns; [`FitError::DidNotConverge`] where both ends have the
/// same sign, the function is not a number, or the iterations run out.
pub fn find_root(
    bracket: Bracket,
    tolerance: f64,
    mut f: impl FnMut(f64) -> Result<f64, FitError>,
) -> Result<f64, FitError> {
    let lost = |iterations| FitError::DidNotConverge {
        what: "search for a root",
        iterations,
    };
    let (mut a, mut fa) = (bracket.low, bracket.at_low);
    let (mut b, mut fb) = (bracket.high, bracket.at_high);
    if fa.is_nan() || fb.is_nan() || fa * fb > 0.0 {
        return Err(lost(0));
    }
    let (mut c, mut fc) = (a, fa);
    let mut step = b - a;
    let mut last = step;
    for _ in 0..MOST {
        if fb.signum() == fc.signum() {
            (c, fc) = (a, fa);
            step = b - a;
            last = step;
        }
        if fc.abs() < fb.abs() {
            (a, fa) = (b, fb);
            (b, fb) = (c, fc);
            (c, fc) = (a, fa);
        }
        let least = 2.0 * f64::EPSILON * b.abs() + 0.5 * tolerance * b.abs();
        let half = 0.5 * (c - b);
        if half.abs() <= least || fb == 0.0 {
            return Ok(b);
        }
        let attempt = interpolate([a, b, c], [fa, fb, fc], half);
        let good = last.abs() >= least
            && fa.abs() > fb.abs()
            && attempt.is_some_and(|d| {
                let forward = d * half.signum();
                forward > 0.0
                    && forward < 1.5 * half.abs() - 0.5 * least
                    && forward < 0.5 * last.abs()
            });
        (last, step) = match attempt {
            Some(d) if good => (step, d),
            _ => (half, half),
        };
        (a, fa) = (b, fb);
        b += if step.abs() > least {
            step
        } else {
            least * half.signum()
        };
        fb = f(b)?;
        if fb.is_nan() {
            return Err(lost(MOST));
        }
    }
    Err(lost(MOST))
}

/// Step from b by the secant (where only two points are known) or by inverse
/// quadratic interpolation.
fn interpolate([a, b, c]: [f64; 3], [fa, fb, fc]: [f64; 3], half: f64) -> Option<f64> {
    let s = fb / fa;
    let (top, bottom) = if a == c {
        (2.0 * half * s, 1.0 - s)
    } else {
        let (q, r) = (fa / fc, fb / fc);
        (
            s * (2.0 * half * q * (q - r) - (b - a) * (r - 1.0)),
            (q - 1.0) * (r - 1.0) * (s - 1.0),
        )
    };
    let step = -top / bottom;
    step.is_finite().then_some(step)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn root(low: f64, high: f64, f: impl Fn(f64) -> f64) -> Result<f64, FitError> {
        let bracket = Bracket {
            low,
            at_low: f(low),
            high,
            at_high: f(high),
        };
        find_root(bracket, 1e-14, |x| Ok(f(x)))
    }

    #[test]
    fn roots_known_in_closed_form() {
        let near = |got: f64, want: f64| assert!((got - want).abs() < 1e-13 * want, "{got} {want}");
        near(root(0.0, 2.0, |x| x * x - 2.0).unwrap(), 2f64.sqrt());
        near(root(2.0, 0.0, |x| x * x - 2.0).unwrap(), 2f64.sqrt());
        near(root(1e-9, 1e9, |x| x.ln() - 3.0).unwrap(), 3f64.exp());
        // A step, where interpolation is of no use.
        near(
            root(0.0, 1.0, |x| if x < 0.3 { -1e6 } else { 1.0 }).unwrap(),
            0.3,
        );
        // Flat to the ninth order.
        let flat = root(0.0, 3.0, |x| (x - 1.0).powi(9)).unwrap();
        assert!((flat - 1.0).abs() < 1e-9, "{flat}");
    }

    #[test]
    fn smooth_functions_take_a_dozen_looks_and_not_fifty() {
        let looks = std::cell::Cell::new(0);
        let f = |x: f64| {
            looks.set(looks.get() + 1);
            x.exp() - 5.0
        };
        root(0.0, 10.0, f).unwrap();
        assert!(looks.get() <= 14, "{}", looks.get());
    }

    #[test]
    fn no_root_is_an_error() {
        assert!(root(0.0, 1.0, |x| x + 1.0).is_err());
        assert!(root(0.0, 1.0, |_| f64::NAN).is_err());
        assert!(root(-1.0, 1.0, |x| if x.abs() == 1.0 { x } else { f64::NAN }).is_err());
    }
}
