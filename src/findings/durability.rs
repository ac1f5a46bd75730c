//! How long the film lasts, coated or not, over all history.
//!
//! A job is followed from the end of the film work to its first film failure;
//! without one it counts as sound up to its last look, or to the data's end.

mod faces;
mod jobs;
mod looks;

use super::{FindError, Missing};
use crate::estimate::{Estimate, Figure, NotEnough};
use crate::fits::error::FitError;
use crate::fits::stratified::ChiSquare;
use crate::fits::survival::km::{self, Curve};
use crate::fits::survival::restricted_mean;
use crate::fits::survival::{cox, logrank};
use crate::measures::{FilmFace, FilmLife};
use chrono::NaiveDate;
pub use faces::Face;
use jobs::{Group, Jobs};

/// Level of every range in this section.
pub const LEVEL: f64 = 0.95;
/// Days of a month, 365.25 / 12.
pub const MONTH: f64 = 30.4375;
/// The mean sound time is looked at no further than this [months].
pub const FURTHEST: f64 = 36.0;
/// Groups are compared as long as each has this many jobs still followed.
pub const AT_RISK: usize = 10;

/// The curve from one failure day to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Days since the film work.
    pub days: f64,
    /// Share still sound from here on.
    pub share: f64,
    /// Lower end of its likely range.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Jobs followed up to here.
    pub at_risk: u64,
}

/// One group's film.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Followed {
    /// Jobs.
    pub jobs: u64,
    /// Film failures among them.
    pub failures: u64,
    /// The curve; before the first point all are sound.
    pub points: Vec<Point>,
    /// The longest that one was followed [days].
    pub until: f64,
    /// Mean sound days up to the horizon.
    pub mean_days: Option<Figure>,
}

/// The two groups after so many months.
#[derive(Debug, Clone, PartialEq)]
pub struct Look {
    /// Months since the film work.
    pub months: f64,
    /// Coated.
    pub coated: Sound,
    /// Bare.
    pub bare: Sound,
}

/// One group at one time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sound {
    /// Jobs still followed.
    pub at_risk: u64,
    /// Share still sound; `None` where none is followed that long.
    pub share: Option<Point>,
}

/// How the groups compare.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// The whole likely range of the factor is under 1: coated film failed
    /// less often.
    Longer,
    /// The whole range is over 1.
    Shorter,
    /// The range holds 1.
    Luck,
    /// There is no factor.
    NotEnough,
}

/// The section's findings.
#[derive(Debug, Clone, PartialEq)]
pub struct Durability {
    /// The data's end.
    pub until: NaiveDate,
    /// Coated vehicles.
    pub coated: Followed,
    /// Bare ones.
    pub bare: Followed,
    /// Both at chosen times.
    pub looks: Vec<Look>,
    /// Up to where groups are compared [days]; `Err` where a group is too
    /// small.
    pub horizon: Result<f64, NotEnough>,
    /// Mean sound days up to the horizon, coated less bare.
    pub difference: Figure,
    /// Log-rank test within film and finish.
    pub logrank: Result<ChiSquare, NotEnough>,
    /// How often coated film fails over how often bare film does, within film
    /// and finish.
    pub hazard_ratio: Figure,
    /// What that says.
    pub verdict: Verdict,
    /// Kinds of film and finish that were kept apart.
    pub strata: u64,
    /// Jobs left out: a failure without a day, or one before the film work
    /// was finished.
    pub left_out: u64,
    /// By orientation of the panels, where recorded.
    pub faces: Vec<Face>,
}

/// The chance of seeing a halving for which failures are counted: 0.8, at a
/// level of 0.95: (1.960 + 0.842)² of the normal distribution.
const SEEN: f64 = 7.849;

impl Durability {
    /// Film failures of both groups.
    pub fn failures(&self) -> u64 {
        self.coated.failures + self.bare.failures
    }

