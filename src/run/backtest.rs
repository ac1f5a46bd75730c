//! Rolling origin: each of the last months predicted by the constants in
//! force then and by a refit on the months before it.

mod pairs;
mod scored;

use super::estimates::{self, Basis, Columns, Predictor, Time, TimeSheet, Use};
use crate::findings::Scope;
use crate::findings::backtest::{Backtest, Errors, MONTHS, Pair, RANGE};
use crate::fits::minutes::Blocks;
use crate::measures::{CoatedJob, Measures};
use crate::settings::constants::Constants;
use crate::settings::month::Month;
use crate::settings::shop::Shop;
use crate::threads::both;
use chrono::NaiveDate;
use std::collections::BTreeMap;

use pairs::price;
use scored::scored;

/// What the predictions rest on beside the month.
#[derive(Debug, Clone, Copy)]
pub(super) struct Past<'a> {
    /// Jobs and bottles of the months predicted and of the windows before.
    pub(super) measures: &'a Measures,
    /// The same coated jobs as columns.
    pub(super) columns: &'a Columns,
    pub(super) shop: &'a Shop,
    pub(super) constants: &'a Constants,
    /// Area of a full job by class [m²].
    pub(super) full_area: &'a BTreeMap<String, f64>,
    /// First month with a job.
    pub(super) first: Month,
}

/// Months of which jobs are looked at: those predicted and the window before.
pub(super) fn from(month: Month, window_months: Option<u32>, first: Month) -> Month {
    let window = window_months.map_or(i32::MAX / 2, |w| i32::try_from(w).unwrap_or(i32::MAX / 2));
    month.plus(1 - MONTHS).plus(-window).max(first)
}

/// Predicts the months up to `until`.
pub(super) fn backtest(past: Past<'_>, until: Month) -> Backtest {
    let from = until.plus(1 - MONTHS).max(past.first);
    let mut months = Vec::new();
    let mut next = from;
    while next <= until {
        months.push(next);
        next = next.plus(1);
    }
    let mut all = Vec::with_capacity(months.len());
    for alike in months.chunk_by(|a, b| past.record_day(*a) == past.record_day(*b)) {
        all.extend(past.predict_all(alike));
    }
    scored(&past, from, until, &all)
}

/// The timed jobs of some months under one record of constants, whose refits
/// share their sums.
struct Refits<'a> {
    sheet: &'a TimeSheet,
    blocks: Blocks<'a>,
}

impl Refits<'_> {
    fn time(&self, basis: &Basis<'_>) -> Option<Time> {
        self.sheet.fit(&self.blocks, basis).ok()
    }
}

/// What was predicted of one month.
#[derive(Debug, Clone, Default)]
struct Predicted {
    jobs: JobErrors,
    /// Bottles of the month, where no job of it is measured: finishes on each,
    /// and mL.
    bottles: Vec<(Vec<u32>, Pair)>,
    /// Price of each bottle opened in the month.
    prices: Vec<Pair>,
}

/// Errors over jobs.
#[derive(Debug, Clone, Default)]
struct JobErrors {
    use_ml: Errors,
    minutes: Errors,
    money: Errors,
    wage: Errors,
    /// Of use, by each finish that a job carries.
    by_finish: BTreeMap<u32, Errors>,
    /// Of minutes.
    by_class: BTreeMap<u32, Errors>,
}

/// One job.
#[derive(Debug, Clone)]
struct JobPairs {
    use_ml: Option<Pair>,
    minutes: Option<Pair>,
    money: Option<Pair>,
    wage: Option<Pair>,
}

impl JobErrors {
    fn add(&mut self, job: &CoatedJob, pairs: &JobPairs) {
        if let Some(pair) = &pairs.use_ml {
            self.use_ml.add(pair);
            for part in &job.parts {
                self.by_finish.entry(part.finish).or_default().add(pair);
            }
        }
        if let Some(pair) = &pairs.minutes {
            self.minutes.add(pair);
            self.by_class.entry(job.class).or_default().add(pair);
        }
        pairs.money.iter().for_each(|pair| self.money.add(pair));
        pairs.wage.iter().for_each(|pair| self.wage.add(pair));
    }

