//! What a coated job earns: contribution by component, margin, and whether
//! the month moved.

use super::certainty::{Change, LIKELY_LEVEL, LIMIT_LEVEL, Range, certainty};
use super::money::{Account, JobMoney};
use super::{FindError, Scope};
use crate::estimate::{Estimate, Figure, NotEnough};
use crate::fits::error::FitError;
use crate::fits::mean::Sample;
use crate::fits::ratio::Ratio;
use crate::measures::CoatedJob;
use crate::money::Minor;
use crate::settings::month::Month;
use serde::Serialize;
use std::collections::BTreeMap;

/// Level of the intervals that are shown.
pub const LEVEL: f64 = 0.95;

/// Margin per coated job in one month.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MarginMonth {
    /// The month.
    pub month: Month,
    /// Coated jobs whose money is known.
    pub jobs: u64,
    /// Contribution per coated job [minor units].
    pub per_job: Figure,
    /// Lower limit of the usual range for this many jobs [minor units].
    pub usual_low: Option<f64>,
    /// Upper limit of the usual range for this many jobs [minor units].
    pub usual_high: Option<f64>,
}

impl MarginMonth {
    /// True where the figure lies outside the usual range.
    pub fn is_outside(&self) -> bool {
        match (self.per_job.value(), self.usual_low, self.usual_high) {
            (Some(x), Some(low), Some(high)) => x < low || x > high,
            _ => false,
        }
    }
}

/// The section's findings.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Margin {
    /// Coated jobs of the month whose money is known.
    pub coated_jobs: u64,
    /// Coated jobs of the month without a price.
    pub without_price: u64,
    /// Coated jobs of the month with a price whose costs are not known.
    pub without_cost: u64,
    /// Jobs whose use is the expected one, for want of a measured one.
    pub use_estimated: u64,
    /// Jobs whose minutes are the expected ones.
    pub minutes_estimated: u64,
    /// Sums of the components over those jobs.
    pub total: JobMoney,
    /// Net price less all costs.
    pub contribution: Minor,
    /// Contribution / net price.
    pub rate: Figure,
    /// Contribution per coated job [minor units].
    pub per_job: Figure,
    /// Contribution per hands-on hour [minor units].
    pub per_hands_on_hour: Figure,
    /// Contribution per hour that the bay is taken [minor units].
    pub per_bay_hour: Figure,
    /// Months of the window, and the month before, earliest first.
    pub months: Vec<MarginMonth>,
    /// The month against the usual [minor units].
    pub change: Change,
    /// Discounts per coated job of each earlier month of the window that has
    /// one whose money is known, without tax [minor units].
    #[serde(skip)]
    pub discounts: Vec<f64>,
}

/// One coated job with its account, where its money is known.
#[derive(Debug, Clone, Copy)]
pub struct Accounted<'a> {
    /// The job.
    pub job: &'a CoatedJob,
    /// Its account.
    pub account: Option<&'a Account>,
}

pub(super) fn figure(found: Result<Estimate, FitError>) -> Result<Figure, FindError> {
    match found {
        Ok(e) => Ok(e.into()),
        Err(FitError::NotEnough(mut missing)) => {
            missing.of = "coated jobs whose money is known".into();
            Ok(missing.into())
        }
        Err(FitError::NoSpread { .. }) => {
            Ok(NotEnough::new(1, 2, "coated jobs that differ").into())
        }
        Err(other) => Err(other.into()),
    }
}

fn contributions<'a>(
    jobs: &'a [Accounted<'a>],
    keep: impl Fn(Month) -> bool + 'a,
) -> impl Iterator<Item = f64> + 'a {
    jobs.iter()
        .filter(move |j| keep(j.job.month))
        .filter_map(|j| j.account)
        .map(|a| a.money.contribution().as_f64())
}

