//! Columns of few different words: each word is kept once, and a row holds
//! its number, in one byte as long as there are under 256 of them.

use super::super::keys::hash_key;
use polars::prelude::*;

/// The number of each row's word, from 1; 0 where there is none.
#[derive(Debug, Clone)]
enum Numbers {
    One(Vec<u8>),
    Two(Vec<u16>),
    Four(Vec<u32>),
}

impl Numbers {
    #[inline]
    fn get(&self, row: usize) -> u32 {
        match self {
            Self::One(all) => all.get(row).map_or(0, |n| u32::from(*n)),
            Self::Two(all) => all.get(row).map_or(0, |n| u32::from(*n)),
            Self::Four(all) => all.get(row).copied().unwrap_or(0),
        }
    }

    #[inline]
    fn push(&mut self, number: u32) {
        match self {
            Self::One(all) => match u8::try_from(number) {
                Ok(n) => return all.push(n),
                Err(_) => *self = Self::Two(all.iter().map(|n| u16::from(*n)).collect()),
            },
            Self::Two(all) => match u16::try_from(number) {
                Ok(n) => return all.push(n),
                Err(_) => *self = Self::Four(all.iter().map(|n| u32::from(*n)).collect()),
            },
            Self::Four(all) => return all.push(number),
        }
        self.push(number);
    }

    fn len(&self) -> usize {
        match self {
            Self::One(all) => all.len(),
            Self::Two(all) => all.len(),
            Self::Four(all) => all.len(),
        }
    }

    fn filter(&self, keep: &BooleanChunked) -> Self {
        let keep = || keep.iter().map(|k| k == Some(true));
        fn kept<T: Copy>(all: &[T], keep: impl Iterator<Item = bool>) -> Vec<T> {
            let pairs = all.iter().zip(keep).filter(|(_, k)| *k);
            pairs.map(|(n, _)| *n).collect()
        }
        match self {
            Self::One(all) => Self::One(kept(all, keep())),
            Self::Two(all) => Self::Two(kept(all, keep())),
            Self::Four(all) => Self::Four(kept(all, keep())),
        }
    }

    /// What `of` makes of each.
    fn each<T: PolarsNumericType>(&self, of: impl Fn(u32) -> Option<T::Native>) -> ChunkedArray<T> {
        match self {
            Self::One(all) => all.iter().map(|n| of(u32::from(*n))).collect(),
            Self::Two(all) => all.iter().map(|n| of(u32::from(*n))).collect(),
            Self::Four(all) => all.iter().map(|n| of(*n)).collect(),
        }
    }
}

/// A filled column of words.
#[derive(Debug, Clone)]
pub(in super::super) struct Coded {
    name: PlSmallStr,
    words: Arc<[String]>,
    numbers: Numbers,
}

impl Coded {
    pub(in super::super) fn len(&self) -> usize {
        self.numbers.len()
    }

    #[inline]
    pub(super) fn get(&self, row: usize) -> Option<&str> {
        let place = self.numbers.get(row).checked_sub(1)?;
        self.words.get(place as usize).map(String::as_str)
    }

    #[inline]
    pub(super) fn number(&self, row: usize) -> u32 {
        self.numbers.get(row)
    }

    #[inline]
    pub(super) fn is_empty_at(&self, row: usize) -> bool {
        self.numbers.get(row) == 0
    }

    /// True where two rows hold the same word, or none.
    #[inline]
    pub(super) fn same(&self, a: usize, b: usize) -> bool {
        // Two numbers may stand for one word that was written in two ways.
        self.numbers.get(a) == self.numbers.get(b) || self.get(a) == self.get(b)
    }

    pub(super) fn filter(&self, keep: &BooleanChunked) -> Self {
        Self {
            name: self.name.clone(),
            words: Arc::clone(&self.words),
            numbers: self.numbers.filter(keep),
        }
    }

    /// Its words; one may stand there twice.
    pub(in super::super) fn words(&self) -> &[String] {
        &self.words
    }

    /// The column as polars holds one of the words of `dtype`, an Enum that has
    /// all of these; `none` where a row has no word.
    ///
    /// # Errors
    /// Where `dtype` is no Enum.
    pub(in super::super) fn coded(
        &self,
        dtype: &DataType,
        none: Option<&str>,
    ) -> PolarsResult<Series> {
        match dtype.cat_physical()? {
            CategoricalPhysical::U8 => Ok(self.coded_as::<Categorical8Type>(dtype, none)),
            CategoricalPhysical::U16 => Ok(self.coded_as::<Categorical16Type>(dtype, none)),
            CategoricalPhysical::U32 => Ok(self.coded_as::<Categorical32Type>(dtype, none)),
        }
    }

