//! By what factor does the hazard of a failure differ, other things equal?
//!
//! Cox's proportional hazards (JRSS B 1972;34:187-220,
//! doi:10.1111/j.2517-6161.1972.tb00899.x): hazard h_s(t) exp(x'β), with a
//! baseline of its own in each stratum s. At a distinct failure time with d
//! failures D among those at risk R, with S_0 = Σ_R e^{x'β} and D_0 = Σ_D
//! e^{x'β}, the log partial likelihood is Σ_D x'β − Σ_{l<d} ln(S_0 − c_l
//! D_0), c_l = l/d by Efron (JASA 1977;72:557-565,
//! doi:10.1080/01621459.1977.10480613) and 0 by Breslow. Efron's is the
//! default; Breslow's shrinks β where many fail on one day.
//!
//! Covariates are centred and scaled inside; standard errors from the
//! observed information. A hazard ratio is exp(β).
//!
//! When it misleads: hazards that are not proportional (curves that cross);
//! few failures (about ten per covariate is common practice). Where in some
//! direction the one who fails always ranks highest (no coated job ever
//! failed), there is no estimate: [`Outcome::Unbounded`].

use super::Times;
use crate::estimate::{Estimate, NotEnough};
use crate::fits::collinear::Rank;
use crate::fits::dist::normal_margin;
use crate::fits::error::{FitError, check_shape};
use crate::fits::interval::check_level;
use crate::fits::newton::{Climb, End, Limits, Local, climb};
use crate::fits::positive::ScaledCholesky;
use crate::fits::record::{Ended, Record};
use crate::fits::stratified::ChiSquare;
use nalgebra::{DMatrix, DVector};

mod sorted;

use sorted::Sorted;

/// How tied failures share a risk set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Ties {
    /// As if they came one by one, on average over their orders.
    #[default]
    Efron,
    /// All with the whole risk set.
    Breslow,
}

/// How the fit is made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Params {
    /// Ties (default Efron).
    pub ties: Ties,
    /// Most iterations (default and at most 25: Newton needs about six, and
    /// an estimate that runs off has shown it by then).
    pub iterations: u32,
    /// Largest change of a coefficient (times the standard deviation of its
    /// column) that counts as none (default 1e-9).
    pub tolerance: f64,
}

/// Most iterations: past about 35 the tail of a direction that runs off is
/// lost in rounding and could pass for convergence.
const MOST: u32 = 25;

impl Default for Params {
    fn default() -> Self {
        Self {
            ties: Ties::default(),
            iterations: MOST,
            tolerance: 1e-9,
        }
    }
}

/// Jobs with covariates.
#[derive(Debug, Clone, Copy)]
pub struct Jobs<'a> {
    /// Times and failures.
    pub times: Times<'a>,
    /// Covariates, row after row, `columns` numbers each; no intercept.
    pub covariates: &'a [f64],
    /// p.
    pub columns: usize,
    /// Stratum code of each job, where there are strata.
    pub strata: Option<&'a [usize]>,
}

/// A fitted Cox regression.
#[derive(Debug, Clone)]
pub struct Cox {
    /// β, length p: log hazard ratio per unit of each covariate.
    pub coefficients: Vec<f64>,
    /// Inverse information at β, p×p.
    pub covariance: DMatrix<f64>,
    /// Log partial likelihood at β.
    pub log_likelihood: f64,
    /// Log partial likelihood at 0.
    pub log_likelihood_null: f64,
    /// Likelihood ratio test of β = 0.
    pub likelihood_ratio: ChiSquare,
    /// Wald test.
    pub wald: ChiSquare,
    /// Score test.
    pub score: ChiSquare,
    /// Jobs.
    pub jobs: u64,
    /// Failures.
    pub failures: u64,
    /// How the search ended.
    pub record: Record,
}

impl Cox {
    /// Standard error of coefficient `j`.
    pub fn standard_error(&self, j: usize) -> Option<f64> {
        self.covariance.get((j, j)).map(|v| v.sqrt())
    }

