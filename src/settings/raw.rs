//! `shop.toml` as it is written, before anything is checked.

use super::shop::{DateOrder, Encoding};
use crate::units::{AreaUnit, System, TemperatureUnit, UseUnit, VolumeUnit};
use serde::Deserialize;
use std::collections::BTreeMap;

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawShop {
    pub(super) files: BTreeMap<String, OneOrMany>,
    pub(super) columns: BTreeMap<String, BTreeMap<String, String>>,
    pub(super) units: RawUnits,
    pub(super) density: BTreeMap<String, f64>,
    pub(super) drops_per_ml: BTreeMap<String, f64>,
    pub(super) words: BTreeMap<String, BTreeMap<String, String>>,
    pub(super) dates: RawDates,
    pub(super) numbers: RawNumbers,
    pub(super) format: RawFormats,
    pub(super) money: RawMoney,
    pub(super) review: RawReview,
    pub(super) workspace: RawWorkspace,
    pub(super) page: RawPage,
}

#[derive(Debug, Deserialize)]
#[serde(untagged)]
pub(super) enum OneOrMany {
    One(String),
    Many(Vec<String>),
}

impl OneOrMany {
    pub(super) fn into_vec(self) -> Vec<String> {
        match self {
            Self::One(s) => vec![s],
            Self::Many(v) => v,
        }
    }
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(super) struct RawUnits {
    pub(super) area: Option<AreaUnit>,
    pub(super) used: Option<UseUnit>,
    pub(super) volume: Option<VolumeUnit>,
    pub(super) temperature: Option<TemperatureUnit>,
    #[serde(flatten)]
    pub(super) fields: BTreeMap<String, String>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawDates {
    pub(super) order: Option<DateOrder>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawNumbers {
    pub(super) decimal: Option<String>,
    pub(super) thousands: Option<String>,
}

/// `[format]` and, below it, `[format.file."name.csv"]`. The keys stand twice
/// because serde cannot refuse unknown keys beside a flattened struct.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawFormats {
    pub(super) file: BTreeMap<String, RawFormat>,
    encoding: Option<Encoding>,
    delimiter: Option<String>,
    quote: Option<String>,
    escape: Option<String>,
    heading_line: Option<u32>,
    heading_lines: Option<u32>,
    later_by: Option<String>,
}

impl RawFormats {
    /// What holds for every file.
    pub(super) fn all(&self) -> RawFormat {
        RawFormat {
            encoding: self.encoding,
            delimiter: self.delimiter.clone(),
            quote: self.quote.clone(),
            escape: self.escape.clone(),
            heading_line: self.heading_line,
            heading_lines: self.heading_lines,
            later_by: self.later_by.clone(),
        }
    }
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawFormat {
    pub(super) encoding: Option<Encoding>,
    pub(super) delimiter: Option<String>,
    pub(super) quote: Option<String>,
    pub(super) escape: Option<String>,
    pub(super) heading_line: Option<u32>,
    pub(super) heading_lines: Option<u32>,
    pub(super) later_by: Option<String>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawMoney {
    pub(super) currency: Option<String>,
    pub(super) labour_loading: Option<f64>,
    pub(super) consumables: Option<f64>,
    pub(super) card_fee_share: Option<f64>,
    pub(super) floor_margin: Option<f64>,
    pub(super) target_margin: Option<f64>,
    pub(super) price_rounding: Option<f64>,
    pub(super) minimum_price: Option<f64>,
    pub(super) prices_include_tax: Option<bool>,
    pub(super) tax_rate: Option<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(untagged)]
pub(super) enum RawWindow {
    Months(u32),
    Word(String),
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawReview {
    pub(super) window_months: Option<RawWindow>,
    pub(super) data_until: Option<toml::value::Datetime>,
    pub(super) outliers: Option<String>,
    pub(super) evidence_jobs: Option<f64>,
    pub(super) pace_prior_scale: Option<f64>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawWorkspace {
    pub(super) air_min_c: Option<f64>,
    pub(super) humidity_max: Option<f64>,
    pub(super) dew_point_margin_c: Option<f64>,
    pub(super) release_hours: Option<f64>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawPage {
    pub(super) units: Option<System>,
    pub(super) shop_name: Option<String>,
    pub(super) decimal: Option<String>,
    pub(super) thousands: Option<String>,
    pub(super) names: BTreeMap<String, String>,
}
