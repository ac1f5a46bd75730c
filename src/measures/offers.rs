//! What became of the offer, by what was offered to whom and how.

use super::error::MeasureError;
use super::names::Names;
use super::reader::Reader;
use super::run::Results;
use super::text::Text;

/// Offers alike in everything that the review groups by. Counts of film jobs
/// of the window that the coating suits; '' = not recorded.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct OfferCount {
    /// The shop's key.
    pub shop: Text,
    /// Vehicle class.
    pub class: Text,
    /// Film.
    pub film: Text,
    /// The one finish; empty where there are several or none.
    pub finish: Text,
    /// Several finishes.
    pub two_tone: bool,
    /// Who sold it.
    pub seller: Text,
    /// How it was shown.
    pub sample: Text,
    /// Film jobs.
    pub eligible: u64,
    /// Known to have been offered.
    pub offered: u64,
    /// Nobody wrote down whether it was offered.
    pub offer_unknown: u64,
    /// Coated.
    pub coated: u64,
    /// Coated among offered.
    pub coated_offered: u64,
    /// Coated, though written down as not offered.
    pub coated_refused: u64,
}

/// Reads the result of 20_offers.sql.
pub(super) fn read(results: &Results) -> Result<Vec<OfferCount>, MeasureError> {
    let r = Reader::new(results, "offers")?;
    let mut all = vec![OfferCount::default(); r.len()];
    let mut text = |column, to: fn(&mut OfferCount) -> &mut Text| {
        r.texts(column, |i, t| *to(&mut all[i]) = t.unwrap_or("").into())
    };
    text("shop", |o| &mut o.shop)?;
    text("vehicle_class", |o| &mut o.class)?;
    text("film", |o| &mut o.film)?;
    text("finish", |o| &mut o.finish)?;
    text("sold_by", |o| &mut o.seller)?;
    text("sample", |o| &mut o.sample)?;
    let mut number = |column, to: fn(&mut OfferCount) -> &mut u64| -> Result<(), MeasureError> {
        let counts = r.counts(column)?.into_iter();
        all.iter_mut()
            .zip(counts)
            .for_each(|(o, n)| *to(o) = u64::try_from(n).unwrap_or(0));
        Ok(())
    };
    number("eligible", |o| &mut o.eligible)?;
    number("offered", |o| &mut o.offered)?;
    number("offer_unknown", |o| &mut o.offer_unknown)?;
    number("coated", |o| &mut o.coated)?;
    number("coated_offered", |o| &mut o.coated_offered)?;
    number("coated_refused", |o| &mut o.coated_refused)?;
    let two_tone = r.counts("two_tone")?.into_iter();
    all.iter_mut()
        .zip(two_tone)
        .for_each(|(o, n)| o.two_tone = n > 0);
    Ok(all)
}

/// What a coated job sold with, beside [`super::CoatedJob`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sale {
    /// Number of the film in [`Sales::films`].
    pub film: u32,
    /// Number of the seller in [`Sales::sellers`].
    pub seller: u32,
}

/// Film and seller of the coated jobs in view; '' = not recorded.
#[derive(Debug, Clone, Default)]
pub struct Sales {
    /// In the order of [`super::Measures::coated`].
    pub jobs: Vec<Sale>,
    /// Films.
    pub films: Names,
    /// Sellers' names; those of two shops may share one.
    pub sellers: Names,
}

/// Reads film and seller from the result of 02_coated.sql.
pub(super) fn sales(results: &Results) -> Result<Sales, MeasureError> {
    let r = Reader::new(results, "coated")?;
    let (mut films, mut sellers) = (Names::default(), Names::default());
    let film = r.numbers("film", &mut films)?.into_iter();
    let seller = r.numbers("sold_by", &mut sellers)?;
    let jobs = film.zip(seller).map(|(film, seller)| Sale { film, seller });
    Ok(Sales {
        jobs: jobs.collect(),
        films,
        sellers,
    })
}
