//! Coated jobs that were charged less than their floor price, and why.
//!
//! ```text
//! cost  = coating + loaded labour + consumables + reserve for callbacks
//! floor = cost / (1 − floor margin − card fee share)
//! ```
//!
//! Fees are taken on what is charged, tax included, and the floor stands
//! without tax. The cost is what such a job takes on average, by the fits, not
//! this job's own noisy record; so a slow day does not make a fair price look
//! wrong.

use super::list_price::Rule;
use super::money::{Expected, Rates, fees_on_net, without_tax};
use crate::measures::CoatedJob;
use crate::money::Minor;
use crate::settings::constants::{Constants, Record};
use crate::settings::shop::Money;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// Why a price did not reach the floor.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Reason {
    /// The discount took it under.
    Discount,
    /// The price is that of a smoother, cheaper finish.
    PricedAsFinish(String),
    /// The price is that of a smaller class.
    PricedAsClass(String),
    /// A partial job went under the shop's minimum price.
    UnderMinimum,
    /// The list price itself is under the floor.
    ListUnderFloor,
    /// Less than the list price was charged.
    UnderList,
    /// No list price to compare with.
    NoListPrice,
}

/// A job charged less than its floor.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Underpriced {
    /// The shop's key.
    pub shop: String,
    /// The job.
    pub job: String,
    /// Vehicle class.
    pub class: String,
    /// Its finishes.
    pub finish: String,
    /// How many.
    #[serde(skip)]
    pub finishes: usize,
    /// Who sold it; empty where nobody is written down.
    pub seller: String,
    /// Charged less discount, without tax.
    pub price: Minor,
    /// Floor price.
    pub floor: Minor,
    /// Floor less price.
    pub short: Minor,
    /// Why, the plainest first.
    pub reasons: Vec<Reason>,
}

/// What kept jobs under their floor, and who sold them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Cause {
    /// The plainest reason of each.
    pub reason: Reason,
    /// Jobs.
    pub jobs: u64,
    /// What they were short together.
    pub short: Minor,
    /// Who sold them, in order of names; '' where nobody is written down.
    pub sellers: BTreeSet<String>,
}

/// A job's price beside its floor.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Point {
    /// The job.
    pub job: String,
    /// Floor price.
    pub floor: Minor,
    /// Charged less discount, without tax.
    pub price: Minor,
}

/// The section's findings.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Floor {
    /// Coated jobs of the month whose price was held against a floor.
    pub checked: u64,
    /// Coated jobs of the month that could not be: no price, or no cost.
    pub not_checked: u64,
    /// Those under it, worst first.
    pub jobs: Vec<Underpriced>,
    /// Sum of what they were short.
    pub short_total: Minor,
    /// Why, the most money first.
    pub causes: Vec<Cause>,
    /// Every job held against a floor.
    pub points: Vec<Point>,
}

/// What every floor rests on.
#[derive(Debug, Clone, Copy)]
pub struct Basis<'a> {
    /// Prices of coating and labour; `None` where one is not known.
    pub rates: Option<Rates>,
    /// Money settings.
    pub money: &'a Money,
    /// Dated constants.
    pub constants: &'a Constants,
    /// The list price rule.
    pub rule: &'a Rule<'a>,
    /// Set aside for callbacks, per coated job [minor units].
    pub reserve: f64,
}

impl Basis<'_> {
    /// Expected cost of a job before card fees [minor units].
    pub fn cost(&self, expected: Expected) -> Option<f64> {
        let rates = self.rates?;
        let labour = expected.minutes? * rates.wage * self.money.labour_loading / 60.0;
        let consumables = self.money.currency.minor(self.money.consumables)?;
        Some(expected.use_ml? * rates.per_ml + labour + consumables.as_f64() + self.reserve)
    }

    /// The price without tax at which a cost leaves the margin `margin` after
    /// card fees; `None` where margin and fees leave nothing of the price.
    pub fn price_for(&self, cost: f64, margin: f64) -> Option<Minor> {
        let left = 1.0 - margin - fees_on_net(self.money);
        (left > 0.0).then(|| Minor::nearest((cost / left).ceil()))?
    }
}

/// A coated job as it was sold.
#[derive(Debug, Clone, Copy)]
pub struct SoldJob<'a> {
    /// The job.
    pub job: &'a CoatedJob,
    /// Who sold it; empty where nobody is written down.
    pub seller: &'a str,
    /// What it is expected to take.
    pub expected: Expected,
}

/// Finds prices under the floor. `jobs`: the month's coated jobs.
pub fn find<'a>(jobs: impl Iterator<Item = SoldJob<'a>>, basis: &Basis<'_>) -> Floor {
    let mut floor = Floor {
        checked: 0,
        not_checked: 0,
        jobs: Vec::new(),
        short_total: Minor::ZERO,
        causes: Vec::new(),
        points: Vec::new(),
    };
    for sold in jobs {
        match held_against(sold, basis) {
            None => floor.not_checked += 1,
            Some((point, under)) => {
                floor.checked += 1;
                floor.points.push(point);
                floor.jobs.extend(under);
            }
        }
    }
    floor
        .jobs
        .sort_by(|a, b| b.short.cmp(&a.short).then_with(|| a.job.cmp(&b.job)));
    floor.short_total = floor.jobs.iter().map(|j| j.short).sum();
    floor.causes = causes(&floor.jobs);
    floor
}

/// Who sold a job, with the shop's key where there are several shops: two of
/// them may number their people alike.
fn seller(job: &Underpriced) -> String {
    match (job.shop.is_empty(), job.seller.is_empty()) {
        (false, false) => format!("{} {}", job.shop, job.seller),
        _ => job.seller.clone(),
    }
}

