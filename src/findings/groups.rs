//! Who takes the coating: by film, finish, class and seller, and by how the
//! sample was shown.
//!
//! Groups have Wilson's intervals. Sellers are drawn towards the common rate
//! by how little their own offers say ([`crate::fits::shrink`]), stand by name
//! and are never ranked. Samples are compared on the same finishes and
//! sellers: Mantel and Haenszel's odds ratio and difference over strata of
//! finish and seller, the difference with its score interval
//! ([`crate::fits::stratified`]).
//!
//! When it misleads: nobody drew lots for who was shown what.

use super::FindError;
use super::attach::{LEAST_ELIGIBLE, LEVEL};
use crate::estimate::{Estimate, Figure, NotEnough};
use crate::fits::error::FitError;
use crate::fits::proportion;
use crate::fits::shrink::{self, Count};
use crate::fits::stratified::{self, OddsRatio, Stratum};
use crate::measures::OfferCount;
use serde::Serialize;
use std::collections::BTreeMap;

/// Least number of offers for which a person is spoken of.
pub const LEAST_OFFERS: u64 = 8;
/// Least number of offers, on finishes and sellers that know both ways, for a
/// difference of two ways of showing it. Its interval holds the truth 95 to 98
/// times in 100 from 20 of them on; under this it spans most of all customers
/// and says nothing.
pub const LEAST_COMPARED: u64 = 40;
/// The finish of work that carries several.
pub const TWO_TONE: &str = "two-tone";

/// Film jobs of the window alike in one thing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Group {
    /// What they have in common; empty where it is not recorded.
    pub name: String,
    /// Film jobs that the coating suits.
    pub eligible: u64,
    /// Known to have been offered.
    pub offered: u64,
    /// Coated.
    pub coated: u64,
    /// Coated among offered.
    pub accepted: u64,
    /// Coated / eligible.
    pub rate: Figure,
    /// Coated / offered, among jobs known to have been offered.
    pub acceptance: Figure,
}

/// A seller's offers.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Seller {
    /// The shop's key.
    pub shop: String,
    /// The person.
    pub person: String,
    /// Known to have been offered.
    pub offered: u64,
    /// Coated among them.
    pub accepted: u64,
    /// The share likely to be theirs, drawn towards everybody's.
    pub acceptance: Figure,
}

/// The odds ratio of two ways of showing it.
#[derive(Debug, Clone, PartialEq)]
pub enum Odds {
    /// With its interval.
    Known(Estimate),
    /// Only the lower end of its interval exists.
    AtLeast(f64),
    /// Only the upper end of its interval exists.
    AtMost(f64),
    /// No finish and seller with both ways and both answers.
    NotEnough(NotEnough),
}

/// Two ways of showing it, on the same finishes and sellers.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// The way.
    pub shown: String,
    /// The way that it is held against.
    pub against: String,
    /// Offers shown the first way.
    pub offers: u64,
    /// Offers shown the other way.
    pub against_offers: u64,
    /// Odds ratio.
    pub odds_ratio: Odds,
    /// Difference of the shares that said yes.
    pub difference: Figure,
    /// Finishes and sellers that inform the odds ratio.
    pub strata: u64,
}

impl Comparison {
    /// True where the interval of the difference excludes none.
    pub fn tells(&self) -> bool {
        self.difference.known().is_some_and(|e| !e.holds(0.0))
    }
}

/// The groups' findings.
#[derive(Debug, Clone, PartialEq)]
pub struct Groups {
    /// By shop, where there are several; in order of their names, no rank.
    pub shop: Vec<Group>,
    /// By film.
    pub film: Vec<Group>,
    /// By finish.
    pub finish: Vec<Group>,
    /// By vehicle class.
    pub class: Vec<Group>,
    /// By how the sample was shown.
    pub sample: Vec<Group>,
    /// By seller, in order of their names.
    pub sellers: Vec<Seller>,
    /// Everybody's acceptance, towards which sellers are drawn.
    pub common: Figure,
    /// Samples against each other.
    pub samples: Vec<Comparison>,
    /// Coated, though written down as not offered.
    pub coated_refused: u64,
    /// Film jobs whose seller is not recorded.
    pub without_seller: u64,
    /// Offers of which it is not recorded how they were shown.
    pub without_sample: u64,
}

/// Finds how often each group takes the coating.
///
/// # Errors
/// None on counts; the fits' complaint otherwise.
pub fn find(offers: &[OfferCount]) -> Result<Groups, FindError> {
    let (sellers, common) = sellers(offers)?;
    let of = |keep: &dyn Fn(&OfferCount) -> bool, n: fn(&OfferCount) -> u64| -> u64 {
        offers.iter().filter(|o| keep(o)).map(n).sum()
    };
    Ok(Groups {
        shop: several(groups(offers, |o| &o.shop)?),
        film: groups(offers, |o| &o.film)?,
        finish: groups(offers, finish_of)?,
        class: groups(offers, |o| &o.class)?,
        sample: groups(offers, |o| &o.sample)?,
        sellers,
        common,
        samples: samples(offers)?,
        coated_refused: of(&|_| true, |o| o.coated_refused),
        without_seller: of(&|o| o.seller.is_empty(), |o| o.eligible),
        without_sample: of(&|o| o.sample.is_empty(), |o| o.offered),
    })
}

