//! What one pass over the jobs leaves for the fit.

use super::design::{Carried, Jobs};
use crate::fits::error::FitError;
use crate::fits::mixed::{GroupStatistics, SparseRows};
use crate::fits::record::LeftOut;

/// What one pass over the rows leaves.
#[derive(Debug, Clone)]
pub(super) struct Gathered {
    pub(super) statistics: GroupStatistics,
    /// Jobs carrying each column.
    pub(super) carrying: Vec<u64>,
}

impl Jobs<'_> {
    /// One pass over the rows.
    pub(super) fn gather(&self, left_out: &[LeftOut]) -> Gathered {
        let columns = self.columns();
        let mut rows = SparseRows::new(columns);
        let mut carrying = vec![0; columns];
        let mut row = Carried::new();
        for job in self.used(left_out) {
            self.carried(job, &mut row);
            rows.add(self.group(job), &row, self.log_minutes(job));
            row.iter().for_each(|(column, _)| carrying[*column] += 1);
        }
        Gathered {
            statistics: rows.statistics(),
            carrying,
        }
    }
}

impl Gathered {
    /// Adds what another pass left.
    pub(super) fn merge(&mut self, other: &Self) -> Result<(), FitError> {
        self.statistics.merge(&other.statistics)?;
        for (sum, count) in self.carrying.iter_mut().zip(&other.carrying) {
            *sum += count;
        }
        Ok(())
    }

    /// The same without some jobs that it holds.
    pub(super) fn without(&self, jobs: &Jobs<'_>, left_out: &[LeftOut]) -> Self {
        let mut rest = self.clone();
        let mut row = vec![0.0; jobs.columns()];
        for job in left_out.iter().map(|l| l.row) {
            jobs.fill_row(job, &mut row);
            let y = jobs.log_minutes(job);
            rest.statistics.remove(jobs.group(job), &row, y);
            for (count, v) in rest.carrying.iter_mut().zip(&row) {
                *count -= u64::from(*v != 0.0);
            }
        }
        rest
    }
}
