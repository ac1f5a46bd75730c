//! From plain tables to fits and back: which jobs enter, as which numbers, and
//! what each job is expected to take.

use crate::estimate::NotEnough;
use crate::findings::in_force::{LeftOut, Why};
use crate::findings::money::Expected;
use crate::findings::same_work::Pair;
use crate::findings::{self, Scope};
use crate::fits::consumption::{self as use_fit, Consumption, ConsumptionFit};
use crate::fits::error::FitError;
use crate::fits::evidence::Source;
use crate::fits::minutes::{self as time_fit, Minutes, MinutesFit};
use crate::fits::record;
use crate::fits::robust::Outliers;
use crate::measures::{CoatedJob, Measures};
use crate::settings::constants::Record;
use crate::settings::month::Month;
use crate::settings::shop::Review;
use std::collections::BTreeMap;

/// What the fits rest on beside the jobs.
#[derive(Debug, Clone, Copy)]
pub(super) struct Basis<'a> {
    pub(super) measures: &'a Measures,
    pub(super) scope: &'a Scope,
    pub(super) record: Option<&'a Record>,
    pub(super) review: &'a Review,
    /// Area of a full job by class [m²].
    pub(super) full_area: &'a BTreeMap<String, f64>,
}

impl Basis<'_> {
    fn outliers(&self) -> Outliers {
        if self.review.leave_out {
            Outliers::Drop
        } else {
            Outliers::Keep
        }
    }

    fn class(&self, job: &CoatedJob) -> &str {
        self.measures.classes.name(job.class)
    }

    fn full_area(&self, class: &str) -> Option<f64> {
        let listed = self.record.and_then(|r| r.full_area.get(class));
        listed.or_else(|| self.full_area.get(class)).copied()
    }

    /// Areas by finish [m²], one per finish of the shop.
    fn areas(&self, job: &CoatedJob) -> Vec<f64> {
        let mut areas = vec![0.0; self.measures.finishes.all().len()];
        for part in &job.parts {
            areas[part.finish as usize] += part.area;
        }
        areas
    }

    /// A job's area over a full one's; 1 for a full job without an area.
    fn covered(&self, job: &CoatedJob) -> Option<f64> {
        let area = job.area();
        match self.full_area(self.class(job)) {
            Some(full) if area > 0.0 && full > 0.0 => Some(area / full),
            _ => (job.full == Some(true)).then_some(1.0),
        }
    }

    /// The finish for which constants by class stand: gloss where the shop has
    /// it, else the one that is said to take least, else the first.
    fn smoothest(&self) -> Option<usize> {
        let names = self.measures.finishes.all();
        let gloss = names.iter().position(|n| n == "gloss");
        let rate = |name: &String| self.record?.ml_per_m2.get(name).copied();
        let rated = (names.iter().enumerate()).filter_map(|(i, n)| Some((i, rate(n)?)));
        let least = rated.min_by(|a, b| a.1.total_cmp(&b.1)).map(|x| x.0);
        gloss.or(least).or((!names.is_empty()).then_some(0))
    }

    fn left_out(&self, rows: &[usize], record: &record::Record) -> Vec<LeftOut> {
        let named = |l: &record::LeftOut| {
            let job = &self.measures.coated[*rows.get(l.row)?];
            let why = match l.why {
                record::Why::FarFromTheRest { score } => Why::FarOff { score },
                _ => Why::NoArea,
            };
            Some(LeftOut {
                job: job.job.clone(),
                why,
            })
        };
        record.left_out.iter().filter_map(named).collect()
    }
}

/// Jobs that entered a fit, by their place among the coated ones, and those
/// that could not.
#[derive(Debug, Default)]
struct Entered {
    rows: Vec<usize>,
    refused: Vec<LeftOut>,
}

/// Coating used: the fit and the jobs in it.
#[derive(Debug)]
pub(super) struct Use {
    pub(super) fit: ConsumptionFit,
    rows: Vec<usize>,
    refused: Vec<LeftOut>,
}

