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
    let all = f.groups.samples.iter();
    all.filter_map(|c| worth(c, per_job, months))
        .max_by_key(|w| w.monthly)
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
        jobs_a_month,
        monthly,
    })
}

/// The month's discounts; none where none was given or no quote is known.
pub fn discounts(f: &Findings) -> Option<Discounts> {
    given(&f.moved.as_ref().ok()?.jobs)
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

    #[test]
    fn luck_and_jobs_that_lose_money_are_no_reason() {
        assert_eq!(worth(&comparison(0.2, 0.3), 9_000.0, 12), None);
        assert_eq!(worth(&comparison(0.2, 0.1), -50.0, 12), None);
    }
}
