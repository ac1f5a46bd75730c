//! `constants.toml`: the dated constants that quotes rested on.
//!
//! Records are never edited in place; the one in force on a day is the latest
//! whose `effective_on` is on or before it, and before the first, the first.

use super::error::{SettingsError, Source};
use chrono::NaiveDate;
use compact_str::CompactString;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::Path;

/// One dated record. What it does not hold is not in force.
#[derive(Debug, Clone, PartialEq)]
pub struct Record {
    /// First day on which it holds.
    pub effective_on: NaiveDate,
    /// Where it came from, in the shop's words.
    pub source: String,
    /// Coating that the applicator takes before it gives any [mL a job].
    pub setup_ml: Option<f64>,
    /// Price of the coating, as bought [major units per mL].
    pub cost_per_ml: Option<f64>,
    /// Wage, before loading [major units per hour].
    pub hourly_cost: Option<f64>,
    /// Coating used by finish [mL/m²].
    pub ml_per_m2: BTreeMap<String, f64>,
    /// Hands-on minutes of a full job on the smoothest finish, by class.
    pub minutes: BTreeMap<String, f64>,
    /// Film area of a full job, by class [m²].
    pub full_area: BTreeMap<String, f64>,
    /// List price of a full job [major units], by class or "class/finish".
    pub list_price: BTreeMap<String, f64>,
}

impl Record {
    /// The list price of a full job, by class and finish: the pair's own where
    /// the list has one, else the class's.
    pub fn list_price_of(&self, class: &str, finish: &str) -> Option<f64> {
        let mut pair = CompactString::new(class);
        pair.push('/');
        pair.push_str(finish);
        let own = self.list_price.get(pair.as_str());
        own.or_else(|| self.list_price.get(class)).copied()
    }
}

