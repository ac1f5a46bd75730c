//! What was put aside and comes again, mended, in a later export: superseded.

use super::super::chunk::key_field;
use super::super::file::FileRows;
use super::super::mend::plain_name;
use super::index::Index;
use super::stack::{Segment, Stack};
use super::{LinkedTable, State, States};
use crate::settings::contract::Table;
use std::collections::BTreeMap;

/// A reject: its file, and its place in that file's list.
pub(super) type Place = (usize, usize);

/// Rejects whose key an accepted row of a later file holds.
pub(super) fn rejects_by_key(
    files: &[FileRows],
    stack: &Stack<'_>,
    index: &Index,
    states: &States,
) -> Vec<Place> {
    let fields = (stack.field("shop"), stack.field(key_field(stack.table)));
    let mut out = Vec::new();
    for (file, rows) in files.iter().enumerate() {
        // The first table of a file says what its records are.
        if !is_first(rows, stack.table) {
            continue;
        }
        for (at, reject) in rows.rejects.iter().enumerate() {
            let Some(held) = reject.held.iter().find(|h| h.part == 0) else {
                continue;
            };
            let found = index.find(stack, fields, (&held.shop, &held.key));
            let later = found.is_some_and(|row| {
                let by = stack.locate(row);
                by.segment.file > file && states.accepted(by.id())
            });
            if later {
                out.push((file, at));
            }
        }
    }
    out
}

/// True where a file's records are of a table before all others.
fn is_first(rows: &FileRows, table: Table) -> bool {
    rows.plan.parts.first().is_some_and(|p| p.table == table)
}

fn key_of<'x>(stack: &Stack<'_>, segment: &'x Segment<'_>, row: usize) -> (&'x str, &'x str) {
    let text = |name: &str| {
        let column = segment.column(stack.field(name));
        column.and_then(|c| c.text(row)).unwrap_or("")
    };
    (text("shop"), text(key_field(stack.table)))
}

/// Rows that were put aside, of a file's first table.
fn put_aside<'s, 'a>(
    stack: &'s Stack<'a>,
    states: &'s States,
) -> impl Iterator<Item = (&'s Segment<'a>, usize)> {
    let first = stack.segments.iter().filter(|s| s.part == 0);
    first.flat_map(move |segment| {
        let aside = |row: &usize| states.of(segment.id(*row)) == State::Quarantined;
        (0..segment.rows.len)
            .filter(aside)
            .map(move |row| (segment, row))
    })
}

/// Supersedes rows that were put aside and whose key an accepted row of a
/// later export holds.
pub(super) fn rows_by_key(stack: &Stack<'_>, index: &Index, states: &mut States) {
    if states.whys.is_empty() {
        return;
    }
    let fields = (stack.field("shop"), stack.field(key_field(stack.table)));
    let came_again = |(segment, row): &(&Segment<'_>, usize)| {
        let found = index.find(stack, fields, key_of(stack, segment, *row));
        found.is_some_and(|holder| {
            let by = stack.locate(holder);
            let later = by.segment.order(by.row) > segment.order(*row);
            later && by.segment.file != segment.file && states.accepted(by.id())
        })
    };
    let again: Vec<_> = put_aside(stack, states).filter(came_again).collect();
    let ids: Vec<_> = again
        .iter()
        .map(|(segment, row)| segment.id(*row))
        .collect();
    for id in ids {
        states.supersede(id);
    }
}

/// The same of tables whose records have no key of their own: of the lines of
/// a job that a file had put aside, as many as its mended file brings.
pub(super) fn by_number(
    files: &[FileRows],
    tables: &BTreeMap<Table, LinkedTable<'_>>,
    states: &mut States,
) -> Vec<Place> {
    let names: Vec<(String, u32)> = files.iter().map(|f| plain_name(&f.plan.file)).collect();
    let mut out = Vec::new();
    for (file, rows) in files.iter().enumerate() {
        let later =
            |other: &usize| names[*other].0 == names[file].0 && names[*other].1 > names[file].1;
        let mending: Vec<usize> = (0..files.len()).filter(later).collect();
        let table = rows.plan.parts.first().map(|p| p.table);
        let Some(table) = table.filter(|t| t.key().is_empty() && !mending.is_empty()) else {
            continue;
        };
        if let Some(linked) = tables.get(&table) {
            let places = mended_lines(file, rows, &mending, &linked.stack, states);
            out.extend(places.into_iter().map(|at| (file, at)));
        }
    }
    out
}

/// A line that was put aside: where it stands, its key, and the reject's place
/// or the row.
type Aside<'a> = (u64, (&'a str, &'a str), Result<usize, super::RecordId>);

/// Supersedes the rows of one file that others mend; returns its rejects that
/// they mend.
fn mended_lines(
    file: usize,
    rows: &FileRows,
    mending: &[usize],
    stack: &Stack<'_>,
    states: &mut States,
) -> Vec<usize> {
    let mut brought: BTreeMap<(&str, &str), u32> = BTreeMap::new();
    for segment in stack.segments.iter().filter(|s| mending.contains(&s.file)) {
        for row in (0..segment.rows.len).filter(|r| states.accepted(segment.id(*r))) {
            *brought.entry(key_of(stack, segment, row)).or_default() += 1;
        }
    }
    let mut aside: Vec<Aside<'_>> = Vec::new();
    for (at, reject) in rows.rejects.iter().enumerate() {
        if let Some(held) = reject.held.iter().find(|h| h.part == 0) {
            aside.push((reject.line, (&held.shop, &held.key), Ok(at)));
        }
    }
    for (segment, row) in put_aside(stack, states).filter(|(s, _)| s.file == file) {
        let key = key_of(stack, segment, row);
        aside.push((segment.line(row), key, Err(segment.id(row))));
    }
    aside.sort_by_key(|(line, ..)| *line);
    let mut rows_mended = Vec::new();
    let mut places = Vec::new();
    for (_, key, what) in aside {
        let Some(left) = brought.get_mut(&key).filter(|n| **n > 0) else {
            continue;
        };
        *left -= 1;
        match what {
            Ok(place) => places.push(place),
            Err(id) => rows_mended.push(id),
        }
    }
    for id in rows_mended {
        states.supersede(id);
    }
    places
}
