//! The next record of `constants.toml`: its text, and putting it there.
//!
//! A record is appended and never edited: the earlier text is kept byte for
//! byte, the whole is written beside and moved in, and two runs at once wait
//! for one another.

use super::constants::{Constants, Record};
use super::error::{SettingsError, Source};
use crate::disk::Place;
use serde::Serialize;
use std::collections::BTreeMap;
use std::path::Path;

const FILE: &str = "constants.toml";

#[derive(Serialize)]
struct RawFile<'a> {
    record: [RawRecord<'a>; 1],
}

#[derive(Serialize)]
struct RawRecord<'a> {
    effective_on: toml::value::Datetime,
    source: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    setup_ml: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    cost_per_ml: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    hourly_cost: Option<f64>,
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    ml_per_m2: &'a BTreeMap<String, f64>,
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    minutes: &'a BTreeMap<String, f64>,
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    full_area: &'a BTreeMap<String, f64>,
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    list_price: &'a BTreeMap<String, f64>,
}

/// A record as it stands in `constants.toml`.
///
/// # Errors
/// [`SettingsError::Record`] where it cannot be written as TOML.
pub fn text(record: &Record) -> Result<String, SettingsError> {
    let refuse = |what: String| SettingsError::Record { what };
    let day = record.effective_on.to_string();
    let raw = RawRecord {
        effective_on: day
            .parse()
            .map_err(|e: toml::value::DatetimeParseError| refuse(e.to_string()))?,
        source: &record.source,
        setup_ml: record.setup_ml,
        cost_per_ml: record.cost_per_ml,
        hourly_cost: record.hourly_cost,
        ml_per_m2: &record.ml_per_m2,
        minutes: &record.minutes,
        full_area: &record.full_area,
        list_price: &record.list_price,
    };
    toml::to_string(&RawFile { record: [raw] }).map_err(|e| refuse(e.to_string()))
}

/// What came of adopting a record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Adopted {
    /// It was appended.
    Appended,
    /// It stood there already, from the same review: nothing was written.
    Already,
}

/// Appends a record to the folder's `constants.toml`.
///
/// # Errors
/// [`SettingsError::Taken`] where another record starts on that day;
/// [`SettingsError::NotWritten`] where the file system refuses; the file's own
/// faults. In each case the file stands as it did.
pub fn append(folder: &Path, record: &Record) -> Result<Adopted, SettingsError> {
    let held = Place::of(&folder.join(FILE))?.hold()?;
    let path = folder.join(FILE);
    let earlier = Source::read(path.clone())?.map_or_else(String::new, |s| s.text);
    let Some(next) = appended(&path, &earlier, record)? else {
        return Ok(Adopted::Already);
    };
    held.replace_file(next.as_bytes())?;
    Ok(Adopted::Appended)
}

/// The earlier text with the record behind it; `None` where it stands there.
fn appended(path: &Path, earlier: &str, record: &Record) -> Result<Option<String>, SettingsError> {
    let read = |text: String| {
        Constants::check(&Source {
            file: path.to_path_buf(),
            text,
        })
    };
    let there = read(earlier.to_string())?;
    if let Some(other) = there
        .records
        .iter()
        .find(|r| r.effective_on == record.effective_on)
    {
        return if other.source == record.source {
            Ok(None)
        } else {
            Err(SettingsError::Taken {
                file: path.to_path_buf(),
                day: record.effective_on,
                source_of_it: other.source.clone(),
            })
        };
    }
    let gap = match earlier {
        "" => "",
        t if t.ends_with('\n') => "\n",
        _ => "\n\n",
    };
    let next = format!("{earlier}{gap}{}", text(record)?);
    read(next.clone())?;
    Ok(Some(next))
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::NaiveDate;
    use std::fs;

    fn record(year: i32, month: u32) -> Record {
        Record {
            effective_on: NaiveDate::from_ymd_opt(year, month, 1).unwrap(),
            source: format!("recalibrated from review of {month}"),
            setup_ml: Some(1.2),
            cost_per_ml: Some(2.91),
            hourly_cost: None,
            ml_per_m2: BTreeMap::from([("gloss".into(), 1.5), ("a \"b\" = [c]".into(), 2.0)]),
            minutes: BTreeMap::from([("suv".into(), 42.0)]),
            full_area: BTreeMap::new(),
            list_price: BTreeMap::from([("suv/matte".into(), 340.0)]),
        }
    }

    #[test]
    fn a_record_reads_back_as_it_was_and_the_earlier_text_stays() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join(FILE);
        let before = "# mine\n[[record]]\neffective_on = 2026-01-01 # spring\nsetup_ml = 1.0";
        fs::write(&path, before).unwrap();
        assert_eq!(
            append(dir.path(), &record(2026, 11)).unwrap(),
            Adopted::Appended
        );
        let after = fs::read_to_string(&path).unwrap();
        assert!(after.starts_with(before), "{after}");
        let read = Constants::read(dir.path()).unwrap();
        assert_eq!(read.records.len(), 2);
        assert_eq!(read.records[1], record(2026, 11));
        assert_eq!(
            append(dir.path(), &record(2026, 11)).unwrap(),
            Adopted::Already
        );
        assert_eq!(fs::read_to_string(&path).unwrap(), after);
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1, "no litter");
    }

    #[test]
    fn a_day_that_is_taken_by_another_record_is_refused() {
        let dir = tempfile::tempdir().unwrap();
        append(dir.path(), &record(2026, 11)).unwrap();
        let mine = Record {
            source: "set by hand".into(),
            ..record(2026, 11)
        };
        let before = fs::read(dir.path().join(FILE)).unwrap();
        let said = append(dir.path(), &mine).unwrap_err().to_string();
        assert!(
            said.contains("a record already starts on 2026-11-01"),
            "{said}"
        );
        assert_eq!(fs::read(dir.path().join(FILE)).unwrap(), before);
    }

    #[test]
    fn runs_at_once_lose_nothing_of_one_another() {
        let dir = tempfile::tempdir().unwrap();
        std::thread::scope(|s| {
            for thread in 0..4 {
                let folder = dir.path();
                s.spawn(move || {
                    for month in 1..=12 {
                        append(folder, &record(2026 + thread, month)).unwrap();
                    }
                });
            }
        });
        let read = Constants::read(dir.path()).unwrap();
        assert_eq!(read.records.len(), 48);
    }
}
