//! The jobs of a fit of minutes, one after the other.

use super::super::{Basis, to_shares};
use super::Time;
use crate::fits::error::FitError;
use crate::fits::minutes::NewJob;
use crate::measures::CoatedJob;

/// A job of the fit.
#[derive(Debug)]
pub(in crate::run) struct FitRow<'r> {
    /// Its place among the coated ones.
    pub(in crate::run) place: usize,
    pub(in crate::run) job: &'r CoatedJob,
    /// Its row of the design.
    pub(in crate::run) row: &'r [f64],
    covered: f64,
    shares: &'r [f64],
}

impl Time {
    /// Passes each job that took part in the fit to `take`.
    pub(in crate::run) fn each_row<'b>(
        &self,
        b: &Basis<'b>,
        mut take: impl FnMut(&FitRow<'_>, &'b CoatedJob) -> Result<(), FitError>,
    ) -> Result<(), FitError> {
        let shape = self.shape(b);
        let (mut row, mut shares) = (Vec::new(), Vec::new());
        let mut out = self.fit.record.left_out.iter().map(|l| l.row).peekable();
        for (i, place) in self.rows.iter().enumerate() {
            if out.next_if_eq(&i).is_some() {
                continue;
            }
            let job = &b.measures.coated[*place];
            // Jobs of the fit are of a class and on finishes that it tells apart.
            let Some(class) = b.columns.classes.column(job.class) else {
                continue;
            };
            shares.clear();
            shares.extend_from_slice(b.columns.areas_of(*place));
            to_shares(&mut shares);
            let covered = self.covered(job).unwrap_or(1.0);
            let new = NewJob {
                class,
                covered,
                finish_shares: &shares,
            };
            shape.write_row(&new, &mut row)?;
            let fit_row = FitRow {
                place: *place,
                job,
                row: &row,
                covered,
                shares: &shares,
            };
            take(&fit_row, job)?;
        }
        Ok(())
    }

    /// Minutes that a job of the fit typically takes, whoever does it: data
    /// alone.
    pub(in crate::run) fn typical_of(&self, b: &Basis<'_>, row: &FitRow<'_>) -> Option<f64> {
        let class = self.class(b, row.job.class)?;
        let multiple = self.multiple_of(row.job, row.covered, row.shares)?;
        Some(class.data_alone.typical.value()? * multiple)
    }
}
