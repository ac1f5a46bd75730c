//! What a mL of coating cost, by product and over time, from bottles as
//! bought, left-overs included.
//!
//! The bottles of the window are all there are, not a sample of them: what they
//! cost is a fact and has no interval. How far single bottles lie apart stands
//! beside it. What the next one will cost is another question, which a few
//! purchases cannot answer: lots differ, and prices move.

use crate::estimate::{Estimate, Figure, NotEnough};
use crate::fits::ratio::Ratio;
use crate::measures::BottleCost;
use crate::settings::month::Month;
use serde::Serialize;
use std::collections::BTreeMap;

/// Level under which the figure stands among estimates; it is certain.
const LEVEL: f64 = 0.95;

/// What bottles cost, as bought [minor units per mL that came to use].
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Bought {
    /// Bottles.
    pub bottles: u64,
    /// All money over all mL.
    pub per_ml: f64,
    /// The cheapest bottle.
    pub least: f64,
    /// The dearest bottle.
    pub most: f64,
}

impl Bought {
    /// Of some bottles; `None` where nothing of them came to use.
    pub fn of<'a>(bottles: impl Iterator<Item = &'a BottleCost>) -> Option<Self> {
        let pair = |b: &BottleCost| (b.cost.as_f64(), b.volume - b.left_over.min(b.volume));
        let (cost, used): (Vec<f64>, Vec<f64>) = bottles.map(pair).unzip();
        let all = Ratio::of_totals(&cost, &used).ok()?;
        let single = cost.iter().zip(&used).filter(|(_, ml)| **ml > 0.0);
        let (least, most) = single
            .map(|(cost, ml)| cost / ml)
            .fold((f64::INFINITY, 0.0), |(a, b): (f64, f64), x| {
                (a.min(x), b.max(x))
            });
        Some(Self {
            bottles: all.n,
            per_ml: all.value,
            least,
            most,
        })
    }

    /// The figure, which is certain.
    pub fn figure(bought: Option<&Self>) -> Figure {
        let certain = |b: &Self| Estimate {
            value: b.per_ml,
            low: b.per_ml,
            high: b.per_ml,
            level: LEVEL,
            n: b.bottles,
        };
        bought.map_or_else(
            || NotEnough::new(0, 1, "bottles with volume and cost").into(),
            |b| certain(b).into(),
        )
    }
}

/// One product.
#[derive(Debug, Clone, PartialEq)]
pub struct ProductCost {
    /// Its name; `None` where not recorded.
    pub product: Option<String>,
    /// What its bottles cost.
    pub bought: Bought,
}

/// One month.
#[derive(Debug, Clone, PartialEq)]
pub struct MonthCost {
    /// The month in which the bottles were opened.
    pub month: Month,
    /// What they cost.
    pub bought: Bought,
}

/// By product and by month.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct CoatingCost {
    /// In the order of names.
    pub products: Vec<ProductCost>,
    /// In the order of time; months without a bottle are not there.
    pub months: Vec<MonthCost>,
}

/// Finds the costs of bottles opened in the window.
pub fn find(bottles: &[&BottleCost]) -> CoatingCost {
    let mut products: BTreeMap<Option<&str>, Vec<&BottleCost>> = BTreeMap::new();
    let mut months: BTreeMap<Month, Vec<&BottleCost>> = BTreeMap::new();
    for bottle in bottles {
        let product = bottle.product.as_deref();
        products.entry(product).or_default().push(bottle);
        months.entry(bottle.month).or_default().push(bottle);
    }
    let product = |(name, bottles): (Option<&str>, Vec<&BottleCost>)| {
        Some(ProductCost {
            product: name.map(str::to_string),
            bought: Bought::of(bottles.into_iter())?,
        })
    };
    let month = |(month, bottles): (Month, Vec<&BottleCost>)| {
        Some(MonthCost {
            month,
            bought: Bought::of(bottles.into_iter())?,
        })
    };
    CoatingCost {
        products: products.into_iter().filter_map(product).collect(),
        months: months.into_iter().filter_map(month).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::money::Minor;

    fn bottle(month: &str, product: Option<&str>, left_over: f64, cost: i64) -> BottleCost {
        BottleCost {
            month: Month::parse(month).unwrap(),
            product: product.map(Into::into),
            emptied: true,
            volume: 100.0,
            left_over,
            cost: Minor(cost),
        }
    }

    /// By hand: (29,000 + 31,000) over (96 + 96) mL; October (31,000 + 10,000)
    /// over (96 + 100) mL.
    #[test]
    fn by_product_and_by_month_over_totals() {
        let all = [
            bottle("2026-09", Some("A"), 4.0, 29_000),
            bottle("2026-10", Some("A"), 4.0, 31_000),
            bottle("2026-10", None, 0.0, 10_000),
        ];
        let got = find(&all.iter().collect::<Vec<_>>());
        let names: Vec<_> = got.products.iter().map(|p| p.product.as_deref()).collect();
        assert_eq!(names, [None, Some("A")]);
        let one = got.products[0].bought;
        assert_eq!(
            (one.bottles, one.per_ml, one.least, one.most),
            (1, 100.0, 100.0, 100.0)
        );
        let a = got.products[1].bought;
        assert!((a.per_ml - 60_000.0 / 192.0).abs() < 1e-9);
        assert!(
            (a.least - 29_000.0 / 96.0).abs() < 1e-9 && (a.most - 31_000.0 / 96.0).abs() < 1e-9
        );
        assert_eq!(got.months.len(), 2);
        assert!((got.months[1].bought.per_ml - 41_000.0 / 196.0).abs() < 1e-9);
    }

    /// 250.00 a bottle of 100 mL; 10 mL thrown away of one, all of another.
    #[test]
    fn what_was_thrown_away_is_paid_for() {
        let bottles = [0.0, 10.0, 100.0].map(|left| bottle("2026-10", None, left, 25_000));
        let got = Bought::of(bottles.iter()).unwrap();
        assert!((got.per_ml - 75_000.0 / 190.0).abs() < 1e-9);
        assert_eq!((got.least, got.bottles), (250.0, 3));
        assert!((got.most - 25_000.0 / 90.0).abs() < 1e-9);
        assert_eq!(Bought::of(bottles[2..].iter()), None, "nothing came to use");
        let figure = Bought::figure(Some(&got));
        let e = figure.known().unwrap();
        assert_eq!((e.low, e.high), (e.value, e.value));
        assert!(Bought::figure(None).known().is_none());
    }
}
