//! What selling otherwise would be worth: the way of showing it, and the
//! discounts.
//!
//! Both are worth what the records say of like offers and no more: who was
//! shown what was not left to chance, and a discount may have brought the sale.

use super::Findings;
use super::bridge::{JobBridge, STEPS, Term};
use super::groups::Comparison;
use crate::estimate::Estimate;
use crate::money::Minor;
use std::collections::BTreeMap;

/// A way of showing it that more customers said yes to.
#[derive(Debug, Clone, PartialEq)]
pub struct ShowWay {
    /// The way.
    pub shown: String,
    /// The way that it is held against.
    pub against: String,
    /// More of a hundred that said yes, as a share.
    pub difference: Estimate,
    /// Offers of the window shown the other way.
    pub offers: u64,
    /// Months of the window.
    pub months: u64,
    /// It beat each of the other ways, and there are several.
    pub best: bool,
    /// Coated jobs that the difference would bring in a month.
    pub jobs_a_month: f64,
    /// What they would leave in a month, at what a coated job leaves.
    pub monthly: Minor,
}

/// Discounts of the month.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Discounts {
    /// Coated jobs that had one.
    pub jobs: u64,
    /// Coated jobs whose quote is known.
    pub of: u64,
    /// What they took off, without tax.
    pub given: Minor,
    /// By who sold the jobs, in order of shops and names.
    pub sellers: Vec<SellerDiscounts>,
    /// Those of the earlier months; `None` where they are too few.
    pub before: Option<Earlier>,
}

/// Discounts per coated job in the earlier months looked at, without tax: a
/// busy month has more of them and gives no more.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Earlier {
    /// Months.
    pub months: u64,
    /// Their mean.
    pub mean: Minor,
    /// The most of a month.
    pub most: Minor,
}

/// Earlier months from which on a month of more discounts than any of them is
/// worth a talk: by luck alone that comes about once in so many and one.
const EARLIER: usize = 6;

impl Earlier {
    fn of(months: &[f64]) -> Option<Self> {
        let n = months.len();
        (n >= EARLIER).then(|| {
            Some(Self {
                months: n as u64,
                mean: Minor::nearest(months.iter().sum::<f64>() / n as f64)?,
                most: Minor::nearest(months.iter().copied().fold(0.0, f64::max))?,
            })
        })?
    }
}

/// Share of all discounts from which on the sellers named carry them.
const CARRIED: f64 = 0.75;
/// Sellers named at most.
const NAMED: usize = 2;

impl Discounts {
    /// Per coated job.
    pub fn a_job(&self) -> Minor {
        Minor::nearest(self.given.as_f64() / self.of.max(1) as f64).unwrap_or_default()
    }

    /// True where an earlier month had as much per coated job.
    pub fn is_usual(&self) -> bool {
        self.before.is_some_and(|b| self.a_job() <= b.most)
    }

    /// Those whose jobs carry most of it, the most money first; nobody where a
    /// seller among them is not written down.
    pub fn carriers(&self) -> Vec<&SellerDiscounts> {
        let mut all: Vec<&SellerDiscounts> = self.sellers.iter().collect();
        all.sort_by_key(|s| std::cmp::Reverse(s.given));
        let mut carried = 0.0;
        let mut named = Vec::new();
        for seller in all.into_iter().take(NAMED) {
            if carried < CARRIED * self.given.as_f64() {
                carried += seller.given.as_f64();
                named.push(seller);
            }
        }
        if named.iter().any(|s| s.seller.is_empty()) {
            named.clear();
        }
        named
    }
}

/// Discounts of one seller's jobs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SellerDiscounts {
    /// The shop's key, where there are several shops: two of them may number
    /// their people alike.
    pub shop: String,
    /// Who sold them; empty where nobody is written down.
    pub seller: String,
    /// Coated jobs that had one.
    pub jobs: u64,
    /// What they took off, without tax.
    pub given: Minor,
}

/// The way of showing it with the most money behind it, where the records can
/// tell it from another way and a coated job leaves something.
pub fn show_way(f: &Findings) -> Option<ShowWay> {
    let per_job = f.margin.as_ref().ok()?.per_job.value()?;
    let months = (0..)
        .take_while(|i| f.scope.window_from.plus(*i) <= f.scope.month)
        .count() as u64;
    let all = &f.groups.samples;
    let first = all.iter().filter_map(|c| worth(c, per_job, months));
    let first = first.max_by_key(|w| w.monthly)?;
    Some(ShowWay {
        best: beats_all(&first.shown, all),
        ..first
    })
}

