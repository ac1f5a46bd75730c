//! When jobs are finished: months of different volume, working days.

use super::draws::{Draws, Purpose};
use chrono::{Datelike, Days, Months, NaiveDate, Weekday};

/// Volume by month of the year, January first: spring and autumn are busy.
/// Invented.
const SEASON: [f64; 12] = [
    0.75, 0.80, 1.05, 1.20, 1.20, 1.10, 1.00, 0.95, 1.10, 1.15, 0.90, 0.75,
];
/// Sd of the log of a month's volume round its season.
const MONTH_SD: f64 = 0.08;

/// A stretch of days of one month and how many jobs are finished in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Month {
    /// First day.
    pub(super) first: NaiveDate,
    /// Last day.
    pub(super) last: NaiveDate,
    /// Jobs finished in it.
    pub(super) jobs: u64,
}

/// The months of a plan with `jobs` shared out among them.
pub(super) fn months(
    starts: NaiveDate,
    ends: NaiveDate,
    jobs: u64,
    draws: &mut Draws,
) -> Vec<Month> {
    let mut months = Vec::new();
    let mut first = starts;
    while first <= ends {
        let next = first
            .checked_add_months(Months::new(1))
            .unwrap_or(NaiveDate::MAX);
        let last = next.pred_opt().unwrap_or(ends).min(ends);
        months.push(Month {
            first,
            last,
            jobs: 0,
        });
        first = next;
    }
    let mut season = draws.of(Purpose::Season);
    let weights: Vec<f64> = months
        .iter()
        .map(|m| volume(m) * season.normal(MONTH_SD).exp())
        .collect();
    for (month, jobs) in months.iter_mut().zip(shared_out(jobs, &weights)) {
        month.jobs = jobs;
    }
    months
}

fn volume(month: &Month) -> f64 {
    let season = SEASON
        .get(month.first.month0() as usize)
        .copied()
        .unwrap_or(1.0);
    season * f64::from(month.last.day()) / 30.4
}

/// `total` in whole parts that follow `weights`, largest remainders first.
pub(super) fn shared_out(total: u64, weights: &[f64]) -> Vec<u64> {
    let sum: f64 = weights.iter().sum();
    let exact: Vec<f64> = weights.iter().map(|w| total as f64 * w / sum).collect();
    let mut parts: Vec<u64> = exact.iter().map(|x| x.floor() as u64).collect();
    let mut order: Vec<usize> = (0..parts.len()).collect();
    order.sort_by(|&a, &b| {
        exact[b]
            .fract()
            .total_cmp(&exact[a].fract())
            .then(a.cmp(&b))
    });
    let left = total.saturating_sub(parts.iter().sum());
    for &place in order.iter().cycle().take(left as usize) {
        parts[place] += 1;
    }
    parts
}

/// How much of a day's work is done on a weekday: Saturday is half a day.
fn weekday_weight(day: NaiveDate) -> f64 {
    match day.weekday() {
        Weekday::Sun => 0.0,
        Weekday::Sat => 0.5,
        _ => 1.0,
    }
}

/// Jobs finished on each day of a month, first day first.
pub(super) fn jobs_by_day(month: &Month, draws: &mut Draws) -> Vec<u64> {
    let days: Vec<NaiveDate> = month
        .first
        .iter_days()
        .take_while(|d| *d <= month.last)
        .collect();
    let mut weights: Vec<f64> = days.iter().map(|d| weekday_weight(*d)).collect();
    if weights.iter().sum::<f64>() <= 0.0 {
        weights.fill(1.0);
    }
    let places: Vec<usize> = (0..days.len()).collect();
    let mut counts = vec![0; days.len()];
    let mut stream = draws.of(Purpose::Day);
    for _ in 0..month.jobs {
        if let Some(place) = stream.one_of(&places, &weights) {
            counts[place] += 1;
        }
    }
    counts
}

/// The next day that is not a Sunday.
pub(super) fn next_working_day(day: NaiveDate) -> NaiveDate {
    let next = day.succ_opt().unwrap_or(day);
    match next.weekday() {
        Weekday::Sun => next.succ_opt().unwrap_or(next),
        _ => next,
    }
}

/// A day so many days later; the calendar's end where it runs out.
pub(super) fn later(day: NaiveDate, days: u64) -> NaiveDate {
    day.checked_add_days(Days::new(days))
        .unwrap_or(NaiveDate::MAX)
}

/// A day so many days earlier; the same day where the calendar runs out.
pub(super) fn earlier(day: NaiveDate, days: u64) -> NaiveDate {
    day.checked_sub_days(Days::new(days)).unwrap_or(day)
}

#[cfg(test)]
mod tests {
    use super::super::law::Residual;
    use super::super::plan::day;
    use super::*;

    #[test]
    fn parts_add_up_to_the_total() {
        assert_eq!(shared_out(10, &[1.0, 1.0, 1.0]), [4, 3, 3]);
        assert_eq!(shared_out(0, &[1.0, 2.0]), [0, 0]);
        assert_eq!(shared_out(7, &[0.0, 1.0]), [0, 7]);
    }

    #[test]
    fn all_jobs_fall_on_working_days_of_their_month() {
        let mut draws = Draws::new(5, 1, Residual::Normal).unwrap();
        let all = months(day(2026, 1, 1), day(2026, 3, 10), 1_000, &mut draws);
        assert_eq!(all.iter().map(|m| m.jobs).sum::<u64>(), 1_000);
        assert_eq!(all.last().map(|m| m.last), Some(day(2026, 3, 10)));
        for month in &all {
            let counts = jobs_by_day(month, &mut draws);
            assert_eq!(counts.iter().sum::<u64>(), month.jobs);
            for (date, n) in month.first.iter_days().zip(counts) {
                assert!(n == 0 || date.weekday() != Weekday::Sun);
            }
        }
    }

    #[test]
    fn a_month_that_is_one_sunday_still_takes_its_jobs() {
        let mut draws = Draws::new(5, 1, Residual::Normal).unwrap();
        let sunday = Month {
            first: day(2026, 11, 1),
            last: day(2026, 11, 1),
            jobs: 3,
        };
        assert_eq!(jobs_by_day(&sunday, &mut draws), [3]);
    }
}
