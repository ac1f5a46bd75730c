//! The shops of a chain beside each other: what each sells, uses, takes and
//! gets back, each drawn towards the chain's usual by how little its own jobs
//! say. Never ranks; one rule decides what is said of any of them.
//!
//! The figures come from the fits; the thresholds are named here.
//!
//! When it misleads: shops meet different customers, and a shop's figures hold
//! its people. Coating and minutes are held against the same work; the share
//! sold and what came back are not.

mod limits;

use super::FindError;
use crate::estimate::{Estimate, Figure, NotEnough};
use crate::fits::discovery::{Rule, by_chance};
pub use limits::{Counts, Limits, callbacks, sold};

/// A shop is spoken of from so many jobs of a kind.
pub const LEAST_JOBS: u64 = 8;
/// How far over or under the chain's usual coating, time and the share sold
/// count as far.
pub const FAR: f64 = 0.10;
/// The same for jobs that came back: they are few, and a tenth more of few is
/// nothing.
pub const FAR_BACK: f64 = 0.50;
/// The true slowness for which it is said how often it would be seen.
pub const LOOKED_FOR: f64 = 0.20;

/// One figure of a shop, drawn towards the chain's.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// The figure, where jobs are enough to speak of.
    pub figure: Figure,
    /// Chance that it lies far over the chain's.
    pub above: f64,
    /// Chance that it lies far under it.
    pub below: f64,
}

impl Held {
    /// What is missing.
    pub fn missing(have: u64, of: &str) -> Self {
        Self {
            figure: NotEnough::new(have, LEAST_JOBS, of).into(),
            above: 0.0,
            below: 0.0,
        }
    }
}

/// A constant of the chain as one shop bears it out.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnConstant {
    /// Which.
    pub constant: Constant,
    /// The finish or class.
    pub key: String,
    /// The shop's, drawn towards the chain's; `n` is its jobs on that finish
    /// or class.
    pub own: Estimate,
    /// The chain's, shops pooled.
    pub chain: f64,
}

/// Constants that shops have of their own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Constant {
    /// Coating by finish [mL/m²].
    MlPerM2,
    /// Typical minutes of a full job on the smoothest finish, by class.
    Minutes,
}

/// What is said of a shop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Said {
    /// More coating than the same work usually takes in the chain.
    UsesMore,
    /// Less coating.
    UsesLess,
    /// Longer on the same work.
    TakesLonger,
    /// Quicker on the same work.
    TakesLess,
    /// Sells the coating on more of its film jobs.
    SellsMore,
    /// On fewer.
    SellsLess,
    /// More of its coated jobs come back.
    ComesBackMore,
}

/// One shop over the window.
#[derive(Debug, Clone, PartialEq)]
pub struct Shop {
    /// Its key.
    pub name: String,
    /// Film jobs that the coating suits, and those of them that were coated.
    pub offered: Counts,
    /// The share sold. Its own share and where chance alone puts it stand in
    /// `offered` and [`Shops::sold_limits`].
    pub sold: Held,
    /// The share as it stands lies outside what chance makes of the chain's.
    pub sold_outside: bool,
    /// Measured jobs in the fit.
    pub measured: u64,
    /// Coating over what the same work usually takes in the chain.
    pub used: Held,
    /// Timed jobs in the fit.
    pub timed: u64,
    /// Minutes over what the same work usually takes in the chain.
    pub time: Held,
    /// Coated jobs, and those that came back for coating work.
    pub coated: Counts,
    /// The share that came back.
    pub back: Held,
    /// Its own constants; none beyond the shops with most jobs.
    pub constants: Vec<OwnConstant>,
    /// What is said of it, in the order of [`Said`].
    pub said: Vec<Said>,
}

impl Shop {
    /// Jobs of some kind enough to speak of.
    pub fn spoken_of(&self) -> bool {
        let figures = [&self.sold, &self.used, &self.time, &self.back];
        figures.iter().any(|h| h.figure.known().is_some())
    }

    /// All that could be said, with its chance.
    fn chances(&self) -> [(Said, f64); 7] {
        [
            (Said::UsesMore, self.used.above),
            (Said::UsesLess, self.used.below),
            (Said::TakesLonger, self.time.above),
            (Said::TakesLess, self.time.below),
            (Said::SellsMore, self.sold.above),
            (Said::SellsLess, self.sold.below),
            (Said::ComesBackMore, self.back.above),
        ]
    }
}

/// How often this chain would notice a shop truly [`LOOKED_FOR`] slow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sight {
    /// Timed jobs of the shop imagined: the middle number of those spoken of.
    pub jobs: u64,
    /// Chains simulated.
    pub chains: u32,
    /// Share of them in which the shop is raised.
    pub noticed: f64,
}

impl Sight {
    /// Times in ten: some dozens of chains tell no more.
    pub fn in_ten(&self) -> u64 {
        (10.0 * self.noticed).round().clamp(0.0, 10.0) as u64
    }
}