/// All records, earliest first.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Constants {
    /// In order of `effective_on`.
    pub records: Vec<Record>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawConstants {
    #[serde(default)]
    record: Vec<RawRecord>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawRecord {
    effective_on: toml::Spanned<toml::value::Datetime>,
    #[serde(default)]
    source: String,
    setup_ml: Option<toml::Spanned<f64>>,
    cost_per_ml: Option<toml::Spanned<f64>>,
    hourly_cost: Option<toml::Spanned<f64>>,
    #[serde(default)]
    ml_per_m2: BTreeMap<String, toml::Spanned<f64>>,
    #[serde(default)]
    minutes: BTreeMap<String, toml::Spanned<f64>>,
    #[serde(default)]
    full_area: BTreeMap<String, toml::Spanned<f64>>,
    #[serde(default)]
    list_price: BTreeMap<String, toml::Spanned<f64>>,
}

impl Constants {
    /// Reads and checks `constants.toml` of a folder; no records where there
    /// is no such file.
    ///
    /// # Errors
    /// An unreadable file, an unknown key, a number that is not positive, a
    /// date that is no day, two records of one day: each with file and line.
    pub fn read(folder: &Path) -> Result<Self, SettingsError> {
        match Source::read(folder.join("constants.toml"))? {
            None => Ok(Self::default()),
            Some(source) => Self::check(&source),
        }
    }

    pub(super) fn check(source: &Source) -> Result<Self, SettingsError> {
        let raw: RawConstants = source.parse()?;
        let mut records = Vec::with_capacity(raw.record.len());
        let mut days = BTreeMap::new();
        for r in raw.record {
            let at = r.effective_on.span().start;
            let record = checked(source, r)?;
            if days.insert(record.effective_on, ()).is_some() {
                return Err(complaint(
                    source,
                    at,
                    "effective_on",
                    record.effective_on.to_string(),
                    "one record a day: another already starts on it",
                ));
            }
            records.push(record);
        }
        records.sort_by_key(|r| r.effective_on);
        Ok(Self { records })
    }

    /// The record in force on a day; `None` only where there is none at all.
    pub fn in_force(&self, day: NaiveDate) -> Option<&Record> {
        let later = self.records.partition_point(|r| r.effective_on <= day);
        self.records.get(later.saturating_sub(1))
    }
}

fn complaint(
    source: &Source,
    at: usize,
    key: &str,
    found: String,
    expected: &str,
) -> SettingsError {
    SettingsError::Value {
        file: source.file.clone(),
        line: source.line(at),
        key: key.to_string(),
        found,
        expected: expected.to_string(),
    }
}

fn checked(source: &Source, raw: RawRecord) -> Result<Record, SettingsError> {
    let at = raw.effective_on.span().start;
    let day = raw.effective_on.into_inner();
    let effective_on = super::date_of(&day).ok_or_else(|| {
        complaint(
            source,
            at,
            "effective_on",
            day.to_string(),
            "a day, as 2026-01-01",
        )
    })?;
    let one = |key: &str, x: Option<toml::Spanned<f64>>, least: f64| {
        x.map(|x| number(source, key, &x, least)).transpose()
    };
    let many = |table: &str, map: BTreeMap<String, toml::Spanned<f64>>| {
        map.into_iter()
            .map(|(k, x)| {
                let name = format!("{table}.{k}");
                Ok((k, number(source, &name, &x, f64::MIN_POSITIVE)?))
            })
            .collect::<Result<BTreeMap<_, _>, SettingsError>>()
    };
    Ok(Record {
        effective_on,
        source: raw.source,
        setup_ml: one("setup_ml", raw.setup_ml, 0.0)?,
        cost_per_ml: one("cost_per_ml", raw.cost_per_ml, f64::MIN_POSITIVE)?,
        hourly_cost: one("hourly_cost", raw.hourly_cost, 0.0)?,
        ml_per_m2: many("ml_per_m2", raw.ml_per_m2)?,
        minutes: many("minutes", raw.minutes)?,
        full_area: many("full_area", raw.full_area)?,
        list_price: many("list_price", raw.list_price)?,
    })
}

fn number(
    source: &Source,
    key: &str,
    x: &toml::Spanned<f64>,
    least: f64,
) -> Result<f64, SettingsError> {
    let value = *x.get_ref();
    if value.is_finite() && value >= least && value < 1.0e9 {
        return Ok(value);
    }
    let expected = if least > 0.0 {
        "a number above 0"
    } else {
        "0 or a number above it"
    };
    Err(complaint(
        source,
        x.span().start,
        key,
        value.to_string(),
        expected,
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parse(text: &str) -> Result<Constants, SettingsError> {
        Constants::check(&Source {
            file: "constants.toml".into(),
            text: text.into(),
        })
    }

    fn day(y: i32, m: u32, d: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(y, m, d).unwrap()
    }

    const TWO: &str = "[[record]]\neffective_on = 2026-06-01\nsetup_ml = 1.0\n\n\
                       [[record]]\neffective_on = 2026-01-01\n[record.list_price]\nsuv = 310\n\"suv/matte\" = 340.0\n";

    #[test]
    fn the_latest_record_on_or_before_a_day_is_in_force_and_before_the_first_the_first() {
        let c = parse(TWO).unwrap();
        let start = |d| c.in_force(d).unwrap().effective_on;
        assert_eq!(start(day(2025, 1, 1)), day(2026, 1, 1));
        assert_eq!(start(day(2026, 5, 31)), day(2026, 1, 1));
        assert_eq!(start(day(2026, 6, 1)), day(2026, 6, 1));
        assert_eq!(Constants::default().in_force(day(2026, 1, 1)), None);
    }

    #[test]
    fn a_pair_of_class_and_finish_has_its_own_price_else_the_class_has() {
        let c = parse(TWO).unwrap();
        let r = c.in_force(day(2026, 1, 1)).unwrap();
        assert_eq!(r.list_price_of("suv", "matte"), Some(340.0));
        assert_eq!(r.list_price_of("suv", "gloss"), Some(310.0));
        assert_eq!(r.list_price_of("van", "gloss"), None);
    }

    #[test]
    fn what_is_wrong_is_said_with_its_line() {
        let said = |t: &str| parse(t).unwrap_err().to_string();
        assert_eq!(
            said("[[record]]\neffective_on = 2026-01-01\ncost_per_ml = -2.0\n"),
            "constants.toml, line 3: cost_per_ml is -2; expected a number above 0"
        );
        let unknown = said("[[record]]\neffective_on = 2026-01-01\nset_up = 2.0\n");
        assert!(unknown.starts_with("constants.toml, line 3: unknown field `set_up`, expected"));
        let twice =
            "[[record]]\neffective_on = 2026-01-01\n[[record]]\neffective_on = 2026-01-01\n";
        assert!(said(twice).contains("line 4: effective_on is 2026-01-01; expected one record"));
        assert!(said("[[record]]\neffective_on = 10:00:00\n").contains("expected a day"));
    }
}
