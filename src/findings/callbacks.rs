//! Callbacks: how many coated jobs come back for coating work, for what, on
//! which finish, and whether this month stands out.

use super::certainty::{LEAST_IN_A_MONTH, LIMIT_LEVEL};
pub use super::workspace::Count;
use super::workspace::{Stand, exact};
use super::{FindError, Missing, Scope};
use crate::estimate::{Figure, NotEnough};
use crate::fits::error::FitError;
use crate::fits::proportion;
use crate::fits::shrink::{self, Params};
use crate::measures::{CameBack, Measures};
use crate::money::Minor;
use crate::settings::contract::COATING_CAUSES;
use crate::settings::month::Month;
use std::collections::BTreeMap;

/// One month's callbacks, by the month in which the job was finished.
#[derive(Debug, Clone, PartialEq)]
pub struct MonthRate {
    /// The month.
    pub month: Month,
    /// Coated jobs, and those of them that came back for coating work.
    pub count: Count,
    /// Share that came back, exact range.
    pub rate: Figure,
    /// Lower limit of the usual for so many jobs.
    pub usual_low: Option<f64>,
    /// Upper limit.
    pub usual_high: Option<f64>,
}

impl MonthRate {
    /// True where the month lies outside its limits.
    pub fn is_outside(&self) -> bool {
        let (Some(rate), Some(low), Some(high)) =
            (self.rate.value(), self.usual_low, self.usual_high)
        else {
            return false;
        };
        rate < low || rate > high
    }
}

/// One cause in the window.
#[derive(Debug, Clone, PartialEq)]
pub struct Cause {
    /// The cause; empty where not recorded.
    pub cause: String,
    /// True where it charges the coating's margin.
    pub of_coating: bool,
    /// Callbacks.
    pub callbacks: u64,
    /// Coated jobs of the window, and those that came back for it.
    pub count: Count,
    /// Share of jobs, exact range.
    pub rate: Figure,
    /// Work, coating and other cost, where their prices are known.
    pub cost: Option<Minor>,
}

/// One finish, person or kind of workspace.
#[derive(Debug, Clone, PartialEq)]
pub struct Split {
    /// Its name.
    pub name: String,
    /// Coated jobs, and those that came back.
    pub count: Count,
    /// Its own share, exact range.
    pub exact: Figure,
    /// The share drawn towards the common one.
    pub shrunk: Figure,
}

/// What to look at first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Advice {
    /// High spots and lines lead: removal and section size.
    Removal,
    /// Missed areas lead: handles and recesses.
    Missed,
    /// Another cause leads.
    Other,
    /// Too few callbacks to point at anything.
    TooFew,
}

/// The section's findings.
#[derive(Debug, Clone, PartialEq)]
pub struct Callbacks {
    /// Coated jobs of the window, and those that came back.
    pub window: Count,
    /// Share of the window, exact range.
    pub rate: Figure,
    /// By month, earliest first; the last is the one reviewed.
    pub months: Vec<MonthRate>,
    /// By cause.
    pub causes: Vec<Cause>,
    /// By finish.
    pub finishes: Vec<Split>,
    /// By the one person who did the job, ordered by code.
    pub people: Vec<Split>,
    /// Inside and outside the rules of the workspace.
    pub workspace: Vec<Split>,
    /// What callbacks of coating work cost in the window, where known.
    pub cost: Option<Minor>,
    /// Callbacks for high spots and lines.
    pub removal: u64,
    /// Callbacks for missed areas.
    pub missed: u64,
    /// Callbacks of coating work.
    pub callbacks: u64,
    /// What to look at first.
    pub advice: Advice,
}

/// Fewest callbacks of coating work before a cause is pointed at.
const LEAST_TO_POINT: u64 = 3;

/// Prices of putting things right; `None` where one is not known.
pub type Cost<'a> = dyn Fn(&CameBack) -> Option<Minor> + 'a;

