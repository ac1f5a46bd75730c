//! The shop's own questions: each answer a table, each that has none a note.

use super::{Context, Section, say};
use crate::findings::own::{Answer, Asked, Kind, Value};
use crate::pages::format::Format;
use crate::pages::own::{cell, is_numeric};
use crate::pages::view::{Column, Piece, SectionView, Sentence, TableView};

const ID: &str = "own-questions";
const HEADING: &str = "Your own questions";
/// Rows shown on the page; the CSV has all.
const MOST_SHOWN: usize = 200;

/// The section; none where no question is asked.
pub(in crate::pages) fn section(own: &[Asked], c: Context<'_>) -> Option<Section> {
    if own.is_empty() {
        return None;
    }
    let answered = own
        .iter()
        .filter_map(|q| Some((q, q.answer.as_ref().ok()?)));
    let view = SectionView {
        id: ID.into(),
        heading: HEADING.into(),
        sentence: say(
            "Tables that the files in the folder queries/ ask for, as they ask for them. Nothing in them is tested or judged: a difference may be luck.",
        ),
        notes: own.iter().filter_map(note).collect(),
        tables: answered.map(|(q, a)| table(q, a, c.format)).collect(),
        ..SectionView::default()
    };
    Some(Section {
        view,
        tables: Vec::new(),
    })
}

/// Why a question has no table. Its words are the shop's, so each stands in a
/// piece of its own.
fn note(q: &Asked) -> Option<Sentence> {
    let why = q.answer.as_ref().err()?;
    Some(vec![
        Piece::strong(q.title.clone()),
        Piece::text(" ("),
        Piece::text(q.file.clone()),
        Piece::text(") has no answer: "),
        Piece::text(why.to_string()),
        Piece::text("."),
    ])
}

fn table(q: &Asked, a: &Answer, f: &Format) -> TableView {
    let column = |(name, kind): (&String, Kind)| Column {
        title: name.clone(),
        numeric: is_numeric(kind),
    };
    let columns = a.columns.iter().map(|c| (&c.name, c.kind));
    let shown = a.rows.iter().take(MOST_SHOWN);
    let row = |r: &Vec<Value>| r.iter().map(|v| cell(v, f)).collect();
    TableView {
        fold: q.title.clone(),
        // The file's name keeps it unique where two have one title.
        caption: format!("{} ({})", q.title, q.file),
        columns: columns.map(column).collect(),
        rows: shown.map(row).collect(),
        definition: definition(q, a, f),
        sortable: a.rows.len() > 2,
        comma: f.decimal == ',',
    }
}

fn definition(q: &Asked, a: &Answer, f: &Format) -> Sentence {
    let all = a.rows.len();
    let rows = f.count_of(all as u64, "row", "rows");
    let counted = match all {
        n if n > MOST_SHOWN => format!(
            "The first {} of {rows}; all are in tables/own-{}.csv. ",
            f.count(MOST_SHOWN as u64),
            q.name
        ),
        _ => format!("{rows}. "),
    };
    let mut said = Vec::new();
    if !q.description.is_empty() {
        said.push(Piece::text(format!("{} ", q.description)));
    }
    said.push(Piece::text(counted));
    said.push(Piece::text(format!("Asked by {}: ", q.file)));
    said.push(Piece::text(asked(&q.sql)));
    said
}

/// The question in one line, without its comments.
fn asked(sql: &str) -> String {
    let lines = sql.lines().map(str::trim).filter(|l| !l.starts_with("--"));
    lines.collect::<Vec<_>>().join(" ").trim().to_string()
}
