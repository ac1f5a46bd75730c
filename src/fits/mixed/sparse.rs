//! Rows of mostly zeros, gathered by what they carry.
//!
//! [`GroupStatistics::add`] takes every product of a row's numbers off means
//! that move with each row. Here the numbers that are not zero are added up as
//! they are, and the means taken off once at the end: with z = (x, y − c), c
//! the first y,
//!
//! ```text
//! S = sum_gi z_gi z_gi' − sum_g n_g zbar_g zbar_g'
//! ```
//!
//! That loses the digits by which the columns' squares exceed their squares
//! within groups; [`Rank::of_scatter`](crate::fits::collinear::Rank) tells what
//! is left of a column that does not vary within groups from one that does. So
//! that rounding of long sums does not look like such a rest, they are closed
//! after [`RUN`] rows, and runs merged as blocks are.

use super::GroupStatistics;
use super::statistics::{Group, add_outer};
use foldhash::fast::RandomState;
use nalgebra::{DMatrix, DVector};
use std::collections::HashMap;

/// Rows of a run. A column that is the same number in every row of its groups
/// keeps some 3e-12 of its squares after so many, 1e-10 after 3,000,000.
const RUN: u64 = 1 << 16;

/// Sums over rows of p columns, as they grow.
#[derive(Debug, Clone)]
pub struct SparseRows {
    /// p + 1.
    size: usize,
    /// The runs before this one.
    before: Option<GroupStatistics>,
    /// Of this run, like all below.
    rows: u64,
    /// c.
    shift: Option<f64>,
    /// Where the sums of each label start.
    places: HashMap<u64, usize, RandomState>,
    /// n and sum z of each group, p + 2 numbers to one.
    sums: Vec<f64>,
    /// sum zz' over all groups.
    products: DMatrix<f64>,
    alone: u64,
    /// sum zz' over rows that stand alone, y not shifted.
    alone_products: DMatrix<f64>,
}

impl SparseRows {
    /// None yet, of `columns` columns.
    pub fn new(columns: usize) -> Self {
        let size = columns + 1;
        Self {
            size,
            before: None,
            rows: 0,
            shift: None,
            places: HashMap::default(),
            sums: Vec::new(),
            products: DMatrix::zeros(size, size),
            alone: 0,
            alone_products: DMatrix::zeros(size, size),
        }
    }

    /// Adds a row as [`GroupStatistics::add`] does: `x` holds the columns that
    /// are not 0, ascending, with their numbers; columns that are not there
    /// are passed over.
    pub fn add(&mut self, group: Option<u64>, x: &[(usize, f64)], y: f64) {
        if self.rows == RUN {
            let next = Self::new(self.size - 1);
            self.before = Some(std::mem::replace(self, next).statistics());
        }
        self.rows += 1;
        let last = self.size - 1;
        let x = &x[..x.partition_point(|(j, _)| *j < last)];
        let Some(label) = group else {
            self.alone += 1;
            return add_products(&mut self.alone_products, x, y);
        };
        let y = y - *self.shift.get_or_insert(y);
        add_products(&mut self.products, x, y);
        let (next, size) = (self.sums.len(), self.size);
        let at = *self.places.entry(label).or_insert(next);
        if at == next {
            self.sums.resize(next + size + 1, 0.0);
        }
        let own = &mut self.sums[at..=at + size];
        own[0] += 1.0;
        for (j, v) in x {
            own[j + 1] += v;
        }
        own[size] += y;
    }

    /// The statistics of the rows added.
    pub fn statistics(self) -> GroupStatistics {
        let mut within = self.products;
        let shift = self.shift.unwrap_or(0.0);
        let mut groups = Vec::with_capacity(self.places.len());
        let mut places: Vec<(u64, usize)> = self.places.into_iter().collect();
        places.sort_unstable();
        for (label, at) in places {
            let own = &self.sums[at..=at + self.size];
            let rows = own[0];
            let mut mean = DVector::from_fn(self.size, |j, _| own[j + 1] / rows);
            add_outer(&mut within, -rows, mean.as_slice());
            mean[self.size - 1] += shift;
            groups.push((label, Group { rows, mean }));
        }
        let run = GroupStatistics::of(self.rows, groups, within, self.alone, self.alone_products);
        match self.before {
            None => run,
            Some(mut all) => {
                all.take_in(&run);
                all
            }
        }
    }
}