/// Finds what came back. `stands`: where each coated job stands by the rules
/// of the workspace.
///
/// # Errors
/// Where a fit refuses its input.
pub fn find(
    m: &Measures,
    stands: &[Stand],
    cost: &Cost<'_>,
    scope: &Scope,
) -> Result<Result<Callbacks, Missing>, FindError> {
    let jobs: Vec<usize> = (0..m.coated.len())
        .filter(|i| scope.in_window(m.coated[*i].month))
        .collect();
    if jobs.is_empty() {
        return Ok(Err(Missing::TooFew(NotEnough::new(0, 1, "coated jobs"))));
    }
    // Nothing written down is not the same as nothing that came back.
    if m.came_back.is_empty() {
        return Ok(Err(Missing::TooFew(NotEnough::new(
            0,
            1,
            "callbacks of coated jobs",
        ))));
    }
    let back = |i: usize| m.coated[i].rework.callbacks > 0;
    let window = count(jobs.iter().map(|i| back(*i)));
    let causes = causes(m, window.of, cost, scope)?;
    let of = |names: &[&str]| {
        let those = causes.iter().filter(|c| names.contains(&c.cause.as_str()));
        those.map(|c| c.callbacks).sum::<u64>()
    };
    let own = || causes.iter().filter(|c| c.of_coating);
    let costs: Option<Vec<Minor>> = own().map(|c| c.cost).collect();
    let (removal, missed) = (of(&["high_spot", "line"]), of(&["missed_area"]));
    let callbacks = own().map(|c| c.callbacks).sum();
    let most_other = own()
        .filter(|c| !["high_spot", "line", "missed_area"].contains(&c.cause.as_str()))
        .map(|c| c.callbacks)
        .max();
    let by = |name: &dyn Fn(usize) -> Option<String>| {
        let named = jobs.iter().filter_map(|i| Some((name(*i)?, back(*i))));
        splits(named)
    };
    Ok(Ok(Callbacks {
        rate: exact(window, "coated jobs")?,
        months: months(m, &jobs, scope)?,
        finishes: by(&|i| Some(finish(m, i)))?,
        people: by(&|i| person(m, i))?,
        workspace: by(&|i| stand(stands.get(i).copied()))?,
        cost: costs.map(|c| c.into_iter().sum()),
        advice: advice(callbacks, removal, missed, most_other.unwrap_or(0)),
        removal,
        missed,
        callbacks,
        causes,
        window,
    }))
}

fn advice(callbacks: u64, removal: u64, missed: u64, other: u64) -> Advice {
    match callbacks {
        n if n < LEAST_TO_POINT => Advice::TooFew,
        _ if removal >= missed && removal >= other => Advice::Removal,
        _ if missed >= other => Advice::Missed,
        _ => Advice::Other,
    }
}

fn count(back: impl Iterator<Item = bool>) -> Count {
    back.fold(Count { yes: 0, of: 0 }, |c, b| Count {
        yes: c.yes + u64::from(b),
        of: c.of + 1,
    })
}

/// A job's one finish; two-tone work is a kind of its own.
fn finish(m: &Measures, job: usize) -> String {
    match m.coated[job].parts.as_slice() {
        [] => "not recorded".into(),
        [one] => m.finishes.name(one.finish).into(),
        _ => "several finishes".into(),
    }
}

/// The code of the one person who did the job, with the shop's where there
/// are several shops.
pub(super) fn person(m: &Measures, job: usize) -> Option<String> {
    let person = m.people.get(m.coated[job].person? as usize)?;
    Some(if person.shop.is_empty() {
        person.person.clone()
    } else {
        format!("{} {}", person.shop, person.person)
    })
}

fn stand(stand: Option<Stand>) -> Option<String> {
    match stand? {
        Stand::Inside => Some("inside the rules".into()),
        Stand::Outside => Some("outside the rules".into()),
        Stand::Unknown => None,
    }
}

fn months(m: &Measures, jobs: &[usize], scope: &Scope) -> Result<Vec<MonthRate>, FindError> {
    let mut counts: BTreeMap<Month, Count> = BTreeMap::new();
    let mut month = scope.window_from;
    while month <= scope.month {
        counts.insert(month, Count { yes: 0, of: 0 });
        month = month.plus(1);
    }
    for job in jobs.iter().map(|i| &m.coated[*i]) {
        if let Some(c) = counts.get_mut(&job.month) {
            c.of += 1;
            c.yes += u64::from(job.rework.callbacks > 0);
        }
    }
    let usual = counts.iter().filter(|(month, _)| scope.is_usual(**month));
    let usual = usual.fold(Count { yes: 0, of: 0 }, |c, (_, x)| Count {
        yes: c.yes + x.yes,
        of: c.of + x.of,
    });
    counts
        .into_iter()
        .map(|(month, c)| month_rate(month, c, usual))
        .collect()
}

