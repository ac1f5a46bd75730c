//! What a question may say, read from its syntax tree before it is run.
//!
//! The list says what is allowed; all else is refused. So a table function
//! that a later engine learns (one that reads files, say) stays refused, and
//! so does a quoted path in a table's place.

mod functions;

use super::{MONTH_TABLE, Refusal};
use functions::{arguments, function, is_of};
use sqlparser::ast::{
    BinaryOperator, Distinct, Expr, JoinConstraint, JoinOperator, ObjectName, OrderBy, OrderByExpr,
    OrderByKind, OrderByOptions, Query, Select, SetExpr, SetOperator, Statement, TableFactor,
    TableWithJoins, Value, Visit, Visitor,
};
use sqlparser::dialect::GenericDialect;
use sqlparser::parser::{Parser, ParserError, ParserOptions};
use std::collections::{BTreeMap, BTreeSet};
use std::ops::ControlFlow;

/// How deep expressions may lie within one another: the engine walks them on
/// threads with small stacks. A sum of as many terms is this deep.
const DEEPEST: usize = 100;
/// The most SELECTs of a question: the time to plan them grows faster than
/// their number.
const MOST_SELECTS: usize = 40;

/// References to the parts of a WITH, multiplied part by part: the engine plans
/// a part anew wherever it is read, so a chain of parts that each read the one
/// before twice doubles at every step.
const MOST_READ: u64 = 64;

/// The engine is built without these.
const NOT_KEPT_OR_LEFT_OUT: Refusal = Refusal::Unbounded(
    "SEMI and ANTI joins, EXCEPT and INTERSECT are not read here; write WHERE ... IN (SELECT ...) or NOT IN",
);

/// A question that may be asked.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Checked {
    /// Its syntax tree.
    pub(super) query: Query,
    /// What text it makes.
    pub(super) text: Text,
}

/// What text a question makes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Text {
    /// The product over its SELECTs of the pieces that each puts together; 1
    /// where none does.
    pub(super) pieces: u64,
    /// Letters of text in the question itself [bytes].
    pub(super) literals: u64,
    /// It adds with `+`, to what only the plan tells.
    pub(super) adds: bool,
}

/// The question's syntax tree, if it is one that may be asked of `tables`.
pub(super) fn checked<'a>(
    sql: &str,
    tables: impl Iterator<Item = &'a str>,
) -> Result<Checked, Refusal> {
    let options = ParserOptions {
        trailing_commas: true,
        ..ParserOptions::default()
    };
    // The dialect and options are the engine's own.
    let parser = Parser::new(&GenericDialect).with_options(options);
    let parsed = parser
        .try_with_sql(sql)
        .and_then(|mut p| p.parse_statements());
    let query = match parsed.map_err(|e| unread(&e))?.as_slice() {
        [Statement::Query(query)] => query.as_ref().clone(),
        _ => return Err(Refusal::NotASelect),
    };
    let mut guard = Guard {
        tables: tables.collect(),
        named: BTreeSet::new(),
        read: BTreeMap::new(),
        depth: 0,
        selects: 0,
        pieces: vec![0],
        text: Text {
            pieces: 1,
            literals: 0,
            adds: false,
        },
    };
    if let ControlFlow::Break(refusal) = query.visit(&mut guard) {
        return Err(refusal);
    }
    let read = guard.read.values().copied();
    if read.fold(1, u64::saturating_mul) > MOST_READ {
        return Err(Refusal::Unbounded(
            "the parts of its WITH are read too often; read each once or twice",
        ));
    }
    guard.put_together();
    Ok(Checked {
        text: guard.text,
        query,
    })
}

fn unread(error: &ParserError) -> Refusal {
    match error {
        ParserError::TokenizerError(text) | ParserError::ParserError(text) => {
            Refusal::Syntax(text.lines().next().unwrap_or_default().to_string())
        }
        ParserError::RecursionLimitExceeded => Refusal::TooDeep,
    }
}

