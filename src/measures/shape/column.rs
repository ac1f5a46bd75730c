//! Columns of a result.

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Holds {
    /// The key of a job: any value that is unique per shop and job.
    JobKey,
    /// Text.
    Text,
    /// A count, a sum of counts, or money in minor units.
    Integer,
    /// A measured quantity, or a sum of such.
    Number,
    /// A day.
    Day,
    /// A moment.
    Moment,
}

/// One column of a result.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// Its name.
    pub name: &'static str,
    /// What it holds.
    pub holds: Holds,
    /// It may be empty (NULL).
    pub optional: bool,
    /// It is one of those that together tell the rows apart.
    pub grain: bool,
}

/// A column that tells rows apart.
pub(super) const fn key(name: &'static str, holds: Holds) -> Column {
    Column {
        name,
        holds,
        optional: false,
        grain: true,
    }
}

/// One that may be empty.
pub(super) const fn key_or_none(name: &'static str, holds: Holds) -> Column {
    Column {
        optional: true,
        ..key(name, holds)
    }
}

/// A value.
pub(super) const fn value(name: &'static str, holds: Holds) -> Column {
    Column {
        grain: false,
        ..key(name, holds)
    }
}

/// One that may be empty.
pub(super) const fn maybe(name: &'static str, holds: Holds) -> Column {
    Column {
        optional: true,
        ..value(name, holds)
    }
}

/// A text that tells rows apart; empty reads as ''.
pub(super) const fn named(name: &'static str) -> Column {
    key_or_none(name, Holds::Text)
}

/// A count or a sum of counts.
pub(super) const fn count(name: &'static str) -> Column {
    value(name, Holds::Integer)
}
