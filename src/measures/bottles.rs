//! Bottles with their days, and what jobs drew from them.

use super::error::MeasureError;
use super::reader::{Calendar, Reader, month};
use super::rows::{Placed, Rows};
use super::run::Results;
use super::text::Text;
use crate::settings::month::Month;
use chrono::NaiveDate;
use foldhash::fast::RandomState;
use std::collections::{HashMap, HashSet};

/// A bottle that was opened or emptied in the window.
#[derive(Debug, Clone, PartialEq)]
pub struct BottleSpan {
    /// The shop's key.
    pub shop: Text,
    /// The bottle's key within the shop.
    pub bottle: Text,
    /// The product; empty where not recorded.
    pub product: Text,
    /// The lot; empty where not recorded.
    pub lot: Text,
    /// The day it was opened.
    pub opened_on: NaiveDate,
    /// The day it was emptied; `None` where it is open.
    pub emptied_on: Option<NaiveDate>,
    /// The month it was opened in.
    pub opened: Month,
    /// The month it was emptied in.
    pub emptied: Option<Month>,
    /// What it held [mL].
    pub volume: Option<f64>,
    /// Thrown away [mL].
    pub left_over: f64,
}

/// The bottle that a spell names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Named {
    /// By its place in [`Measures::bottle_spans`](super::Measures).
    Bottle(u32),
    /// One that is not among them.
    Elsewhere,
    /// None is recorded.
    Nothing,
}

/// What a coated job drew from one bottle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Draw {
    /// The job's place in [`Measures::coated`](super::Measures).
    pub job: u32,
    /// The bottle.
    pub bottle: Named,
    /// The day.
    pub day: NaiveDate,
    /// Minute of that day, where recorded; one outside the day, as a warehouse
    /// may give, counts as its first or last.
    pub minute: Option<u16>,
    /// Drawn from it [mL]; `None` where not measured.
    pub used: Option<f64>,
}

/// Minutes of a day.
const MINUTES: i64 = 24 * 60;

pub(super) fn spans(results: &Results) -> Result<Vec<BottleSpan>, MeasureError> {
    let r = Reader::new(results, "bottle_spans")?;
    let shops = r.words("shop")?;
    let bottles = r.words("bottle")?;
    let products = r.words("product")?;
    let lots = r.words("lot")?;
    let opened_on = r.days("opened_on")?;
    let emptied_on = r.days("emptied_on")?;
    let [on_opened, on_emptied] = [&opened_on, &emptied_on].map(Calendar::of);
    let opened = r.integers("opened_no")?;
    let emptied = r.integers("emptied_no")?;
    let volume = r.floats("volume")?;
    let left = r.floats("left_over")?;
    let row = |i: usize| BottleSpan {
        shop: shops.text(i),
        bottle: bottles.text(i),
        product: products.text(i),
        lot: lots.text(i),
        opened_on: on_opened.day(opened_on.at(i)),
        emptied_on: emptied_on.at(i).map(|d| on_emptied.day(Some(d))),
        opened: month(opened.or_zero(i)),
        emptied: emptied.at(i).map(month),
        volume: volume.at(i),
        left_over: left.at(i).unwrap_or(0.0),
    };
    Ok((0..r.len()).map(row).collect())
}

/// Draws of the shops that have a bottle among `spans`. `shop`: a job's shop, by
/// its place among the coated ones.
pub(super) fn draws<'a>(
    results: &Results,
    spans: &[BottleSpan],
    rows: &Rows,
    shop: impl Fn(usize) -> &'a str,
) -> Result<Vec<Draw>, MeasureError> {
    let r = Reader::new(results, "draws")?;
    let keys = r.counts("job_key")?;
    let days = r.days("day")?;
    let calendar = Calendar::of(&days);
    let minutes = r.integers("minute")?;
    let used = r.floats("used")?;
    let keeping: HashSet<&str, RandomState> = spans.iter().map(|s| s.shop.as_str()).collect();
    let known: HashMap<(&str, &str), u32, RandomState> = (spans.iter().zip(0..))
        .map(|(s, i)| ((s.shop.as_str(), s.bottle.as_str()), i))
        .collect();
    let bottles = r.words("bottle")?;
    let draw = |Placed { job, at }| {
        let at_shop = Some(shop(job)).filter(|s| keeping.contains(s))?;
        let find = |name| known.get(&(at_shop, name));
        Some(Draw {
            job: job as u32,
            bottle: match bottles.get(at) {
                None => Named::Nothing,
                Some(name) => find(name).map_or(Named::Elsewhere, |i| Named::Bottle(*i)),
            },
            day: calendar.day(days.at(at)),
            minute: minutes.at(at).map(|m| m.clamp(0, MINUTES - 1) as u16),
            used: used.at(at),
        })
    };
    let placed = rows.place(&keys, |a, b| bottles.get(a).cmp(&bottles.get(b)));
    let mut all = Vec::with_capacity(placed.len());
    all.extend(placed.filter_map(draw));
    Ok(all)
}
