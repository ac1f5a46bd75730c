//! Rolling origin: each of the last months predicted by the constants in
//! force then and by a refit on the months before it.

use super::estimates::{self, Basis, Columns, Time, TimeSheet, Use};
use crate::estimate::Estimate;
use crate::findings::Scope;
use crate::findings::backtest::{Backtest, Compared, MONTHS, Pair, RANGE};
use crate::findings::recalibrate::{Constant, LEAST_PREDICTED};
use crate::fits::interval::sum_of_independent;
use crate::fits::minutes::Blocks;
use crate::fits::ratio::Ratio;
use crate::measures::{BottleCost, CoatedJob, Measures};
use crate::settings::constants::{Constants, Record};
use crate::settings::month::Month;
use crate::settings::shop::Shop;
use chrono::NaiveDate;
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

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
    let sheets = Sheets::of(&past, &months);
    let refits = sheets.blocks();
    let predict = |m: &Month| past.predict(*m, &refits);
    // Two threads: the machines that this runs on have two cores at least.
    let (a, b) = months.split_at(months.len() / 2);
    let all = std::thread::scope(|s| {
        let early = s.spawn(|| a.iter().map(predict).collect::<Vec<_>>());
        let late: Vec<Predicted> = b.iter().map(predict).collect();
        let mut all = match early.join() {
            Ok(early) => early,
            Err(panic) => std::panic::resume_unwind(panic),
        };
        all.extend(late);
        all
    });
    scored(past.measures, from, until, &all)
}

/// The timed jobs of all months, by the day of the record in force: refits of
/// months under one record share their sums.
struct Sheets(BTreeMap<Option<NaiveDate>, TimeSheet>);

/// The same with their sums.
struct Refits<'a>(BTreeMap<Option<NaiveDate>, (&'a TimeSheet, Blocks<'a>)>);

impl Sheets {
    fn of(past: &Past<'_>, months: &[Month]) -> Self {
        let mut sheets = BTreeMap::new();
        for scope in months.iter().filter_map(|m| past.window(*m)) {
            let basis = past.basis(&scope);
            let day = basis.record.map(|r| r.effective_on);
            // A shop without a finish has no refit, and so no sheet.
            if let Entry::Vacant(place) = sheets.entry(day)
                && let Ok(sheet) = TimeSheet::of(&basis)
            {
                place.insert(sheet);
            }
        }
        Self(sheets)
    }

    fn blocks(&self) -> Refits<'_> {
        let sheets = self.0.iter();
        let blocks = sheets.filter_map(|(day, s)| Some((*day, (s, s.blocks().ok()?))));
        Refits(blocks.collect())
    }
}

impl Refits<'_> {
    fn time(&self, basis: &Basis<'_>) -> Option<Time> {
        let (sheet, blocks) = self.0.get(&basis.record.map(|r| r.effective_on))?;
        sheet.fit(blocks, basis).ok()
    }
}

/// What was predicted of one month.
#[derive(Debug, Clone, Default)]
struct Predicted {
    jobs: Vec<JobPairs>,
    /// Bottles of the month, where no job of it is measured: finishes on each,
    /// and mL.
    bottles: Vec<(Vec<u32>, Pair)>,
    /// Price of each bottle opened in the month.
    prices: Vec<Pair>,
}

/// One job.
#[derive(Debug, Clone)]
struct JobPairs {
    finishes: Vec<u32>,
    class: u32,
    use_ml: Option<Pair>,
    minutes: Option<Pair>,
    money: Option<Pair>,
    wage: Option<Pair>,
}

