//! The constants of constants.toml, by kind.

use crate::settings::constants::Record;
use serde::Serialize;

/// A kind of constant, by its name in constants.toml.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Constant {
    /// mL a job.
    SetupMl,
    /// mL/m², by finish.
    MlPerM2,
    /// Typical minutes of a full job on the smoothest finish, by class.
    Minutes,
    /// Major units per mL.
    CostPerMl,
    /// Major units per hour, before loading.
    HourlyCost,
}

impl Constant {
    /// Its name in constants.toml.
    pub fn name(self) -> &'static str {
        match self {
            Self::SetupMl => "setup_ml",
            Self::MlPerM2 => "ml_per_m2",
            Self::Minutes => "minutes",
            Self::CostPerMl => "cost_per_ml",
            Self::HourlyCost => "hourly_cost",
        }
    }

    /// The constant of a record.
    pub fn of(self, record: &Record, key: &str) -> Option<f64> {
        match self {
            Self::SetupMl => record.setup_ml,
            Self::MlPerM2 => record.ml_per_m2.get(key).copied(),
            Self::Minutes => record.minutes.get(key).copied(),
            Self::CostPerMl => record.cost_per_ml,
            Self::HourlyCost => record.hourly_cost,
        }
    }

    /// Puts it into a record.
    pub(super) fn put(self, record: &mut Record, key: &str, value: f64) {
        match self {
            Self::SetupMl => record.setup_ml = Some(value),
            Self::MlPerM2 => drop(record.ml_per_m2.insert(key.into(), value)),
            Self::Minutes => drop(record.minutes.insert(key.into(), value)),
            Self::CostPerMl => record.cost_per_ml = Some(value),
            Self::HourlyCost => record.hourly_cost = Some(value),
        }
    }
}
