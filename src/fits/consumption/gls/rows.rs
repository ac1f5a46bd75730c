//! The rows of a fit.

use super::Fitted;
use super::chain::BottleRows;
use crate::fits::consumption::bottles::Bottles;
use crate::fits::consumption::jobs::Jobs;
use nalgebra::DMatrix;
use std::cell::OnceCell;

/// The rows of a fit: measured jobs, and bottles.
#[derive(Debug, Clone)]
pub(in crate::fits::consumption) struct Rows<'a> {
    pub(super) columns: usize,
    jobs: Jobs<'a>,
    /// Measured jobs that take part, by their place in the input.
    taken: Vec<usize>,
    pub(super) bottles: Option<&'a BottleRows>,
    carrying: Vec<u64>,
    /// Summed when first asked for.
    totals: OnceCell<Totals>,
}

/// Sums over the measured jobs.
#[derive(Debug, Clone)]
struct Totals {
    /// sum z z'/A, z = (x, y).
    table: DMatrix<f64>,
    /// Areas above 0 by finish.
    of_finish: Vec<Mean>,
    /// Sum of all areas.
    area: f64,
}

impl Totals {
    /// These without `gone`, which are part of them; `None` where that would
    /// cost more than three digits.
    fn less(&self, gone: &Self) -> Option<Self> {
        let table = &self.table - &gone.table;
        let both = table
            .diagonal()
            .iter()
            .zip(self.table.diagonal().iter())
            .all(|(left, all)| *left >= LEAST_LEFT * all);
        let mean = |(all, gone): (&Mean, &Mean)| Mean {
            n: all.n - gone.n,
            sum: all.sum - gone.sum,
        };
        both.then(|| Self {
            table,
            of_finish: self
                .of_finish
                .iter()
                .zip(&gone.of_finish)
                .map(mean)
                .collect(),
            area: self.area - gone.area,
        })
    }
}

/// Share of a sum of squares that must be left where part of it is taken off.
const LEAST_LEFT: f64 = 1e-3;

/// How many numbers, and their sum.
#[derive(Debug, Clone, Copy, Default)]
struct Mean {
    n: f64,
    sum: f64,
}

/// [`Totals`] as they grow.
struct Sums {
    size: usize,
    /// Upper triangle, column by column.
    table: Vec<f64>,
    of_finish: Vec<Mean>,
    area: f64,
    z: Vec<f64>,
    /// Places of z that are not 0 on the job being added.
    carried: Vec<usize>,
}

impl Sums {
    /// `size`: of z.
    fn new(size: usize) -> Self {
        Self {
            size,
            table: vec![0.0; size * size],
            of_finish: vec![Mean::default(); size - 2],
            area: 0.0,
            z: vec![1.0; size],
            carried: Vec::with_capacity(size),
        }
    }

    /// Most jobs carry one finish: products with the others' zeros are left out.
    fn add(&mut self, job: &Measured<'_>) {
        let (z, last) = (&mut self.z, self.size - 1);
        self.carried.clear();
        self.carried.push(0);
        for (f, area) in job.areas.iter().enumerate() {
            if *area > 0.0 {
                let mean = &mut self.of_finish[f];
                mean.n += 1.0;
                mean.sum += area;
            }
            if *area != 0.0 {
                z[f + 1] = *area;
                self.carried.push(f + 1);
            }
        }
        z[last] = job.used;
        self.carried.push(last);
        let weight = job.area.recip();
        for (k, j) in self.carried.iter().enumerate() {
            let scaled = z[*j] * weight;
            for i in &self.carried[..=k] {
                self.table[j * self.size + i] += scaled * z[*i];
            }
        }
        self.area += job.area;
    }

    fn totals(self) -> Totals {
        let mut table = DMatrix::from_vec(self.size, self.size, self.table);
        table.fill_lower_triangle_with_upper_triangle();
        Totals {
            table,
            of_finish: self.of_finish,
            area: self.area,
        }
    }
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
            totals: OnceCell::new(),
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