/// True where `way` is better than each of several others.
fn beats_all(way: &str, all: &[Comparison]) -> bool {
    let with = || all.iter().filter(|c| c.shown == way || c.against == way);
    let better = |c: &Comparison| {
        let more = c
            .difference
            .value()
            .is_some_and(|d| (d > 0.0) == (c.shown == way));
        c.tells() && more
    };
    with().count() > 1 && with().all(better)
}

fn worth(c: &Comparison, per_job: f64, months: u64) -> Option<ShowWay> {
    let difference = *c
        .difference
        .known()
        .filter(|e| c.tells() && e.value != 0.0)?;
    // The better way is named first, whichever stood first.
    let turned = difference.value < 0.0;
    let (shown, against, offers) = if turned {
        (&c.against, &c.shown, c.offers)
    } else {
        (&c.shown, &c.against, c.against_offers)
    };
    let difference = if turned {
        Estimate {
            value: -difference.value,
            low: -difference.high,
            high: -difference.low,
            ..difference
        }
    } else {
        difference
    };
    let jobs_a_month = difference.value * offers as f64 / months.max(1) as f64;
    let monthly = Minor::nearest(jobs_a_month * per_job)?;
    (monthly > Minor::ZERO).then(|| ShowWay {
        shown: shown.clone(),
        against: against.clone(),
        difference,
        offers,
        months,
        best: false,
        jobs_a_month,
        monthly,
    })
}

/// The month's discounts; none where none was given or no quote is known.
pub fn discounts(f: &Findings) -> Option<Discounts> {
    let before = f.margin.as_ref().ok().map(|m| m.discounts.as_slice());
    let given = given(&f.moved.as_ref().ok()?.jobs)?;
    Some(Discounts {
        before: before.and_then(Earlier::of),
        ..given
    })
}

