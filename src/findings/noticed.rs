//! Values that are odd and were taken as they stand: counted, so that a reader
//! can mend them, and never mended here.

use super::Scope;
use super::groups::Groups;
use crate::measures::Measures;
use crate::money::Minor;
use serde::Serialize;
use std::collections::BTreeMap;

/// What was noticed.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Noticed {
    /// Records of the exports by the code of what is odd about them; only
    /// kinds that occur.
    pub listed: BTreeMap<&'static str, u64>,
    /// Coated jobs of the window for which nothing was left to pay.
    pub for_nothing: u64,
    /// Coated jobs of the window whose discount took the price below 0.
    pub below_nothing: u64,
    /// Film jobs of the window coated though written down as not offered.
    pub coated_refused: u64,
    /// Sellers of the window with one offer.
    pub lone_sellers: u64,
    /// Finishes of the window that the coating suits and nobody bought it on,
    /// by name.
    pub unbought: Vec<String>,
}

impl Noticed {
    /// True where nothing was.
    pub fn is_nothing(&self) -> bool {
        *self == Self::default()
    }
}

/// Notes what is odd. `listed`: what reading the exports found, by code.
pub fn find(
    listed: BTreeMap<&'static str, u64>,
    m: &Measures,
    groups: &Groups,
    scope: &Scope,
) -> Noticed {
    let priced = |net: fn(Minor) -> bool| {
        let window = m.coated.iter().filter(|j| scope.in_window(j.month));
        window
            .filter(|j| j.price.is_some_and(|p| net(p - j.discount)))
            .count() as u64
    };
    let unbought = groups
        .finish
        .iter()
        .filter(|g| g.eligible > 0 && g.coated == 0);
    Noticed {
        listed,
        for_nothing: priced(|net| net == Minor::ZERO),
        below_nothing: priced(|net| net < Minor::ZERO),
        coated_refused: groups.coated_refused,
        lone_sellers: groups.sellers.iter().filter(|s| s.offered == 1).count() as u64,
        unbought: unbought
            .filter(|g| !g.name.is_empty())
            .map(|g| g.name.clone())
            .collect(),
    }
}
