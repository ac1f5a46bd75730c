//! Which row counts for a shop and key.
//!
//! Most exports come in the order of their numbers. Such rows are their own
//! index: they need no table of hashes, cannot repeat a key, and are found by
//! a few steps from the last one found. All others go by hash.

use super::super::keys::{KeyIndex, row_hash};
use super::stack::Stack;

/// The rows of a table by shop and key.
#[derive(Debug)]
pub(super) enum Index {
    /// Rows that come in order.
    Ordered(Ordered),
    /// Rows that come as they will.
    Hashed(KeyIndex),
}

impl Index {
    /// The row of a shop and key; `near` is where it may be looked for first.
    #[inline]
    pub(super) fn find(
        &self,
        stack: &Stack<'_>,
        fields: (usize, usize),
        near: u32,
        (shop, key): (&str, &str),
    ) -> Option<u32> {
        match self {
            Self::Ordered(ordered) => ordered.find(near, shop, key),
            Self::Hashed(index) => index.find(row_hash(shop, key), |row| {
                let at = stack.locate(row);
                at.text(fields.1) == Some(key) && at.text(fields.0).unwrap_or("") == shop
            }),
        }
    }
}

/// Bytes of a key that its rank holds.
const RANKED: usize = 8;

/// Rows whose shops come one after the other, and within each the keys, both
/// rising.
#[derive(Debug)]
pub(super) struct Ordered {
    /// What stands before the ranked bytes of every key that has more.
    prefix: Vec<u8>,
    shops: Vec<Run>,
    /// The last bytes of each row's key, as a number.
    ranks: Vec<u64>,
}

/// The rows of one shop begin here.
#[derive(Debug)]
struct Run {
    shop: String,
    from: u32,
}

/// A key's last bytes as a number: among keys without NUL bytes, those of one
/// prefix differ where their numbers do.
#[inline]
fn rank(key: &[u8]) -> u64 {
    key.iter().fold(0, |n, b| (n << 8) | u64::from(*b))
}

impl Ordered {
    /// An index of rows that come in order; `None` where they do not.
    pub(super) fn of(stack: &Stack<'_>, fields: (usize, usize)) -> Option<Self> {
        let mut out = Self {
            prefix: Vec::new(),
            shops: Vec::new(),
            ranks: Vec::with_capacity(stack.len as usize),
        };
        for segment in &stack.segments {
            if segment.is_shared() {
                return None;
            }
            let keys = segment.column(fields.1)?;
            let shops = segment.column(fields.0);
            for row in 0..segment.rows.len {
                let shop = shops.and_then(|s| s.text(row)).unwrap_or("");
                out.push(shop, keys.text(row)?.as_bytes())?;
            }
        }
        Some(out)
    }

    /// Appends a row; `None` where it is not in order.
    #[inline]
    fn push(&mut self, shop: &str, key: &[u8]) -> Option<()> {
        let (prefix, ranked) = key.split_at(key.len().saturating_sub(RANKED));
        if self.ranks.is_empty() {
            self.prefix = prefix.to_vec();
        }
        if prefix != self.prefix || ranked.contains(&0) {
            return None;
        }
        let rank = rank(ranked);
        match self.shops.last() {
            Some(run) if run.shop == shop => {
                if *self.ranks.last()? >= rank {
                    return None;
                }
            }
            Some(run) if run.shop.as_str() > shop => return None,
            _ => self.shops.push(Run {
                shop: shop.to_string(),
                from: self.ranks.len() as u32,
            }),
        }
        self.ranks.push(rank);
        Some(())
    }

    /// The run of a shop, looked for first where `near` is.
    #[inline]
    fn run(&self, near: u32, shop: &str) -> Option<(u32, u32)> {
        let after = self.shops.partition_point(|r| r.from <= near);
        let here = after.checked_sub(1);
        let at = match here.filter(|at| self.shops[*at].shop == shop) {
            Some(at) => at,
            None => self
                .shops
                .binary_search_by(|r| r.shop.as_str().cmp(shop))
                .ok()?,
        };
        let end = self
            .shops
            .get(at + 1)
            .map_or(self.ranks.len() as u32, |r| r.from);
        Some((self.shops[at].from, end))
    }

    /// The row of a shop and key, in steps that double from `near`.
    #[inline]
    fn find(&self, near: u32, shop: &str, key: &str) -> Option<u32> {
        let key = key.as_bytes();
        let (prefix, ranked) = key.split_at(key.len().saturating_sub(RANKED));
        if prefix != self.prefix || ranked.contains(&0) {
            return None;
        }
        let (from, end) = self.run(near, shop)?;
        let wanted = rank(ranked);
        let run = &self.ranks[from as usize..end as usize];
        let near = (near.clamp(from, end - 1) - from) as usize;
        let (low, high) = around(run, near, wanted);
        let at = low + run[low..high].partition_point(|r| *r < wanted);
        (run.get(at) == Some(&wanted)).then_some(from + at as u32)
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

    fn ordered(rows: &[(&str, &str)]) -> Option<Ordered> {
        let mut out = Ordered {
            prefix: Vec::new(),
            shops: Vec::new(),
            ranks: Vec::new(),
        };
        for (shop, key) in rows {
            out.push(shop, key.as_bytes())?;
        }
        Some(out)
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
                    let found = index.find(near, shop, &key);
                    assert_eq!(found, plain.map(|p| p as u32), "{near} {shop} {key}");
                }
            }
        }
        assert_eq!(index.find(0, "S0", "123456789"), None);
    }
}
