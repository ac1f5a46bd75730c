//! What did the price asked do to the answer, and which price left most per
//! offer?
//!
//! Acceptance by Firth's logistic regression on the logarithm of the price
//! asked, what a partial job is of a full one, class, finish, sample and
//! seller ([`crate::fits::firth`]); contribution per offer over the range
//! tried ([`crate::fits::firth::price`]), the offers' own mix held. Prices are
//! spoken of as multiples of today's list price for the same job, so that
//! vehicles of every size stand on one axis. A discount counts as a cost, in
//! its usual share of the price: what was asked is known for every offer, what
//! would have come off a declined one is not.
//!
//! When it misleads: nobody drew lots for who was asked what, so a difference
//! may be one of customers. Where the price of declined offers is not written
//! down there is nothing to compare with, and that is said ([`Unsaid`]).
//! Nothing is said outside the range tried.

use super::attach::LEVEL;
use super::{FindError, Missing};
use crate::estimate::{Estimate, NotEnough};
use crate::fits::error::FitError;
use crate::fits::firth::price as priced;
use crate::fits::firth::{self, Logistic, Offers};
use crate::measures::PricedOffers;
use crate::money::Minor;
use serde::Serialize;

mod design;
mod lacking;
mod mix;

pub use crate::fits::firth::price::{Peak, PriceCurve, PricePoint};

use design::Design;
use mix::Mix;

/// Least number of offers with a price.
pub const LEAST_PRICED: u64 = 60;
/// Least number of each answer among them. (Ten events are the least that a
/// logistic regression is commonly given for one coefficient.)
pub const LEAST_OF_EACH: u64 = 10;
/// Share of the offers of each answer whose price must be written down: the
/// rest may be unlike them. A choice of ours; there is no published bound.
pub const LEAST_WRITTEN: f64 = 0.8;
/// Offers from which the slope's interval is the plain one: its profile then
/// agrees with it and costs twenty fits.
const PLAIN_FROM: u64 = 5_000;
/// Rows that the fit takes, evenly over all; the rest would narrow the slope
/// by no more than its second digit.
const MOST_ROWS: usize = 20_000;
/// Rows whose mix the curve holds, evenly over those.
const MOST_IN_MIX: usize = 1_000;
/// Seed of the curve's draws.
pub const SEED: u64 = 1;

/// Offers alike, with what such a job lists at and costs.
#[derive(Debug, Clone, PartialEq)]
pub struct Offered<'a> {
    /// The offers.
    pub offers: &'a PricedOffers,
    /// Today's list price, where the list has one.
    pub listed: Option<Listed>,
    /// Expected cost before card fees [minor units].
    pub cost: Option<f64>,
}

/// Today's list price of a job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    /// Of this job, tax as the shop writes prices.
    pub price: Minor,
    /// Of a full one.
    pub full: Minor,
    /// The finish that it is listed by.
    pub finish: String,
}

/// Which answers have a price written down.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct Recorded {
    /// Offers accepted.
    pub accepted: u64,
    /// Of these, with a price.
    pub accepted_priced: u64,
    /// Offers declined.
    pub declined: u64,
    /// Of these, with a price.
    pub declined_priced: u64,
    /// Offers with a price whose class and finish today's list does not price.
    pub without_list: u64,
    /// Offers asked for nothing.
    pub for_nothing: u64,
}

impl Recorded {
    fn of(all: &[Offered<'_>]) -> Self {
        let mut r = Self::default();
        for o in all {
            let (yes, no) = (o.offers.accepted, o.offers.offers - o.offers.accepted);
            r.accepted += yes;
            r.declined += no;
            if o.offers.price.is_none() {
                continue;
            }
            r.accepted_priced += yes;
            r.declined_priced += no;
            match (positive(o), &o.listed) {
                (None, _) => r.for_nothing += yes + no,
                (_, None) => r.without_list += yes + no,
                _ => {}
            }
        }
        r
    }

    /// True where enough of both answers have a price written down.
    fn is_written(&self) -> bool {
        let enough = |with: u64, of: u64| with as f64 >= LEAST_WRITTEN * of as f64;
        enough(self.accepted_priced, self.accepted) && enough(self.declined_priced, self.declined)
    }
}

/// Why nothing can be said of price and answer.
#[derive(Debug, Clone, PartialEq)]
pub enum Unsaid {
    /// The price of too many offers, above all of declined ones, is not
    /// written down.
    NotWritten,
    /// Too few offers.
    TooFew(NotEnough),
    /// Offers alike were asked alike: no price was tried against another.
    NeverVaried,
    /// A cost or a list price is not known.
    Missing(Missing),
}

/// Whether a dearer offer is accepted less often.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Effect {
    /// It is, by more than luck makes.
    FewerWhenDearer,
    /// More often, by more than luck makes: dear offers went to customers who
    /// wanted it more.
    MoreWhenDearer,
    /// It cannot be told.
    NotTold,
}

