//! Workspace and cure: how many coated jobs were done outside the shop's
//! rules, and do those come back more often?
//!
//! The rules are common practice without a published source; the settings
//! hold them. What is not recorded is neither inside nor outside.

mod outside;
mod stood;

pub use outside::OutsideJob;

use super::{FindError, Missing, Scope};
use crate::estimate::{Estimate, Figure, NotEnough};
use crate::fits::dewpoint;
use crate::fits::proportion::{Method, share};
pub use crate::fits::risk_ratio::Count;
use crate::measures::{CoatedJob, Spell};
use crate::money::Minor;
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

/// Where a spell or a job stands.
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
    /// Coated jobs of the window on which it could be checked.
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
    /// What that says.
    pub verdict: Verdict,
}

/// Whether jobs outside the rules come back more often.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// The whole range of the ratio is over 1.
    More,
    /// The whole range is under 1.
    Less,
    /// None outside came back, and the range holds 1.
    NoneBack,
    /// The range holds 1.
    Luck,
    /// There is no ratio.
    NotEnough,
}

impl Verdict {
    fn of(ratio: &Figure) -> Self {
        match ratio {
            Figure::NotEnough(_) => Self::NotEnough,
            Figure::Known(e) if e.low > 1.0 => Self::More,
            Figure::Known(e) if e.high < 1.0 => Self::Less,
            Figure::Known(e) if e.value == 0.0 => Self::NoneBack,
            Figure::Known(_) => Self::Luck,
        }
    }
}

impl Compared {
    /// Jobs that came back beyond what the jobs inside let expect.
    pub fn beyond(&self) -> f64 {
        let usual = self.inside.yes as f64 / self.inside.of.max(1) as f64;
        self.outside.yes as f64 - usual * self.outside.of as f64
    }
}

/// Something to do: keep to rules outside which jobs come back more often.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KeepTo {
    /// True: the rules of the workspace. False: those of the cure.
    pub workspace: bool,
    /// Jobs of the window outside, and those of them that came back.
    pub outside: Count,
    /// Risk outside over risk inside.
    pub ratio: Estimate,
    /// What the callbacks beyond those of jobs inside cost in a month of the
    /// window, where known.
    pub monthly: Option<Minor>,
}

/// The section's findings. Counts are of coated jobs: one is outside a rule
/// where any spell of it is, inside where all of them are known to be.
#[derive(Debug, Clone, PartialEq)]
pub struct Workspace {
    /// The rules.
    pub rules: Rules,
    /// By rule.
    pub shares: Vec<RuleShare>,
    /// The month's jobs outside a rule of either kind.
    pub outside: Vec<OutsideJob>,
    /// Jobs of the month on which the workspace can be told, and those of them
    /// outside its rules.
    pub month: Count,
    /// Share of the month's jobs outside, where it can be said.
    pub month_share: Figure,
    /// The same of the window.
    pub window: Count,
    /// Share of the window's jobs outside.
    pub window_share: Figure,
    /// Jobs of the window on which it cannot be said.
    pub unknown: u64,
    /// Callbacks outside against inside: workspace, then cure.
    pub compared: Vec<Compared>,
    /// Least margin over the dew point in the window [°C].
    pub least_margin: Option<f64>,
    /// Months of the window.
    pub months: u64,
}

impl Workspace {
    /// What to keep to, where jobs outside come back more often; workspace
    /// first. `a_job`: what a job that came back cost [minor units].
    pub fn keep_to(&self, a_job: Option<f64>) -> Option<KeepTo> {
        let more = |k: &&Compared| k.verdict == Verdict::More;
        let k = self.compared.iter().find(more)?;
        let months = self.months.max(1) as f64;
        Some(KeepTo {
            workspace: k.workspace,
            outside: k.outside,
            ratio: *k.ratio.known()?,
            monthly: a_job.and_then(|cost| Minor::nearest(cost * k.beyond() / months)),
        })
    }
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
    let stood = stood::Stood {
        jobs,
        spells,
        scope,
    };
    let shares = RULES.iter().map(|r| stood.rule_share(*r, rules));
    let shares = shares.collect::<Result<Vec<_>, _>>()?;
    if shares.iter().all(|s| s.checked == 0) {
        let of = "coated jobs with the workspace or the release recorded";
        return Ok(Err(Missing::TooFew(NotEnough::new(0, 1, of))));
    }
    let work = stood.stands(|s| Stand::of_workspace(s, rules));
    let cure = stood.stands(|s| Stand::of_cure(s, rules));
    let (window, unknown) = stood.window(&work);
    let month = stood.month(&work);
    let of = "coated jobs with air and humidity recorded";
    Ok(Ok(Workspace {
        rules: *rules,
        shares,
        outside: outside::outside(jobs, spells, rules, scope),
        month,
        month_share: exact(month, of)?,
        window,
        window_share: exact(window, of)?,
        unknown,
        compared: vec![stood.compared(true, &work)?, stood.compared(false, &cure)?],
        least_margin: stood.least_margin(),
        months: scope.months(),
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spell() -> Spell {
        Spell {
            job: 0,
            started: None,
            ended: None,
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

    #[test]
    fn the_verdict_follows_the_range_and_the_money_the_callbacks_beyond() {
        let e = |value, low, high| {
            Figure::from(Estimate {
                value,
                low,
                high,
                level: LEVEL,
                n: 40,
            })
        };
        assert_eq!(Verdict::of(&e(3.0, 1.01, 9.0)), Verdict::More);
        assert_eq!(Verdict::of(&e(0.0, 0.0, 0.9)), Verdict::Less);
        assert_eq!(Verdict::of(&e(0.0, 0.0, 3.0)), Verdict::NoneBack);
        assert_eq!(Verdict::of(&e(2.0, 0.9, 4.0)), Verdict::Luck);
        let k = Compared {
            workspace: true,
            inside: Count { yes: 2, of: 40 },
            outside: Count { yes: 6, of: 20 },
            unknown: 0,
            ratio: e(6.0, 1.5, 20.0),
            verdict: Verdict::More,
        };
        assert!((k.beyond() - 5.0).abs() < 1e-12);
        let all = Workspace {
            rules: Rules::default(),
            shares: Vec::new(),
            outside: Vec::new(),
            month: k.outside,
            month_share: e(0.3, 0.1, 0.5),
            window: k.outside,
            window_share: e(0.3, 0.1, 0.5),
            unknown: 0,
            compared: vec![k.clone()],
            least_margin: None,
            months: 10,
        };
        // Five callbacks beyond, of 40.00 each, over ten months.
        let found = all.keep_to(Some(4_000.0)).unwrap();
        assert_eq!(
            (found.monthly, found.outside),
            (Some(Minor(2_000)), k.outside)
        );
        let quiet = Compared {
            verdict: Verdict::Luck,
            ..k
        };
        let quiet = Workspace {
            compared: vec![quiet],
            ..all
        };
        assert_eq!(quiet.keep_to(None), None);
    }
}
