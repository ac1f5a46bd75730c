//! Jobs as rows of the design.

use crate::fits::error::FitError;
use crate::fits::linear::check_length;
use crate::fits::record::{LeftOut, Why};
use smallvec::SmallVec;

/// Label of the group that jobs which are not one person's make together. Its
/// effect is the column that sets their level apart, so it tells nothing of
/// people.
pub(super) const NOT_ONE_PERSON: u64 = u64::MAX;

/// How many classes and finishes there are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shape {
    /// Vehicle classes, numbered from 0.
    pub classes: usize,
    /// Finishes, numbered from 0; none where finishes are not told apart.
    pub finishes: usize,
    /// The finish that takes least, against which the others are measured.
    pub smoothest: usize,
}

impl Shape {
    /// Columns of the design.
    pub fn columns(&self) -> usize {
        self.classes + 1 + self.finishes.saturating_sub(1)
    }

    /// Column of gamma.
    pub fn exponent_column(&self) -> usize {
        self.classes
    }

    /// Column of finish `f`; `None` for the smoothest.
    pub fn finish_column(&self, f: usize) -> Option<usize> {
        let before = usize::from(f > self.smoothest);
        (f != self.smoothest).then(|| self.classes + 1 + f - before)
    }

    /// The row of a job: a one for its class, ln(covered), shares of finishes.
    ///
    /// # Errors
    /// [`FitError::Shape`], [`FitError::NotFinite`], [`FitError::OutOfRange`].
    pub fn row(&self, job: &NewJob) -> Result<Vec<f64>, FitError> {
        let mut row = Vec::new();
        self.write_row(job, &mut row)?;
        Ok(row)
    }

    /// The same into `row`, whatever it held: for many jobs.
    ///
    /// # Errors
    /// As [`Self::row`].
    pub fn write_row(&self, job: &NewJob, row: &mut Vec<f64>) -> Result<(), FitError> {
        let carried = self.carried_by(job)?;
        row.clear();
        row.resize(self.columns(), 0.0);
        for (column, v) in carried {
            row[column] = v;
        }
        Ok(())
    }

    /// What is not 0 of that row.
    pub(super) fn carried_by(&self, job: &NewJob) -> Result<Carried, FitError> {
        check_length("shares of finishes", self.finishes, job.finish_shares)?;
        let class = job.class as f64;
        let checks = [
            (
                "class",
                class,
                job.class < self.classes,
                "a class of the fit",
            ),
            (
                "covered share",
                job.covered,
                job.covered > 0.0,
                "above zero",
            ),
            (
                "covered share",
                job.covered,
                job.covered.is_finite(),
                "a finite number",
            ),
        ];
        for (what, found, fine, expected) in checks {
            if !fine {
                return Err(FitError::OutOfRange {
                    what,
                    row: 0,
                    found,
                    expected,
                });
            }
        }
        let mut row = Carried::new();
        self.carry(job.class, job.covered.ln(), job.finish_shares, &mut row);
        Ok(row)
    }

    /// Columns, ascending, of what is not 0, into `row`, whatever it held.
    fn carry(&self, class: usize, log_covered: f64, shares: &[f64], row: &mut Carried) {
        row.clear();
        row.push((class, 1.0));
        if log_covered != 0.0 {
            row.push((self.exponent_column(), log_covered));
        }
        for (f, share) in shares.iter().enumerate().filter(|(_, s)| **s != 0.0) {
            if let Some(column) = self.finish_column(f) {
                row.push((column, *share));
            }
        }
    }
}

/// A job to come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NewJob<'a> {
    /// Its class.
    pub class: usize,
    /// Its area over the class's full area.
    pub covered: f64,
    /// Share of each finish in its area, adding up to 1.
    pub finish_shares: &'a [f64],
}

/// Timed jobs, n of them, checked.
#[derive(Debug, Clone, Copy)]
pub struct Jobs<'a> {
    minutes: &'a [f64],
    class: &'a [usize],
    covered: &'a [f64],
    finish_shares: &'a [f64],
    person: &'a [Option<u64>],
    shape: Shape,
    /// Some jobs are one person's and some are not: the latter then have a
    /// level of their own.
    apart: bool,
    /// Logarithms of minutes and covered share, where they were taken.
    logs: Option<&'a [Logs]>,
}

/// Logarithms of a job's minutes and covered share.
pub(super) type Logs = [f64; 2];

/// The columns that a job carries, ascending, and their numbers.
pub(super) type Carried = SmallVec<[(usize, f64); 8]>;

impl<'a> Jobs<'a> {
    /// Takes hands-on `minutes`, `class`, `covered` (area over the class's
    /// full area) and `person` (`None`: shared by several, or not recorded),
    /// each of length n,
    /// and `finish_shares` as n x finishes, row-major. Jobs with minutes or
    /// area of zero or less are left out of the fit, and named.
    ///
    /// # Errors
    /// [`FitError::Shape`], [`FitError::NotFinite`], or
    /// [`FitError::OutOfRange`] for an unknown class or smoothest finish.
    pub fn new(
        minutes: &'a [f64],
        class: &'a [usize],
        covered: &'a [f64],
        finish_shares: &'a [f64],
        person: &'a [Option<u64>],
        shape: Shape,
    ) -> Result<Self, FitError> {
        let n = minutes.len();
        check_length("minutes", n, minutes)?;
        check_length("covered shares", n, covered)?;
        check_length("shares of finishes", n * shape.finishes, finish_shares)?;
        for (what, found) in [("classes", class.len()), ("people", person.len())] {
            if found != n {
                return Err(FitError::Shape {
                    what,
                    expected: n,
                    found,
                });
            }
        }
        if let Some(row) = class.iter().position(|c| *c >= shape.classes) {
            return Err(FitError::OutOfRange {
                what: "classes",
                row,
                found: class[row] as f64,
                expected: "a class of the shape",
            });
        }
        if shape.smoothest >= shape.finishes.max(1) {
            return Err(FitError::Parameter {
                what: "smoothest finish",
                found: shape.smoothest as f64,
                expected: "a finish of the shape",
            });
        }
        let named = person.iter().filter(|p| p.is_some()).count();
        Ok(Self {
            minutes,
            class,
            covered,
            finish_shares,
            person,
            shape,
            apart: named > 0 && named < n,
            logs: None,
        })
    }

