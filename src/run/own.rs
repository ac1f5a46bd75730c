//! The shop's own questions, asked.

use super::cells::view;
use crate::findings::Scope;
use crate::findings::own::{Asked, Unanswered, asked};
use crate::intake::text_of;
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
    if questions.is_empty() {
        return Vec::new();
    }
    // Questions see words as text; those that could not be read as such would
    // stay as they are, and a question that treats them as text say so.
    let text = |frame: &DataFrame| text_of(frame).unwrap_or_else(|_| frame.clone());
    let text = tables.iter().map(|(name, frame)| (*name, text(frame)));
    let tables = Tables::new(text.collect(), view(scope));
    let one = |q| asked(q, |sql| ask(sql, &tables).map_err(Unanswered::from));
    questions.into_iter().map(one).collect()
}

/// The questions, none of them asked: where only counts are here.
pub(super) fn none(folder: &Path) -> Vec<Asked> {
    let one = |q| asked(q, |_| Err(Unanswered::NotHere));
    questions::read(folder).into_iter().map(one).collect()
}
