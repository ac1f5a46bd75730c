//! Callbacks of the jobs that one person did alone.

use super::{Advice, MISSED, REMOVAL, Split, advice, grouped};
use crate::findings::FindError;
use crate::measures::{CameBack, Measures, Person};
use crate::settings::contract::COATING_CAUSES;
use std::collections::BTreeMap;

/// A person who did jobs alone.
#[derive(Debug, Clone, PartialEq)]
pub struct PersonBack {
    /// The person's key.
    pub key: Person,
    /// Their coated jobs of the window, and those of them that came back for
    /// coating work.
    pub split: Split,
    /// Callbacks of these jobs by cause, ordered by cause; film and others
    /// too.
    pub causes: Vec<OwnCause>,
}

/// Callbacks of one person's jobs for one cause.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OwnCause {
    /// The cause; empty where not recorded.
    pub cause: String,
    /// True where it charges the coating's margin.
    pub of_coating: bool,
    /// How often.
    pub callbacks: u64,
}

/// What to look at first among one person's causes.
pub(in crate::findings) fn advice_on(causes: &[OwnCause]) -> Advice {
    let own = || causes.iter().filter(|c| c.of_coating);
    let of = |names: &[&str]| {
        let those = own().filter(|c| names.contains(&c.cause.as_str()));
        those.map(|c| c.callbacks).sum::<u64>()
    };
    let named = |c: &&OwnCause| REMOVAL.iter().chain(&MISSED).any(|n| *n == c.cause);
    let other = own().filter(|c| !named(c)).map(|c| c.callbacks).max();
    let all = own().map(|c| c.callbacks).sum();
    advice(all, of(&REMOVAL), of(&MISSED), other.unwrap_or(0))
}

/// Callbacks by the one person who did the job.
pub(super) fn people(m: &Measures, jobs: &[usize]) -> Result<Vec<PersonBack>, FindError> {
    let key = |i: usize| m.people.get(m.coated[i].person? as usize);
    let back = |i: usize| m.coated[i].came_back();
    let named = jobs.iter().filter_map(|i| Some((key(*i)?, back(*i))));
    let mut causes: BTreeMap<&Person, BTreeMap<&str, u64>> = BTreeMap::new();
    let in_window = |b: &&CameBack| jobs.binary_search(&b.job).is_ok();
    for b in m.came_back.iter().filter(in_window) {
        if let Some(key) = key(b.job) {
            let own = causes.entry(key).or_default();
            *own.entry(&b.cause).or_default() += b.callbacks;
        }
    }
    let cause = |(cause, n): (&&str, &u64)| OwnCause {
        cause: (*cause).to_string(),
        of_coating: COATING_CAUSES.contains(cause),
        callbacks: *n,
    };
    let person = |(key, split): (&Person, Split)| PersonBack {
        causes: causes.get(key).into_iter().flatten().map(cause).collect(),
        key: key.clone(),
        split,
    };
    Ok(grouped(named, |k| name(k))?
        .into_iter()
        .map(person)
        .collect())
}

/// A person's code, with the shop's where there are several shops.
fn name(person: &Person) -> String {
    if person.shop.is_empty() {
        person.person.clone()
    } else {
        format!("{} {}", person.shop, person.person)
    }
}
