//! The shop's own questions, asked.

use super::cells::view;
use crate::findings::Scope;
use crate::findings::own::{Asked, Unanswered, asked};
use crate::measures::own::{Tables, ask};
use crate::settings::questions;
use polars::prelude::DataFrame;
use std::collections::BTreeMap;
use std::path::Path;

/// Asks every question in the folder of `tables`, the contract's by name.
pub(super) fn all(
    folder: &Path,
    tables: &BTreeMap<&'static str, DataFrame>,
    scope: &Scope,
) -> Vec<Asked> {
    let questions = questions::read(folder);
    let tables = Tables::new(tables.clone(), view(scope));
    let one = |q| asked(q, |sql| ask(sql, &tables).map_err(Unanswered::from));
    questions.into_iter().map(one).collect()
}

/// The questions, none of them asked: where only counts are here.
pub(super) fn none(folder: &Path) -> Vec<Asked> {
    let one = |q| asked(q, |_| Err(Unanswered::NotHere));
    questions::read(folder).into_iter().map(one).collect()
}
