//! A shop's own questions, answered on the tables of the data contract.
//!
//! A question is one SELECT that reads these tables and nothing else: its
//! text is parsed and checked ([`guard`]) before the engine sees it. What
//! goes wrong, a crash of the engine included, is a [`Refusal`], never the end
//! of a review. How many rows it can make is counted before it runs ([`bound`]).
//! Rows come in one order: that of the question's ORDER BY, ties
//! and the rest by the columns from left to right.

mod answer;
mod bound;
mod guard;
mod quiet;

pub use answer::{Answer, AnswerColumn, Kind, Value};

use super::View;
use super::run::{STACK, numbers};
use bound::Most;
use chrono::NaiveDate;
use polars::prelude::*;
use polars::sql::SQLContext;
use sqlparser::ast::Query;
use std::collections::BTreeMap;
use std::panic::AssertUnwindSafe;
use std::thread;

/// The most rows of an answer.
pub const MOST_ROWS: usize = 100_000;
/// The most columns of an answer.
pub const MOST_COLUMNS: usize = 40;
/// One row: the month that the review is of.
pub const MONTH_TABLE: &str = "review_month";

/// Why a question is not answered.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// It is no SQL that the engine's grammar knows.
    #[error("this is not SQL that can be read here: {0}")]
    Syntax(String),
    /// It does something else than select, or more than one thing.
    #[error("a question is one SELECT (or WITH ... SELECT) and nothing more")]
    NotASelect,
    /// It reads what is no table of the contract.
    #[error("there is no table {found} here; there are {known}")]
    Table {
        /// What it names.
        found: String,
        /// What there is.
        known: String,
    },
    /// Its WITH gives a name that a table or another WITH has: the engine would
    /// read the table.
    #[error("WITH gives the name {0}, which something else has already; call it another way")]
    Shadowed(String),
    /// It reads from a function, a file or a list instead of a table.
    #[error("a question reads the tables of the shop and nothing else: no {0}")]
    Source(&'static str),
    /// It uses a part of SQL whose rows depend on chance or grow without bound.
    #[error("{0}")]
    Unbounded(&'static str),
    /// Rows of equal keys multiply.
    #[error(
        "it would make {rows} rows on its way, where {most} is the most; join on what is unique in one of the tables, or count before joining"
    )]
    TooManyMet {
        /// Rows that it would make.
        rows: u64,
        /// The most.
        most: u64,
    },
    /// It is nested deeper than the engine bears.
    #[error("it is nested too deep")]
    TooDeep,
    /// It holds more SELECTs than can be planned in good time.
    #[error("it holds more than {0} SELECTs; split it into several questions")]
    TooMany(usize),
    /// The engine cannot answer it.
    #[error("the query engine says: {0}")]
    Engine(String),
    /// The engine crashed on it.
    #[error("the query engine stopped on it; write it another way")]
    Crash,
    /// The answer is too large.
    #[error("its answer has more than {MOST_ROWS} rows; ask for less")]
    TooManyRows,
    /// The answer is too wide, or has no column.
    #[error("its answer has {0} columns; 1 to {MOST_COLUMNS} can be shown")]
    Columns(usize),
    /// A column holds what no table can show.
    #[error("its column {0} holds lists or other values that a table cannot show")]
    Kind(String),
}

/// The tables that questions may read: those of a shop, and `review_month`
/// with `month_no` (year × 12 + month − 1), `first_day`, `last_day` and
/// `window_from` of the month reviewed.
#[derive(Debug, Clone)]
pub struct Tables(BTreeMap<&'static str, DataFrame>);

impl Tables {
    /// `shop` holds the contract's tables by name, typed as for the queries.
    pub fn new(mut shop: BTreeMap<&'static str, DataFrame>, view: View) -> Self {
        let mut month = numbers("month_no", std::iter::once(super::number(view.month)));
        let days = [
            ("first_day", view.month.first()),
            ("last_day", view.month.last()),
            ("window_from", view.window_from.first()),
        ];
        for (name, day) in days {
            let since = day.signed_duration_since(NaiveDate::default()).num_days();
            let column = Int32Chunked::from_vec(name.into(), vec![since as i32]);
            let dated = column.into_series().cast(&DataType::Date);
            // A day count is a day whatever it counts; without it the column
            // would be missing, and a question that names it says so.
            if let Ok(dated) = dated {
                let _ = month.with_column(dated.into());
            }
        }
        shop.insert(MONTH_TABLE, month);
        Self(shop)
    }

    fn engine(&self) -> SQLContext {
        let engine = SQLContext::new();
        for (name, frame) in &self.0 {
            engine.register(name, frame.clone().lazy());
        }
        engine
    }
}

/// Answers a question.
///
/// # Errors
/// [`Refusal`], whatever the text holds.
pub fn ask(sql: &str, tables: &Tables) -> Result<Answer, Refusal> {
    let _quiet = quiet::begin();
    // The engine is known to panic on odd SQL. A panic here costs one table of
    // the page, where it would otherwise cost the whole review; the engine is
    // made anew for each question, so no broken state outlives it.
    thread::scope(|scope| {
        let caught = || std::panic::catch_unwind(AssertUnwindSafe(|| answered(sql, tables)));
        let asked = thread::Builder::new()
            .name(quiet::ASKER.into())
            // Enough for a question nested as deep as the parser allows.
            .stack_size(STACK)
            .spawn_scoped(scope, caught);
        match asked.map(thread::ScopedJoinHandle::join) {
            Ok(Ok(Ok(answer))) => answer,
            Ok(_) => Err(Refusal::Crash),
            Err(e) => Err(Refusal::Engine(e.to_string())),
        }
    })
}

fn answered(sql: &str, tables: &Tables) -> Result<Answer, Refusal> {
    let guard::Checked { mut query, text } = guard::checked(sql, tables.0.keys().copied())?;
    let mut planned = plan(&query, tables)?;
    let schema = planned.collect_schema().map_err(|e| engine_says(&e))?;
    if schema.is_empty() || schema.len() > MOST_COLUMNS {
        return Err(Refusal::Columns(schema.len()));
    }
    answer::showable(&schema)?;
    let longest = match text.pieces {
        1 => 0,
        _ => bound::longest(&tables.0),
    };
    Most::of(&tables.0).hold(&planned, text, longest)?;
    guard::order_fully(&mut query, schema.len());
    let frame = plan(&query, tables)?
        .limit(MOST_ROWS as IdxSize + 1)
        .collect()
        .map_err(|e| engine_says(&e))?;
    if frame.height() > MOST_ROWS {
        return Err(Refusal::TooManyRows);
    }
    answer::read(&frame)
}

fn plan(query: &Query, tables: &Tables) -> Result<LazyFrame, Refusal> {
    let planned = tables.engine().execute(&query.to_string());
    planned.map_err(|e| engine_says(&e))
}

/// The engine's word, one line of it, with a mark where it is cut.
fn engine_says(error: &PolarsError) -> Refusal {
    const LONGEST: usize = 240;
    let text = error.to_string();
    let line = text.lines().next().unwrap_or("no reason").trim();
    let mut short: String = line.chars().take(LONGEST).collect();
    if short.len() < line.len() {
        short.push('\u{2026}');
    }
    Refusal::Engine(short)
}

#[cfg(test)]
mod tests;
