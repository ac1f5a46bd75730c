//! The entries of the price list, each with what such work is expected to cost.

use super::estimates::{Basis, Kinds, MOST, Time, Use};
use crate::estimate::NotEnough;
use crate::findings::Prices;
use crate::findings::list_price::Rule;
use crate::findings::price_list::Candidate;
use crate::fits::error::FitError;
use crate::fits::evidence::Source;
use crate::fits::minutes::NewJob;
use crate::fits::uncertain::Uncertain;
use crate::measures::{CoatedJob, Names};
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

/// Entries of a price list that are judged at most: as many as there can be of
/// classes and finishes that are told apart.
const MOST_ENTRIES: usize = MOST * MOST;

/// Classes and finishes of a record's price list.
struct Cells<'a> {
    record: &'a Record,
    classes: BTreeSet<&'a str>,
    finishes: BTreeSet<&'a str>,
}

impl<'a> Cells<'a> {
    fn of(record: &'a Record) -> Self {
        let keys = || record.list_price.keys().map(String::as_str);
        let class = |k: &'a str| k.split('/').next().unwrap_or(k);
        let paired = keys().filter_map(|k| Some(k.split_once('/')?.1));
        let more = record.ml_per_m2.keys().map(String::as_str);
        Self {
            classes: keys().map(class).collect(),
            finishes: paired.chain(more).collect(),
            record,
        }
    }

    /// Pairs of the whole list that have a price, counted without looking at
    /// each.
    fn all_priced(&self) -> usize {
        let alone = |class: &str| self.record.list_price.contains_key(class);
        let whole = self.classes.iter().filter(|c| alone(c)).count();
        let keys = self.record.list_price.keys();
        let paired = keys.filter_map(|k| k.split_once('/'));
        whole * self.finishes.len() + paired.filter(|(class, _)| !alone(class)).count()
    }

    /// Of a list that is too long those that the fits tell apart.
    fn bounded(mut self, b: &Basis<'_>) -> Self {
        if self.classes.len() * self.finishes.len() > MOST_ENTRIES {
            let known = |kinds: &Kinds, names: &Names, name: &str| {
                names.find(name).and_then(|n| kinds.column(n)).is_some()
            };
            let (columns, m) = (b.columns, b.measures);
            (self.classes).retain(|c| known(&columns.classes, &m.classes, c));
            (self.finishes).retain(|f| known(&columns.finishes, &m.finishes, f));
        }
        self
    }

    /// Pairs of these classes and finishes that have a price.
    fn priced(&self) -> usize {
        let price = |(c, f): &(&str, &str)| self.record.list_price_of(c, f).is_some();
        self.pairs().filter(price).count()
    }

    fn pairs(&self) -> impl Iterator<Item = (&'a str, &'a str)> {
        let of = |c: &&'a str| {
            let class = *c;
            self.finishes.iter().map(move |f| (class, *f))
        };
        self.classes.iter().flat_map(of)
    }
}

impl Costs<'_> {
    /// Every entry that the record in force at the month's end prices; of a
    /// list too long for that, those whose class and finish are told apart, and
    /// how many others there are.
    pub(super) fn candidates(&self, record: &Record) -> (Vec<Candidate>, u64) {
        let mut sold = self.sold(record);
        let mut entry = |(class, finish): (&str, &str)| {
            let major = record.list_price_of(class, finish)?;
            let key = (class.to_string(), finish.to_string());
            Some(Candidate {
                list: self.money.currency.minor(major)?,
                rests_on: self.rests_on(class, finish),
                sold: sold.remove(&key).unwrap_or_default(),
                cost: self.cost(class, finish),
                class: key.0,
                finish: key.1,
            })
        };
        let all = Cells::of(record);
        let priced = all.all_priced();
        let judged = all.bounded(self.basis);
        let others = priced.saturating_sub(judged.priced());
        (
            judged.pairs().filter_map(&mut entry).collect(),
            others as u64,
        )
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
            .and_then(|(t, c)| t.class(self.basis, c))
            .map_or(0, |c| c.jobs);
        let measured = (self.used.zip(m.finishes.find(finish)))
            .and_then(|(u, f)| u.finish(self.basis, f))
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

    /// The finish's column of the fits.
    fn finish(&self, finish: &str) -> Result<usize, NotEnough> {
        let none = || NotEnough::new(0, 1, format!("coated jobs on {finish}"));
        let finishes = &self.basis.columns.finishes;
        let number = self.basis.measures.finishes.find(finish).ok_or_else(none)?;
        let column = finishes.column(number);
        column.ok_or_else(|| finishes.too_rare(number))
    }

    /// The class's column of the minutes' fit.
    fn class(&self, class: &str) -> Result<usize, NotEnough> {
        let none = || NotEnough::new(0, 1, format!("timed {class} jobs"));
        let classes = &self.basis.columns.classes;
        let number = self.basis.measures.classes.find(class).ok_or_else(none)?;
        let column = classes.column(number);
        column.ok_or_else(|| classes.too_rare(number))
    }

    fn per_ml(&self) -> Result<Uncertain, NotEnough> {
        let none = || NotEnough::new(0, 1, "prices of the coating");
        let paid = self.prices.per_ml_used;
        paid.map(Uncertain::exact).ok_or_else(none)
    }

    fn use_ml(&self, class: &str, finish: &str) -> Result<Uncertain, NotEnough> {
        let none = || NotEnough::new(0, 1, format!("coated jobs on {finish}"));
        let fit = &self.used.ok_or_else(none)?.fit;
        let column = self.finish(finish)?;
        let full = self.basis.full_area(class);
        let full =
            full.ok_or_else(|| NotEnough::new(0, 1, format!("full {class} jobs with an area")))?;
        let mut areas = vec![0.0; self.basis.columns.finishes.count()];
        areas[column] = full;
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
        let mut shares = vec![0.0; self.basis.columns.finishes.count()];
        shares[self.finish(finish)?] = 1.0;
        let job = NewJob {
            class: self.class(class)?,
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
