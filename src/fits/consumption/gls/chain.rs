//! Bottle rows and their tridiagonal covariance, in time linear in bottles.

use super::dot;
use crate::fits::consumption::bottles::{Bottles, Straddle};
use nalgebra::DMatrix;

/// Rows of the bottles in the order of their chains.
#[derive(Debug, Clone)]
pub(super) struct BottleRows {
    columns: usize,
    /// Rows z = (x, y), row-major, columns + 1 wide.
    z: Vec<f64>,
    /// Diagonal of D.
    area: Vec<f64>,
    /// D between each bottle and the one before it.
    area_before: Vec<f64>,
    ends: Vec<End>,
}

/// A straddling job at one end of a bottle, or between two.
#[derive(Debug, Clone)]
struct End {
    straddle: usize,
    /// The job's own columns: one for s, its areas.
    x: Vec<f64>,
    /// Rows that it touches.
    rows: Vec<usize>,
    /// The row that it links to the one before.
    links: Option<usize>,
}

/// Sums over the bottles with V at one sigma^2, all (p+1) x (p+1) over z.
pub(super) struct Tables {
    /// Z'V^-1 Z.
    pub(super) plain: DMatrix<f64>,
    /// -Z'V^-1 D V^-1 Z.
    pub(super) once: DMatrix<f64>,
    /// Z'V^-1 D V^-1 D V^-1 Z.
    pub(super) twice: DMatrix<f64>,
    pub(super) log_determinant: f64,
    /// tr(V^-1 D).
    pub(super) trace: f64,
    /// tr(V^-1 D V^-1 D).
    pub(super) trace2: f64,
}

impl BottleRows {
    pub(super) fn new(bottles: &Bottles, columns: usize) -> Self {
        let count = bottles.order.len();
        let mut row_of = vec![None; bottles.bottles.len()];
        let mut rows = Self {
            columns,
            z: Vec::with_capacity(count * (columns + 1)),
            area: Vec::with_capacity(count),
            area_before: vec![0.0; count],
            ends: Vec::new(),
        };
        for (row, &b) in bottles.order.iter().enumerate() {
            let bottle = &bottles.bottles[b];
            row_of[b] = Some(row);
            rows.z.push(bottle.jobs as f64);
            rows.z.extend_from_slice(&bottle.areas);
            rows.z.push(bottle.used);
            rows.area.push(bottle.areas.iter().sum());
        }
        for (j, straddle) in bottles.straddles.iter().enumerate() {
            let at = |b: Option<usize>| b.and_then(|b| row_of[b]);
            let touched: Vec<usize> = [at(straddle.from), at(straddle.into)]
                .into_iter()
                .flatten()
                .collect();
            if !touched.is_empty() {
                let links = bottles.link.iter().position(|l| *l == Some(j));
                rows.split(j, straddle, touched, links);
            }
        }
        rows
    }

    /// Half of the job to every row that it touches.
    fn split(&mut self, straddle: usize, job: &Straddle, rows: Vec<usize>, links: Option<usize>) {
        let x: Vec<f64> = std::iter::once(1.0)
            .chain(job.areas.iter().copied())
            .collect();
        let area: f64 = job.areas.iter().sum();
        for &row in &rows {
            let at = row * (self.columns + 1);
            for (z, v) in self.z[at..at + self.columns].iter_mut().zip(&x) {
                *z += 0.5 * v;
            }
            self.area[row] += area / 3.0;
        }
        if let Some(row) = links {
            self.area_before[row] += area / 6.0;
        }
        self.ends.push(End {
            straddle,
            x,
            rows,
            links,
        });
    }

    pub(super) fn count(&self) -> usize {
        self.area.len()
    }

