//! What coated jobs of the window earn, by class, finish, film and seller.
//!
//! When it misleads: groups differ in more than what they are named by, and
//! sellers meet different customers.

use super::FindError;
use super::groups::TWO_TONE;
use super::margin::{self, Accounted};
use super::money::JobMoney;
use crate::estimate::Figure;
use crate::fits::mean::Sample;
use crate::measures::{Measures, Sale};
use crate::money::Minor;
use foldhash::fast::RandomState;
use serde::Serialize;
use std::collections::{BTreeMap, HashMap};
use std::hash::Hash;

/// Coated jobs of the window alike in one thing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MarginGroup {
    /// What they have in common; empty where it is not recorded.
    pub name: String,
    /// Coated jobs whose money is known.
    pub jobs: u64,
    /// Net price, all of them.
    pub net_price: Minor,
    /// Left over, all of them.
    pub contribution: Minor,
    /// Left over per coated job [minor units].
    pub per_job: Figure,
    /// Left over of each unit of net price.
    pub rate: Figure,
}

/// The window's coated jobs, grouped; each list in order of names.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct MarginGroups {
    /// By shop, where there are several; not a rank.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub shop: Vec<MarginGroup>,
    /// By vehicle class.
    pub class: Vec<MarginGroup>,
    /// By finish.
    pub finish: Vec<MarginGroup>,
    /// By film.
    pub film: Vec<MarginGroup>,
    /// By seller, shop and name where there are several shops; not a rank.
    pub seller: Vec<MarginGroup>,
}

/// A coated job with its film and seller.
#[derive(Debug, Clone, Copy)]
pub struct Sold<'a> {
    /// The job and its account.
    pub job: Accounted<'a>,
    /// Film and seller.
    pub sale: Sale,
}

/// Groups the window's jobs. `names`: behind their numbers.
///
/// # Errors
/// The fit's complaint about a figure that is no number.
pub fn find(jobs: &[Sold<'_>], names: &Measures) -> Result<MarginGroups, FindError> {
    let plain = |name: &str| name.to_string();
    let seller = |(shop, name): (&str, &str)| match shop {
        "" => name.to_string(),
        shop => format!("{shop} {name}"),
    };
    let sellers = &names.sales.sellers;
    let shops = by(jobs, |s| s.job.job.shop.as_str(), plain)?;
    Ok(MarginGroups {
        shop: if shops.len() > 1 { shops } else { Vec::new() },
        class: by(jobs, |s| s.job.job.class, |n| names.classes.name(n).into())?,
        finish: by(jobs, |s| finish(s, names), plain)?,
        film: by(jobs, |s| s.sale.film, |n| names.sales.films.name(n).into())?,
        seller: by(
            jobs,
            |s| (s.job.job.shop.as_str(), s.sale.seller),
            |(shop, number)| seller((shop, sellers.name(number))),
        )?,
    })
}

fn finish<'a>(s: &Sold<'_>, names: &'a Measures) -> &'a str {
    match s.job.job.parts.as_slice() {
        [] => "",
        [one] => names.finishes.name(one.finish),
        _ => TWO_TONE,
    }
}

fn by<'a, K: Ord + Hash + Copy>(
    jobs: &'a [Sold<'_>],
    key: impl Fn(&'a Sold<'_>) -> K,
    name: impl Fn(K) -> String,
) -> Result<Vec<MarginGroup>, FindError> {
    let mut places: HashMap<K, usize, RandomState> = HashMap::default();
    let mut all: Vec<(K, Earned)> = Vec::new();
    for sold in jobs {
        if let Some(account) = sold.job.account {
            let key = key(sold);
            let place = *places.entry(key).or_insert(all.len());
            if place == all.len() {
                all.push((key, Earned::default()));
            }
            all[place].1.add(&account.money);
        }
    }
    all.sort_by_key(|(key, _)| *key);
    let mut named: BTreeMap<String, Earned> = BTreeMap::new();
    for (key, of) in all {
        named.entry(name(key)).or_default().extend(of);
    }
    let groups = named.into_iter();
    groups.map(|(name, of)| group(name, &of)).collect()
}

