//! Which columns of a design cannot be told apart?
//!
//! A column that the ones before it can make up (to a tolerance) carries no
//! news. Columns are taken in order, as R's `lm` does, so that the later one
//! is called dependent; but every column of such a combination is affected,
//! since weight can be shifted between them without any row noticing. So
//! each [`Dependency`] names all of them.
//!
//! Two ways in: from the columns themselves (or their triangle R: orthogonal
//! by Gram-Schmidt, twice, tolerance on lengths) and from their cross-products
//! (Cholesky, tolerance on squared lengths, which are known to fewer digits).

use crate::fits::positive::solve_positive;
use nalgebra::{DMatrix, DVector};
use std::collections::BTreeSet;

/// Share of its own length that a column must keep once the earlier ones are
/// taken out. R's `lm` takes 1e-7; Longley's worst column keeps 1e-4.
pub const LENGTH_TOLERANCE: f64 = 1e-9;

/// The same for squared lengths from cross-products, where 1e-16 is noise.
pub const SQUARE_TOLERANCE: f64 = 1e-11;

/// Least share of the dependent column that a partner must explain to be
/// named; below it is rounding.
const NAMED: f64 = 1e-6;

/// A column that earlier columns make up.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dependency {
    /// The dependent column.
    pub column: usize,
    /// The earlier columns that make it up; none where it is zero throughout.
    pub on: Vec<usize>,
}

/// The columns of a design, sorted into those that stand and those that hang.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Rank {
    /// Columns that can be fitted together, ascending.
    pub kept: Vec<usize>,
    /// Columns that cannot be added to them.
    pub dependencies: Vec<Dependency>,
}

impl Rank {
    /// From the columns of an m x p matrix (a design or its triangle).
    pub fn of_columns(matrix: &DMatrix<f64>) -> Self {
        let mut rank = Self::default();
        let mut basis: Vec<DVector<f64>> = Vec::new();
        for j in 0..matrix.ncols() {
            let column = matrix.column(j).into_owned();
            let length = column.norm();
            let left = orthogonalise(column, &basis);
            if length > 0.0 && left.norm() > LENGTH_TOLERANCE * length {
                basis.push(&left / left.norm());
                rank.kept.push(j);
            } else {
                let parts = combination(matrix, &rank.kept, j);
                rank.depends(j, parts, |k| matrix.column(k).norm(), length);
            }
        }
        rank
    }

    /// From a p x p matrix of cross-products.
    pub fn of_cross_products(gram: &DMatrix<f64>) -> Self {
        Self::of_scatter(gram, gram)
    }

    /// From cross-products about some means (within groups, say), with the
    /// whole cross-products of the same columns to tell zero from rounding.
    pub fn of_scatter(gram: &DMatrix<f64>, whole: &DMatrix<f64>) -> Self {
        let mut rank = Self::default();
        for j in 0..gram.ncols() {
            let own = gram[(j, j)];
            let parts = gram_combination(gram, &rank.kept, j);
            let explained: f64 = (parts.iter().zip(&rank.kept))
                .map(|(c, &k)| c * gram[(k, j)])
                .sum();
            if own > 0.0 && own - explained > SQUARE_TOLERANCE * whole[(j, j)] {
                rank.kept.push(j);
            } else {
                rank.depends(j, parts, |k| gram[(k, k)].sqrt(), own.max(0.0).sqrt());
            }
        }
        rank
    }

    /// Every column that takes part in a dependency, ascending: no interval
    /// can be given for these.
    pub fn entangled(&self) -> Vec<usize> {
        let named = (self.dependencies.iter()).flat_map(|d| d.on.iter().copied().chain([d.column]));
        named.collect::<BTreeSet<_>>().into_iter().collect()
    }

    fn depends(
        &mut self,
        column: usize,
        parts: Vec<f64>,
        length_of: impl Fn(usize) -> f64,
        length: f64,
    ) {
        let on = (self.kept.iter().zip(parts))
            .filter(|&(&k, c)| length > 0.0 && c.abs() * length_of(k) > NAMED * length)
            .map(|(&k, _)| k)
            .collect();
        self.dependencies.push(Dependency { column, on });
    }
}

/// What is left of a column outside the span of the basis.
fn orthogonalise(mut column: DVector<f64>, basis: &[DVector<f64>]) -> DVector<f64> {
    for _ in 0..2 {
        for q in basis {
            let along = q.dot(&column);
            column.axpy(-along, q, 1.0);
        }
    }
    column
}

/// Weights with which the kept columns make up column `j`.
fn combination(matrix: &DMatrix<f64>, kept: &[usize], j: usize) -> Vec<f64> {
    if kept.is_empty() {
        return Vec::new();
    }
    let target = matrix.column(j).into_owned();
    let solved = matrix.select_columns(kept).qr();
    let right = solved.q().transpose() * target;
    let weights = solved.r().solve_upper_triangular(&right);
    weights.map_or_else(Vec::new, |w| w.iter().copied().collect())
}

fn gram_combination(gram: &DMatrix<f64>, kept: &[usize], j: usize) -> Vec<f64> {
    if kept.is_empty() {
        return Vec::new();
    }
    let left = DMatrix::from_fn(kept.len(), kept.len(), |a, b| gram[(kept[a], kept[b])]);
    let right = DVector::from_fn(kept.len(), |a, _| gram[(kept[a], j)]);
    solve_positive(&left, &right).map_or_else(Vec::new, |w| w.iter().copied().collect())
}