    /// Straddles that touch a row.
    pub(super) fn straddles(&self) -> impl Iterator<Item = usize> + '_ {
        self.ends.iter().map(|e| e.straddle)
    }

    /// m_j^2/12 of every straddle at the fitted use.
    pub(super) fn spread(&self, beta: &[f64]) -> Vec<f64> {
        (self.ends.iter())
            .map(|e| dot(&e.x, beta).max(0.0).powi(2) / 12.0)
            .collect()
    }

    /// sum z z' / areas, the rows taken as independent.
    pub(super) fn crude_table(&self) -> DMatrix<f64> {
        let size = self.columns + 1;
        let mut table = DMatrix::zeros(size, size);
        for (z, area) in self.z.chunks_exact(size).zip(&self.area) {
            let z = nalgebra::DVectorView::from_slice(z, size);
            table.ger(1.0 / area.max(f64::MIN_POSITIVE), &z, &z, 1.0);
        }
        table
    }

    /// The sums at `sigma2`; `None` where V is not positive definite.
    pub(super) fn tables(&self, spread: &[f64], sigma2: f64) -> Option<Tables> {
        let d = Tridiagonal {
            diagonal: self.area.clone(),
            before: self.area_before.clone(),
        };
        let v = self.covariance(spread, sigma2);
        let factor = v.factor()?;
        let size = self.columns + 1;
        let (mut plain, mut once, mut twice) = (
            DMatrix::zeros(size, size),
            DMatrix::zeros(size, size),
            DMatrix::zeros(size, size),
        );
        let columns: Vec<Solved> = (0..size)
            .map(|j| self.solve_column(j, &d, &factor))
            .collect();
        for i in 0..size {
            for j in 0..size {
                plain[(i, j)] = dot(&columns[i].raw, &columns[j].solved);
                once[(i, j)] = -dot(&columns[i].solved, &columns[j].weighted);
                twice[(i, j)] = dot(&columns[i].weighted, &columns[j].again);
            }
        }
        let logs = v.log_determinant(&d);
        Some(Tables {
            plain,
            once,
            twice,
            log_determinant: logs.value,
            trace: logs.slope,
            trace2: -logs.bend,
        })
    }

    fn covariance(&self, spread: &[f64], sigma2: f64) -> Tridiagonal {
        let mut v = Tridiagonal {
            diagonal: self.area.iter().map(|a| sigma2 * a).collect(),
            before: self.area_before.iter().map(|a| sigma2 * a).collect(),
        };
        for (end, k) in self.ends.iter().zip(spread) {
            for &row in &end.rows {
                v.diagonal[row] += k;
            }
            if let Some(row) = end.links {
                v.before[row] -= k;
            }
        }
        v
    }

    fn solve_column(&self, j: usize, d: &Tridiagonal, factor: &Factor) -> Solved {
        let raw: Vec<f64> = self
            .z
            .chunks_exact(self.columns + 1)
            .map(|z| z[j])
            .collect();
        let solved = factor.solve(&raw);
        let weighted = d.times(&solved);
        let again = factor.solve(&weighted);
        Solved {
            raw,
            solved,
            weighted,
            again,
        }
    }
}

/// One column u of Z, V^-1 u, D V^-1 u, and V^-1 D V^-1 u.
struct Solved {
    raw: Vec<f64>,
    solved: Vec<f64>,
    weighted: Vec<f64>,
    again: Vec<f64>,
}

/// A symmetric tridiagonal matrix: `before[i]` couples i to i - 1.
struct Tridiagonal {
    diagonal: Vec<f64>,
    before: Vec<f64>,
}

/// ln det and its first two derivatives in sigma^2.
struct LogDeterminant {
    value: f64,
    slope: f64,
    bend: f64,
}

/// L D L' of a tridiagonal matrix.
struct Factor {
    pivots: Vec<f64>,
    /// L below the diagonal.
    lower: Vec<f64>,
}

impl Tridiagonal {
    fn factor(&self) -> Option<Factor> {
        let mut pivots: Vec<f64> = Vec::with_capacity(self.diagonal.len());
        let mut lower = Vec::with_capacity(self.diagonal.len());
        for (a, b) in self.diagonal.iter().zip(&self.before) {
            let l = pivots.last().map_or(0.0, |above| b / above);
            let pivot = a - l * b;
            if pivot.is_nan() || pivot <= 0.0 {
                return None;
            }
            lower.push(l);
            pivots.push(pivot);
        }
        Some(Factor { pivots, lower })
    }

    fn times(&self, u: &[f64]) -> Vec<f64> {
        let mut product: Vec<f64> = self.diagonal.iter().zip(u).map(|(a, u)| a * u).collect();
        for i in 1..u.len() {
            product[i] += self.before[i] * u[i - 1];
            product[i - 1] += self.before[i] * u[i];
        }
        product
    }

    /// By carrying the derivatives through the pivots: pivot_i = a_i -
    /// b_i^2/pivot_(i-1), where a_i and b_i move at the rates in `rate`.
    fn log_determinant(&self, rate: &Self) -> LogDeterminant {
        let mut log = LogDeterminant {
            value: 0.0,
            slope: 0.0,
            bend: 0.0,
        };
        let mut pivot = [1.0, 0.0, 0.0];
        for i in 0..self.diagonal.len() {
            let (b, c) = (self.before[i], rate.before[i]);
            let q = b * b / pivot[0];
            let q1 = (2.0 * b * c - q * pivot[1]) / pivot[0];
            let q2 = (2.0 * c * c - 2.0 * q1 * pivot[1] - q * pivot[2]) / pivot[0];
            pivot = [self.diagonal[i] - q, rate.diagonal[i] - q1, -q2];
            let relative = pivot[1] / pivot[0];
            log.value += pivot[0].ln();
            log.slope += relative;
            log.bend += pivot[2] / pivot[0] - relative * relative;
        }
        log
    }
}

impl Factor {
    fn solve(&self, u: &[f64]) -> Vec<f64> {
        let mut x = u.to_vec();
        for i in 1..x.len() {
            x[i] -= self.lower[i] * x[i - 1];
        }
        for (v, pivot) in x.iter_mut().zip(&self.pivots) {
            *v /= pivot;
        }
        for i in (1..x.len()).rev() {
            x[i - 1] -= self.lower[i] * x[i];
        }
        x
    }
}
