//! How many cells and bytes the first records have.

use super::super::record::{Cell, Machine, Marks, Step};
use super::is_blank;
use std::collections::BTreeMap;

/// Records that settle the number of cells.
const SAMPLED: usize = 200;

/// A record's beginning and number of cells.
pub(super) struct Size {
    pub(super) start: usize,
    pub(super) cells: usize,
    pub(super) last_empty: bool,
    pub(super) bytes: usize,
}

pub(super) fn mean_bytes(sizes: &[Size]) -> usize {
    let all: usize = sizes.iter().map(|s| s.bytes).sum();
    all / sizes.len().max(1)
}

/// Sizes of the first records that are not blank.
pub(super) fn record_sizes(
    head: &[u8],
    whole: bool,
    from: usize,
    marks: Marks,
    arity: usize,
) -> Vec<Size> {
    let mut machine = Machine::new(head, marks, arity, whole);
    machine.go_to(from);
    let mut sizes = Vec::new();
    let mut cells: Vec<Cell> = Vec::new();
    while sizes.len() < SAMPLED {
        cells.clear();
        match machine.step(&mut cells) {
            Step::Record(r) => {
                let cut_short = !whole && r.end == head.len();
                if !is_blank(&head[r.start..r.end], marks) && !cut_short {
                    sizes.push(Size {
                        start: r.start,
                        bytes: r.end - r.start,
                        cells: r.cells,
                        last_empty: cells.last().is_some_and(|c| c.start() == c.end()),
                    });
                }
            }
            Step::Faulty(_) => {}
            Step::NeedMore(_) | Step::End => break,
        }
    }
    sizes
}

/// The most usual number of cells and how many records have it.
pub(super) fn usual(sizes: &[Size]) -> Option<(usize, usize)> {
    let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
    for size in sizes {
        *counts.entry(size.cells).or_default() += 1;
    }
    counts
        .into_iter()
        .max_by_key(|(cells, count)| (*count, *cells))
}
