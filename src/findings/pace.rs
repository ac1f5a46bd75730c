//! People: who may need help with pace, who rushes, who is still learning, who
//! uses more coating than the work needs. No ranks, no verdict on a person.
//!
//! The figures come from the fits; what is said of them is decided here, with
//! the thresholds named.

use super::FindError;
use crate::estimate::{Estimate, Figure};
use crate::fits::discovery::{Rule, benjamini_hochberg, by_chance};
pub use crate::measures::Person;
use crate::money::Minor;
use crate::settings::month::Month;

/// A person is spoken of from so many jobs.
pub const LEAST_JOBS: u64 = 8;
/// How much slower counts as slow.
pub const SLOW: f64 = 0.10;
/// The true slowness for which it is said how often it would be seen.
pub const LOOKED_FOR: f64 = 0.20;
/// Chance of being quick from which a person counts as quick.
const QUICK_CHANCE: f64 = 0.80;
/// Chance of more callbacks than the shop's from which they count as high.
const HIGH_CALLBACKS_CHANCE: f64 = 0.90;
/// Share of wrong ones allowed among those raised as erratic.
const ERRATIC_ERROR: f64 = 0.10;
/// Spread over the others' from which it matters.
const ERRATIC_RATIO: f64 = 1.25;
/// Used over needed from which it matters.
const OVERUSE: f64 = 1.05;

/// A month of one person's jobs.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnMonth {
    /// The month.
    pub month: Month,
    /// Timed jobs done alone.
    pub jobs: u64,
    /// Their time over what such work takes in this shop: geometric mean.
    pub over: Figure,
}

/// What the fits found of one person.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted {
    /// The shop's key; empty where there is one shop.
    pub shop: String,
    /// The person's code.
    pub person: String,
    /// Jobs done alone, timed, in the window.
    pub jobs: u64,
    /// Time over the shop's usual on the same work.
    pub pace: Figure,
    /// Chance of being over [`SLOW`] slow.
    pub chance_slow: f64,
    /// Chance of being quick by as much.
    pub chance_quick: f64,
    /// Mean time over what such work takes, as it stands.
    pub plain: Option<f64>,
    /// Standard deviation of log minutes about the own pace.
    pub spread: Figure,
    /// The same over the other people's.
    pub spread_ratio: Option<f64>,
    /// Tail area of so wide a spread.
    pub spread_p: Option<f64>,
    /// Hired within the year up to the month's end.
    pub new: bool,
    /// Coated jobs done so far, over all history.
    pub count: Option<u64>,
    /// Factor on the time per doubling of jobs; new people only.
    pub learning: Figure,
    /// Time over the usual that the curve gives at the count so far.
    pub expected_now: Option<Estimate>,
    /// This month against the own past.
    pub drift: Drift,
    /// Coating used over what the work needs.
    pub used: Figure,
    /// The low end of the same at [`OVERUSE_LEVEL`].
    pub used_low: Option<f64>,
    /// Jobs that came back for coating work, drawn towards the common share.
    pub callbacks: Figure,
    /// Chance that it is over the common share.
    pub callbacks_chance: f64,
    /// Jobs with a pause of half an hour or more: within a spell, or between
    /// one spell and the next.
    pub long_pauses: u64,
    /// Months of the window with a timed job, earliest first.
    pub months: Vec<OwnMonth>,
    /// Minutes of the window's jobs together.
    pub minutes: f64,
    /// Coating of the window's measured jobs together [mL].
    pub used_ml: f64,
    /// What an hour of the person costs, loading included [minor units], where
    /// known.
    pub hourly: Option<f64>,
}

/// Level whose low end must lie over [`OVERUSE`]: people are many, and each is
/// looked at.
pub const OVERUSE_LEVEL: f64 = 0.99;

/// This month against the person's own past.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Drift {
    /// Slower than the own past, beyond its limits.
    Slower,
    /// Quicker than the own past, beyond its limits.
    Quicker,
    /// Within its limits.
    Steady,
    /// Too few jobs before or in the month, or still learning.
    NotEnough,
}

/// What is said of a person.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Nothing to point at.
    None,
    /// Slow on the same work, and not for being new.
    Slow,
    /// Quick, with callbacks above the shop's.
    Rushing,
    /// Times vary more than other people's.
    Erratic,
    /// New, and getting quicker with practice.
    Learning,
    /// More coating than the work needs.
    Overuse,
    /// Too few jobs to speak of.
    NotEnough,
}

