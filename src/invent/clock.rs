//! Times of day as whole minutes, for work that is scheduled.

use chrono::{Datelike, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta};

/// Minutes since the first day of the common era.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Minute(pub(super) i64);

const DAY: i64 = 24 * 60;

impl Minute {
    /// Minutes after midnight of a day.
    pub(super) fn of(day: NaiveDate, minutes: i64) -> Self {
        Self(i64::from(day.num_days_from_ce()) * DAY + minutes)
    }

    /// So many minutes later.
    pub(super) const fn after(self, minutes: i64) -> Self {
        Self(self.0 + minutes)
    }

    /// Minutes after midnight.
    pub(super) const fn of_day(self) -> i64 {
        self.0.rem_euclid(DAY)
    }

    /// Its day.
    pub(super) fn day(self) -> NaiveDate {
        let days = i32::try_from(self.0.div_euclid(DAY)).unwrap_or(i32::MAX);
        NaiveDate::from_num_days_from_ce_opt(days).unwrap_or(NaiveDate::MAX)
    }

    /// As date and time.
    pub(super) fn moment(self) -> NaiveDateTime {
        let start = self.day().and_time(NaiveTime::MIN);
        start
            .checked_add_signed(TimeDelta::minutes(self.of_day()))
            .unwrap_or(start)
    }
}

#[cfg(test)]
mod tests {
    use super::super::plan::day;
    use super::*;

    #[test]
    fn a_minute_knows_its_day_and_time() {
        let m = Minute::of(day(2026, 10, 31), 9 * 60 + 5).after(DAY);
        assert_eq!(m.day(), day(2026, 11, 1));
        assert_eq!(m.of_day(), 545);
        assert_eq!(m.moment().to_string(), "2026-11-01 09:05:00");
    }
}
