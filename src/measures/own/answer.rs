//! An answer as plain values.

use super::{Refusal, engine_says};
use chrono::{DateTime, NaiveDate, NaiveDateTime};
use polars::prelude::*;

/// An answer: columns, and rows with one value each.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// Its columns.
    pub columns: Vec<AnswerColumn>,
    /// Its rows, each as long as `columns`.
    pub rows: Vec<Vec<Value>>,
}

/// A column of an answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AnswerColumn {
    /// Its name, as the question gives it.
    pub name: String,
    /// What it holds.
    pub kind: Kind,
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Text.
    Text,
    /// Whole numbers.
    Whole,
    /// Numbers; a difference of days or moments [days].
    Number,
    /// Yes or no.
    YesNo,
    /// Days.
    Day,
    /// Moments.
    Moment,
}

/// One value.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// There is none.
    Missing,
    /// Text.
    Text(String),
    /// A whole number.
    Whole(i64),
    /// A number, always finite.
    Number(f64),
    /// Yes or no.
    YesNo(bool),
    /// A day.
    Day(NaiveDate),
    /// A moment.
    Moment(NaiveDateTime),
}

/// Seconds of a day, and the engine's parts of a second in one.
const DAY_MS: f64 = 86_400_000.0;

fn kind(name: &str, held: &DataType) -> Result<Kind, Refusal> {
    Ok(match held {
        DataType::String | DataType::Null => Kind::Text,
        DataType::Boolean => Kind::YesNo,
        DataType::Date => Kind::Day,
        DataType::Datetime(..) => Kind::Moment,
        DataType::Duration(_) => Kind::Number,
        held if held.is_integer() => Kind::Whole,
        held if held.is_float() => Kind::Number,
        _ => return Err(Refusal::Kind(name.to_string())),
    })
}

/// Refuses columns that no table can show.
pub(super) fn showable(schema: &Schema) -> Result<(), Refusal> {
    schema.iter().try_for_each(|(n, t)| kind(n, t).map(drop))
}

/// Reads a frame.
pub(super) fn read(frame: &DataFrame) -> Result<Answer, Refusal> {
    let mut columns = Vec::with_capacity(frame.width());
    let mut rows: Vec<Vec<Value>> = vec![Vec::with_capacity(frame.width()); frame.height()];
    for column in frame.columns() {
        let name = column.name().to_string();
        let kind = kind(&name, column.dtype())?;
        let values = values(column, kind).map_err(|e| engine_says(&e))?;
        for (row, value) in rows.iter_mut().zip(values) {
            row.push(value);
        }
        columns.push(AnswerColumn { name, kind });
    }
    Ok(Answer { columns, rows })
}

fn values(column: &Column, kind: Kind) -> PolarsResult<Vec<Value>> {
    let whole = |to: DataType| column.cast(&to)?.cast(&DataType::Int64);
    Ok(match kind {
        Kind::Text => {
            let cast = column.cast(&DataType::String)?;
            all(cast.str()?.iter(), |t: &str| Value::Text(t.to_string()))
        }
        Kind::Whole => {
            let cast = column.cast(&DataType::Int64)?;
            all(cast.i64()?.iter(), Value::Whole)
        }
        Kind::Number if matches!(column.dtype(), DataType::Duration(_)) => {
            let cast = whole(DataType::Duration(TimeUnit::Milliseconds))?;
            all(cast.i64()?.iter(), |ms| Value::Number(ms as f64 / DAY_MS))
        }
        Kind::Number => {
            let cast = column.cast(&DataType::Float64)?;
            all(cast.f64()?.iter(), number)
        }
        Kind::YesNo => all(column.bool()?.iter(), Value::YesNo),
        Kind::Day => {
            let cast = whole(DataType::Date)?;
            all(cast.i64()?.iter(), |days| {
                moment(days.saturating_mul(86_400_000_000), true)
            })
        }
        Kind::Moment => {
            let cast = whole(DataType::Datetime(TimeUnit::Microseconds, None))?;
            all(cast.i64()?.iter(), |us| moment(us, false))
        }
    })
}

fn all<T>(cells: impl Iterator<Item = Option<T>>, value: impl Fn(T) -> Value) -> Vec<Value> {
    cells.map(|x| x.map_or(Value::Missing, &value)).collect()
}

fn number(x: f64) -> Value {
    if x.is_finite() {
        Value::Number(x)
    } else {
        Value::Missing
    }
}

fn moment(microseconds: i64, day: bool) -> Value {
    match DateTime::from_timestamp_micros(microseconds) {
        Some(at) if day => Value::Day(at.date_naive()),
        Some(at) => Value::Moment(at.naive_utc()),
        None => Value::Missing,
    }
}
