//! What quotes assumed beside what happened, and the price list against what
//! the work takes.

use super::money::Money;
use super::price_list::Costs;
use crate::findings::bridge::{self, Dated, JobBridge, Moved, Standard};
use crate::findings::floor::SoldJob;
use crate::findings::margin::Accounted;
use crate::findings::margin_groups::{self, MarginGroups, Sold};
use crate::findings::money::{Account, JobMoney, Rates};
use crate::findings::price::Price;
use crate::findings::price_list::{self, PriceList};
use crate::findings::reserve::{self, Came, Reserve};
use crate::findings::restated::Earned;
use crate::findings::{FindError, Lacking, Missing, Scope};
use crate::measures::{CoatedJob, Measures};
use crate::settings::month::Month;

/// A month's jobs in a bridge, and those that could not be.
#[derive(Debug, Default)]
struct Bridged {
    jobs: Vec<Dated>,
    without_money: u64,
    without_standard: u64,
}

/// What to set aside for callbacks.
pub(super) fn reserve(
    m: &Measures,
    accounts: &[Option<Account>],
    rates: &Result<Rates, Missing>,
    scope: &Scope,
) -> Result<Result<Reserve, Missing>, FindError> {
    if let Err(lacking) = rates {
        return Ok(Err(lacking.clone()));
    }
    let came = |(job, account): (&CoatedJob, &Option<Account>)| {
        Some(Came {
            month: job.month,
            back: job.came_back(),
            cost: account.as_ref()?.money.callbacks,
        })
    };
    let jobs: Vec<Came> = m.coated.iter().zip(accounts).filter_map(came).collect();
    reserve::find(&jobs, scope).map(Ok)
}

impl Money<'_> {
    /// The price list in force at the month's end, entry by entry.
    pub(super) fn price_list(
        &self,
        costs: &Costs<'_>,
        price: &Price,
    ) -> Result<PriceList, Missing> {
        let rates = self.rates.clone()?;
        let record = self.constants.in_force(self.scope.month.last());
        let record = record.ok_or(Missing::NoPrice(Lacking::Constants))?;
        let first = self.scope.window_from;
        let months = (0..)
            .take_while(|i| first.plus(*i) <= self.scope.month)
            .count();
        let basis = self.floor_basis(rates);
        let (entries, others) = costs.candidates(record);
        Ok(PriceList {
            others,
            ..price_list::find(entries, &basis, months as u64, &price.curve())
        })
    }

    /// From quoted to happened, and from the month before to this one.
    pub(super) fn moved(&self) -> Result<Moved, Missing> {
        if let Some(none) = self.none_coated() {
            return Err(none);
        }
        if self.constants.records.is_empty() {
            return Err(Missing::NoPrice(Lacking::Constants));
        }
        self.rates.clone()?;
        let before = self.bridged(self.scope.month.plus(-1));
        let now = self.bridged(self.scope.month);
        let jobs: Vec<JobBridge> = now.jobs.iter().map(|d| d.bridge.clone()).collect();
        Ok(Moved {
            quoted: bridge::sum(&jobs),
            without_money: now.without_money,
            without_standard: now.without_standard,
            months: bridge::between(&before.jobs, &now.jobs),
            jobs_before: before.jobs.len() as u64,
            jobs,
        })
    }

    /// What a month's coated jobs earned, where prices are known.
    pub(super) fn earned(&self, month: Month) -> Option<Earned> {
        self.rates.as_ref().ok()?;
        let jobs = self.measures.coated.iter().zip(self.accounts);
        let of_month = jobs.filter(|(j, _)| j.month == month);
        let money: Vec<JobMoney> = of_month
            .filter_map(|(_, a)| Some(a.as_ref()?.money))
            .collect();
        Some(Earned::of(&money))
    }

    /// The window's coated jobs by class, finish, film and seller.
    pub(super) fn margin_groups(&self) -> Result<MarginGroups, FindError> {
        let m = self.measures;
        let jobs = m.coated.iter().zip(self.accounts).zip(&m.sales.jobs);
        let window = jobs.filter(|((j, _), _)| self.scope.in_window(j.month));
        let sold = window.map(|((job, account), sale)| Sold {
            job: Accounted {
                job,
                account: account.as_ref(),
            },
            sale: *sale,
        });
        margin_groups::find(&sold.collect::<Vec<_>>(), m)
    }

    fn bridged(&self, month: Month) -> Bridged {
        let mut all = Bridged::default();
        let jobs = self.sold().zip(self.accounts);
        for (sold, account) in jobs.filter(|(s, _)| s.job.month == month) {
            match account {
                None => all.without_money += 1,
                Some(account) => match self.dated(sold, account) {
                    Some(dated) => all.jobs.push(dated),
                    None => all.without_standard += 1,
                },
            }
        }
        all
    }

    fn dated(&self, sold: SoldJob<'_>, account: &Account) -> Option<Dated> {
        let (job, money, rule) = (sold.job, &self.shop.money, self.rule);
        let own = self.constants.in_force(job.priced_on)?;
        let own = Standard::of(job, own, rule)?;
        let bridge = bridge::job(job, sold.seller, &own, account, money)?;
        // A class or finish that the older constants lack keeps its own.
        let older = self.constants.in_force(self.scope.month.plus(-1).last())?;
        let older = Standard::of(job, older, rule).unwrap_or(own);
        Some(Dated {
            by_older: older.money(money)?.contribution(),
            bridge,
        })
    }
}