    /// Hazard ratio per unit of covariate `j`, interval on the log scale;
    /// `None` without such a column or with a level outside (0, 1).
    pub fn hazard_ratio(&self, j: usize, level: f64) -> Option<Estimate> {
        let (value, se) = (*self.coefficients.get(j)?, self.standard_error(j)?);
        check_level(level).ok()?;
        let half = normal_margin(level) * se;
        Some(Estimate {
            value: value.exp(),
            low: (value - half).exp(),
            high: (value + half).exp(),
            level,
            n: self.jobs,
        })
    }
}

/// What the fit gives.
#[derive(Debug, Clone)]
pub enum Outcome {
    /// An estimate.
    Fitted(Cox),
    /// No estimate: in a direction of these columns the one who fails always
    /// ranks highest (or lowest) of those at risk.
    Unbounded {
        /// Zero-based columns, ascending.
        columns: Vec<usize>,
    },
}

/// Fits the hazard ratios.
///
/// # Errors
/// [`FitError::NotEnough`] without failures or covariates,
/// [`FitError::Collinear`] for covariates that do not vary among those at
/// risk together or cannot be told apart, [`FitError::DidNotConverge`];
/// [`FitError::Shape`], [`FitError::NotFinite`], [`FitError::OutOfRange`]
/// for bad input.
pub fn fit(jobs: &Jobs<'_>, params: Params) -> Result<Outcome, FitError> {
    check(jobs)?;
    let sorted = Sorted::new(jobs, params.ties)?;
    let zero = DVector::zeros(jobs.columns);
    let start = sorted.at(&zero).ok_or_else(|| no_answer(0))?;
    let columns = Rank::of_cross_products(&start.information).entangled();
    if !columns.is_empty() {
        return Err(FitError::Collinear { columns });
    }
    let limits = Limits {
        iterations: params.iterations.min(MOST),
        tolerance: params.tolerance,
    };
    let run = climb(|beta| sorted.at(beta), zero, limits).ok_or_else(|| no_answer(0))?;
    if run.end == End::Converged {
        return finish(jobs, &sorted, &start, &run).map(Outcome::Fitted);
    }
    match sorted.runs_off(&run.step) {
        Some(columns) => Ok(Outcome::Unbounded { columns }),
        None => Err(no_answer(run.iterations)),
    }
}

fn no_answer(iterations: u32) -> FitError {
    FitError::DidNotConverge {
        what: "Cox regression",
        iterations,
    }
}

fn check(jobs: &Jobs<'_>) -> Result<(), FitError> {
    jobs.times.check()?;
    let n = jobs.times.len();
    check_shape("covariates", n * jobs.columns, jobs.covariates.len())?;
    if let Some(strata) = jobs.strata {
        check_shape("strata", n, strata.len())?;
    }
    if let Some(at) = jobs.covariates.iter().position(|x| !x.is_finite()) {
        return Err(FitError::NotFinite {
            what: "covariates",
            row: at / jobs.columns.max(1),
        });
    }
    if jobs.columns == 0 {
        return Err(NotEnough::new(0, 1, "covariates").into());
    }
    if jobs.times.failures() == 0 {
        return Err(NotEnough::new(0, 1, "failures").into());
    }
    Ok(())
}

