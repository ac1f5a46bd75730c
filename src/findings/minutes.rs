//! Hands-on minutes by vehicle class, against the constants in force.

use super::certainty::Change;
use super::left_out::{LeftOut, Rare};
use crate::estimate::Figure;
use crate::money::Minor;
use crate::settings::constants::Record;

/// What the fit found for one class: a full job on the smoothest finish.
#[derive(Debug, Clone, PartialEq)]
pub struct ClassFit {
    /// The class.
    pub class: String,
    /// Timed jobs of it.
    pub jobs: u64,
    /// Half of such jobs take less [min].
    pub typical: Figure,
    /// The mean, for costing [min].
    pub average: Figure,
    /// Four in five take less, for the calendar [min].
    pub plan_for: Figure,
    /// Coated jobs of the class this month.
    pub month_jobs: u64,
}

/// What the fit found.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted {
    /// By class that is told apart.
    pub classes: Vec<ClassFit>,
    /// Classes too rare for that, where there are any.
    pub rare: Option<Rare>,
    /// Finishes likewise.
    pub rare_finishes: Option<Rare>,
    /// The finish whose minutes the classes stand for.
    pub smoothest: Option<String>,
    /// Exponent of the covered share.
    pub covered_share: Figure,
    /// Other finishes: factor on the minutes.
    pub finishes: Vec<FinishFactor>,
    /// Spread between people (sd of log minutes).
    pub person_sd: Figure,
    /// Spread from job to job (sd of log minutes).
    pub residual_sd: Figure,
    /// Timed jobs used.
    pub jobs_used: u64,
    /// Timed jobs left out, and why.
    pub left_out: Vec<LeftOut>,
}

/// How much longer a finish takes.
#[derive(Debug, Clone, PartialEq)]
pub struct FinishFactor {
    /// The finish.
    pub finish: String,
    /// Factor on the minutes of the smoothest finish.
    pub factor: Figure,
}

/// One class against its constant.
#[derive(Debug, Clone, PartialEq)]
pub struct ClassMinutes {
    /// What the fit found.
    pub fit: ClassFit,
    /// The constant in force [min].
    pub in_force: Option<f64>,
    /// What the difference costs on the month's jobs, found less in force;
    /// above 0: longer than quoted.
    pub month_cost: Option<Minor>,
}

/// The section's findings.
#[derive(Debug, Clone, PartialEq)]
pub struct Minutes {
    /// By class.
    pub classes: Vec<ClassMinutes>,
    /// What else the fit found; its classes are moved into `classes`.
    pub fit: Fitted,
    /// Mean minutes of the month's timed jobs.
    pub now: Option<f64>,
    /// Timed jobs of the month.
    pub now_jobs: u64,
    /// The month against the usual on the same work by the same people; before
    /// and usual in minutes, the difference as a share.
    pub change: Change,
}

/// The month's own figures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Now {
    /// Mean minutes of the month's timed jobs.
    pub mean: Option<f64>,
    /// Timed jobs of the month.
    pub jobs: u64,
    /// The month against the usual.
    pub change: Change,
}

/// Finds how minutes stand to the constants. `record`: those in force at the
/// month's end; `per_minute`: loaded labour [minor units per minute].
pub fn find(
    mut fit: Fitted,
    record: Option<&Record>,
    per_minute: Option<f64>,
    now: Now,
) -> Minutes {
    let classes = std::mem::take(&mut fit.classes);
    let class = |c: ClassFit| {
        let in_force = record.and_then(|r| r.minutes.get(&c.class)).copied();
        let longer = c.typical.value().zip(in_force).map(|(a, b)| a - b);
        let month_cost = longer
            .zip(per_minute)
            .and_then(|(minutes, cost)| Minor::nearest(minutes * cost * c.month_jobs as f64));
        ClassMinutes {
            in_force,
            month_cost,
            fit: c,
        }
    };
    Minutes {
        classes: classes.into_iter().map(class).collect(),
        fit,
        now: now.mean,
        now_jobs: now.jobs,
        change: now.change,
    }
}
