//! The list price of a job, by the contract's rule.

use crate::measures::{CoatedJob, Measures};
use crate::money::{Currency, Minor};
use crate::settings::constants::Record;
use std::collections::BTreeMap;

/// What the rule needs beside a record: the shop's own figures.
#[derive(Debug, Clone)]
pub struct Rule<'a> {
    /// Names behind the numbers of classes and finishes.
    pub names: &'a Measures,
    /// Median area of full jobs, by class [m²]; stands in where the record has
    /// none.
    pub full_area: &'a BTreeMap<String, f64>,
    /// No partial job's list price falls under this.
    pub minimum: Option<Minor>,
    /// The shop's currency.
    pub currency: &'a Currency,
}

impl Rule<'_> {
    /// Area of a full job of a class [m²].
    pub fn full_area(&self, record: Option<&Record>, class: &str) -> Option<f64> {
        let listed = record.and_then(|r| r.full_area.get(class));
        listed.or_else(|| self.full_area.get(class)).copied()
    }

    /// Share of a full job that a job is: 1 for a full one.
    pub fn covered(&self, record: Option<&Record>, job: &CoatedJob) -> Option<f64> {
        if job.full != Some(false) {
            return Some(1.0);
        }
        let full = self.full_area(record, self.names.classes.name(job.class))?;
        (full > 0.0 && job.area() > 0.0).then(|| (job.area() / full).min(1.0))
    }

    /// List price of a full job of a class on the dearest of some finishes.
    pub fn full_price<'f>(
        &self,
        record: &Record,
        class: &str,
        finishes: impl Iterator<Item = &'f str>,
    ) -> Option<Minor> {
        let prices = finishes.filter_map(|f| record.list_price_of(class, f));
        let dearest = prices.fold(None, |best: Option<f64>, p| {
            Some(best.map_or(p, |b| b.max(p)))
        })?;
        self.currency.minor(dearest)
    }

    /// List price of a job: the full one, or its covered share of it and never
    /// under the minimum; a two-tone job takes the dearer of its finishes.
    pub fn of(&self, record: &Record, job: &CoatedJob) -> Option<Minor> {
        let class = self.names.classes.name(job.class);
        let finishes = job.parts.iter();
        let finishes = finishes.map(|p| self.names.finishes.name(p.finish));
        let full = self.full_price(record, class, finishes)?;
        if job.full != Some(false) {
            return Some(full);
        }
        let share = self.covered(Some(record), job)?;
        let part = Minor::nearest(full.as_f64() * share)?;
        Some(self.minimum.map_or(part, |m| part.max(m)))
    }
}
