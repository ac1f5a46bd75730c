//! One table out of its CSV, held to its shape: every column there, every cell
//! of its kind, no row twice.

use super::CellFile;
use super::error::CellsError;
use super::sheet::{Cell, Sheet, Values};
use crate::measures::shape::{Column, Holds, Shape};
use chrono::{NaiveDate, NaiveDateTime};
use csv::{ReaderBuilder, StringRecord};
use std::collections::HashSet;

/// Reads a table.
pub(super) fn read(file: &CellFile, shape: &'static Shape) -> Result<Sheet, CellsError> {
    let bytes = file
        .bytes
        .strip_prefix(b"\xef\xbb\xbf")
        .unwrap_or(&file.bytes);
    let mut reader = ReaderBuilder::new().from_reader(bytes);
    let failed = |source| CellsError::Csv {
        place: file.place.clone(),
        source,
    };
    let heading = reader.headers().map_err(failed)?.clone();
    let places = places(&file.place, shape, &heading)?;
    let mut sheet = Sheet::empty(shape, &file.place);
    let mut record = StringRecord::new();
    while reader.read_record(&mut record).map_err(failed)? {
        let line = record.position().map_or(0, csv::Position::line);
        row(&mut sheet, &places, &record, line)?;
    }
    one_row_each(&sheet)?;
    Ok(sheet)
}

/// Where each column of the shape stands in the file.
fn places(
    place: &str,
    shape: &'static Shape,
    heading: &StringRecord,
) -> Result<Vec<usize>, CellsError> {
    let names: Vec<&str> = shape.columns.iter().map(|c| c.name).collect();
    let wrong = |column: &str, fault| CellsError::Heading {
        place: place.to_string(),
        column: column.to_string(),
        fault,
        expected: names.join(", "),
    };
    if let Some(other) = heading.iter().find(|h| !names.contains(h)) {
        return Err(wrong(other, "is none of this table's"));
    }
    let find = |name: &&str| {
        let mut at = heading.iter().enumerate().filter(|(_, h)| h == name);
        match (at.next(), at.next()) {
            (None, _) => Err(wrong(name, "is missing")),
            (Some(_), Some(_)) => Err(wrong(name, "stands there twice")),
            (Some((i, _)), None) => Ok(i),
        }
    };
    names.iter().map(find).collect()
}

fn row(
    sheet: &mut Sheet,
    places: &[usize],
    record: &StringRecord,
    line: u64,
) -> Result<(), CellsError> {
    sheet.lines.push(line);
    let pairs = sheet.shape.columns.iter().zip(places);
    for ((column, at), values) in pairs.zip(&mut sheet.columns) {
        let text = record.get(*at).unwrap_or("");
        if !push(values, column, text) {
            return Err(CellsError::Cell {
                place: sheet.place.clone(),
                line,
                column: column.name,
                found: shown(text),
                expected: expected(column.holds),
            });
        }
    }
    Ok(())
}

/// Appends a cell; false where it is not of the column's kind.
fn push(values: &mut Values, column: &Column, text: &str) -> bool {
    if text.is_empty() {
        values.push_none();
        return column.optional;
    }
    match (values, column.holds) {
        (Values::Texts(all), _) => {
            all.push(Some(text.to_string()));
            true
        }
        (Values::Numbers(all), _) => {
            let number: Option<f64> = text.parse().ok();
            let number = number.filter(|x| x.is_finite());
            all.push(number);
            number.is_some()
        }
        (Values::Integers(all), holds) => {
            let integer = match holds {
                Holds::Day => day(text),
                Holds::Moment => moment(text),
                _ => text.parse().ok(),
            };
            all.push(integer);
            integer.is_some()
        }
    }
}

/// Days since 1970-01-01.
fn day(text: &str) -> Option<i64> {
    let day = NaiveDate::parse_from_str(text, "%Y-%m-%d").ok();
    let day = day.filter(|_| text.len() == "2026-10-31".len());
    Some((day? - NaiveDate::default()).num_days())
}

/// Microseconds since 1970-01-01.
fn moment(text: &str) -> Option<i64> {
    let format = match text.as_bytes().get("2026-10-31".len()) {
        Some(b'T') => "%Y-%m-%dT%H:%M:%S%.f",
        _ => "%Y-%m-%d %H:%M:%S%.f",
    };
    let moment = NaiveDateTime::parse_from_str(text, format).ok()?;
    Some(moment.and_utc().timestamp_micros())
}

