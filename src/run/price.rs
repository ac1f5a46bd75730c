//! Offers with what such jobs list at and cost, for price against answer.

use super::money::Money;
use super::price_list::Costs;
use crate::findings::money::{Expected, kept};
use crate::findings::price::{self, Listed, Offered, Price};
use crate::findings::{FindError, Lacking, Missing};
use crate::measures::{CoatedJob, Part, Parts, PricedOffers, Text};
use crate::money::Minor;
use crate::settings::constants::Record;

/// What the price asked did to the answer.
pub(super) fn price(money: &Money<'_>, costs: &Costs<'_>) -> Result<Price, FindError> {
    let offers = &money.measures.priced;
    let bare = |o| Offered {
        offers: o,
        listed: None,
        cost: None,
    };
    let stop = |why| {
        Ok(price::missing(
            &offers.iter().map(bare).collect::<Vec<_>>(),
            why,
        ))
    };
    let Some(record) = costs.basis.record else {
        return stop(Missing::NoPrice(Lacking::Constants));
    };
    let basis = match &money.rates {
        Ok(rates) => money.floor_basis(*rates),
        Err(why) => return stop(why.clone()),
    };
    let offered = |o| Offered {
        offers: o,
        listed: costs.listed(record, o),
        cost: basis.cost(costs.expected(o)),
    };
    let all: Vec<Offered<'_>> = offers.iter().map(offered).collect();
    price::find(&all, kept(&money.shop.money))
}

/// The finishes of an offer.
fn finishes(o: &PricedOffers) -> impl Iterator<Item = &str> {
    let both = [o.finish.as_str(), o.other_finish.as_str()];
    both.into_iter().filter(|f| !f.is_empty())
}

impl Costs<'_> {
    /// Today's list price of what was offered.
    fn listed(&self, record: &Record, o: &PricedOffers) -> Option<Listed> {
        let class = o.class.as_str();
        let of = |f: &&str| record.list_price_of(class, f).unwrap_or(f64::MIN);
        let finish = finishes(o).max_by(|a, b| of(a).total_cmp(&of(b)))?;
        let full = self.rule.full_price(record, class, finishes(o))?;
        let covered = self.rule.covered_by(Some(record), class, o.full, o.area)?;
        Some(Listed {
            price: self.rule.part_of(full, covered)?,
            full,
            finish: finish.to_string(),
        })
    }

    /// What such a job is expected to take; nothing where the fits have not
    /// seen its class or finish.
    fn expected(&self, o: &PricedOffers) -> Expected {
        self.as_job(o)
            .map_or_else(Expected::default, |job| Expected {
                use_ml: self.used.and_then(|u| u.expected(self.basis, &job)),
                minutes: self.time.and_then(|t| t.expected(self.basis, &job)),
            })
    }

    /// The offer as a job that the fits can read.
    fn as_job(&self, o: &PricedOffers) -> Option<CoatedJob> {
        let names = self.basis.measures;
        let full = || {
            self.basis
                .full_area(&o.class)
                .filter(|_| o.full == Some(true))
        };
        let area = o.area.or_else(full)?;
        let part = |finish: &str, area: f64| {
            let finish = names.finishes.find(finish)?;
            Some(Part { finish, area })
        };
        let mut parts = Parts::from_iter([part(&o.finish, area - o.other_area)?]);
        if !o.other_finish.is_empty() {
            parts.push(part(&o.other_finish, o.other_area)?);
        }
        Some(CoatedJob {
            shop: o.shop.clone(),
            job: Text::default(),
            month: self.basis.scope.month,
            class: names.classes.find(&o.class)?,
            full: o.full,
            parts,
            price: o.price,
            discount: Minor::ZERO,
            priced_on: self.basis.scope.month.last(),
            people: 0,
            person: None,
            minutes: None,
            used: None,
            reworked: None,
        })
    }
}
