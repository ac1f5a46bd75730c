//! Workspace and cure: how many coatings were done outside the shop's rules,
//! and do those jobs come back more often?
//!
//! The rules are common practice without a published source; the settings
//! hold them. What is not recorded is neither inside nor outside.

use super::{FindError, Missing, Scope};
use crate::estimate::{Figure, NotEnough};
use crate::fits::dewpoint;
use crate::fits::error::FitError;
use crate::fits::proportion::{Method, share};
use crate::fits::risk_ratio;
pub use crate::fits::risk_ratio::Count;
use crate::measures::{CoatedJob, Spell};
use crate::settings::shop::Workspace as Rules;

/// Level of the ranges here.
pub const LEVEL: f64 = 0.95;

/// A rule of the workspace or of the cure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Rule {
    /// Air above the least temperature.
    Air,
    /// Relative humidity under the most allowed.
    Humidity,
    /// Panel far enough above the dew point.
    DewPoint,
    /// Released no earlier than the hours asked for.
    Release,
    /// Inside overnight where it rained.
    Rain,
}

/// All rules, workspace first.
pub const RULES: [Rule; 5] = [
    Rule::Air,
    Rule::Humidity,
    Rule::DewPoint,
    Rule::Release,
    Rule::Rain,
];

impl Rule {
    /// Whether a spell broke it; `None` where that was not recorded.
    pub fn broken(self, spell: &Spell, rules: &Rules) -> Option<bool> {
        match self {
            Self::Air => spell.air.map(|t| t <= rules.air_min_c),
            Self::Humidity => spell.humidity.map(|h| h >= rules.humidity_max),
            Self::DewPoint => margin(spell).map(|m| m < rules.dew_point_margin_c),
            Self::Release => spell.hours_to_release.map(|h| h < rules.release_hours),
            Self::Rain => match (spell.rain?, spell.held_overnight) {
                (false, _) => Some(false),
                (true, held) => held.map(|h| !h),
            },
        }
    }

    /// True for rules of the workspace, false for those of the cure.
    pub fn is_workspace(self) -> bool {
        matches!(self, Self::Air | Self::Humidity | Self::DewPoint)
    }
}

/// Panel less dew point [°C]; `None` where a reading is missing or cannot be.
fn margin(spell: &Spell) -> Option<f64> {
    dewpoint::margin(spell.surface?, spell.air?, spell.humidity?).ok()
}

/// Where a coating or a job stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stand {
    /// No rule broken, and enough recorded to say so.
    Inside,
    /// At least one rule broken.
    Outside,
    /// Not recorded.
    Unknown,
}

impl Stand {
    /// By the rules of the workspace. Inside needs air and humidity; the
    /// panel's temperature counts where it is there.
    pub fn of_workspace(spell: &Spell, rules: &Rules) -> Self {
        Self::of(spell, rules, true, &[Rule::Air, Rule::Humidity])
    }

    /// By the rules of the cure. Kept needs the release and the rain.
    pub fn of_cure(spell: &Spell, rules: &Rules) -> Self {
        Self::of(spell, rules, false, &[Rule::Release, Rule::Rain])
    }

    fn of(spell: &Spell, rules: &Rules, workspace: bool, needed: &[Rule]) -> Self {
        let mut own = RULES.iter().filter(|r| r.is_workspace() == workspace);
        if own.any(|r| r.broken(spell, rules) == Some(true)) {
            return Self::Outside;
        }
        let known = needed.iter().all(|r| r.broken(spell, rules).is_some());
        if known { Self::Inside } else { Self::Unknown }
    }

    /// A job's, from another spell of it.
    fn and(self, other: Self) -> Self {
        match (self, other) {
            (Self::Outside, _) | (_, Self::Outside) => Self::Outside,
            (Self::Unknown, _) | (_, Self::Unknown) => Self::Unknown,
            _ => Self::Inside,
        }
    }
}

/// Where each coated job stands by `of`; unknown where it has no spell.
pub fn stands(jobs: usize, spells: &[Spell], of: impl Fn(&Spell) -> Stand) -> Vec<Stand> {
    let mut all: Vec<Option<Stand>> = vec![None; jobs];
    for spell in spells {
        if let Some(stand) = all.get_mut(spell.job) {
            *stand = Some(stand.map_or_else(|| of(spell), |s| s.and(of(spell))));
        }
    }
    all.into_iter()
        .map(|s| s.unwrap_or(Stand::Unknown))
        .collect()
}

