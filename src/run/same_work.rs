//! The month's use and minutes against the usual for the same work.

use super::estimates::{self, Basis, Time, Use};
use super::find::allow;
use crate::estimate::NotEnough;
use crate::findings::same_work;
use crate::findings::{FindError, Missing, Prices, consumption, minutes};
use crate::measures::CoatedJob;
use crate::settings::month::Month;
use crate::settings::shop::Shop;

pub(super) fn consumption(
    b: &Basis<'_>,
    used: Result<&Use, &Missing>,
    prices: &Prices,
) -> Result<Result<consumption::Consumption, Missing>, FindError> {
    let used = match used {
        Ok(x) => x,
        Err(why) => return Ok(Err(why.clone())),
    };
    if b.measures.coated.is_empty() {
        return Ok(Err(Missing::TooFew(NotEnough::new(0, 1, "coated jobs"))));
    }
    let usual = estimates::fit_use(b, false, |x| b.scope.is_usual(x))?;
    let pairs = usual.pairs(b);
    let rate = |month: Month| {
        let jobs = b.measures.coated.iter().filter(|j| j.month == month);
        let known = jobs.filter_map(|j| Some((j.used?, j.area())));
        let (ml, m2) = known.fold((0.0, 0.0), |(u, a), (used, area)| (u + used, a + area));
        (m2 > 0.0).then(|| ml / m2)
    };
    let month = || {
        b.measures
            .coated
            .iter()
            .filter(|j| j.month == b.scope.month)
    };
    let area: f64 = month()
        .filter(|j| j.used.is_some())
        .map(CoatedJob::area)
        .sum();
    let usual_jobs = usual.fit.record.rows_used as u64;
    let now = consumption::Now {
        per_m2: rate(b.scope.month),
        jobs: month().filter(|j| j.used.is_some()).count() as u64,
        change: same_work::of_totals(&pairs, area, rate(b.scope.month.plus(-1)), usual_jobs)
            .of_jobs(month().filter(|j| j.used.is_some()).count() as u64),
    };
    let fitted = used.fitted(b);
    Ok(Ok(consumption::find(
        fitted,
        b.record,
        prices.per_ml_used,
        now,
    )))
}

pub(super) fn minutes(
    b: &Basis<'_>,
    time: Result<&Time, &Missing>,
    prices: &Prices,
    shop: &Shop,
) -> Result<Result<minutes::Minutes, Missing>, FindError> {
    let time = match time {
        Ok(x) => x,
        Err(why) => return Ok(Err(why.clone())),
    };
    let mean = |month: Month| {
        let jobs = b.measures.coated.iter().filter(|j| j.month == month);
        let known: Vec<f64> = jobs.filter_map(|j| j.minutes).collect();
        (!known.is_empty()).then(|| known.iter().sum::<f64>() / known.len() as f64)
    };
    let month = b
        .measures
        .coated
        .iter()
        .filter(|j| j.month == b.scope.month);
    let jobs = month.filter(|j| j.minutes.is_some()).count() as u64;
    let usual = allow(estimates::usual_time(b, |x| b.scope.is_usual(x)))?;
    let (pairs, usual_jobs) = usual.map_or((Vec::new(), 0), |u| {
        (u.pairs(b), u.fit.record.rows_used as u64)
    });
    let now = mean(b.scope.month);
    let before = mean(b.scope.month.plus(-1));
    let now = minutes::Now {
        mean: now,
        jobs,
        change: same_work::of_factors(&pairs, now, before, usual_jobs)?.of_jobs(jobs),
    };
    let per_minute = prices.wage.map(|w| w * shop.money.labour_loading / 60.0);
    Ok(Ok(minutes::find(time.fitted(b), b.record, per_minute, now)))
}
