//! One person's own page: what is shown to that person, and nothing of
//! anybody else.
//!
//! A comparison with the shop's usual, the plain mean of its people, tells a
//! colleague's figure where there is only one: under [`LEAST_PEOPLE`] it is
//! left out (no published source: with three people a mean names nobody).

use super::Findings;
use super::callbacks::{Advice, PersonBack, advice_on};
use super::pace::{Drift, Fitted, Kind, LEAST_JOBS, OwnMonth, PacePeople, PersonPace};
use crate::estimate::{Estimate, Figure, NotEnough};
pub use crate::measures::Person;
use crate::settings::month::Month;

/// Fewest people among whom one is laid beside the usual.
pub const LEAST_PEOPLE: usize = 3;
/// Jobs over a long pause from which pauses are spoken of.
const LEAST_PAUSES: u64 = 3;
/// Their least share of all jobs.
const PAUSED_SHARE: f64 = 0.10;

/// What to try.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Try {
    /// Time: section size, reload count, supplies within reach.
    Sections,
    /// Quick with callbacks: smaller sections, second pass.
    SlowDown,
    /// Times that vary: lay out supplies, one order round the vehicle.
    OneOrder,
    /// New and on track: method before speed.
    KeepLearning,
    /// Coating: prime once, reload with a few drops.
    Reload,
    /// Pauses: finish a section before a break.
    FinishBeforeBreak,
    /// High spots and lines: second pass for residue.
    SecondPass,
    /// Missed areas: handles and recesses by a list.
    FixedList,
}

/// Where the own time lies against the usual.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The whole likely range is longer.
    Longer,
    /// The whole likely range is quicker.
    Quicker,
    /// The range holds the usual.
    Usual,
    /// Too few jobs.
    NotEnough,
}

impl Side {
    fn of(pace: &Figure) -> Self {
        match pace {
            Figure::NotEnough(_) => Self::NotEnough,
            Figure::Known(e) if e.low > 1.0 => Self::Longer,
            Figure::Known(e) if e.high < 1.0 => Self::Quicker,
            Figure::Known(_) => Self::Usual,
        }
    }
}

/// Against the shop's usual.
#[derive(Debug, Clone, PartialEq)]
pub struct BesideUsual {
    /// Time over the usual on the same work; not enough under so many jobs as
    /// a person is spoken of from.
    pub pace: Figure,
    /// Where that lies.
    pub side: Side,
    /// Spread of the own times over that of the others.
    pub spread_ratio: Option<f64>,
    /// Time over the usual that the learning curve gives at the count so far.
    pub expected_now: Option<Estimate>,
    /// The own share of jobs that came back, drawn towards everybody's.
    pub callbacks: Option<Figure>,
}

/// What a person is shown.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnPage {
    /// The person's key.
    pub key: Person,
    /// True where the data hold several shops.
    pub several_shops: bool,
    /// Timed jobs done alone in the window.
    pub jobs: u64,
    /// What is said; nothing where jobs are too few.
    pub kinds: Vec<Kind>,
    /// Against the shop's usual; `None` with too few people.
    pub beside: Option<BesideUsual>,
    /// Spread of log minutes about the own pace.
    pub spread: Figure,
    /// This month against the own past.
    pub drift: Drift,
    /// Hired within the year.
    pub new: bool,
    /// Coated jobs so far, over all history.
    pub count: Option<u64>,
    /// Factor on the time per doubling of jobs; new people only.
    pub learning: Figure,
    /// Coating used over what the work needs.
    pub used: Figure,
    /// Jobs over a long pause.
    pub long_pauses: u64,
    /// Months, each against the own average of the window.
    pub months: Vec<OwnMonth>,
    /// Callbacks of the jobs done alone; `None` where none are recorded.
    pub callbacks: Option<PersonBack>,
    /// What to try, the first thing first.
    pub tries: Vec<Try>,
}

/// Why there is no page for a person.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NoPage {
    /// There is no such person with timed jobs of their own in the window.
    Unknown,
    /// Several shops have that code.
    Several(Vec<Person>),
}

/// Finds the person that a word on the command line names: a code, or
/// "shop/code" where there are several shops.
///
/// # Errors
/// [`NoPage`].
pub fn named(asked: &str, pace: &PacePeople) -> Result<Person, NoPage> {
    let whole = |p: &Person| !p.shop.is_empty() && asked == format!("{}/{}", p.shop, p.person);
    let keys = || pace.people.iter().map(PersonPace::key);
    if let Some(key) = keys().find(whole) {
        return Ok(key);
    }
    let mut same: Vec<Person> = keys().filter(|p| p.person == asked).collect();
    match same.len() {
        0 => Err(NoPage::Unknown),
        1 => Ok(same.remove(0)),
        _ => Err(NoPage::Several(same)),
    }
}

/// One person's page; `None` where the person has no timed job.
pub fn find(all: &Findings, key: &Person) -> Option<OwnPage> {
    let pace = all.pace.as_ref().ok()?;
    let one = pace.person(key)?;
    let callbacks = all.callbacks.as_ref().ok().and_then(|c| c.person(key));
    let enough = pace.people.len() >= LEAST_PEOPLE;
    let fit = &one.fit;
    let kinds = kinds(one);
    Some(OwnPage {
        key: key.clone(),
        several_shops: !key.shop.is_empty(),
        jobs: fit.jobs,
        tries: tries(&kinds, fit.long_pauses, fit.jobs, callbacks),
        kinds,
        beside: enough.then(|| BesideUsual {
            side: Side::of(&spoken(fit)),
            pace: spoken(fit),
            spread_ratio: fit.spread_ratio,
            expected_now: fit.expected_now,
            callbacks: callbacks.map(|c| c.split.shrunk.clone()),
        }),
        spread: fit.spread.clone(),
        drift: fit.drift,
        new: fit.new,
        count: fit.count,
        learning: fit.learning.clone(),
        used: fit.used.clone(),
        long_pauses: fit.long_pauses,
        months: own_course(&fit.months, fit.plain, all.scope.month),
        callbacks: callbacks.cloned(),
    })
}

