//! Typed columns of one chunk: built value by value, then as polars holds them.

use super::dates::DAY_MICROS;
use crate::settings::contract::Kind;
use polars::prelude::*;
use std::collections::HashMap;

/// A column that is being filled.
pub(super) enum Builder {
    Text(StringChunkedBuilder),
    Word(Dictionary),
    Day(PrimitiveChunkedBuilder<Int32Type>),
    Whole(PrimitiveChunkedBuilder<Int64Type>),
    Real(PrimitiveChunkedBuilder<Float64Type>),
    YesNo(BooleanChunkedBuilder),
}

impl Builder {
    pub(super) fn new(name: &str, kind: Kind, rows: usize) -> Self {
        let name = PlSmallStr::from_str(name);
        match kind {
            Kind::Key => Self::Text(StringChunkedBuilder::new(name, rows)),
            Kind::Text | Kind::Word(_) => Self::Word(Dictionary::new(name, rows)),
            Kind::Date => Self::Day(PrimitiveChunkedBuilder::new(name, rows)),
            Kind::Moment | Kind::Money => Self::Whole(PrimitiveChunkedBuilder::new(name, rows)),
            Kind::YesNo => Self::YesNo(BooleanChunkedBuilder::new(name, rows)),
            Kind::Area
            | Kind::Minutes
            | Kind::Used
            | Kind::Volume
            | Kind::Temperature
            | Kind::Humidity => Self::Real(PrimitiveChunkedBuilder::new(name, rows)),
        }
    }

    pub(super) fn finish(self) -> PolarsResult<Filled> {
        Ok(match self {
            Self::Text(b) => Filled::Text(b.finish()),
            Self::Word(b) => Filled::Text(b.finish()?),
            Self::Day(b) => Filled::Day(b.finish()),
            Self::Whole(b) => Filled::Whole(b.finish()),
            Self::Real(b) => Filled::Real(b.finish()),
            Self::YesNo(b) => Filled::YesNo(b.finish()),
        })
    }
}

/// A column of few different words: each is kept once, and rows point to it.
pub(super) struct Dictionary {
    name: PlSmallStr,
    words: Vec<String>,
    /// What each cell as written stands for; `None` = not recorded.
    known: HashMap<Box<[u8]>, Option<u32>>,
    /// The first few of those, which most rows are.
    usual: Vec<(Box<[u8]>, Option<u32>)>,
    rows: PrimitiveChunkedBuilder<IdxType>,
}

impl Dictionary {
    fn new(name: PlSmallStr, rows: usize) -> Self {
        Self {
            rows: PrimitiveChunkedBuilder::new(name.clone(), rows),
            name,
            words: Vec::new(),
            known: HashMap::new(),
            usual: Vec::new(),
        }
    }

    /// What a cell stands for, if it came before.
    #[inline]
    pub(super) fn known(&self, cell: &[u8]) -> Option<Option<u32>> {
        match self.usual.iter().find(|(c, _)| **c == *cell) {
            Some((_, word)) => Some(*word),
            None if self.known.is_empty() => None,
            None => self.known.get(cell).copied(),
        }
    }

    /// Notes what a cell stands for.
    pub(super) fn learn(&mut self, cell: &[u8], word: Option<&str>) -> Option<u32> {
        const USUAL: usize = 12;
        let at = word.map(|word| {
            self.words.push(word.to_string());
            self.words.len() as u32 - 1
        });
        if self.usual.len() < USUAL {
            self.usual.push((cell.into(), at));
        } else {
            self.known.insert(cell.into(), at);
        }
        at
    }

    /// Appends a row.
    #[inline]
    pub(super) fn push(&mut self, word: Option<u32>) {
        self.rows.append_option(word);
    }

    fn finish(self) -> PolarsResult<StringChunked> {
        let words = StringChunked::from_slice(self.name, &self.words);
        Ok(words.take(&self.rows.finish())?.rechunk().into_owned())
    }
}

/// A filled column of one chunk, which polars holds as one chunk too.
#[derive(Debug, Clone)]
pub(super) enum Filled {
    /// Keys, words, text.
    Text(StringChunked),
    /// Days since 1970.
    Day(Int32Chunked),
    /// Microseconds since 1970, or minor units.
    Whole(Int64Chunked),
    /// Canonical units.
    Real(Float64Chunked),
    /// Yes or no.
    YesNo(BooleanChunked),
}

