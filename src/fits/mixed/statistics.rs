//! What a random-intercept fit needs of its rows, however many there are.
//!
//! With z = (x, y), a group g of n_g rows enters through n_g and its means
//! zbar_g alone; everything within groups through one pooled table
//! S = sum_g sum_i (z_i - zbar_g)(z_i - zbar_g)'. Rows that stand alone (each
//! a group of its own) need no table per group either: the sum of zz' over
//! them serves. So memory is (groups + p) (p + 1), whatever the rows.

use crate::fits::error::FitError;
use nalgebra::{DMatrix, DVector};
use smallvec::SmallVec;
use std::collections::BTreeMap;

/// A group's rows, as far as a fit needs them.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Group {
    pub(super) rows: f64,
    /// Means of the p columns, then of y.
    pub(super) mean: DVector<f64>,
}

/// Sufficient statistics of a random-intercept model: rows are added once,
/// tables merged, fits made of the result.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupStatistics {
    rows: u64,
    groups: BTreeMap<u64, Group>,
    /// Pooled within groups, (p+1) x (p+1); the upper triangle is kept.
    within: DMatrix<f64>,
    alone: u64,
    /// sum zz' over rows that stand alone; the upper triangle is kept.
    alone_products: DMatrix<f64>,
    /// Where there are [`MANY_GROUPS`] or more, once rows are no longer added:
    /// sizes n, ascending, with sum zbar zbar' over the groups of that size: the
    /// columns of its upper triangle one after another.
    alike: Vec<(f64, Vec<f64>)>,
}

/// Groups from which on those of one size are put together for a fit, which
/// looks at the same sums some hundred times.
const MANY_GROUPS: usize = 64;

impl GroupStatistics {
    /// None yet, of `columns` columns; a model with an intercept carries its
    /// column of ones (or class columns that add up to one).
    pub fn new(columns: usize) -> Self {
        let empty = DMatrix::zeros(columns + 1, columns + 1);
        Self {
            rows: 0,
            groups: BTreeMap::new(),
            within: empty.clone(),
            alone: 0,
            alone_products: empty,
            alike: Vec::new(),
        }
    }

    /// From groups by their labels and upper triangles summed up elsewhere.
    pub(super) fn of(
        rows: u64,
        groups: Vec<(u64, Group)>,
        within: DMatrix<f64>,
        alone: u64,
        alone_products: DMatrix<f64>,
    ) -> Self {
        Self {
            rows,
            groups: groups.into_iter().collect(),
            within,
            alone,
            alone_products,
            alike: Vec::new(),
        }
    }

    /// Number of columns p.
    pub fn columns(&self) -> usize {
        self.within.nrows() - 1
    }

    /// Rows added.
    pub fn rows(&self) -> u64 {
        self.rows
    }