/// The refit as of one month.
struct Refit<'a> {
    basis: Basis<'a>,
    used: Option<Use>,
    time: Option<Time>,
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

    fn predict(&self, month: Month, refits: &Refits<'_>) -> Predicted {
        let Some(scope) = self.window(month) else {
            return Predicted::default();
        };
        let basis = self.basis(&scope);
        let within = |m: Month| scope.in_window(m);
        // A month that cannot be refitted has nothing to compare.
        let refit = Refit {
            used: estimates::fit_use(&basis, true, within).ok(),
            time: refits.time(&basis),
            per_ml: price(self.measures, within),
            wage: self.mean_wage(within),
            basis,
        };
        let actual_price = price(self.measures, |m| m == month).or(refit.per_ml);
        let jobs = self.measures.coated.iter().filter(|j| j.month == month);
        let jobs: Vec<JobPairs> = jobs.map(|j| self.job(j, &refit, actual_price)).collect();
        let measured = jobs.iter().any(|j| j.use_ml.is_some());
        Predicted {
            bottles: if measured {
                Vec::new()
            } else {
                self.bottles(&refit, month)
            },
            prices: self.prices(&refit, month),
            jobs,
        }
    }

    fn mean_wage(&self, keep: impl Fn(Month) -> bool) -> Option<f64> {
        let jobs = self.measures.coated.iter().filter(|j| keep(j.month));
        let wages: Vec<f64> = jobs.filter_map(|j| self.own_wage(j)).collect();
        (!wages.is_empty()).then(|| wages.iter().sum::<f64>() / wages.len() as f64)
    }

    fn own_wage(&self, job: &CoatedJob) -> Option<f64> {
        let person = self.measures.people.get(job.person? as usize)?;
        self.measures.wages.get(person).map(|w| w.as_f64())
    }

    fn minor(&self, major: Option<f64>) -> Option<f64> {
        major.map(|x| x * self.shop.money.currency.scale() as f64)
    }

    fn job(&self, job: &CoatedJob, refit: &Refit<'_>, actual_price: Option<f64>) -> JobPairs {
        let record = self.constants.in_force(job.priced_on);
        let use_ml = refit.use_pair(job, record);
        let minutes = refit.minutes_pair(job, record);
        let wage = self.wage_pair(job, refit, record);
        JobPairs {
            finishes: job.parts.iter().map(|p| p.finish).collect(),
            class: job.class,
            money: self.money(use_ml, minutes, wage, refit, record, actual_price),
            use_ml: use_ml.map(|(pair, _)| pair),
            minutes: minutes.map(|(pair, _)| pair),
            wage,
        }
    }

    fn wage_pair(
        &self,
        job: &CoatedJob,
        refit: &Refit<'_>,
        record: Option<&Record>,
    ) -> Option<Pair> {
        let in_force = self.minor(record.and_then(|r| r.hourly_cost));
        Some(Pair {
            actual: self.own_wage(job)?,
            in_force: certain(in_force?),
            refit: certain(refit.wage?),
        })
    }

    /// Coating and loaded labour of one job [minor units].
    fn money(
        &self,
        use_ml: Option<(Pair, Estimate)>,
        minutes: Option<(Pair, Estimate)>,
        wage: Option<Pair>,
        refit: &Refit<'_>,
        record: Option<&Record>,
        actual_price: Option<f64>,
    ) -> Option<Pair> {
        let ((ml, ml_cost), (min, min_cost)) = (use_ml?, minutes?);
        let load = self.shop.money.labour_loading / 60.0;
        let per_ml = (
            self.minor(record.and_then(|r| r.cost_per_ml))?,
            refit.per_ml?,
        );
        let in_force_wage = self.minor(record.and_then(|r| r.hourly_cost))?;
        let wage = wage.map_or(
            (
                in_force_wage,
                refit.wage.unwrap_or(in_force_wage),
                in_force_wage,
            ),
            |w| (in_force_wage, w.refit.value, w.actual),
        );
        let sum = |ml: Estimate, per_ml: f64, min: Estimate, wage: f64| {
            sum_of_independent(ml.map(|x| x * per_ml), min.map(|x| x * wage * load))
        };
        Some(Pair {
            actual: ml.actual * actual_price? + min.actual * wage.2 * load,
            in_force: sum(ml.in_force, per_ml.0, min.in_force, wage.0),
            refit: sum(ml_cost, per_ml.1, min_cost, wage.1),
        })
    }

    fn bottles(&self, refit: &Refit<'_>, month: Month) -> Vec<(Vec<u32>, Pair)> {
        let cellars = &self.columns.cellars;
        let rows = cellars.gather(self.measures, &|m: Month| m == month);
        let record = self.constants.in_force(month.first());
        let pair = |row: Vec<f64>, used: f64| {
            let pair = refit.bottle_pair(&row, used, record)?;
            let carried = (0..).zip(&row[1..]).filter(|(_, a)| **a > 0.0);
            Some((carried.map(|(f, _)| f).collect(), pair))
        };
        rows.loads()
            .into_iter()
            .filter_map(|l| pair(l.columns, l.used))
            .collect()
    }

    fn prices(&self, refit: &Refit<'_>, month: Month) -> Vec<Pair> {
        let record = self.constants.in_force(month.first());
        let in_force = self.minor(record.and_then(|r| r.cost_per_ml));
        let Some((in_force, refit)) = in_force.zip(refit.per_ml) else {
            return Vec::new();
        };
        let bottles = self.measures.bottles.iter().filter(|b| b.month == month);
        let actual = bottles.filter_map(|b| price_of([b].into_iter()));
        let pair = |actual| Pair {
            actual,
            in_force: certain(in_force),
            refit: certain(refit),
        };
        actual.map(pair).collect()
    }
}

/// A number without a range.
fn certain(x: f64) -> Estimate {
    Estimate {
        value: x,
        low: x,
        high: x,
        level: RANGE,
        n: 0,
    }
}

fn price(m: &Measures, keep: impl Fn(Month) -> bool) -> Option<f64> {
    price_of(m.bottles.iter().filter(|b| keep(b.month)))
}

fn price_of<'b>(bottles: impl Iterator<Item = &'b BottleCost>) -> Option<f64> {
    let pair = |b: &BottleCost| (b.cost.as_f64(), b.volume - b.left_over.min(b.volume));
    let (cost, used): (Vec<f64>, Vec<f64>) = bottles.map(pair).unzip();
    Ratio::of_totals(&cost, &used).ok().map(|r| r.value)
}

