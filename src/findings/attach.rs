//! How often the coating is sold: attach rate by month, and whether the month
//! moved.
//!
//! eligible = finished film jobs that the coating suits; offer = offered /
//! eligible; acceptance = coated / offered among jobs whose offer is known;
//! attach = coated / eligible. The usual range of a month is made of exact
//! binomial limits for its number of jobs, widened where the window's other
//! months differ by more than chance ([`crate::fits::control::months`]).

use super::certainty::{Certainty, Change, LIKELY_LEVEL, LIMIT_LEVEL, certainty};
use super::{FindError, Scope};
use crate::estimate::{Estimate, Figure, NotEnough};
use crate::fits::control;
use crate::fits::error::FitError;
use crate::fits::proportion;
use crate::measures::MonthCount;
use crate::settings::month::Month;
use serde::Serialize;

/// Level of the intervals that are shown.
pub const LEVEL: f64 = 0.95;
/// Least number of eligible jobs for a rate of a month.
pub const LEAST_ELIGIBLE: u64 = 5;

/// One month's rate beside the usual range.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AttachMonth {
    /// The month.
    pub month: Month,
    /// Film jobs that the coating suits.
    pub eligible: u64,
    /// Of these, coated.
    pub coated: u64,
    /// Share coated.
    pub rate: Figure,
    /// Lower limit of the usual range for this many jobs.
    pub usual_low: Option<f64>,
    /// Upper limit of the usual range for this many jobs.
    pub usual_high: Option<f64>,
}

impl AttachMonth {
    /// True where the rate lies outside the usual range.
    pub fn is_outside(&self) -> bool {
        match (self.rate.value(), self.usual_low, self.usual_high) {
            (Some(rate), Some(low), Some(high)) => rate < low || rate > high,
            _ => false,
        }
    }
}

/// The section's findings.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Attach {
    /// Film jobs of the month that the coating suits.
    pub eligible: u64,
    /// Of these, known to have been offered.
    pub offered: u64,
    /// Of these, offer not recorded.
    pub offer_unknown: u64,
    /// Of these, coated.
    pub coated: u64,
    /// Film jobs of the month that the coating does not suit.
    pub excluded: u64,
    /// Share of eligible jobs coated.
    pub rate: Figure,
    /// Share coated among jobs known to have been offered.
    pub acceptance: Figure,
    /// All months up to this one, earliest first.
    pub months: Vec<AttachMonth>,
    /// The month against the usual.
    pub change: Change,
    /// What the usual range was widened by, because the other months of the
    /// window differ by more than chance; 1 where they do not.
    pub widened_by: f64,
    /// The month against the same month a year before; `None` where either
    /// has too few jobs.
    pub last_year: Option<LastYear>,
}

/// The same month a year before.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LastYear {
    /// That month.
    pub month: Month,
    /// Film jobs that the coating suits.
    pub eligible: u64,
    /// Of these, coated.
    pub coated: u64,
    /// Share coated.
    pub rate: Estimate,
    /// Now less then, as a share: 0.05 is five points. Its interval is at
    /// [`LIKELY_LEVEL`], as every change that is called real or luck.
    pub difference: Estimate,
    /// What to make of it.
    pub since: Since,
}

/// A month against the same month a year before. There is no range of usual
/// Octobers to be outside of, so "real change" is not among it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Since {
    /// Probably more now.
    More,
    /// Probably fewer now.
    Fewer,
    /// No more than luck makes.
    Luck,
}

impl Since {
    fn of(difference: &Estimate) -> Self {
        match certainty(false, Some(difference)) {
            Certainty::Likely if difference.value > 0.0 => Self::More,
            Certainty::Likely => Self::Fewer,
            _ => Self::Luck,
        }
    }
}

#[derive(Debug, Clone, Copy, Default)]
struct Counts {
    finished: u64,
    eligible: u64,
    offered: u64,
    unknown: u64,
    coated: u64,
    accepted: u64,
}

fn sum<'a>(rows: impl Iterator<Item = &'a MonthCount>) -> Counts {
    rows.fold(Counts::default(), |c, r| Counts {
        finished: c.finished + r.finished,
        eligible: c.eligible + r.eligible,
        offered: c.offered + r.offered,
        unknown: c.unknown + r.offer_unknown,
        coated: c.coated + r.coated,
        accepted: c.accepted + r.coated_offered,
    })
}

fn rate(hits: u64, of: u64, what: &str) -> Result<Figure, FindError> {
    if of < LEAST_ELIGIBLE {
        return Ok(NotEnough::new(of, LEAST_ELIGIBLE, what).into());
    }
    Ok(proportion::wilson(hits, of, LEVEL)?.into())
}

