//! Columns of one result as plain vectors.

use super::error::MeasureError;
use super::run::Results;
use crate::settings::month::Month;
use chrono::{NaiveDate, TimeDelta};
use polars::prelude::*;

const EPOCH: NaiveDate = NaiveDate::from_ymd_opt(1970, 1, 1).unwrap();

pub(super) fn day(days: Option<i32>) -> NaiveDate {
    let since = TimeDelta::days(i64::from(days.unwrap_or(0)));
    EPOCH.checked_add_signed(since).unwrap_or(EPOCH)
}

pub(super) fn month(month_no: i64) -> Month {
    let year = i32::try_from(month_no.div_euclid(12)).unwrap_or(0);
    Month::new(year, month_no.rem_euclid(12) as u32 + 1).unwrap_or(Month::of(EPOCH))
}

pub(super) fn count(n: i64) -> u64 {
    u64::try_from(n).unwrap_or(0)
}

pub(super) fn strings(r: &Reader<'_>, column: &str) -> Result<Vec<String>, MeasureError> {
    let mut all = Vec::with_capacity(r.len());
    r.texts(column, |_, t| all.push(t.unwrap_or("").to_string()))?;
    Ok(all)
}

/// A column of days of a table [days since 1970-01-01].
pub(super) fn days(
    table: &'static str,
    frame: &DataFrame,
    column: &str,
) -> Result<Vec<Option<i32>>, MeasureError> {
    Reader {
        query: table,
        frame,
    }
    .days(column)
}

/// Reads the columns of one result as plain vectors.
pub(super) struct Reader<'a> {
    query: &'static str,
    frame: &'a DataFrame,
}

impl<'a> Reader<'a> {
    pub(super) fn new(results: &'a Results, query: &'static str) -> Result<Self, MeasureError> {
        results
            .get(query)
            .map(|frame| Self { query, frame })
            .ok_or_else(|| MeasureError::Query {
                query: query.to_string(),
                source: PolarsError::NoData("it is not in the catalogue".into()),
            })
    }

    pub(super) fn len(&self) -> usize {
        self.frame.height()
    }

    fn cast(&self, column: &str, to: &DataType) -> Result<Column, MeasureError> {
        self.frame
            .column(column)
            .and_then(|c| c.cast(to))
            .map_err(|source| self.complaint(column, source))
    }

    fn complaint(&self, column: &str, source: PolarsError) -> MeasureError {
        MeasureError::Column {
            query: self.query.to_string(),
            column: column.to_string(),
            source,
        }
    }

    pub(super) fn integers(&self, column: &str) -> Result<Vec<Option<i64>>, MeasureError> {
        let cast = self.cast(column, &DataType::Int64)?;
        let typed = cast.i64().map_err(|e| self.complaint(column, e))?;
        Ok(typed.iter().collect())
    }

    /// As [`Self::integers`], reading NULL as 0: for counts and sums.
    pub(super) fn counts(&self, column: &str) -> Result<Vec<i64>, MeasureError> {
        let values = self.integers(column)?;
        Ok(values.into_iter().map(|v| v.unwrap_or(0)).collect())
    }

    pub(super) fn floats(&self, column: &str) -> Result<Vec<Option<f64>>, MeasureError> {
        let cast = self.cast(column, &DataType::Float64)?;
        let typed = cast.f64().map_err(|e| self.complaint(column, e))?;
        Ok(typed.iter().collect())
    }

    /// Days since 1970-01-01.
    pub(super) fn days(&self, column: &str) -> Result<Vec<Option<i32>>, MeasureError> {
        let cast = self.cast(column, &DataType::Int32)?;
        let typed = cast.i32().map_err(|e| self.complaint(column, e))?;
        Ok(typed.iter().collect())
    }

    /// Text, passed to `take` row by row; no copy is made here.
    pub(super) fn texts(
        &self,
        column: &str,
        mut take: impl FnMut(usize, Option<&str>),
    ) -> Result<(), MeasureError> {
        let cast = self.cast(column, &DataType::String)?;
        let typed = cast.str().map_err(|e| self.complaint(column, e))?;
        typed.iter().enumerate().for_each(|(i, t)| take(i, t));
        Ok(())
    }
}
