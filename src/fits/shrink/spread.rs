//! Who is erratic? Each person's spread of log minutes about their own pace.
//!
//! Person i has n_i jobs; from the residuals of the minutes' fit (y − x'β̂),
//! S_i = Σ (residual − own mean)², on ν_i = (n_i − 1)(1 − q) degrees of
//! freedom, q = p'/Σ(n_i − 1) being each person's part of the p' columns
//! fitted beside the people. sd = √(S_i/ν_i), interval by chi-square;
//! against all others pooled by an F test, one-sided, P(F ≥ their ratio).
//!
//! sd 0.2 on the log scale: two thirds of the jobs within about 20 % of what
//! the person usually takes on such work. When it misleads: chi-square
//! leans on normal residuals; one interrupted job among ten widens it.

use crate::estimate::{Estimate, NotEnough};
use crate::fits::dist::beta_cdf;
use crate::fits::error::FitError;
use crate::fits::interval::{check_level, variance_interval};

/// Fewest jobs of a person for a spread.
const JOBS: usize = 3;

/// One person's spread.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// Standard deviation of log minutes about the person's own pace.
    pub sd: Estimate,
    /// Over the pooled one of the others.
    pub ratio: f64,
    /// Tail area of so large a ratio or a larger one, were all alike.
    pub p_wider: f64,
}

/// A person's spread, or how many jobs are missing.
pub type Outcome = Result<Spread, NotEnough>;

/// Each person's spread, from the residuals of each; `columns` of the fit
/// beside the people (classes, area, finishes).
///
/// # Errors
/// [`FitError::NotEnough`] where columns use up all degrees of freedom or
/// fewer than two people have jobs enough, [`FitError::NotFinite`],
/// [`FitError::NoSpread`] where nobody's residuals vary,
/// [`FitError::Parameter`]. A person with too few jobs is no error: see
/// [`Outcome`].
pub fn spreads(residuals: &[&[f64]], columns: usize, level: f64) -> Result<Vec<Outcome>, FitError> {
    check_level(level)?;
    for (row, own) in residuals.iter().enumerate() {
        if own.iter().any(|r| !r.is_finite()) {
            let what = "residuals of a person";
            return Err(FitError::NotFinite { what, row });
        }
    }
    let raw: usize = residuals.iter().map(|r| r.len().saturating_sub(1)).sum();
    // The intercept is the people's own means, so one column costs nothing.
    let spent = columns.saturating_sub(1);
    if raw < spent + 2 {
        return Err(
            NotEnough::new(raw as u64, spent as u64 + 2, "jobs beyond the first each").into(),
        );
    }
    let left = 1.0 - spent as f64 / raw as f64;
    let own: Vec<Part> = residuals.iter().map(|r| Part::new(r, left)).collect();
    let enough = own.iter().filter(|p| p.jobs >= JOBS).count();
    if enough < 2 {
        let of = "people with three jobs or more";
        return Err(NotEnough::new(enough as u64, 2, of).into());
    }
    let squares: f64 = own.iter().map(|p| p.squares).sum();
    if squares <= 0.0 {
        return Err(FitError::NoSpread {
            what: "minutes about people's own pace",
        });
    }
    let df: f64 = own.iter().map(|p| p.df).sum();
    let outcome = |part: &Part| {
        let rest = Part {
            jobs: 0,
            squares: squares - part.squares,
            df: df - part.df,
        };
        part.against(&rest, level)
    };
    Ok(own.iter().map(outcome).collect())
}

/// A sum of squares on its degrees of freedom.
#[derive(Debug, Clone, Copy)]
struct Part {
    jobs: usize,
    squares: f64,
    df: f64,
}

impl Part {
    fn new(residuals: &[f64], left: f64) -> Self {
        let jobs = residuals.len();
        let mean = residuals.iter().sum::<f64>() / jobs.max(1) as f64;
        Self {
            jobs,
            squares: residuals.iter().map(|r| (r - mean).powi(2)).sum(),
            df: jobs.saturating_sub(1) as f64 * left,
        }
    }

    fn against(&self, rest: &Self, level: f64) -> Outcome {
        if self.jobs < JOBS {
            let have = self.jobs as u64;
            return Err(NotEnough::new(have, JOBS as u64, "jobs of this person"));
        }
        let variance = self.squares / self.df;
        let others = rest.squares / rest.df;
        let sd = variance_interval(variance, self.df, level, self.jobs as u64);
        let f = variance / others;
        Ok(Spread {
            sd: sd.map(f64::sqrt),
            ratio: f.sqrt(),
            p_wider: f_tail(f, self.df, rest.df),
        })
    }
}

/// P(F ≥ f) for F with `d1` and `d2` degrees of freedom; an infinite f (the
/// others do not vary at all) has none.
fn f_tail(f: f64, d1: f64, d2: f64) -> f64 {
    if f.is_infinite() {
        return 0.0;
    }
    beta_cdf(d2 / (d2 + d1 * f), d2 / 2.0, d1 / 2.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEADY: [f64; 6] = [0.1, -0.1, 0.12, -0.08, 0.05, -0.09];
    const ERRATIC: [f64; 6] = [0.6, -0.5, 0.4, -0.7, 0.3, -0.1];

    /// Tail: scipy 1.17.1, `f.sf(3, 4, 20)`.
    #[test]
    fn the_tail_of_f_agrees_with_an_independent_library() {
        assert!((f_tail(3.0, 4.0, 20.0) - 0.04320099833421409).abs() < 1e-12);
        assert_eq!(f_tail(f64::INFINITY, 4.0, 20.0), 0.0);
    }

    #[test]
    fn the_erratic_one_stands_out() {
        let found = spreads(&[&STEADY, &ERRATIC, &STEADY], 1, 0.95).unwrap();
        let erratic = found[1].as_ref().unwrap();
        // By hand: Σ(r − mean)² = 1.36 on 5 degrees of freedom.
        assert!((erratic.sd.value - (1.36_f64 / 5.0).sqrt()).abs() < 1e-12);
        assert!(erratic.p_wider < 0.001 && erratic.ratio > 4.0);
        assert!(found[0].as_ref().unwrap().p_wider > 0.9);
    }

    #[test]
    fn columns_of_the_fit_cost_degrees_of_freedom() {
        let free = spreads(&[&STEADY, &ERRATIC], 1, 0.95).unwrap();
        let costly = spreads(&[&STEADY, &ERRATIC], 6, 0.95).unwrap();
        let sd = |o: &Outcome| o.as_ref().unwrap().sd;
        assert!((sd(&costly[0]).value / sd(&free[0]).value - 2.0_f64.sqrt()).abs() < 1e-12);
        assert!(spreads(&[&STEADY, &ERRATIC], 10, 0.95).is_err());
    }

    #[test]
    fn one_with_two_jobs_is_not_spoken_of() {
        let found = spreads(&[&STEADY, &ERRATIC, &[0.1, 0.2], &[]], 2, 0.95).unwrap();
        assert_eq!(found[2].as_ref().unwrap_err().have, 2);
        assert_eq!(found[3].as_ref().unwrap_err().have, 0);
        assert!(found[0].is_ok());
        assert!(spreads(&[&STEADY], 1, 0.95).is_err());
        assert!(spreads(&[&[0.0; 4], &[0.0; 4]], 1, 0.95).is_err());
        assert!(spreads(&[&STEADY, &[f64::NAN]], 1, 0.95).is_err());
    }
}