fn month_rate(month: Month, count: Count, usual: Count) -> Result<MonthRate, FindError> {
    let enough = count.of >= LEAST_IN_A_MONTH;
    let limits = (enough && usual.of >= LEAST_IN_A_MONTH).then(|| {
        let rate = usual.yes as f64 / usual.of as f64;
        proportion::chart_limits(rate, count.of, LIMIT_LEVEL, 1.0)
    });
    let limits = limits.flatten();
    let rate = if enough {
        exact(count, "coated jobs")?
    } else {
        NotEnough::new(count.of, LEAST_IN_A_MONTH, "coated jobs").into()
    };
    Ok(MonthRate {
        month,
        count,
        rate,
        usual_low: limits.map(|l| l.low),
        usual_high: limits.map(|l| l.high),
    })
}

fn causes(
    m: &Measures,
    jobs: u64,
    cost: &Cost<'_>,
    scope: &Scope,
) -> Result<Vec<Cause>, FindError> {
    let mut all: BTreeMap<&str, (u64, u64, Option<Minor>)> = BTreeMap::new();
    let in_window = |b: &&CameBack| {
        m.coated
            .get(b.job)
            .is_some_and(|j| scope.in_window(j.month))
    };
    for back in m.came_back.iter().filter(in_window) {
        let sum = all.entry(&back.cause).or_insert((0, 0, Some(Minor(0))));
        sum.0 += back.callbacks;
        sum.1 += 1;
        sum.2 = sum.2.zip(cost(back)).map(|(a, b)| a + b);
    }
    let cause = |(cause, (callbacks, came, cost)): (&str, (u64, u64, Option<Minor>))| {
        let count = Count {
            yes: came,
            of: jobs,
        };
        Ok(Cause {
            cause: cause.to_string(),
            of_coating: COATING_CAUSES.contains(&cause),
            callbacks,
            rate: exact(count, "coated jobs")?,
            count,
            cost,
        })
    };
    all.into_iter().map(cause).collect()
}

/// Shares by name, each by itself and drawn towards the common one.
fn splits(jobs: impl Iterator<Item = (String, bool)>) -> Result<Vec<Split>, FindError> {
    let mut counts: BTreeMap<String, Count> = BTreeMap::new();
    for (name, back) in jobs {
        let c = counts.entry(name).or_insert(Count { yes: 0, of: 0 });
        c.of += 1;
        c.yes += u64::from(back);
    }
    let rows: Vec<shrink::Count> = counts
        .values()
        .map(|c| shrink::Count {
            yes: c.yes,
            of: c.of,
        })
        .collect();
    let shrunk: Vec<Figure> = match shrink::rates(&rows, Params::default()) {
        Ok(found) => found.each.iter().map(|r| r.shrunk.into()).collect(),
        Err(FitError::NotEnough(n)) => rows.iter().map(|_| n.clone().into()).collect(),
        Err(other) => return Err(other.into()),
    };
    let both = counts.into_iter().zip(shrunk);
    both.map(|((name, count), shrunk)| {
        Ok(Split {
            name,
            count,
            exact: exact(count, "coated jobs")?,
            shrunk,
        })
    })
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn advice_follows_the_cause_that_leads() {
        assert_eq!(advice(2, 2, 0, 0), Advice::TooFew);
        assert_eq!(advice(3, 2, 1, 0), Advice::Removal);
        assert_eq!(advice(5, 1, 3, 1), Advice::Missed);
        assert_eq!(advice(6, 1, 1, 4), Advice::Other);
    }

    #[test]
    fn one_group_alone_has_its_own_share_and_nothing_to_be_drawn_to() {
        let one =
            splits([("P1".to_string(), true), ("P1".to_string(), false)].into_iter()).unwrap();
        assert_eq!(one[0].exact.value(), Some(0.5));
        assert!(matches!(one[0].shrunk, Figure::NotEnough(_)));
        let two = splits((0..40).map(|i| (format!("P{}", i % 2), i < 10 && i % 2 == 0))).unwrap();
        let shrunk = two[0].shrunk.value().unwrap();
        assert!(shrunk < 0.25 && shrunk > 0.125, "{shrunk}");
    }
}
