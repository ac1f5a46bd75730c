//! The coated jobs as columns, laid out once for the many fits over them.

use crate::measures::{CoatedJob, Measures};
use crate::run::bottle_rows::Cellars;
use crate::settings::month::Month;

/// What the fits read of each coated job, in the jobs' order, and the bottles
/// with the jobs laid to them.
#[derive(Debug, Default)]
pub(in crate::run) struct Columns {
    pub(super) finishes: usize,
    pub(super) month: Vec<Month>,
    /// mL; `None` where not measured.
    pub(super) used: Vec<Option<f64>>,
    /// Hands-on minutes.
    pub(super) minutes: Vec<Option<f64>>,
    /// Film area [m²]; 0 where none is recorded.
    pub(super) area: Vec<f64>,
    /// Any area is recorded, be it 0.
    pub(super) has_area: Vec<bool>,
    /// Areas by finish [m²], `finishes` to a job.
    pub(super) areas: Vec<f64>,
    pub(in crate::run) cellars: Cellars,
}

impl Columns {
    pub(in crate::run) fn of(m: &Measures) -> Self {
        let finishes = m.finishes.all().len();
        let mut areas = vec![0.0; m.coated.len() * finishes];
        for (own, job) in areas.chunks_exact_mut(finishes.max(1)).zip(&m.coated) {
            add_parts(job, own);
        }
        let jobs = || m.coated.iter();
        Self {
            finishes,
            month: jobs().map(|j| j.month).collect(),
            used: jobs().map(|j| j.used).collect(),
            minutes: jobs().map(|j| j.minutes).collect(),
            area: jobs().map(CoatedJob::area).collect(),
            has_area: jobs().map(|j| !j.parts.is_empty()).collect(),
            areas,
            cellars: Cellars::of(m),
        }
    }

    /// Areas by finish [m²] of the job at `place`.
    pub(super) fn areas_of(&self, place: usize) -> &[f64] {
        &self.areas[place * self.finishes..(place + 1) * self.finishes]
    }
}

/// Adds a job's areas to `areas`, one number per finish.
pub(super) fn add_parts(job: &CoatedJob, areas: &mut [f64]) {
    for part in &job.parts {
        areas[part.finish as usize] += part.area;
    }
}
