//! Film jobs by month, and what became of the offer.

use super::error::MeasureError;
use super::reader::{Reader, count, month, strings};
use super::run::Results;
use super::text::Text;
use crate::settings::month::Month;

/// What became of the offer, in one shop and month. Counts of film jobs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MonthCount {
    /// The shop's key.
    pub shop: Text,
    /// The month.
    pub month: Month,
    /// Film jobs finished.
    pub finished: u64,
    /// The coating suits them.
    pub eligible: u64,
    /// Known to have been offered.
    pub offered: u64,
    /// Nobody wrote down whether it was offered.
    pub offer_unknown: u64,
    /// Eligible and coated.
    pub coated: u64,
    /// Coated among offered.
    pub coated_offered: u64,
}

pub(super) fn months(results: &Results) -> Result<Vec<MonthCount>, MeasureError> {
    let r = Reader::new(results, "months")?;
    let shops = strings(&r, "shop")?;
    let no = r.counts("month_no")?;
    let finished = r.counts("finished")?;
    let eligible = r.counts("eligible")?;
    let offered = r.counts("offered")?;
    let unknown = r.counts("offer_unknown")?;
    let coated = r.counts("coated")?;
    let both = r.counts("coated_offered")?;
    let row = |(i, shop): (usize, Text)| MonthCount {
        shop,
        month: month(no[i]),
        finished: count(finished[i]),
        eligible: count(eligible[i]),
        offered: count(offered[i]),
        offer_unknown: count(unknown[i]),
        coated: count(coated[i]),
        coated_offered: count(both[i]),
    };
    Ok(shops.into_iter().enumerate().map(row).collect())
}
