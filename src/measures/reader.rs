//! Columns of one result, asked for row by row.

use super::error::MeasureError;
use super::names::Names;
use super::run::Results;
use super::text::Text;
use crate::settings::month::Month;
use chrono::{NaiveDate, TimeDelta};
use polars::prelude::*;

const EPOCH: NaiveDate = NaiveDate::from_ymd_opt(1970, 1, 1).unwrap();

pub(super) fn day(days: Option<i32>) -> NaiveDate {
    let since = TimeDelta::days(i64::from(days.unwrap_or(0)));
    EPOCH.checked_add_signed(since).unwrap_or(EPOCH)
}

/// The days that a column holds, worked out once each: a column of a million
/// has some hundreds.
pub(super) struct Calendar {
    first: i32,
    days: Vec<NaiveDate>,
}

/// Longest span of a [`Calendar`]; days outside are worked out one by one.
const LONGEST: i32 = 1 << 16;

impl Calendar {
    pub(super) fn of(column: &Plain<Int32Type>) -> Self {
        let all = || column.all().flatten();
        let (first, last) = (all().min().unwrap_or(0), all().max().unwrap_or(-1));
        let last = last.min(first.saturating_add(LONGEST));
        Self {
            first,
            days: (first..=last).map(|d| day(Some(d))).collect(),
        }
    }

    /// As [`day`].
    pub(super) fn day(&self, day_no: Option<i32>) -> NaiveDate {
        let place = i64::from(day_no.unwrap_or(0)) - i64::from(self.first);
        let known = usize::try_from(place).ok().and_then(|i| self.days.get(i));
        known.copied().unwrap_or_else(|| day(day_no))
    }
}

pub(super) fn month(month_no: i64) -> Month {
    let year = i32::try_from(month_no.div_euclid(12)).unwrap_or(0);
    Month::new(year, month_no.rem_euclid(12) as u32 + 1).unwrap_or(Month::of(EPOCH))
}

pub(super) fn count(n: i64) -> u64 {
    u64::try_from(n).unwrap_or(0)
}

/// A column of text, NULL read as empty.
pub(super) fn strings(r: &Reader<'_>, column: &str) -> Result<Vec<Text>, MeasureError> {
    let mut all = Vec::with_capacity(r.len());
    r.texts(column, |_, t| all.push(Text::from(t.unwrap_or(""))))?;
    Ok(all)
}

/// A column of days of a table [days since 1970-01-01].
pub(super) fn days(
    table: &'static str,
    frame: &DataFrame,
    column: &str,
) -> Result<Plain<Int32Type>, MeasureError> {
    Reader {
        query: table,
        frame,
    }
    .days(column)
}

/// A column of text.
pub(super) enum Words {
    /// As text.
    Text(StringChunked),
    /// As numbers of a vocabulary.
    Numbers(UInt32Chunked, Arc<CategoricalMapping>),
}

impl Words {
    fn of(column: &Column) -> PolarsResult<Self> {
        if let DataType::Enum(_, mapping) = column.dtype() {
            let numbers = column.to_physical_repr().cast(&DataType::UInt32)?;
            let numbers = numbers.u32()?.rechunk().into_owned();
            return Ok(Self::Numbers(numbers, Arc::clone(mapping)));
        }
        let text = column.cast(&DataType::String)?;
        Ok(Self::Text(text.str()?.rechunk().into_owned()))
    }

    /// The text of a row; `None` where it is NULL.
    pub(super) fn get(&self, row: usize) -> Option<&str> {
        match self {
            Self::Text(text) => text.get(row),
            Self::Numbers(numbers, words) => words.cat_to_str(numbers.get(row)?),
        }
    }

    /// The text of a row, NULL read as empty.
    pub(super) fn text(&self, row: usize) -> Text {
        Text::from(self.get(row).unwrap_or(""))
    }
}

/// A column of numbers, asked for row by row; no copy is made where it is of
/// one piece and of this type.
pub(super) struct Plain<T: PolarsNumericType>(ChunkedArray<T>);

impl<T: PolarsNumericType> Plain<T> {
    fn of(column: &ChunkedArray<T>) -> Self {
        Self(column.rechunk().into_owned())
    }

    /// The number of a row; `None` where it is NULL.
    pub(super) fn at(&self, row: usize) -> Option<T::Native> {
        self.0.get(row)
    }

    /// All of them.
    pub(super) fn all(&self) -> impl Iterator<Item = Option<T::Native>> {
        self.0.iter()
    }

    /// The number of a row, NULL read as 0: for counts and sums.
    pub(super) fn or_zero(&self, row: usize) -> T::Native {
        self.at(row).unwrap_or_default()
    }
}

