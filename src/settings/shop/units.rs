//! Units of the numbers in an export, and what converts weighed or counted use.

use super::super::contract::Kind;
use super::super::error::{SettingsError, Source};
use super::super::raw::RawUnits;
use super::files::kind_of;
use crate::units::{AreaUnit, TemperatureUnit, UseUnit, VolumeUnit};
use std::collections::BTreeMap;

/// Units of the numbers in an export; single fields ("surfaces.area") win
/// over their kind. `None`: the heading may say, else the canonical unit.
#[derive(Debug, Clone, Default)]
pub struct Units {
    /// Film areas.
    pub area: Option<AreaUnit>,
    /// Coating used on jobs and callbacks.
    pub used: Option<UseUnit>,
    /// Bottles.
    pub volume: Option<VolumeUnit>,
    /// Temperatures.
    pub temperature: Option<TemperatureUnit>,
    /// Areas of one field.
    pub area_of: BTreeMap<String, AreaUnit>,
    /// Uses of one field.
    pub used_of: BTreeMap<String, UseUnit>,
    /// Volumes of one field.
    pub volume_of: BTreeMap<String, VolumeUnit>,
    /// Temperatures of one field.
    pub temperature_of: BTreeMap<String, TemperatureUnit>,
}

pub(super) fn units(source: &Source, raw: RawUnits) -> Result<Units, SettingsError> {
    let mut units = Units {
        area: raw.area,
        used: raw.used,
        volume: raw.volume,
        temperature: raw.temperature,
        ..Units::default()
    };
    for (name, word) in raw.fields {
        let bad = |expected: &str| source.value("units", &name, format!("\"{word}\""), expected);
        let parsed = |w: &str| toml::Value::String(w.to_string());
        match kind_of(&name) {
            Some(Kind::Area) => {
                let unit = parsed(&word).try_into();
                let unit = unit.map_err(|_| bad("\"m2\" or \"ft2\""))?;
                units.area_of.insert(name.clone(), unit);
            }
            Some(Kind::Used) => {
                let unit = parsed(&word).try_into();
                let unit = unit.map_err(|_| bad("\"mL\", \"g\", \"US fl oz\" or \"drops\""))?;
                units.used_of.insert(name.clone(), unit);
            }
            Some(Kind::Volume) => {
                let unit = parsed(&word).try_into();
                let unit = unit.map_err(|_| bad("\"mL\", \"L\" or \"US fl oz\""))?;
                units.volume_of.insert(name.clone(), unit);
            }
            Some(Kind::Temperature) => {
                let unit = parsed(&word).try_into();
                let unit = unit.map_err(|_| bad("\"C\" or \"F\""))?;
                units.temperature_of.insert(name.clone(), unit);
            }
            _ => {
                return Err(source.value(
                    "units",
                    &name,
                    format!("\"{word}\""),
                    "a key area, used, volume, temperature, or \"table.field\" of such a field",
                ));
            }
        }
    }
    Ok(units)
}

pub(super) fn positive(
    source: &Source,
    table: &str,
    raw: BTreeMap<String, f64>,
) -> Result<BTreeMap<String, f64>, SettingsError> {
    match raw.iter().find(|(_, v)| !(v.is_finite() && **v > 0.0)) {
        Some((key, v)) => Err(source.value(table, key, v, "a number above 0")),
        None => Ok(raw),
    }
}
