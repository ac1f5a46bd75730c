//! Tables and fits become findings.

use super::Error;
use super::backtest::Past;
use super::constants;
use super::estimates::{self, Basis};
use super::price_list::Costs;
use super::sales;
use super::{bottles, pace, workmanship};
use crate::estimate::{Figure, NotEnough};
use crate::findings::floor::{self, Floor};
use crate::findings::list_price::Rule;
use crate::findings::margin::{self, Accounted, Margin};
use crate::findings::money::{Account, Expected, Rates, account};
use crate::findings::same_work;
use crate::findings::{
    FindError, Findings, Lacking, Missing, Prices, Scope, Source, attach, coating_cost,
    consumption, durability, groups, minutes,
};
use crate::fits::error::FitError;
use crate::fits::ratio::{self, Ratio};
use crate::measures::{CoatedJob, Measures, Span};
use crate::settings::constants::{Constants, Record};
use crate::settings::month::Month;
use crate::settings::shop::Shop;
use chrono::{Days, NaiveDate};
use std::collections::BTreeMap;

/// Makes the findings of a month.
pub(super) fn find(
    m: &Measures,
    scope: &Scope,
    span: Option<Span>,
    shop: &Shop,
    constants: &Constants,
    history: &Measures,
) -> Result<Findings, Error> {
    let last = span.map_or(NaiveDate::MIN, |s| s.last);
    let data_until = shop.review.data_until.unwrap_or(last);
    let record = constants.in_force(scope.month.last());
    let full_area: BTreeMap<String, f64> = (m.full_area.iter())
        .map(|f| (f.class.clone(), f.area))
        .collect();
    let basis = Basis {
        measures: m,
        scope,
        record,
        review: &shop.review,
        full_area: &full_area,
    };
    let used = allow(estimates::fit_use(&basis, true, |x| scope.in_window(x)))?;
    let time = allow(estimates::fit_time(&basis, true, |x| scope.in_window(x)))?;
    let prices = prices(m, scope, record, shop)?;
    let expected = estimates::expected(&basis, used.as_ref().ok(), time.as_ref().ok());
    let rule = Rule {
        names: m,
        full_area: &full_area,
        minimum: (shop.money.minimum_price).and_then(|x| shop.money.currency.minor(x)),
        currency: &shop.money.currency,
    };
    let found_bottles = bottles::bottles(
        &basis,
        used.as_ref().ok(),
        &expected,
        prices.per_ml_used,
        unfinished(scope.month, data_until),
    )?;
    let found_pace = pace::pace(&basis, used.as_ref().ok(), time.as_ref())?;
    let rates = rates(&prices);
    let per_unit = rates.as_ref().ok().copied();
    let accounts = accounts(m, shop, &expected, &rates);
    let reserve = sales::reserve(m, &accounts, &rates, scope)?;
    let money = Money {
        measures: m,
        scope,
        shop,
        constants,
        rule: &rule,
        expected: &expected,
        accounts: &accounts,
        reserve: reserve.as_ref().map_or(0.0, |r| r.in_floor),
        rates,
    };
    let costs = Costs {
        basis: &basis,
        used: used.as_ref().ok(),
        time: time.as_ref().ok(),
        prices: &prices,
        money: &shop.money,
        rule: &rule,
        reserve: money.reserve,
    };
    let price_list = money.price_list(&costs);
    let past = Past {
        measures: history,
        shop,
        constants,
        full_area: &full_area,
        first: span.map_or(scope.window_from, |s| Month::of(s.first)),
    };
    let recalibration =
        constants::recalibration(&basis, used.as_ref(), time.as_ref(), &prices, past)?;
    let opened: Vec<_> = m
        .bottles
        .iter()
        .filter(|b| scope.in_window(b.month))
        .collect();
    Ok(Findings {
        scope: *scope,
        data_until,
        unfinished: unfinished(scope.month, data_until),
        record: record.cloned(),
        attach: attach::find(&m.months, scope)?,
        groups: groups::find(&m.offers)?,
        margin: money.margin()?,
        margin_groups: money.margin_groups()?,
        earned_before: money.earned(scope.month.plus(-1)),
        restated: None,
        floor: money.floor(),
        moved: money.moved(),
        price_list,
        reserve,
        consumption: consumption(&basis, used, &prices)?,
        minutes: minutes(&basis, time, &prices, shop)?,
        constants: recalibration,
        coating_cost: coating_cost::find(&opened).map_err(FindError::from)?,
        pace: found_pace,
        bottles: found_bottles,
        callbacks: workmanship::callbacks(m, scope, shop, per_unit)?,
        workspace: workmanship::workspace(m, scope, shop)?,
        durability: durability::find(&m.film_lives, &m.film_faces, data_until)?,
        prices,
    })
}

