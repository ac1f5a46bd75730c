//! Exports that overlap, of tables whose records have no key of their own:
//! what a later export brings again is counted once, as it has it.
//!
//! A record is the same again where its job and a few further fields agree,
//! and it is the same one in number among such records of its export (a job
//! may have two spells by one person).

use super::super::chunk::key_field;
use super::super::keys::hash_key;
use super::States;
use super::stack::{Segment, Stack};
use crate::settings::contract::Table;
use std::collections::HashMap;

/// Fields that, with shop and job, tell records of one export apart.
fn identity(table: Table) -> &'static [&'static str] {
    match table {
        Table::Surfaces => &["surface", "finish", "orientation"],
        Table::Coatings => &["applied_by", "started_at"],
        Table::Callbacks => &["reported_on", "cause"],
        Table::Inspections => &["seen_on", "orientation"],
        Table::Jobs | Table::Bottles | Table::People => &[],
    }
}

fn agree(stack: &Stack<'_>, fields: &[usize], a: u32, b: u32) -> bool {
    let (a, b) = (stack.locate(a), stack.locate(b));
    fields
        .iter()
        .all(|at| match (a.segment.column(*at), b.segment.column(*at)) {
            (Some(x), Some(y)) => x.same(a.row, y, b.row),
            (Some(x), None) => x.is_empty_at(a.row),
            (None, Some(y)) => y.is_empty_at(b.row),
            (None, None) => true,
        })
}

fn hash(segment: &Segment<'_>, row: usize, fields: &[usize], nth: u32) -> u64 {
    let mut hash = u64::from(nth);
    for at in fields {
        let column = segment.column(*at);
        let word = column.and_then(|c| c.text(row)).unwrap_or("");
        let day = column.and_then(|c| c.day(row)).map_or(0, i64::from);
        let whole = column.and_then(|c| c.whole(row)).unwrap_or(day);
        hash = hash_key(word, &(hash ^ whole as u64).to_le_bytes());
    }
    hash
}

/// Supersedes records that a later export brings again. Only files whose
/// records are of this table first count as its exports.
pub(super) fn supersede(stack: &Stack<'_>, states: &mut States) {
    let exports: Vec<&Segment<'_>> = stack.segments.iter().filter(|s| s.part == 0).collect();
    let first = exports.first().map(|s| s.file);
    if exports.iter().all(|s| Some(s.file) == first) {
        return;
    }
    let mut named = vec![stack.field("shop"), stack.field(key_field(stack.table))];
    named.extend(identity(stack.table).iter().map(|f| stack.field(f)));
    let mut latest: HashMap<u64, u32> = HashMap::new();
    let mut nth: HashMap<u64, u32> = HashMap::new();
    let mut file = None;
    for segment in exports {
        if file != Some(segment.file) {
            nth.clear();
            file = Some(segment.file);
        }
        for row in 0..segment.rows.len {
            if !states.accepted(segment.id(row)) {
                continue;
            }
            let plain = hash(segment, row, &named, 0);
            let count = nth.entry(plain).or_default();
            *count += 1;
            let global = segment.base + row as u32;
            let own = hash(segment, row, &named, *count);
            let Some(holder) = latest.insert(own, global) else {
                continue;
            };
            let by = stack.locate(holder);
            if by.segment.file == segment.file || !agree(stack, &named, holder, global) {
                continue;
            }
            if segment.order(row) >= by.segment.order(by.row) {
                states.supersede(by.id());
            } else {
                states.supersede(segment.id(row));
                latest.insert(own, holder);
            }
        }
    }
}