/// Finds how often the coating was sold. `months`: one row per shop and month,
/// any order.
///
/// # Errors
/// None on counts; the fit's complaint otherwise.
pub fn find(months: &[MonthCount], scope: &Scope) -> Result<Attach, FindError> {
    let until = || months.iter().filter(|r| r.month <= scope.month);
    let now = sum(until().filter(|r| r.month == scope.month));
    let usual = sum(until().filter(|r| scope.is_usual(r.month)));
    let before = sum(until().filter(|r| r.month == scope.month.plus(-1)));
    let widened_by = widening(&until().collect::<Vec<_>>(), scope)?;
    let usual_range = Range { usual, widened_by };
    let months = series(&until().collect::<Vec<_>>(), usual_range, scope)?;
    let then = scope.month.plus(-12);
    let last_year = last_year(now, sum(until().filter(|r| r.month == then)), then)?;
    let change = change(now, usual, before, months.last())?;
    Ok(Attach {
        eligible: now.eligible,
        offered: now.offered,
        offer_unknown: now.unknown,
        coated: now.coated,
        excluded: now.finished - now.eligible,
        rate: rate(now.coated, now.eligible, "film jobs that the coating suits")?,
        acceptance: rate(now.accepted, now.offered, "jobs known to have been offered")?,
        months,
        change,
        widened_by,
        last_year,
    })
}

/// What usual months are made of.
#[derive(Debug, Clone, Copy)]
struct Range {
    usual: Counts,
    widened_by: f64,
}

/// Laney's widening for the month reviewed, from the other months of the
/// window; 1 where there are too few of them, or they differ by chance alone.
fn widening(rows: &[&MonthCount], scope: &Scope) -> Result<f64, FindError> {
    let mut months = Vec::new();
    let mut month = scope.window_from;
    while month <= scope.month {
        let c = sum(rows.iter().copied().filter(|r| r.month == month));
        months.push(control::months::Month {
            yes: c.coated,
            of: c.eligible,
        });
        month = month.plus(1);
    }
    match control::months::chart(&months, control::months::Params::default()) {
        Ok(chart) => {
            let reviewed = chart.points.last().copied().flatten();
            Ok(reviewed.map_or(1.0, |p| p.widened_by))
        }
        Err(FitError::NotEnough(_) | FitError::NoSpread { .. }) => Ok(1.0),
        Err(other) => Err(other.into()),
    }
}

fn last_year(now: Counts, then: Counts, month: Month) -> Result<Option<LastYear>, FindError> {
    if now.eligible < LEAST_ELIGIBLE || then.eligible < LEAST_ELIGIBLE {
        return Ok(None);
    }
    let (a, b) = ((now.coated, now.eligible), (then.coated, then.eligible));
    let difference = proportion::difference(a, b, proportion::Method::Wilson, LIKELY_LEVEL)?;
    Ok(Some(LastYear {
        month,
        eligible: then.eligible,
        coated: then.coated,
        rate: proportion::wilson(then.coated, then.eligible, LEVEL)?,
        since: Since::of(&Estimate {
            n: now.eligible.min(then.eligible),
            ..difference
        }),
        difference,
    }))
}

/// Every month from the first on record to the one reviewed, months without a
/// job too.
fn series(
    rows: &[&MonthCount],
    range: Range,
    scope: &Scope,
) -> Result<Vec<AttachMonth>, FindError> {
    let first = rows.iter().map(|r| r.month).min().unwrap_or(scope.month);
    let mut all = Vec::new();
    let mut month = first;
    while month <= scope.month {
        let c = sum(rows.iter().copied().filter(|r| r.month == month));
        let limits = limits(c.eligible, range);
        all.push(AttachMonth {
            month,
            eligible: c.eligible,
            coated: c.coated,
            rate: rate(c.coated, c.eligible, "film jobs that the coating suits")?,
            usual_low: limits.map(|l| l.low),
            usual_high: limits.map(|l| l.high),
        });
        month = month.plus(1);
    }
    Ok(all)
}

fn limits(n: u64, range: Range) -> Option<proportion::Limits> {
    let usual = range.usual;
    if n < LEAST_ELIGIBLE || usual.eligible < LEAST_ELIGIBLE {
        return None;
    }
    let rate = usual.coated as f64 / usual.eligible as f64;
    proportion::chart_limits(rate, n, LIMIT_LEVEL, range.widened_by)
}

fn change(
    now: Counts,
    usual: Counts,
    before: Counts,
    month: Option<&AttachMonth>,
) -> Result<Change, FindError> {
    let share =
        |c: Counts| (c.eligible >= LEAST_ELIGIBLE).then(|| c.coated as f64 / c.eligible as f64);
    let difference = if share(now).is_some() && share(usual).is_some() {
        let d = proportion::difference(
            (now.coated, now.eligible),
            (usual.coated, usual.eligible),
            proportion::Method::Wilson,
            LIKELY_LEVEL,
        )?;
        Some(Estimate {
            n: now.eligible,
            ..d
        })
    } else {
        None
    };
    let found = Change {
        before: share(before),
        usual: share(usual),
        difference,
        now: month.and_then(|m| m.rate.known().copied()),
        range: month.and_then(|m| super::certainty::Range::of(m.usual_low, m.usual_high)),
        certainty: certainty(
            month.is_some_and(AttachMonth::is_outside),
            difference.as_ref(),
        ),
    };
    Ok(found.of_jobs(now.eligible))
}
