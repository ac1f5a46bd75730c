//! Which row counts for a shop and key.
//!
//! Most exports come in the order of their numbers. Such rows are their own
//! index: they need no table of hashes, cannot repeat a key, and are found by
//! a few steps from the last one found. All others go by hash.

use super::super::keys::{KeyIndex, row_hash};
use super::super::rising::{Rising, is_ranked, prefix, rank};
use super::by_halves;
use super::stack::Stack;
use std::ops::Range;

/// The rows of a table by shop and key.
#[derive(Debug)]
pub(super) enum Index {
    /// Rows that come in order.
    Ordered(Ordered),
    /// Rows that come as they will.
    Hashed(KeyIndex),
}

impl Index {
    /// The row of a shop and key.
    pub(super) fn find(
        &self,
        stack: &Stack<'_>,
        fields: (usize, usize),
        (shop, key): (&str, &str),
    ) -> Option<u32> {
        let mut seeker = Seeker::new(self, stack, fields);
        seeker.turn_to(shop);
        seeker.find(key)
    }
}

/// Looks keys up one after the other: most exports of two tables are in about
/// the same order, so that each is near the one before it.
pub(super) struct Seeker<'x, 'a> {
    index: &'x Index,
    stack: &'x Stack<'a>,
    fields: (usize, usize),
    shop: &'x str,
    /// The shop's rows, where rows come in order.
    run: Option<Range<u32>>,
    near: u32,
}

impl<'x, 'a> Seeker<'x, 'a> {
    pub(super) fn new(index: &'x Index, stack: &'x Stack<'a>, fields: (usize, usize)) -> Self {
        let mut out = Self {
            index,
            stack,
            fields,
            shop: "",
            run: None,
            near: 0,
        };
        out.turn_to("");
        out
    }

    /// Goes on with the keys of another shop.
    pub(super) fn turn_to(&mut self, shop: &'x str) {
        self.shop = shop;
        if let Index::Ordered(ordered) = self.index {
            self.run = ordered.run(shop);
        }
    }

    /// The row of a key of the shop.
    #[inline]
    pub(super) fn find(&mut self, key: &str) -> Option<u32> {
        let found = match self.index {
            Index::Ordered(ordered) => ordered.find(self.run.clone()?, self.near, key.as_bytes()),
            Index::Hashed(index) => index.find(row_hash(self.shop, key), |row| {
                let at = self.stack.locate(row);
                let same_shop = || at.text(self.fields.0).unwrap_or("") == self.shop;
                at.text(self.fields.1) == Some(key) && same_shop()
            }),
        };
        self.near = found.unwrap_or(self.near);
        found
    }
}

/// Rows whose shops come one after the other, and within each the keys, both
/// rising.
#[derive(Debug)]
pub(super) struct Ordered {
    rising: Rising,
    /// The last bytes of each row's key, as a number.
    ranks: Vec<u64>,
}

impl Ordered {
    /// An index of rows that come in order; `None` where they do not.
    pub(super) fn of(stack: &Stack<'_>, key: usize) -> Option<Self> {
        let mut rising = Rising::default();
        for segment in &stack.segments {
            rising.join(segment.rows.rising.as_ref()?)?;
        }
        let mut ranks = vec![0; stack.len as usize];
        by_halves(stack, &mut ranks, |segment, ranks| {
            let keys = segment.column(key);
            for (row, to) in ranks.iter_mut().enumerate() {
                let key = keys.and_then(|k| k.text(row)).unwrap_or("");
                *to = rank(key.as_bytes());
            }
        });
        Some(Self { rising, ranks })
    }

    /// The rows of a shop.
    fn run(&self, shop: &str) -> Option<Range<u32>> {
        let shops = &self.rising.shops;
        let at = shops.binary_search_by(|r| r.shop.as_str().cmp(shop)).ok()?;
        let end = shops.get(at + 1).map_or(self.rising.rows, |r| r.from);
        Some(shops[at].from..end)
    }

