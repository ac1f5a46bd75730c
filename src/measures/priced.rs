//! What was asked for the coating, and what became of the offer.

use super::error::MeasureError;
use super::reader::{Reader, count, strings};
use super::run::Results;
use super::text::Text;
use crate::money::Minor;

/// Offers of the window alike in everything that is known beforehand: film
/// jobs that the coating suits and that are known to have been offered it.
/// '' = not recorded.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PricedOffers {
    /// The shop's key.
    pub shop: Text,
    /// Vehicle class.
    pub class: Text,
    /// `Some(true)` full, `Some(false)` partial, `None` not recorded.
    pub full: Option<bool>,
    /// The finish; the first by name where there are several.
    pub finish: Text,
    /// The last by name where there are several.
    pub other_finish: Text,
    /// Who sold it.
    pub seller: Text,
    /// How it was shown.
    pub sample: Text,
    /// Asked before discount, tax as recorded; `None` where nobody wrote it
    /// down.
    pub price: Option<Minor>,
    /// Offers.
    pub offers: u64,
    /// Of these, accepted.
    pub accepted: u64,
    /// Taken off the accepted ones, together.
    pub discount: Minor,
    /// Mean film area [m²]; `None` where none is recorded.
    pub area: Option<f64>,
    /// Of it, on other finishes than the first [m²].
    pub other_area: f64,
}

/// Reads the result of 12_priced_offers.sql.
pub(super) fn read(results: &Results) -> Result<Vec<PricedOffers>, MeasureError> {
    let r = Reader::new(results, "priced_offers")?;
    let mut all = vec![PricedOffers::default(); r.len()];
    texts(&r, &mut all)?;
    let (priced, price) = (r.counts("priced")?, r.counts("price")?);
    let (offers, accepted) = (r.counts("offers")?, r.counts("accepted")?);
    let discount = r.counts("discount")?;
    let with_area = r.counts("with_area")?;
    let (area, other_area) = (r.floats("area")?, r.floats("other_area")?);
    for (i, o) in all.iter_mut().enumerate() {
        o.price = (priced[i] == 1).then_some(Minor(price[i]));
        o.offers = count(offers[i]);
        o.accepted = count(accepted[i]);
        o.discount = Minor(discount[i]);
        let known = with_area[i] as f64;
        o.area = area.at(i).filter(|_| known > 0.0).map(|a| a / known);
        o.other_area = other_area.at(i).filter(|_| known > 0.0).unwrap_or(0.0) / known.max(1.0);
    }
    Ok(all)
}

fn texts(r: &Reader<'_>, all: &mut [PricedOffers]) -> Result<(), MeasureError> {
    let mut text = |column, to: fn(&mut PricedOffers) -> &mut Text| -> Result<(), MeasureError> {
        let column = strings(r, column)?.into_iter();
        all.iter_mut().zip(column).for_each(|(o, t)| *to(o) = t);
        Ok(())
    };
    text("shop", |o| &mut o.shop)?;
    text("vehicle_class", |o| &mut o.class)?;
    text("finish", |o| &mut o.finish)?;
    text("other_finish", |o| &mut o.other_finish)?;
    text("sold_by", |o| &mut o.seller)?;
    text("sample", |o| &mut o.sample)?;
    r.texts("coverage", |i, t| {
        all[i].full = match t {
            Some("full") => Some(true),
            Some("partial") => Some(false),
            _ => None,
        };
    })
}
