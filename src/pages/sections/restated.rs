//! What changed since the last review.

use super::{Context, Section, say};
use crate::findings::restated::{Moved, Restated, What};
use crate::money::Minor;
use crate::pages::format::month;
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::SectionView;

pub(in crate::pages) const ID: &str = "since-last-review";
const HEADING: &str = "What changed since the last review";

/// The section.
pub(in crate::pages) fn section(r: &Restated, c: Context<'_>) -> Section {
    let f = c.format;
    let name = month(r.review.first());
    let moved = r.moved.len() as u64;
    let sentence = if moved == 0 {
        format!("Nothing that the review of {name} said of counts and money has moved since.")
    } else {
        format!(
            "**{} of the review of {name} moved** since, of {} compared: by jobs that came in late or were corrected, or, for what a job leaves over, by newer costs.",
            f.count_of(moved, "figure", "figures"),
            f.count(r.compared)
        )
    };
    let view = SectionView {
        id: ID.into(),
        heading: HEADING.into(),
        sentence: say(sentence),
        how_to_read: say(
            "Counts of every month in that review, and the money of its month. What a job leaves over also moves where the cost of the coating or an hour does.",
        ),
        ..SectionView::default()
    };
    Section::new(view, vec![table(r, c)], f)
}

fn name(what: What) -> &'static str {
    match what {
        What::Eligible => "Film jobs that the coating suits",
        What::Coated => "Coated",
        What::JobsWithMoney => "Coated jobs whose money is known",
        What::NetPrice => "Price less discount",
        What::Contribution => "Left over",
    }
}

fn table(r: &Restated, c: Context<'_>) -> Table {
    let cell = |m: &Moved, x: i64| {
        if m.figure.is_money() {
            Cell::Exact(Minor(x))
        } else {
            Cell::Count(u64::try_from(x).unwrap_or(0))
        }
    };
    let mut rows: Vec<Vec<Cell>> = (r.moved.iter())
        .map(|m| {
            vec![
                Cell::Month(m.month),
                Cell::Text(name(m.figure).into()),
                cell(m, m.was),
                cell(m, m.now),
            ]
        })
        .collect();
    let count = |what: &str, n: u64| {
        vec![
            Cell::Month(r.review),
            Cell::Text(what.into()),
            Cell::Blank,
            Cell::Count(n),
        ]
    };
    rows.push(count("Figures compared", r.compared));
    rows.push(count("Figures that moved", r.moved.len() as u64));
    Table {
        name: "restated",
        fold: "The figures that moved",
        caption: format!("Against the review of {}", month(r.review.first())),
        columns: vec![
            numbers_column("month", "Month"),
            words_column("figure", "Figure"),
            numbers_column("was", "Was"),
            numbers_column("now", "Is now"),
        ],
        rows,
        definition: format!(
            "The review that stands in reviews/{}.",
            c.scope.month.plus(-1)
        ),
    }
}