impl Refit<'_> {
    /// mL of a measured job, and the refit's range for costing.
    fn use_pair(&self, job: &CoatedJob, record: Option<&Record>) -> Option<(Pair, Estimate)> {
        let actual = job.used.filter(|u| *u > 0.0)?;
        let refit = self.used.as_ref()?.one_job(&self.basis, job, RANGE)?;
        let constant = estimates::use_by_constants(&self.basis, record, job)?;
        let moved = constant - refit.value;
        let pair = Pair {
            actual,
            in_force: refit.map(|x| (x + moved).max(0.0)),
            refit,
        };
        Some((pair, refit))
    }

    /// Minutes of a timed job, and the refit's range round the average for
    /// costing. The constant is scaled to the job as the refit scales its own.
    fn minutes_pair(&self, job: &CoatedJob, record: Option<&Record>) -> Option<(Pair, Estimate)> {
        let actual = job.minutes.filter(|m| *m > 0.0)?;
        let time = self.time.as_ref()?;
        let found = time.one_job(&self.basis, job, RANGE)?;
        let refit = found.range;
        let class = self.basis.measures.classes.name(job.class);
        let full = record.and_then(|r| r.minutes.get(class)).copied()?;
        let constant = full * time.multiple(&self.basis, job)?;
        let pair = Pair {
            actual,
            in_force: refit.map(|x| x * constant / refit.value),
            refit,
        };
        let cost = Estimate {
            value: found.average.value,
            ..refit
        };
        Some((pair, cost))
    }

    fn bottle_pair(&self, row: &[f64], used: f64, record: Option<&Record>) -> Option<Pair> {
        let refit = self.used.as_ref()?.load(row)?;
        let names = self.basis.measures.finishes.all();
        let record = record?;
        let mut constant = record.setup_ml.unwrap_or(0.0) * row[0];
        for (name, area) in names.iter().zip(&row[1..]).filter(|(_, a)| **a > 0.0) {
            constant += record.ml_per_m2.get(name)? * area;
        }
        Some(Pair {
            actual: used,
            in_force: certain(constant),
            refit: certain(refit),
        })
    }
}

fn scored(m: &Measures, from: Month, until: Month, all: &[Predicted]) -> Backtest {
    let jobs = || all.iter().flat_map(|p| &p.jobs);
    let something = |p: &&Predicted| {
        p.jobs
            .iter()
            .any(|j| j.use_ml.is_some() || j.minutes.is_some())
            || !p.bottles.is_empty()
    };
    let mut by_constant = BTreeMap::new();
    let mut put = |constant, key: &str, found: Option<Compared>| {
        by_constant.extend(found.map(|c| ((constant, key.to_string()), c)));
    };
    let measured = jobs().filter(|j| j.use_ml.is_some()).count() as u64;
    let use_by_bottles = measured < LEAST_PREDICTED;
    let (used, per_finish) = use_scores(m, all, use_by_bottles);
    put(Constant::SetupMl, "", used);
    for (name, found) in m.finishes.all().iter().zip(per_finish) {
        put(Constant::MlPerM2, name, found);
    }
    for (class, name) in (0..).zip(m.classes.all()) {
        let of_class = jobs().filter(move |j| j.class == class);
        put(
            Constant::Minutes,
            name,
            Compared::of(of_class.filter_map(|j| j.minutes.as_ref())),
        );
    }
    put(
        Constant::CostPerMl,
        "",
        Compared::of(all.iter().flat_map(|p| &p.prices)),
    );
    put(
        Constant::HourlyCost,
        "",
        Compared::of(jobs().filter_map(|j| j.wage.as_ref())),
    );
    Backtest {
        from,
        until,
        months: all.iter().filter(something).count() as u64,
        use_ml: Compared::of(jobs().filter_map(|j| j.use_ml.as_ref())),
        minutes: Compared::of(jobs().filter_map(|j| j.minutes.as_ref())),
        money: Compared::of(jobs().filter_map(|j| j.money.as_ref())),
        use_by_bottles,
        by_constant,
    }
}

/// Use over all and by finish: by measured jobs; by bottles in a shop that
/// measures too few.
fn use_scores(
    m: &Measures,
    all: &[Predicted],
    by_bottles: bool,
) -> (Option<Compared>, Vec<Option<Compared>>) {
    let jobs = || {
        let jobs = all.iter().flat_map(|p| &p.jobs);
        jobs.filter_map(|j| Some((&j.finishes, j.use_ml.as_ref()?)))
    };
    let bottles = || {
        all.iter()
            .flat_map(|p| &p.bottles)
            .map(|(f, pair)| (f, pair))
    };
    let finishes = 0..m.finishes.all().len() as u32;
    if by_bottles {
        let of = |f| {
            Compared::of(
                bottles()
                    .filter(move |(on, _)| on.contains(&f))
                    .map(|x| x.1),
            )
        };
        return (
            Compared::of(bottles().map(|x| x.1)),
            finishes.map(of).collect(),
        );
    }
    let of = |f| Compared::of(jobs().filter(move |(on, _)| on.contains(&f)).map(|x| x.1));
    (
        Compared::of(jobs().map(|x| x.1)),
        finishes.map(of).collect(),
    )
}