/// What is known of price and answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// Offers that it rests on.
    pub offers: u64,
    /// Of these, accepted.
    pub accepted: u64,
    /// Change of the log odds of acceptance per unit of log price.
    pub slope: Estimate,
    /// Whether price told.
    pub effect: Effect,
    /// Acceptance and contribution [minor units] by multiple of today's list
    /// price.
    pub curve: PriceCurve,
    /// Mean list price of the offers' mix, tax as the shop writes prices
    /// [minor units].
    pub usual_list: f64,
    /// Discounts as a share of the price asked, over accepted offers.
    pub discount: f64,
    /// Offers whose mix the curve holds.
    pub in_mix: u64,
}

impl Answer {
    /// The price with most left, where it lies within what was tried, its
    /// likely range leaves out today's list price, and dearer offers were
    /// declined more often: else it cannot be told from today's.
    pub fn better(&self) -> Option<Estimate> {
        let Peak::Inside { price } = self.curve.peak else {
            return None;
        };
        let told = self.effect == Effect::FewerWhenDearer && !price.holds(1.0);
        told.then_some(price)
    }
}

/// The section's findings.
#[derive(Debug, Clone, PartialEq)]
pub struct Price {
    /// Which answers have a price.
    pub recorded: Recorded,
    /// What they say.
    pub said: Result<Answer, Unsaid>,
}

/// Finds what the price did. `kept`: share of a price that is left after sales
/// tax and card fees.
///
/// # Errors
/// The fit's complaint, where it is not that there is too little.
pub fn find(all: &[Offered<'_>], kept: f64) -> Result<Price, FindError> {
    let recorded = Recorded::of(all);
    let said = said(all, recorded, kept)?;
    Ok(Price { recorded, said })
}

/// A finding that has to stop where a cost or list price is not known.
pub fn missing(all: &[Offered<'_>], why: Missing) -> Price {
    let recorded = Recorded::of(all);
    let said = Err(enough(all, recorded).err().unwrap_or(Unsaid::Missing(why)));
    Price { recorded, said }
}

/// The price asked, where there is one above 0.
fn positive(o: &Offered<'_>) -> Option<f64> {
    o.offers
        .price
        .filter(|p| *p > Minor::ZERO)
        .map(Minor::as_f64)
}

/// An offer that the fit can take: asked a price, and listed at one.
fn usable<'a>(o: &'a Offered<'a>) -> Option<Used<'a>> {
    let listed = o.listed.as_ref().filter(|l| l.price > Minor::ZERO)?;
    Some(Used {
        offers: o.offers,
        listed,
        price: positive(o)?,
        cost: o.cost,
    })
}

/// An offer in the fit.
#[derive(Debug, Clone, Copy)]
struct Used<'a> {
    offers: &'a PricedOffers,
    listed: &'a Listed,
    /// Asked [minor units].
    price: f64,
    cost: Option<f64>,
}

impl Used<'_> {
    fn list(&self) -> f64 {
        self.listed.price.as_f64()
    }
}