/// Fits coating used over the months that `keep` keeps.
pub(super) fn fit_use(
    b: &Basis<'_>,
    with_constants: bool,
    keep: impl Fn(Month) -> bool,
) -> Result<Use, FitError> {
    let finishes = b.measures.finishes.all();
    let entered = entered(b, keep, |job| job.used.map(|u| (u, !job.parts.is_empty())));
    let job = |i: &usize| &b.measures.coated[*i];
    let used: Vec<f64> = entered.rows.iter().filter_map(|i| job(i).used).collect();
    let areas: Vec<f64> = entered.rows.iter().flat_map(|i| b.areas(job(i))).collect();
    let prior = use_fit::Prior {
        setup: b.record.and_then(|r| r.setup_ml),
        per_m2: finishes
            .iter()
            .map(|f| b.record?.ml_per_m2.get(f).copied())
            .collect(),
        jobs: b.review.evidence_jobs,
    };
    let jobs = use_fit::Jobs::new(&used, &areas, finishes.len())?;
    let mut task = Consumption::new(jobs).with_outliers(b.outliers());
    if with_constants && b.record.is_some() && b.review.evidence_jobs > 0.0 {
        task = task.with_prior(&prior)?;
    }
    Ok(Use {
        fit: task.fit()?,
        rows: entered.rows,
        refused: entered.refused,
    })
}

/// Jobs of some months that have a value above 0 and what goes with it.
fn entered(
    b: &Basis<'_>,
    keep: impl Fn(Month) -> bool,
    value: impl Fn(&CoatedJob) -> Option<(f64, bool)>,
) -> Entered {
    let mut all = Entered::default();
    for (i, job) in b.measures.coated.iter().enumerate() {
        let why = match value(job).filter(|_| keep(job.month)) {
            None => continue,
            Some((x, _)) if x <= 0.0 => Why::Zero,
            Some((_, false)) => Why::NoArea,
            Some((_, true)) => {
                all.rows.push(i);
                continue;
            }
        };
        all.refused.push(LeftOut {
            job: job.job.clone(),
            why,
        });
    }
    all
}

impl Use {
    /// What the findings take.
    pub(super) fn fitted(&self, b: &Basis<'_>) -> findings::consumption::Fitted {
        let names = b.measures.finishes.all().iter();
        let finishes = names.zip(&self.fit.finishes).enumerate();
        let mut left_out = b.left_out(&self.rows, &self.fit.record);
        left_out.extend(self.refused.iter().cloned());
        findings::consumption::Fitted {
            setup: self.fit.setup.data_alone.clone(),
            finishes: finishes
                .map(|(f, (name, c))| findings::consumption::FinishFit {
                    finish: name.clone(),
                    jobs: c.jobs,
                    blended: c.blended.clone(),
                    data_alone: c.data_alone.clone(),
                    month_area: month_area(b, f),
                })
                .collect(),
            jobs_used: self.fit.record.rows_used as u64,
            bottles_used: self.fit.bottles_used as u64,
            left_out,
        }
    }

    /// mL that a job is expected to take: jobs and constants together, else
    /// the constants alone.
    fn expected(&self, b: &Basis<'_>, job: &CoatedJob) -> Option<f64> {
        if job.parts.is_empty() {
            return None;
        }
        let fitted = self.fit.expected(Source::Blended, &b.areas(job));
        fitted.ok().map(|e| e.mean).or_else(|| {
            let record = b.record?;
            let part = |p: &crate::measures::Part| {
                let rate = record.ml_per_m2.get(b.measures.finishes.name(p.finish))?;
                Some(rate * p.area)
            };
            let parts: Option<Vec<f64>> = job.parts.iter().map(part).collect();
            Some(record.setup_ml.unwrap_or(0.0) + parts?.iter().sum::<f64>())
        })
    }

