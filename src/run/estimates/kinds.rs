//! Which classes, and which finishes, the fits tell apart: all of a shop's,
//! unless it has so many that no fit could.

use crate::estimate::NotEnough;
use crate::findings::left_out::{Rare, RareKind};
use crate::measures::Names;
use std::cmp::Reverse;

/// Classes, and finishes, that are told apart at most.
///
/// Each is a column of the fits, whose work grows with the cube of their
/// number: a review with 60 of both takes seconds, one with 500 classes took
/// minutes. Little is lost to a shop: at 60 coated jobs a month, the 61st
/// class of a year's window has 11 jobs at the very most. A longer list holds
/// models, or slips of the pen, rather than classes. Common practice, no
/// published source.
pub(in crate::run) const MOST: usize = 60;

/// A shop's classes, or its finishes, with the columns of those told apart.
#[derive(Debug, Default)]
pub(in crate::run) struct Kinds {
    /// What they are called, in the plural.
    of: &'static str,
    /// Coated jobs of each, by its number.
    jobs: Vec<u64>,
    /// The column of each, by its number; `None` where it is too rare.
    columns: Vec<Option<usize>>,
    /// Their numbers, by column.
    numbers: Vec<u32>,
    /// Jobs of a kind that has none.
    rare_jobs: u64,
    /// Jobs with which a kind is sure to have a column.
    need: u64,
}

impl Kinds {
    /// From each coated job's kinds, each once, for `count` kinds that there
    /// are. Up to [`MOST`] all have a column, in order; of more, those with
    /// most jobs, the first of equals.
    pub(super) fn of<J: AsRef<[u32]>>(
        of: &'static str,
        count: usize,
        each: impl Iterator<Item = J> + Clone,
    ) -> Self {
        let mut jobs = vec![0; count];
        for kinds in each.clone() {
            for kind in kinds.as_ref() {
                jobs[*kind as usize] += 1;
            }
        }
        let mut numbers: Vec<u32> = (0..count as u32).collect();
        numbers.sort_by_key(|n| Reverse(jobs[*n as usize]));
        let least = numbers.get(MOST - 1).map_or(0, |n| jobs[*n as usize]);
        numbers.truncate(MOST);
        numbers.sort_unstable();
        let mut columns = vec![None; count];
        for (column, number) in numbers.iter().enumerate() {
            columns[*number as usize] = Some(column);
        }
        let has_rare = |kinds: &J| {
            kinds
                .as_ref()
                .iter()
                .any(|k| columns[*k as usize].is_none())
        };
        Self {
            rare_jobs: match columns.contains(&None) {
                true => each.filter(has_rare).count() as u64,
                false => 0,
            },
            need: least + 1,
            of,
            jobs,
            columns,
            numbers,
        }
    }

    /// How many have a column.
    pub(in crate::run) fn count(&self) -> usize {
        self.numbers.len()
    }

    /// The column of the kind of this number.
    pub(in crate::run) fn column(&self, number: u32) -> Option<usize> {
        self.columns.get(number as usize).copied().flatten()
    }

    /// Numbers of those with a column, by column.
    pub(in crate::run) fn numbers(&self) -> &[u32] {
        &self.numbers
    }

    /// Their names, by column.
    pub(in crate::run) fn names<'a>(&'a self, all: &'a Names) -> impl Iterator<Item = &'a str> {
        self.numbers.iter().map(|n| all.name(*n))
    }

    /// What is too rare, where anything is. `all`: the kinds' names.
    pub(in crate::run) fn rare(&self, all: &Names) -> Option<Rare> {
        let kind = |n: u32| RareKind {
            name: all.name(n).to_string(),
            jobs: self.jobs[n as usize],
        };
        let others = (0..self.jobs.len() as u32).filter(|n| self.column(*n).is_none());
        let mut kinds: Vec<RareKind> = others.map(kind).collect();
        kinds.sort_by_key(|k| Reverse(k.jobs));
        (!kinds.is_empty()).then_some(Rare {
            told_apart: self.count() as u64,
            others: kinds.len() as u64,
            jobs: self.rare_jobs,
            need: self.need,
            kinds,
        })
    }

    /// Why the kind of this number has no column.
    pub(in crate::run) fn too_rare(&self, number: u32) -> NotEnough {
        let have = self.jobs.get(number as usize).copied().unwrap_or(0);
        let of = format!("coated jobs ({MOST} {} at most are told apart)", self.of);
        NotEnough::new(have, self.need, of)
    }
}