/// One person.
#[derive(Debug, Clone, PartialEq)]
pub struct PersonPace {
    /// What the fits found.
    pub fit: Fitted,
    /// What is said first.
    pub finding: Kind,
    /// What else is.
    pub also: Vec<Kind>,
    /// Lower end of where chance alone puts a person of so many jobs.
    pub usual_low: f64,
    /// Upper end.
    pub usual_high: f64,
}

/// The section's findings.
#[derive(Debug, Clone, PartialEq)]
pub struct PacePeople {
    /// Ordered by shop and code.
    pub people: Vec<PersonPace>,
    /// Standard deviation between people, log scale.
    pub between: Estimate,
    /// Standard deviation of a person's own jobs, log scale.
    pub within: Estimate,
    /// Mean chance of being wrong about those raised as slow.
    pub mean_error: f64,
    /// Jobs shared by several people.
    pub shared_jobs: u64,
    /// What a shop of this size could have seen.
    pub sight: Option<Sight>,
    /// Scale of the prior of the spread between people.
    pub prior_scale: f64,
    /// Months of the window.
    pub months: u64,
    /// What a mL of coating costs [minor units], where known.
    pub per_ml: Option<f64>,
}

/// How often this shop would notice somebody truly [`LOOKED_FOR`] slow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sight {
    /// Jobs of the person imagined: the middle number of those spoken of.
    pub jobs: u64,
    /// Shops simulated.
    pub shops: u32,
    /// Share of them in which the person is raised.
    pub noticed: f64,
}

/// The shop as a whole.
#[derive(Debug, Clone, PartialEq)]
pub struct Whole {
    /// Standard deviation between people, log scale.
    pub between: Estimate,
    /// Standard deviation of a person's own jobs, log scale.
    pub within: Estimate,
    /// Jobs shared by several people.
    pub shared_jobs: u64,
    /// What a shop of this size could have seen.
    pub sight: Option<Sight>,
    /// Scale of the prior of the spread between people.
    pub prior_scale: f64,
    /// Months of the window.
    pub months: u64,
    /// What a mL of coating costs [minor units], where known.
    pub per_ml: Option<f64>,
}

/// Three standard errors of chance about the usual, for the funnel.
const FUNNEL_WIDTH: f64 = 3.0;

/// Something to do: help a person.
#[derive(Debug, Clone, PartialEq)]
pub struct HelpWith {
    /// The person's key.
    pub key: Person,
    /// What with; never nothing.
    pub kind: Kind,
    /// Timed jobs of the window.
    pub jobs: u64,
    /// What points at it: the pace, the coating used over the needed, or the
    /// spread.
    pub figure: Figure,
    /// What it costs in a month of the window, where that can be said.
    pub monthly: Option<Minor>,
    /// Other people of whom something is said, those still learning apart.
    pub others: u64,
}

/// Kinds that ask for something to be done, the most telling first; somebody
/// still learning is on track.
const TO_DO: [Kind; 4] = [Kind::Slow, Kind::Rushing, Kind::Overuse, Kind::Erratic];

impl PersonPace {
    /// The person's key.
    pub fn key(&self) -> Person {
        Person {
            shop: self.fit.shop.clone(),
            person: self.fit.person.clone(),
        }
    }

    /// What there is to do about it; nothing of somebody who is still learning
    /// and does well.
    pub fn to_do(&self) -> Option<Kind> {
        TO_DO.into_iter().find(|k| self.is(*k))
    }

    /// True where this is said of the person.
    pub fn is(&self, kind: Kind) -> bool {
        self.finding == kind || self.also.contains(&kind)
    }

    /// What a kind costs in a month, of so many: time beyond the shop's usual
    /// at the person's hour, coating beyond what the work needs.
    fn monthly(&self, kind: Kind, whole: &PacePeople) -> Option<Minor> {
        let beyond = |factor: &Figure| factor.value().map(|f| 1.0 - 1.0 / f);
        let cost = match kind {
            Kind::Slow => self.fit.hourly? * self.fit.minutes / 60.0 * beyond(&self.fit.pace)?,
            Kind::Overuse => whole.per_ml? * self.fit.used_ml * beyond(&self.fit.used)?,
            _ => return None,
        };
        Minor::nearest(cost / whole.months.max(1) as f64)
    }

    fn help(&self, whole: &PacePeople) -> Option<HelpWith> {
        let kind = self.to_do()?;
        Some(HelpWith {
            key: self.key(),
            kind,
            jobs: self.fit.jobs,
            figure: match kind {
                Kind::Overuse => self.fit.used.clone(),
                Kind::Erratic => self.fit.spread.clone(),
                _ => self.fit.pace.clone(),
            },
            monthly: self.monthly(kind, whole),
            others: 0,
        })
    }
}

