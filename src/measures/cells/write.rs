//! Results as CSV: the tables that another engine would hand over.

use super::CellFile;
use crate::measures::error::MeasureError;
use crate::measures::reader::{Reader, day};
use crate::measures::run::Results;
use crate::measures::shape::{Holds, Shape};
use chrono::DateTime;

/// A column, written.
type Written = Vec<String>;

/// A table of the shape out of the results.
pub(super) fn write(results: &Results, shape: &Shape) -> Result<CellFile, MeasureError> {
    let reader = Reader::new(results, shape.name)?;
    let columns: Vec<Written> = (shape.columns.iter())
        .map(|c| column(&reader, c.name, c.holds))
        .collect::<Result<_, _>>()?;
    let names: Vec<&str> = shape.columns.iter().map(|c| c.name).collect();
    Ok(CellFile {
        place: format!("{}.csv", shape.name),
        bytes: csv(&names, &columns, reader.len()),
    })
}

/// A table of months.
pub(super) fn months(table: &str, months: impl Iterator<Item = i64>) -> CellFile {
    let column: Written = months.map(|m| m.to_string()).collect();
    let rows = column.len();
    CellFile {
        place: format!("{table}.csv"),
        bytes: csv(&["month_no"], &[column], rows),
    }
}

fn column(reader: &Reader<'_>, name: &str, holds: Holds) -> Result<Written, MeasureError> {
    let integers = |to: fn(i64) -> String| -> Result<Written, MeasureError> {
        let values = reader.integers(name)?;
        Ok(values
            .all()
            .map(|v| v.map_or_else(String::new, to))
            .collect())
    };
    match holds {
        Holds::JobKey | Holds::Integer => integers(|x| x.to_string()),
        Holds::Moment => integers(moment),
        Holds::Day => {
            let days = reader.days(name)?;
            let text = |d| day(Some(d)).to_string();
            Ok(days
                .all()
                .map(|d| d.map_or_else(String::new, text))
                .collect())
        }
        Holds::Number => {
            let values = reader.floats(name)?;
            // The shortest digits that read back as the same number.
            let text = |x: f64| x.to_string();
            Ok(values
                .all()
                .map(|v| v.map_or_else(String::new, text))
                .collect())
        }
        Holds::Text => {
            let mut all = Vec::with_capacity(reader.len());
            reader.texts(name, |_, t| all.push(t.unwrap_or("").to_string()))?;
            Ok(all)
        }
    }
}

fn moment(micros: i64) -> String {
    let moment = DateTime::from_timestamp_micros(micros);
    moment.map_or_else(String::new, |m| {
        m.format("%Y-%m-%d %H:%M:%S%.f").to_string()
    })
}

fn csv(names: &[&str], columns: &[Written], rows: usize) -> Vec<u8> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    // Writing to memory cannot fail, nor can records of one length.
    let _ = writer.write_record(names);
    for row in 0..rows {
        let cells = columns
            .iter()
            .map(|c| c.get(row).map_or("", String::as_str));
        let _ = writer.write_record(cells);
    }
    writer.into_inner().unwrap_or_default()
}
