//! The triangle of a QR factorisation, kept up to date as rows arrive.

use nalgebra::{DMatrix, DVector};

/// Rows that are gathered before they are folded in: enough to pay for the
/// loop, few enough to stay in the first cache.
const BLOCK: usize = 64;

/// R of the QR factorisation of the weighted rows (sqrt(w) x, sqrt(w) y), of
/// size (p+1) x (p+1). Memory does not grow with the rows.
///
/// ```
/// # use tallycoat::fits::linear::Triangle;
/// let mut t = Triangle::new(1);
/// t.add(&[3.0], 1.0, 1.0);
/// t.add(&[4.0], 2.0, 1.0);
/// assert!((t.factor()[(0, 0)].abs() - 5.0).abs() < 1e-15);
/// ```
#[derive(Debug, Clone)]
pub struct Triangle {
    size: usize,
    rows: u64,
    /// (p+1) x (p+1), row-major, zero below the diagonal.
    upper: Vec<f64>,
    /// Rows not yet folded in, column-major, BLOCK to a column.
    waiting: Vec<f64>,
    filled: usize,
}

impl Triangle {
    /// For p columns.
    pub fn new(columns: usize) -> Self {
        let size = columns + 1;
        Self {
            size,
            rows: 0,
            upper: vec![0.0; size * size],
            waiting: vec![0.0; size * BLOCK],
            filled: 0,
        }
    }

    /// Adds a row of p numbers and its y, of weight `w` >= 0. A row of
    /// another length is cut or filled with zeros.
    pub fn add(&mut self, x: &[f64], y: f64, w: f64) {
        let root = w.sqrt();
        let row = x.iter().copied().chain(std::iter::repeat(0.0));
        for (j, v) in row.take(self.size - 1).chain([y]).enumerate() {
            self.waiting[j * BLOCK + self.filled] = root * v;
        }
        self.rows += 1;
        self.filled += 1;
        if self.filled == BLOCK {
            fold(&mut self.upper, &mut self.waiting, self.size);
            self.filled = 0;
        }
    }

    /// Rows added.
    pub fn rows(&self) -> u64 {
        self.rows
    }

    /// R, p x p upper triangular; R'R = X'WX.
    pub fn factor(&self) -> DMatrix<f64> {
        let done = self.folded();
        DMatrix::from_fn(self.size - 1, self.size - 1, |i, j| done[i * self.size + j])
    }

    /// z, length p, with R beta = z.
    pub fn right_side(&self) -> DVector<f64> {
        let done = self.folded();
        DVector::from_fn(self.size - 1, |i, _| done[i * self.size + self.size - 1])
    }

    fn folded(&self) -> Vec<f64> {
        let (mut upper, mut waiting) = (self.upper.clone(), self.waiting.clone());
        for column in waiting.chunks_exact_mut(BLOCK) {
            column[self.filled..].fill(0.0);
        }
        fold(&mut upper, &mut waiting, self.size);
        upper
    }
}

/// Folds a block of rows into the triangle by Householder reflections; the
/// reflection of column j touches row j of the triangle and the block alone.
fn fold(upper: &mut [f64], block: &mut [f64], size: usize) {
    for j in 0..size {
        let (left, right) = block.split_at_mut((j + 1) * BLOCK);
        let column = &left[j * BLOCK..];
        let below: f64 = column.iter().map(|v| v * v).sum();
        if below == 0.0 {
            continue;
        }
        let head = upper[j * size + j];
        let length = -head.signum() * (head * head + below).sqrt();
        let pivot = head - length;
        let scale = 1.0 / (length * pivot);
        upper[j * size + j] = length;
        for (k, other) in (j + 1..size).zip(right.chunks_exact_mut(BLOCK)) {
            let at = j * size + k;
            let along: f64 = column.iter().zip(&*other).map(|(a, b)| a * b).sum();
            let shift = scale * (pivot * upper[at] + along);
            upper[at] += shift * pivot;
            for (o, c) in other.iter_mut().zip(column) {
                *o += shift * c;
            }
        }
    }
}
