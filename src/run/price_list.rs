//! The entries of the price list, each with what such work is expected to cost.

use super::estimates::{Basis, Time, Use};
use crate::estimate::NotEnough;
use crate::findings::Prices;
use crate::findings::list_price::Rule;
use crate::findings::price_list::Candidate;
use crate::fits::error::FitError;
use crate::fits::evidence::Source;
use crate::fits::minutes::NewJob;
use crate::fits::uncertain::Uncertain;
use crate::measures::CoatedJob;
use crate::settings::constants::Record;
use crate::settings::shop::Money;
use std::collections::{BTreeMap, BTreeSet};

/// What the cost of an entry rests on.
pub(super) struct Costs<'a> {
    pub(super) basis: &'a Basis<'a>,
    pub(super) used: Option<&'a Use>,
    pub(super) time: Option<&'a Time>,
    pub(super) prices: &'a Prices,
    pub(super) money: &'a Money,
    pub(super) rule: &'a Rule<'a>,
    /// Set aside for callbacks, per coated job [minor units].
    pub(super) reserve: f64,
}

/// Classes and finishes of a record's price list.
fn cells(record: &Record) -> Vec<(String, String)> {
    let keys = || record.list_price.keys();
    let class = |k: &String| k.split('/').next().unwrap_or(k).to_string();
    let classes: BTreeSet<String> = keys().map(class).collect();
    let paired = keys().filter_map(|k| Some(k.split_once('/')?.1.to_string()));
    let finishes: BTreeSet<String> = paired.chain(record.ml_per_m2.keys().cloned()).collect();
    let of = |c: &String| -> Vec<(String, String)> {
        finishes.iter().map(|f| (c.clone(), f.clone())).collect()
    };
    classes.iter().flat_map(of).collect()
}

impl Costs<'_> {
    /// Every entry that the record in force at the month's end prices.
    pub(super) fn candidates(&self, record: &Record) -> Vec<Candidate> {
        let mut sold = self.sold(record);
        let entry = |(class, finish): (String, String)| {
            let major = record.list_price_of(&class, &finish)?;
            let cost = self.cost(&class, &finish);
            Some(Candidate {
                list: self.money.currency.minor(major)?,
                rests_on: self.rests_on(&class, &finish),
                sold: sold
                    .remove(&(class.clone(), finish.clone()))
                    .unwrap_or_default(),
                cost,
                class,
                finish,
            })
        };
        cells(record).into_iter().filter_map(entry).collect()
    }

    /// The window's coated jobs by entry, each one's share of a full one; a
    /// two-tone job stands with the dearer of its finishes.
    fn sold(&self, record: &Record) -> BTreeMap<(String, String), Vec<f64>> {
        let mut all: BTreeMap<(String, String), Vec<f64>> = BTreeMap::new();
        let window = self.basis.measures.coated.iter();
        for job in window.filter(|j| self.basis.scope.in_window(j.month)) {
            let finish = self.priced_finish(record, job);
            if let Some((finish, share)) = finish.zip(self.rule.covered(Some(record), job)) {
                let class = self.basis.measures.classes.name(job.class).to_string();
                all.entry((class, finish)).or_default().push(share);
            }
        }
        all
    }

    fn priced_finish(&self, record: &Record, job: &CoatedJob) -> Option<String> {
        let names = self.basis.measures;
        let class = names.classes.name(job.class);
        let priced = |f: &&str| record.list_price_of(class, f);
        let finishes = job.parts.iter().map(|p| names.finishes.name(p.finish));
        let priced = finishes.filter_map(|f| Some((f, priced(&f)?)));
        priced
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(f, _)| f.to_string())
    }

    /// Jobs behind the scarcer of the two: the class's minutes or the finish's
    /// coating.
    fn rests_on(&self, class: &str, finish: &str) -> u64 {
        let m = self.basis.measures;
        let timed = (self.time.zip(m.classes.find(class)))
            .and_then(|(t, c)| t.fit.classes.get(c as usize))
            .map_or(0, |c| c.jobs);
        let measured = (self.used.zip(m.finishes.find(finish)))
            .and_then(|(u, f)| u.fit.finishes.get(f as usize))
            .map_or(0, |f| f.jobs);
        timed.min(measured)
    }

    /// Expected cost of a full job before card fees [minor units].
    fn cost(&self, class: &str, finish: &str) -> Result<Uncertain, NotEnough> {
        let (used, minutes) = (self.use_ml(class, finish)?, self.minutes(class, finish)?);
        let wage = self
            .prices
            .wage
            .ok_or_else(|| NotEnough::new(0, 1, "wages"))?;
        let labour = minutes.scaled(wage * self.money.labour_loading / 60.0);
        let consumables = self.money.consumables * self.money.currency.scale() as f64;
        let fixed = Uncertain::exact(consumables + self.reserve);
        Ok(used.times(self.per_ml()?).plus(labour).plus(fixed))
    }

    fn per_ml(&self) -> Result<Uncertain, NotEnough> {
        let none = || NotEnough::new(0, 1, "prices of the coating");
        let paid = self.prices.per_ml_used;
        paid.map(Uncertain::exact).ok_or_else(none)
    }

    fn use_ml(&self, class: &str, finish: &str) -> Result<Uncertain, NotEnough> {
        let none = || NotEnough::new(0, 1, format!("coated jobs on {finish}"));
        let fit = &self.used.ok_or_else(none)?.fit;
        let column = self.basis.measures.finishes.find(finish).ok_or_else(none)?;
        let full = self.basis.full_area(class);
        let full =
            full.ok_or_else(|| NotEnough::new(0, 1, format!("full {class} jobs with an area")))?;
        let mut areas = vec![0.0; self.basis.measures.finishes.all().len()];
        if let Some(area) = areas.get_mut(column as usize) {
            *area = full;
        }
        let expected = fit
            .expected(Source::Blended, &areas)
            .map_err(|e| missing(e, none()))?;
        Ok(Uncertain {
            value: expected.mean,
            standard_error: expected.standard_error,
            df: expected.df,
        })
    }

    /// The average of such jobs, whoever does them. Its interval is read as a
    /// normal one on the log scale, which makes the error a little large where
    /// few people carry it.
    fn minutes(&self, class: &str, finish: &str) -> Result<Uncertain, NotEnough> {
        let none = || NotEnough::new(0, 1, format!("timed {class} jobs"));
        let fit = &self.time.ok_or_else(none)?.fit;
        let names = self.basis.measures;
        let mut shares = vec![0.0; names.finishes.all().len()];
        let column = names
            .finishes
            .find(finish)
            .and_then(|f| shares.get_mut(f as usize));
        *column.ok_or_else(|| NotEnough::new(0, 1, format!("coated jobs on {finish}")))? = 1.0;
        let job = NewJob {
            class: names.classes.find(class).ok_or_else(none)? as usize,
            covered: 1.0,
            finish_shares: &shares,
        };
        let found = fit
            .one_job(Source::Blended, &job, 0.8)
            .map_err(|e| missing(e, none()))?;
        Ok(Uncertain::of_log(&found.average, f64::INFINITY))
    }
}

/// What the fit says is missing, else `otherwise`.
fn missing(error: FitError, otherwise: NotEnough) -> NotEnough {
    match error {
        FitError::NotEnough(n) => n,
        _ => otherwise,
    }
}
