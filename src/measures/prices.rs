//! What work and coating are bought at: full areas, bottles, wages.

use super::error::MeasureError;
use super::reader::{Reader, count, month, strings};
use super::run::Results;
use super::text::Text;
use crate::money::Minor;
use crate::settings::month::Month;
use std::collections::BTreeMap;

/// Area of a full job of a class.
#[derive(Debug, Clone, PartialEq)]
pub struct FullArea {
    /// The class.
    pub class: String,
    /// Full jobs with an area.
    pub jobs: u64,
    /// Their median area [m²].
    pub area: f64,
}

/// One bottle as bought.
#[derive(Debug, Clone, PartialEq)]
pub struct BottleCost {
    /// The month in which it was opened.
    pub month: Month,
    /// The product, where recorded.
    pub product: Option<Text>,
    /// True where it was emptied.
    pub emptied: bool,
    /// What it held [mL].
    pub volume: f64,
    /// Thrown away [mL].
    pub left_over: f64,
    /// Landed cost.
    pub cost: Minor,
}

/// A person of a shop.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Person {
    /// The shop's key.
    pub shop: String,
    /// The person's key within it.
    pub person: String,
}

impl Person {
    pub(super) fn new(shop: &str, person: &str) -> Self {
        Self {
            shop: shop.to_string(),
            person: person.to_string(),
        }
    }
}

pub(super) fn full_area(results: &Results) -> Result<Vec<FullArea>, MeasureError> {
    let r = Reader::new(results, "full_area")?;
    let classes = strings(&r, "vehicle_class")?;
    let jobs = r.counts("jobs")?;
    let areas = r.floats("area")?;
    let row = |(i, class): (usize, Text)| {
        let class = class.to_string();
        let area = areas.at(i)?;
        let jobs = count(jobs[i]);
        Some(FullArea { class, jobs, area })
    };
    Ok(classes.into_iter().enumerate().filter_map(row).collect())
}

pub(super) fn bottles(results: &Results) -> Result<Vec<BottleCost>, MeasureError> {
    let r = Reader::new(results, "bottle_cost")?;
    let no = r.counts("month_no")?;
    let emptied = r.counts("emptied")?;
    let volume = r.floats("volume")?;
    let left = r.floats("left_over")?;
    let cost = r.counts("cost")?;
    let mut all = Vec::with_capacity(r.len());
    r.texts("product", |i, product| {
        all.push(BottleCost {
            month: month(no[i]),
            product: product.map(Text::from),
            emptied: emptied[i] == 1,
            volume: volume.at(i).unwrap_or(0.0),
            left_over: left.at(i).unwrap_or(0.0),
            cost: Minor(cost[i]),
        });
    })?;
    Ok(all)
}

pub(super) fn wages(results: &Results) -> Result<BTreeMap<Person, Minor>, MeasureError> {
    let r = Reader::new(results, "wages")?;
    let shops = strings(&r, "shop")?;
    let people = strings(&r, "person")?;
    let cost = r.counts("hourly_cost")?;
    let pair =
        |((shop, person), cost): ((Text, Text), i64)| (Person::new(&shop, &person), Minor(cost));
    let both = shops.into_iter().zip(people).zip(cost);
    Ok(both.map(pair).collect())
}