impl Filled {
    /// The rows for which `keep` is true.
    pub(super) fn filter(&self, keep: &BooleanChunked) -> PolarsResult<Self> {
        Ok(match self {
            Self::Text(c) => Self::Text(c.filter(keep)?.rechunk().into_owned()),
            Self::Day(c) => Self::Day(c.filter(keep)?.rechunk().into_owned()),
            Self::Whole(c) => Self::Whole(c.filter(keep)?.rechunk().into_owned()),
            Self::Real(c) => Self::Real(c.filter(keep)?.rechunk().into_owned()),
            Self::YesNo(c) => Self::YesNo(c.filter(keep)?.rechunk().into_owned()),
        })
    }

    /// True where two cells hold the same, empty ones included.
    pub(super) fn same(&self, row: usize, other: &Self, other_row: usize) -> bool {
        match (self, other) {
            (Self::Text(a), Self::Text(b)) => {
                a.downcast_as_array().get(row) == b.downcast_as_array().get(other_row)
            }
            (Self::Day(a), Self::Day(b)) => {
                a.downcast_as_array().get(row) == b.downcast_as_array().get(other_row)
            }
            (Self::Whole(a), Self::Whole(b)) => {
                a.downcast_as_array().get(row) == b.downcast_as_array().get(other_row)
            }
            (Self::Real(a), Self::Real(b)) => {
                a.downcast_as_array().get(row).map(f64::to_bits)
                    == b.downcast_as_array().get(other_row).map(f64::to_bits)
            }
            (Self::YesNo(a), Self::YesNo(b)) => {
                a.downcast_as_array().get(row) == b.downcast_as_array().get(other_row)
            }
            _ => false,
        }
    }

    /// True where the cell is empty.
    pub(super) fn is_empty_at(&self, row: usize) -> bool {
        match self {
            Self::Text(c) => c.downcast_as_array().get(row).is_none(),
            Self::Day(c) => c.downcast_as_array().get(row).is_none(),
            Self::Whole(c) => c.downcast_as_array().get(row).is_none(),
            Self::Real(c) => c.downcast_as_array().get(row).is_none(),
            Self::YesNo(c) => c.downcast_as_array().get(row).is_none(),
        }
    }

    /// Calls `take` with each day recorded, or the day of each moment.
    pub(super) fn each_day(&self, mut take: impl FnMut(i32)) {
        match self {
            Self::Day(c) => c
                .downcast_as_array()
                .iter()
                .flatten()
                .for_each(|d| take(*d)),
            Self::Whole(c) => {
                let moments = c.downcast_as_array().iter().flatten();
                moments.for_each(|m| take(m.div_euclid(DAY_MICROS) as i32));
            }
            _ => {}
        }
    }

    pub(super) fn text(&self, row: usize) -> Option<&str> {
        match self {
            Self::Text(c) => c.downcast_as_array().get(row),
            _ => None,
        }
    }

    pub(super) fn day(&self, row: usize) -> Option<i32> {
        match self {
            Self::Day(c) => c.downcast_as_array().get(row),
            _ => None,
        }
    }

    pub(super) fn whole(&self, row: usize) -> Option<i64> {
        match self {
            Self::Whole(c) => c.downcast_as_array().get(row),
            _ => None,
        }
    }

    pub(super) fn real(&self, row: usize) -> Option<f64> {
        match self {
            Self::Real(c) => c.downcast_as_array().get(row),
            _ => None,
        }
    }

    pub(super) fn yes(&self, row: usize) -> Option<bool> {
        match self {
            Self::YesNo(c) => c.downcast_as_array().get(row),
            _ => None,
        }
    }

    pub(super) fn into_series(self, kind: Kind) -> Series {
        match self {
            Self::Text(c) => c.into_series(),
            Self::Day(c) => c.into_date().into_series(),
            Self::Whole(c) if kind == Kind::Moment => {
                c.into_datetime(TimeUnit::Microseconds, None).into_series()
            }
            Self::Whole(c) => c.into_series(),
            Self::Real(c) => c.into_series(),
            Self::YesNo(c) => c.into_series(),
        }
    }
}

/// The type of a field's column in a frame.
pub(super) fn dtype(kind: Kind) -> DataType {
    match kind {
        Kind::Key | Kind::Text | Kind::Word(_) => DataType::String,
        Kind::Date => DataType::Date,
        Kind::Moment => DataType::Datetime(TimeUnit::Microseconds, None),
        Kind::Money => DataType::Int64,
        Kind::YesNo => DataType::Boolean,
        Kind::Area
        | Kind::Minutes
        | Kind::Used
        | Kind::Volume
        | Kind::Temperature
        | Kind::Humidity => DataType::Float64,
    }
}