/// The fit in the units of the covariates.
fn finish(jobs: &Jobs<'_>, sorted: &Sorted, start: &Local, run: &Climb) -> Result<Cox, FitError> {
    let factor = ScaledCholesky::new(&run.local.information);
    let inverse = factor.ok_or_else(|| no_answer(run.iterations))?.inverse();
    let null = ScaledCholesky::new(&start.information).ok_or_else(|| no_answer(0))?;
    let df = jobs.columns as u32;
    let spread = &sorted.spread;
    let wald = run.at.dot(&(&run.local.information * &run.at));
    Ok(Cox {
        coefficients: run.at.iter().zip(spread).map(|(b, s)| b / s).collect(),
        covariance: DMatrix::from_fn(jobs.columns, jobs.columns, |i, j| {
            inverse[(i, j)] / (spread[i] * spread[j])
        }),
        log_likelihood: run.local.value,
        log_likelihood_null: start.value,
        likelihood_ratio: ChiSquare::new(2.0 * (run.local.value - start.value), df),
        wald: ChiSquare::new(wald, df),
        score: ChiSquare::new(start.gradient.dot(&null.solve(&start.gradient)), df),
        jobs: jobs.times.total(),
        failures: jobs.times.failures(),
        record: Record {
            rows_used: jobs.times.total() as usize,
            left_out: Vec::new(),
            iterations: run.iterations,
            ended: Ended::Converged,
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn jobs<'a>(time: &'a [f64], failed: &'a [bool], x: &'a [f64]) -> Jobs<'a> {
        Jobs {
            times: Times {
                time,
                failed,
                jobs: None,
            },
            covariates: x,
            columns: 1,
            strata: None,
        }
    }

    #[test]
    fn a_group_that_never_fails_is_told() {
        let time = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
        let failed = [true, false, true, false, true, false];
        let coated = [0.0, 1.0, 0.0, 1.0, 0.0, 1.0];
        let found = fit(&jobs(&time, &failed, &coated), Params::default()).unwrap();
        assert!(matches!(found, Outcome::Unbounded { columns } if columns == [0]));
        let mixed = [false, true, true, false, true, false];
        let found = fit(&jobs(&time, &mixed, &coated), Params::default()).unwrap();
        assert!(matches!(found, Outcome::Fitted(_)), "{found:?}");
    }

    /// A direction is believed only where every failing job ranks highest.
    #[test]
    fn a_direction_with_a_contradiction_is_not_believed() {
        let time = [1.0, 2.0, 3.0, 4.0];
        let x = [1.0, 0.0, 1.0, 0.0];
        let step = DVector::from_vec(vec![-1.0]);
        for (failed, believed) in [
            ([false, true, false, true], Some(vec![0])),
            ([true, true, false, true], None),
        ] {
            let sorted = Sorted::new(&jobs(&time, &failed, &x), Ties::default()).unwrap();
            assert_eq!(sorted.runs_off(&step), believed);
        }
        assert_eq!(Params::default().ties, Ties::Efron);
    }

    /// e^900 is beyond f64; differences within a stratum are all that counts.
    #[test]
    fn far_out_the_likelihood_stays_finite() {
        let time = [1.0, 2.0, 3.0, 4.0];
        let x = [1.0, 0.0, 1.0, 0.0];
        let jobs = jobs(&time, &[true; 4], &x);
        let sorted = Sorted::new(&jobs, Ties::default()).unwrap();
        let far = sorted.at(&DVector::from_vec(vec![900.0])).unwrap();
        // Only the second failure, x = 0 with an x = 1 still at risk, costs.
        assert!((far.value + 1800.0).abs() < 1.0, "{far:?}");
    }

    #[test]
    fn what_does_not_vary_or_never_fails_is_said() {
        let time = [1.0, 2.0, 3.0];
        let same = fit(&jobs(&time, &[true; 3], &[4.0; 3]), Params::default());
        assert!(matches!(same, Err(FitError::Collinear { columns }) if columns == [0]));
        let sound = fit(
            &jobs(&time, &[false; 3], &[1.0, 2.0, 3.0]),
            Params::default(),
        );
        assert!(matches!(sound, Err(FitError::NotEnough(_))));
        let short = fit(&jobs(&time, &[true; 3], &[1.0]), Params::default());
        assert!(matches!(short, Err(FitError::Shape { .. })));
        // Varying between strata but not within any.
        let strata = Jobs {
            strata: Some(&[0, 0, 1]),
            ..jobs(&time, &[true; 3], &[1.0, 1.0, 2.0])
        };
        let within = fit(&strata, Params::default());
        assert!(matches!(within, Err(FitError::Collinear { .. })));
    }
}
