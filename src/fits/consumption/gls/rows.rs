//! The rows of a fit.

use super::Fitted;
use super::chain::BottleRows;
use crate::fits::consumption::bottles::Bottles;
use crate::fits::consumption::jobs::Jobs;
use nalgebra::DMatrix;

/// The rows of a fit: measured jobs, and bottles.
#[derive(Debug, Clone)]
pub(in crate::fits::consumption) struct Rows<'a> {
    pub(super) columns: usize,
    jobs: Jobs<'a>,
    /// Measured jobs that take part, by their place in the input.
    taken: Vec<usize>,
    pub(super) bottles: Option<&'a BottleRows>,
    carrying: Vec<u64>,
}

/// A measured job: what it used, its areas by finish, and their sum.
#[derive(Debug, Clone, Copy)]
pub(super) struct Measured<'a> {
    pub(super) used: f64,
    pub(super) areas: &'a [f64],
    pub(super) area: f64,
}

impl<'a> Rows<'a> {
    /// Jobs but those at the places in `left_out` (ascending).
    pub(in crate::fits::consumption) fn new(
        jobs: Jobs<'a>,
        left_out: impl Iterator<Item = usize>,
    ) -> Self {
        let mut out = left_out.peekable();
        let mut rows = Self {
            columns: jobs.finishes + 1,
            jobs,
            taken: Vec::with_capacity(jobs.used.len()),
            bottles: None,
            carrying: vec![0; jobs.finishes + 1],
        };
        for job in 0..jobs.used.len() {
            if out.next_if_eq(&job).is_none() {
                rows.taken.push(job);
                rows.carry(1, jobs.areas_of(job));
            }
        }
        rows
    }

    /// With the rows of emptied bottles, `rows` being those of `bottles`.
    pub(in crate::fits::consumption) fn with_bottles(
        mut self,
        bottles: &Bottles,
        rows: &'a BottleRows,
    ) -> Self {
        if rows.count() == 0 {
            return self;
        }
        for &b in &bottles.order {
            let bottle = &bottles.bottles[b];
            self.carry(bottle.jobs, &bottle.areas);
        }
        for straddle in rows.straddles() {
            self.carry(1, &bottles.straddles[straddle].areas);
        }
        self.bottles = Some(rows);
        self
    }

    /// Counts towards s by jobs, towards a finish once.
    fn carry(&mut self, jobs: u64, areas: &[f64]) {
        self.carrying[0] += jobs;
        for (count, area) in self.carrying[1..].iter_mut().zip(areas) {
            *count += u64::from(*area > 0.0);
        }
    }

    pub(super) fn measured(&self) -> impl Iterator<Item = Measured<'a>> + '_ {
        self.taken.iter().map(|job| {
            let areas = self.jobs.areas_of(*job);
            Measured {
                used: self.jobs.used[*job],
                areas,
                area: areas.iter().sum(),
            }
        })
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
        self.taken.len()
    }

    pub(in crate::fits::consumption) fn bottle_count(&self) -> usize {
        self.bottles.map_or(0, BottleRows::count)
    }

    pub(in crate::fits::consumption) fn count(&self) -> u64 {
        (self.measured_count() + self.bottle_count()) as u64
    }

    pub(in crate::fits::consumption) fn job_of(&self, row: usize) -> usize {
        self.taken[row]
    }

    /// Mean area of finish `f` over the measured jobs that have any.
    pub(in crate::fits::consumption) fn typical_area(&self, f: usize) -> Option<f64> {
        let areas = self.measured().map(|m| m.areas[f]);
        let (n, sum) = areas
            .filter(|a| *a > 0.0)
            .fold((0.0, 0.0), |s, a| (s.0 + 1.0, s.1 + a));
        (n > 0.0).then_some(sum / n)
    }

    /// Mean area of a measured job.
    pub(in crate::fits::consumption) fn typical_job(&self) -> Option<f64> {
        let n = self.taken.len() as f64;
        (n > 0.0).then(|| self.measured().map(|m| m.area).sum::<f64>() / n)
    }

    /// (M_i - x_i beta) / sqrt(A_i) of the measured jobs.
    pub(in crate::fits::consumption) fn scaled_residuals(&self, beta: &[f64]) -> Vec<f64> {
        let Some((setup, rates)) = beta.split_first() else {
            return Vec::new();
        };
        let fitted = |m: &Measured<'_>| {
            let areas = m.areas.iter().zip(rates);
            areas.fold(*setup, |sum, (a, b)| sum + a * b)
        };
        self.measured()
            .map(|m| (m.used - fitted(&m)) / m.area.sqrt())
            .collect()
    }

    /// sum z z'/A over the measured jobs, z = (x, y).
    pub(super) fn measured_table(&self) -> DMatrix<f64> {
        let size = self.columns + 1;
        let mut sums = vec![0.0; size * size];
        let mut z = vec![1.0; size];
        for job in self.measured() {
            z[1..=job.areas.len()].copy_from_slice(job.areas);
            z[size - 1] = job.used;
            let weight = job.area.recip();
            for (j, column) in sums.chunks_exact_mut(size).enumerate() {
                let scaled = z[j] * weight;
                for (sum, v) in column.iter_mut().zip(&z[..=j]) {
                    *sum += scaled * v;
                }
            }
        }
        let mut table = DMatrix::from_vec(size, size, sums);
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
        let Some(bottles) = self.bottles else {
            return Some(measured);
        };
        let fitted = fitted?;
        let splits = bottles.splits(&fitted.beta);
        let tables = bottles.tables(&splits, fitted.sigma2)?;
        Some(measured + tables.plain * fitted.sigma2)
    }
}