    /// Failures of both groups together from which half as many of coated film
    /// would most likely show; `None` where one group is empty.
    pub fn failures_that_tell(&self) -> Option<u64> {
        failures_that_tell(self.coated.jobs as f64, self.bare.jobs as f64)
    }
}

/// (z₀.₉₇₅ + z₀.₈)² / (p (1 − p) ln² 2), p the share of coated vehicles
/// (Schoenfeld, Biometrics 1983;39:499-503, doi:10.2307/2531021).
fn failures_that_tell(coated: f64, bare: f64) -> Option<u64> {
    let p = coated / (coated + bare);
    let need = SEEN / (p * (1.0 - p) * std::f64::consts::LN_2.powi(2));
    need.is_finite().then(|| need.ceil() as u64)
}

/// Finds how long the film lasts. `until`: the data's end.
///
/// # Errors
/// Where a fit refuses its input.
pub fn find(
    lives: &[FilmLife],
    faces: &[FilmFace],
    until: NaiveDate,
) -> Result<Result<Durability, Missing>, FindError> {
    // What was reported after the last film job still belongs to the data.
    let heard = lives.iter().filter_map(|l| l.last_on).max();
    let until = heard.map_or(until, |h| h.max(until));
    let jobs = Jobs::new(lives, until);
    if !jobs.failed.contains(&true) {
        let of = "film failures in the callbacks";
        return Ok(Err(Missing::TooFew(NotEnough::new(0, 1, of))));
    }
    let (coated, bare) = (jobs.only(1), jobs.only(0));
    let curves = [curve(&coated)?, curve(&bare)?];
    let horizon = horizon(&coated, &bare)?;
    let means = means(&curves, horizon.as_ref().ok().copied())?;
    let hazard_ratio = hazard_ratio(&jobs)?;
    let [coated, bare] = &curves;
    let coated = followed(coated.as_ref(), means.coated);
    let bare = followed(bare.as_ref(), means.bare);
    Ok(Ok(Durability {
        until,
        looks: looks::looks(&curves, [&coated, &bare]),
        coated,
        bare,
        horizon,
        difference: means.difference,
        logrank: log_rank(&jobs)?,
        verdict: verdict(&hazard_ratio),
        hazard_ratio,
        strata: jobs.strata,
        left_out: jobs.left_out,
        faces: faces::faces(faces, until)?,
    }))
}

/// What is missing, where that is all that is wrong.
fn missing<T>(found: Result<T, FitError>, of: &str) -> Result<Result<T, NotEnough>, FindError> {
    match found {
        Ok(x) => Ok(Ok(x)),
        Err(FitError::NotEnough(n)) => Ok(Err(n)),
        Err(
            FitError::NoSpread { .. }
            | FitError::Collinear { .. }
            | FitError::DidNotConverge { .. },
        ) => Ok(Err(NotEnough::new(1, 2, of))),
        Err(other) => Err(other.into()),
    }
}

fn curve(group: &Group) -> Result<Option<Curve>, FindError> {
    Ok(missing(km::curve(group.times(), LEVEL), "jobs")?.ok())
}

/// The curve as points. Where nobody is left sound the formula gives no
/// range: the upper end before it still holds, as a curve never rises.
fn followed(curve: Option<&Curve>, mean_days: Option<Figure>) -> Followed {
    let Some(curve) = curve else {
        return Followed::default();
    };
    let mut high = 1.0;
    let point = |s: &km::Step| {
        let band = s.band.unwrap_or(km::Band { low: 0.0, high });
        high = band.high;
        Point {
            days: s.time,
            share: s.share,
            low: band.low,
            high: band.high,
            at_risk: s.at_risk,
        }
    };
    Followed {
        jobs: curve.jobs(),
        failures: curve.failures(),
        points: curve.steps.iter().map(point).collect(),
        until: curve.times.last().copied().unwrap_or(0.0),
        mean_days,
    }
}

