//! Where jobs stand by the rules, counted.

use super::{
    Compared, Count, LEVEL, Rule, RuleShare, Rules, Stand, Verdict, exact, margin, stands,
};
use crate::estimate::{Figure, NotEnough};
use crate::findings::{FindError, Scope};
use crate::fits::error::FitError;
use crate::fits::risk_ratio;
use crate::measures::{CoatedJob, Spell};
use crate::settings::month::Month;

/// The coated jobs with where each stands.
pub(super) struct Stood<'a> {
    pub(super) jobs: &'a [CoatedJob],
    pub(super) spells: &'a [Spell],
    pub(super) scope: &'a Scope,
}

impl Stood<'_> {
    /// Jobs that can be told and those of them outside, of the months that
    /// `keep` keeps; and jobs that cannot be told.
    fn count(&self, stands: &[Stand], keep: impl Fn(Month) -> bool) -> (Count, u64) {
        let (mut count, mut unknown) = (Count { yes: 0, of: 0 }, 0);
        let rows = self.jobs.iter().zip(stands);
        for (_, stand) in rows.filter(|(j, _)| keep(j.month)) {
            match stand {
                Stand::Unknown => unknown += 1,
                Stand::Inside => count.of += 1,
                Stand::Outside => {
                    count.of += 1;
                    count.yes += 1;
                }
            }
        }
        (count, unknown)
    }

    pub(super) fn month(&self, stands: &[Stand]) -> Count {
        self.count(stands, |m| m == self.scope.month).0
    }

    pub(super) fn window(&self, stands: &[Stand]) -> (Count, u64) {
        self.count(stands, |m| self.scope.in_window(m))
    }

    pub(super) fn stands(&self, of: impl Fn(&Spell) -> Stand) -> Vec<Stand> {
        stands(self.jobs.len(), self.spells, of)
    }

    pub(super) fn rule_share(&self, rule: Rule, rules: &Rules) -> Result<RuleShare, FindError> {
        let stands = self.stands(|s| match rule.broken(s, rules) {
            Some(true) => Stand::Outside,
            Some(false) => Stand::Inside,
            None => Stand::Unknown,
        });
        let (all, now) = (self.window(&stands).0, self.month(&stands));
        Ok(RuleShare {
            rule,
            checked: all.of,
            broken: all.yes,
            share: exact(all, "coated jobs with this recorded")?,
            month_checked: now.of,
            month_broken: now.yes,
        })
    }

    pub(super) fn compared(
        &self,
        workspace: bool,
        stands: &[Stand],
    ) -> Result<Compared, FindError> {
        let count = |stand: Stand| {
            let rows = self.jobs.iter().zip(stands);
            let those = rows.filter(|(j, s)| **s == stand && self.scope.in_window(j.month));
            those.fold(Count { yes: 0, of: 0 }, |c, (j, _)| Count {
                yes: c.yes + u64::from(j.came_back()),
                of: c.of + 1,
            })
        };
        let (inside, outside) = (count(Stand::Inside), count(Stand::Outside));
        let ratio = ratio(inside, outside)?;
        Ok(Compared {
            workspace,
            inside,
            outside,
            unknown: count(Stand::Unknown).of,
            verdict: Verdict::of(&ratio),
            ratio,
        })
    }

    pub(super) fn least_margin(&self) -> Option<f64> {
        let in_window = |s: &&Spell| {
            let month = self.jobs.get(s.job).map(|j| j.month);
            month.is_some_and(|m| self.scope.in_window(m))
        };
        let margins = self.spells.iter().filter(in_window).filter_map(margin);
        margins.min_by(f64::total_cmp)
    }
}

fn ratio(inside: Count, outside: Count) -> Result<Figure, FindError> {
    match risk_ratio::risk_ratio(outside, inside, LEVEL) {
        Ok(e) => Ok(e.into()),
        Err(FitError::NotEnough(n)) if inside.of.min(outside.of) == 0 => Ok(n.into()),
        Err(FitError::NotEnough(_)) => {
            Ok(NotEnough::new(0, 1, "callbacks of jobs inside the rules").into())
        }
        Err(other) => Err(other.into()),
    }
}
