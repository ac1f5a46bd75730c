//! What one coated job brought and cost, in whole minor units.
//!
//! Each component is rounded once; everything after is integer arithmetic, so
//! sums over jobs, months and shops never drift.

use crate::measures::CoatedJob;
use crate::money::Minor;
use crate::settings::shop::Money;
use serde::Serialize;
use std::iter::Sum;
use std::ops::Add;

/// Prices of what goes into a job.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rates {
    /// Coating, as bought [minor units per mL].
    pub per_ml: f64,
    /// Wage before loading, where a job's person has none on the list
    /// [minor units per hour].
    pub wage: f64,
}

/// What a job is expected to take, from the fits.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Expected {
    /// Coating [mL].
    pub use_ml: Option<f64>,
    /// Hands-on minutes, on average.
    pub minutes: Option<f64>,
}

/// What one coated job brought and cost. `net_price` less the rest is its
/// contribution.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct JobMoney {
    /// Charged less discount, without sales tax.
    pub net_price: Minor,
    /// Coating used.
    pub coating: Minor,
    /// Loaded labour.
    pub labour: Minor,
    /// Consumables.
    pub consumables: Minor,
    /// Card fees.
    pub fees: Minor,
    /// Callbacks of coating work.
    pub callbacks: Minor,
}

impl JobMoney {
    /// Net price less all costs.
    pub fn contribution(&self) -> Minor {
        self.net_price - self.coating - self.labour - self.consumables - self.fees - self.callbacks
    }
}

impl Add for JobMoney {
    type Output = Self;
    fn add(self, o: Self) -> Self {
        Self {
            net_price: self.net_price + o.net_price,
            coating: self.coating + o.coating,
            labour: self.labour + o.labour,
            consumables: self.consumables + o.consumables,
            fees: self.fees + o.fees,
            callbacks: self.callbacks + o.callbacks,
        }
    }
}

impl Sum for JobMoney {
    fn sum<I: Iterator<Item = Self>>(all: I) -> Self {
        all.fold(Self::default(), Add::add)
    }
}

/// A job's money, and which of its inputs were estimated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Account {
    /// The components.
    pub money: JobMoney,
    /// No measured use: the expected one stands in.
    pub use_estimated: bool,
    /// No recorded minutes: the expected ones stand in.
    pub minutes_estimated: bool,
    /// Charged before discount, tax as recorded.
    pub charged: Minor,
    /// Coating that was costed [mL].
    pub use_ml: f64,
    /// Hands-on minutes that were costed.
    pub minutes: f64,
    /// What was paid for the coating and an hour.
    pub rates: Rates,
}

/// `amount` without sales tax.
pub fn without_tax(amount: Minor, money: &Money) -> Minor {
    if money.prices_include_tax {
        Minor::nearest(amount.as_f64() / (1.0 + money.tax_rate)).unwrap_or(amount)
    } else {
        amount
    }
}

/// `net` with the sales tax that the shop's prices hold.
pub fn with_tax(net: Minor, money: &Money) -> Minor {
    if money.prices_include_tax {
        Minor::nearest(net.as_f64() * (1.0 + money.tax_rate)).unwrap_or(net)
    } else {
        net
    }
}

/// Card fees as a share of the price without tax.
pub fn fees_on_net(money: &Money) -> f64 {
    if money.prices_include_tax {
        money.card_fee_share * (1.0 + money.tax_rate)
    } else {
        money.card_fee_share
    }
}

/// Share of a price, tax as the shop writes prices, that is left after sales
/// tax and card fees.
pub fn kept(money: &Money) -> f64 {
    let tax = if money.prices_include_tax {
        money.tax_rate
    } else {
        0.0
    };
    (1.0 - fees_on_net(money)) / (1.0 + tax)
}

