//! How many mL does a job take to begin with, and how many for each m2 of
//! each finish?
//!
//! ```text
//! M_i = s + sum_f c_f A_if + e_i        Var(e_i) = sigma^2 A_i,  A_i = sum_f A_if
//! ```
//!
//! Symbols: M_i mL used on job i; A_if m2 of finish f on it; s mL that a dry
//! applicator takes before it gives anything, once a job; c_f mL per m2;
//! sigma^2 in mL^2 per m2. Columns are numbered 0 for s and 1 + f for c_f.
//!
//! * **Data alone**: weighted least squares by QR ([`linear`](super::linear)),
//!   weights 1/A_i. The value is the solution with s, c_f >= 0 (active set);
//!   the interval is the unconstrained t-interval cut at 0, since an active-set
//!   interval covers too little. Where the two disagree the interval is
//!   stretched to hold the value.
//! * **Blended**: the constants in force count as k typical jobs of each
//!   finish ([`Prior`]).
//! * **Bottle rows** ([`Bottles`]): an emptied bottle tells the sum over the
//!   jobs that were not measured. They join the same fit by generalised least
//!   squares with a tridiagonal covariance, sigma^2 by REML, intervals by
//!   Kenward and Roger's rule for one variance, with degrees of freedom for a
//!   variance that is partly known.
//!
//! A coefficient is given where two jobs carry it, it can be told apart from
//! the others, and two degrees of freedom are left; else it is `NotEnough`, and
//! the others stand. Weighted least squares: Carroll and Ruppert,
//! Transformation and Weighting in Regression, 1988, chapter 2. Active set:
//! Lawson and Hanson, Solving Least Squares Problems, 1974, chapter 23. The
//! model is common practice for coating use, no published source.
//!
//! It misleads where jobs are measured only when something went wrong, and
//! where a finish is always put on the same area, which leaves nothing to tell
//! s from c_f.

mod active_set;
mod blend;
mod bottles;
mod difference;
mod fit;
mod gls;
mod jobs;

pub use blend::Prior;
pub use bottles::{Bottle, Bottles, Straddle};
pub use difference::{Difference, difference};
pub use fit::{Coefficient, ConsumptionFit, Expected};
pub use jobs::Jobs;

use crate::estimate::{Figure, NotEnough};
use crate::fits::error::FitError;
use crate::fits::evidence::Evidence;
use crate::fits::interval::check_level;
use crate::fits::record::{LeftOut, Record, Why};
use crate::fits::robust::{Outliers, far_from_the_rest, stays_far};
use blend::Posterior;
use gls::{BottleRows, Fitted, Rows};

/// Degrees of freedom that must be left for any interval.
const LEAST_DF: u64 = 2;

/// Jobs that must carry a coefficient.
const LEAST_JOBS: u64 = 2;

/// What to fit, not yet fitted.
#[derive(Debug, Clone)]
pub struct Consumption<'a> {
    jobs: Jobs<'a>,
    bottles: Option<&'a Bottles>,
    prior: Option<&'a Prior>,
    outliers: Outliers,
    level: f64,
}

impl<'a> Consumption<'a> {
    /// From measured jobs (none is allowed, with bottles), at level 0.95,
    /// without prior, jobs far from the rest left out.
    pub fn new(jobs: Jobs<'a>) -> Self {
        Self {
            jobs,
            bottles: None,
            prior: None,
            outliers: Outliers::default(),
            level: 0.95,
        }
    }

    /// With rows of emptied bottles.
    ///
    /// # Errors
    /// [`FitError::Shape`] where their finishes differ in number.
    pub fn with_bottles(self, bottles: &'a Bottles) -> Result<Self, FitError> {
        bottles.check(self.jobs.finishes)?;
        Ok(Self {
            bottles: Some(bottles),
            ..self
        })
    }

    /// With the constants in force as evidence.
    ///
    /// # Errors
    /// [`FitError::Shape`] where they are not one per finish, or
    /// [`FitError::Parameter`].
    pub fn with_prior(self, prior: &'a Prior) -> Result<Self, FitError> {
        prior.check(self.jobs.finishes)?;
        Ok(Self {
            prior: Some(prior),
            ..self
        })
    }

    /// What to do with jobs far from the rest.
    #[must_use]
    pub fn with_outliers(self, outliers: Outliers) -> Self {
        Self { outliers, ..self }
    }

    /// At another level.
    ///
    /// # Errors
    /// [`FitError::Parameter`].
    pub fn at_level(self, level: f64) -> Result<Self, FitError> {
        Ok(Self {
            level: check_level(level)?,
            ..self
        })
    }

    /// Fits. Too little data is no error: the coefficients say what is
    /// missing.
    ///
    /// # Errors
    /// [`FitError::DidNotConverge`] where the variances of bottle rows cannot
    /// be found.
    pub fn fit(&self) -> Result<ConsumptionFit, FitError> {
        let bottles = self
            .bottles
            .map(|b| BottleRows::new(b, self.jobs.finishes + 1));
        let bottles = bottles.as_ref();
        let mut left_out = self.empty_jobs();
        let mut rows = self.rows(&left_out, bottles);
        let mut fitted = gls::fit(&rows)?;
        if let (Some(first), Outliers::Drop) = (&fitted, self.outliers) {
            let called = self.far_jobs(&rows, first);
            if !called.is_empty() {
                let tried = rows.without(&places(&called));
                let without = gls::fit(&tried)?;
                let far = self.still_far(&called, &tried, without.as_ref());
                let all = far.len() == called.len();
                if !far.is_empty() {
                    (rows, fitted) = if all {
                        (tried, without)
                    } else {
                        let rows = rows.without(&places(&far));
                        let fitted = gls::fit(&rows)?;
                        (rows, fitted)
                    };
                    left_out = merged(left_out, far);
                }
            }
        }
        Ok(self.describe(&rows, fitted, left_out))
    }