    /// The same without some of its measured jobs more, by their place in the
    /// input (ascending).
    pub(in crate::fits::consumption) fn without(&self, more: &[usize]) -> Self {
        let mut rows = self.clone();
        let mut out = more.iter().peekable();
        rows.taken.retain(|job| out.next_if_eq(&job).is_none());
        debug_assert!(out.next().is_none(), "jobs that are not there");
        let gone = || more.iter().map(|job| self.measured_job(*job));
        for job in gone() {
            rows.carrying[0] -= 1;
            for (count, area) in rows.carrying[1..].iter_mut().zip(job.areas) {
                *count -= u64::from(*area > 0.0);
            }
        }
        let mut sums = Sums::new(self.columns + 1);
        gone().for_each(|job| sums.add(&job));
        rows.totals = OnceCell::new();
        if let Some(left) = self.totals().less(&sums.totals()) {
            rows.totals.get_or_init(|| left);
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
        self.taken.iter().map(|job| self.measured_job(*job))
    }

    fn measured_job(&self, job: usize) -> Measured<'a> {
        let areas = self.jobs.areas_of(job);
        Measured {
            used: self.jobs.used[job],
            areas,
            area: areas.iter().sum(),
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
        let Mean { n, sum } = self.totals().of_finish[f];
        (n > 0.0).then_some(sum / n)
    }

    /// Mean area of a measured job.
    pub(in crate::fits::consumption) fn typical_job(&self) -> Option<f64> {
        let n = self.taken.len() as f64;
        (n > 0.0).then(|| self.totals().area / n)
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
    pub(super) fn measured_table(&self) -> &DMatrix<f64> {
        &self.totals().table
    }

    fn totals(&self) -> &Totals {
        self.totals.get_or_init(|| {
            let mut sums = Sums::new(self.columns + 1);
            self.measured().for_each(|job| sums.add(&job));
            sums.totals()
        })
    }

    /// X'V^-1 X and X'V^-1 y with sigma^2 = 1 for measured jobs alone, or at
    /// the fit's sigma^2, times it; with y'V^-1 y in the corner.
    pub(in crate::fits::consumption) fn unit_table(
        &self,
        fitted: Option<&Fitted>,
    ) -> Option<DMatrix<f64>> {
        let measured = self.measured_table();
        let Some(bottles) = self.bottles else {
            return Some(measured.clone());
        };
        let fitted = fitted?;
        let splits = bottles.splits(&fitted.beta);
        let tables = bottles.tables(&splits, fitted.sigma2)?;
        Some(measured + tables.plain * fitted.sigma2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const USED: [f64; 6] = [22.0, 31.5, 8.0, 40.0, 1e9, 27.0];
    const AREAS: [f64; 12] = [
        10.0, 0.0, 9.0, 6.0, 0.0, 3.0, 18.0, 0.0, 11.0, 0.5, 0.0, 12.0,
    ];

    fn rows(left_out: &[usize]) -> Rows<'static> {
        let jobs = Jobs::new(&USED, &AREAS, 2).unwrap();
        Rows::new(jobs, left_out.iter().copied())
    }

    fn assert_alike(fast: &Rows<'_>, slow: &Rows<'_>) {
        assert_eq!(fast.taken, slow.taken);
        assert_eq!(fast.carrying, slow.carrying);
        let (a, b) = (fast.measured_table(), slow.measured_table());
        for (a, b) in a.iter().zip(b.iter()) {
            assert!((a - b).abs() <= 1e-12 * b.abs(), "{a}, {b}");
        }
        for f in 0..2 {
            assert_eq!(fast.typical_area(f), slow.typical_area(f));
        }
        assert_eq!(fast.typical_job(), slow.typical_job());
    }

    /// The slow twin: gone through without them from the start. The fifth job
    /// is so far off that what is left of its sum would be rounding.
    #[test]
    fn taken_off_is_as_never_there() {
        for off in [&[1][..], &[4], &[0, 3, 5], &[2, 4]] {
            assert_alike(&rows(&[]).without(off), &rows(off));
        }
        let twice = rows(&[4]).without(&[1]).without(&[3]);
        assert_alike(&twice, &rows(&[1, 3, 4]));
    }

    /// By hand: z = (1, 10, 0, 22) over 10 m2, (1, 9, 6, 31.5) over 15 m2.
    #[test]
    fn products_are_those_of_all_columns() {
        let table = rows(&[2, 3, 4, 5]).measured_table().clone();
        let by_hand = [
            [1.0 / 10.0 + 1.0 / 15.0, 1.0 + 0.6, 0.4, 2.2 + 2.1],
            [1.6, 10.0 + 5.4, 3.6, 22.0 + 18.9],
            [0.4, 3.6, 2.4, 12.6],
            [4.3, 40.9, 12.6, 48.4 + 66.15],
        ];
        for (i, row) in by_hand.iter().enumerate() {
            for (j, want) in row.iter().enumerate() {
                assert!((table[(i, j)] - want).abs() < 1e-12, "{i} {j}");
            }
        }
    }
}