/// One shop alone stands beside none.
fn several(shops: Vec<Group>) -> Vec<Group> {
    if shops.len() > 1 { shops } else { Vec::new() }
}

fn finish_of(o: &OfferCount) -> &str {
    if o.two_tone { TWO_TONE } else { &o.finish }
}

fn share(yes: u64, of: u64, what: &str) -> Result<Figure, FindError> {
    if of < LEAST_ELIGIBLE {
        return Ok(NotEnough::new(of, LEAST_ELIGIBLE, what).into());
    }
    Ok(proportion::wilson(yes, of, LEVEL)?.into())
}

fn groups(offers: &[OfferCount], by: fn(&OfferCount) -> &str) -> Result<Vec<Group>, FindError> {
    let mut counts: BTreeMap<&str, [u64; 4]> = BTreeMap::new();
    for o in offers {
        let to = counts.entry(by(o)).or_default();
        for (sum, n) in to
            .iter_mut()
            .zip([o.eligible, o.offered, o.coated, o.coated_offered])
        {
            *sum += n;
        }
    }
    let group = |(name, [eligible, offered, coated, accepted]): (&str, [u64; 4])| {
        Ok(Group {
            name: name.to_string(),
            eligible,
            offered,
            coated,
            accepted,
            rate: share(coated, eligible, "film jobs that the coating suits")?,
            acceptance: share(accepted, offered, "jobs known to have been offered")?,
        })
    };
    counts.into_iter().map(group).collect()
}

fn sellers(offers: &[OfferCount]) -> Result<(Vec<Seller>, Figure), FindError> {
    let mut counts: BTreeMap<(&str, &str), Count> = BTreeMap::new();
    for o in offers.iter().filter(|o| !o.seller.is_empty()) {
        let to = counts
            .entry((&o.shop, &o.seller))
            .or_insert(Count { yes: 0, of: 0 });
        *to = Count {
            yes: to.yes + o.coated_offered,
            of: to.of + o.offered,
        };
    }
    let each: Vec<Count> = counts.values().copied().collect();
    let rates = match shrink::rates(&each, shrink::Params::default()) {
        Ok(rates) => Some(rates),
        Err(FitError::NotEnough(_)) => None,
        Err(other) => return Err(other.into()),
    };
    let acceptance = |i: usize, c: &Count| match &rates {
        _ if c.of < LEAST_OFFERS => NotEnough::new(c.of, LEAST_OFFERS, "offers").into(),
        Some(r) => Figure::Known(r.each[i].shrunk),
        None => NotEnough::new(1, 2, "sellers with offers").into(),
    };
    let seller = |(i, ((shop, person), c)): (usize, (&(&str, &str), &Count))| Seller {
        shop: (*shop).to_string(),
        person: (*person).to_string(),
        offered: c.of,
        accepted: c.yes,
        acceptance: acceptance(i, c),
    };
    let common = rates.as_ref().map_or_else(
        || NotEnough::new(1, 2, "sellers with offers").into(),
        |r| Figure::Known(r.common),
    );
    Ok((counts.iter().enumerate().map(seller).collect(), common))
}

/// The contract's ways of showing it come first, the fullest before the
/// barest, so that comparisons read "more shown against less".
fn place(sample: &str) -> usize {
    let known = ["full_pair", "half_and_half"];
    match sample {
        "none" => usize::MAX,
        other => known
            .iter()
            .position(|k| *k == other)
            .unwrap_or(known.len()),
    }
}

fn samples(offers: &[OfferCount]) -> Result<Vec<Comparison>, FindError> {
    let shown = offers
        .iter()
        .filter(|o| o.offered > 0 && !o.sample.is_empty());
    let mut ways: Vec<&str> = shown.map(|o| o.sample.as_str()).collect();
    ways.sort_by_key(|w| (place(w), *w));
    ways.dedup();
    let pairs = (0..ways.len()).flat_map(|a| (a + 1..ways.len()).map(move |b| (a, b)));
    pairs
        .map(|(a, b)| comparison(offers, ways[a], ways[b]))
        .collect()
}