/// Orders rows by all `columns`, after what the question orders by: the same
/// input then gives the same rows in the same order.
pub(super) fn order_fully(query: &mut Query, columns: usize) {
    let ordinal = |i: usize| OrderByExpr {
        expr: Expr::Value(Value::Number(i.to_string(), false).into()),
        options: OrderByOptions::default(),
        with_fill: None,
    };
    let rest = || (1..=columns).map(ordinal);
    match query.order_by.as_mut().map(|o| &mut o.kind) {
        Some(OrderByKind::All(_)) => {}
        Some(OrderByKind::Expressions(asked)) if is_all(asked) => {}
        Some(OrderByKind::Expressions(asked)) => asked.extend(rest()),
        None => {
            query.order_by = Some(OrderBy {
                kind: OrderByKind::Expressions(rest().collect()),
                interpolate: None,
            });
        }
    }
}

/// `ORDER BY ALL`, which this grammar reads as a column of that name.
fn is_all(asked: &[OrderByExpr]) -> bool {
    matches!(asked, [one] if matches!(&one.expr, Expr::Identifier(i) if i.value.eq_ignore_ascii_case("all")))
}

struct Guard<'a> {
    tables: BTreeSet<&'a str>,
    /// Names that the question's own WITH gives.
    named: BTreeSet<String>,
    /// How often each of these is read.
    read: BTreeMap<String, u64>,
    depth: usize,
    selects: usize,
    /// Pieces of text that the SELECTs around this place put together, the
    /// outermost first; before them those of no SELECT.
    pieces: Vec<u64>,
    text: Text,
}

type Step = ControlFlow<Refusal>;

fn refuse(refusal: Refusal) -> Step {
    ControlFlow::Break(refusal)
}

impl Guard<'_> {
    /// The innermost SELECT is read.
    fn put_together(&mut self) {
        let pieces = self.pieces.pop().unwrap_or(0).max(1);
        self.text.pieces = self.text.pieces.saturating_mul(pieces);
    }

    fn pieces(&mut self, more: usize) {
        if let Some(last) = self.pieces.last_mut() {
            *last = last.saturating_add(more as u64);
        }
    }

    fn text(&mut self, expr: &Expr) -> Step {
        match expr {
            Expr::Value(v) => {
                if let Value::SingleQuotedString(text) = &v.value {
                    self.text.literals += text.len() as u64;
                }
            }
            Expr::BinaryOp {
                op: BinaryOperator::StringConcat,
                ..
            } => self.pieces(2),
            Expr::BinaryOp {
                op: BinaryOperator::Plus,
                ..
            } => self.text.adds = true,
            Expr::Array(all) => self.pieces(all.elem.len()),
            Expr::Function(f) => {
                function(f)?;
                if is_of(f, &["concat", "concat_ws", "array_to_string", "strftime"]) {
                    self.pieces(arguments(f).len().max(2));
                }
            }
            _ => {}
        }
        Step::Continue(())
    }

    fn table(&mut self, name: &ObjectName) -> Step {
        let parts: Vec<&str> = (name.0.iter())
            .filter_map(|p| p.as_ident())
            .map(|i| i.value.as_str())
            .collect();
        let known = |t: &str| self.tables.contains(t) || self.named.contains(t);
        match parts.as_slice() {
            [one] if name.0.len() == 1 && known(one) => {
                if self.named.contains(*one) {
                    *self.read.entry((*one).to_string()).or_default() += 1;
                }
                Step::Continue(())
            }
            _ => refuse(Refusal::Table {
                found: name.to_string().chars().take(60).collect(),
                known: self.tables.iter().copied().collect::<Vec<_>>().join(", "),
            }),
        }
    }

    fn joins(&self, from: &TableWithJoins) -> Step {
        for join in &from.joins {
            let on = match &join.join_operator {
                JoinOperator::Join(on)
                | JoinOperator::Inner(on)
                | JoinOperator::Left(on)
                | JoinOperator::LeftOuter(on)
                | JoinOperator::Right(on)
                | JoinOperator::RightOuter(on)
                | JoinOperator::FullOuter(on)
                | JoinOperator::CrossJoin(on) => on,
                JoinOperator::Semi(_)
                | JoinOperator::LeftSemi(_)
                | JoinOperator::RightSemi(_)
                | JoinOperator::Anti(_)
                | JoinOperator::LeftAnti(_)
                | JoinOperator::RightAnti(_) => return refuse(NOT_KEPT_OR_LEFT_OUT),
                _ => return refuse(Refusal::Source("joins of other kinds")),
            };
            let bound = matches!(on, JoinConstraint::On(_) | JoinConstraint::Using(_));
            if !bound && !is_month(&join.relation) {
                return refuse(Refusal::Unbounded(
                    "two tables are joined without ON, so every row would meet every row; name in ON what must be equal",
                ));
            }
        }
        Step::Continue(())
    }
}