    fn coded_as<T: PolarsCategoricalType>(&self, dtype: &DataType, none: Option<&str>) -> Series
    where
        CategoricalChunked<T>: IntoSeries,
    {
        let category = |word: &str| category_of(dtype, word).map(T::Native::from_cat);
        let categories: Vec<Option<T::Native>> = std::iter::once(none.and_then(category))
            .chain(self.words.iter().map(|w| category(w)))
            .collect();
        let of = |n: u32| categories.get(n as usize).copied().flatten();
        let numbers = self.numbers.each::<T::PolarsPhysical>(of);
        let numbers = numbers.with_name(self.name.clone());
        CategoricalChunked::<T>::from_cats_and_dtype(numbers, dtype.clone()).into_series()
    }

    /// The column as polars holds text; `none` where a row has no word.
    ///
    /// # Errors
    /// None that a dictionary could cause: every number has its word.
    pub(super) fn text(&self, none: Option<&str>) -> PolarsResult<StringChunked> {
        let words = std::iter::once(none).chain(self.words.iter().map(|w| Some(w.as_str())));
        let words = words
            .collect::<StringChunked>()
            .with_name(self.name.clone());
        let places = self.numbers.each::<IdxType>(Some);
        Ok(words.take(&places)?.rechunk().into_owned())
    }
}

/// The number of a word among those of an Enum.
fn category_of(dtype: &DataType, word: &str) -> Option<CatSize> {
    match dtype {
        DataType::Enum(_, mapping) => mapping.get_cat(word),
        _ => None,
    }
}

/// A cell as written that came before. Up to eight bytes are their own tag.
#[derive(Debug, Clone, Copy)]
struct Seen {
    tag: u64,
    len: u32,
    /// Its place among the long cells, where it has over eight bytes.
    long: u32,
    /// What it stands for.
    number: u32,
}

/// Bytes of a cell that fit its tag.
const SHORT: usize = 8;

/// Up to eight bytes as a number, which with their count tells them apart;
/// of longer cells a hash.
#[inline]
fn tag(cell: &[u8]) -> u64 {
    let four = |b: &[u8; 4]| u64::from(u32::from_le_bytes(*b));
    match (cell.first_chunk::<4>(), cell.last_chunk::<4>()) {
        _ if cell.len() > SHORT => hash_key("", cell),
        (Some(first), Some(last)) => four(first) | (four(last) << 32),
        _ => cell.iter().fold(0, |n, b| (n << 8) | u64::from(*b)),
    }
}

/// A column of words that is being filled.
pub(in super::super) struct Dictionary {
    name: PlSmallStr,
    words: Vec<String>,
    numbers: Numbers,
    /// Cells that came before, by their tag: open addressing.
    seen: Vec<Option<Seen>>,
    used: usize,
    long: Vec<Box<[u8]>>,
}

impl Dictionary {
    pub(super) fn new(name: PlSmallStr, rows: usize) -> Self {
        Self {
            name,
            words: Vec::new(),
            numbers: Numbers::One(Vec::with_capacity(rows)),
            seen: vec![None; 64],
            used: 0,
            long: Vec::new(),
        }
    }

    /// Where a cell stands among those seen, or would.
    #[inline]
    fn place(&self, tag: u64, cell: &[u8]) -> usize {
        let mask = self.seen.len() - 1;
        let spread = (tag ^ cell.len() as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15);
        let mut at = (spread >> 32) as usize & mask;
        while let Some(seen) = &self.seen[at] {
            let same = seen.tag == tag && seen.len == cell.len() as u32;
            if same && (cell.len() <= SHORT || *self.long[seen.long as usize] == *cell) {
                break;
            }
            at = (at + 1) & mask;
        }
        at
    }

    /// What a cell stands for, if it came before: the number of its word, 0
    /// where it says nothing.
    #[inline]
    pub(in super::super) fn known(&self, cell: &[u8]) -> Option<u32> {
        let at = self.place(tag(cell), cell);
        self.seen[at].map(|seen| seen.number)
    }

    /// Notes what a cell stands for.
    pub(in super::super) fn learn(&mut self, cell: &[u8], word: Option<&str>) -> u32 {
        let number = word.map_or(0, |word| {
            self.words.push(word.to_string());
            self.words.len() as u32
        });
        if (self.used + 1) * 2 > self.seen.len() {
            self.grow();
        }
        let long = self.long.len() as u32;
        if cell.len() > SHORT {
            self.long.push(cell.into());
        }
        let (tag, len) = (tag(cell), cell.len() as u32);
        let at = self.place(tag, cell);
        self.seen[at] = Some(Seen {
            tag,
            len,
            long,
            number,
        });
        self.used += 1;
        number
    }