    /// Labels of the groups that have rows, ascending.
    pub fn labels(&self) -> impl Iterator<Item = u64> + '_ {
        self.groups.keys().copied()
    }

    /// Rows that stand alone.
    pub fn rows_alone(&self) -> u64 {
        self.alone
    }

    /// Adds a row of p numbers and its y to the group labelled `group`; with
    /// `None` it stands alone, as a group of one that no other row shares. A
    /// row of another length is cut or filled with zeros.
    pub fn add(&mut self, group: Option<u64>, x: &[f64], y: f64) {
        let p = self.columns();
        let x = |j: usize| x.get(j).copied().unwrap_or(0.0);
        let z = |j: usize| if j == p { y } else { x(j) };
        self.rows += 1;
        self.alike.clear();
        let Some(label) = group else {
            self.alone += 1;
            add_outer(
                &mut self.alone_products,
                1.0,
                &(0..=p).map(z).collect::<Row>(),
            );
            return;
        };
        let own = self.groups.entry(label).or_insert_with(|| Group {
            rows: 0.0,
            mean: DVector::zeros(p + 1),
        });
        let share = own.rows / (own.rows + 1.0);
        let off: Row = own.mean.iter().zip(0..).map(|(m, j)| z(j) - m).collect();
        add_outer(&mut self.within, share, &off);
        own.rows += 1.0;
        for (mean, off) in own.mean.iter_mut().zip(&off) {
            *mean += off / own.rows;
        }
    }

    /// Takes a row out again that was added with just these numbers. What is
    /// left agrees with statistics that never held it to rounding at the size
    /// of the row: a row a million times the others' spread costs six digits.
    pub fn remove(&mut self, group: Option<u64>, x: &[f64], y: f64) {
        let p = self.columns();
        let x = |j: usize| x.get(j).copied().unwrap_or(0.0);
        let z = |j: usize| if j == p { y } else { x(j) };
        self.alike.clear();
        let Some(label) = group else {
            self.rows = self.rows.saturating_sub(1);
            self.alone = self.alone.saturating_sub(1);
            add_outer(
                &mut self.alone_products,
                -1.0,
                &(0..=p).map(z).collect::<Row>(),
            );
            return;
        };
        let Some(own) = self.groups.get_mut(&label) else {
            return;
        };
        self.rows = self.rows.saturating_sub(1);
        if own.rows <= 1.0 {
            self.groups.remove(&label);
            return;
        }
        let left = own.rows - 1.0;
        let off: Row = own.mean.iter().zip(0..).map(|(m, j)| z(j) - m).collect();
        add_outer(&mut self.within, -own.rows / left, &off);
        for (mean, off) in own.mean.iter_mut().zip(&off) {
            *mean -= off / left;
        }
        own.rows = left;
    }

    /// Adds all that `other` holds; the same label is the same group. Merging
    /// with an empty table, either way, gives the other back to the last bit.
    ///
    /// # Errors
    /// [`FitError::Shape`] where the columns differ in number.
    pub fn merge(&mut self, other: &Self) -> Result<(), FitError> {
        if self.columns() != other.columns() {
            return Err(FitError::Shape {
                what: "columns of the merged group statistics",
                expected: self.columns(),
                found: other.columns(),
            });
        }
        self.take_in(other);
        Ok(())
    }

    /// [`Self::merge`] for the same columns.
    pub(super) fn take_in(&mut self, other: &Self) {
        self.alike.clear();
        self.rows += other.rows;
        self.alone += other.alone;
        self.within += &other.within;
        self.alone_products += &other.alone_products;
        for (label, theirs) in &other.groups {
            match self.groups.get_mut(label) {
                None => {
                    self.groups.insert(*label, theirs.clone());
                }
                Some(ours) => {
                    let delta = &theirs.mean - &ours.mean;
                    let total = ours.rows + theirs.rows;
                    let share = ours.rows * theirs.rows / total;
                    self.within.ger(share, &delta, &delta, 1.0);
                    ours.mean.axpy(theirs.rows / total, &delta, 1.0);
                    ours.rows = total;
                }
            }
        }
    }

    /// The same rows with only the columns in `kept` (and y).
    pub fn select(&self, kept: &[usize]) -> Self {
        let order: Vec<usize> = kept.iter().copied().chain([self.columns()]).collect();
        let table = |m: &DMatrix<f64>| {
            DMatrix::from_fn(order.len(), order.len(), |i, j| m[(order[i], order[j])])
        };
        let cut = |g: &Group| Group {
            rows: g.rows,
            mean: DVector::from_fn(order.len(), |i, _| g.mean[order[i]]),
        };
        let groups: BTreeMap<u64, Group> = self.groups.iter().map(|(l, g)| (*l, cut(g))).collect();
        Self {
            alike: alike(&groups, order.len()),
            groups,
            within: table(&self.within),
            alone_products: table(&self.alone_products),
            rows: self.rows,
            alone: self.alone,
        }
    }

    /// X'X, p x p.
    pub fn cross_products(&self) -> DMatrix<f64> {
        let p = self.columns();
        let whole = self.combine(1.0, |n| n, 1.0);
        whole.view((0, 0), (p, p)).into_owned()
    }

    /// Groups in the order of their labels.
    pub(super) fn groups(&self) -> impl Iterator<Item = (u64, &Group)> {
        self.groups.iter().map(|(l, g)| (*l, g))
    }

    /// Sizes of all groups, rows that stand alone apart.
    pub(super) fn sizes(&self) -> impl Iterator<Item = f64> + '_ {
        self.groups.values().map(|g| g.rows)
    }

    /// Number of groups, each row that stands alone counted as one.
    pub(super) fn group_count(&self) -> u64 {
        self.groups.len() as u64 + self.alone
    }

    /// Pooled table within groups, (p+1) x (p+1).
    pub(super) fn within(&self) -> DMatrix<f64> {
        self.combine(1.0, |_| 0.0, 0.0)
    }

    /// sum_g weight(n_g) zbar zbar' over groups that were put together by size;
    /// nothing where they were not.
    fn together(&self, weight: impl Fn(f64) -> f64) -> Vec<f64> {
        let size = self.alike.first().map_or(0, |(_, products)| products.len());
        let mut sum = vec![0.0; size];
        for (rows, products) in &self.alike {
            let weight = weight(*rows);
            (sum.iter_mut().zip(products)).for_each(|(sum, product)| *sum += weight * product);
        }
        sum
    }

    /// within S + sum_g weight(n_g) zbar zbar' + alone sum zz', the form that
    /// every matrix of this model takes; (p+1) x (p+1).
    pub(super) fn combine(
        &self,
        within: f64,
        weight: impl Fn(f64) -> f64,
        alone: f64,
    ) -> DMatrix<f64> {
        let mut sum = &self.within * within + &self.alone_products * alone;
        add_upper(&mut sum, &self.together(&weight));
        if self.alike.is_empty() {
            for group in self.groups.values() {
                add_outer(&mut sum, weight(group.rows), group.mean.as_slice());
            }
        }
        sum.fill_lower_triangle_with_upper_triangle();
        sum
    }
}