/// The one-row table may meet every row.
fn is_month(relation: &TableFactor) -> bool {
    matches!(relation, TableFactor::Table { name, .. } if name.to_string() == MONTH_TABLE)
}

fn body(expr: &SetExpr) -> Step {
    match expr {
        SetExpr::Select(_) | SetExpr::Query(_) => Step::Continue(()),
        SetExpr::SetOperation {
            op: SetOperator::Except | SetOperator::Intersect | SetOperator::Minus,
            ..
        } => refuse(NOT_KEPT_OR_LEFT_OUT),
        SetExpr::SetOperation { left, right, .. } => {
            body(left)?;
            body(right)
        }
        _ => refuse(Refusal::NotASelect),
    }
}

/// One row of each kind is kept: which, ORDER BY says.
fn is_distinct_on(query: &Query) -> bool {
    matches!(&*query.body, SetExpr::Select(s) if matches!(s.distinct, Some(Distinct::On(_))))
}

impl Visitor for Guard<'_> {
    type Break = Refusal;

    fn pre_visit_query(&mut self, query: &Query) -> Step {
        body(&query.body)?;
        if let Some(with) = &query.with {
            if with.recursive {
                return refuse(Refusal::Unbounded("WITH RECURSIVE is not read here"));
            }
            let names = with.cte_tables.iter().map(|c| c.alias.name.value.clone());
            for name in names {
                if self.tables.contains(name.as_str()) || !self.named.insert(name.clone()) {
                    return refuse(Refusal::Shadowed(name));
                }
            }
        }
        let more = query.for_clause.is_some()
            || query.settings.is_some()
            || query.format_clause.is_some()
            || !query.locks.is_empty()
            || !query.pipe_operators.is_empty();
        if more {
            return refuse(Refusal::NotASelect);
        }
        let some = query.limit_clause.is_some() || query.fetch.is_some() || is_distinct_on(query);
        if query.order_by.is_none() && some {
            return refuse(Refusal::Unbounded(
                "LIMIT or DISTINCT ON without ORDER BY picks rows by chance; say by what they are ordered",
            ));
        }
        Step::Continue(())
    }

    fn pre_visit_select(&mut self, select: &Select) -> Step {
        self.selects += 1;
        if self.selects > MOST_SELECTS {
            return refuse(Refusal::TooMany(MOST_SELECTS));
        }
        if select.into.is_some() || select.top.is_some() || !select.lateral_views.is_empty() {
            return refuse(Refusal::NotASelect);
        }
        let apart = |t: &TableWithJoins| !is_month(&t.relation);
        if select.from.iter().filter(|t| apart(t)).count() > 1 {
            return refuse(Refusal::Unbounded(
                "tables stand side by side in FROM, so every row would meet every row; write JOIN ... ON",
            ));
        }
        self.pieces.push(0);
        select.from.iter().try_for_each(|t| self.joins(t))
    }

    fn post_visit_select(&mut self, _: &Select) -> Step {
        self.put_together();
        Step::Continue(())
    }

    fn pre_visit_table_factor(&mut self, factor: &TableFactor) -> Step {
        match factor {
            TableFactor::Table {
                name, args: None, ..
            } => self.table(name),
            TableFactor::Derived { .. } => Step::Continue(()),
            TableFactor::NestedJoin {
                table_with_joins, ..
            } => self.joins(table_with_joins),
            TableFactor::Table { .. } | TableFactor::Function { .. } => {
                refuse(Refusal::Source("functions in a table's place"))
            }
            _ => refuse(Refusal::Source("lists or functions in a table's place")),
        }
    }

    fn pre_visit_expr(&mut self, expr: &Expr) -> Step {
        self.depth += 1;
        if self.depth > DEEPEST {
            return refuse(Refusal::TooDeep);
        }
        self.text(expr)
    }

    fn post_visit_expr(&mut self, _: &Expr) -> Step {
        self.depth -= 1;
        Step::Continue(())
    }
}
