//! The coated jobs as columns, laid out once for the many fits over them.

use super::kinds::Kinds;
use crate::measures::{CoatedJob, Measures};
use crate::run::bottle_rows::Cellars;
use crate::settings::month::Month;
use smallvec::SmallVec;
use std::collections::BTreeMap;

/// What the fits read of each coated job, in the jobs' order, and the bottles
/// with the jobs laid to them.
#[derive(Debug, Default)]
pub(in crate::run) struct Columns {
    /// Classes, told apart where they are not too many.
    pub(in crate::run) classes: Kinds,
    /// Finishes likewise.
    pub(in crate::run) finishes: Kinds,
    pub(super) month: Vec<Month>,
    months: BTreeMap<Month, OfMonth>,
    /// mL; `None` where not measured.
    pub(super) used: Vec<Option<f64>>,
    /// Hands-on minutes.
    pub(super) minutes: Vec<Option<f64>>,
    /// Film area [m²]; 0 where none is recorded.
    pub(super) area: Vec<f64>,
    /// Any area is recorded, be it 0.
    pub(super) has_area: Vec<bool>,
    /// Areas by finish that is told apart [m²], so many to a job.
    pub(super) areas: Vec<f64>,
    /// Every finish of the job is told apart.
    pub(super) on_known: Vec<bool>,
    pub(in crate::run) cellars: Cellars,
    /// Wage of each person [minor units per hour].
    pub(in crate::run) wages: Vec<Option<f64>>,
}

/// The jobs of a month.
#[derive(Debug, Default)]
struct OfMonth {
    /// Their places.
    places: Vec<usize>,
    /// Those of one person whose wage is known.
    waged: usize,
    /// The wages of these, added up [minor units per hour].
    wages: f64,
}

impl Columns {
    pub(in crate::run) fn of(m: &Measures) -> Self {
        let (classes, finishes) = kinds(m);
        let jobs = m.coated.len();
        let mut all = Self {
            month: Vec::with_capacity(jobs),
            used: Vec::with_capacity(jobs),
            minutes: Vec::with_capacity(jobs),
            area: Vec::with_capacity(jobs),
            has_area: Vec::with_capacity(jobs),
            areas: vec![0.0; jobs * finishes.count()],
            on_known: Vec::with_capacity(jobs),
            cellars: Cellars::of(m, &finishes),
            wages: m.wage_of_each(),
            classes,
            finishes,
            ..Self::default()
        };
        // Once through the jobs: they are too many to stay near the processor.
        for (place, job) in m.coated.iter().enumerate() {
            all.add(place, job);
        }
        all
    }

    fn add(&mut self, place: usize, job: &CoatedJob) {
        let width = self.finishes.count();
        let areas = &mut self.areas[place * width..(place + 1) * width];
        self.on_known.push(add_parts(job, &self.finishes, areas));
        self.month.push(job.month);
        self.used.push(job.used);
        self.minutes.push(job.minutes);
        self.area.push(job.area());
        self.has_area.push(!job.parts.is_empty());
        let month = self.months.entry(job.month).or_default();
        month.places.push(place);
        if let Some(wage) = job.person.and_then(|p| self.wages[p as usize]) {
            month.waged += 1;
            month.wages += wage;
        }
    }

    /// Places of the jobs of a month, ascending.
    pub(in crate::run) fn in_month(&self, month: Month) -> &[usize] {
        self.months.get(&month).map_or(&[], |m| &m.places)
    }

    /// Mean wage over the jobs of some months that are one person's whose wage
    /// is known [minor units per hour].
    pub(in crate::run) fn mean_wage(&self, keep: impl Fn(Month) -> bool) -> Option<f64> {
        let kept = self.months.iter().filter(|(month, _)| keep(**month));
        let (n, sum) = kept.fold((0, 0.0), |(n, sum), (_, m)| (n + m.waged, sum + m.wages));
        (n > 0).then(|| sum / n as f64)
    }

    /// Areas by finish [m²] of the job at `place`.
    pub(super) fn areas_of(&self, place: usize) -> &[f64] {
        let width = self.finishes.count();
        &self.areas[place * width..(place + 1) * width]
    }
}

/// The classes and finishes of the coated jobs.
fn kinds(m: &Measures) -> (Kinds, Kinds) {
    let jobs = || m.coated.iter();
    let finishes_of = |job: &CoatedJob| {
        let mut own: SmallVec<[u32; 4]> = job.parts.iter().map(|p| p.finish).collect();
        if own.len() > 1 {
            own.sort_unstable();
            own.dedup();
        }
        own
    };
    let classes = Kinds::of("classes", m.classes.all().len(), jobs().map(|j| [j.class]));
    let finishes = Kinds::of("finishes", m.finishes.all().len(), jobs().map(finishes_of));
    (classes, finishes)
}

/// Adds a job's areas to `areas`, one number per finish that is told apart;
/// whether all of them are.
pub(super) fn add_parts(job: &CoatedJob, finishes: &Kinds, areas: &mut [f64]) -> bool {
    let mut all = true;
    for part in &job.parts {
        match finishes.column(part.finish) {
            Some(column) => areas[column] += part.area,
            None => all = false,
        }
    }
    all
}
