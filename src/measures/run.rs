//! Runs the queries, in order, on an SQL engine over typed frames.

use super::catalogue::QUERIES;
use super::error::MeasureError;
use polars::prelude::*;
use polars::sql::SQLContext;
use std::collections::BTreeMap;

/// Results by query name.
pub(super) type Results = BTreeMap<&'static str, DataFrame>;

/// Registers `tables` and runs the queries of the catalogue that `wanted`
/// wants, in its order; results that are `given` are taken as they are.
pub(super) fn run(
    tables: BTreeMap<&'static str, DataFrame>,
    given: Results,
    wanted: impl Fn(&str) -> bool,
) -> Result<Results, MeasureError> {
    let mut engine = SQLContext::new();
    for (name, frame) in tables {
        engine.register(name, frame.lazy());
    }
    for (name, frame) in &given {
        engine.register(name, frame.clone().lazy());
    }
    let mut results = given;
    for query in QUERIES.iter().filter(|q| wanted(q.name)) {
        if results.contains_key(query.name) {
            continue;
        }
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

/// The rows of the coated jobs finished in a month or later.
pub(super) fn from_month(coated: &DataFrame, month_no: i64) -> Result<DataFrame, MeasureError> {
    let late = col("month_no").gt_eq(lit(month_no));
    let rows = coated.clone().lazy().filter(late).collect();
    rows.map_err(|source| MeasureError::Query {
        query: "coated".to_string(),
        source,
    })
}

/// A table of one integer column.
pub(super) fn numbers(column: &str, values: impl Iterator<Item = i64>) -> DataFrame {
    let values: Vec<i64> = values.collect();
    let series = Series::new(column.into(), values);
    // One column cannot disagree with itself about its length.
    DataFrame::new_infer_height(vec![series.into()]).unwrap_or_default()
}