/// How often one rule was broken in the window.
#[derive(Debug, Clone, PartialEq)]
pub struct RuleShare {
    /// The rule.
    pub rule: Rule,
    /// Coatings of the window on which it could be checked.
    pub checked: u64,
    /// Of these, outside.
    pub broken: u64,
    /// Share outside, exact range.
    pub share: Figure,
    /// The same of the month reviewed.
    pub month_checked: u64,
    /// Of these, outside.
    pub month_broken: u64,
}

/// Callbacks of jobs outside against those inside.
#[derive(Debug, Clone, PartialEq)]
pub struct Compared {
    /// True: by the rules of the workspace. False: by those of the cure.
    pub workspace: bool,
    /// Jobs inside, and those of them that came back for coating work.
    pub inside: Count,
    /// The same outside.
    pub outside: Count,
    /// Jobs on which it cannot be said.
    pub unknown: u64,
    /// Risk outside over risk inside.
    pub ratio: Figure,
}

/// The section's findings.
#[derive(Debug, Clone, PartialEq)]
pub struct Workspace {
    /// The rules.
    pub rules: Rules,
    /// By rule.
    pub shares: Vec<RuleShare>,
    /// Coatings of the month, as (inside, outside) of the workspace's rules.
    pub month: Count,
    /// Share of the month's coatings outside, where it can be said.
    pub month_share: Figure,
    /// The same of the window.
    pub window: Count,
    /// Share of the window's coatings outside.
    pub window_share: Figure,
    /// Coatings of the window on which it cannot be said.
    pub unknown: u64,
    /// Callbacks outside against inside: workspace, then cure.
    pub compared: Vec<Compared>,
    /// Least margin over the dew point in the window [°C].
    pub least_margin: Option<f64>,
}

/// A share with its exact range, or what is missing.
pub(super) fn exact(c: Count, of: &str) -> Result<Figure, FindError> {
    if c.of == 0 {
        return Ok(NotEnough::new(0, 1, of).into());
    }
    Ok(share(c.yes, c.of, Method::ClopperPearson, LEVEL)?.into())
}

/// Finds how the workspace stood.
///
/// # Errors
/// Where a fit refuses its input.
pub fn find(
    jobs: &[CoatedJob],
    spells: &[Spell],
    rules: &Rules,
    scope: &Scope,
) -> Result<Result<Workspace, Missing>, FindError> {
    let month_of = |s: &Spell| jobs.get(s.job).map(|j| j.month);
    let in_window = |s: &&Spell| month_of(s).is_some_and(|m| scope.in_window(m));
    let window: Vec<&Spell> = spells.iter().filter(in_window).collect();
    let month: Vec<&Spell> = (window.iter().copied())
        .filter(|s| month_of(s) == Some(scope.month))
        .collect();
    let recorded = |s: &&&Spell| RULES.iter().any(|r| r.broken(s, rules).is_some());
    if window.iter().filter(recorded).count() == 0 {
        let of = "coatings with the workspace or the release recorded";
        return Ok(Err(Missing::TooFew(NotEnough::new(0, 1, of))));
    }
    let shares = RULES.iter().map(|r| rule_share(*r, &window, &month, rules));
    let (month_count, _) = outside(&month, rules);
    let (window_count, unknown) = outside(&window, rules);
    let of = "coatings with air and humidity recorded";
    Ok(Ok(Workspace {
        rules: *rules,
        shares: shares.collect::<Result<_, _>>()?,
        month: month_count,
        month_share: exact(month_count, of)?,
        window: window_count,
        window_share: exact(window_count, of)?,
        unknown,
        compared: vec![
            compared(true, jobs, spells, rules, scope)?,
            compared(false, jobs, spells, rules, scope)?,
        ],
        least_margin: (window.iter().filter_map(|s| margin(s))).min_by(f64::total_cmp),
    }))
}

fn rule_share(
    rule: Rule,
    window: &[&Spell],
    month: &[&Spell],
    rules: &Rules,
) -> Result<RuleShare, FindError> {
    let count = |spells: &[&Spell]| {
        let known = spells.iter().filter_map(|s| rule.broken(s, rules));
        known.fold(Count { yes: 0, of: 0 }, |c, broken| Count {
            yes: c.yes + u64::from(broken),
            of: c.of + 1,
        })
    };
    let (all, now) = (count(window), count(month));
    Ok(RuleShare {
        rule,
        checked: all.of,
        broken: all.yes,
        share: exact(all, "coatings with this recorded")?,
        month_checked: now.of,
        month_broken: now.yes,
    })
}