/// Adds the columns of an upper triangle, one after another, to that of
/// `table`.
fn add_upper(table: &mut DMatrix<f64>, mut columns: &[f64]) {
    for (j, mut column) in table.column_iter_mut().enumerate() {
        let Some((own, rest)) = columns.split_at_checked(j + 1) else {
            return;
        };
        (column.iter_mut().zip(own)).for_each(|(cell, v)| *cell += v);
        columns = rest;
    }
}

/// The columns of the upper triangle, one after another.
fn upper(table: &DMatrix<f64>) -> Vec<f64> {
    let column = |j: usize| (0..=j).map(move |i| table[(i, j)]);
    (0..table.ncols()).flat_map(column).collect()
}

/// Sums over the groups of one size, where there are many groups.
fn alike(groups: &BTreeMap<u64, Group>, size: usize) -> Vec<(f64, Vec<f64>)> {
    if groups.len() < MANY_GROUPS {
        return Vec::new();
    }
    let mut order: Vec<&Group> = groups.values().collect();
    order.sort_by(|a, b| a.rows.total_cmp(&b.rows));
    let same = order.chunk_by(|a, b| a.rows == b.rows);
    let sum = |groups: &[&Group]| {
        let mut products = DMatrix::zeros(size, size);
        for group in groups {
            add_outer(&mut products, 1.0, group.mean.as_slice());
        }
        (groups[0].rows, upper(&products))
    };
    same.map(sum).collect()
}

/// A row's numbers, in place for designs of the usual width: this runs once a
/// row.
type Row = SmallVec<[f64; 16]>;

/// Adds w d d' to the upper triangle.
pub(super) fn add_outer(table: &mut DMatrix<f64>, w: f64, d: &[f64]) {
    let columns = table.as_mut_slice().chunks_exact_mut(d.len().max(1));
    for (j, column) in columns.enumerate() {
        let scaled = w * d[j];
        for (cell, v) in column.iter_mut().zip(&d[..=j]) {
            *cell += scaled * v;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    type Row = (Option<u64>, [f64; 2], f64);

    /// Rows of 90 groups of 1 to 4, some alone.
    fn rows() -> Vec<Row> {
        let row = |i: u64| {
            let group = (!i.is_multiple_of(11)).then_some((i * 7) % 90);
            let x = ((i * 37) % 101) as f64 / 50.0;
            (group, [1.0, x], 3.0 + x * x - (i % 7) as f64 / 3.0)
        };
        (0..300).map(row).collect()
    }

    fn of(rows: &[Row]) -> GroupStatistics {
        let mut all = GroupStatistics::new(2);
        for (group, x, y) in rows {
            all.add(*group, x, *y);
        }
        all
    }

    fn near(a: &GroupStatistics, b: &GroupStatistics) {
        assert_eq!((a.rows, a.alone), (b.rows, b.alone));
        assert!(a.labels().eq(b.labels()));
        let weight = |n: f64| n / (1.0 + 0.3 * n);
        let (a, b) = (a.combine(1.0, weight, 0.7), b.combine(1.0, weight, 0.7));
        assert!((&a - &b).amax() < 1e-12 * b.amax(), "{a} {b}");
    }

    #[test]
    fn a_row_taken_out_leaves_what_was_never_put_in() {
        let rows = rows();
        let mut all = of(&rows);
        // Among them all rows of one group, and rows that stand alone.
        let first = rows[1].0;
        let (out, rest): (Vec<Row>, Vec<Row>) =
            (rows.into_iter().enumerate()).fold((Vec::new(), Vec::new()), |mut both, (i, row)| {
                if row.0 == first || i % 9 == 0 {
                    both.0.push(row);
                } else {
                    both.1.push(row);
                }
                both
            });
        for (group, x, y) in &out {
            all.remove(*group, x, *y);
        }
        near(&all, &of(&rest));
    }

    #[test]
    fn many_groups_put_together_by_size_say_the_same() {
        let all = of(&rows());
        let put_together = all.select(&[0, 1]);
        assert!(all.groups.len() >= MANY_GROUPS && !put_together.alike.is_empty());
        near(&put_together, &all);
        let mut more = put_together;
        more.add(Some(3), &[1.0, 0.5], 2.0);
        assert!(
            more.alike.is_empty(),
            "sums by size are of rows no longer all"
        );
    }
}
