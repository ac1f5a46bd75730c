//! How the frames hold words: as text, or each column's as numbers of one
//! vocabulary, which the engine groups, compares and sorts several times faster.

use super::columns::{dtype, is_of_words, words_of};
use super::links::Linked;
use super::words::usual;
use crate::settings::contract::{Field, Kind, TABLES};
use polars::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// Most words that are numbered: those of a field in which nearly every row has
/// its own would cost more than they save.
const MOST_WORDS: usize = 1 << 16;

/// How the frames hold words.
#[derive(Debug)]
pub(super) enum Vocabulary {
    /// As text: of few rows that is quicker.
    Text,
    /// As an Enum by field name, alike in all tables; its words ascend, so that
    /// numbers sort as words do. Fields that are not there are text.
    Numbers(BTreeMap<&'static str, DataType>),
}

impl Vocabulary {
    /// Of all words that stand in the exports, and of those that the queries
    /// name.
    pub(super) fn of(linked: &Linked<'_>) -> PolarsResult<Self> {
        if !linked.are_many() {
            return Ok(Self::Text);
        }
        let mut words: BTreeMap<&'static str, BTreeSet<&str>> = BTreeMap::new();
        for table in TABLES {
            for (place, field) in table.fields().iter().enumerate() {
                if !is_of_words(field) {
                    continue;
                }
                let own = words.entry(field.name).or_default();
                always(field).for_each(|word| {
                    own.insert(word);
                });
                let Some(rows) = linked.tables.get(&table) else {
                    continue;
                };
                for segment in &rows.stack.segments {
                    let found = segment.column(place).map_or(&[][..], words_of);
                    own.extend(found.iter().map(String::as_str));
                }
            }
        }
        let numbered = |(name, words): (&'static str, BTreeSet<&str>)| {
            let frozen = FrozenCategories::new(words)?;
            Ok((name, DataType::from_frozen_categories(frozen)))
        };
        let few = words.into_iter().filter(|(_, w)| w.len() <= MOST_WORDS);
        Ok(Self::Numbers(
            few.map(numbered).collect::<PolarsResult<_>>()?,
        ))
    }

    /// The type of a field's column.
    pub(super) fn dtype(&self, field: &Field) -> DataType {
        match self {
            Self::Numbers(all) => all.get(field.name).cloned(),
            Self::Text => None,
        }
        .unwrap_or_else(|| dtype(field.kind))
    }
}

/// Words of a field that are there whatever the exports hold: what a query
/// compares it with must be among them.
fn always(field: &Field) -> impl Iterator<Item = &'static str> {
    let of_contract = match field.kind {
        Kind::Word(words) => words,
        _ => usual(field.name),
    };
    std::iter::once("").chain(of_contract.iter().copied())
}
