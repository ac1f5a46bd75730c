//! Coating used per area, by finish, against the constants in force.

use super::certainty::Change;
use super::left_out::{LeftOut, Rare};
use crate::estimate::Figure;
use crate::money::Minor;
use crate::settings::constants::Record;
use serde::Serialize;

/// What the fit found for one finish.
#[derive(Debug, Clone, PartialEq)]
pub struct FinishFit {
    /// The finish.
    pub finish: String,
    /// Measured jobs that carry it.
    pub jobs: u64,
    /// Data and the constants in force together [mL/m²].
    pub blended: Figure,
    /// Data alone [mL/m²].
    pub data_alone: Figure,
    /// Film area of that finish on the month's coated jobs [m²].
    pub month_area: f64,
}

/// What emptied bottles told the fit.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct BottleUse {
    /// Bottles that entered.
    pub used: u64,
    /// Jobs were laid to bottles by the bottle that their spells name.
    pub by_name: bool,
    /// Jobs were laid to bottles by the days on which these were open.
    pub by_date: bool,
    /// Bottles of the window that could not enter.
    pub left_out: Vec<BottleLeftOut>,
}

/// A bottle that the fit leaves out, and why.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BottleLeftOut {
    /// The shop's key; empty where there is one shop.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub shop: String,
    /// The bottle.
    pub bottle: String,
    /// Why.
    pub why: WhyNot,
}

/// Why a bottle is left out of the fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum WhyNot {
    /// It was not opened and emptied within the months of the fit.
    NotWithin,
    /// What it held is not recorded, or no more than was left over.
    NoVolume,
    /// More was measured on it than it held.
    MoreThanItHeld,
    /// A job of its days names no bottle, while others do.
    JobWithoutBottle,
    /// A job done from it has no area.
    JobWithoutArea,
    /// A job done from it is on a finish too rare to be told apart.
    RareFinish,
    /// It counts as one with a bottle that is left out.
    WithAnother,
}

/// What the fit found.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted {
    /// What the applicator takes before it gives any [mL a job], data alone.
    pub setup: Figure,
    /// The same with the constants in force.
    pub setup_blended: Figure,
    /// By finish that is told apart.
    pub finishes: Vec<FinishFit>,
    /// Finishes too rare for that, where there are any.
    pub rare: Option<Rare>,
    /// Measured jobs used.
    pub jobs_used: u64,
    /// Emptied bottles.
    pub bottles: BottleUse,
    /// Measured jobs left out, and why.
    pub left_out: Vec<LeftOut>,
}

/// One finish against its constant.
#[derive(Debug, Clone, PartialEq)]
pub struct FinishUse {
    /// What the fit found.
    pub fit: FinishFit,
    /// The constant in force [mL/m²].
    pub in_force: Option<f64>,
    /// What the difference costs on the month's film, found less in force;
    /// above 0: more coating than quoted.
    pub month_cost: Option<Minor>,
}

/// The section's findings.
#[derive(Debug, Clone, PartialEq)]
pub struct Consumption {
    /// Set-up [mL a job], data alone.
    pub setup: Figure,
    /// The same with the constants in force.
    pub setup_blended: Figure,
    /// Its constant in force.
    pub setup_in_force: Option<f64>,
    /// By finish that is told apart, in the order of the data.
    pub finishes: Vec<FinishUse>,
    /// Finishes too rare for that, where there are any.
    pub rare: Option<Rare>,
    /// Measured jobs used.
    pub jobs_used: u64,
    /// Emptied bottles.
    pub bottles: BottleUse,
    /// Measured jobs left out, and why.
    pub left_out: Vec<LeftOut>,
    /// Coating per area of the month's measured jobs [mL/m²].
    pub now: Option<f64>,
    /// Measured jobs of the month.
    pub now_jobs: u64,
    /// The month against the usual on the same work; before and usual in
    /// mL/m², the difference as a share.
    pub change: Change,
}

/// The month's own figures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Now {
    /// Coating per area of the month's measured jobs [mL/m²].
    pub per_m2: Option<f64>,
    /// Measured jobs of the month.
    pub jobs: u64,
    /// The month against the usual.
    pub change: Change,
}

/// Finds how use stands to the constants. `record`: those in force at the
/// month's end; `per_ml`: price of the coating [minor units per mL].
pub fn find(fit: Fitted, record: Option<&Record>, per_ml: Option<f64>, now: Now) -> Consumption {
    let setup_in_force = record.and_then(|r| r.setup_ml);
    Consumption {
        setup: fit.setup,
        setup_blended: fit.setup_blended,
        setup_in_force,
        finishes: fit
            .finishes
            .into_iter()
            .map(|f| finish_use(f, record, per_ml))
            .collect(),
        rare: fit.rare,
        jobs_used: fit.jobs_used,
        bottles: fit.bottles,
        left_out: fit.left_out,
        now: now.per_m2,
        now_jobs: now.jobs,
        change: now.change,
    }
}

fn finish_use(fit: FinishFit, record: Option<&Record>, per_ml: Option<f64>) -> FinishUse {
    let in_force = record.and_then(|r| r.ml_per_m2.get(&fit.finish)).copied();
    let cost = |found: f64, constant: f64, per_ml: f64| {
        Minor::nearest((found - constant) * fit.month_area * per_ml)
    };
    let month_cost = match (fit.data_alone.value(), in_force, per_ml) {
        (Some(found), Some(constant), Some(per_ml)) => cost(found, constant, per_ml),
        _ => None,
    };
    FinishUse {
        in_force,
        month_cost,
        fit,
    }
}