/// Jobs by the plainest reason, the most money first.
fn causes(jobs: &[Underpriced]) -> Vec<Cause> {
    let mut by_reason: BTreeMap<&Reason, Cause> = BTreeMap::new();
    for job in jobs {
        let Some(reason) = job.reasons.first() else {
            continue;
        };
        let cause = by_reason.entry(reason).or_insert_with(|| Cause {
            reason: reason.clone(),
            jobs: 0,
            short: Minor::ZERO,
            sellers: BTreeSet::new(),
        });
        cause.jobs += 1;
        cause.short += job.short;
        cause.sellers.insert(seller(job));
    }
    let mut all: Vec<Cause> = by_reason.into_values().collect();
    all.sort_by_key(|c| std::cmp::Reverse(c.short));
    all
}

fn held_against(sold: SoldJob<'_>, basis: &Basis<'_>) -> Option<(Point, Option<Underpriced>)> {
    let job = sold.job;
    let charged = job.price?;
    let price = without_tax(charged - job.discount, basis.money);
    let cost = basis.cost(sold.expected)?;
    let floor = basis.price_for(cost, basis.money.floor_margin)?;
    let point = Point {
        job: job.job.to_string(),
        floor,
        price,
    };
    if price >= floor {
        return Some((point, None));
    }
    let names = basis.rule.names;
    let finishes: Vec<_> = job
        .parts
        .iter()
        .map(|p| names.finishes.name(p.finish))
        .collect();
    let under = Underpriced {
        shop: job.shop.to_string(),
        job: job.job.to_string(),
        class: names.classes.name(job.class).to_string(),
        finish: finishes.join(" + "),
        finishes: finishes.len(),
        seller: sold.seller.to_string(),
        price,
        floor,
        short: floor - price,
        reasons: reasons(job, floor, basis),
    };
    Some((point, Some(under)))
}

/// List prices are compared in what is charged, before discount and with tax
/// as the shop writes it.
fn reasons(job: &CoatedJob, floor: Minor, basis: &Basis<'_>) -> Vec<Reason> {
    let Some(charged) = job.price else {
        return Vec::new();
    };
    let before_discount = without_tax(charged, basis.money);
    let mut all = Vec::new();
    if job.discount > Minor::ZERO {
        all.push(Reason::Discount);
        // A few cents short before it is the rounding of a price, no second
        // reason.
        if before_discount >= floor || alike(before_discount, floor, basis) {
            return all;
        }
    }
    let Some(record) = basis.constants.in_force(job.priced_on) else {
        all.push(Reason::NoListPrice);
        return all;
    };
    all.push(against_list(job, charged, floor, basis, record));
    all
}

fn against_list(
    job: &CoatedJob,
    charged: Minor,
    floor: Minor,
    basis: &Basis<'_>,
    record: &Record,
) -> Reason {
    let Some(list) = basis.rule.of(record, job) else {
        return Reason::NoListPrice;
    };
    let minimum = basis.rule.minimum;
    if without_tax(list, basis.money) < floor {
        return Reason::ListUnderFloor;
    }
    if let Some(finish) = finish_priced_as(job, charged, basis, record) {
        return Reason::PricedAsFinish(finish);
    }
    if let Some(class) = class_priced_as(job, charged, basis, record) {
        return Reason::PricedAsClass(class);
    }
    if job.full == Some(false) && minimum.is_some_and(|m| charged < m) {
        return Reason::UnderMinimum;
    }
    Reason::UnderList
}

/// Within one major unit: shops round prices.
fn alike(a: Minor, b: Minor, basis: &Basis<'_>) -> bool {
    (a - b).0.abs() <= basis.money.currency.scale()
}

fn finish_priced_as(
    job: &CoatedJob,
    charged: Minor,
    basis: &Basis<'_>,
    record: &Record,
) -> Option<String> {
    let names = basis.rule.names;
    let class = names.classes.name(job.class);
    let share = basis.rule.covered(Some(record), job)?;
    // A two-tone job may have been priced by the cheaper of its own finishes.
    let own = |f: &str| {
        let number = names.finishes.find(f);
        job.parts.len() == 1 && job.parts.iter().any(|p| Some(p.finish) == number)
    };
    let priced_alike = |f: &&String| {
        let full = basis
            .rule
            .full_price(record, class, std::iter::once(f.as_str()));
        let price = full.and_then(|p| Minor::nearest(p.as_f64() * share));
        price.is_some_and(|p| alike(p, charged, basis))
    };
    names
        .finishes
        .all()
        .iter()
        .filter(|f| !own(f))
        .find(priced_alike)
        .cloned()
}

fn class_priced_as(
    job: &CoatedJob,
    charged: Minor,
    basis: &Basis<'_>,
    record: &Record,
) -> Option<String> {
    let names = basis.rule.names;
    let own = names.classes.name(job.class);
    let own_area = basis.rule.full_area(Some(record), own)?;
    let share = basis.rule.covered(Some(record), job)?;
    let priced_alike = |c: &&String| {
        let smaller = basis
            .rule
            .full_area(Some(record), c)
            .is_some_and(|a| a < own_area);
        let finishes = job.parts.iter().map(|p| names.finishes.name(p.finish));
        let full = basis.rule.full_price(record, c, finishes);
        let price = full.and_then(|p| Minor::nearest(p.as_f64() * share));
        smaller && price.is_some_and(|p| alike(p, charged, basis))
    };
    names.classes.all().iter().find(priced_alike).cloned()
}
