//! What the constants in force and a refit say of a job, a bottle and a price,
//! beside what came.

use super::super::estimates;
use super::{JobPairs, Past, Refit};
use crate::estimate::Estimate;
use crate::findings::backtest::{Pair, RANGE};
use crate::fits::interval::sum_of_independent;
use crate::fits::ratio::Ratio;
use crate::measures::{BottleCost, CoatedJob, Measures};
use crate::settings::constants::Record;
use crate::settings::month::Month;

impl Past<'_> {
    pub(super) fn own_wage(&self, job: &CoatedJob) -> Option<f64> {
        *self.columns.wages.get(job.person? as usize)?
    }

    fn minor(&self, major: Option<f64>) -> Option<f64> {
        major.map(|x| x * self.shop.money.currency.scale() as f64)
    }

    /// What was predicted of a job and what came.
    pub(super) fn job(
        &self,
        job: &CoatedJob,
        refit: &Refit<'_>,
        actual_price: Option<f64>,
    ) -> JobPairs {
        let record = self.constants.in_force(job.priced_on);
        let use_ml = refit.use_pair(job, record);
        let minutes = refit.minutes_pair(job, record);
        let wage = self.wage_pair(job, refit, record);
        JobPairs {
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

    /// The same of the month's bottles.
    pub(super) fn bottles(&self, refit: &Refit<'_>, month: Month) -> Vec<(Vec<u32>, Pair)> {
        let cellars = &self.columns.cellars;
        let rows = cellars.gather(self.measures, &|m: Month| m == month);
        let record = self.constants.in_force(month.first());
        let pair = |row: Vec<f64>, used: f64| {
            let pair = refit.bottle_pair(&row, used, record)?;
            let finishes = self.columns.finishes.numbers().iter();
            let carried = finishes.zip(&row[1..]).filter(|(_, a)| **a > 0.0);
            Some((carried.map(|(f, _)| *f).collect(), pair))
        };
        rows.loads()
            .into_iter()
            .filter_map(|l| pair(l.columns, l.used))
            .collect()
    }

    /// The same of the prices of the bottles opened in the month.
    pub(super) fn prices(&self, refit: &Refit<'_>, month: Month) -> Vec<Pair> {
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

pub(super) fn price(m: &Measures, keep: impl Fn(Month) -> bool) -> Option<f64> {
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
        let found = self.time.as_ref()?.of(&self.basis, job)?;
        let refit = found.minutes.range;
        let class = self.basis.measures.classes.name(job.class);
        let full = record.and_then(|r| r.minutes.get(class)).copied()?;
        let constant = full * found.multiple;
        let pair = Pair {
            actual,
            in_force: refit.map(|x| x * constant / refit.value),
            refit,
        };
        let cost = Estimate {
            value: found.minutes.average,
            ..refit
        };
        Some((pair, cost))
    }

    fn bottle_pair(&self, row: &[f64], used: f64, record: Option<&Record>) -> Option<Pair> {
        let refit = self.used.as_ref()?.load(row)?;
        let finishes = &self.basis.columns.finishes;
        let names = finishes.names(&self.basis.measures.finishes);
        let record = record?;
        let mut constant = record.setup_ml.unwrap_or(0.0) * row[0];
        for (name, area) in names.zip(&row[1..]).filter(|(_, a)| **a > 0.0) {
            constant += record.ml_per_m2.get(name)? * area;
        }
        Some(Pair {
            actual: used,
            in_force: certain(constant),
            refit: certain(refit),
        })
    }
}