/// What the jobs of a group earn, job by job [minor units].
#[derive(Debug, Default)]
struct Earned {
    net_price: Minor,
    contribution: Minor,
    prices: Vec<f64>,
    left: Vec<f64>,
}

impl Earned {
    fn add(&mut self, money: &JobMoney) {
        let left = money.contribution();
        self.net_price += money.net_price;
        self.contribution += left;
        self.prices.push(money.net_price.as_f64());
        self.left.push(left.as_f64());
    }

    fn extend(&mut self, more: Self) {
        self.net_price += more.net_price;
        self.contribution += more.contribution;
        self.prices.extend(more.prices);
        self.left.extend(more.left);
    }
}

fn group(name: String, earned: &Earned) -> Result<MarginGroup, FindError> {
    let each = Sample::of(earned.left.iter().copied())?;
    Ok(MarginGroup {
        name,
        jobs: each.n,
        net_price: earned.net_price,
        contribution: earned.contribution,
        per_job: margin::figure(each.estimate(margin::LEVEL))?,
        rate: margin::ratio(&earned.left, &earned.prices)?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::money::{Account, Rates};
    use crate::measures::{CoatedJob, Part};
    use crate::settings::month::Month;

    fn job(finishes: &[u32]) -> CoatedJob {
        let month = Month::parse("2026-10").unwrap();
        let part = |f: &u32| Part {
            finish: *f,
            area: 10.0,
        };
        CoatedJob {
            shop: "".into(),
            job: "J".into(),
            month,
            class: 0,
            full: Some(true),
            parts: finishes.iter().map(part).collect(),
            price: Some(Minor(30_000)),
            discount: Minor::ZERO,
            priced_on: month.first(),
            people: 1,
            person: None,
            minutes: None,
            used: None,
            reworked: None,
        }
    }

    fn account(left: i64) -> Account {
        Account {
            money: JobMoney {
                net_price: Minor(30_000),
                coating: Minor(30_000 - left),
                ..JobMoney::default()
            },
            use_estimated: false,
            minutes_estimated: false,
            charged: Minor(30_000),
            use_ml: 30.0,
            minutes: 40.0,
            rates: Rates {
                per_ml: 1.0,
                wage: 1.0,
            },
        }
    }

    /// By hand: gloss 100.00 and 140.00, two-tone 50.00, none 80.00; one job's
    /// money is not known. Whatever the grouping, the sums are 370.00.
    #[test]
    fn every_grouping_adds_up_to_the_same_money() {
        let mut names = Measures::default();
        names.classes.number("suv");
        names.finishes.number("gloss");
        names.finishes.number("matte");
        let (film, seller) = (
            names.sales.films.number("printed"),
            names.sales.sellers.number("P1"),
        );
        let jobs = [job(&[0]), job(&[0]), job(&[0, 1]), job(&[]), job(&[1])];
        let money = [Some(10_000), Some(14_000), Some(5_000), Some(8_000), None];
        let sold = |(job, left): (&'_ CoatedJob, Option<i64>)| (job.clone(), left.map(account));
        let both: Vec<_> = jobs.iter().zip(money).map(sold).collect();
        let sold: Vec<Sold<'_>> = (both.iter())
            .map(|(job, account)| Sold {
                job: Accounted {
                    job,
                    account: account.as_ref(),
                },
                sale: Sale { film, seller },
            })
            .collect();
        let g = find(&sold, &names).unwrap();
        for groups in [&g.class, &g.finish, &g.film, &g.seller] {
            assert_eq!(
                groups.iter().map(|x| x.contribution).sum::<Minor>(),
                Minor(37_000)
            );
            assert_eq!(groups.iter().map(|x| x.jobs).sum::<u64>(), 4);
        }
        let finishes: Vec<&str> = g.finish.iter().map(|x| x.name.as_str()).collect();
        assert_eq!(finishes, ["", "gloss", "two-tone"]);
        let gloss = &g.finish[1];
        assert_eq!(gloss.per_job.value(), Some(12_000.0));
        assert_eq!(gloss.rate.value(), Some(0.4));
        assert!(
            g.finish[0].per_job.known().is_none(),
            "one job has no interval"
        );
    }
}
