//! Typed columns of one chunk: built value by value, then as polars holds them.

mod coded;

pub(super) use coded::{Coded, Dictionary};

use super::dates::DAY_MICROS;
use crate::settings::contract::{Field, Kind};
use polars::prelude::*;

/// Keys of which many rows hold the same: shops and people.
const FEW: [&str; 3] = ["shop", "sold_by", "applied_by"];

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
    pub(super) fn new(field: &Field, rows: usize) -> Self {
        let name = PlSmallStr::from_str(field.name);
        match field.kind {
            _ if is_of_words(field) => Self::Word(Dictionary::new(name, rows)),
            Kind::Key | Kind::Text | Kind::Word(_) => {
                Self::Text(StringChunkedBuilder::new(name, rows))
            }
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

    pub(super) fn finish(self) -> Filled {
        match self {
            Self::Text(b) => Filled::Text(b.finish()),
            Self::Word(b) => Filled::Word(b.finish()),
            Self::Day(b) => Filled::Day(b.finish()),
            Self::Whole(b) => Filled::Whole(b.finish()),
            Self::Real(b) => Filled::Real(b.finish()),
            Self::YesNo(b) => Filled::YesNo(b.finish()),
        }
    }
}

/// A filled column of one chunk, which polars holds as one chunk too.
#[derive(Debug, Clone)]
pub(super) enum Filled {
    /// Keys of which most rows hold one of their own.
    Text(StringChunked),
    /// Words, text and other keys.
    Word(Coded),
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
            Self::Word(c) => Self::Word(c.filter(keep)),
            Self::Day(c) => Self::Day(c.filter(keep)?.rechunk().into_owned()),
            Self::Whole(c) => Self::Whole(c.filter(keep)?.rechunk().into_owned()),
            Self::Real(c) => Self::Real(c.filter(keep)?.rechunk().into_owned()),
            Self::YesNo(c) => Self::YesNo(c.filter(keep)?.rechunk().into_owned()),
        })
    }

    /// True where two cells hold the same, empty ones included.
    pub(super) fn same(&self, row: usize, other: &Self, other_row: usize) -> bool {
        match (self, other) {
            (Self::Text(_) | Self::Word(_), Self::Text(_) | Self::Word(_)) => {
                self.text(row) == other.text(other_row)
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

    /// True where a row holds the same text as the one before it.
    #[inline]
    pub(super) fn repeats(&self, row: usize) -> bool {
        let Some(before) = row.checked_sub(1) else {
            return false;
        };
        match self {
            Self::Word(c) => c.same(before, row),
            _ => self.text(before) == self.text(row),
        }
    }

    /// Rows.
    pub(super) fn len(&self) -> usize {
        match self {
            Self::Text(c) => c.len(),
            Self::Word(c) => c.len(),
            Self::Day(c) => c.len(),
            Self::Whole(c) => c.len(),
            Self::Real(c) => c.len(),
            Self::YesNo(c) => c.len(),
        }
    }

    /// True where the cell is empty.
    #[inline]
    pub(super) fn is_empty_at(&self, row: usize) -> bool {
        match self {
            Self::Text(c) => c.downcast_as_array().get(row).is_none(),
            Self::Word(c) => c.is_empty_at(row),
            Self::Day(c) => c.downcast_as_array().get(row).is_none(),
            Self::Whole(c) => c.downcast_as_array().get(row).is_none(),
            Self::Real(c) => c.downcast_as_array().get(row).is_none(),
            Self::YesNo(c) => c.downcast_as_array().get(row).is_none(),
        }
    }

    /// Calls `take` with each day recorded, or the day of each moment.
    pub(super) fn each_day(&self, mut take: impl FnMut(i32)) {
        match self {
            Self::Day(c) => each(c, &mut take),
            Self::Whole(c) => each(c, |m| take(m.div_euclid(DAY_MICROS) as i32)),
            _ => {}
        }
    }

    #[inline]
    pub(super) fn text(&self, row: usize) -> Option<&str> {
        match self {
            Self::Text(c) => c.downcast_as_array().get(row),
            Self::Word(c) => c.get(row),
            _ => None,
        }
    }

    /// The number of a row's word in a column of words, the same for the same
    /// cell; elsewhere the row's own, from 1.
    #[inline]
    pub(super) fn number(&self, row: usize) -> u32 {
        match self {
            Self::Word(c) => c.number(row),
            _ => row as u32 + 1,
        }
    }

    /// What a row holds other than text, as bits; for hashes.
    pub(super) fn bits(&self, row: usize) -> u64 {
        let bits = match self {
            Self::Text(_) | Self::Word(_) => None,
            Self::Day(_) => self.day(row).map(|d| d as u64),
            Self::Whole(_) => self.whole(row).map(|n| n as u64),
            Self::Real(_) => self.real(row).map(f64::to_bits),
            Self::YesNo(_) => self.yes(row).map(u64::from),
        };
        bits.unwrap_or(u64::MAX / 3)
    }

    #[inline]
    pub(super) fn day(&self, row: usize) -> Option<i32> {
        match self {
            Self::Day(c) => c.downcast_as_array().get(row),
            _ => None,
        }
    }

    #[inline]
    pub(super) fn whole(&self, row: usize) -> Option<i64> {
        match self {
            Self::Whole(c) => c.downcast_as_array().get(row),
            _ => None,
        }
    }

    #[inline]
    pub(super) fn real(&self, row: usize) -> Option<f64> {
        match self {
            Self::Real(c) => c.downcast_as_array().get(row),
            _ => None,
        }
    }

    #[inline]
    pub(super) fn yes(&self, row: usize) -> Option<bool> {
        match self {
            Self::YesNo(c) => c.downcast_as_array().get(row),
            _ => None,
        }
    }

    /// As polars holds it, of the type `dtype`; a shop is "" where none is
    /// recorded, all else NULL.
    pub(super) fn into_series(self, field: &Field, dtype: &DataType) -> PolarsResult<Series> {
        let none = (field.name == "shop").then_some("");
        Ok(match self {
            Self::Text(c) => c.into_series(),
            Self::Word(c) if dtype.is_enum() => c.coded(dtype, none)?,
            Self::Word(c) => c.text(none)?.into_series(),
            Self::Day(c) => c.into_date().into_series(),
            Self::Whole(c) if field.kind == Kind::Moment => {
                c.into_datetime(TimeUnit::Microseconds, None).into_series()
            }
            Self::Whole(c) => c.into_series(),
            Self::Real(c) => c.into_series(),
            Self::YesNo(c) => c.into_series(),
        })
    }
}

/// Calls `take` with each value that is recorded.
#[inline]
fn each<T: PolarsNumericType>(column: &ChunkedArray<T>, take: impl FnMut(T::Native)) {
    let array = column.downcast_as_array();
    match column.null_count() {
        0 => array.values().iter().copied().for_each(take),
        _ => array.non_null_values_iter().for_each(take),
    }
}

/// The words of a column of words; none of another.
pub(super) fn words_of(column: &Filled) -> &[String] {
    match column {
        Filled::Word(c) => c.words(),
        _ => &[],
    }
}

/// True where a field's column is one of words.
pub(super) fn is_of_words(field: &Field) -> bool {
    match field.kind {
        Kind::Key => FEW.contains(&field.name),
        Kind::Text | Kind::Word(_) => true,
        _ => false,
    }
}

/// The type of a field's column in a frame, words as text.
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