    /// Of the jobs called far those that stay far from the fit without them.
    /// A job whose finish has no other job cannot be judged and stays in.
    fn still_far(
        &self,
        called: &[LeftOut],
        rows: &Rows<'_>,
        without: Option<&Fitted>,
    ) -> Vec<LeftOut> {
        let Some(without) = without else {
            return Vec::new();
        };
        let stays = |l: &&LeftOut| {
            let areas = self.jobs.areas_of(l.row);
            let x: Vec<f64> = std::iter::once(1.0).chain(areas.iter().copied()).collect();
            let judged =
                (x.iter().enumerate()).all(|(j, v)| *v == 0.0 || rows.jobs_carrying(j) > 0);
            let distance = self.jobs.used[l.row] - without.unconstrained(&x).mean;
            let spread = without.new_job(&x, areas.iter().sum());
            judged && stays_far(distance, spread.standard_error)
        };
        called.iter().filter(stays).copied().collect()
    }

    /// Jobs without any area cannot be weighted.
    fn empty_jobs(&self) -> Vec<LeftOut> {
        (0..self.jobs.used.len())
            .filter(|job| self.jobs.areas_of(*job).iter().sum::<f64>() <= 0.0)
            .map(|row| LeftOut {
                row,
                why: Why::Empty,
            })
            .collect()
    }

    fn rows<'b>(&self, left_out: &[LeftOut], bottles: Option<&'b BottleRows>) -> Rows<'b>
    where
        'a: 'b,
    {
        let rows = Rows::new(self.jobs, left_out.iter().map(|l| l.row));
        match self.bottles.zip(bottles) {
            Some((all, own)) => rows.with_bottles(all, own),
            None => rows,
        }
    }

    /// Measured jobs whose residual over sqrt(A) lies far from the others'.
    fn far_jobs(&self, rows: &Rows<'_>, first: &Fitted) -> Vec<LeftOut> {
        let scaled = rows.scaled_residuals(&first.beta);
        (far_from_the_rest(&scaled).into_iter())
            .map(|f| LeftOut {
                row: rows.job_of(f.at),
                why: Why::FarFromTheRest { score: f.score },
            })
            .collect()
    }

    fn describe(
        &self,
        rows: &Rows<'_>,
        fitted: Option<Fitted>,
        left_out: Vec<LeftOut>,
    ) -> ConsumptionFit {
        let posterior = self
            .prior
            .and_then(|p| Posterior::new(p, rows, fitted.as_ref()));
        let columns = self.jobs.finishes + 1;
        let coefficient = |j| self.coefficient(j, rows, fitted.as_ref(), posterior.as_ref());
        let (iterations, ended) = fitted.as_ref().map_or_else(
            || (0, crate::fits::record::Ended::Direct),
            |f| (f.iterations, f.ended),
        );
        ConsumptionFit {
            setup: coefficient(0),
            finishes: (1..columns).map(coefficient).collect(),
            bottles_used: rows.bottle_count(),
            bottles_left_out: self.bottles.map_or_else(Vec::new, Bottles::empty_rows),
            level: self.level,
            record: Record {
                rows_used: rows.measured_count(),
                left_out,
                iterations,
                ended,
            },
            fitted,
            posterior,
        }
    }

    fn coefficient(
        &self,
        j: usize,
        rows: &Rows<'_>,
        fitted: Option<&Fitted>,
        posterior: Option<&Posterior>,
    ) -> Coefficient {
        let jobs = rows.jobs_carrying(j);
        let data_alone = match missing(j, jobs, rows, fitted) {
            Some(missing) => Figure::NotEnough(missing),
            None => fitted.map_or_else(
                || NotEnough::new(0, 1, "measured jobs").into(),
                |f| f.figure(j, self.level, jobs).into(),
            ),
        };
        let blended = posterior.and_then(|p| p.figure(j, self.level, jobs));
        let constant = posterior.is_some_and(|p| p.has_constant(j));
        Coefficient {
            blended: blended.map_or_else(|| data_alone.clone(), Figure::Known),
            data_alone,
            evidence: Evidence::of(jobs > 0, constant),
            jobs,
        }
    }
}

/// Their places in the input, ascending.
fn places(left_out: &[LeftOut]) -> Vec<usize> {
    let mut places: Vec<usize> = left_out.iter().map(|l| l.row).collect();
    places.sort_unstable();
    places
}

/// Both lists in the order of their rows.
fn merged(mut a: Vec<LeftOut>, b: Vec<LeftOut>) -> Vec<LeftOut> {
    a.extend(b);
    a.sort_by_key(|l| l.row);
    a
}

/// Why column `j` has no figure from the data alone, if it has none.
fn missing(j: usize, jobs: u64, rows: &Rows<'_>, fitted: Option<&Fitted>) -> Option<NotEnough> {
    if jobs < LEAST_JOBS {
        return Some(NotEnough::new(
            jobs,
            LEAST_JOBS,
            "jobs with known use that carry it",
        ));
    }
    let need = rows.columns_in_use() + LEAST_DF;
    let Some(fit) = fitted.filter(|f| f.df >= LEAST_DF) else {
        return Some(NotEnough::new(
            rows.count(),
            need,
            "jobs or bottles with known use",
        ));
    };
    if !fit.tells_apart(j) {
        return Some(NotEnough::new(
            0,
            LEAST_JOBS,
            "jobs that tell it apart from the others",
        ));
    }
    None
}