/// Up to where both groups are followed by enough jobs.
fn horizon(coated: &Group, bare: &Group) -> Result<Result<f64, NotEnough>, FindError> {
    let of = "jobs in each group";
    let found = restricted_mean::horizon(coated.times(), bare.times(), FURTHEST * MONTH, AT_RISK);
    // A horizon of no days compares nothing.
    let far = |days: f64| (days > 0.0).then_some(days);
    let none = || NotEnough::new(0, AT_RISK as u64, "jobs in each group, followed for a day");
    Ok(missing(found, of)?.and_then(|h| far(h).ok_or_else(none)))
}

struct Means {
    coated: Option<Figure>,
    bare: Option<Figure>,
    difference: Figure,
}

fn means(curves: &[Option<Curve>; 2], horizon: Option<f64>) -> Result<Means, FindError> {
    let none = || {
        Figure::from(NotEnough::new(
            0,
            AT_RISK as u64,
            "jobs still followed in each group",
        ))
    };
    let ([Some(a), Some(b)], Some(horizon)) = (curves, horizon) else {
        return Ok(Means {
            coated: None,
            bare: None,
            difference: none(),
        });
    };
    let mean = |curve| missing(restricted_mean::mean(curve, horizon), "failures");
    let (Ok(a), Ok(b)) = (mean(a)?, mean(b)?) else {
        return Ok(Means {
            coated: None,
            bare: None,
            difference: none(),
        });
    };
    let figure = |found: Result<Estimate, FitError>| -> Result<Figure, FindError> {
        Ok(missing(found, "failures")?.map_or_else(Figure::from, Figure::from))
    };
    Ok(Means {
        coated: Some(figure(a.estimate(LEVEL))?),
        bare: Some(figure(b.estimate(LEVEL))?),
        difference: figure(restricted_mean::difference(&a, &b, LEVEL))?,
    })
}

fn log_rank(jobs: &Jobs) -> Result<Result<ChiSquare, NotEnough>, FindError> {
    let found = logrank::test(jobs.times(), &jobs.coated, Some(&jobs.stratum));
    Ok(missing(found, "groups at risk when a film failed")?.map(|l| l.test))
}

fn hazard_ratio(jobs: &Jobs) -> Result<Figure, FindError> {
    let covariates: Vec<f64> = jobs.coated.iter().map(|c| *c as f64).collect();
    let task = cox::Jobs {
        times: jobs.times(),
        covariates: &covariates,
        columns: 1,
        strata: Some(&jobs.stratum),
    };
    let of = "groups with a failure while the other was followed";
    let few = || Figure::from(NotEnough::new(1, 2, of));
    Ok(
        match missing(cox::fit(&task, cox::Params::default()), of)? {
            Ok(cox::Outcome::Fitted(fit)) => {
                fit.hazard_ratio(0, LEVEL).map_or_else(few, Figure::from)
            }
            Ok(cox::Outcome::Unbounded { .. }) => few(),
            Err(n) => n.into(),
        },
    )
}

fn verdict(hazard_ratio: &Figure) -> Verdict {
    match hazard_ratio {
        Figure::NotEnough(_) => Verdict::NotEnough,
        Figure::Known(e) if e.high < 1.0 => Verdict::Longer,
        Figure::Known(e) if e.low > 1.0 => Verdict::Shorter,
        Figure::Known(_) => Verdict::Luck,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 7.849 / (¼ · 0.4805) = 65.3; one coated of four, 7.849 / (3/16 ·
    /// 0.4805) = 87.1.
    #[test]
    fn failures_that_tell_by_hand() {
        assert_eq!(failures_that_tell(50.0, 50.0), Some(66));
        assert_eq!(failures_that_tell(25.0, 75.0), Some(88));
        assert_eq!(failures_that_tell(0.0, 75.0), None);
        assert_eq!(failures_that_tell(0.0, 0.0), None);
    }
}
