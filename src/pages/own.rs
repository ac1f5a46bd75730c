//! Answers to a shop's own questions, as cells of the page and as CSV.

use super::error::PageError;
use super::format::Format;
use super::table::{defused, plain_number};
use super::view::CellView;
use crate::disk::File;
use crate::findings::own::{Answer, Asked, Kind, Value};

/// Letters of a text that the page shows.
const MOST_LETTERS: usize = 200;

/// A column that is set to the right.
pub(super) fn is_numeric(kind: Kind) -> bool {
    !matches!(kind, Kind::Text | Kind::YesNo)
}

/// A value as the page shows it. Whole numbers have no marks between
/// thousands: they may be years or keys.
pub(super) fn cell(value: &Value, f: &Format) -> CellView {
    match value {
        Value::Missing => CellView::thin(""),
        Value::Text(t) => CellView::words(cut(t)),
        Value::Whole(n) => CellView::number(n.to_string(), *n as f64),
        Value::Number(x) => CellView::number(number(*x, f), *x),
        Value::YesNo(b) => CellView::words(yes(*b)),
        Value::Day(d) => CellView::number(
            d.to_string(),
            d.signed_duration_since(chrono::NaiveDate::MIN).num_days() as f64,
        ),
        Value::Moment(m) => CellView::number(
            m.format("%Y-%m-%d %H:%M").to_string(),
            m.and_utc().timestamp() as f64,
        ),
    }
}

fn cut(text: &str) -> String {
    let mut letters = text.chars();
    let mut short: String = letters.by_ref().take(MOST_LETTERS).collect();
    if letters.next().is_some() {
        short.push('\u{2026}');
    }
    short
}

fn yes(b: bool) -> &'static str {
    if b { "yes" } else { "no" }
}

/// Three figures or so.
fn number(x: f64, f: &Format) -> String {
    let decimals = match x.abs() {
        size if size >= 100.0 => 1,
        size if size >= 1.0 || size == 0.0 => 2,
        _ => 4,
    };
    f.number(x, decimals)
}

fn plain(value: &Value) -> String {
    match value {
        Value::Missing => String::new(),
        Value::Text(t) => defused(t),
        Value::Whole(n) => n.to_string(),
        Value::Number(x) => plain_number(*x),
        Value::YesNo(b) => yes(*b).to_string(),
        Value::Day(d) => d.to_string(),
        Value::Moment(m) => m.format("%Y-%m-%dT%H:%M:%S").to_string(),
    }
}

/// Stem of the file that holds an answer.
pub(super) fn stem(q: &Asked) -> String {
    format!("own-{}", q.name)
}

/// One CSV for each answer.
pub(super) fn files(own: &[Asked]) -> Result<Vec<File>, PageError> {
    let answered = own
        .iter()
        .filter_map(|q| Some((q, q.answer.as_ref().ok()?)));
    let file = |(q, a): (&Asked, &Answer)| {
        Ok(File {
            path: format!("tables/{}.csv", stem(q)),
            bytes: csv(a)?,
        })
    };
    answered.map(file).collect()
}

fn csv(a: &Answer) -> Result<Vec<u8>, csv::Error> {
    let mut out = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    out.write_record(a.columns.iter().map(|c| defused(&c.name)))?;
    for row in &a.rows {
        out.write_record(row.iter().map(plain))?;
    }
    out.into_inner()
        .map_err(|e| csv::Error::from(e.into_error()))
}