    /// Logarithms of all jobs, which each look at a job asks for.
    pub(super) fn take_logs(&self) -> Vec<Logs> {
        let jobs = self.minutes.iter().zip(self.covered);
        jobs.map(|(m, c)| [m.ln(), c.ln()]).collect()
    }

    /// With what [`Self::take_logs`] gave.
    pub(super) fn with_logs<'b>(&self, logs: &'b [Logs]) -> Jobs<'b>
    where
        'a: 'b,
    {
        Jobs {
            logs: Some(logs),
            ..*self
        }
    }

    pub(super) fn has_logs(&self) -> bool {
        self.logs.is_some()
    }

    /// The jobs from `from` up to, not with, `to`.
    pub(super) fn part(&self, from: usize, to: usize) -> Self {
        let (finishes, person) = (self.shape.finishes, &self.person[from..to]);
        let named = person.iter().filter(|p| p.is_some()).count();
        Self {
            minutes: &self.minutes[from..to],
            class: &self.class[from..to],
            covered: &self.covered[from..to],
            finish_shares: &self.finish_shares[from * finishes..to * finishes],
            logs: self.logs.map(|logs| &logs[from..to]),
            person,
            apart: named > 0 && named < person.len(),
            ..*self
        }
    }

    /// The same jobs, with or without a level of their own for those that are
    /// not one person's.
    pub(super) fn with_columns_of(&self, other: &Self) -> Self {
        Self {
            apart: other.apart,
            ..*self
        }
    }

    /// Whether the columns are the same.
    pub(super) fn same_columns(&self, other: &Self) -> bool {
        self.apart == other.apart
    }

    pub(super) fn shape(&self) -> Shape {
        self.shape
    }

    pub(super) fn class_of(&self, job: usize) -> usize {
        self.class[job]
    }

    pub(super) fn person_of(&self, job: usize) -> Option<u64> {
        self.person[job]
    }

    pub(super) fn log_minutes(&self, job: usize) -> f64 {
        self.logs
            .map_or_else(|| self.minutes[job].ln(), |l| l[job][0])
    }

    fn log_covered(&self, job: usize) -> f64 {
        self.logs
            .map_or_else(|| self.covered[job].ln(), |l| l[job][1])
    }

    /// What `job` carries of its row of the design, into `row`: many jobs one
    /// after the other need no memory of their own.
    pub(super) fn carried(&self, job: usize, row: &mut Carried) {
        let finishes = self.shape.finishes;
        let shares = &self.finish_shares[job * finishes..(job + 1) * finishes];
        let class = self.class[job];
        (self.shape).carry(class, self.log_covered(job), shares, row);
        if self.apart && self.person[job].is_none() {
            row.push((self.shape.columns(), 1.0));
        }
    }

    /// The same with all columns, written into `row`.
    pub(super) fn fill_row(&self, job: usize, row: &mut [f64]) {
        row.fill(0.0);
        let mut carried = Carried::new();
        self.carried(job, &mut carried);
        for (column, v) in carried {
            row[column] = v;
        }
    }

    pub(super) fn count(&self) -> usize {
        self.minutes.len()
    }

    /// Columns of the design: those of the shape, and one for the level of
    /// jobs that are not one person's where there are both.
    pub(super) fn columns(&self) -> usize {
        self.shape.columns() + usize::from(self.apart)
    }

    /// Jobs without minutes or area.
    pub(super) fn empty(&self) -> Vec<LeftOut> {
        (self.minutes.iter().zip(self.covered).enumerate())
            .filter(|(_, (m, c))| **m <= 0.0 || **c <= 0.0)
            .map(|(row, _)| LeftOut {
                row,
                why: Why::Empty,
            })
            .collect()
    }

    /// Jobs that are not in `left_out` (ascending), by place.
    pub(super) fn used<'b>(
        &self,
        left_out: &'b [LeftOut],
    ) -> impl Iterator<Item = usize> + use<'b> {
        let mut out = left_out.iter().map(|l| l.row).peekable();
        (0..self.minutes.len()).filter(move |job| out.next_if_eq(job).is_none())
    }

    /// Jobs used that several people share.
    pub(super) fn shared(&self, left_out: &[LeftOut]) -> u64 {
        self.used(left_out)
            .filter(|job| self.person[*job].is_none())
            .count() as u64
    }

    /// Jobs with any of finish `f`.
    pub(super) fn jobs_of_finish(&self, f: usize) -> u64 {
        let rows = self.finish_shares.chunks_exact(self.shape.finishes.max(1));
        rows.filter(|shares| shares.get(f).is_some_and(|s| *s > 0.0))
            .count() as u64
    }

    /// The group whose effect a job carries.
    pub(super) fn group(&self, job: usize) -> Option<u64> {
        self.person[job].or(self.apart.then_some(NOT_ONE_PERSON))
    }
}