/// Numbers for the names in a column, asked for row by row: what is a number of
/// a vocabulary already is looked up once.
pub(super) struct Numbering<'a> {
    words: &'a Words,
    known: Vec<Option<u32>>,
}

impl<'a> Numbering<'a> {
    pub(super) fn of(words: &'a Words) -> Self {
        Self {
            words,
            known: Vec::new(),
        }
    }

    /// The number in `names` of what stands in a row, NULL read as empty.
    pub(super) fn number(&mut self, row: usize, names: &mut Names) -> u32 {
        let mut number = || names.number(self.words.get(row).unwrap_or(""));
        let Words::Numbers(numbers, _) = self.words else {
            return number();
        };
        let Some(code) = numbers.get(row).map(|code| code as usize) else {
            return number();
        };
        if self.known.len() <= code {
            self.known.resize(code + 1, None);
        }
        *self.known[code].get_or_insert_with(number)
    }
}

/// Reads the columns of one result.
pub(super) struct Reader<'a> {
    query: &'static str,
    frame: &'a DataFrame,
}

impl<'a> Reader<'a> {
    pub(super) fn new(results: &'a Results, query: &'static str) -> Result<Self, MeasureError> {
        results
            .get(query)
            .map(|frame| Self { query, frame })
            .ok_or_else(|| MeasureError::Query {
                query: query.to_string(),
                source: PolarsError::NoData("it is not in the catalogue".into()),
            })
    }

    pub(super) fn len(&self) -> usize {
        self.frame.height()
    }

    fn cast(&self, column: &str, to: &DataType) -> Result<Column, MeasureError> {
        self.frame
            .column(column)
            .and_then(|c| c.cast(to))
            .map_err(|source| self.complaint(column, source))
    }

    fn complaint(&self, column: &str, source: PolarsError) -> MeasureError {
        MeasureError::Column {
            query: self.query.to_string(),
            column: column.to_string(),
            source,
        }
    }

    pub(super) fn integers(&self, column: &str) -> Result<Plain<Int64Type>, MeasureError> {
        let cast = self.cast(column, &DataType::Int64)?;
        let typed = cast.i64().map_err(|e| self.complaint(column, e))?;
        Ok(Plain::of(typed))
    }

    /// All of [`Self::integers`], NULL read as 0: for keys, counts and sums.
    pub(super) fn counts(&self, column: &str) -> Result<Vec<i64>, MeasureError> {
        let cast = self.cast(column, &DataType::Int64)?;
        let typed = cast.i64().map_err(|e| self.complaint(column, e))?;
        Ok(typed.iter().map(|v| v.unwrap_or(0)).collect())
    }

    pub(super) fn floats(&self, column: &str) -> Result<Plain<Float64Type>, MeasureError> {
        let cast = self.cast(column, &DataType::Float64)?;
        let typed = cast.f64().map_err(|e| self.complaint(column, e))?;
        Ok(Plain::of(typed))
    }

    /// Days since 1970-01-01.
    pub(super) fn days(&self, column: &str) -> Result<Plain<Int32Type>, MeasureError> {
        let cast = self.cast(column, &DataType::Int32)?;
        let typed = cast.i32().map_err(|e| self.complaint(column, e))?;
        Ok(Plain::of(typed))
    }

    /// Text, to be asked for by row; no copy is made here.
    pub(super) fn words(&self, column: &str) -> Result<Words, MeasureError> {
        let found = self.frame.column(column).and_then(Words::of);
        found.map_err(|e| self.complaint(column, e))
    }

    /// The number in `names` of each row's text, NULL read as empty.
    pub(super) fn numbers(
        &self,
        column: &str,
        names: &mut Names,
    ) -> Result<Vec<u32>, MeasureError> {
        let words = self.words(column)?;
        let mut numbering = Numbering::of(&words);
        Ok((0..self.len())
            .map(|row| numbering.number(row, names))
            .collect())
    }

    /// Text, passed to `take` row by row; no copy is made here.
    pub(super) fn texts(
        &self,
        column: &str,
        mut take: impl FnMut(usize, Option<&str>),
    ) -> Result<(), MeasureError> {
        let words = self.words(column)?;
        (0..self.len()).for_each(|row| take(row, words.get(row)));
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_calendar_tells_the_same_days() {
        let columns = [
            vec![Some(20_000), None, Some(19_500)],
            vec![Some(-3), Some(i32::MAX), Some(i32::MIN)],
            vec![None],
            Vec::new(),
        ];
        for column in columns {
            let calendar = Calendar::of(&Plain(column.iter().copied().collect()));
            let asked = [None, Some(0), Some(19_700), Some(i32::MAX - 1)];
            for d in column.iter().chain(&asked) {
                assert_eq!(calendar.day(*d), day(*d), "{d:?} of {column:?}");
            }
        }
    }
}
