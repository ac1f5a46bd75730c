//! Callbacks: how many coated jobs come back for coating work, for what, on
//! which finish, and whether this month stands out.

mod back;
mod months;
mod own;

pub use super::workspace::Count;
use super::workspace::{Stand, exact};
use super::{FindError, Missing, Scope};
use crate::estimate::{Figure, NotEnough};
use crate::fits::error::FitError;
use crate::fits::shrink::{self, Params};
use crate::measures::{CameBack, Measures, Person};
use crate::money::Minor;
use crate::settings::contract::COATING_CAUSES;
pub use back::{BackJob, Most};
use foldhash::fast::RandomState;
use months::months;
pub use months::{MonthRate, Standing};
pub(super) use own::advice_on;
use own::people;
pub use own::{OwnCause, PersonBack};
use std::collections::{BTreeMap, HashMap};
use std::hash::Hash;

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

/// Something to do: mend what most callbacks of coating work come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MendCause {
    /// What to look at; never too few.
    pub advice: Advice,
    /// Callbacks for it in the window.
    pub callbacks: u64,
    /// Callbacks of coating work in the window.
    pub of: u64,
    /// What those for it cost in a month of the window, where known.
    pub monthly: Option<Minor>,
    /// True where more came back this month than the usual allows.
    pub month_above: bool,
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
    /// The jobs of the month reviewed that came back.
    pub this_month: Vec<BackJob>,
    /// By cause.
    pub causes: Vec<Cause>,
    /// By finish.
    pub finishes: Vec<Split>,
    /// By the one person who did the job, ordered by shop and code.
    pub people: Vec<PersonBack>,
    /// Whose jobs make most of those that came back, where there is one such.
    pub most: Option<Most>,
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

/// Causes that point at removal and the size of sections.
const REMOVAL: [&str; 2] = ["high_spot", "line"];
/// The cause that points at handles and recesses.
const MISSED: [&str; 1] = ["missed_area"];

impl Callbacks {
    /// The month reviewed against its limits.
    pub fn standing(&self) -> Standing {
        self.months
            .last()
            .map_or(Standing::TooFew, MonthRate::standing)
    }

    /// What a job that came back for coating work cost [minor units], where
    /// known.
    pub fn a_job(&self) -> Option<f64> {
        let jobs = self.window.yes.max(1) as f64;
        self.cost.map(|c| c.as_f64() / jobs)
    }

    /// What to mend, where callbacks are enough to point at something.
    pub fn mend(&self) -> Option<MendCause> {
        let names: &[&str] = match self.advice {
            Advice::Removal => &REMOVAL,
            Advice::Missed => &MISSED,
            Advice::Other | Advice::TooFew => return None,
        };
        let those = || (self.causes.iter()).filter(|c| names.contains(&c.cause.as_str()));
        let cost: Option<Vec<Minor>> = those().map(|c| c.cost).collect();
        let months = self.months.len().max(1) as f64;
        let a_month = |all: Vec<Minor>| {
            let sum: Minor = all.into_iter().sum();
            Minor::nearest(sum.as_f64() / months)
        };
        Some(MendCause {
            advice: self.advice,
            callbacks: those().map(|c| c.callbacks).sum(),
            of: self.callbacks,
            monthly: cost.and_then(a_month),
            month_above: self.standing() == Standing::Above,
        })
    }

    /// One person's callbacks.
    pub fn person(&self, key: &Person) -> Option<&PersonBack> {
        self.people.iter().find(|p| p.key == *key)
    }
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
pub fn find<'a>(
    m: &'a Measures,
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
    let back = |i: usize| m.coated[i].came_back();
    let window = count(jobs.iter().map(|i| back(*i)));
    let causes = causes(m, window.of, cost, scope)?;
    let of = |names: &[&str]| {
        let those = causes.iter().filter(|c| names.contains(&c.cause.as_str()));
        those.map(|c| c.callbacks).sum::<u64>()
    };
    let own = || causes.iter().filter(|c| c.of_coating);
    let costs: Option<Vec<Minor>> = own().map(|c| c.cost).collect();
    let (removal, missed) = (of(&REMOVAL), of(&MISSED));
    let callbacks = own().map(|c| c.callbacks).sum();
    let most_other = own()
        .filter(|c| !REMOVAL.iter().chain(&MISSED).any(|n| *n == c.cause))
        .map(|c| c.callbacks)
        .max();
    let by = |name: &dyn Fn(usize) -> Option<&'a str>| {
        let named = jobs.iter().filter_map(|i| Some((name(*i)?, back(*i))));
        splits(named)
    };
    let people = people(m, &jobs)?;
    Ok(Ok(Callbacks {
        this_month: back::this_month(m, scope),
        most: back::most(&people),
        rate: exact(window, "coated jobs")?,
        months: months(m, &jobs, scope)?,
        finishes: by(&|i| Some(finish(m, i)))?,
        people,
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
fn finish(m: &Measures, job: usize) -> &str {
    match m.coated[job].parts.as_slice() {
        [] => "not recorded",
        [one] => m.finishes.name(one.finish),
        _ => "several finishes",
    }
}

fn stand(stand: Option<Stand>) -> Option<&'static str> {
    match stand? {
        Stand::Inside => Some("inside the rules"),
        Stand::Outside => Some("outside the rules"),
        Stand::Unknown => None,
    }
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
fn splits<'a>(jobs: impl Iterator<Item = (&'a str, bool)>) -> Result<Vec<Split>, FindError> {
    let all = grouped(jobs, |name| (*name).to_string())?;
    Ok(all.into_iter().map(|(_, split)| split).collect())
}

/// Shares by what tells rows apart, in its order; `name`: what a row is
/// called.
fn grouped<K: Ord + Hash>(
    jobs: impl Iterator<Item = (K, bool)>,
    name: impl Fn(&K) -> String,
) -> Result<Vec<(K, Split)>, FindError> {
    let mut counts: HashMap<K, Count, RandomState> = HashMap::default();
    for (key, back) in jobs {
        let c = counts.entry(key).or_insert(Count { yes: 0, of: 0 });
        c.of += 1;
        c.yes += u64::from(back);
    }
    let mut counts: Vec<(K, Count)> = counts.into_iter().collect();
    counts.sort_unstable_by(|a, b| a.0.cmp(&b.0));
    let rows: Vec<shrink::Count> = (counts.iter())
        .map(|(_, c)| shrink::Count {
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
    both.map(|((key, count), shrunk)| {
        let split = Split {
            name: name(&key),
            count,
            exact: exact(count, "coated jobs")?,
            shrunk,
        };
        Ok((key, split))
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
        let one = splits([("P1", true), ("P1", false)].into_iter()).unwrap();
        assert_eq!(one[0].exact.value(), Some(0.5));
        assert!(matches!(one[0].shrunk, Figure::NotEnough(_)));
        let two = (0..40).map(|i| (["P0", "P1"][i % 2], i < 10 && i % 2 == 0));
        let two = splits(two).unwrap();
        let shrunk = two[0].shrunk.value().unwrap();
        assert!(shrunk < 0.25 && shrunk > 0.125, "{shrunk}");
    }
}
