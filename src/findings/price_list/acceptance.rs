//! What mending an entry would have left if customers had answered to the
//! dearer price as they did to others.
//!
//! ```text
//! left = sum over the window's jobs of  A(new) / A(list) c(new) - c(list)
//! c    = charged less tax, card fees and the job's share of the expected cost
//! ```
//!
//! A: share of offers accepted at a multiple of today's list price, over the
//! mix of all offers, by [`crate::findings::price`], between the points of its
//! curve on a straight line. A job that is not sold takes no coating and no time,
//! so c is what is left after costs; with A(new) = A(list) it comes to what the
//! entry would have brought at the same sales.
//!
//! It misleads where A does: nobody drew lots for who was asked what, and one
//! curve stands for every class and finish. A partial job's cost is taken as its
//! share of a full one's. Nothing is said outside the prices tried.

use super::super::price::PriceCurve;
use super::{Candidate, charged};
use crate::estimate::NotEnough;
use crate::findings::floor::Basis;
use crate::findings::money::without_tax;
use crate::money::Minor;

/// Share of offers accepted at a multiple of the list price; `None` outside
/// the range tried.
fn accepted(curve: &PriceCurve, of_list: f64) -> Option<f64> {
    let pairs = curve.points.windows(2);
    let within = |p: &&[_]| matches!(p, [a, b] if holds(a, b, of_list));
    match pairs.into_iter().find(within)? {
        [a, b] => {
            let part = (of_list - a.price) / (b.price - a.price);
            let [a, b] = [a, b].map(|p| p.acceptance.value);
            Some(a + part * (b - a))
        }
        _ => None,
    }
}

fn holds(a: &super::super::price::PricePoint, b: &super::super::price::PricePoint, x: f64) -> bool {
    a.price <= x && x <= b.price && a.price < b.price
}

/// What mending would have left more [minor units].
///
/// # Errors
/// What is missing: the curve, or offers at such a price.
pub(super) fn left(
    c: &Candidate,
    mend_to: Minor,
    cost: f64,
    curve: &Result<&PriceCurve, NotEnough>,
    basis: &Basis<'_>,
) -> Result<Minor, NotEnough> {
    if mend_to <= c.list || c.sold.is_empty() {
        return Ok(Minor::ZERO);
    }
    let curve = curve.as_ref().map_err(Clone::clone)?;
    let untried = |of: &str| NotEnough::new(0, 1, of);
    let today = accepted(curve, 1.0).filter(|a| *a > 0.0);
    let today = today.ok_or_else(|| untried("offers at today's list price"))?;
    let mut sum = 0.0;
    for share in &c.sold {
        let (new, old) = (
            charged(mend_to, *share, basis),
            charged(c.list, *share, basis),
        );
        let at_new = accepted(curve, new.as_f64() / old.as_f64());
        let at_new = at_new.ok_or_else(|| untried("offers at so high a price"))?;
        let own = |price| kept(price, basis) - cost * share;
        sum += at_new / today * own(new) - own(old);
    }
    Minor::nearest(sum).ok_or_else(|| untried("prices that a sum can hold"))
}

/// What is left of a price charged after tax and card fees.
fn kept(charged: Minor, basis: &Basis<'_>) -> f64 {
    let fees = charged.as_f64() * basis.money.card_fee_share;
    without_tax(charged, basis.money).as_f64() - fees
}
