//! Classes, or finishes, that are too rare to be told apart: how many, and
//! what that leaves out.

use super::say;
use crate::findings::left_out::{Rare, RareKind};
use crate::pages::format::Format;
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::Sentence;

/// How a section speaks of them.
#[derive(Debug, Clone, Copy)]
pub(super) struct Told {
    /// In the plural: "classes".
    pub(super) of: &'static str,
    /// What there is of those told apart alone: "minutes".
    pub(super) figures: &'static str,
}

/// What is not told apart, as a note.
pub(super) fn note(x: &Rare, told: Told, f: &Format) -> Sentence {
    let Told { of, figures } = told;
    say(format!(
        "Only the {} {of} with most coated jobs are told apart. Each of the other {} has fewer than {}: these have no {figures} here, and their {} stay in counts and money. So many {of} are often models, or one of them written in several ways.",
        f.count(x.told_apart),
        f.count(x.others),
        f.count(x.need),
        f.count_of(x.jobs, "coated job", "coated jobs"),
    ))
}

/// The note's numbers, as rows of a table of facts.
pub(super) fn rows(x: &Rare, told: Told) -> Vec<Vec<Cell>> {
    let of = told.of;
    let row = |what: String, n: u64| vec![Cell::Text(what), Cell::Count(n)];
    vec![
        row(format!("{} told apart", capital(of)), x.told_apart),
        row(format!("Other {of}"), x.others),
        row(format!("Coated jobs of other {of}"), x.jobs),
        row(format!("Each of the other {of} has fewer than"), x.need),
    ]
}

/// Each of them, those with most jobs first.
pub(super) fn table(name: &'static str, x: &Rare, told: Told) -> Table {
    let row = |k: &RareKind| vec![Cell::Text(k.name.clone()), Cell::Count(k.jobs)];
    Table {
        name,
        fold: "Too rare to be told apart",
        caption: format!("{} too rare to be told apart", capital(told.of)),
        columns: vec![
            words_column("name", "Name"),
            numbers_column("coated_jobs", "Coated jobs"),
        ],
        rows: x.kinds.iter().map(row).collect(),
        definition: format!(
            "Those with most coated jobs come first. Where a shop writes one of its {} in several ways, [words] in shop.toml can make them one.",
            told.of
        ),
    }
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    let first = letters.next().map(|c| c.to_ascii_uppercase());
    first.into_iter().chain(letters).collect()
}