    /// The month's measured jobs beside what this fit says they take.
    pub(super) fn pairs(&self, b: &Basis<'_>) -> Vec<Pair> {
        let pair = |job: &CoatedJob| {
            let took = job.used.filter(|u| *u > 0.0)?;
            let usual = self.fit.expected(Source::DataAlone, &b.areas(job)).ok()?;
            (!job.parts.is_empty() && usual.mean > 0.0).then_some(Pair {
                took,
                usual: usual.mean,
            })
        };
        let month = b.measures.coated.iter();
        month
            .filter(|j| j.month == b.scope.month)
            .filter_map(pair)
            .collect()
    }
}

fn month_area(b: &Basis<'_>, finish: usize) -> f64 {
    let month = b.measures.coated.iter();
    month
        .filter(|j| j.month == b.scope.month)
        .flat_map(|j| &j.parts)
        .filter(|p| p.finish as usize == finish)
        .map(|p| p.area)
        .sum()
}

/// Hands-on minutes: the fit and the jobs in it.
#[derive(Debug)]
pub(super) struct Time {
    pub(super) fit: MinutesFit,
    smoothest: usize,
    rows: Vec<usize>,
    refused: Vec<LeftOut>,
}

/// Fits hands-on minutes over the months that `keep` keeps.
pub(super) fn fit_time(
    b: &Basis<'_>,
    with_constants: bool,
    keep: impl Fn(Month) -> bool,
) -> Result<Time, FitError> {
    let finishes = b.measures.finishes.all().len();
    let entered = entered(b, keep, |job| {
        let known = b.covered(job).is_some() && job.area() > 0.0;
        job.minutes.map(|m| (m, known))
    });
    let smoothest = b
        .smoothest()
        .ok_or_else(|| NotEnough::new(0, 1, "coated jobs with a finish"))?;
    let table = TimeTable::of(b, &entered.rows, finishes);
    let shape = time_fit::Shape {
        classes: b.measures.classes.all().len(),
        finishes,
        smoothest,
    };
    let jobs = time_fit::Jobs::new(
        &table.minutes,
        &table.class,
        &table.covered,
        &table.shares,
        &table.person,
        shape,
    )?;
    let prior = time_fit::Prior {
        typical: (b.measures.classes.all().iter())
            .map(|c| b.record?.minutes.get(c).copied())
            .collect(),
        jobs: b.review.evidence_jobs,
    };
    let mut task = Minutes::new(jobs).with_outliers(b.outliers());
    if with_constants && b.record.is_some() && b.review.evidence_jobs > 0.0 {
        task = task.with_prior(&prior)?;
    }
    Ok(Time {
        fit: task.fit()?,
        smoothest,
        rows: entered.rows,
        refused: entered.refused,
    })
}

/// The columns of the minutes' fit.
#[derive(Debug, Default)]
struct TimeTable {
    minutes: Vec<f64>,
    class: Vec<usize>,
    covered: Vec<f64>,
    shares: Vec<f64>,
    person: Vec<Option<u64>>,
}

impl TimeTable {
    fn of(b: &Basis<'_>, rows: &[usize], finishes: usize) -> Self {
        let mut t = Self::default();
        t.shares.reserve(rows.len() * finishes);
        for job in rows.iter().map(|i| &b.measures.coated[*i]) {
            t.minutes.push(job.minutes.unwrap_or(0.0));
            t.class.push(job.class as usize);
            t.covered.push(b.covered(job).unwrap_or(1.0));
            t.shares.extend(shares(b, job));
            t.person.push(job.person.map(u64::from));
        }
        t
    }
}

/// Share of each finish in a job's area.
fn shares(b: &Basis<'_>, job: &CoatedJob) -> Vec<f64> {
    let mut areas = b.areas(job);
    let total: f64 = areas.iter().sum();
    if total > 0.0 {
        areas.iter_mut().for_each(|a| *a /= total);
    }
    areas
}