    fn merge(&mut self, other: &Self) {
        self.use_ml.merge(&other.use_ml);
        self.minutes.merge(&other.minutes);
        self.money.merge(&other.money);
        self.wage.merge(&other.wage);
        for (finish, errors) in &other.by_finish {
            self.by_finish.entry(*finish).or_default().merge(errors);
        }
        for (class, errors) in &other.by_class {
            self.by_class.entry(*class).or_default().merge(errors);
        }
    }
}

/// The refit as of one month.
struct Refit<'a> {
    basis: Basis<'a>,
    used: Option<Use>,
    time: Option<Predictor<'a>>,
    /// Minor units per mL.
    per_ml: Option<f64>,
    /// Minor units per hour.
    wage: Option<f64>,
}

impl Past<'_> {
    /// The months that a month is predicted from; `None` where there are none.
    fn window(&self, month: Month) -> Option<Scope> {
        let window = self.shop.review.window_months;
        let back = |n: u32| month.plus(i32::try_from(n).map_or(i32::MIN / 2, |n| -n));
        let scope = Scope {
            month: month.plus(-1),
            window_from: window.map_or(self.first, back),
        };
        (scope.month >= self.first).then_some(scope)
    }

    fn basis<'b>(&'b self, scope: &'b Scope) -> Basis<'b> {
        Basis {
            measures: self.measures,
            columns: self.columns,
            scope,
            record: self.constants.in_force(scope.month.last()),
            review: &self.shop.review,
            full_area: self.full_area,
        }
    }

    /// The day of the record that a month is predicted under.
    fn record_day(&self, month: Month) -> Option<NaiveDate> {
        let window = self.window(month)?;
        Some(self.basis(&window).record?.effective_on)
    }

    /// The jobs that the minutes of some months are refitted on, all under the
    /// record of the first.
    fn sheet(&self, months: &[Month]) -> Option<TimeSheet> {
        let mut windows = months.iter().filter_map(|m| self.window(*m));
        let first = windows.next()?;
        let last = windows.next_back().unwrap_or(first);
        // A shop without a finish has no refit, and so no sheet.
        TimeSheet::of(&self.basis(&first), first.window_from, last.month).ok()
    }

    /// What was predicted of months under one record.
    fn predict_all(&self, months: &[Month]) -> Vec<Predicted> {
        let sheet = self.sheet(months);
        let refits = sheet.as_ref().and_then(|sheet| {
            let blocks = sheet.blocks().ok()?;
            Some(Refits { sheet, blocks })
        });
        let predict = |m: &Month| self.predict(*m, refits.as_ref());
        let predicted = |months: &[Month]| months.iter().map(predict).collect::<Vec<Predicted>>();
        let (early, late) = months.split_at(months.len() / 2);
        let (mut all, late) = both(|| predicted(early), || predicted(late));
        all.extend(late);
        all
    }

    fn predict(&self, month: Month, refits: Option<&Refits<'_>>) -> Predicted {
        let Some(scope) = self.window(month) else {
            return Predicted::default();
        };
        let basis = self.basis(&scope);
        let within = |m: Month| scope.in_window(m);
        // A month that cannot be refitted has nothing to compare.
        let time = refits.and_then(|r| r.time(&basis));
        let refit = Refit {
            used: estimates::fit_use(&basis, true, within).ok(),
            time: time.as_ref().and_then(|t| t.predictor(RANGE).ok()),
            per_ml: price(self.measures, within),
            wage: self.columns.mean_wage(within),
            basis,
        };
        let actual_price = price(self.measures, |m| m == month).or(refit.per_ml);
        let jobs = self.of_month(month);
        let mut errors = JobErrors::default();
        jobs.for_each(|j| errors.add(j, &self.job(j, &refit, actual_price)));
        Predicted {
            bottles: if errors.use_ml.jobs > 0 {
                Vec::new()
            } else {
                self.bottles(&refit, month)
            },
            prices: self.prices(&refit, month),
            jobs: errors,
        }
    }

    fn of_month(&self, month: Month) -> impl Iterator<Item = &CoatedJob> {
        let places = self.columns.in_month(month).iter();
        places.map(|place| &self.measures.coated[*place])
    }
}