/// The account of a job; `None` where its price, or both a measured and an
/// expected input, are missing.
pub fn account(
    job: &CoatedJob,
    wage: Option<Minor>,
    expected: Expected,
    rates: Rates,
    money: &Money,
) -> Option<Account> {
    let price = job.price?;
    let charged = price - job.discount;
    let use_ml = job.used.or(expected.use_ml)?;
    let minutes = job.minutes.or(expected.minutes)?;
    let wage = wage.map_or(rates.wage, Minor::as_f64);
    let per_minute = wage * money.labour_loading / 60.0;
    let again = job.rework();
    let callbacks = again.cost.as_f64() + again.minutes * per_minute + again.used * rates.per_ml;
    Some(Account {
        money: JobMoney {
            net_price: without_tax(charged, money),
            coating: Minor::nearest(use_ml * rates.per_ml)?,
            labour: Minor::nearest(minutes * per_minute)?,
            consumables: money.currency.minor(money.consumables)?,
            fees: Minor::nearest(charged.as_f64() * money.card_fee_share)?,
            callbacks: Minor::nearest(callbacks)?,
        },
        use_estimated: job.used.is_none(),
        minutes_estimated: job.minutes.is_none(),
        charged: price,
        use_ml,
        minutes,
        rates: Rates { wage, ..rates },
    })
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::measures::{Parts, Rework};
    use crate::settings::month::Month;

    /// A coated job of October 2026.
    pub(in crate::findings) fn job() -> CoatedJob {
        let month = Month::parse("2026-10").unwrap();
        CoatedJob {
            shop: "".into(),
            job: "J1".into(),
            month,
            class: 0,
            full: Some(true),
            parts: Parts::new(),
            price: Some(Minor(31_000)),
            discount: Minor(1_000),
            priced_on: month.first(),
            people: 1,
            person: None,
            minutes: Some(42.0),
            used: Some(30.0),
            reworked: Some(Box::new(Rework {
                callbacks: 1,
                minutes: 10.0,
                used: 2.0,
                cost: Minor(500),
            })),
        }
    }

    const RATES: Rates = Rates {
        per_ml: 290.0,
        wage: 2_700.0,
    };

    /// By hand: 300.00 net; 30 mL at 2.90 = 87.00; 42 min at 27.00/h × 1.42
    /// = 26.838; callbacks 5.00 + 10 min × 0.639 + 2 mL × 2.90 = 17.19.
    #[test]
    fn a_job_adds_up_by_hand() {
        let a = account(&job(), None, Expected::default(), RATES, &Money::default()).unwrap();
        assert_eq!(a.money.net_price, Minor(30_000));
        assert_eq!(a.money.coating, Minor(8_700));
        assert_eq!(a.money.labour, Minor(2_684));
        assert_eq!(a.money.callbacks, Minor(1_719));
        assert_eq!(
            a.money.contribution(),
            Minor(30_000 - 8_700 - 2_684 - 1_719)
        );
        assert!(!a.use_estimated && !a.minutes_estimated);
    }

    #[test]
    fn what_was_not_measured_is_expected_and_marked_or_there_is_no_account() {
        let mut j = job();
        j.used = None;
        assert_eq!(
            account(&j, None, Expected::default(), RATES, &Money::default()),
            None
        );
        let expected = Expected {
            use_ml: Some(31.0),
            minutes: None,
        };
        let a = account(&j, None, expected, RATES, &Money::default()).unwrap();
        assert!(a.use_estimated);
        assert_eq!(a.money.coating, Minor(8_990));
        j.price = None;
        assert_eq!(account(&j, None, expected, RATES, &Money::default()), None);
    }

    #[test]
    fn tax_within_prices_is_taken_out_once_and_a_wage_of_ones_own_wins() {
        let money = Money {
            prices_include_tax: true,
            tax_rate: 0.20,
            ..Money::default()
        };
        let a = account(
            &job(),
            Some(Minor(6_000)),
            Expected::default(),
            RATES,
            &money,
        )
        .unwrap();
        assert_eq!(a.money.net_price, Minor(25_000));
        assert_eq!(a.money.labour, Minor(5_964));
    }
}
