//! Keys of up to billions of rows in a compact table of hashes; what a hash
//! finds, the caller confirms on the key itself.

const ODD: u64 = 0x9e37_79b9_7f4a_7c15;

#[inline]
fn fold(a: u64, b: u64) -> u64 {
    let wide = u128::from(a) * u128::from(b);
    (wide as u64) ^ ((wide >> 64) as u64)
}

/// A hash of a shop and a key: folded multiplication over eight bytes at a
/// time. Not for adversaries; equal keys are confirmed by the caller.
#[inline]
pub(super) fn hash_key(shop: &str, key: &[u8]) -> u64 {
    let mut hash = absorb(ODD, shop.as_bytes());
    hash = absorb(hash, key);
    fold(hash ^ 0xd6e8_feb8_6659_fd93, ODD)
}

/// The half of [`hash_key`] by which rows are kept.
#[inline]
pub(super) fn row_hash(shop: &str, key: &str) -> u32 {
    (hash_key(shop, key.as_bytes()) >> 32) as u32
}

#[inline]
fn absorb(mut hash: u64, bytes: &[u8]) -> u64 {
    let (words, rest) = bytes.as_chunks::<8>();
    for word in words {
        hash = fold(hash ^ u64::from_le_bytes(*word), 0xa076_1d64_78bd_642f);
    }
    let mut last = [0; 8];
    last[..rest.len()].copy_from_slice(rest);
    let tagged = u64::from_le_bytes(last) ^ ((bytes.len() as u64) << 56);
    fold(hash ^ tagged, 0xe703_7ed1_a0b4_28db)
}

/// Rows by the hash of their key, in two halves by its last bit, which two
/// threads can fill at once.
#[derive(Debug)]
pub(super) struct KeyIndex {
    halves: [Half; 2],
}

impl KeyIndex {
    /// An index for about `rows` rows.
    pub(super) fn with_rows(rows: usize) -> Self {
        Self {
            halves: [Half::with_rows(rows / 2), Half::with_rows(rows / 2)],
        }
    }

    /// An index of two filled halves: of hashes that end in 0, and in 1.
    pub(super) fn of(halves: [Half; 2]) -> Self {
        Self { halves }
    }

    /// Which half a hash belongs to.
    #[inline]
    pub(super) fn half_of(hash: u32) -> u32 {
        hash & 1
    }

    /// The row of this hash for which `is` is true.
    #[inline]
    pub(super) fn find(&self, hash: u32, is: impl Fn(u32) -> bool) -> Option<u32> {
        self.halves[Self::half_of(hash) as usize].find(hash, is)
    }

    /// As [`Half::put_new`].
    pub(super) fn put_new(&mut self, hash: u32, row: u32, is: impl Fn(u32) -> bool) -> Option<u32> {
        self.halves[Self::half_of(hash) as usize].put_new(hash, row, is)
    }

    /// As [`Half::replace`].
    #[cfg(test)]
    fn replace(&mut self, hash: u32, before: u32, row: u32) {
        self.halves[Self::half_of(hash) as usize].replace(hash, before, row);
    }
}

/// Half an index: open addressing, eight bytes a slot.
#[derive(Debug)]
pub(super) struct Half {
    /// The hash, then the row; [`FREE`] where there is none.
    slots: Vec<u64>,
    mask: usize,
    used: usize,
}

const FREE: u64 = u64::MAX;

impl Half {
    /// Room for about `rows` rows.
    pub(super) fn with_rows(rows: usize) -> Self {
        let size = (rows.saturating_mul(2)).next_power_of_two().max(16);
        Self {
            slots: vec![FREE; size],
            mask: size - 1,
            used: 0,
        }
    }

    /// The row of this hash for which `is` is true.
    #[inline]
    pub(super) fn find(&self, hash: u32, is: impl Fn(u32) -> bool) -> Option<u32> {
        let at = self.place(hash, is);
        (self.slots[at] != FREE).then(|| self.slots[at] as u32)
    }

    /// Puts a row beside all others, unless there is one for which `is` is
    /// true: then that one is returned and nothing is put.
    #[inline]
    pub(super) fn put_new(&mut self, hash: u32, row: u32, is: impl Fn(u32) -> bool) -> Option<u32> {
        if (self.used + 1) * 4 > self.slots.len() * 3 {
            self.grow();
        }
        let at = self.place(hash, is);
        let slot = &mut self.slots[at];
        if *slot != FREE {
            return Some(*slot as u32);
        }
        *slot = (u64::from(hash) << 32) | u64::from(row);
        self.used += 1;
        None
    }

    /// Puts a row in the place of `before`, which has the same hash.
    pub(super) fn replace(&mut self, hash: u32, before: u32, row: u32) {
        let at = self.place(hash, |r| r == before);
        if self.slots[at] != FREE {
            self.slots[at] = (u64::from(hash) << 32) | u64::from(row);
        }
    }

    /// The slot of the row for which `is` is true, or the free one where it
    /// belongs.
    #[inline]
    fn place(&self, hash: u32, is: impl Fn(u32) -> bool) -> usize {
        let tag = u64::from(hash);
        let mut at = self.start(hash);
        loop {
            let slot = self.slots[at];
            if slot == FREE || (slot >> 32 == tag && is(slot as u32)) {
                return at;
            }
            at = (at + 1) & self.mask;
        }
    }

    #[inline]
    fn start(&self, hash: u32) -> usize {
        (u64::from(hash).wrapping_mul(ODD) >> 20) as usize & self.mask
    }

    fn grow(&mut self) {
        let mut larger = Self {
            slots: vec![FREE; self.slots.len() * 2],
            mask: self.slots.len() * 2 - 1,
            used: self.used,
        };
        for slot in self.slots.iter().filter(|s| **s != FREE) {
            let at = larger.place((*slot >> 32) as u32, |_| false);
            larger.slots[at] = *slot;
        }
        *self = larger;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    #[test]
    fn finds_what_an_ordered_map_finds() {
        let keys: Vec<String> = (0..5000).map(|i| format!("J{:05}", i * 7 % 3000)).collect();
        let mut index = KeyIndex::with_rows(10);
        let mut twin: BTreeMap<&str, u32> = BTreeMap::new();
        for (row, key) in keys.iter().enumerate() {
            let (row, hash) = (row as u32, row_hash("", key));
            let before = index.put_new(hash, row, |r| keys[r as usize] == *key);
            assert_eq!(before, twin.get(key.as_str()).copied());
            if let Some(before) = before {
                index.replace(hash, before, row);
            }
            twin.insert(key, row);
        }
        for (key, row) in &twin {
            let found = index.find(row_hash("", key), |r| keys[r as usize] == **key);
            assert_eq!(found, Some(*row));
        }
        assert_eq!(index.find(row_hash("", "absent"), |_| false), None);
    }

    #[test]
    fn shop_and_key_do_not_run_together() {
        assert_ne!(hash_key("A", b"1"), hash_key("", b"A1"));
        assert_ne!(hash_key("", b"1"), hash_key("", b"1\0"));
    }
}
