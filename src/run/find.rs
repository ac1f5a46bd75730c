//! Tables and fits become findings.

use super::Error;
use super::constants;
use super::estimates::{self, Basis, Columns, Time, Use};
use super::look_back::LookBack;
use super::money::{Money, accounts};
use super::price;
use super::price_list::Costs;
use super::prices::{prices, rates};
use super::read::Folder;
use super::sales;
use super::same_work;
use super::{bottles, pace, shops, workmanship};
use crate::estimate::NotEnough;
use crate::findings::durability::Durability;
use crate::findings::groups::Groups;
use crate::findings::list_price::Rule;
use crate::findings::money::{Account, Expected, Rates};
use crate::findings::workspace::Workspace;
use crate::findings::{
    FindError, Findings, Missing, Prices, attach, coating_cost, durability, groups, noticed,
};
use crate::fits::error::FitError;
use crate::measures::Measures;
use crate::settings::month::Month;
use crate::settings::shop::{Money as MoneySettings, Shop};
use crate::threads::joined;
use chrono::{Days, NaiveDate};
use std::collections::BTreeMap;

/// What several sections rest on.
struct Fitted {
    used: Result<Use, Missing>,
    time: Result<Time, Missing>,
    prices: Prices,
    rates: Result<Rates, Missing>,
    /// What every coated job is expected to take, in their order.
    expected: Vec<Expected>,
    /// Its money, in the same order.
    accounts: Vec<Option<Account>>,
}

impl Fitted {
    fn of(basis: &Basis<'_>, shop: &Shop) -> Result<Self, FindError> {
        let in_window = |x| basis.scope.in_window(x);
        let used = allow(estimates::fit_use(basis, true, in_window))?;
        let time = allow(estimates::fit_time(basis, in_window))?;
        let prices = prices(basis.measures, basis.scope, basis.record, shop);
        let expected = estimates::expected(basis, used.as_ref().ok(), time.as_ref().ok());
        let rates = rates(&prices);
        Ok(Self {
            accounts: accounts(basis.measures, shop, &expected, &rates),
            used,
            time,
            prices,
            rates,
            expected,
        })
    }

    fn costs<'a>(
        &'a self,
        basis: &'a Basis<'a>,
        money: &'a MoneySettings,
        rule: &'a Rule<'a>,
        reserve: f64,
    ) -> Costs<'a> {
        Costs {
            basis,
            used: self.used.as_ref().ok(),
            time: self.time.as_ref().ok(),
            prices: &self.prices,
            money,
            rule,
            reserve,
        }
    }
}

/// What rests on the tables of counts alone, without any other fit.
struct Counted {
    groups: Groups,
    workspace: Result<Workspace, Missing>,
    durability: Result<Durability, Missing>,
}

impl Counted {
    fn of(folder: &Folder) -> Result<Self, FindError> {
        let m = &folder.measured;
        Ok(Self {
            groups: groups::find(&m.offers)?,
            durability: durability::find(&m.film_lives, &m.film_faces, data_until(folder))?,
            workspace: workmanship::workspace(m, &folder.scope, &folder.shop)?,
        })
    }
}

fn last_day(folder: &Folder) -> NaiveDate {
    folder.span.map_or(NaiveDate::MIN, |s| s.last)
}

/// The day up to which the data go.
fn data_until(folder: &Folder) -> NaiveDate {
    let set = folder.shop.review.data_until;
    set.unwrap_or_else(|| last_day(folder))
}

/// Makes the findings of a month. `history`, the folder's, goes as soon as all
/// is found that rests on it, which is done beside the rest.
pub(super) fn find(folder: &Folder, history: Measures) -> Result<Findings, Error> {
    let full_area = full_area(&folder.measured);
    std::thread::scope(|threads| {
        let counted = threads.spawn(|| Counted::of(folder));
        let looked_back = threads.spawn(|| LookBack::of(folder, history, &full_area));
        let columns = Columns::of(&folder.measured);
        let basis = Basis {
            measures: &folder.measured,
            columns: &columns,
            scope: &folder.scope,
            record: folder.constants.in_force(folder.scope.month.last()),
            review: &folder.shop.review,
            full_area: &full_area,
        };
        let fits = Fitted::of(&basis, &folder.shop)?;
        all(
            folder,
            basis,
            &fits,
            || joined(looked_back),
            || joined(counted),
        )
    })
}