    /// The row of a key among those of a shop, in steps that double from
    /// `near`.
    #[inline]
    fn find(&self, rows: Range<u32>, near: u32, key: &[u8]) -> Option<u32> {
        let (before, own) = (prefix(key), &self.rising.prefix);
        if before.len() != own.len() || (!own.is_empty() && before != own) || !is_ranked(key) {
            return None;
        }
        let wanted = rank(key);
        let run = &self.ranks[rows.start as usize..rows.end as usize];
        let near = (near.clamp(rows.start, rows.end - 1) - rows.start) as usize;
        let (low, high) = around(run, near, wanted);
        let at = low + run[low..high].partition_point(|r| *r < wanted);
        (run.get(at) == Some(&wanted)).then_some(rows.start + at as u32)
    }
}

/// A range that holds the wanted rank if any does, found in doubling steps
/// from a place.
#[inline]
fn around(ranks: &[u64], near: usize, wanted: u64) -> (usize, usize) {
    let mut step = 1;
    if ranks[near] < wanted {
        let mut low = near + 1;
        while low + step < ranks.len() && ranks[low + step] < wanted {
            low += step;
            step *= 2;
        }
        return (low, (low + step + 1).min(ranks.len()));
    }
    let mut high = near + 1;
    while high > step && ranks[high - step] > wanted {
        high -= step;
        step *= 2;
    }
    (high.saturating_sub(step), high)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rows in chunks of so many each, joined.
    fn joined(rows: &[(&str, &str)], each: usize) -> Option<Ordered> {
        let mut rising = Rising::default();
        for rows in rows.chunks(each) {
            let mut chunk = Rising::default();
            for (i, (shop, key)) in rows.iter().enumerate() {
                let same = i > 0 && rows[i - 1].0 == *shop;
                chunk.push((!same).then_some(shop), key.as_bytes())?;
            }
            rising.join(&chunk)?;
        }
        let ranks = rows.iter().map(|(_, key)| rank(key.as_bytes())).collect();
        Some(Ordered { rising, ranks })
    }

    fn ordered(rows: &[(&str, &str)]) -> Option<Ordered> {
        let whole = joined(rows, rows.len());
        for each in 1..rows.len() {
            let parts = joined(rows, each);
            assert_eq!(parts.is_some(), whole.is_some(), "{rows:?} by {each}");
            let runs = |o: &Ordered| format!("{:?}", o.rising);
            assert_eq!(parts.as_ref().map(runs), whole.as_ref().map(runs));
        }
        whole
    }

    fn find(index: &Ordered, near: u32, shop: &str, key: &str) -> Option<u32> {
        index.find(index.run(shop)?, near, key.as_bytes())
    }

    #[test]
    fn only_rising_keys_of_rising_shops_are_in_order() {
        assert!(ordered(&[("A", "B9"), ("A", "B10"), ("B", "B1")]).is_some());
        assert!(ordered(&[("A", "2026-000009"), ("A", "2026-000010")]).is_some());
        assert!(ordered(&[("", "1"), ("", "1")]).is_none());
        assert!(ordered(&[("", "2"), ("", "1")]).is_none());
        assert!(ordered(&[("B", "1"), ("A", "2")]).is_none());
        assert!(ordered(&[("", "a12345678"), ("", "b12345679")]).is_none());
        assert!(ordered(&[("", "a12345678"), ("", "12345679")]).is_none());
    }

    #[test]
    fn finds_what_a_plain_search_finds_from_anywhere() {
        let rows: Vec<(String, String)> = (0..60)
            .map(|i| {
                (
                    format!("S{}", i / 20),
                    format!("J{:04}", i * 3 % 60 + i / 20),
                )
            })
            .collect();
        let pairs: Vec<(&str, &str)> = rows.iter().map(|(s, k)| (s.as_str(), k.as_str())).collect();
        let index = ordered(&pairs).unwrap();
        for near in 0..70 {
            for shop in ["S0", "S1", "S2", "S3", ""] {
                for n in 0..64 {
                    let key = format!("J{n:04}");
                    let plain = pairs.iter().position(|p| *p == (shop, key.as_str()));
                    let found = find(&index, near, shop, &key);
                    assert_eq!(found, plain.map(|p| p as u32), "{near} {shop} {key}");
                }
            }
        }
        assert_eq!(find(&index, 0, "S0", "123456789"), None);
    }
}