/// Too little data is an outcome, not an error.
pub(super) fn allow<T>(found: Result<T, FitError>) -> Result<Result<T, Missing>, FindError> {
    match found {
        Ok(x) => Ok(Ok(x)),
        Err(FitError::NotEnough(n)) => Ok(Err(Missing::TooFew(n))),
        Err(FitError::NoSpread { what }) => Ok(Err(Missing::TooFew(NotEnough::new(
            1,
            2,
            format!("{what} that differ"),
        )))),
        Err(other) => Err(other.into()),
    }
}

/// True where the data end before the month's last week.
fn unfinished(month: Month, data_until: NaiveDate) -> bool {
    let week = Days::new(7);
    month
        .last()
        .checked_sub_days(week)
        .is_some_and(|day| data_until <= day)
}

pub(super) fn prices(
    m: &Measures,
    scope: &Scope,
    record: Option<&Record>,
    shop: &Shop,
) -> Result<Prices, FindError> {
    let bottles: Vec<_> = m
        .bottles
        .iter()
        .filter(|b| scope.in_window(b.month))
        .collect();
    let cost: Vec<f64> = bottles.iter().map(|b| b.cost.as_f64()).collect();
    let volume: Vec<f64> = bottles.iter().map(|b| b.volume).collect();
    let left: Vec<f64> = bottles.iter().map(|b| b.left_over.min(b.volume)).collect();
    let per_ml = match ratio::cost_per_ml(&cost, &volume, &left, margin::LEVEL) {
        Ok(e) => Figure::Known(e),
        Err(FitError::NotEnough(n)) => {
            NotEnough::new(n.have, n.need, "bottles with volume and cost").into()
        }
        Err(other) => return Err(other.into()),
    };
    let used: Vec<f64> = volume.iter().zip(&left).map(|(v, l)| v - l).collect();
    let from_bottles = Ratio::of_totals(&cost, &used).ok().map(|r| r.value);
    let scale = shop.money.currency.scale() as f64;
    let in_force = record.and_then(|r| r.cost_per_ml).map(|x| x * scale);
    let on_list = mean_wage(m, scope);
    let wage_in_force = record.and_then(|r| r.hourly_cost).map(|x| x * scale);
    Ok(Prices {
        per_ml,
        per_ml_used: from_bottles.or(in_force),
        per_ml_from: source(from_bottles, in_force),
        per_ml_in_force: in_force,
        bottles: bottles.len() as u64,
        wage: on_list.or(wage_in_force),
        wage_from: source(on_list, wage_in_force),
    })
}

fn source(data: Option<f64>, constants: Option<f64>) -> Source {
    match (data, constants) {
        (Some(_), _) => Source::Data,
        (None, Some(_)) => Source::Constants,
        (None, None) => Source::Nowhere,
    }
}

/// Mean wage of those who applied the coating, by jobs; of everyone on the
/// list where no job names its person.
fn mean_wage(m: &Measures, scope: &Scope) -> Option<f64> {
    let of_job = |j: &CoatedJob| m.wages.get(m.people.get(j.person? as usize)?);
    let window = m.coated.iter().filter(|j| scope.in_window(j.month));
    let by_jobs: Vec<f64> = (window.filter_map(of_job)).map(|w| w.as_f64()).collect();
    let listed: Vec<f64> = m.wages.values().map(|w| w.as_f64()).collect();
    let mean = |x: &[f64]| (!x.is_empty()).then(|| x.iter().sum::<f64>() / x.len() as f64);
    mean(&by_jobs).or_else(|| mean(&listed))
}

