//! What coated jobs of the window earn, by class, finish, film and seller.
//!
//! When it misleads: groups differ in more than what they are named by, and
//! sellers meet different customers.

use super::FindError;
use super::groups::TWO_TONE;
use super::margin::{self, Accounted};
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

/// What one job of known money comes to.
#[derive(Debug, Clone, Copy)]
struct Left {
    net_price: Minor,
    contribution: Minor,
}

/// A job and what it comes to.
type Known<'a> = (&'a Sold<'a>, Left);

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
    let jobs: Vec<Known<'_>> = jobs.iter().filter_map(known).collect();
    let sellers = &names.sales.sellers;
    let shops = by(&jobs, |s| s.job.job.shop.as_str(), plain)?;
    Ok(MarginGroups {
        shop: if shops.len() > 1 { shops } else { Vec::new() },
        class: by(&jobs, |s| names.classes.name(s.job.job.class), plain)?,
        finish: by(&jobs, |s| finish(s, names), plain)?,
        film: by(&jobs, |s| names.sales.films.name(s.sale.film), plain)?,
        seller: by(
            &jobs,
            |s| (s.job.job.shop.as_str(), sellers.name(s.sale.seller)),
            seller,
        )?,
    })
}

fn known<'a>(sold: &'a Sold<'a>) -> Option<Known<'a>> {
    let money = sold.job.account?.money;
    let left = Left {
        net_price: money.net_price,
        contribution: money.contribution(),
    };
    Some((sold, left))
}

fn finish<'a>(s: &Sold<'_>, names: &'a Measures) -> &'a str {
    match s.job.job.parts.as_slice() {
        [] => "",
        [one] => names.finishes.name(one.finish),
        _ => TWO_TONE,
    }
}

fn by<'a, K: Ord>(
    jobs: &[Known<'a>],
    key: impl Fn(&'a Sold<'a>) -> K,
    name: impl Fn(K) -> String,
) -> Result<Vec<MarginGroup>, FindError> {
    let mut groups: BTreeMap<K, Vec<Left>> = BTreeMap::new();
    for (sold, left) in jobs {
        groups.entry(key(sold)).or_default().push(*left);
    }
    let mut named: BTreeMap<String, Vec<Left>> = BTreeMap::new();
    for (key, mut of) in groups {
        named.entry(name(key)).or_default().append(&mut of);
    }
    let groups = named.into_iter();
    groups.map(|(name, of)| group(name, &of)).collect()
}

fn group(name: String, jobs: &[Left]) -> Result<MarginGroup, FindError> {
    let net_prices: Vec<f64> = jobs.iter().map(|l| l.net_price.as_f64()).collect();
    let left: Vec<f64> = jobs.iter().map(|l| l.contribution.as_f64()).collect();
    Ok(MarginGroup {
        name,
        jobs: jobs.len() as u64,
        net_price: jobs.iter().map(|l| l.net_price).sum(),
        contribution: jobs.iter().map(|l| l.contribution).sum(),
        per_job: margin::figure(Sample::of(left.iter().copied())?.estimate(margin::LEVEL))?,
        rate: margin::ratio_of(&left, &net_prices)?,
    })
}