/// Finds what coated jobs earned. `jobs`: those of the months in view;
/// `cure_hours`: how long the bay is taken after the work.
///
/// # Errors
/// The fit's complaint about a figure that is no number.
pub fn find(jobs: &[Accounted<'_>], cure_hours: f64, scope: &Scope) -> Result<Margin, FindError> {
    let now: Vec<_> = jobs
        .iter()
        .filter(|j| j.job.month == scope.month)
        .copied()
        .collect();
    let known: Vec<&Account> = now.iter().filter_map(|j| j.account).collect();
    let left: Vec<f64> = known
        .iter()
        .map(|a| a.money.contribution().as_f64())
        .collect();
    let over = |of: &dyn Fn(&Account) -> f64| {
        let of: Vec<f64> = known.iter().map(|a| of(a)).collect();
        ratio(&left, &of)
    };
    let total: JobMoney = known.iter().map(|a| a.money).sum();
    let without_price = now.iter().filter(|j| j.job.price.is_none()).count() as u64;
    let usual = Sample::of(contributions(jobs, |m| scope.is_usual(m)))?;
    let months = months(jobs, usual, scope)?;
    Ok(Margin {
        coated_jobs: known.len() as u64,
        without_price,
        without_cost: (now.len() - known.len()) as u64 - without_price,
        use_estimated: known.iter().filter(|a| a.use_estimated).count() as u64,
        minutes_estimated: known.iter().filter(|a| a.minutes_estimated).count() as u64,
        total,
        contribution: total.contribution(),
        rate: over(&|a| a.money.net_price.as_f64())?,
        per_job: figure(Sample::of(contributions(&now, |_| true))?.estimate(LEVEL))?,
        per_hands_on_hour: over(&|a| a.minutes / 60.0)?,
        per_bay_hour: over(&|a| a.minutes / 60.0 + cure_hours)?,
        change: change(jobs, usual, &months, scope)?,
        discounts: discounts(jobs, scope),
        months,
    })
}

/// What discounts took off a coated job in each earlier month, without tax.
fn discounts(jobs: &[Accounted<'_>], scope: &Scope) -> Vec<f64> {
    let mut months: BTreeMap<Month, (f64, u64)> = BTreeMap::new();
    let known = jobs.iter().filter(|j| j.account.is_some());
    for j in known.filter(|j| scope.is_usual(j.job.month)) {
        let (given, of) = months.entry(j.job.month).or_default();
        *given += discount(j).unwrap_or(0.0);
        *of += 1;
    }
    let a_job = |(given, of): (f64, u64)| given / of as f64;
    months.into_values().map(a_job).collect()
}

/// A job's discount, without tax as the price is.
fn discount(j: &Accounted<'_>) -> Option<f64> {
    let charged = (j.job.price? - j.job.discount).as_f64();
    let without_tax = j.account?.money.net_price.as_f64() / charged;
    (j.job.discount > Minor::ZERO && charged > 0.0).then_some(j.job.discount.as_f64() * without_tax)
}

/// Contributions over something of each job, as a ratio of totals.
pub(super) fn ratio(left: &[f64], of: &[f64]) -> Result<Figure, FindError> {
    figure(Ratio::of_signed_totals(left, of).and_then(|r| r.estimate(LEVEL)))
}

fn months(
    jobs: &[Accounted<'_>],
    usual: Sample,
    scope: &Scope,
) -> Result<Vec<MarginMonth>, FindError> {
    let first = jobs
        .iter()
        .map(|j| j.job.month)
        .min()
        .unwrap_or(scope.month);
    let mut all = Vec::new();
    let mut month = first.max(scope.window_from.min(scope.month.plus(-1)));
    while month <= scope.month {
        let sample = Sample::of(contributions(jobs, |m| m == month))?;
        let limits = usual.limits_for(sample.n, LIMIT_LEVEL).ok();
        all.push(MarginMonth {
            month,
            jobs: sample.n,
            per_job: figure(sample.estimate(LEVEL))?,
            usual_low: limits.map(|l| l.low),
            usual_high: limits.map(|l| l.high),
        });
        month = month.plus(1);
    }
    Ok(all)
}

fn change(
    jobs: &[Accounted<'_>],
    usual: Sample,
    months: &[MarginMonth],
    scope: &Scope,
) -> Result<Change, FindError> {
    let mean = |s: Sample| (s.n >= 2).then_some(s.mean);
    let now = Sample::of(contributions(jobs, |m| m == scope.month))?;
    let before = scope.month.plus(-1);
    let before = Sample::of(contributions(jobs, |m| m == before))?;
    let difference = now.less(&usual, LIKELY_LEVEL).ok();
    let month = months.last();
    let outside = month.is_some_and(MarginMonth::is_outside);
    let found = Change {
        before: mean(before),
        usual: mean(usual),
        difference,
        now: month.and_then(|m| m.per_job.known().copied()),
        range: month.and_then(|m| Range::of(m.usual_low, m.usual_high)),
        certainty: certainty(outside, difference.as_ref()),
    };
    Ok(found.of_jobs(now.n))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::money::{self, Expected, Rates, account};
    use crate::settings::shop::Money;

    fn job(month: &str, discount: i64) -> CoatedJob {
        CoatedJob {
            month: Month::parse(month).unwrap(),
            price: Some(Minor(22_000)),
            discount: Minor(discount),
            ..money::tests::job()
        }
    }

    /// By hand, 10 % tax in the prices: 22.00 off one of two jobs is 20.00
    /// without tax, 10.00 a job; 11.00 off the only one 10.00. The month
    /// reviewed, and a job whose money is not known, are no part of it.
    #[test]
    fn discounts_a_coated_job_of_the_earlier_months() {
        let money = Money {
            prices_include_tax: true,
            tax_rate: 0.1,
            ..Money::default()
        };
        let rates = Rates {
            per_ml: 290.0,
            wage: 2_700.0,
        };
        let months = ["2026-08", "2026-08", "2026-09", "2026-09", "2026-10"];
        let off = [2_200, 0, 1_100, 5_000, 9_000];
        let jobs: Vec<CoatedJob> = months.iter().zip(off).map(|(m, d)| job(m, d)).collect();
        let account = |job| account(job, None, Expected::default(), rates, &money);
        let accounts: Vec<_> = jobs.iter().map(account).collect();
        let mut jobs: Vec<Accounted<'_>> = (jobs.iter().zip(&accounts))
            .map(|(job, account)| Accounted {
                job,
                account: account.as_ref(),
            })
            .collect();
        jobs[3].account = None;
        let scope = Scope {
            month: Month::parse("2026-10").unwrap(),
            window_from: Month::parse("2026-01").unwrap(),
        };
        let found = discounts(&jobs, &scope);
        assert_eq!(found.len(), 2, "{found:?}");
        for x in found {
            assert!((x - 1_000.0).abs() < 0.1, "{x}");
        }
    }
}
