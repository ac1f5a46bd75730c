//! A calendar month.

use chrono::{Datelike, Days, NaiveDate};
use serde::{Serialize, Serializer};
use std::fmt;

/// A month of a year, in the proleptic Gregorian calendar.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Month {
    /// Months since year 0, so that months are added like numbers.
    index: i32,
}

impl Month {
    /// The month of a year; `None` where `month` is not 1 to 12.
    pub fn new(year: i32, month: u32) -> Option<Self> {
        let ok = (1..=12).contains(&month) && (1..=9999).contains(&year);
        ok.then(|| Self {
            index: year * 12 + month as i32 - 1,
        })
    }

    /// The month that holds a day.
    pub fn of(day: NaiveDate) -> Self {
        Self {
            index: day.year() * 12 + day.month0() as i32,
        }
    }

    /// Reads "2026-10".
    pub fn parse(text: &str) -> Option<Self> {
        let (year, month) = text.split_once('-')?;
        if year.len() != 4 || month.len() != 2 {
            return None;
        }
        Self::new(year.parse().ok()?, month.parse().ok()?)
    }

    /// Year.
    pub fn year(self) -> i32 {
        self.index.div_euclid(12)
    }

    /// Month of the year, 1 to 12.
    pub fn month(self) -> u32 {
        self.index.rem_euclid(12) as u32 + 1
    }

    /// `n` months later (earlier where negative).
    pub fn plus(self, n: i32) -> Self {
        Self {
            index: self.index.saturating_add(n),
        }
    }

    /// Its first day.
    pub fn first(self) -> NaiveDate {
        NaiveDate::from_ymd_opt(self.year(), self.month(), 1).unwrap_or(NaiveDate::MIN)
    }

    /// Its last day.
    pub fn last(self) -> NaiveDate {
        self.plus(1)
            .first()
            .checked_sub_days(Days::new(1))
            .unwrap_or(NaiveDate::MAX)
    }
}

impl fmt::Display for Month {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}", self.year(), self.month())
    }
}

impl Serialize for Month {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn months_add_over_years_and_know_their_days() {
        let m = Month::parse("2026-10").unwrap();
        assert_eq!(m.plus(3).to_string(), "2027-01");
        assert_eq!(m.plus(-10).to_string(), "2025-12");
        assert_eq!(
            Month::parse("2024-02").unwrap().last().to_string(),
            "2024-02-29"
        );
        assert_eq!(Month::of(m.last()), m);
    }

    #[test]
    fn what_is_no_month_is_refused() {
        for bad in [
            "2026-13", "2026-00", "2026", "26-10", "2026-1", "october", "",
        ] {
            assert_eq!(Month::parse(bad), None, "{bad}");
        }
    }
}
