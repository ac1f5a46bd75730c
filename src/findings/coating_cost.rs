//! What a mL of coating cost, by product and over time, from bottles as
//! bought, left-overs included.

use crate::estimate::{Figure, NotEnough};
use crate::fits::error::FitError;
use crate::fits::ratio::{Ratio, cost_per_ml};
use crate::measures::BottleCost;
use crate::settings::month::Month;
use std::collections::BTreeMap;

/// Level of the intervals.
pub const LEVEL: f64 = 0.95;

/// One product.
#[derive(Debug, Clone, PartialEq)]
pub struct ProductCost {
    /// Its name; `None` where not recorded.
    pub product: Option<String>,
    /// Bottles of it.
    pub bottles: u64,
    /// Minor units per mL.
    pub per_ml: Figure,
}

/// One month.
#[derive(Debug, Clone, PartialEq)]
pub struct MonthCost {
    /// The month in which the bottles were opened.
    pub month: Month,
    /// Bottles opened in it.
    pub bottles: u64,
    /// Minor units per mL.
    pub per_ml: f64,
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
///
/// # Errors
/// None on bottles as intake lets them in.
pub fn find(bottles: &[&BottleCost]) -> Result<CoatingCost, FitError> {
    let mut products: BTreeMap<Option<&str>, Vec<&BottleCost>> = BTreeMap::new();
    let mut months: BTreeMap<Month, Vec<&BottleCost>> = BTreeMap::new();
    for bottle in bottles {
        products
            .entry(bottle.product.as_deref())
            .or_default()
            .push(bottle);
        months.entry(bottle.month).or_default().push(bottle);
    }
    let product = |(name, bottles): (Option<&str>, Vec<&BottleCost>)| {
        Ok(ProductCost {
            product: name.map(str::to_string),
            bottles: bottles.len() as u64,
            per_ml: figure(&bottles)?,
        })
    };
    Ok(CoatingCost {
        products: products
            .into_iter()
            .map(product)
            .collect::<Result<_, FitError>>()?,
        months: months.into_iter().filter_map(month_cost).collect(),
    })
}

fn columns(bottles: &[&BottleCost]) -> (Vec<f64>, Vec<f64>) {
    let pair = |b: &&BottleCost| (b.cost.as_f64(), b.volume - b.left_over.min(b.volume));
    bottles.iter().map(pair).unzip()
}

fn figure(bottles: &[&BottleCost]) -> Result<Figure, FitError> {
    let (cost, used) = columns(bottles);
    match cost_per_ml(&cost, &used, &vec![0.0; used.len()], LEVEL) {
        Ok(e) => Ok(e.into()),
        Err(FitError::NotEnough(n)) => {
            Ok(NotEnough::new(n.have, n.need, "bottles with volume and cost").into())
        }
        Err(other) => Err(other),
    }
}

fn month_cost((month, bottles): (Month, Vec<&BottleCost>)) -> Option<MonthCost> {
    let (cost, used) = columns(&bottles);
    Some(MonthCost {
        month,
        bottles: bottles.len() as u64,
        per_ml: Ratio::of_totals(&cost, &used).ok()?.value,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::money::Minor;

    fn bottle(month: &str, product: Option<&str>, left_over: f64, cost: i64) -> BottleCost {
        BottleCost {
            month: Month::parse(month).unwrap(),
            product: product.map(str::to_string),
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
        let got = find(&all.iter().collect::<Vec<_>>()).unwrap();
        let names: Vec<_> = got.products.iter().map(|p| p.product.as_deref()).collect();
        assert_eq!(names, [None, Some("A")]);
        assert!(got.products[0].per_ml.known().is_none());
        assert!((got.products[1].per_ml.value().unwrap() - 60_000.0 / 192.0).abs() < 1e-9);
        assert_eq!(got.months.len(), 2);
        assert!((got.months[1].per_ml - 41_000.0 / 196.0).abs() < 1e-9);
    }
}
