//! Lines and values that were noticed: what was put aside, by column, and what
//! is odd and was taken as it stands.

use super::Material;
use super::table::{Cell, Table, numbers_column, words_column};
use super::view::{Piece, RestsOn, Sentence, sentence};
use crate::findings::noticed::Noticed;
use crate::intake::reason::{Fault, Rejected};
use crate::intake::{ODDITIES, Oddity};
use std::collections::BTreeMap;

/// Rows of the columns' table that the page shows; quarantine.csv has all.
const SHOWN: usize = 30;

/// The part of the page; nothing where nothing was noticed.
pub(super) fn part(m: &Material<'_>) -> Option<RestsOn> {
    let noticed = &m.findings.noticed;
    let by_column = by_column(m.rejected);
    if noticed.is_nothing() && by_column.is_empty() {
        return None;
    }
    let mut tables = vec![odd(noticed), put_aside(&by_column)];
    tables.retain(|t| !t.rows.is_empty());
    Some(RestsOn {
        heading: "Lines and values we noticed".into(),
        paragraphs: paragraphs(noticed),
        tables: tables.iter().map(|t| t.shown(m.format)).collect(),
    })
}

fn paragraphs(n: &Noticed) -> Vec<Sentence> {
    let mut all = vec![sentence(
        "Nothing of this was mended: what is odd counts as it stands, what could not be read is put aside. `check` names each one with its line.",
    )];
    if !n.unbought.is_empty() {
        let mut text =
            sentence("Finishes that nobody bought the coating on in the months looked at: ");
        text.push(Piece::text(n.unbought.join(", ")));
        text.extend(sentence("."));
        all.push(text);
    }
    all
}

fn odd(n: &Noticed) -> Table {
    let listed = ODDITIES
        .iter()
        .filter_map(|o| Some((words(*o), *n.listed.get(o.code())?)));
    let own = [
        (
            "Coated jobs of the months looked at with nothing left to pay",
            n.for_nothing,
        ),
        (
            "Coated jobs of the months looked at with a discount over the price",
            n.below_nothing,
        ),
        (
            "Jobs of the months looked at coated though written down as not offered",
            n.coated_refused,
        ),
        (
            "Sellers of the months looked at with one offer",
            n.lone_sellers,
        ),
        (
            "Finishes of the months looked at that nobody bought it on",
            n.unbought.len() as u64,
        ),
    ];
    let all = listed.chain(own).filter(|(_, count)| *count > 0);
    Table {
        name: "noticed",
        fold: "Taken as it stands",
        caption: "Odd and taken as it stands".into(),
        columns: vec![words_column("what", "What"), numbers_column("count", "Records")],
        rows: all
            .map(|(what, count)| vec![Cell::Text(what.into()), Cell::Count(count)])
            .collect(),
        definition: "A price on a job without coating counts as what was asked where the coating was offered, and in no money. A discount over the price is a price below 0. Rows that do not name the months looked at count over all of the exports.".into(),
    }
}

/// What an oddity is, for readers.
fn words(o: Oddity) -> &'static str {
    match o {
        Oddity::UnknownPerson => "Work by a person who is not on the list",
        Oddity::BeforeHire => "Work before the person was hired",
        Oddity::AfterLeaving => "Work after the person left",
        Oddity::TwoJobsAtOnce => "One person on two jobs at once",
        Oddity::SurfacesDoNotAddUp => "Surfaces that do not add up to the job's area",
        Oddity::PriceWithoutCoating => "A coating price on a job without coating",
        Oddity::DiscountOverPrice => "A discount over the price",
        Oddity::SameAgain => "A record that stands twice in one export",
        Oddity::UnknownBottle => "A bottle that is not on the list",
        Oddity::BeforeTheWork => "A callback or a look before the film work was finished",
        Oddity::SoundAfterFailure => "Film seen sound after it had failed",
    }
}

/// A column of the exports and what is wrong in it.
type Place<'a> = (&'a str, &'static str, &'a str);

/// What was put aside for one fault of a column.
struct Aside<'a> {
    lines: u64,
    found: &'a str,
}

fn by_column(rejected: &[Rejected]) -> BTreeMap<Place<'_>, Aside<'_>> {
    let mut all: BTreeMap<Place<'_>, Aside<'_>> = BTreeMap::new();
    for r in rejected {
        for fault in &r.faults {
            let aside = all.entry(place(fault)).or_insert(Aside {
                lines: 0,
                found: &fault.found,
            });
            aside.lines += u64::from(r.lines);
        }
    }
    all
}

fn place(f: &Fault) -> Place<'_> {
    (
        f.column.as_deref().unwrap_or(""),
        f.reason.code(),
        &f.expected,
    )
}

fn put_aside(by_column: &BTreeMap<Place<'_>, Aside<'_>>) -> Table {
    let row = |((column, reason, expected), aside): (&Place<'_>, &Aside<'_>)| {
        vec![
            Cell::Text(
                if column.is_empty() {
                    "whole line"
                } else {
                    column
                }
                .into(),
            ),
            Cell::Text((*reason).into()),
            Cell::Count(aside.lines),
            Cell::Text(aside.found.into()),
            Cell::Text((*expected).into()),
        ]
    };
    let mut all: Vec<_> = by_column.iter().collect();
    all.sort_by_key(|(_, aside)| std::cmp::Reverse(aside.lines));
    Table {
        name: "put_aside",
        fold: "Put aside, by column",
        caption: "Lines put aside, by column".into(),
        columns: vec![
            words_column("column", "Column"),
            words_column("reason", "Reason"),
            numbers_column("lines", "Lines"),
            words_column("found", "For example"),
            words_column("expected", "Expected"),
        ],
        rows: all.into_iter().take(SHOWN).map(row).collect(),
        definition: "The first 30, most lines first; quarantine.csv has every line. A line can have several reasons.".into(),
    }
}