/// The pace of a person with jobs enough to speak of.
fn spoken(fit: &Fitted) -> Figure {
    if fit.jobs >= LEAST_JOBS {
        fit.pace.clone()
    } else {
        NotEnough::new(fit.jobs, LEAST_JOBS, "timed jobs").into()
    }
}

fn kinds(one: &PersonPace) -> Vec<Kind> {
    let quiet = [Kind::None, Kind::NotEnough];
    let said = std::iter::once(one.finding).chain(one.also.iter().copied());
    said.filter(|k| !quiet.contains(k)).collect()
}

/// Months against the own average, so that no colleague's figure is in them;
/// without gaps, from the first with a job to the one reviewed.
fn own_course(months: &[OwnMonth], average: Option<f64>, until: Month) -> Vec<OwnMonth> {
    let (Some(average), Some(first)) = (average.filter(|a| *a > 0.0), months.first()) else {
        return Vec::new();
    };
    let mut all = Vec::new();
    let mut month = first.month;
    while month <= until {
        let own = months.iter().find(|m| m.month == month);
        all.push(match own {
            Some(m) => OwnMonth {
                over: m.over.clone().map(|x| x / average),
                ..m.clone()
            },
            None => OwnMonth {
                month,
                jobs: 0,
                over: NotEnough::new(0, 1, "timed jobs").into(),
            },
        });
        month = month.plus(1);
    }
    all
}

fn tries(kinds: &[Kind], pauses: u64, jobs: u64, callbacks: Option<&PersonBack>) -> Vec<Try> {
    let mut all: Vec<Try> = kinds.iter().filter_map(|k| of_kind(*k)).collect();
    let often = pauses as f64 >= PAUSED_SHARE * jobs as f64;
    if jobs >= LEAST_JOBS && pauses >= LEAST_PAUSES && often {
        all.push(Try::FinishBeforeBreak);
    }
    all.extend(callbacks.and_then(|c| match advice_on(&c.causes) {
        Advice::Removal => Some(Try::SecondPass),
        Advice::Missed => Some(Try::FixedList),
        Advice::Other | Advice::TooFew => None,
    }));
    all
}

fn of_kind(kind: Kind) -> Option<Try> {
    match kind {
        Kind::Slow => Some(Try::Sections),
        Kind::Rushing => Some(Try::SlowDown),
        Kind::Erratic => Some(Try::OneOrder),
        Kind::Learning => Some(Try::KeepLearning),
        Kind::Overuse => Some(Try::Reload),
        Kind::None | Kind::NotEnough => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::callbacks::{OwnCause, Split};
    use crate::fits::risk_ratio::Count;

    fn back(causes: &[(&str, u64)]) -> PersonBack {
        let cause = |(cause, n): &(&str, u64)| OwnCause {
            cause: (*cause).into(),
            of_coating: true,
            callbacks: *n,
        };
        let none = || Figure::from(NotEnough::new(0, 1, "jobs"));
        PersonBack {
            key: Person {
                shop: String::new(),
                person: "P1".into(),
            },
            split: Split {
                name: "P1".into(),
                count: Count { yes: 3, of: 40 },
                exact: none(),
                shrunk: none(),
            },
            causes: causes.iter().map(cause).collect(),
        }
    }

    #[test]
    fn what_to_try_follows_what_is_said_pauses_and_causes() {
        let lines = back(&[("high_spot", 1), ("line", 2)]);
        assert_eq!(
            tries(&[Kind::Slow, Kind::Erratic], 0, 40, Some(&lines)),
            [Try::Sections, Try::OneOrder, Try::SecondPass]
        );
        let missed = back(&[("missed_area", 3), ("line", 1)]);
        assert_eq!(
            tries(&[], 4, 40, Some(&missed)),
            [Try::FinishBeforeBreak, Try::FixedList]
        );
        let few = back(&[("missed_area", 2)]);
        assert!(
            tries(&[], 3, 40, Some(&few)).is_empty(),
            "3 pauses of 40 jobs are few"
        );
        assert!(tries(&[], 2, 8, None).is_empty());
    }

    #[test]
    fn months_stand_against_the_own_average() {
        let month = OwnMonth {
            month: Month::parse("2026-08").unwrap(),
            jobs: 3,
            over: Estimate {
                value: 1.2,
                low: 1.0,
                high: 1.44,
                level: 0.95,
                n: 3,
            }
            .into(),
        };
        let until = Month::parse("2026-10").unwrap();
        let own = own_course(std::slice::from_ref(&month), Some(1.2), until);
        assert_eq!(own[0].over.value(), Some(1.0));
        let jobs: Vec<u64> = own.iter().map(|m| m.jobs).collect();
        assert_eq!(jobs, [3, 0, 0], "months without a job keep their place");
        assert!(own_course(&[month], None, until).is_empty());
    }
}