/// The findings of a month, those that rest on counts alone or on the months
/// before handed in: one line a section, so it is long.
fn all(
    folder: &Folder,
    basis: Basis<'_>,
    fits: &Fitted,
    looked_back: impl FnOnce() -> Result<LookBack, FindError>,
    counted: impl FnOnce() -> Result<Counted, FindError>,
) -> Result<Findings, Error> {
    let (m, scope, shop) = (&folder.measured, &folder.scope, &folder.shop);
    let last = last_day(folder);
    let data_until = data_until(folder);
    let unfinished = unfinished(scope.month, data_until);
    let (used, time) = (fits.used.as_ref(), fits.time.as_ref());
    let rule = rule(m, shop, basis.full_area);
    let reserve = sales::reserve(m, &fits.accounts, &fits.rates, scope)?;
    let money = Money {
        measures: m,
        scope,
        shop,
        constants: &folder.constants,
        rule: &rule,
        expected: &fits.expected,
        accounts: &fits.accounts,
        reserve: reserve.as_ref().map_or(0.0, |r| r.in_floor),
        rates: fits.rates.clone(),
    };
    let costs = fits.costs(&basis, &shop.money, &rule, money.reserve);
    let per_ml = fits.prices.per_ml_used;
    let worth = pace::Prices {
        wage: fits.prices.wage,
        loading: shop.money.labour_loading,
        per_ml,
    };
    let reviewed = bottles::Reviewed {
        unfinished,
        is_latest: Month::of(last) <= scope.month,
    };
    // What the longest of them leave idle of the cores, the others take.
    std::thread::scope(|threads| {
        let paces = threads.spawn(|| pace::pace(&basis, &fits.expected, time, worth));
        let shops = threads.spawn(|| shops::shops(&basis, used.ok(), time.ok()));
        let callbacks = threads
            .spawn(|| workmanship::callbacks(m, scope, shop, fits.rates.as_ref().ok().copied()));
        let bottles =
            threads.spawn(|| bottles::bottles(&basis, used.ok(), &fits.expected, per_ml, reviewed));
        let Counted {
            groups,
            workspace,
            durability,
        } = counted()?;
        let price = price::price(&money, &costs)?;
        let price_list = money.price_list(&costs, &price);
        let (margin, margin_groups) = (money.margin()?, money.margin_groups()?);
        let (floor, moved) = (money.floor(), money.moved());
        let LookBack {
            backtest,
            use_change,
        } = looked_back()?;
        let fitted = constants::Fitted {
            used,
            time,
            expected: &fits.expected,
        };
        Ok(Findings {
            scope: *scope,
            data_until,
            unfinished,
            record: basis.record.cloned(),
            attach: attach::find(&m.months, scope)?,
            noticed: noticed::find(odd(folder), m, &groups, scope),
            groups,
            price_list,
            price,
            margin,
            margin_groups,
            earned_before: money.earned(scope.month.plus(-1)),
            restated: None,
            floor,
            moved,
            use_change,
            consumption: same_work::consumption(&basis, used, &fits.prices)?,
            minutes: same_work::minutes(&basis, time, &fits.prices, shop)?,
            coating_cost: coating_cost::find(&opened(folder)),
            pace: joined(paces)?,
            shops: joined(shops)?,
            bottles: joined(bottles)?,
            callbacks: joined(callbacks)?,
            workspace,
            durability,
            reserve,
            prices: fits.prices.clone(),
            constants: constants::recalibration(&basis, fitted, &fits.prices, backtest, folder)?,
        })
    })
}

/// Area of a full job by class, as the jobs say [m²].
pub(super) fn full_area(m: &Measures) -> BTreeMap<String, f64> {
    let classes = m.full_area.iter();
    classes.map(|f| (f.class.clone(), f.area)).collect()
}

fn rule<'a>(m: &'a Measures, shop: &'a Shop, full_area: &'a BTreeMap<String, f64>) -> Rule<'a> {
    let currency = &shop.money.currency;
    Rule {
        names: m,
        full_area,
        minimum: (shop.money.minimum_price).and_then(|x| currency.minor(x)),
        currency,
    }
}

/// What is odd in the exports, by code.
fn odd(folder: &Folder) -> BTreeMap<&'static str, u64> {
    let counts = folder.odd.counts.iter();
    counts.map(|(o, n)| (o.code(), *n)).collect()
}

/// Bottles opened in the window.
fn opened(folder: &Folder) -> Vec<&crate::measures::BottleCost> {
    let bottles = folder.measured.bottles.iter();
    bottles
        .filter(|b| folder.scope.in_window(b.month))
        .collect()
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