/// Refuses what is not written down or too little.
fn enough(all: &[Offered<'_>], recorded: Recorded) -> Result<(), Unsaid> {
    let few = |have, need, of: &str| Err(Unsaid::TooFew(NotEnough::new(have, need, of)));
    let offers: u64 = all.iter().map(|o| o.offers.offers).sum();
    if offers < LEAST_PRICED {
        return few(offers, LEAST_PRICED, "jobs known to have been offered");
    }
    if !recorded.is_written() {
        return Err(Unsaid::NotWritten);
    }
    let least = recorded.accepted_priced.min(recorded.declined_priced);
    if least < LEAST_OF_EACH {
        return few(least, LEAST_OF_EACH, "offers of each answer with a price");
    }
    Ok(())
}

fn said(
    all: &[Offered<'_>],
    recorded: Recorded,
    kept: f64,
) -> Result<Result<Answer, Unsaid>, FindError> {
    if let Err(why) = enough(all, recorded) {
        return Ok(Err(why));
    }
    let used: Vec<Used<'_>> = all.iter().filter_map(usable).collect();
    let offers: u64 = used.iter().map(|u| u.offers.offers).sum();
    if offers < LEAST_PRICED {
        let of = "offers whose class and finish the list prices";
        return Ok(Err(Unsaid::TooFew(NotEnough::new(
            offers,
            LEAST_PRICED,
            of,
        ))));
    }
    let used = evenly(&used, MOST_ROWS);
    let Some(design) = Design::of(&used) else {
        return Ok(Err(Unsaid::NeverVaried));
    };
    match answer(&used, &design, kept) {
        Ok(a) => Ok(Ok(a)),
        Err(FitError::NotEnough(n)) => Ok(Err(Unsaid::TooFew(n))),
        Err(FitError::NoSpread { .. }) => Ok(Err(Unsaid::NeverVaried)),
        Err(other) => Err(other.into()),
    }
}

/// At most `most` of them, evenly spaced.
fn evenly<T: Copy>(all: &[T], most: usize) -> Vec<T> {
    let step = all.len().div_ceil(most.max(1)).max(1);
    all.iter().step_by(step).copied().collect()
}

fn answer(used: &[Used<'_>], design: &Design, kept: f64) -> Result<Answer, FitError> {
    let yes: Vec<f64> = used.iter().map(|u| u.offers.accepted as f64).collect();
    let trials: Vec<f64> = used.iter().map(|u| u.offers.offers as f64).collect();
    let offers = Offers {
        design: &design.rows,
        columns: design.columns,
        yes: &yes,
        trials: &trials,
    };
    let fit = firth::fit(&offers, firth::Params::default())?;
    let slope = slope(&fit, &offers, design.price())?;
    let discount = discount(used);
    let in_mix: Vec<usize> = (0..used.len())
        .filter(|i| used[*i].cost.is_some())
        .collect();
    let in_mix = evenly(&in_mix, MOST_IN_MIX);
    let mix = Mix::of(used, design, &in_mix);
    let asked: Vec<f64> = used.iter().flat_map(multiples).collect();
    let curve = priced::curve(
        &fit,
        &mix.as_fit(design, kept * (1.0 - discount)),
        &asked,
        PARAMS,
    )?;
    let weight: f64 = mix.weights.iter().sum();
    let listed: f64 = mix.weights.iter().zip(&mix.base).map(|(w, b)| w * b).sum();
    Ok(Answer {
        offers: fit.offers,
        accepted: yes.iter().sum::<f64>() as u64,
        effect: effect(&slope),
        slope,
        curve,
        usual_list: listed / weight,
        discount,
        in_mix: weight as u64,
    })
}

/// Points and draws of the curve: enough for a drawing and two digits.
const PARAMS: priced::Params = priced::Params {
    support: 5,
    grid: 25,
    draws: 1_000,
    seed: SEED,
    level: LEVEL,
    flat: 0.02,
};

/// The price of every offer of a row as a multiple of its list price.
fn multiples(u: &Used<'_>) -> Vec<f64> {
    vec![u.price / u.list(); usize::try_from(u.offers.offers).unwrap_or(0)]
}

fn slope(fit: &Logistic, offers: &Offers<'_>, column: usize) -> Result<Estimate, FitError> {
    let plain = fit.wald(column, LEVEL).filter(|_| fit.offers >= PLAIN_FROM);
    match plain {
        Some(e) => Ok(e),
        None => fit.profile(offers, column, LEVEL, firth::Params::default()),
    }
}

fn effect(slope: &Estimate) -> Effect {
    if slope.holds(0.0) {
        Effect::NotTold
    } else if slope.value < 0.0 {
        Effect::FewerWhenDearer
    } else {
        Effect::MoreWhenDearer
    }
}

/// What came off accepted offers, as a share of what they were asked.
fn discount(used: &[Used<'_>]) -> f64 {
    let off: Minor = used.iter().map(|u| u.offers.discount).sum();
    let asked: f64 = used
        .iter()
        .map(|u| u.price * u.offers.accepted as f64)
        .sum();
    if asked > 0.0 {
        (off.as_f64() / asked).clamp(0.0, 1.0)
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests;
