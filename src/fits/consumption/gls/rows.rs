//! The rows of a fit.

use super::chain::BottleRows;
use super::{Fitted, dot};
use crate::fits::consumption::bottles::Bottles;
use nalgebra::DMatrix;

/// The rows of a fit: measured jobs, and bottles.
#[derive(Debug, Clone)]
pub(in crate::fits::consumption) struct Rows {
    pub(super) columns: usize,
    /// Measured jobs by their place in the input.
    jobs: Vec<usize>,
    /// n x columns, row-major.
    pub(super) x: Vec<f64>,
    pub(super) used: Vec<f64>,
    pub(super) area: Vec<f64>,
    pub(super) bottles: Option<BottleRows>,
    carrying: Vec<u64>,
}

impl Rows {
    pub(in crate::fits::consumption) fn new(columns: usize) -> Self {
        Self {
            columns,
            jobs: Vec::new(),
            x: Vec::new(),
            used: Vec::new(),
            area: Vec::new(),
            bottles: None,
            carrying: vec![0; columns],
        }
    }

    pub(in crate::fits::consumption) fn measure(&mut self, job: usize, used: f64, areas: &[f64]) {
        self.jobs.push(job);
        self.used.push(used);
        self.area.push(areas.iter().sum());
        self.x.push(1.0);
        self.x.extend_from_slice(areas);
        self.carry(1, areas);
    }

    pub(in crate::fits::consumption) fn add_bottles(&mut self, bottles: &Bottles) {
        if bottles.order.is_empty() {
            return;
        }
        for &b in &bottles.order {
            let bottle = &bottles.bottles[b];
            self.carry(bottle.jobs, &bottle.areas);
        }
        let rows = BottleRows::new(bottles, self.columns);
        for straddle in rows.straddles() {
            self.carry(1, &bottles.straddles[straddle].areas);
        }
        self.bottles = Some(rows);
    }

    /// Counts towards s by jobs, towards a finish once.
    fn carry(&mut self, jobs: u64, areas: &[f64]) {
        self.carrying[0] += jobs;
        for (count, area) in self.carrying[1..].iter_mut().zip(areas) {
            *count += u64::from(*area > 0.0);
        }
    }

    pub(in crate::fits::consumption) fn columns(&self) -> usize {
        self.columns
    }

    /// Jobs (or bottles, for a finish) that carry column `j`.
    pub(in crate::fits::consumption) fn jobs_carrying(&self, j: usize) -> u64 {
        self.carrying[j]
    }

    pub(in crate::fits::consumption) fn columns_in_use(&self) -> u64 {
        self.carrying.iter().filter(|c| **c > 0).count() as u64
    }

    pub(in crate::fits::consumption) fn measured_count(&self) -> usize {
        self.jobs.len()
    }

    pub(in crate::fits::consumption) fn bottle_count(&self) -> usize {
        self.bottles.as_ref().map_or(0, BottleRows::count)
    }

    pub(in crate::fits::consumption) fn count(&self) -> u64 {
        (self.measured_count() + self.bottle_count()) as u64
    }

    pub(in crate::fits::consumption) fn job_of(&self, row: usize) -> usize {
        self.jobs[row]
    }

    /// Mean area of finish `f` over the measured jobs that have any.
    pub(in crate::fits::consumption) fn typical_area(&self, f: usize) -> Option<f64> {
        let areas = self.x.chunks_exact(self.columns).map(|x| x[1 + f]);
        let (n, sum) = areas
            .filter(|a| *a > 0.0)
            .fold((0.0, 0.0), |s, a| (s.0 + 1.0, s.1 + a));
        (n > 0.0).then_some(sum / n)
    }

    /// Mean area of a measured job.
    pub(in crate::fits::consumption) fn typical_job(&self) -> Option<f64> {
        let n = self.area.len() as f64;
        (n > 0.0).then(|| self.area.iter().sum::<f64>() / n)
    }

    /// (M_i - x_i beta) / sqrt(A_i) of the measured jobs.
    pub(in crate::fits::consumption) fn scaled_residuals(&self, beta: &[f64]) -> Vec<f64> {
        let rows = self
            .x
            .chunks_exact(self.columns)
            .zip(&self.used)
            .zip(&self.area);
        rows.map(|((x, y), a)| (y - dot(x, beta)) / a.sqrt())
            .collect()
    }

    /// sum z z'/A over the measured jobs, z = (x, y).
    pub(super) fn measured_table(&self) -> DMatrix<f64> {
        let p = self.columns;
        let mut table = DMatrix::zeros(p + 1, p + 1);
        let rows = self.x.chunks_exact(p).zip(&self.used).zip(&self.area);
        for ((x, y), a) in rows {
            let z = |j: usize| if j == p { *y } else { x[j] };
            for j in 0..=p {
                let scaled = z(j) / a;
                (0..=j).for_each(|i| table[(i, j)] += scaled * z(i));
            }
        }
        table.fill_lower_triangle_with_upper_triangle();
        table
    }

    /// X'V^-1 X and X'V^-1 y with sigma^2 = 1 for measured jobs alone, or at
    /// the fit's sigma^2, times it; with y'V^-1 y in the corner.
    pub(in crate::fits::consumption) fn unit_table(
        &self,
        fitted: Option<&Fitted>,
    ) -> Option<DMatrix<f64>> {
        let measured = self.measured_table();
        let Some(bottles) = &self.bottles else {
            return Some(measured);
        };
        let fitted = fitted?;
        let spread = bottles.spread(&fitted.beta);
        let tables = bottles.tables(&spread, fitted.sigma2)?;
        Some(measured + tables.plain * fitted.sigma2)
    }
}
