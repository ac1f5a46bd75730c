//! What a job to come takes and costs, and where each number comes from.

use super::Source;
use crate::estimate::Estimate;
use crate::money::Minor;
use chrono::NaiveDate;
use serde::Serialize;

/// Level of the ranges of one job.
pub const RANGE: f64 = 0.8;

/// What a number rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum From {
    /// The window's jobs alone.
    Jobs,
    /// Jobs, with the constant in force as evidence.
    JobsAndConstant,
    /// The constant in force alone.
    ConstantOnly,
}

/// One constant behind a number.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Rests {
    /// "set-up", a finish, a class.
    pub what: String,
    /// On what.
    pub from: From,
    /// Jobs of the window that carry it.
    pub jobs: u64,
}

/// A finish of the job.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Part {
    /// The finish.
    pub finish: String,
    /// Its film area [m²].
    pub area: f64,
}

/// Coating that the job takes [mL].
#[derive(Debug, Clone, PartialEq)]
pub struct Coating {
    /// On average.
    pub value: f64,
    /// Range of one such job at [`RANGE`]; `None` from constants alone.
    pub range: Option<Estimate>,
    /// What a bottle usually holds [mL].
    pub bottle_ml: Option<f64>,
    /// Behind it.
    pub rests: Vec<Rests>,
}

impl Coating {
    /// Whole bottles to have at hand for the upper end of the range.
    pub fn bottles_at_hand(&self) -> Option<u64> {
        let most = self.range.map_or(self.value, |r| r.high);
        self.bottle_ml.map(|b| (most / b).ceil().max(1.0) as u64)
    }
}

/// Hands-on minutes that the job takes.
#[derive(Debug, Clone, PartialEq)]
pub struct Minutes {
    /// Half of such jobs take less.
    pub typical: f64,
    /// The mean, for costing.
    pub average: f64,
    /// Four in five take less; `None` from constants alone.
    pub plan_for: Option<f64>,
    /// Range of one such job at [`RANGE`], whoever does it; `None` from
    /// constants alone.
    pub range: Option<Estimate>,
    /// Behind it.
    pub rests: Vec<Rests>,
}

/// Cost and prices of the job.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Money {
    /// Coating.
    pub coating: Minor,
    /// Loaded labour.
    pub labour: Minor,
    /// Consumables.
    pub consumables: Minor,
    /// Set aside for callbacks.
    pub reserve: Minor,
    /// All four.
    pub cost: Minor,
    /// Price that leaves the floor margin, rounded up, tax as the shop writes
    /// prices.
    pub floor: Minor,
    /// Price that leaves the target margin, likewise.
    pub target: Minor,
    /// What a floor price leaves of itself, as a share.
    pub floor_margin: f64,
    /// What a target price leaves.
    pub target_margin: f64,
}

/// Why a part of a quote has no number.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Lacks {
    /// Neither jobs nor constants tell the use of these finishes.
    Use(Vec<String>),
    /// Neither jobs nor constants tell the minutes of the class.
    Minutes(String),
    /// The minutes of a partial job or a rougher finish cannot be told from
    /// those of a full one by constants alone.
    Scaling,
    /// The price of the coating.
    CoatingCost,
    /// The wage.
    Wage,
    /// Margins and fees leave nothing of a price.
    Margin,
    /// One of the other parts.
    Parts,
}

/// The quote.
#[derive(Debug, Clone, PartialEq)]
pub struct Quote {
    /// Vehicle class.
    pub class: String,
    /// Its finishes.
    pub parts: Vec<Part>,
    /// True where an area was taken from the class's full area.
    pub full_area_used: bool,
    /// Share of a full job of the class; `None` where that is not known.
    pub covered: Option<f64>,
    /// The finish for which constants by class stand.
    pub smoothest: Option<String>,
    /// Coating.
    pub coating: Result<Coating, Lacks>,
    /// Minutes.
    pub minutes: Result<Minutes, Lacks>,
    /// Price of the coating [minor units per mL].
    pub per_ml: Option<f64>,
    /// Where it comes from.
    pub per_ml_from: Source,
    /// Wage before loading [minor units per hour].
    pub wage: Option<f64>,
    /// Where it comes from.
    pub wage_from: Source,
    /// Money.
    pub money: Result<Money, Lacks>,
    /// First day of the constants in force.
    pub constants_of: Option<NaiveDate>,
    /// Where those came from, in the shop's words.
    pub source: Option<String>,
}
