//! Whether keys come in order, found chunk by chunk while the cells are at
//! hand: shops one after the other, and within each the keys, both rising.

use super::columns::Filled;

/// Bytes of a key that its rank holds.
pub(super) const RANKED: usize = 8;

/// A key's last bytes as a number: among keys without NUL bytes, those of one
/// prefix differ where their numbers do.
#[inline]
pub(super) fn rank(key: &[u8]) -> u64 {
    match key.last_chunk::<RANKED>() {
        Some(last) => u64::from_be_bytes(*last),
        None => key.iter().fold(0, |n, b| (n << 8) | u64::from(*b)),
    }
}

/// A key's bytes before those of its rank.
#[inline]
pub(super) fn prefix(key: &[u8]) -> &[u8] {
    &key[..key.len().saturating_sub(RANKED)]
}

/// True where the rank of a key tells it apart.
#[inline]
pub(super) fn is_ranked(key: &[u8]) -> bool {
    !key[key.len().saturating_sub(RANKED)..].contains(&0)
}

/// The rows of one shop begin here.
#[derive(Debug, Clone)]
pub(super) struct Run {
    pub(super) shop: String,
    pub(super) from: u32,
}

/// Rows whose keys rise.
#[derive(Debug, Default)]
pub(super) struct Rising {
    /// What stands before the ranked bytes of every key that has more.
    pub(super) prefix: Vec<u8>,
    pub(super) shops: Vec<Run>,
    pub(super) rows: u32,
    first: u64,
    last: u64,
}

impl Rising {
    /// Of one chunk's rows; `None` where they do not rise or some have no key.
    pub(super) fn of(shops: Option<&Filled>, keys: &Filled) -> Option<Self> {
        let mut out = Self::default();
        for row in 0..keys.len() {
            let same = row > 0 && shops.is_none_or(|s| s.repeats(row));
            let shop = || shops.and_then(|s| s.text(row)).unwrap_or("");
            out.push((!same).then(shop), keys.text(row)?.as_bytes())?;
        }
        Some(out)
    }

    /// Appends a row, of the shop of the row before where none is given;
    /// `None` where it is not in order.
    #[inline]
    pub(super) fn push(&mut self, shop: Option<&str>, key: &[u8]) -> Option<()> {
        let before = prefix(key);
        if self.rows == 0 {
            self.prefix = before.to_vec();
        }
        if before.len() != self.prefix.len() || (!before.is_empty() && before != self.prefix) {
            return None;
        }
        if !is_ranked(key) {
            return None;
        }
        let rank = rank(key);
        if self.rows == 0 {
            self.first = rank;
        }
        match (shop, self.shops.last()) {
            (Some(shop), Some(run)) if run.shop.as_str() > shop => return None,
            (Some(shop), Some(run)) if run.shop != shop => self.begin(shop, self.rows),
            (shop, None) => self.begin(shop.unwrap_or(""), self.rows),
            _ if self.last >= rank => return None,
            _ => {}
        }
        self.last = rank;
        self.rows += 1;
        Some(())
    }

    fn begin(&mut self, shop: &str, from: u32) {
        let shop = shop.to_string();
        self.shops.push(Run { shop, from });
    }

    /// Appends the rows of the next chunk; `None` where they do not go on
    /// rising.
    pub(super) fn join(&mut self, next: &Self) -> Option<()> {
        let Some(first) = next.shops.first() else {
            return Some(());
        };
        let Some(last) = self.shops.last() else {
            self.prefix.clone_from(&next.prefix);
            self.shops.clone_from(&next.shops);
            (self.rows, self.first, self.last) = (next.rows, next.first, next.last);
            return Some(());
        };
        if self.prefix != next.prefix || last.shop > first.shop {
            return None;
        }
        let goes_on = last.shop == first.shop;
        if goes_on && self.last >= next.first {
            return None;
        }
        for run in &next.shops[usize::from(goes_on)..] {
            self.begin(&run.shop, self.rows + run.from);
        }
        self.last = next.last;
        self.rows += next.rows;
        Some(())
    }
}