    fn grow(&mut self) {
        let larger = vec![None; self.seen.len() * 4];
        let mask = larger.len() - 1;
        let before = std::mem::replace(&mut self.seen, larger);
        for seen in before.into_iter().flatten() {
            let spread = (seen.tag ^ u64::from(seen.len)).wrapping_mul(0x9e37_79b9_7f4a_7c15);
            let mut at = (spread >> 32) as usize & mask;
            while self.seen[at].is_some() {
                at = (at + 1) & mask;
            }
            self.seen[at] = Some(seen);
        }
    }

    /// Appends a row: the number of its word, 0 for none.
    #[inline]
    pub(in super::super) fn push(&mut self, number: u32) {
        self.numbers.push(number);
    }

    pub(super) fn finish(self) -> Coded {
        Coded {
            name: self.name,
            words: self.words.into(),
            numbers: self.numbers,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    /// Fills a column as intake does, one cell a row.
    fn filled(cells: &[Option<String>]) -> Coded {
        let mut to = Dictionary::new("field".into(), 0);
        for cell in cells {
            let number = cell.as_deref().map_or(0, |cell| {
                let known = to.known(cell.as_bytes());
                known.unwrap_or_else(|| to.learn(cell.as_bytes(), Some(cell)))
            });
            to.push(number);
        }
        to.finish()
    }

    /// As numbers of a vocabulary, however wide these are: the same words, and
    /// where there is none nothing, or what stands for it.
    fn as_numbers(column: &Coded, cells: &[Option<String>]) {
        let words: BTreeSet<&str> = cells.iter().flatten().map(String::as_str).collect();
        let words = std::iter::once("").chain(words);
        let dtype = DataType::from_frozen_categories(FrozenCategories::new(words).unwrap());
        for none in [None, Some("")] {
            let numbers = column.coded(&dtype, none).unwrap();
            assert_eq!(numbers.dtype(), &dtype);
            let text = numbers.cast(&DataType::String).unwrap();
            let expected = cells.iter().map(|cell| cell.as_deref().or(none));
            assert!(text.str().unwrap().iter().eq(expected));
        }
        assert!(column.coded(&DataType::String, None).is_err());
    }

    /// Few words, more than a byte numbers, more than two do; short and long
    /// ones, and pairs that differ in one place only.
    #[test]
    fn what_went_in_comes_out_however_many_words_there_are() {
        for words in [3, 300, 70_000] {
            let cells: Vec<Option<String>> = (0..words * 2)
                .map(|row| match (row % 7, row % words) {
                    (6, _) => None,
                    (5, n) => Some(format!("a longer word, {n}")),
                    (4, n) => Some(format!("a longer ward, {n}")),
                    (_, n) => Some(format!("{n:x}")),
                })
                .collect();
            let column = filled(&cells);
            assert_eq!(column.len(), cells.len());
            for (row, cell) in cells.iter().enumerate() {
                assert_eq!(column.get(row), cell.as_deref());
                assert_eq!(column.is_empty_at(row), cell.is_none());
            }
            let text = column.text(None).unwrap();
            assert!(text.iter().eq(cells.iter().map(Option::as_deref)));
            as_numbers(&column, &cells);
            let keep: BooleanChunked = (0..cells.len()).map(|row| Some(row % 3 == 0)).collect();
            let third: Vec<Option<&str>> = cells.iter().step_by(3).map(Option::as_deref).collect();
            let kept = column.filter(&keep);
            assert!((0..third.len()).all(|row| kept.get(row) == third[row]));
            assert_eq!(kept.len(), third.len());
        }
    }

    #[test]
    fn two_ways_to_write_a_word_are_one_word() {
        let mut to = Dictionary::new("field".into(), 0);
        for (cell, word) in [("Gloss", "gloss"), ("gloss", "gloss"), ("matt", "matte")] {
            let number = to.learn(cell.as_bytes(), Some(word));
            to.push(number);
        }
        let column = to.finish();
        assert!(column.same(0, 1));
        assert!(!column.same(1, 2));
    }

    #[test]
    fn cells_of_up_to_eight_bytes_have_tags_of_their_own() {
        let mut all = BTreeSet::new();
        let letters = [b"a", b"b", b"\0"];
        let mut cells: Vec<Vec<u8>> = vec![Vec::new()];
        for _ in 0..SHORT {
            let longer = cells
                .iter()
                .flat_map(|c| letters.map(|l| [&c[..], l].concat()));
            cells = longer.collect();
            assert!(cells.iter().all(|c| all.insert((c.len(), tag(c)))));
        }
    }
}