fn given(jobs: &[JobBridge]) -> Option<Discounts> {
    let place = STEPS.iter().position(|t| *t == Term::Discount)?;
    let off = |j: &JobBridge| j.steps.get(place).copied().filter(|m| *m < Minor::ZERO);
    let mut by_seller: BTreeMap<[&str; 2], SellerDiscounts> = BTreeMap::new();
    for (job, taken) in jobs.iter().filter_map(|j| Some((j, off(j)?))) {
        let who = [job.shop.as_str(), job.seller.as_str()];
        let own = by_seller.entry(who).or_insert_with(|| SellerDiscounts {
            shop: job.shop.clone(),
            seller: job.seller.clone(),
            jobs: 0,
            given: Minor::ZERO,
        });
        own.jobs += 1;
        own.given += -taken;
    }
    let sellers: Vec<SellerDiscounts> = by_seller.into_values().collect();
    let given: Minor = sellers.iter().map(|s| s.given).sum();
    (given > Minor::ZERO).then(|| Discounts {
        jobs: sellers.iter().map(|s| s.jobs).sum(),
        of: jobs.len() as u64,
        given,
        sellers,
        before: None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::{Figure, NotEnough};
    use crate::findings::groups::Odds;

    fn comparison(value: f64, half: f64) -> Comparison {
        Comparison {
            shown: "full_pair".into(),
            against: "none".into(),
            offers: 60,
            against_offers: 120,
            odds_ratio: Odds::NotEnough(NotEnough::new(0, 1, "strata")),
            difference: Figure::Known(Estimate {
                value,
                low: value - half,
                high: value + half,
                level: 0.95,
                n: 180,
            }),
            strata: 4,
        }
    }

    /// By hand: 120 offers in 12 months are 10 a month; 20 more of a hundred
    /// are 2 jobs, at 90.00 each.
    #[test]
    fn the_better_way_is_worth_its_jobs_at_what_a_job_leaves() {
        let w = worth(&comparison(0.2, 0.1), 9_000.0, 12).unwrap();
        assert_eq!(
            (w.shown.as_str(), w.against.as_str()),
            ("full_pair", "none")
        );
        assert!((w.jobs_a_month - 2.0).abs() < 1e-12);
        assert_eq!(w.monthly, Minor(18_000));
        // The other way round the other way is the better one.
        let turned = worth(&comparison(-0.2, 0.1), 9_000.0, 12).unwrap();
        assert_eq!((turned.shown.as_str(), turned.offers), ("none", 60));
        assert!((turned.difference.low - 0.1).abs() < 1e-12);
    }

    /// Two shops that number their people alike have two sellers P1.
    #[test]
    fn sellers_of_two_shops_are_two() {
        let place = STEPS.iter().position(|t| *t == Term::Discount).unwrap();
        let job = |shop: &str, seller: &str, off: i64| {
            let mut steps = [Minor::ZERO; STEPS.len()];
            steps[place] = Minor(-off);
            JobBridge {
                shop: shop.into(),
                job: "J".into(),
                seller: seller.into(),
                from: Minor::ZERO,
                to: Minor::ZERO,
                steps,
            }
        };
        let jobs = [
            job("south", "P1", 300),
            job("north", "P1", 200),
            job("north", "P1", 50),
            job("north", "P2", 0),
        ];
        let found = given(&jobs).unwrap();
        let of = |s: &SellerDiscounts| (s.shop.clone(), s.seller.clone(), s.jobs, s.given);
        let sellers: Vec<_> = found.sellers.iter().map(of).collect();
        assert_eq!(
            sellers,
            [
                ("north".into(), "P1".into(), 2, Minor(250)),
                ("south".into(), "P1".into(), 1, Minor(300)),
            ]
        );
        assert_eq!((found.jobs, found.of, found.given), (3, 4, Minor(550)));
    }

    /// By hand: 100 and 65 of 175 are over three quarters, 100 alone is not.
    #[test]
    fn two_sellers_at_most_carry_the_discounts() {
        let seller = |name: &str, given: i64| SellerDiscounts {
            shop: String::new(),
            seller: name.into(),
            jobs: 1,
            given: Minor(given),
        };
        let of = |sellers: &[(&str, i64)], before: &[f64]| Discounts {
            jobs: 7,
            of: 5,
            given: sellers.iter().map(|s| Minor(s.1)).sum(),
            sellers: sellers.iter().map(|s| seller(s.0, s.1)).collect(),
            before: Earlier::of(before),
        };
        let names = |d: &Discounts| -> Vec<String> {
            d.carriers().iter().map(|s| s.seller.clone()).collect()
        };
        let three = of(&[("P7", 10), ("P8", 65), ("P9", 100)], &[]);
        assert_eq!(names(&three), ["P9", "P8"]);
        assert_eq!(names(&of(&[("P7", 10), ("P9", 100)], &[])), ["P9"]);
        assert!(names(&of(&[("", 90), ("P9", 100)], &[])).is_empty());
        // Five earlier months are too few to tell; of six the most counts.
        assert!(!three.is_usual());
        assert!(!of(&[("P9", 175)], &[40.0; 5]).is_usual());
        // 175 on five jobs are 35 a job, 180 are 36.
        let earlier = [20.0, 12.0, 35.0, 4.0, 0.0, 19.0];
        assert!(of(&[("P9", 175)], &earlier).is_usual());
        let dear = of(&[("P9", 180)], &earlier);
        assert!(!dear.is_usual());
        assert_eq!(dear.before.unwrap().mean, Minor(15));
    }

    #[test]
    fn a_way_is_for_everybody_where_it_beats_each_other_one() {
        let other = |shown: &str, against: &str, value, half| Comparison {
            shown: shown.into(),
            against: against.into(),
            ..comparison(value, half)
        };
        let pair = comparison(0.2, 0.1);
        let half = other("half_and_half", "full_pair", -0.2, 0.1);
        assert!(beats_all("full_pair", &[pair.clone(), half.clone()]));
        assert!(!beats_all("full_pair", std::slice::from_ref(&pair)));
        let luck = other("half_and_half", "full_pair", -0.2, 0.3);
        assert!(!beats_all("full_pair", &[pair.clone(), luck]));
        assert!(!beats_all("none", &[pair, half]));
    }

    #[test]
    fn luck_and_jobs_that_lose_money_are_no_reason() {
        assert_eq!(worth(&comparison(0.2, 0.3), 9_000.0, 12), None);
        assert_eq!(worth(&comparison(0.2, 0.1), -50.0, 12), None);
    }
}
