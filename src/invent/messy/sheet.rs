//! A sheet in the making: cells become lines, lines become bytes.

use super::MessyFile;
use crate::invent::tables::Job;
use chrono::{Datelike, NaiveDate, NaiveDateTime, Timelike};

/// How text becomes bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Coding {
    /// windows-1252.
    Cp1252,
    /// UTF-8.
    Utf8,
    /// UTF-8 after a byte order mark.
    Utf8Mark,
}

/// How a sheet is written.
#[derive(Debug, Clone, Copy)]
pub(super) struct Dialect {
    pub(super) name: &'static str,
    pub(super) delimiter: char,
    pub(super) coding: Coding,
    pub(super) line_end: &'static str,
    /// Quotes round every cell.
    pub(super) quote_all: bool,
}

/// A sheet.
#[derive(Debug)]
pub(super) struct Sheet {
    pub(super) dialect: Dialect,
    bytes: Vec<u8>,
    lines: u64,
}

impl Sheet {
    /// An empty one.
    pub(super) fn new(dialect: Dialect) -> Self {
        let bytes = match dialect.coding {
            Coding::Utf8Mark => b"\xEF\xBB\xBF".to_vec(),
            _ => Vec::new(),
        };
        Self {
            dialect,
            bytes,
            lines: 0,
        }
    }

    /// Adds a line of text as it is, and gives its number, from 1.
    pub(super) fn line(&mut self, text: &str) -> u64 {
        let bytes = self.dialect.coding.bytes(text);
        self.raw(&bytes)
    }

    /// Adds a line of bytes, and gives its number, from 1.
    pub(super) fn raw(&mut self, bytes: &[u8]) -> u64 {
        self.bytes.extend_from_slice(bytes);
        self.bytes
            .extend_from_slice(self.dialect.line_end.as_bytes());
        self.lines += 1;
        self.lines
    }

    /// Adds a line of cells.
    pub(super) fn row<T: AsRef<str>>(&mut self, cells: &[T]) -> u64 {
        let line = self.dialect.join(cells);
        self.line(&line)
    }

    /// The file.
    pub(super) fn into_file(self) -> MessyFile {
        MessyFile {
            name: self.dialect.name,
            bytes: self.bytes,
        }
    }
}

impl Dialect {
    /// Cells as one line, quoted where they need it.
    pub(super) fn join<T: AsRef<str>>(&self, cells: &[T]) -> String {
        let mut line = String::new();
        for (place, cell) in cells.iter().enumerate() {
            if place > 0 {
                line.push(self.delimiter);
            }
            line.push_str(&self.quoted(cell.as_ref()));
        }
        line
    }

    fn quoted(&self, cell: &str) -> String {
        let needs = |c: char| c == self.delimiter || matches!(c, '"' | '\n' | '\r');
        if self.quote_all || cell.contains(needs) {
            format!("\"{}\"", cell.replace('"', "\"\""))
        } else {
            cell.to_string()
        }
    }
}

impl Coding {
    fn bytes(self, text: &str) -> Vec<u8> {
        match self {
            Self::Cp1252 => text.chars().map(cp1252).collect(),
            Self::Utf8 | Self::Utf8Mark => text.as_bytes().to_vec(),
        }
    }
}

/// The byte of a character in windows-1252, for the characters used here.
fn cp1252(c: char) -> u8 {
    match c {
        '–' => 0x96,
        '’' => 0x92,
        other => u8::try_from(u32::from(other)).unwrap_or(b'?'),
    }
}

/// `3/9/2026`
pub(super) fn us_date(day: NaiveDate) -> String {
    format!("{}/{}/{}", day.month(), day.day(), day.year())
}

/// `3/9/2026 2:05 PM`
pub(super) fn us_moment(moment: NaiveDateTime) -> String {
    let (afternoon, hour) = moment.hour12();
    let half = if afternoon { "PM" } else { "AM" };
    let minute = moment.minute();
    format!("{} {hour}:{minute:02} {half}", us_date(moment.date()))
}

/// `$1,234.50`
pub(super) fn dollars(minor: i64) -> String {
    let (whole, cents) = (minor / 100, minor % 100);
    let mut text = whole.to_string();
    let mut place = text.len();
    while place > 3 {
        place -= 3;
        text.insert(place, ',');
    }
    format!("${text}.{cents:02}")
}

/// A number that may be missing, to so many decimals.
pub(super) fn decimal(x: Option<f64>, decimals: usize) -> String {
    x.map_or_else(String::new, |x| format!("{x:.decimals$}"))
}

/// Square metres as square feet.
pub(super) fn square_feet(m2: f64) -> String {
    format!("{:.3}", m2 / super::M2_PER_FT2)
}

/// Millilitres as US fluid ounces.
pub(super) fn fluid_ounces(ml: Option<f64>) -> String {
    decimal(ml.map(|x| x / super::ML_PER_FL_OZ), 5)
}

/// Degrees Celsius as degrees Fahrenheit: a tenth is exactly 0.18.
pub(super) fn fahrenheit(celsius: Option<f64>) -> String {
    decimal(celsius.map(|c| c * 1.8 + 32.0), 2)
}

/// Key of a job, as in the canonical tables.
pub(super) fn job_key(number: u64) -> String {
    format!("J{number:05}")
}

/// What the front desk jots down; no field claims it. Holds what such notes
/// hold: delimiters, quotes, characters outside ASCII.
pub(super) fn note(job: &Job) -> &'static str {
    const NOTES: [&str; 11] = [
        "",
        "",
        "customer waits",
        "",
        "roof – second color",
        "don’t park outside",
        "",
        "keys in box; gate code at desk",
        "said \"looks great\"",
        "",
        "call ½ h before, café next door",
    ];
    NOTES[(job.number % NOTES.len() as u64) as usize]
}

#[cfg(test)]
mod tests {
    use super::*;

    const SEMICOLONS: Dialect = Dialect {
        name: "x.csv",
        delimiter: ';',
        coding: Coding::Cp1252,
        line_end: "\r\n",
        quote_all: false,
    };

    #[test]
    fn numbers_and_dates_as_an_office_writes_them() {
        assert_eq!(dollars(123_450), "$1,234.50");
        assert_eq!(dollars(99_905), "$999.05");
        assert_eq!(dollars(123_456_789), "$1,234,567.89");
        let day = NaiveDate::from_ymd_opt(2026, 3, 9).unwrap();
        let at = |h| us_moment(day.and_hms_opt(h, 5, 0).unwrap());
        assert_eq!(at(0), "3/9/2026 12:05 AM");
        assert_eq!(at(12), "3/9/2026 12:05 PM");
        assert_eq!(at(14), "3/9/2026 2:05 PM");
        assert_eq!(fahrenheit(Some(21.3)), "70.34");
        assert_eq!(square_feet(9.290_304), "100.000");
        assert_eq!(fluid_ounces(None), "");
    }

    #[test]
    fn cells_are_quoted_where_they_need_it_and_coded_as_said() {
        let mut sheet = Sheet::new(SEMICOLONS);
        assert_eq!(sheet.row(&["a;b", "say \"x\"", "½ – ft²"]), 1);
        assert_eq!(
            sheet.into_file().bytes,
            b"\"a;b\";\"say \"\"x\"\"\";\xBD \x96 ft\xB2\r\n"
        );
    }
}
