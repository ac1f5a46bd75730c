//! What a question may say, read from its syntax tree before it is run.
//!
//! The list says what is allowed; all else is refused. So a table function
//! that a later engine learns (one that reads files, say) stays refused, and
//! so does a quoted path in a table's place.

use super::{MONTH_TABLE, Refusal};
use sqlparser::ast::{
    Distinct, Expr, Function, JoinConstraint, JoinOperator, ObjectName, OrderBy, OrderByExpr,
    OrderByKind, OrderByOptions, Query, Select, SetExpr, Statement, TableFactor, TableWithJoins,
    Value, Visit, Visitor,
};
use sqlparser::dialect::GenericDialect;
use sqlparser::parser::{Parser, ParserError, ParserOptions};
use std::collections::BTreeSet;
use std::ops::ControlFlow;

/// How deep expressions may lie within one another: the engine walks them on
/// threads with small stacks. A sum of as many terms is this deep.
const DEEPEST: usize = 100;
/// The most SELECTs of a question: the time to plan them grows faster than
/// their number.
const MOST_SELECTS: usize = 40;

/// The question's syntax tree, if it is one that may be asked of `tables`.
pub(super) fn checked<'a>(
    sql: &str,
    tables: impl Iterator<Item = &'a str>,
) -> Result<Query, Refusal> {
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
        depth: 0,
        selects: 0,
    };
    match query.visit(&mut guard) {
        ControlFlow::Continue(()) => Ok(query),
        ControlFlow::Break(refusal) => Err(refusal),
    }
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
    depth: usize,
    selects: usize,
}

type Step = ControlFlow<Refusal>;

fn refuse(refusal: Refusal) -> Step {
    ControlFlow::Break(refusal)
}

impl Guard<'_> {
    fn table(&self, name: &ObjectName) -> Step {
        let parts: Vec<&str> = (name.0.iter())
            .filter_map(|p| p.as_ident())
            .map(|i| i.value.as_str())
            .collect();
        let known = |t: &str| self.tables.contains(t) || self.named.contains(t);
        match parts.as_slice() {
            [one] if name.0.len() == 1 && known(one) => Step::Continue(()),
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
                | JoinOperator::Semi(on)
                | JoinOperator::LeftSemi(on)
                | JoinOperator::RightSemi(on)
                | JoinOperator::Anti(on)
                | JoinOperator::LeftAnti(on)
                | JoinOperator::RightAnti(on)
                | JoinOperator::CrossJoin(on) => on,
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
            self.named.extend(names);
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
        select.from.iter().try_for_each(|t| self.joins(t))
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
        match expr {
            Expr::Function(f) => function(f),
            _ => Step::Continue(()),
        }
    }

    fn post_visit_expr(&mut self, _: &Expr) -> Step {
        self.depth -= 1;
        Step::Continue(())
    }
}

/// Functions that make long text or lists out of a short question, or look
/// past the tables.
fn function(f: &Function) -> Step {
    const LONG: [&str; 4] = ["lpad", "rpad", "repeat", "unnest"];
    let name = f.name.to_string().to_lowercase();
    if LONG.contains(&name.as_str()) {
        return refuse(Refusal::Source("padding, repeating or unnesting"));
    }
    Step::Continue(())
}