impl PacePeople {
    /// One person.
    pub fn person(&self, key: &Person) -> Option<&PersonPace> {
        self.people.iter().find(|p| p.key() == *key)
    }

    /// Whom to help first: where it costs most; without money, in the order
    /// of what is said and then of codes. It is no rank: everybody of whom
    /// something is said stands in the section.
    pub fn help(&self) -> Option<HelpWith> {
        let all: Vec<HelpWith> = self.people.iter().filter_map(|p| p.help(self)).collect();
        let others = all.len().checked_sub(1)? as u64;
        let place = |k: Kind| TO_DO.iter().position(|t| *t == k);
        let first = all.into_iter().min_by_key(|h| {
            let money = h.monthly.map_or(0, |m| m.0);
            (std::cmp::Reverse(money), place(h.kind))
        })?;
        Some(HelpWith { others, ..first })
    }

    /// Where chance alone puts a person of `jobs` jobs: (lower, upper).
    pub fn usual(&self, jobs: f64) -> [f64; 2] {
        usual(self.within.value, jobs)
    }
}

fn usual(within: f64, jobs: f64) -> [f64; 2] {
    let half = FUNNEL_WIDTH * within / jobs.max(1.0).sqrt();
    [(-half).exp(), half.exp()]
}

/// Says what is to be said of each person.
///
/// # Errors
/// Where a chance is not one.
pub fn find(people: Vec<Fitted>, whole: Whole) -> Result<PacePeople, FindError> {
    let spoken = |p: &Fitted| p.jobs >= LEAST_JOBS;
    let chances: Vec<f64> = (people.iter())
        .map(|p| {
            if spoken(p) && !learning(p) {
                p.chance_slow
            } else {
                0.0
            }
        })
        .collect();
    let slow = by_chance(&chances, Rule::default())?;
    let wide: Vec<f64> = (people.iter())
        .map(|p| p.spread_p.filter(|_| spoken(p)).unwrap_or(1.0))
        .collect();
    let erratic = benjamini_hochberg(&wide, ERRATIC_ERROR)?;
    let flags = slow
        .raised
        .into_iter()
        .zip(erratic.iter().map(|a| a.raised));
    let person = |(p, (slow, erratic)): (Fitted, (bool, bool))| {
        let [usual_low, usual_high] = usual(whole.within.value, p.jobs as f64);
        let mut kinds = kinds(&p, slow, erratic).into_iter();
        PersonPace {
            finding: kinds.next().unwrap_or(Kind::None),
            also: kinds.collect(),
            fit: p,
            usual_low,
            usual_high,
        }
    };
    Ok(PacePeople {
        people: people.into_iter().zip(flags).map(person).collect(),
        between: whole.between,
        within: whole.within,
        mean_error: slow.mean_error,
        shared_jobs: whole.shared_jobs,
        sight: whole.sight,
        prior_scale: whole.prior_scale,
        months: whole.months,
        per_ml: whole.per_ml,
    })
}

/// New, and the whole range of the factor per doubling is under 1.
fn learning(p: &Fitted) -> bool {
    p.new && p.learning.known().is_some_and(|e| e.high < 1.0)
}

