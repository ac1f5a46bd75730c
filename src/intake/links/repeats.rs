//! Records without a key of their own that stand in an export twice, every
//! cell alike: pasted twice, or two of a kind.
//!
//! Where a record says when it was (or, of a surface, which one it is), it
//! cannot happen again: the second is superseded by the first. Where it does
//! not, both count, because two spells of twenty minutes are as likely as a
//! slip, and the second is listed.

use super::super::chunk::key_field;
use super::super::keys::{Half, KeyIndex};
use super::stack::Stack;
use super::{States, both_halves};
use crate::settings::contract::Table;

/// Fields of which one, filled, makes a record one of its own.
fn anchors(table: Table) -> &'static [&'static str] {
    match table {
        Table::Surfaces => &["surface"],
        Table::Coatings => &["started_at", "ended_at"],
        Table::Callbacks => &["reported_on"],
        Table::Inspections => &["seen_on"],
        Table::Jobs | Table::Bottles | Table::People => &[],
    }
}

/// A row that is like an earlier one of its export in every cell, and counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(in super::super) struct Alike {
    pub(in super::super) row: u32,
    pub(in super::super) first: u32,
}

/// Supersedes records that repeat another of their export exactly; returns
/// those that may as well be two of a kind.
pub(super) fn supersede(stack: &Stack<'_>, states: &mut States) -> Vec<Alike> {
    let again = both_halves(stack.len, |which| find_half(stack, states, which)).concat();
    let fields: Vec<usize> = anchors(stack.table)
        .iter()
        .map(|f| stack.field(f))
        .collect();
    let mut alike = Vec::new();
    for pair in again {
        let at = stack.locate(pair.row);
        let filled = |f: &usize| {
            at.segment
                .column(*f)
                .is_some_and(|c| !c.is_empty_at(at.row))
        };
        if fields.iter().any(filled) {
            states.supersede(at.id());
        } else if stack.table != Table::Surfaces {
            // Two panels of one area are no oddity: areas that do not add up are.
            alike.push(pair);
        }
    }
    alike.sort_unstable();
    alike
}

/// The rows that repeat an earlier one, of one half of the hashes.
fn find_half(stack: &Stack<'_>, states: &States, which: usize) -> Vec<Alike> {
    let mut half = Half::with_rows(stack.len as usize / 2);
    let mut again = Vec::new();
    let fields = (stack.field("shop"), stack.field(key_field(stack.table)));
    for segment in &stack.segments {
        for row in 0..segment.rows.len {
            let hash = segment.hash(row, fields);
            if KeyIndex::half_of(hash) != which || !states.accepted(segment.id(row)) {
                continue;
            }
            let global = segment.base + row as u32;
            let same = |other: u32| {
                let at = stack.locate(other);
                at.segment.file == segment.file
                    && at.segment.content(at.row) == segment.content(row)
                    && stack.same(other, global)
            };
            if let Some(first) = half.put_new(hash, global, same) {
                again.push(Alike { row: global, first });
            }
        }
    }
    again
}
