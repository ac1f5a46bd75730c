//! Which constants to change, decided once: a constant is proposed where the
//! data's interval excludes the one in force and the refit predicted better
//! over the last months; else it is kept, or there is not enough to say. What
//! bottles cost is a fact, without an interval: it is proposed where it differs
//! by more than [`WORTH_CHANGING`] and predicted better.

mod constant;
mod decide;
#[cfg(test)]
mod tests;

pub use constant::Constant;
pub use decide::{LEAST_PREDICTED, MATTERS, Verdict, WORTH_CHANGING, Why};

use super::backtest::{Backtest, Compared};
use crate::estimate::Figure;
use crate::settings::constants::Record;
use crate::settings::month::Month;
use chrono::NaiveDate;
use decide::{decide, to_digits};
use std::collections::BTreeMap;

/// One constant.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Which.
    pub constant: Constant,
    /// Finish or class; empty where it has none.
    pub key: String,
    /// What is counted by `n`: "jobs", "bottles".
    pub of: &'static str,
    /// The constant in force.
    pub in_force: Option<f64>,
    /// By the data alone.
    pub data_alone: Figure,
    /// With the constants in force as evidence.
    pub blended: Figure,
    /// A fact of the window's records, which has no sampling error.
    pub exact: bool,
    /// Both on the jobs that rest on it.
    pub proof: Option<Compared>,
    /// What was predicted for it: "jobs", "bottles".
    pub proof_of: &'static str,
    /// What to do.
    pub verdict: Verdict,
    /// Why.
    pub why: Why,
    /// The value to adopt.
    pub proposed: Option<f64>,
}

/// What was found for one constant.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// Which.
    pub constant: Constant,
    /// Finish or class; empty where it has none.
    pub key: String,
    /// What is counted.
    pub of: &'static str,
    /// By the data alone.
    pub data_alone: Figure,
    /// With the constants in force.
    pub blended: Figure,
    /// An error of this size matters; `None`: [`MATTERS`] of the constant.
    pub matters: Option<f64>,
    /// A fact of the window's records, which has no sampling error.
    pub exact: bool,
    /// Residual standard deviation of one observation, where more of them
    /// narrow only that part of the interval; `None`: they narrow all of it.
    pub residual: Option<f64>,
}

/// All constants, and what is proposed.
#[derive(Debug, Clone, PartialEq)]
pub struct Recalibration {
    /// One a constant, in the order of constants.toml.
    pub lines: Vec<Line>,
    /// Rolling origin over the last months.
    pub backtest: Backtest,
    /// The next record, where anything is to be adopted.
    pub proposed: Option<Record>,
    /// First day of a record that starts after the month.
    pub later: Option<NaiveDate>,
}

impl Recalibration {
    /// Lines of some kinds.
    pub fn of<'a>(&'a self, kinds: &'a [Constant]) -> impl Iterator<Item = &'a Line> {
        self.lines.iter().filter(|l| kinds.contains(&l.constant))
    }

    /// The line of one constant.
    pub fn line(&self, constant: Constant, key: &str) -> Option<&Line> {
        let mut lines = self.lines.iter();
        lines.find(|l| l.constant == constant && l.key == key)
    }

    /// The value to adopt for a constant, where one is proposed.
    pub fn to_adopt(&self, constant: Constant, key: &str) -> Option<f64> {
        self.line(constant, key)?.proposed
    }

    /// Lines whose constant is to be changed.
    pub fn changes(&self) -> impl Iterator<Item = &Line> {
        self.lines.iter().filter(|l| l.proposed.is_some())
    }
}

/// Decides every constant. `record`: those in force at the end of `month`;
/// `later`: when the next record after it starts.
pub fn find(
    found: Vec<Found>,
    backtest: Backtest,
    record: Option<&Record>,
    later: Option<NaiveDate>,
    month: Month,
) -> Recalibration {
    let lines: Vec<Line> = (found.into_iter())
        .map(|f| line(f, record, &backtest))
        .collect();
    Recalibration {
        proposed: proposed(&lines, record, month),
        lines,
        backtest,
        later,
    }
}

/// First day of the record that a review of `month` proposes.
pub fn effective_on(month: Month) -> NaiveDate {
    month.plus(1).first()
}

fn proposed(lines: &[Line], record: Option<&Record>, month: Month) -> Option<Record> {
    let mut next = record.cloned().unwrap_or(Record {
        effective_on: effective_on(month),
        source: String::new(),
        setup_ml: None,
        cost_per_ml: None,
        hourly_cost: None,
        ml_per_m2: BTreeMap::new(),
        minutes: BTreeMap::new(),
        full_area: BTreeMap::new(),
        list_price: BTreeMap::new(),
    });
    next.effective_on = effective_on(month);
    next.source = format!("recalibrated from review {month}");
    let mut any = false;
    for line in lines {
        if let Some(value) = line.proposed {
            line.constant.put(&mut next, &line.key, value);
            any = true;
        }
    }
    any.then_some(next)
}

fn line(f: Found, record: Option<&Record>, backtest: &Backtest) -> Line {
    let in_force = record.and_then(|r| f.constant.of(r, &f.key));
    let proof = backtest
        .by_constant
        .get(&(f.constant, f.key.clone()))
        .copied();
    let of_use = matches!(f.constant, Constant::SetupMl | Constant::MlPerM2);
    let bottles = of_use && backtest.use_by_bottles;
    let proof_of = if bottles { "bottles" } else { f.of };
    let (verdict, why) = decide(&f, in_force, proof, proof_of);
    let value = f.blended.value().map(to_digits);
    Line {
        proposed: value.filter(|_| verdict == Verdict::Adopt),
        constant: f.constant,
        key: f.key,
        of: f.of,
        in_force,
        data_alone: f.data_alone,
        blended: f.blended,
        exact: f.exact,
        proof,
        proof_of,
        verdict,
        why,
    }
}
