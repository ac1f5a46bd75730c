//! A table of typed columns, before it is a frame.

use crate::measures::shape::{Column, Holds, Shape};
use polars::prelude::{DataFrame, IntoColumn, NamedFrom, PolarsResult, Series};

/// One column's values; `None` where the cell is empty. Days are counted from
/// 1970-01-01, moments in microseconds from its midnight.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Values {
    Texts(Vec<Option<String>>),
    Integers(Vec<Option<i64>>),
    Numbers(Vec<Option<f64>>),
}

impl Values {
    fn of(column: &Column) -> Self {
        match column.holds {
            Holds::Text | Holds::JobKey => Self::Texts(Vec::new()),
            Holds::Number => Self::Numbers(Vec::new()),
            Holds::Integer | Holds::Day | Holds::Moment => Self::Integers(Vec::new()),
        }
    }

    pub(super) fn push_none(&mut self) {
        match self {
            Self::Texts(all) => all.push(None),
            Self::Integers(all) => all.push(None),
            Self::Numbers(all) => all.push(None),
        }
    }

    /// One cell, to tell rows apart by.
    pub(super) fn cell(&self, row: usize) -> Cell<'_> {
        match self {
            Self::Texts(all) => Cell::Text(all.get(row).and_then(|t| t.as_deref()).unwrap_or("")),
            Self::Integers(all) => Cell::Integer(all.get(row).copied().flatten()),
            Self::Numbers(all) => Cell::Number(all.get(row).copied().flatten().map(f64::to_bits)),
        }
    }

    /// Moves another column's values behind these.
    pub(super) fn append(&mut self, other: Self) {
        match (self, other) {
            (Self::Texts(a), Self::Texts(b)) => a.extend(b),
            (Self::Integers(a), Self::Integers(b)) => a.extend(b),
            (Self::Numbers(a), Self::Numbers(b)) => a.extend(b),
            // Columns of one shape have one kind.
            _ => {}
        }
    }
}

/// A cell that tells rows apart: an empty text is ''.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) enum Cell<'a> {
    Text(&'a str),
    Integer(Option<i64>),
    Number(Option<u64>),
}

/// A table of one shape.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sheet {
    pub(super) shape: &'static Shape,
    /// The file.
    pub(super) place: String,
    /// In the shape's order, of one length.
    pub(super) columns: Vec<Values>,
    /// The line of each row in its file.
    pub(super) lines: Vec<u64>,
}

impl Sheet {
    pub(super) fn empty(shape: &'static Shape, place: &str) -> Self {
        Self {
            shape,
            place: place.to_string(),
            columns: shape.columns.iter().map(Values::of).collect(),
            lines: Vec::new(),
        }
    }

    pub(super) fn len(&self) -> usize {
        self.lines.len()
    }

    /// What tells a row from the others.
    pub(super) fn grain(&self, row: usize) -> Vec<Cell<'_>> {
        let columns = self.shape.columns.iter().zip(&self.columns);
        let grain = columns.filter(|(c, _)| c.grain);
        grain.map(|(_, values)| values.cell(row)).collect()
    }

    /// The values of a column, by its name.
    pub(super) fn column(&self, name: &str) -> Option<&Values> {
        let at = self.shape.columns.iter().position(|c| c.name == name)?;
        self.columns.get(at)
    }

    /// The same, to change.
    pub(super) fn column_mut(&mut self, name: &str) -> Option<&mut Values> {
        let at = self.shape.columns.iter().position(|c| c.name == name)?;
        self.columns.get_mut(at)
    }

    /// Texts of a column; none where it holds others.
    pub(super) fn texts(&self, name: &str) -> &[Option<String>] {
        match self.column(name) {
            Some(Values::Texts(all)) => all,
            _ => &[],
        }
    }

    /// Integers of a column; none where it holds others.
    pub(super) fn integers(&self, name: &str) -> &[Option<i64>] {
        match self.column(name) {
            Some(Values::Integers(all)) => all,
            _ => &[],
        }
    }

    /// The frame that the query would have given.
    pub(super) fn frame(self) -> PolarsResult<DataFrame> {
        let height = self.len();
        let names = self.shape.columns.iter().map(|c| c.name.into());
        let series = names.zip(self.columns).map(|(name, values)| match values {
            Values::Texts(all) => Series::new(name, all),
            Values::Integers(all) => Series::new(name, all),
            Values::Numbers(all) => Series::new(name, all),
        });
        DataFrame::new(height, series.map(IntoColumn::into_column).collect())
    }
}
