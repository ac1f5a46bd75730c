//! Which of the month's jobs stood outside a rule, and outside which.

use super::{RULES, Rule, Rules, Scope};
use crate::measures::{CoatedJob, Spell};
use std::collections::{BTreeMap, BTreeSet};

/// A coated job of the month outside at least one rule.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OutsideJob {
    /// The shop's key.
    pub shop: String,
    /// The job.
    pub job: String,
    /// The rules that a spell of it broke, in the order of [`RULES`].
    pub rules: Vec<Rule>,
}

impl OutsideJob {
    /// True where a rule of the workspace is among them.
    pub fn of_workspace(&self) -> bool {
        self.rules.iter().any(|r| r.is_workspace())
    }

    /// True where a rule of the cure is among them.
    pub fn of_cure(&self) -> bool {
        self.rules.iter().any(|r| !r.is_workspace())
    }
}

/// The month's jobs outside a rule, in the order of `jobs`.
pub(super) fn outside(
    jobs: &[CoatedJob],
    spells: &[Spell],
    rules: &Rules,
    scope: &Scope,
) -> Vec<OutsideJob> {
    let mut broken: BTreeMap<usize, BTreeSet<Rule>> = BTreeMap::new();
    for spell in spells {
        let of_month = jobs.get(spell.job).is_some_and(|j| j.month == scope.month);
        let out = |r: &&Rule| r.broken(spell, rules) == Some(true);
        for rule in RULES.iter().filter(out).filter(|_| of_month) {
            broken.entry(spell.job).or_default().insert(*rule);
        }
    }
    let named = |(place, rules): (usize, BTreeSet<Rule>)| {
        jobs.get(place).map(|j| OutsideJob {
            shop: j.shop.to_string(),
            job: j.job.to_string(),
            rules: rules.into_iter().collect(),
        })
    };
    broken.into_iter().filter_map(named).collect()
}
