//! How much a question may make on its way to an answer, known before it runs.
//!
//! Rows. Every part of the engine's plan is one of these, and no other is let
//! through:
//!
//! ```text
//! table            its rows
//! filter, select, group, order, distinct, limit, window, rename
//!                  no more rows than are read
//! union            the sum of its parts
//! IN (SELECT ...)  the rows × those selected, as each may be held against all
//! join             Σ over keys of (rows on the left × rows on the right), and
//!                  the rows without a partner that an outer join keeps
//! ```
//!
//! The sum of a join is counted, not guessed: each side is grouped by its key,
//! which takes no more memory than its rows, and these were bounded before, as
//! inner joins are counted first. The largest number found stands below
//! [`Most::rows`], so the engine never holds more rows than that at a time.
//!
//! Letters. A SELECT makes no longer text than all pieces that it puts together,
//! so a text of a question is no longer than the product over its SELECTs of the
//! pieces ([`super::guard::Text::pieces`]) times the longest that it starts from.
//! Functions that gather many rows in one text are refused by the guard, and `+`
//! between texts here, where the kinds of columns are known; the plan has `||` as
//! the same operation, so a question with both is told to write CONCAT.

use super::guard::Text;
use super::{Refusal, engine_says};
use polars::prelude::*;
use std::collections::BTreeMap;

/// Rows that a question may make beside those of the longest table.
const ROWS: u64 = 1_000_000;
/// Joins of a question, those of a WITH counted as often as they are read: each
/// is counted before it runs, which takes about as long.
const MOST_JOINS: usize = 16;
/// Parts of a plan.
const MOST_PARTS: usize = 4_000;
/// Letters of text that a question may make [bytes].
const MOST_LETTERS: u64 = 1 << 29;
/// Letters that a capital or a day written out may take for one, about.
const WIDENED: u64 = 12;
/// Letters of the longest number or moment, about.
const NUMBER: u64 = 40;

/// What a question over some tables may make.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Most {
    /// Rows at a time.
    pub(super) rows: u64,
}

impl Most {
    /// Over these tables.
    pub(super) fn of(tables: &BTreeMap<&'static str, DataFrame>) -> Self {
        let longest = tables.values().map(DataFrame::height).max();
        Self {
            rows: ROWS + longest.unwrap_or(0) as u64,
        }
    }

    /// Refuses a plan that may make more.
    ///
    /// # Errors
    /// [`Refusal::Unbounded`] or [`Refusal::TooManyMet`]; what the engine says
    /// where it cannot count.
    pub(super) fn hold(self, plan: &LazyFrame, text: Text, longest: u64) -> Result<(), Refusal> {
        let mut walk = Walk {
            most: self.rows,
            adds: text.adds,
            parts: 0,
            joins: 0,
        };
        let rows = walk.rows(&plan.logical_plan)?;
        let start = longest.saturating_add(WIDENED * text.literals + NUMBER);
        let letters = [rows, text.pieces, start].into_iter();
        if text.pieces > 1 && letters.fold(1, u64::saturating_mul) > MOST_LETTERS {
            return Err(Refusal::Unbounded(
                "it puts together too much text for so many rows; use fewer of || and CONCAT",
            ));
        }
        Ok(())
    }
}

/// Letters of the longest text of the tables [bytes].
pub(super) fn longest(tables: &BTreeMap<&'static str, DataFrame>) -> u64 {
    let columns = tables.values().flat_map(DataFrame::columns);
    let text = columns.filter_map(|c| c.str().ok());
    let longest = text.filter_map(|c| c.iter().flatten().map(str::len).max());
    longest.max().unwrap_or(0) as u64
}

struct Walk {
    most: u64,
    /// The question has a `+`: the plan has `||` as the same operation.
    adds: bool,
    parts: usize,
    joins: usize,
}

/// A join's two sides.
#[derive(Clone, Copy)]
struct Sides<'a> {
    left: &'a DslPlan,
    right: &'a DslPlan,
    left_on: &'a [Expr],
    right_on: &'a [Expr],
}

impl Walk {
    /// No more rows than this come out of the plan.
    fn rows(&mut self, plan: &DslPlan) -> Result<u64, Refusal> {
        self.parts += 1;
        if self.parts > MOST_PARTS {
            return Err(Refusal::Unbounded(
                "its WITH is read too often; name fewer parts of it",
            ));
        }
        let rows = match plan {
            DslPlan::DataFrameScan { df, .. } => df.height() as u64,
            DslPlan::Filter { input, predicate } => {
                self.over(input, std::slice::from_ref(predicate))?
            }
            DslPlan::Select { input, expr, .. } => self.over(input, expr)?,
            DslPlan::HStack { input, exprs, .. } => self.over(input, exprs)?,
            DslPlan::GroupBy {
                input, keys, aggs, ..
            } => {
                let all: Vec<Expr> = keys.iter().chain(aggs).cloned().collect();
                self.over(input, &all)?
            }
            DslPlan::Sort {
                input, by_column, ..
            } => self.over(input, by_column)?,
            DslPlan::Distinct { input, .. }
            | DslPlan::Slice { input, .. }
            | DslPlan::Cache { input, .. }
            | DslPlan::MatchToSchema { input, .. } => self.rows(input)?,
            DslPlan::MapFunction { input, function } if keeps_rows(&function.to_string()) => {
                self.rows(input)?
            }
            DslPlan::IR { dsl, .. } => self.rows(dsl)?,
            DslPlan::ExtContext { input, contexts } => {
                self.sum(contexts)?;
                self.rows(input)?
            }
            DslPlan::Union { inputs, .. } => self.sum(inputs)?,
            DslPlan::HConcat { inputs, .. } => self.beside(inputs)?,
            DslPlan::Join { .. } => self.join(plan)?,
            _ => return Err(Refusal::Unbounded("its rows cannot be counted beforehand")),
        };
        if rows > self.most {
            return Err(Refusal::TooManyMet {
                rows,
                most: self.most,
            });
        }
        Ok(rows)
    }

