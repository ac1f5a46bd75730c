//! How many records are odd: by kind, and by kind and shop.

use super::Oddity;
use std::collections::BTreeMap;

/// Shops of each kind whose records are counted apart.
const SHOPS_KEPT: usize = 10_000;

/// How many records are odd.
#[derive(Default)]
pub(super) struct Records {
    /// By kind.
    pub(super) counts: BTreeMap<Oddity, u64>,
    /// By kind and shop, of so many shops.
    pub(super) by_shop: BTreeMap<Oddity, BTreeMap<String, u64>>,
}

impl Records {
    pub(super) fn add(&mut self, oddity: Oddity, shop: &str, records: u64) {
        *self.counts.entry(oddity).or_default() += records;
        let shops = self.by_shop.entry(oddity).or_default();
        if let Some(known) = shops.get_mut(shop) {
            *known += records;
        } else if shops.len() < SHOPS_KEPT {
            shops.insert(shop.to_string(), records);
        }
    }

    pub(super) fn join(&mut self, other: Self) {
        for (oddity, records) in other.counts {
            *self.counts.entry(oddity).or_default() += records;
        }
        for (oddity, shops) in other.by_shop {
            let own = self.by_shop.entry(oddity).or_default();
            for (shop, records) in shops {
                *own.entry(shop).or_default() += records;
            }
        }
    }
}
