//! What coated jobs of the window earn, by class, finish, film and seller.
//!
//! When it misleads: groups differ in more than what they are named by, and
//! sellers meet different customers.

use super::FindError;
use super::groups::TWO_TONE;
use super::margin::{self, Accounted};
use super::money::{Account, JobMoney};
use crate::estimate::Figure;
use crate::fits::mean::Sample;
use crate::measures::{Measures, Sale};
use crate::money::Minor;
use serde::Serialize;
use std::collections::BTreeMap;

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
        class: by(jobs, |s| names.classes.name(s.job.job.class), plain)?,
        finish: by(jobs, |s| finish(s, names), plain)?,
        film: by(jobs, |s| names.sales.films.name(s.sale.film), plain)?,
        seller: by(
            jobs,
            |s| (s.job.job.shop.as_str(), sellers.name(s.sale.seller)),
            seller,
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

fn by<'a, K: Ord>(
    jobs: &'a [Sold<'_>],
    key: impl Fn(&'a Sold<'_>) -> K,
    name: impl Fn(K) -> String,
) -> Result<Vec<MarginGroup>, FindError> {
    let mut accounts: BTreeMap<K, Vec<Account>> = BTreeMap::new();
    for sold in jobs {
        if let Some(account) = sold.job.account {
            accounts.entry(key(sold)).or_default().push(account);
        }
    }
    let mut named: BTreeMap<String, Vec<Account>> = BTreeMap::new();
    for (key, of) in accounts {
        named.entry(name(key)).or_default().extend(of);
    }
    let groups = named.into_iter();
    groups.map(|(name, of)| group(name, &of)).collect()
}

fn group(name: String, accounts: &[Account]) -> Result<MarginGroup, FindError> {
    let total: JobMoney = accounts.iter().map(|a| a.money).sum();
    let each = accounts.iter().map(|a| a.money.contribution().as_f64());
    Ok(MarginGroup {
        name,
        jobs: accounts.len() as u64,
        net_price: total.net_price,
        contribution: total.contribution(),
        per_job: margin::figure(Sample::of(each)?.estimate(margin::LEVEL))?,
        rate: margin::ratio(accounts, |a| a.money.net_price.as_f64())?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::money::Rates;
    use crate::measures::{CoatedJob, Part, Rework};
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
            rework: Rework::default(),
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
                    account: *account,
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
