//! Runs the queries, in order, on an SQL engine over typed frames.

use super::catalogue::{QUERIES, Query};
use super::error::MeasureError;
use polars::prelude::*;
use polars::sql::SQLContext;
use polars_async::executor::ALLOW_RAYON_THREADS;
use std::collections::BTreeMap;
use std::thread;

/// Results by query name.
pub(super) type Results = BTreeMap<&'static str, DataFrame>;

/// Bytes of stack for one who plans queries: a plan is walked by recursion, and
/// one of a dozen joins outgrows the 2 MiB of a plain thread in a build without
/// optimisation.
pub(super) const STACK: usize = 32 * 1024 * 1024;

/// Rows of all tables up to which a run of queries keeps to its own thread:
/// handing such little work to others takes longer than doing it.
const FEW: usize = 50_000;

/// In which order rows come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Order {
    /// As the queries say.
    Written,
    /// In any, where the reader puts them in their place.
    Placed,
}

/// Results whose rows the reader puts in their place by the key of their job
/// (`rows.rs`), in under half of the time in which the engine sorts them.
const PLACED: [&str; 6] = [
    "coated_area",
    "work",
    "draws",
    "spells",
    "practice",
    "poured",
];

impl Order {
    /// The text to run of a query.
    fn of(self, query: &Query) -> &'static str {
        let unsorted = || query.sql.rsplit_once("\nORDER BY ").map(|(text, _)| text);
        match self {
            Self::Placed if PLACED.contains(&query.name) => unsorted().unwrap_or(query.sql),
            _ => query.sql,
        }
    }
}

/// Registers `tables` and runs the queries of the catalogue that `wanted`
/// wants, in its order; results that are `given` are taken as they are.
pub(super) fn run(
    tables: BTreeMap<&'static str, DataFrame>,
    given: Results,
    wanted: fn(&str) -> bool,
    order: Order,
) -> Result<Results, MeasureError> {
    deep(|| run_here(tables, given, wanted, order))
}

/// Does `work` on a thread that has [`STACK`].
fn deep<T: Send>(work: impl FnOnce() -> Result<T, MeasureError> + Send) -> Result<T, MeasureError> {
    thread::scope(|scope| {
        let planner = thread::Builder::new().stack_size(STACK);
        let at_work = planner.spawn_scoped(scope, work)?;
        at_work
            .join()
            .unwrap_or_else(|panic| std::panic::resume_unwind(panic))
    })
}

fn run_here(
    tables: BTreeMap<&'static str, DataFrame>,
    given: Results,
    wanted: fn(&str) -> bool,
    order: Order,
) -> Result<Results, MeasureError> {
    let rows: usize = tables.values().map(DataFrame::height).sum();
    ALLOW_RAYON_THREADS.set(rows > FEW);
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
            .execute(order.of(query))
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
    deep(|| {
        let answer = engine.execute(sql).and_then(LazyFrame::collect);
        answer.map_err(|source| MeasureError::Query {
            query: name.to_string(),
            source,
        })
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Of what is placed, all but the last line is run; of the rest, all.
    #[test]
    fn only_the_order_of_placed_rows_is_left_out() {
        for query in QUERIES {
            let (text, last) = query.sql.trim_end().rsplit_once('\n').unwrap();
            assert!(last.starts_with("ORDER BY "), "{}", query.file);
            assert_eq!(Order::Written.of(query), query.sql);
            let placed = PLACED.contains(&query.name);
            let run = if placed { text } else { query.sql };
            assert_eq!(Order::Placed.of(query), run, "{}", query.file);
        }
    }
}