impl Time {
    /// What the findings take.
    pub(super) fn fitted(&self, b: &Basis<'_>) -> findings::minutes::Fitted {
        let names = b.measures.finishes.all();
        let factors = names.iter().zip(&self.fit.finish_factors).enumerate();
        let factors = factors.filter(|(f, _)| *f != self.smoothest);
        let classes = b.measures.classes.all().iter().zip(&self.fit.classes);
        let mut left_out = b.left_out(&self.rows, &self.fit.record);
        left_out.extend(self.refused.iter().cloned());
        findings::minutes::Fitted {
            classes: classes
                .enumerate()
                .map(|(i, (name, c))| findings::minutes::ClassFit {
                    class: name.clone(),
                    jobs: c.jobs,
                    typical: c.data_alone.typical.clone(),
                    average: c.data_alone.average.clone(),
                    plan_for: c.data_alone.plan_for.clone(),
                    month_jobs: month_jobs(b, i),
                })
                .collect(),
            smoothest: names.get(self.smoothest).cloned(),
            covered_share: self.fit.covered_share_exponent.clone(),
            finishes: factors
                .map(|(_, (name, factor))| findings::minutes::FinishFactor {
                    finish: name.clone(),
                    factor: factor.clone(),
                })
                .collect(),
            person_sd: self.fit.person_sd.clone(),
            residual_sd: self.fit.residual_sd.clone(),
            jobs_used: self.fit.record.rows_used as u64,
            left_out,
        }
    }

    /// Minutes of a job as a multiple of a full one of its class on the
    /// smoothest finish; `None` where the fit cannot tell.
    fn multiple(&self, b: &Basis<'_>, job: &CoatedJob) -> Option<f64> {
        let covered = b.covered(job)?;
        let size = match self.fit.covered_share_exponent.value() {
            Some(gamma) => covered.powf(gamma),
            None if job.full == Some(true) => 1.0,
            None => return None,
        };
        let factors = self.fit.finish_factors.iter();
        let finish = factors.zip(shares(b, job)).filter(|(_, s)| *s > 0.0);
        let log: f64 = finish
            .map(|(f, share)| share * f.value().map_or(0.0, f64::ln))
            .sum();
        Some(size * log.exp())
    }

    /// Minutes that a job is expected to take on average, whoever does it.
    fn expected(&self, b: &Basis<'_>, job: &CoatedJob) -> Option<f64> {
        let class = self.fit.classes.get(job.class as usize)?;
        let constant = || b.record?.minutes.get(b.class(job)).copied();
        let full = class.blended.average.value().or_else(constant)?;
        Some(full * self.multiple(b, job)?)
    }

    /// The month's timed jobs beside what this fit says they take in the hands
    /// of the same people.
    pub(super) fn pairs(&self, b: &Basis<'_>) -> Vec<Pair> {
        let effects: BTreeMap<u64, f64> = (self.fit.effects.iter())
            .map(|e| (e.label, e.value))
            .collect();
        let pair = |job: &CoatedJob| {
            let took = job.minutes.filter(|m| *m > 0.0)?;
            let class = self.fit.classes.get(job.class as usize)?;
            let typical = class.data_alone.typical.value()? * self.multiple(b, job)?;
            let person = job.person.and_then(|p| effects.get(&u64::from(p)));
            Some(Pair {
                took,
                usual: typical * person.map_or(1.0, |e| e.exp()),
            })
        };
        let month = b.measures.coated.iter();
        month
            .filter(|j| j.month == b.scope.month)
            .filter_map(pair)
            .collect()
    }
}

fn month_jobs(b: &Basis<'_>, class: usize) -> u64 {
    let month = b.measures.coated.iter();
    let of_class = |j: &&CoatedJob| j.month == b.scope.month && j.class as usize == class;
    month.filter(of_class).count() as u64
}

/// What every coated job is expected to take, in their order.
pub(super) fn expected(b: &Basis<'_>, used: Option<&Use>, time: Option<&Time>) -> Vec<Expected> {
    let one = |job: &CoatedJob| Expected {
        use_ml: used.and_then(|u| u.expected(b, job)),
        minutes: time.and_then(|t| t.expected(b, job)),
    };
    b.measures.coated.iter().map(one).collect()
}