fn expected(holds: Holds) -> &'static str {
    match holds {
        Holds::JobKey => "a job's key",
        Holds::Text => "text",
        Holds::Integer => "a whole number, as in 42",
        Holds::Number => "a number, as in 14.5",
        Holds::Day => "a day, as in 2026-10-31",
        Holds::Moment => "a moment, as in 2026-10-31 16:45:00",
    }
}

/// The cell in quotes, cut where it is long.
fn shown(text: &str) -> String {
    const MOST: usize = 40;
    match text {
        "" => "an empty cell".to_string(),
        text => format!("{:?}", text.chars().take(MOST).collect::<String>()),
    }
}

/// No two rows agree in all the columns that tell rows apart.
fn one_row_each(sheet: &Sheet) -> Result<(), CellsError> {
    if !sheet.shape.has_grain() {
        return Ok(());
    }
    let mut seen: HashSet<Vec<Cell<'_>>> = HashSet::with_capacity(sheet.len());
    for (i, line) in sheet.lines.iter().enumerate() {
        if !seen.insert(sheet.grain(i)) {
            let grain = sheet.shape.columns.iter().filter(|c| c.grain);
            let names: Vec<&str> = grain.map(|c| c.name).collect();
            return Err(CellsError::Twice {
                place: sheet.place.clone(),
                line: *line,
                grain: names.join(", "),
            });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measures::shape::shape_of;

    fn read_as(query: &str, text: &str) -> Result<Sheet, String> {
        let file = CellFile {
            place: format!("{query}.csv"),
            bytes: text.as_bytes().to_vec(),
        };
        read(&file, shape_of(query).unwrap()).map_err(|e| e.to_string())
    }

    #[test]
    fn columns_may_stand_in_any_order_and_text_may_be_empty() {
        let sheet = read_as("wages", "\u{feff}person,hourly_cost,shop\nA,2700,\n").unwrap();
        assert_eq!(sheet.columns[0], Values::Texts(vec![None]));
        assert_eq!(sheet.columns[1], Values::Texts(vec![Some("A".into())]));
        assert_eq!(sheet.columns[2], Values::Integers(vec![Some(2700)]));
    }

    #[test]
    fn headings_and_cells_that_do_not_fit_are_named_with_file_and_line() {
        let said = |text| read_as("wages", text).unwrap_err();
        let columns = "The columns are shop, person, hourly_cost.";
        assert_eq!(
            said("shop,person\n"),
            format!("wages.csv: column hourly_cost is missing. {columns}")
        );
        assert_eq!(
            said("shop,person,hourly_cost,person\n"),
            format!("wages.csv: column person stands there twice. {columns}")
        );
        assert_eq!(
            said("shop,person,hourly_cost,wage\n"),
            format!("wages.csv: column wage is none of this table's. {columns}")
        );
        assert_eq!(
            said("shop,person,hourly_cost\n,A,27.50\n"),
            "wages.csv, line 2, column hourly_cost: found \"27.50\"; expected a whole number, as in 42"
        );
        assert_eq!(
            said("shop,person,hourly_cost\n,A,\n"),
            "wages.csv, line 2, column hourly_cost: found an empty cell; expected a whole number, as in 42"
        );
        assert_eq!(
            said("shop,person,hourly_cost\n,A,1\n,B,1\n,A,2\n"),
            "wages.csv, line 4: a second row with the same shop, person. There is one row for each."
        );
        assert!(said("shop,person,hourly_cost\n,A\n").contains("line: 2"));
    }

    #[test]
    fn days_and_moments_are_read_as_iso_8601_writes_them_and_no_other_way() {
        assert_eq!(day("1970-01-02"), Some(1));
        assert_eq!(day("1970-1-2"), None);
        assert_eq!(day("01/02/1970"), None);
        assert_eq!(moment("1970-01-01 00:00:01.5"), Some(1_500_000));
        assert_eq!(moment("1970-01-01T00:01:00"), Some(60_000_000));
        assert_eq!(moment("1970-01-01"), None);
    }

    #[test]
    fn numbers_that_are_none_are_refused() {
        for bad in ["NaN", "inf", "1,5", "1 000"] {
            let text = format!("vehicle_class,jobs,area\nsuv,1,\"{bad}\"\n");
            let said = read_as("full_area", &text).unwrap_err();
            assert!(said.contains("expected a number, as in 14.5"), "{said}");
        }
    }
}
