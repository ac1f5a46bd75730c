//! Which of the month's jobs came back, and whether one person's jobs come
//! back more often than chance lets expect.

use super::{Count, LEAST_TO_POINT, PersonBack};
use crate::findings::Scope;
use crate::measures::Measures;
use crate::settings::contract::COATING_CAUSES;
use std::collections::{BTreeMap, BTreeSet};

/// A coated job of the month that came back for coating work.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BackJob {
    /// The shop's key.
    pub shop: String,
    /// The job.
    pub job: String,
    /// For what, ordered by cause.
    pub causes: Vec<String>,
}

/// The person whose jobs make most of those that came back.
#[derive(Debug, Clone, PartialEq)]
pub struct Most {
    /// The person's code, with the shop's where there are several shops.
    pub name: String,
    /// Their coated jobs done alone, and those of them that came back.
    pub own: Count,
    /// The same of everybody who did jobs alone.
    pub all: Count,
    /// True where more came back than luck explains well: the likely range of
    /// their share, drawn towards the common one by as much as few jobs say
    /// little, lies over the common share.
    pub beyond_luck: bool,
}

/// A person's share of what came back is spoken of from this many times their
/// share of the jobs: under it nobody would ask.
const TIMES: f64 = 1.5;

/// The month's jobs that came back for coating work, in the order of the jobs.
pub(super) fn this_month(m: &Measures, scope: &Scope) -> Vec<BackJob> {
    let mut causes: BTreeMap<usize, BTreeSet<&str>> = BTreeMap::new();
    let of_coating = m.came_back.iter().filter(|b| {
        let job = m.coated.get(b.job);
        COATING_CAUSES.contains(&b.cause.as_str()) && job.is_some_and(|j| j.month == scope.month)
    });
    for back in of_coating {
        causes.entry(back.job).or_default().insert(&back.cause);
    }
    let named = |(place, causes): (usize, BTreeSet<&str>)| {
        m.coated.get(place).map(|j| BackJob {
            shop: j.shop.to_string(),
            job: j.job.to_string(),
            causes: causes.into_iter().map(String::from).collect(),
        })
    };
    causes.into_iter().filter_map(named).collect()
}

/// The one person with most jobs that came back, where these are enough to
/// speak of and more than the person's share of the jobs.
pub(super) fn most(people: &[PersonBack]) -> Option<Most> {
    let all = people.iter().fold(Count { yes: 0, of: 0 }, |c, p| Count {
        yes: c.yes + p.split.count.yes,
        of: c.of + p.split.count.of,
    });
    let first = people.iter().max_by_key(|p| p.split.count.yes)?;
    let own = first.split.count;
    let alike = (people.iter()).filter(|p| p.split.count.yes == own.yes);
    let share = |a: u64, b: u64| a as f64 / b.max(1) as f64;
    let ratio = share(own.yes, all.yes) / share(own.of, all.of);
    let spoken = alike.count() == 1 && own.yes >= LEAST_TO_POINT && ratio >= TIMES;
    spoken.then(|| Most {
        name: first.split.name.clone(),
        own,
        all,
        beyond_luck: (first.split.shrunk.known()).is_some_and(|e| e.low > share(all.yes, all.of)),
    })
}

#[cfg(test)]
mod tests {
    use super::super::grouped;
    use super::*;
    use crate::measures::Person;

    /// People of `of` jobs each, of which so many came back.
    fn people(backs: &[u64], of: u64) -> Vec<PersonBack> {
        let key = |i: usize| Person {
            shop: String::new(),
            person: format!("P{i}"),
        };
        let jobs = backs.iter().enumerate();
        let jobs = jobs.flat_map(|(i, yes)| (0..of).map(move |n| (key(i), n < *yes)));
        let each = grouped(jobs, |k: &Person| k.person.clone()).unwrap();
        each.into_iter()
            .map(|(key, split)| PersonBack {
                key,
                split,
                causes: Vec::new(),
            })
            .collect()
    }

    #[test]
    fn nobody_is_named_for_a_few_callbacks_or_for_a_fair_share() {
        assert!(most(&people(&[2, 0, 0, 0], 30)).is_none());
        assert!(most(&people(&[5, 5, 1], 60)).is_none());
        assert!(most(&people(&[5, 4, 4], 60)).is_none());
        assert!(most(&[]).is_none());
    }

    #[test]
    fn seven_of_ninety_among_three_is_luck_and_thirty_is_not() {
        let luck = most(&people(&[7, 4, 2], 90)).unwrap();
        assert_eq!(
            (luck.name.as_str(), luck.own.yes, luck.all.yes),
            ("P0", 7, 13)
        );
        assert!(!luck.beyond_luck);
        assert!(most(&people(&[30, 4, 3, 4, 2, 3], 90)).unwrap().beyond_luck);
    }
}
