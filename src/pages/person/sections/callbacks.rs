//! Callbacks, with counts.

use super::{CALLBACKS, Own, say};
use crate::estimate::Figure;
use crate::findings::callbacks::{OwnCause, PersonBack};
use crate::pages::format::Format;
use crate::pages::sections::Section;
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{SectionView, Sentence};

pub(super) fn section(own: Own<'_>) -> Section {
    let f = own.format;
    let mut view = SectionView {
        id: CALLBACKS.into(),
        heading: "Jobs that came back".into(),
        ..SectionView::default()
    };
    let Some(back) = &own.page.callbacks else {
        view.sentence = say("No callbacks are recorded, so nothing is said of them.");
        return Section::new(view, Vec::new(), f);
    };
    view.sentence = sentence_of(back, f);
    view.how_to_read = say(
        "A job counts from the day it was finished, so the latest may still come back. Film failures, lifting edges and other causes are listed but are not coating work.",
    );
    let shrunk = own.page.beside.as_ref().and_then(|b| b.callbacks.as_ref());
    let mut tables = vec![rates(back, shrunk)];
    if !back.causes.is_empty() {
        tables.push(causes(back));
    }
    Section::new(view, tables, f)
}

fn sentence_of(back: &PersonBack, f: &Format) -> Sentence {
    let c = back.split.count;
    let range = back.split.exact.known().map_or_else(String::new, |e| {
        format!(
            " (likely {} of all such jobs)",
            f.share_range(e.low, e.high)
        )
    });
    say(format!(
        "**{} of {}** that you did alone came back for coating work{range}.",
        f.count(c.yes),
        f.count_of(c.of, "coated job", "coated jobs")
    ))
}

fn rates(back: &PersonBack, shrunk: Option<&Figure>) -> Table {
    let row = |what: &str, x: &Figure| {
        let c = back.split.count;
        vec![
            Cell::Text(what.into()),
            Cell::Count(c.of),
            Cell::Count(c.yes),
            Cell::value(x, Cell::FineShare),
            Cell::low(x, Cell::Share),
            Cell::high(x, Cell::Share),
        ]
    };
    let mut rows = vec![row("As counted", &back.split.exact)];
    rows.extend(shrunk.map(|s| row("Drawn to the shop's common share", s)));
    Table {
        name: "your_callbacks",
        fold: "The numbers",
        caption: "Your jobs that came back for coating work".into(),
        columns: vec![
            words_column("what", "What"),
            numbers_column("jobs", "Coated jobs"),
            numbers_column("came_back", "Came back"),
            numbers_column("rate", "Share"),
            numbers_column("low", "Likely from"),
            numbers_column("high", "Likely to"),
        ],
        rows,
        definition: "Drawn to the common share: what few jobs say, mixed with what all of the shop's jobs say.".into(),
    }
}

fn causes(back: &PersonBack) -> Table {
    let row = |c: &OwnCause| {
        let name = match c.cause.as_str() {
            "" => "not recorded".to_string(),
            cause => cause.replace('_', " "),
        };
        let of = if c.of_coating {
            "coating"
        } else {
            "film or other"
        };
        vec![
            Cell::Text(name),
            Cell::Text(of.into()),
            Cell::Count(c.callbacks),
        ]
    };
    Table {
        name: "your_causes",
        fold: "By cause",
        caption: "What your jobs came back for".into(),
        columns: vec![
            words_column("cause", "Cause"),
            words_column("work", "Work"),
            numbers_column("callbacks", "Callbacks"),
        ],
        rows: back.causes.iter().map(row).collect(),
        definition: "One job may come back several times.".into(),
    }
}
