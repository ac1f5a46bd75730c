//! Bottles as bought, and what was poured from which.

use super::error::MeasureError;
use super::reader::{Reader, count, month, strings};
use super::rows::{Placed, Rows};
use super::run::Results;
use super::text::Text;
use crate::money::Minor;
use crate::settings::month::Month;

/// One bottle opened in the window.
#[derive(Debug, Clone, PartialEq)]
pub struct Bought {
    /// The shop's key.
    pub shop: Text,
    /// The bottle's key within the shop.
    pub bottle: Text,
    /// The product; empty where not recorded.
    pub product: Text,
    /// The month it was opened in.
    pub opened: Month,
    /// The month it was emptied in; `None` where it is open.
    pub emptied: Option<Month>,
    /// What it held [mL].
    pub volume: f64,
    /// Thrown away [mL].
    pub left_over: f64,
    /// Landed cost, where recorded.
    pub cost: Option<Minor>,
}

/// A bottle that is not emptied and was not opened in the window.
#[derive(Debug, Clone, PartialEq)]
pub struct Waiting {
    /// The shop's key.
    pub shop: Text,
    /// The bottle's key within the shop.
    pub bottle: Text,
    /// The product; empty where not recorded.
    pub product: Text,
    /// The month it was opened in; `None` where it is unopened.
    pub opened: Option<Month>,
    /// What it holds when full [mL].
    pub volume: f64,
    /// Landed cost, where recorded.
    pub cost: Option<Minor>,
}

/// What a coated job took from one bottle.
#[derive(Debug, Clone, PartialEq)]
pub struct Poured {
    /// Place of the job among the coated ones.
    pub job: usize,
    /// The bottle named; empty where none is.
    pub bottle: Text,
    /// The product named; empty where none is.
    pub product: Text,
    /// Spells whose use was not measured.
    pub unmeasured: u64,
    /// Used by the measured ones [mL].
    pub used: f64,
}

pub(super) fn bought(results: &Results) -> Result<Vec<Bought>, MeasureError> {
    let r = Reader::new(results, "bottle_book")?;
    let shops = strings(&r, "shop")?;
    let bottles = strings(&r, "bottle")?;
    let products = strings(&r, "product")?;
    let opened = r.counts("opened_no")?;
    let emptied = r.integers("emptied_no")?;
    let volume = r.floats("volume")?;
    let left = r.floats("left_over")?;
    let cost = r.integers("cost")?;
    let names = shops.into_iter().zip(bottles).zip(products).enumerate();
    let row = |(i, ((shop, bottle), product)): (usize, ((Text, Text), Text))| Bought {
        shop,
        bottle,
        product,
        opened: month(opened[i]),
        emptied: emptied.at(i).map(month),
        volume: volume.at(i).unwrap_or(0.0),
        left_over: left.at(i).unwrap_or(0.0),
        cost: cost.at(i).map(Minor),
    };
    Ok(names.map(row).collect())
}

pub(super) fn waiting(results: &Results) -> Result<Vec<Waiting>, MeasureError> {
    let r = Reader::new(results, "shelf")?;
    let shops = strings(&r, "shop")?;
    let bottles = strings(&r, "bottle")?;
    let products = strings(&r, "product")?;
    let opened = r.integers("opened_no")?;
    let volume = r.floats("volume")?;
    let cost = r.integers("cost")?;
    let names = shops.into_iter().zip(bottles).zip(products).enumerate();
    let row = |(i, ((shop, bottle), product)): (usize, ((Text, Text), Text))| Waiting {
        shop,
        bottle,
        product,
        opened: opened.at(i).map(month),
        volume: volume.at(i).unwrap_or(0.0),
        cost: cost.at(i).map(Minor),
    };
    Ok(names.map(row).collect())
}

pub(super) fn poured(results: &Results, rows: &Rows) -> Result<Vec<Poured>, MeasureError> {
    let r = Reader::new(results, "poured")?;
    let keys = r.counts("job_key")?;
    let bottles = r.words("bottle")?;
    let products = r.words("product")?;
    let unmeasured = r.integers("unmeasured")?;
    let used = r.floats("used")?;
    let name = |at| (bottles.get(at), products.get(at));
    let row = |Placed { job, at }| Poured {
        job,
        bottle: bottles.text(at),
        product: products.text(at),
        unmeasured: count(unmeasured.or_zero(at)),
        used: used.at(at).unwrap_or(0.0),
    };
    let placed = rows.place(&keys, |a, b| name(a).cmp(&name(b)));
    Ok(placed.map(row).collect())
}
