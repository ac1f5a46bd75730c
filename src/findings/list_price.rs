//! The list price of a job, by the contract's rule.

use crate::measures::{CoatedJob, Measures};
use crate::money::{Currency, Minor};
use crate::settings::constants::Record;
use std::collections::BTreeMap;

/// Where coverage is not recorded, a job of at least this share of a full
/// one's area counts as full: areas of full jobs of one class differ by some
/// percent. Common practice, no published source.
pub const NEARLY_FULL: f64 = 0.9;

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

    /// Share of a full job that a job is.
    pub fn covered(&self, record: Option<&Record>, job: &CoatedJob) -> Option<f64> {
        let class = self.names.classes.name(job.class);
        let area = Some(job.area()).filter(|a| *a > 0.0);
        self.covered_by(record, class, job.full, area)
    }

    /// Share of a full job of a class: 1 where it is known to be full. Where
    /// coverage is not recorded it is no more known to be full than to be
    /// partial, so the area decides, as it does for the minutes.
    pub fn covered_by(
        &self,
        record: Option<&Record>,
        class: &str,
        is_full: Option<bool>,
        area: Option<f64>,
    ) -> Option<f64> {
        if is_full == Some(true) {
            return Some(1.0);
        }
        let full = self.full_area(record, class).filter(|f| *f > 0.0)?;
        let share = (area? / full).min(1.0);
        let nearly = is_full.is_none() && share >= NEARLY_FULL;
        Some(if nearly { 1.0 } else { share })
    }

    /// A full job's price in the share `covered` of it, never under the
    /// minimum; all of it where it is the whole.
    pub fn part_of(&self, full: Minor, covered: f64) -> Option<Minor> {
        if covered >= 1.0 {
            return Some(full);
        }
        let part = Minor::nearest(full.as_f64() * covered)?;
        Some(self.minimum.map_or(part, |m| part.max(m)))
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
    /// `None` where the list or the job's share is not known.
    pub fn of(&self, record: &Record, job: &CoatedJob) -> Option<Minor> {
        let class = self.names.classes.name(job.class);
        let finishes = job.parts.iter();
        let finishes = finishes.map(|p| self.names.finishes.name(p.finish));
        let full = self.full_price(record, class, finishes)?;
        self.part_of(full, self.covered(Some(record), job)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::shop::Money;

    /// Of a class of 20 m²: full is full whatever its area, partial goes by
    /// its area, and what nobody wrote down goes by its area too, full from
    /// nine tenths on; without an area its share is not known.
    #[test]
    fn coverage_that_is_not_recorded_goes_by_the_area() {
        let names = Measures::default();
        let money = Money::default();
        let areas = BTreeMap::from([("suv".to_string(), 20.0)]);
        let rule = Rule {
            names: &names,
            full_area: &areas,
            minimum: Some(Minor(6_000)),
            currency: &money.currency,
        };
        let covered = |full, area| rule.covered_by(None, "suv", full, area);
        assert_eq!(covered(Some(true), Some(5.0)), Some(1.0));
        assert_eq!(covered(Some(true), None), Some(1.0));
        assert_eq!(covered(Some(false), Some(19.0)), Some(0.95));
        assert_eq!(covered(Some(false), Some(30.0)), Some(1.0));
        assert_eq!(covered(Some(false), None), None);
        assert_eq!(covered(None, Some(5.0)), Some(0.25));
        assert_eq!(covered(None, Some(18.1)), Some(1.0));
        assert_eq!(covered(None, None), None);
        assert_eq!(rule.covered_by(None, "van", None, Some(5.0)), None);
        assert_eq!(rule.part_of(Minor(30_000), 0.25), Some(Minor(7_500)));
        assert_eq!(rule.part_of(Minor(30_000), 0.1), Some(Minor(6_000)));
    }
}
