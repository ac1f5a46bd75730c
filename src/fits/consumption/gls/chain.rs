//! Bottle rows and their tridiagonal covariance, in time linear in bottles.

use super::dot;
use super::pass::{Link, Sums, Tables};
use crate::fits::consumption::bottles::{Bottles, Straddle};
use nalgebra::DMatrix;

/// Rows of the bottles in the order of their chains.
#[derive(Debug, Clone)]
pub(in crate::fits::consumption) struct BottleRows {
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

/// What the straddling jobs add to V at one use, row by row.
pub(super) struct Splits {
    /// On the diagonal.
    diagonal: Vec<f64>,
    /// Between each bottle and the one before it.
    before: Vec<f64>,
}

impl BottleRows {
    pub(in crate::fits::consumption) fn new(bottles: &Bottles, columns: usize) -> Self {
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
        let mut linked = vec![None; bottles.straddles.len()];
        for (row, straddle) in bottles.link.iter().enumerate() {
            if let Some(place) = straddle.and_then(|j| linked.get_mut(j)) {
                *place = Some(row);
            }
        }
        for (j, straddle) in bottles.straddles.iter().enumerate() {
            let at = |b: Option<usize>| b.and_then(|b| row_of[b]);
            let touched: Vec<usize> = [at(straddle.from), at(straddle.into)]
                .into_iter()
                .flatten()
                .collect();
            if !touched.is_empty() {
                rows.split(j, straddle, touched, linked[j]);
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

    pub(super) fn columns(&self) -> usize {
        self.columns
    }

    /// Straddles that touch a row.
    pub(super) fn straddles(&self) -> impl Iterator<Item = usize> + '_ {
        self.ends.iter().map(|e| e.straddle)
    }

    /// m_j^2/12 of every straddle at the fitted use, where it enters V. The use
    /// is taken as no less than half of what its area takes at the mean of the
    /// bottles: with 8 bottles s and a c_f come out as 0 at times, and a job of
    /// nothing would tie its two bottles together without error.
    pub(super) fn splits(&self, beta: &[f64]) -> Splits {
        let least = 0.5 * self.mean_rate();
        let mut splits = Splits {
            diagonal: vec![0.0; self.count()],
            before: vec![0.0; self.count()],
        };
        for end in &self.ends {
            let area: f64 = end.x[1..].iter().sum();
            let k = dot(&end.x, beta).max(least * area).powi(2) / 12.0;
            for &row in &end.rows {
                splits.diagonal[row] += k;
            }
            if let Some(row) = end.links {
                splits.before[row] -= k;
            }
        }
        splits
    }

    /// mL over m2 of all bottles together, set-up included.
    fn mean_rate(&self) -> f64 {
        let (used, area) = (self.z.chunks_exact(self.columns + 1)).fold((0.0, 0.0), |sum, z| {
            let area: f64 = z[1..self.columns].iter().sum();
            (sum.0 + z[self.columns], sum.1 + area)
        });
        if area > 0.0 { used / area } else { 0.0 }
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
    pub(super) fn tables(&self, splits: &Splits, sigma2: f64) -> Option<Tables> {
        let size = self.columns + 1;
        let mut sums = Sums::new(size);
        for (i, z) in self.z.chunks_exact(size).enumerate() {
            let [rate, rate_before] = [self.area[i], self.area_before[i]];
            let link = Link {
                diagonal: sigma2 * rate + splits.diagonal[i],
                before: sigma2 * rate_before + splits.before[i],
                rate,
                rate_before,
            };
            sums.add(z, link)?;
        }
        Some(sums.tables())
    }
}