/// Adds zz' to the upper triangle, z being `x` and then y.
fn add_products(table: &mut DMatrix<f64>, x: &[(usize, f64)], y: f64) {
    let size = table.nrows();
    let cells = table.as_mut_slice();
    for (k, (j, v)) in x.iter().enumerate() {
        for (i, u) in &x[..=k] {
            cells[j * size + i] += u * v;
        }
    }
    let last = (size - 1) * size;
    for (i, u) in x {
        cells[last + i] += u * y;
    }
    cells[last + size - 1] += y * y;
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fits::collinear::Rank;

    type Row = (Option<u64>, [f64; 3], f64);

    /// Rows of 7 groups and some alone: a class or the other, and a size.
    fn rows(far: f64) -> Vec<Row> {
        let row = |i: u64| {
            let group = (!i.is_multiple_of(11)).then_some((i * 5) % 7);
            let second = f64::from(u8::from(i.is_multiple_of(3)));
            let size = ((i * 37) % 101) as f64 / 500.0;
            let y = far + 0.3 * second + size - (i % 13) as f64 / 40.0;
            (group, [1.0 - second, second, size], y)
        };
        (0..400).map(row).collect()
    }

    fn sparse(rows: &[Row]) -> GroupStatistics {
        let mut all = SparseRows::new(3);
        for (group, x, y) in rows {
            let carried = x.iter().copied().enumerate().filter(|(_, v)| *v != 0.0);
            all.add(*group, &carried.collect::<Vec<_>>(), *y);
        }
        all.statistics()
    }

    /// The slow twin, row by row off means that move along, at 4.5 (minutes'
    /// logarithms) and without any row.
    #[test]
    fn the_same_as_row_by_row() {
        let few = rows(4.5);
        // Of more than a run.
        let many = few.repeat(RUN as usize / few.len() + 2);
        for rows in [few[11..13].to_vec(), Vec::new(), few, many] {
            let mut slow = GroupStatistics::new(3);
            for (group, x, y) in &rows {
                slow.add(*group, x, *y);
            }
            let fast = sparse(&rows);
            assert_eq!(fast.rows(), slow.rows());
            assert_eq!(fast.rows_alone(), slow.rows_alone());
            assert!(fast.labels().eq(slow.labels()));
            assert!(fast.sizes().eq(slow.sizes()));
            let near = |a: DMatrix<f64>, b: DMatrix<f64>| {
                let off = (&a - &b).amax();
                assert!(off <= 1e-13 * b.amax(), "{off:e}: {a} {b}");
            };
            near(fast.within(), slow.within());
            let weight = |n: f64| n / (1.0 + 0.4 * n);
            near(
                fast.combine(1.0, weight, 0.7),
                slow.combine(1.0, weight, 0.7),
            );
            for ((_, a), (_, b)) in fast.groups().zip(slow.groups()) {
                assert!((&a.mean - &b.mean).amax() <= 1e-13 * b.mean.amax());
            }
        }
    }

    /// What lies far from zero is not lost: squares within groups are those of
    /// the same numbers moved to zero, exactly so for whole eighths.
    #[test]
    fn far_from_zero_is_as_near_it() {
        let of = |far: f64| {
            let mut rows = rows(0.0);
            (rows.iter_mut()).for_each(|row| row.2 = far + (8.0 * row.2).round() / 8.0);
            sparse(&rows).within()
        };
        let off = (of(-1e9) - of(0.0)).amax();
        assert!(off < 1e-12, "{off:e}");
    }

    /// A class done by one person alone does not vary within people, however
    /// many jobs there are.
    #[test]
    fn what_does_not_vary_within_groups_is_told_from_what_does() {
        for rows in [999, 3_000_000] {
            one_does_not_vary(rows);
        }
    }

    fn one_does_not_vary(rows: u64) {
        let mut all = SparseRows::new(2);
        for i in 0..rows {
            let group = i % 3;
            let own = (group == 1).then_some((0, 0.3));
            let size = (1, ((i * 37) % 101) as f64 / 500.0);
            let x: Vec<(usize, f64)> = own.into_iter().chain([size]).collect();
            all.add(Some(group), &x, 4.0);
        }
        let all = all.statistics();
        assert_eq!(all.rows(), rows);
        let square = |m: DMatrix<f64>| m.view((0, 0), (2, 2)).into_owned();
        let rank = Rank::of_scatter(&square(all.within()), &all.cross_products());
        assert_eq!(rank.kept, [1]);
    }
}
