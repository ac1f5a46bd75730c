//! Offer, price, sale: from a vehicle to whether it leaves coated.

use super::calendar::earlier;
use super::draws::{Draws, Purpose};
use super::guess::Guess;
use super::kinds::{CLASSES, Coverage, FINISHES, Finish, SAMPLES, Sample};
use super::law::SaleLaw;
use super::plan::Plan;
use super::today::Today;
use super::vehicle::Vehicle;
use crate::money::Minor;
use chrono::NaiveDate;

/// The shop charges no less than this for a partial job [minor units], as a
/// rule; a third of the quotes forget it.
const MINIMUM_PRICE: i64 = 6_000;
const FORGETS_MINIMUM: f64 = 1.0 / 3.0;
/// Discounts that are given [minor units].
const DISCOUNTS: [i64; 5] = [1_000, 2_000, 2_500, 4_000, 5_000];
const DISCOUNT_SHARE: [f64; 5] = [0.30, 0.30, 0.22, 0.12, 0.06];
/// Film price by kind [major units per m²]. Invented.
const FILM_PRICE: [f64; 3] = [112.0, 96.0, 165.0];
/// Share of jobs whose day of the quote is written down.
const QUOTE_KEPT: f64 = 0.95;

/// How an offer went.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sale {
    /// The coating does not suit the job.
    pub(super) excluded: bool,
    /// Whether it was offered, where somebody wrote it down.
    pub(super) offered: Option<bool>,
    /// How it was shown, likewise.
    pub(super) sample: Option<Sample>,
    /// Place among the sellers.
    pub(super) seller: usize,
    /// Sold.
    pub(super) coated: bool,
    /// What was quoted.
    pub(super) price: Minor,
    /// What came off.
    pub(super) discount: Minor,
    /// Day of the quote, where written down.
    pub(super) quoted_on: Option<NaiveDate>,
    /// The film job.
    pub(super) film_price: Minor,
    /// Chance of a sale before it was known how the coating would be shown.
    pub(super) expected: f64,
}

/// What a sale rests on.
#[derive(Debug)]
pub(super) struct Desk<'a> {
    /// The plan.
    pub(super) plan: &'a Plan,
    /// The price list.
    pub(super) guess: &'a Guess,
    /// Effects of the sellers on log odds.
    pub(super) sellers: Vec<f64>,
}

/// Says, in place of the law, whether a job is coated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Decided {
    /// The law decides.
    ByLaw,
    /// Coated or not, as told.
    Told(bool),
}

impl Desk<'_> {
    /// Offers the coating on a vehicle whose film is finished on `day`.
    pub(super) fn offer(
        &self,
        vehicle: &Vehicle,
        day: NaiveDate,
        today: &Today,
        decided: Decided,
        draws: &mut Draws,
    ) -> Sale {
        let law = &self.plan.law.sale;
        let mut offer = draws.of(Purpose::Offer);
        let excluded = offer.chance(law.excluded_share);
        let offered = offer.chance(law.offered) && !excluded;
        let unknown = offer.chance(law.offer_unknown);
        let seller = offer.below(self.sellers.len() as u64) as usize;
        let quote = draws.of(Purpose::Quote).between(2.0, 28.0) as u64;
        let quoted = earlier(day, quote);
        let quote_kept = draws.of(Purpose::Quote).chance(QUOTE_KEPT);
        let price = self.price(vehicle, quoted, draws);
        let shown = draws
            .of(Purpose::Sample)
            .one_of(&SAMPLES, &today.sample_share)
            .unwrap_or(Sample::None);
        let logit = self.logit(vehicle, seller, price) + today.accept_logit;
        let accept = chance_of(logit + law.sample_effect[shown.place()]);
        let luck = draws.of(Purpose::Accept).unit();
        let coated = match decided {
            Decided::ByLaw => offered && luck < accept,
            Decided::Told(coated) => coated,
        };
        let excluded = excluded && !coated;
        let offered = (offered && !excluded) || coated;
        Sale {
            excluded,
            offered: (!unknown).then_some(offered),
            sample: (!unknown && offered).then_some(shown),
            seller,
            coated,
            price,
            discount: discount(law, coated, price, draws),
            quoted_on: quote_kept.then_some(quoted),
            film_price: film_price(vehicle, draws),
            expected: expected(law, today, logit),
        }
    }

    fn logit(&self, vehicle: &Vehicle, seller: usize, price: Minor) -> f64 {
        let law = &self.plan.law.sale;
        let dear = (price.as_f64() / law.reference_price_minor as f64).ln();
        let finish: f64 = FINISHES
            .iter()
            .map(|f| law.finish_effect[f.place()] * vehicle.share(*f))
            .sum();
        let seller = self.sellers.get(seller).copied().unwrap_or(0.0);
        law.accept_logit + law.price_slope * dear + finish + seller
    }

    /// What is quoted: the list price of the dearest finish, a partial job in
    /// its share, to the next 5; now and then by a wrong line of the list.
    fn price(&self, vehicle: &Vehicle, quoted: NaiveDate, draws: &mut Draws) -> Minor {
        let law = &self.plan.law;
        let list = self.guess.in_force(quoted);
        let mut stream = draws.of(Purpose::Price);
        let wrong = stream.chance(law.sale.misquoted_share);
        let by_finish = stream.chance(0.5);
        let spread = stream.normal(law.sale.price_spread).exp();
        let forgets = stream.chance(FORGETS_MINIMUM);
        let class = if wrong && !by_finish {
            CLASSES[vehicle.class.place().saturating_sub(1)]
        } else {
            vehicle.class
        };
        let dearest = vehicle.finishes().map(|f| list.list(class, f)).max();
        let dearest = if wrong && by_finish {
            list.list(class, Finish::Gloss)
        } else {
            dearest.unwrap_or(list.list(class, vehicle.main))
        };
        let share = match vehicle.coverage {
            Coverage::Full => 1.0,
            Coverage::Partial => vehicle.covered(&law.vehicle),
        };
        let asked = (dearest.as_f64() * share * spread / 500.0).round() as i64 * 500;
        let least = if forgets { 500 } else { MINIMUM_PRICE };
        Minor(asked.max(least))
    }
}

fn chance_of(logit: f64) -> f64 {
    1.0 / (1.0 + (-logit).exp())
}

/// Chance that an eligible job is offered and sold, over the ways of showing.
fn expected(law: &SaleLaw, today: &Today, logit: f64) -> f64 {
    let by_sample = law.sample_effect.iter().zip(today.sample_share);
    law.offered
        * by_sample
            .map(|(effect, share)| share * chance_of(logit + effect))
            .sum::<f64>()
}

fn discount(law: &SaleLaw, coated: bool, price: Minor, draws: &mut Draws) -> Minor {
    let mut stream = draws.of(Purpose::Discount);
    let given = stream.chance(law.discount_share);
    let amount = stream.one_of(&DISCOUNTS, &DISCOUNT_SHARE).unwrap_or(0);
    // At most a quarter comes off a small job.
    if given && coated && amount * 4 <= price.0 {
        Minor(amount)
    } else {
        Minor::ZERO
    }
}

fn film_price(vehicle: &Vehicle, draws: &mut Draws) -> Minor {
    let around = draws.of(Purpose::FilmPrice).normal(0.1).exp();
    let exact = FILM_PRICE[vehicle.film.place()] * vehicle.area * around;
    Minor((exact / 10.0).round() as i64 * 1_000)
}