pub(super) fn rates(p: &Prices) -> Result<Rates, Missing> {
    let per_ml = p
        .per_ml_used
        .ok_or(Missing::NoPrice(Lacking::CoatingCost))?;
    let wage = p.wage.ok_or(Missing::NoPrice(Lacking::Wage))?;
    Ok(Rates { per_ml, wage })
}

/// The account of every coated job in view, in their order.
pub(super) fn accounts(
    m: &Measures,
    shop: &Shop,
    expected: &[Expected],
    rates: &Result<Rates, Missing>,
) -> Vec<Option<Account>> {
    let wage = |j: &CoatedJob| m.wages.get(m.people.get(j.person? as usize)?).copied();
    let one = |(job, expected): (&CoatedJob, &Expected)| {
        let rates = *rates.as_ref().ok()?;
        account(job, wage(job), *expected, rates, &shop.money)
    };
    m.coated.iter().zip(expected).map(one).collect()
}

/// What the money sections rest on.
pub(super) struct Money<'a> {
    pub(super) measures: &'a Measures,
    pub(super) scope: &'a Scope,
    pub(super) shop: &'a Shop,
    pub(super) constants: &'a Constants,
    pub(super) rule: &'a Rule<'a>,
    pub(super) expected: &'a [Expected],
    /// Of every coated job in view; none where a price is missing.
    pub(super) accounts: &'a [Option<Account>],
    /// Set aside for callbacks, per coated job [minor units].
    pub(super) reserve: f64,
    pub(super) rates: Result<Rates, Missing>,
}

impl Money<'_> {
    fn jobs(&self) -> impl Iterator<Item = (&CoatedJob, Expected)> {
        self.measures
            .coated
            .iter()
            .zip(self.expected.iter().copied())
    }

    pub(super) fn none_coated(&self) -> Option<Missing> {
        let month = self.measures.coated.iter();
        let none = !month.map(|j| j.month).any(|x| x == self.scope.month);
        none.then(|| Missing::TooFew(NotEnough::new(0, 1, "coated jobs this month")))
    }

    fn margin(&self) -> Result<Result<Margin, Missing>, FindError> {
        match (&self.rates, self.none_coated()) {
            (_, Some(none)) => return Ok(Err(none)),
            (Err(lacking), _) => return Ok(Err(lacking.clone())),
            (Ok(_), None) => {}
        }
        let jobs: Vec<Accounted<'_>> = (self.measures.coated.iter().zip(self.accounts))
            .map(|(job, account)| Accounted {
                job,
                account: *account,
            })
            .collect();
        let cure = self.shop.workspace.release_hours;
        margin::find(&jobs, cure, self.scope).map(Ok)
    }

    pub(super) fn floor_basis(&self, rates: Rates) -> floor::Basis<'_> {
        floor::Basis {
            rates: Some(rates),
            money: &self.shop.money,
            constants: self.constants,
            rule: self.rule,
            reserve: self.reserve,
        }
    }

    fn floor(&self) -> Result<Floor, Missing> {
        if let Some(none) = self.none_coated() {
            return Err(none);
        }
        let basis = self.floor_basis(self.rates.clone()?);
        let month = self.jobs().filter(|(j, _)| j.month == self.scope.month);
        Ok(floor::find(month, &basis))
    }
}

fn consumption(
    b: &Basis<'_>,
    used: Result<estimates::Use, Missing>,
    prices: &Prices,
) -> Result<Result<consumption::Consumption, Missing>, FindError> {
    let used = match used {
        Ok(x) => x,
        Err(why) => return Ok(Err(why)),
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

fn minutes(
    b: &Basis<'_>,
    time: Result<estimates::Time, Missing>,
    prices: &Prices,
    shop: &Shop,
) -> Result<Result<minutes::Minutes, Missing>, FindError> {
    let time = match time {
        Ok(x) => x,
        Err(why) => return Ok(Err(why)),
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
    let usual = allow(estimates::fit_time(b, false, |x| b.scope.is_usual(x)))?;
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