/// The chain as a whole.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Whole {
    /// The share of film jobs sold: the plain mean of the shops spoken of.
    pub sold_usual: Option<Estimate>,
    /// Film jobs that the coating suits and those coated, of all shops.
    pub sold: Counts,
    /// Limits of chance about the share of all of them, at rising numbers of
    /// jobs.
    pub sold_limits: Vec<Limits>,
    /// The share of coated jobs that came back, likewise, of the shops that
    /// write callbacks down.
    pub back_usual: Option<Estimate>,
    /// Standard deviation between shops' use, as a share of the usual.
    pub used_between: Option<Estimate>,
    /// Standard deviation between shops' minutes, log scale.
    pub time_between: Option<Estimate>,
    /// What a chain of this size could have seen.
    pub sight: Option<Sight>,
    /// Scale of the prior of both spreads.
    pub prior_scale: f64,
}

/// The section's findings.
#[derive(Debug, Clone, PartialEq)]
pub struct Shops {
    /// In order of names; one alone where the review is of that shop.
    pub shops: Vec<Shop>,
    /// Shops of the chain.
    pub count: u64,
    /// Shops with jobs enough to speak of.
    pub spoken_of: u64,
    /// Shops of which something is said.
    pub pointed_at: u64,
    /// Mean chance of being wrong about what is said.
    pub mean_error: f64,
    /// The chain.
    pub whole: Whole,
}

impl Shops {
    /// How one shop stands; `None` where it is not among them.
    pub fn only(&self, name: &str) -> Option<Self> {
        let shop = self.shops.iter().find(|s| s.name == name)?;
        Some(Self {
            shops: vec![shop.clone()],
            whole: self.whole.clone(),
            ..*self
        })
    }

    /// True where the review is of one shop of the chain.
    pub fn is_of_one(&self) -> bool {
        (self.shops.len() as u64) < self.count
    }
}

/// Says what is to be said of each shop: of everything that could be said of
/// any of them, what is most likely true first, as long as the mean error
/// stays within the rule's.
///
/// # Errors
/// Where a chance is not one.
pub fn find(mut shops: Vec<Shop>, whole: Whole) -> Result<Shops, FindError> {
    let all: Vec<[(Said, f64); 7]> = shops.iter().map(Shop::chances).collect();
    let chances: Vec<f64> = all.iter().flatten().map(|(_, chance)| *chance).collect();
    let found = by_chance(&chances, Rule::default())?;
    for ((shop, own), raised) in (shops.iter_mut().zip(&all)).zip(found.raised.chunks(7)) {
        let those = own.iter().zip(raised).filter(|(_, raised)| **raised);
        shop.said = those.map(|((said, _), _)| *said).collect();
    }
    let count = |of: fn(&Shop) -> bool| shops.iter().filter(|s| of(s)).count() as u64;
    Ok(Shops {
        count: shops.len() as u64,
        spoken_of: count(Shop::spoken_of),
        pointed_at: count(|s| !s.said.is_empty()),
        mean_error: found.mean_error,
        shops,
        whole,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn held(above: f64, below: f64) -> Held {
        Held {
            figure: Figure::Known(Estimate {
                value: 1.0,
                low: 0.9,
                high: 1.1,
                level: 0.95,
                n: 40,
            }),
            above,
            below,
        }
    }

    fn shop(name: &str, used: Held, sold: Held) -> Shop {
        Shop {
            name: name.into(),
            offered: Counts { yes: 20, of: 40 },
            sold,
            sold_outside: false,
            measured: 20,
            used,
            timed: 0,
            time: Held::missing(0, "timed jobs"),
            coated: Counts { yes: 0, of: 20 },
            back: Held::missing(0, "coated jobs"),
            constants: Vec::new(),
            said: Vec::new(),
        }
    }

    #[test]
    fn what_is_said_stays_within_the_mean_error_over_all_shops() {
        let shops = vec![
            shop("A", held(0.99, 0.0), held(0.0, 0.85)),
            shop("B", held(0.79, 0.0), held(0.0, 0.0)),
            shop("C", held(0.0, 0.82), held(0.0, 0.0)),
        ];
        let found = find(shops, Whole::default()).unwrap();
        // 0.01 and 0.15 make a mean of 0.08; the 0.18 of C would make 0.113.
        assert_eq!(found.shops[0].said, [Said::UsesMore, Said::SellsLess]);
        assert!(found.shops[1].said.is_empty(), "under the least chance");
        assert!(found.shops[2].said.is_empty(), "over the mean error");
        assert!((found.mean_error - 0.08).abs() < 1e-12);
        assert_eq!((found.count, found.pointed_at, found.spoken_of), (3, 1, 3));
    }

    #[test]
    fn one_shop_of_a_chain_keeps_the_chains_figures_and_no_other_shops() {
        let shops = vec![
            shop("A", held(0.9, 0.0), held(0.0, 0.0)),
            shop("B", held(0.0, 0.0), held(0.0, 0.0)),
        ];
        let all = find(shops, Whole::default()).unwrap();
        let one = all.only("B").unwrap();
        assert!(one.is_of_one() && !all.is_of_one());
        assert_eq!((one.shops.len(), one.count), (1, 2));
        assert_eq!(one.shops[0].name, "B");
        assert!(all.only("C").is_none());
    }

    #[test]
    fn no_shop_at_all_is_no_error() {
        let none = find(Vec::new(), Whole::default()).unwrap();
        assert_eq!((none.count, none.mean_error), (0, 0.0));
    }
}