fn kinds(p: &Fitted, slow: bool, erratic: bool) -> Vec<Kind> {
    if p.jobs < LEAST_JOBS {
        return vec![Kind::NotEnough];
    }
    let quick = p.chance_quick >= QUICK_CHANCE;
    let wide = p.spread_ratio.is_some_and(|r| r >= ERRATIC_RATIO);
    let all = [
        (learning(p), Kind::Learning),
        (slow, Kind::Slow),
        (
            quick && p.callbacks_chance >= HIGH_CALLBACKS_CHANCE,
            Kind::Rushing,
        ),
        (erratic && wide, Kind::Erratic),
        (p.used_low.is_some_and(|low| low > OVERUSE), Kind::Overuse),
    ];
    all.into_iter()
        .filter(|(is, _)| *is)
        .map(|(_, kind)| kind)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::NotEnough;

    fn e(value: f64, low: f64, high: f64) -> Estimate {
        Estimate {
            value,
            low,
            high,
            level: 0.95,
            n: 30,
        }
    }

    fn person(name: &str) -> Fitted {
        let none = || Figure::from(NotEnough::new(0, 1, "jobs"));
        Fitted {
            shop: String::new(),
            person: name.into(),
            jobs: 30,
            pace: e(1.0, 0.95, 1.05).into(),
            chance_slow: 0.01,
            chance_quick: 0.01,
            plain: Some(1.0),
            spread: none(),
            spread_ratio: None,
            spread_p: None,
            new: false,
            count: None,
            learning: none(),
            expected_now: None,
            drift: Drift::NotEnough,
            used: none(),
            used_low: None,
            callbacks: none(),
            callbacks_chance: 0.5,
            long_pauses: 0,
            months: Vec::new(),
            minutes: 1_200.0,
            used_ml: 900.0,
            hourly: Some(3_000.0),
        }
    }

    fn whole() -> Whole {
        Whole {
            between: e(0.1, 0.05, 0.2),
            within: e(0.14, 0.13, 0.15),
            shared_jobs: 0,
            sight: None,
            prior_scale: 0.2,
            months: 12,
            per_ml: Some(300.0),
        }
    }

    /// Slow by a quarter over 20 hours at 30.00: 4 hours beyond, 10.00 a month;
    /// a tenth more coating than needed of 990 mL: 90 mL at 3.00, 22.50.
    #[test]
    fn help_goes_first_to_where_it_costs_most() {
        let slow = Fitted {
            pace: e(1.25, 1.12, 1.4).into(),
            chance_slow: 0.97,
            ..person("P1")
        };
        let overuse = Fitted {
            used: e(1.1, 1.06, 1.14).into(),
            used_low: Some(1.06),
            used_ml: 990.0,
            ..person("P2")
        };
        let help = |people: Vec<Fitted>| find(people, whole()).unwrap().help();
        let one = help(vec![person("P0"), slow.clone()]).unwrap();
        assert_eq!((one.kind, one.monthly), (Kind::Slow, Some(Minor(1_000))));
        let both = help(vec![slow.clone(), overuse]).unwrap();
        assert_eq!(
            (both.kind, both.monthly),
            (Kind::Overuse, Some(Minor(2_250)))
        );
        assert_eq!((both.key.person.as_str(), both.others), ("P2", 1));
        assert_eq!(help(vec![person("P0")]), None);
        let new = Fitted {
            new: true,
            learning: e(0.9, 0.85, 0.97).into(),
            ..slow
        };
        assert_eq!(help(vec![new]), None, "still learning is on track");
    }

    fn found(p: Fitted) -> (Kind, Vec<Kind>) {
        let mut all = find(vec![person("P0"), p], whole()).unwrap();
        let last = all.people.pop().unwrap();
        (last.finding, last.also)
    }

    #[test]
    fn each_kind_has_its_own_threshold() {
        assert_eq!(found(person("P1")).0, Kind::None);
        let slow = || Fitted {
            chance_slow: 0.95,
            ..person("P1")
        };
        assert_eq!(found(slow()).0, Kind::Slow);
        assert_eq!(
            found(Fitted {
                chance_slow: 0.89,
                ..person("P1")
            })
            .0,
            Kind::None
        );
        assert_eq!(found(Fitted { jobs: 7, ..slow() }).0, Kind::NotEnough);
        let new = Fitted {
            new: true,
            learning: e(0.9, 0.85, 0.97).into(),
            ..slow()
        };
        assert_eq!(found(new.clone()).0, Kind::Learning);
        assert_eq!(
            found(Fitted {
                new: false,
                ..new.clone()
            })
            .0,
            Kind::Slow
        );
        assert_eq!(
            found(Fitted {
                learning: e(0.95, 0.88, 1.02).into(),
                ..new
            })
            .0,
            Kind::Slow
        );
        let quick = || Fitted {
            chance_quick: 0.85,
            ..person("P1")
        };
        assert_eq!(found(quick()).0, Kind::None);
        assert_eq!(
            found(Fitted {
                callbacks_chance: 0.92,
                ..quick()
            })
            .0,
            Kind::Rushing
        );
        assert_eq!(
            found(Fitted {
                callbacks_chance: 0.92,
                ..person("P1")
            })
            .0,
            Kind::None
        );
        let wide = || Fitted {
            spread_p: Some(0.001),
            spread_ratio: Some(1.6),
            ..person("P1")
        };
        assert_eq!(found(wide()).0, Kind::Erratic);
        assert_eq!(
            found(Fitted {
                spread_ratio: Some(1.1),
                ..wide()
            })
            .0,
            Kind::None
        );
        assert_eq!(
            found(Fitted {
                spread_p: Some(0.2),
                ..wide()
            })
            .0,
            Kind::None
        );
        assert_eq!(
            found(Fitted {
                used_low: Some(1.06),
                ..person("P1")
            })
            .0,
            Kind::Overuse
        );
        let both = Fitted {
            chance_slow: 0.97,
            ..wide()
        };
        assert_eq!(found(both), (Kind::Slow, vec![Kind::Erratic]));
    }
}
