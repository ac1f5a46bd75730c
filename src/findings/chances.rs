//! What selling otherwise would be worth: the way of showing it, and the
//! discounts.
//!
//! Both are worth what the records say of like offers and no more: nobody drew
//! lots for who was shown what, and a discount may have brought the sale.

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
    /// By who sold the jobs, in order of names.
    pub sellers: Vec<SellerDiscounts>,
}

/// Discounts of one seller's jobs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SellerDiscounts {
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
    let moved = f.moved.as_ref().ok()?;
    let place = STEPS.iter().position(|t| *t == Term::Discount)?;
    let off = |j: &JobBridge| j.steps.get(place).copied().filter(|m| *m < Minor::ZERO);
    let mut by_seller: BTreeMap<&str, SellerDiscounts> = BTreeMap::new();
    for (job, taken) in moved.jobs.iter().filter_map(|j| Some((j, off(j)?))) {
        let own = by_seller.entry(&job.seller).or_insert(SellerDiscounts {
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
        of: moved.jobs.len() as u64,
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

    #[test]
    fn luck_and_jobs_that_lose_money_are_no_reason() {
        assert_eq!(worth(&comparison(0.2, 0.3), 9_000.0, 12), None);
        assert_eq!(worth(&comparison(0.2, 0.1), -50.0, 12), None);
    }
}
