//! Runs the queries, in order, on an SQL engine over typed frames.

use super::catalogue::QUERIES;
use super::error::MeasureError;
use polars::prelude::*;
use polars::sql::SQLContext;
use std::collections::BTreeMap;

/// Results by query name.
pub(super) type Results = BTreeMap<&'static str, DataFrame>;

/// Registers `tables` and runs the queries of the catalogue that `wanted`
/// wants, in its order.
pub(super) fn run(
    tables: &BTreeMap<&'static str, DataFrame>,
    wanted: impl Fn(&str) -> bool,
) -> Result<Results, MeasureError> {
    let mut engine = SQLContext::new();
    for (name, frame) in tables {
        engine.register(name, frame.clone().lazy());
    }
    let mut results = Results::new();
    for query in QUERIES.iter().filter(|q| wanted(q.name)) {
        let failed = |source| MeasureError::Query {
            query: query.name.to_string(),
            source,
        };
        let frame = engine
            .execute(query.sql)
            .and_then(LazyFrame::collect)
            .map_err(failed)?;
        engine.register(query.name, frame.clone().lazy());
        results.insert(query.name, frame);
    }
    Ok(results)
}

/// Answers one query over some tables: for queries that stand alone.
///
/// # Errors
/// Where the engine refuses it.
pub fn answer(
    name: &str,
    sql: &str,
    tables: &BTreeMap<String, DataFrame>,
) -> Result<DataFrame, MeasureError> {
    let mut engine = SQLContext::new();
    for (name, frame) in tables {
        engine.register(name, frame.clone().lazy());
    }
    let answer = engine.execute(sql).and_then(LazyFrame::collect);
    answer.map_err(|source| MeasureError::Query {
        query: name.to_string(),
        source,
    })
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

/// A table of one integer column.
pub(super) fn numbers(column: &str, values: impl Iterator<Item = i64>) -> DataFrame {
    let values: Vec<i64> = values.collect();
    let series = Series::new(column.into(), values);
    // One column cannot disagree with itself about its length.
    DataFrame::new_infer_height(vec![series.into()]).unwrap_or_default()
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