fn comparison(offers: &[OfferCount], shown: &str, against: &str) -> Result<Comparison, FindError> {
    let mut strata: BTreeMap<(&str, &str, &str), Stratum> = BTreeMap::new();
    for o in offers
        .iter()
        .filter(|o| o.sample == shown || o.sample == against)
    {
        let key = (finish_of(o), o.shop.as_str(), o.seller.as_str());
        let s = strata.entry(key).or_insert_with(|| Stratum {
            name: format!("{}, {}", key.0, key.2),
            a_yes: 0,
            a_offers: 0,
            b_yes: 0,
            b_offers: 0,
        });
        if o.sample == shown {
            s.a_yes += o.coated_offered;
            s.a_offers += o.offered;
        } else {
            s.b_yes += o.coated_offered;
            s.b_offers += o.offered;
        }
    }
    let strata: Vec<Stratum> = strata.into_values().collect();
    let pooled = stratified::pool(&strata, LEVEL)?;
    Ok(Comparison {
        shown: shown.to_string(),
        against: against.to_string(),
        offers: strata.iter().map(|s| s.a_offers).sum(),
        against_offers: strata.iter().map(|s| s.b_offers).sum(),
        odds_ratio: match pooled.odds_ratio {
            OddsRatio::Known(e) => Odds::Known(e),
            OddsRatio::AtLeast { low, .. } => Odds::AtLeast(low),
            OddsRatio::AtMost { high, .. } => Odds::AtMost(high),
            OddsRatio::NotEnough(n) => Odds::NotEnough(n),
        },
        difference: match pooled.difference {
            Figure::Known(e) if e.n < LEAST_COMPARED => NotEnough::new(
                e.n,
                LEAST_COMPARED,
                "offers on the same finishes and sellers",
            )
            .into(),
            other => other,
        },
        strata: pooled.strata_used as u64,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn offer(finish: &str, seller: &str, sample: &str, offered: u64, accepted: u64) -> OfferCount {
        OfferCount {
            finish: finish.into(),
            seller: seller.into(),
            sample: sample.into(),
            eligible: offered,
            offered,
            coated: accepted,
            coated_offered: accepted,
            ..OfferCount::default()
        }
    }

    #[test]
    fn a_seller_with_one_offer_and_a_finish_nobody_bought_are_said() {
        let all = [
            offer("gloss", "P1", "full_pair", 30, 18),
            offer("gloss", "P2", "none", 1, 1),
            offer("matte", "P1", "none", 12, 0),
        ];
        let g = find(&all).unwrap();
        assert_eq!(g.sellers.len(), 2);
        assert!(g.sellers[0].acceptance.known().is_some());
        let few = Figure::NotEnough(NotEnough::new(1, LEAST_OFFERS, "offers"));
        assert_eq!(g.sellers[1].acceptance, few);
        let matte = g.finish.iter().find(|x| x.name == "matte").unwrap();
        let rate = matte.rate.known().unwrap();
        assert!(rate.value == 0.0 && rate.high > 0.1);
        // Nobody was shown both ways on one finish by one seller.
        assert!(g.samples[0].difference.known().is_none());
    }

    #[test]
    fn sellers_stand_by_name_and_a_lone_one_is_not_held_against_himself() {
        let all = [
            offer("gloss", "P9", "none", 40, 30),
            offer("gloss", "P10", "none", 40, 10),
            offer("gloss", "", "none", 5, 1),
        ];
        let g = find(&all).unwrap();
        let names: Vec<&str> = g.sellers.iter().map(|s| s.person.as_str()).collect();
        assert_eq!(names, ["P10", "P9"]);
        assert_eq!(g.without_seller, 5);
        let lone = find(&all[..1]).unwrap();
        assert!(lone.sellers[0].acceptance.known().is_none());
    }

    #[test]
    fn samples_are_compared_fullest_first_and_only_on_the_same_finish_and_seller() {
        let all = [
            offer("gloss", "P1", "none", 40, 10),
            offer("gloss", "P1", "full_pair", 40, 24),
            offer("matte", "P2", "half_and_half", 20, 12),
            offer("gloss", "P1", "", 20, 12),
        ];
        let g = find(&all).unwrap();
        let pair = |c: &Comparison| (c.shown.clone(), c.against.clone());
        let pairs: Vec<_> = g.samples.iter().map(pair).collect();
        let expected = [
            ("full_pair", "half_and_half"),
            ("full_pair", "none"),
            ("half_and_half", "none"),
        ];
        assert_eq!(pairs, expected.map(|(a, b)| (a.to_string(), b.to_string())));
        assert!((g.samples[1].difference.value().unwrap() - 0.35).abs() < 1e-12);
        assert!(g.samples[1].tells());
        assert!(
            g.samples[0].difference.known().is_none() && g.samples[2].difference.known().is_none()
        );
        assert_eq!(g.without_sample, 20);
        let few = [
            offer("gloss", "P1", "none", 19, 2),
            offer("gloss", "P1", "full_pair", 20, 18),
        ];
        let few = find(&few).unwrap();
        assert!(few.samples[0].difference.known().is_none() && !few.samples[0].tells());
    }

    #[test]
    fn a_way_of_the_shops_own_stands_between_the_half_and_none() {
        let mut ways = ["none", "video", "half_and_half", "album", "full_pair"];
        ways.sort_by_key(|w| (place(w), *w));
        assert_eq!(
            ways,
            ["full_pair", "half_and_half", "album", "video", "none"]
        );
    }

    #[test]
    fn splitting_by_shop_leaves_groups_alone_but_keeps_people_of_one_name_apart() {
        let mut two = [
            offer("gloss", "P1", "none", 20, 5),
            offer("gloss", "P1", "none", 20, 15),
        ];
        let one = find(&two).unwrap();
        two[1].shop = "B".into();
        let split = find(&two).unwrap();
        assert_eq!(one.finish, split.finish);
        assert_eq!((one.sellers.len(), split.sellers.len()), (1, 2));
    }
}