/// Coatings outside the workspace's rules among those that can be told, and
/// those that cannot.
fn outside(spells: &[&Spell], rules: &Rules) -> (Count, u64) {
    let of = |stand| {
        let same = spells
            .iter()
            .filter(|s| Stand::of_workspace(s, rules) == stand);
        same.count() as u64
    };
    let (inside, outside) = (of(Stand::Inside), of(Stand::Outside));
    let known = Count {
        yes: outside,
        of: inside + outside,
    };
    (known, spells.len() as u64 - known.of)
}

fn compared(
    workspace: bool,
    jobs: &[CoatedJob],
    spells: &[Spell],
    rules: &Rules,
    scope: &Scope,
) -> Result<Compared, FindError> {
    let stands = stands(jobs.len(), spells, |s| {
        if workspace {
            Stand::of_workspace(s, rules)
        } else {
            Stand::of_cure(s, rules)
        }
    });
    let count = |stand: Stand| {
        let rows = jobs.iter().zip(&stands);
        let those = rows.filter(|(j, s)| **s == stand && scope.in_window(j.month));
        those.fold(Count { yes: 0, of: 0 }, |c, (j, _)| Count {
            yes: c.yes + u64::from(j.rework.callbacks > 0),
            of: c.of + 1,
        })
    };
    let (inside, outside) = (count(Stand::Inside), count(Stand::Outside));
    let ratio = match risk_ratio::risk_ratio(outside, inside, LEVEL) {
        Ok(e) => e.into(),
        Err(FitError::NotEnough(n)) if inside.of.min(outside.of) == 0 => n.into(),
        Err(FitError::NotEnough(_)) => {
            NotEnough::new(0, 1, "callbacks of jobs inside the rules").into()
        }
        Err(other) => return Err(other.into()),
    };
    Ok(Compared {
        workspace,
        inside,
        outside,
        unknown: count(Stand::Unknown).of,
        ratio,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spell() -> Spell {
        Spell {
            job: 0,
            paused_minutes: None,
            air: Some(20.0),
            surface: None,
            humidity: Some(50.0),
            hours_to_release: Some(2.0),
            rain: Some(false),
            held_overnight: None,
        }
    }

    #[test]
    fn each_rule_has_its_edge() {
        let rules = Rules::default();
        let at = |change: fn(&mut Spell), rule: Rule| {
            let mut s = spell();
            change(&mut s);
            rule.broken(&s, &rules)
        };
        assert_eq!(at(|s| s.air = Some(10.0), Rule::Air), Some(true));
        assert_eq!(at(|s| s.air = Some(10.1), Rule::Air), Some(false));
        assert_eq!(at(|s| s.humidity = Some(70.0), Rule::Humidity), Some(true));
        assert_eq!(at(|s| s.humidity = Some(69.9), Rule::Humidity), Some(false));
        // Air 20 °C at 50 %: dew point 9.3 °C (WMO-No. 8), so 12.2 is under 3 above.
        assert_eq!(at(|s| s.surface = Some(12.2), Rule::DewPoint), Some(true));
        assert_eq!(at(|s| s.surface = Some(12.3), Rule::DewPoint), Some(false));
        assert_eq!(
            at(|s| s.hours_to_release = Some(0.99), Rule::Release),
            Some(true)
        );
        assert_eq!(
            at(|s| s.hours_to_release = Some(1.0), Rule::Release),
            Some(false)
        );
        assert_eq!(at(|s| s.rain = Some(true), Rule::Rain), None);
    }

    #[test]
    fn what_is_not_recorded_is_neither_inside_nor_outside() {
        let rules = Rules::default();
        let dry = Spell {
            humidity: None,
            ..spell()
        };
        assert_eq!(Stand::of_workspace(&dry, &rules), Stand::Unknown);
        let cold = Spell {
            air: Some(4.0),
            ..dry
        };
        assert_eq!(Stand::of_workspace(&cold, &rules), Stand::Outside);
        let of = |s: &Spell| Stand::of_workspace(s, &rules);
        assert_eq!(
            stands(2, &[spell(), cold], of),
            [Stand::Outside, Stand::Unknown]
        );
        assert_eq!(stands(1, &[spell(), spell()], of), [Stand::Inside]);
    }
}
