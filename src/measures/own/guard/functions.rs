//! Functions, by the name under which the engine reads them.

use super::{Refusal, Step, refuse};
use sqlparser::ast::{Expr, Function, FunctionArg, FunctionArgExpr, FunctionArguments, Value};

/// A function's name as the engine reads it: in small letters, without the
/// quotes or backticks around it; none where it has several parts, of which the
/// engine reads the first alone.
fn name_of(f: &Function) -> Option<String> {
    match f.name.0.as_slice() {
        [one] => Some(one.as_ident()?.value.to_lowercase()),
        _ => None,
    }
}

pub(super) fn is_of(f: &Function, names: &[&str]) -> bool {
    name_of(f).is_some_and(|name| names.contains(&name.as_str()))
}

pub(super) fn arguments(f: &Function) -> &[FunctionArg] {
    match &f.args {
        FunctionArguments::List(list) => &list.args,
        _ => &[],
    }
}

/// The text of an argument that stands in the question itself.
fn literal(arg: Option<&FunctionArg>) -> Option<&str> {
    match arg? {
        FunctionArg::Unnamed(FunctionArgExpr::Expr(Expr::Value(v))) => match &v.value {
            Value::SingleQuotedString(text) => Some(text),
            _ => None,
        },
        _ => None,
    }
}

/// Functions that make long text or lists out of a short question.
pub(super) fn function(f: &Function) -> Step {
    const LONG: [&str; 5] = ["lpad", "rpad", "repeat", "unnest", "normalize"];
    const GATHER: [&str; 4] = ["array_agg", "string_agg", "listagg", "group_concat"];
    if name_of(f).is_none() {
        return refuse(Refusal::Source("functions with a point in their name"));
    }
    if is_of(f, &LONG) {
        return refuse(Refusal::Source("padding, repeating or unnesting"));
    }
    if is_of(f, &GATHER) {
        return refuse(Refusal::Unbounded(
            "it gathers many rows in one cell; ask for a row each",
        ));
    }
    let (old, new) = (literal(arguments(f).get(1)), literal(arguments(f).get(2)));
    let longer = match old.zip(new) {
        Some((old, new)) => old.is_empty() || new.len() > old.len(),
        None => true,
    };
    if is_of(f, &["replace"]) && longer {
        return refuse(Refusal::Unbounded(
            "REPLACE may make text longer; put 'in quotes' what is replaced, and something no longer for it",
        ));
    }
    Step::Continue(())
}
