//! The money of coated jobs: accounts, margin and floor.

use crate::estimate::NotEnough;
use crate::findings::floor::{self, Floor, SoldJob};
use crate::findings::list_price::Rule;
use crate::findings::margin::{self, Accounted, Margin};
use crate::findings::money::{Account, Expected, Rates, account};
use crate::findings::{FindError, Missing, Scope};
use crate::measures::{CoatedJob, Measures};
use crate::settings::constants::Constants;
use crate::settings::shop::Shop;

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
    /// Coated jobs in view, as they were sold.
    pub(super) fn sold(&self) -> impl Iterator<Item = SoldJob<'_>> {
        let m = self.measures;
        let jobs = m.coated.iter().zip(self.expected).enumerate();
        jobs.map(|(i, (job, expected))| SoldJob {
            job,
            seller: (m.sales.jobs.get(i)).map_or("", |s| m.sales.sellers.name(s.seller)),
            expected: *expected,
        })
    }

    pub(super) fn none_coated(&self) -> Option<Missing> {
        let month = self.measures.coated.iter();
        let none = !month.map(|j| j.month).any(|x| x == self.scope.month);
        none.then(|| Missing::TooFew(NotEnough::new(0, 1, "coated jobs this month")))
    }

    pub(super) fn margin(&self) -> Result<Result<Margin, Missing>, FindError> {
        match (&self.rates, self.none_coated()) {
            (_, Some(none)) => return Ok(Err(none)),
            (Err(lacking), _) => return Ok(Err(lacking.clone())),
            (Ok(_), None) => {}
        }
        let jobs: Vec<Accounted<'_>> = (self.measures.coated.iter().zip(self.accounts))
            .map(|(job, account)| Accounted {
                job,
                account: account.as_ref(),
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

    pub(super) fn floor(&self) -> Result<Floor, Missing> {
        if let Some(none) = self.none_coated() {
            return Err(none);
        }
        let basis = self.floor_basis(self.rates.clone()?);
        let month = self.sold().filter(|s| s.job.month == self.scope.month);
        Ok(floor::find(month, &basis))
    }
}
