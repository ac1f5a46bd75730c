//! Keys that come again: a later export wins, an exact repeat counts once,
//! and within one export other content under the same key is a fault.

use super::super::chunk::key_field;
use super::super::file::FileRows;
use super::super::keys::{Half, KeyIndex};
use super::super::reason::{Fault, Reason};
use super::super::refusals::shown;
use super::index::{Index, Ordered};
use super::stack::Stack;
use super::{LinkedTable, States, both_halves};
use std::collections::BTreeSet;

/// True where two rows have the same shop and key.
fn same_key(stack: &Stack<'_>, fields: (usize, usize), a: u32, b: u32) -> bool {
    let (a, b) = (stack.locate(a), stack.locate(b));
    let shops = (
        a.text(fields.0).unwrap_or(""),
        b.text(fields.0).unwrap_or(""),
    );
    a.text(fields.1) == b.text(fields.1) && shops.0 == shops.1
}

/// What one half of the hashes gave.
struct Settled {
    half: Half,
    /// Rows whose key another row holds.
    again: Vec<u32>,
}

/// Settles which row of each key counts; returns them by key.
pub(super) fn settle(
    linked: &mut LinkedTable<'_>,
    files: &[FileRows],
    states: &mut States,
) -> Index {
    let stack = &linked.stack;
    let fields = (stack.field("shop"), stack.field(key_field(stack.table)));
    // A row that was put aside does not count for its key, so rows of which
    // some were go by hash.
    if states.whys.is_empty()
        && let Some(ordered) = Ordered::of(stack, fields.1)
    {
        return Index::Ordered(ordered);
    }
    let [low, high] = both_halves(stack.len, |which| settle_half(stack, states, which));
    let mut again = [low.again, high.again].concat();
    again.sort_unstable();
    let index = KeyIndex::of([low.half, high.half]);
    let merged = judge(stack, fields, files, &index, &again, states);
    if !merged.is_empty() {
        linked.merged = vec![false; linked.stack.len as usize];
        for row in merged {
            linked.merged[row as usize] = true;
        }
    }
    Index::Hashed(index)
}

/// The same for the keys of one half of the hashes.
fn settle_half(stack: &Stack<'_>, states: &States, which: u32) -> Settled {
    let fields = (stack.field("shop"), stack.field(key_field(stack.table)));
    let mut out = Settled {
        half: Half::with_rows(stack.len as usize / 2),
        again: Vec::new(),
    };
    for segment in &stack.segments {
        for row in 0..segment.rows.len {
            let hash = segment.hash(row, fields);
            if KeyIndex::half_of(hash) != which || !states.accepted(segment.id(row)) {
                continue;
            }
            let global = segment.base + row as u32;
            let is = |other| same_key(stack, fields, global, other);
            let Some(holder) = out.half.put_new(hash, global, is) else {
                continue;
            };
            let at = stack.locate(holder);
            if segment.order(row) > at.segment.order(at.row) {
                out.half.replace(hash, holder, global);
                out.again.push(holder);
            } else {
                out.again.push(global);
            }
        }
    }
    out
}

/// Judges the rows whose key another row holds; returns those that are part
/// of it.
fn judge(
    stack: &Stack<'_>,
    fields: (usize, usize),
    files: &[FileRows],
    index: &KeyIndex,
    again: &[u32],
    states: &mut States,
) -> Vec<u32> {
    let mut merged = Vec::new();
    let mut seen: BTreeSet<(u32, u64)> = BTreeSet::new();
    for row in again {
        let at = stack.locate(*row);
        let hash = at.segment.hash(at.row, fields);
        let holder = index.find(hash, |other| same_key(stack, fields, *row, other));
        let Some(holder) = holder.filter(|h| h != row) else {
            continue;
        };
        let by = stack.locate(holder);
        let first_part = at.segment.part == 0;
        let later = by.segment.order(by.row) > at.segment.order(at.row);
        if later && first_part {
            states.supersede(at.id());
        } else if later || stack.same(*row, holder) {
            let content = at.segment.content(at.row);
            let repeats = content.is_some() && content == by.segment.content(by.row);
            let repeats = repeats || content.is_some_and(|c| !seen.insert((holder, c)));
            if first_part && (repeats || !at.segment.holds_others(at.row)) {
                states.supersede(at.id());
            } else {
                merged.push(*row);
            }
        } else {
            let column = Some(at.segment.heading(stack.table, fields.1));
            let key = at.text(fields.1).unwrap_or("");
            states.quarantine(
                at.id(),
                Fault {
                    column,
                    reason: Reason::UniqueError,
                    found: format!("\"{}\" again, with other content", shown(key)),
                    expected: format!(
                        "each {} once; it stands on line {} of {} already",
                        key_field(stack.table),
                        by.line(),
                        files[by.segment.file].plan.file
                    ),
                },
            );
        }
    }
    merged
}
