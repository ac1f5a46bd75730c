//! Bottles: what was bought, what was poured, and the need of the next months.

use super::estimates::{Basis, Use};
use crate::estimate::NotEnough;
use crate::findings::bottles::{self, Bottles, mean};
use crate::findings::money::Expected;
use crate::findings::{FindError, Missing};
use crate::fits::error::FitError;
use crate::fits::evidence::Source;
use crate::fits::forecast::{self, Need, Params, Past};
use crate::settings::month::Month;

/// Months ahead for which the need is given.
const AHEAD: u32 = 3;
/// Draws of the simulation.
const DRAWS: usize = 1_000;
/// Its seed.
const SEED: u64 = 20_240_613;
/// Past jobs that are drawn from, at most: the latest ones.
const LATEST: usize = 5_000;

/// How the month reviewed lies in the data.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reviewed {
    /// The data end before its last week.
    pub(super) unfinished: bool,
    /// It is the last one with a job.
    pub(super) is_latest: bool,
}

/// What became of the coating, and what comes next.
pub(super) fn bottles(
    b: &Basis<'_>,
    used: Option<&Use>,
    expected: &[Expected],
    per_ml: Option<f64>,
    month: Reviewed,
) -> Result<Result<Bottles, Missing>, FindError> {
    let expected: Vec<Option<f64>> = expected.iter().map(|e| e.use_ml).collect();
    let basis = bottles::Basis {
        scope: b.scope,
        expected: &expected,
        per_ml,
        needs: needs(b, used, month.unfinished)?,
        waiting: &b.measures.waiting,
        is_latest: month.is_latest,
    };
    bottles::find(
        &b.measures.bought,
        &b.measures.poured,
        &b.measures.coated,
        basis,
    )
}

/// Coated jobs of each month of the window that is over.
fn past_months(b: &Basis<'_>, unfinished: bool) -> Vec<u64> {
    let until = if unfinished {
        b.scope.month.plus(-1)
    } else {
        b.scope.month
    };
    let coated = |month: Month| {
        let rows = b.measures.months.iter().filter(|m| m.month == month);
        rows.map(|m| m.coated).sum::<u64>()
    };
    let mut month = b.scope.window_from;
    let mut all = Vec::new();
    while month <= until {
        all.push(coated(month));
        month = month.plus(1);
    }
    all
}

fn needs(
    b: &Basis<'_>,
    used: Option<&Use>,
    unfinished: bool,
) -> Result<Result<Vec<Need>, NotEnough>, FindError> {
    let fit = used.map(|u| &u.fit);
    let law = fit.and_then(|f| {
        let covariance = f.covariance(Source::DataAlone)?;
        let variance = f.residual_variance()?;
        Some((
            f.unconstrained()?,
            covariance,
            variance,
            f.degrees_of_freedom()?,
        ))
    });
    let Some((mean_use, covariance, variance, df)) = law else {
        return Ok(Err(NotEnough::new(0, 1, "fits of the coating used")));
    };
    let emptied = b.measures.bought.iter().filter(|x| x.emptied.is_some());
    let gives: Vec<f64> = emptied.map(|x| (x.volume - x.left_over).max(0.0)).collect();
    let Some(usable_ml) = mean(&gives).filter(|ml| *ml > 0.0) else {
        return Ok(Err(NotEnough::new(0, 1, "emptied bottles")));
    };
    let jobs = b.measures.coated.iter().rev();
    let jobs = jobs.filter(|j| b.scope.in_window(j.month) && !j.parts.is_empty());
    let areas = jobs.filter_map(|j| b.areas(j)).take(LATEST);
    let areas: Vec<f64> = areas.flatten().collect();
    let months = past_months(b, unfinished);
    let rows: Vec<f64> = covariance.transpose().iter().copied().collect();
    let past = Past {
        jobs_per_month: &months,
        areas: &areas,
        finishes: b.columns.finishes.count(),
        uses: forecast::Use {
            mean: mean_use,
            covariance: &rows,
            df: df as f64,
            variance_per_area: variance,
        },
    };
    let need = |months| {
        let params = Params {
            months,
            usable_ml,
            draws: DRAWS,
            seed: SEED,
        };
        forecast::need(&past, params)
    };
    match (1..=AHEAD)
        .map(need)
        .collect::<Result<Vec<Need>, FitError>>()
    {
        Ok(needs) => Ok(Ok(needs)),
        Err(FitError::NotEnough(n)) => Ok(Err(n)),
        Err(other) => Err(other.into()),
    }
}