    fn join(&mut self, plan: &DslPlan) -> Result<u64, Refusal> {
        match plan {
            DslPlan::Join {
                input_left: left,
                input_right: right,
                left_on,
                right_on,
                predicates,
                options,
            } if predicates.is_empty() => {
                let sides = Sides {
                    left,
                    right,
                    left_on,
                    right_on,
                };
                self.joined(sides, &options.args.how)
            }
            _ => Err(Refusal::Unbounded(
                "two tables are joined by something else than equality; name in ON what must be equal, the rest in WHERE",
            )),
        }
    }

    /// Of what is made of each row of `input`, or of fewer.
    fn over(&mut self, input: &DslPlan, made: &[Expr]) -> Result<u64, Refusal> {
        let rows = self.rows(input)?;
        if self.adds && made.iter().any(|e| adds_text(input, e)) {
            return Err(Refusal::Unbounded(
                "it has + and text put together by + or ||; write CONCAT for the text",
            ));
        }
        Ok(rows)
    }

    /// Side by side, as the engine plans IN (SELECT ...): the list of what was
    /// selected stands beside every row, so every row may meet all of it.
    fn beside(&mut self, plans: &[DslPlan]) -> Result<u64, Refusal> {
        let (mut met, mut longest) = (1_u64, 0);
        for plan in plans {
            let rows = self.rows(plan)?;
            met = met.saturating_mul(rows.max(1));
            longest = rows.max(longest);
        }
        if met > self.most {
            return Err(Refusal::TooManyMet {
                rows: met,
                most: self.most,
            });
        }
        Ok(longest)
    }

    fn sum(&mut self, plans: &[DslPlan]) -> Result<u64, Refusal> {
        plans.iter().map(|p| self.rows(p)).sum()
    }

    fn joined(&mut self, sides: Sides<'_>, how: &JoinType) -> Result<u64, Refusal> {
        self.joins += 1;
        if self.joins > MOST_JOINS {
            return Err(Refusal::Unbounded("it joins too often; split it"));
        }
        let (left, right) = (self.rows(sides.left)?, self.rows(sides.right)?);
        let all = left.saturating_mul(right);
        let pairs = match how {
            JoinType::Cross => return Ok(all),
            _ if all <= self.most => all,
            _ => sides.pairs()?,
        };
        let alone = match how {
            JoinType::Inner => 0,
            JoinType::Left => left,
            JoinType::Right => right,
            JoinType::Full => left.saturating_add(right),
            _ => {
                return Err(Refusal::Unbounded(
                    "it joins in a way that cannot be counted",
                ));
            }
        };
        Ok(pairs.saturating_add(alone))
    }
}

/// True for what gives a row for each row at most; not so for what makes rows
/// of lists or of columns. The engine hands out the name of such a part, not its
/// type; a name that changes is refused.
fn keeps_rows(name: &str) -> bool {
    ["RENAME", "ROW_INDEX"].contains(&name)
}

/// True where texts stand on both sides of a `+`.
fn adds_text(input: &DslPlan, made: &Expr) -> bool {
    let of = |e: &Expr| {
        let one = LazyFrame::from(input.clone()).select([e.clone().alias("one")]);
        let schema = { one }.collect_schema();
        schema.is_ok_and(|s| s.get("one") == Some(&DataType::String))
    };
    made.into_iter().any(|e| match e {
        Expr::BinaryExpr {
            left,
            op: Operator::Plus,
            right,
        } => of(left) || of(right),
        _ => false,
    })
}

impl Sides<'_> {
    /// Σ over keys of rows on the left × rows on the right.
    fn pairs(self) -> Result<u64, Refusal> {
        let key = |i: usize| format!("key{i}");
        let keys: Vec<Expr> = (0..self.left_on.len()).map(|i| col(key(i))).collect();
        let side = |plan: &DslPlan, on: &[Expr], rows: &str| {
            let named = on.iter().enumerate();
            let on: Vec<Expr> = named.map(|(i, e)| e.clone().alias(key(i))).collect();
            let count = len().cast(DataType::Int64).alias(rows);
            LazyFrame::from(plan.clone())
                .select(on)
                .group_by(keys.clone())
                .agg([count])
        };
        let left = side(self.left, self.left_on, "left");
        let right = side(self.right, self.right_on, "right");
        let both = left.join(
            right,
            keys.clone(),
            keys.clone(),
            JoinArgs::new(JoinType::Inner),
        );
        let met = (col("left") * col("right")).sum().alias("met");
        let found = both.select([met]).collect().map_err(|e| engine_says(&e))?;
        let met = found
            .column("met")
            .and_then(|c| c.get(0).map(|v| v.extract::<u64>()));
        Ok(met.map_err(|e| engine_says(&e))?.unwrap_or(0))
    }
}
