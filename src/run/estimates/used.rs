//! Coating used: jobs and bottles into the fit, and what it says of a job.

use super::{Basis, entered};
use crate::estimate::Estimate;
use crate::findings;
use crate::findings::consumption::BottleUse;
use crate::findings::left_out::{LeftOut, Why};
use crate::findings::same_work::Pair;
use crate::fits::consumption::{self as use_fit, Coefficient, Consumption, ConsumptionFit};
use crate::fits::error::FitError;
use crate::fits::evidence::Source;
use crate::measures::CoatedJob;
use crate::settings::constants::Record;
use crate::settings::month::Month;

/// Coating used: the fit and the jobs in it.
#[derive(Debug)]
pub(in crate::run) struct Use {
    pub(in crate::run) fit: ConsumptionFit,
    bottles: BottleUse,
    rows: Vec<usize>,
    refused: Vec<LeftOut>,
}

/// Fits coating used over the months that `keep` keeps.
pub(in crate::run) fn fit_use(
    b: &Basis<'_>,
    with_constants: bool,
    keep: impl Fn(Month) -> bool,
) -> Result<Use, FitError> {
    let columns = b.columns;
    let entered = entered(b, &keep, &columns.used, |i| {
        let without = (!columns.has_area[i]).then_some(Why::NoArea);
        without.or((!columns.on_known[i]).then_some(Why::Rare))
    });
    let used: Vec<f64> = (entered.rows.iter().filter_map(|i| columns.used[*i])).collect();
    let mut areas = Vec::with_capacity(used.len() * columns.finishes.count());
    for i in &entered.rows {
        areas.extend_from_slice(columns.areas_of(*i));
    }
    let prior = use_fit::Prior {
        setup: b.record.and_then(|r| r.setup_ml),
        per_m2: (columns.finishes.names(&b.measures.finishes))
            .map(|f| b.record?.ml_per_m2.get(f).copied())
            .collect(),
        jobs: b.review.evidence_jobs,
    };
    let mut bottles = columns.cellars.gather(b.measures, &keep);
    let told = std::mem::take(&mut bottles.told);
    let bottles = bottles.rows()?;
    let jobs = use_fit::Jobs::new(&used, &areas, columns.finishes.count())?;
    let mut task = Consumption::new(jobs).with_outliers(b.outliers());
    if let Some(rows) = &bottles {
        task = task.with_bottles(rows)?;
    }
    if with_constants && b.record.is_some() && b.review.evidence_jobs > 0.0 {
        task = task.with_prior(&prior)?;
    }
    Ok(Use {
        fit: task.fit()?,
        bottles: told,
        rows: entered.rows,
        refused: entered.refused,
    })
}

impl Use {
    /// Measured jobs in the fit, by their place among the coated ones.
    pub(in crate::run) fn kept(&self) -> impl Iterator<Item = usize> + '_ {
        let mut out = self.fit.record.left_out.iter().map(|l| l.row).peekable();
        let rows = self.rows.iter().enumerate();
        rows.filter_map(move |(i, place)| out.next_if_eq(&i).is_none().then_some(*place))
    }

    /// What the fit says of the finish of this number, where it is told apart.
    pub(in crate::run) fn finish(&self, b: &Basis<'_>, number: u32) -> Option<&Coefficient> {
        self.fit.finishes.get(b.columns.finishes.column(number)?)
    }

    /// What the findings take.
    pub(in crate::run) fn fitted(&self, b: &Basis<'_>) -> findings::consumption::Fitted {
        let finishes = &b.columns.finishes;
        let mut left_out = b.left_out(&self.rows, &self.fit.record);
        left_out.extend(self.refused.iter().cloned());
        findings::consumption::Fitted {
            setup: self.fit.setup.data_alone.clone(),
            setup_blended: self.fit.setup.blended.clone(),
            finishes: (finishes.names(&b.measures.finishes).zip(&self.fit.finishes))
                .zip(month_areas(b))
                .map(|((name, c), month_area)| findings::consumption::FinishFit {
                    finish: name.to_string(),
                    jobs: c.jobs,
                    blended: c.blended.clone(),
                    data_alone: c.data_alone.clone(),
                    month_area,
                })
                .collect(),
            rare: finishes.rare(&b.measures.finishes),
            jobs_used: self.fit.record.rows_used as u64,
            bottles: self.bottles.clone(),
            left_out,
        }
    }

    /// Range of mL of one such job, jobs and constants together.
    pub(in crate::run) fn one_job(
        &self,
        b: &Basis<'_>,
        job: &CoatedJob,
        level: f64,
    ) -> Option<Estimate> {
        let areas = b.areas(job).filter(|_| !job.parts.is_empty())?;
        self.fit.one_job(Source::Blended, &areas, level).ok()
    }

    /// mL that jobs take together: `columns` holds how many, then their areas
    /// by finish [m²].
    pub(in crate::run) fn load(&self, columns: &[f64]) -> Option<f64> {
        let found = self.fit.combination(Source::Blended, columns).ok()?;
        Some(found.mean)
    }

    /// mL that a job is expected to take: jobs and constants together, else
    /// the constants alone.
    pub(in crate::run) fn expected(&self, b: &Basis<'_>, job: &CoatedJob) -> Option<f64> {
        if job.parts.is_empty() {
            return None;
        }
        let fitted = |areas: Vec<f64>| self.fit.mean(Source::Blended, &areas).ok();
        (b.areas(job).and_then(fitted)).or_else(|| use_by_constants(b, b.record, job))
    }

    /// mL that the job of the fit at `place` takes by the jobs alone.
    pub(in crate::run) fn usual(&self, b: &Basis<'_>, place: usize) -> Option<f64> {
        let areas = b.columns.areas_of(place);
        self.fit.mean(Source::DataAlone, areas).ok()
    }

    /// The month's measured jobs beside what this fit says they take.
    pub(in crate::run) fn pairs(&self, b: &Basis<'_>) -> Vec<Pair> {
        let pair = |job: &CoatedJob| {
            let took = job.used.filter(|u| *u > 0.0)?;
            let usual = self.fit.mean(Source::DataAlone, &b.areas(job)?).ok()?;
            (!job.parts.is_empty() && usual > 0.0).then_some(Pair { took, usual })
        };
        let month = b.measures.coated.iter();
        month
            .filter(|j| j.month == b.scope.month)
            .filter_map(pair)
            .collect()
    }
}

/// mL of a job by the constants of a record alone.
pub(in crate::run) fn use_by_constants(
    b: &Basis<'_>,
    record: Option<&Record>,
    job: &CoatedJob,
) -> Option<f64> {
    let record = record.filter(|_| !job.parts.is_empty())?;
    let part = |p: &crate::measures::Part| {
        let rate = record.ml_per_m2.get(b.measures.finishes.name(p.finish))?;
        Some(rate * p.area)
    };
    let parts: Option<Vec<f64>> = job.parts.iter().map(part).collect();
    Some(record.setup_ml.unwrap_or(0.0) + parts?.iter().sum::<f64>())
}

/// The month's areas by finish that is told apart [m²].
fn month_areas(b: &Basis<'_>) -> Vec<f64> {
    let finishes = &b.columns.finishes;
    let mut areas = vec![0.0; finishes.count()];
    let month = b.measures.coated.iter();
    for job in month.filter(|j| j.month == b.scope.month) {
        super::columns::add_parts(job, finishes, &mut areas);
    }
    areas
}
