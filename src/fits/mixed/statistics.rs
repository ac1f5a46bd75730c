//! What a random-intercept fit needs of its rows, however many there are.
//!
//! With z = (x, y), a group g of n_g rows enters through n_g and its means
//! zbar_g alone; everything within groups through one pooled table
//! S = sum_g sum_i (z_i - zbar_g)(z_i - zbar_g)'. Rows that stand alone (each
//! a group of its own) need no table per group either: the sum of zz' over
//! them serves. So memory is (groups + p) (p + 1), whatever the rows.

use crate::fits::error::FitError;
use nalgebra::{DMatrix, DVector};
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
}

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
        let Some(label) = group else {
            self.alone += 1;
            add_outer(&mut self.alone_products, 1.0, z);
            return;
        };
        let own = self.groups.entry(label).or_insert_with(|| Group {
            rows: 0.0,
            mean: DVector::zeros(p + 1),
        });
        let share = own.rows / (own.rows + 1.0);
        add_outer(&mut self.within, share, |j| z(j) - own.mean[j]);
        own.rows += 1.0;
        for (j, mean) in own.mean.iter_mut().enumerate() {
            *mean += (z(j) - *mean) / own.rows;
        }
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
        Ok(())
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
        Self {
            groups: self.groups.iter().map(|(l, g)| (*l, cut(g))).collect(),
            within: table(&self.within),
            alone_products: table(&self.alone_products),
            ..*self
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

    /// within S + sum_g weight(n_g) zbar zbar' + alone sum zz', the form that
    /// every matrix of this model takes; (p+1) x (p+1).
    pub(super) fn combine(
        &self,
        within: f64,
        weight: impl Fn(f64) -> f64,
        alone: f64,
    ) -> DMatrix<f64> {
        let mut sum = &self.within * within + &self.alone_products * alone;
        for group in self.groups.values() {
            add_outer(&mut sum, weight(group.rows), |j| group.mean[j]);
        }
        sum.fill_lower_triangle_with_upper_triangle();
        sum
    }
}

/// Adds w d d' to the upper triangle, for d_j = `entry(j)`; no allocation, as
/// this runs once a row.
fn add_outer(table: &mut DMatrix<f64>, w: f64, entry: impl Fn(usize) -> f64) {
    let size = table.nrows();
    for (j, column) in table.as_mut_slice().chunks_exact_mut(size).enumerate() {
        let scaled = w * entry(j);
        for (i, cell) in column[..=j].iter_mut().enumerate() {
            *cell += scaled * entry(i);
        }
    }
}
