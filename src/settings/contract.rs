//! The data contract as code: which tables there are, which fields they have,
//! and what a cell of each may hold.
//!
//! Names here are the canonical ones; a shop's `shop.toml` maps its own
//! headings onto them.

use std::fmt;

/// A table of the contract. Only [`Table::Jobs`] is required.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Table {
    /// One finished film job a row.
    Jobs,
    /// One finish (or panel group) of a job a row.
    Surfaces,
    /// One spell of coating work a row.
    Coatings,
    /// One bottle of coating a row.
    Bottles,
    /// One callback a row.
    Callbacks,
    /// One person a row.
    People,
    /// One later look at a job a row.
    Inspections,
}

/// All tables, in the order in which they are read and reported.
pub const TABLES: [Table; 7] = [
    Table::Jobs,
    Table::Surfaces,
    Table::Coatings,
    Table::Bottles,
    Table::Callbacks,
    Table::People,
    Table::Inspections,
];

/// What a cell may hold. Canonical units are in brackets; empty is always
/// "not recorded".
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Text that identifies: never read as a number (leading zeros live).
    Key,
    /// Free text, or the shop's own word.
    Text,
    /// A word of a closed list.
    Word(&'static [&'static str]),
    /// A day.
    Date,
    /// A day with a time of day, local to the shop.
    Moment,
    /// Film area [m²], above 0.
    Area,
    /// Money [minor units].
    Money,
    /// Yes or no.
    YesNo,
    /// Minutes [min], 0 to 1,440.
    Minutes,
    /// Coating used [mL], at least 0.
    Used,
    /// Volume of a bottle or left over [mL], at least 0.
    Volume,
    /// Temperature [°C].
    Temperature,
    /// Relative humidity [%], 0 to 100.
    Humidity,
}

/// One field of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Field {
    /// Canonical name.
    pub name: &'static str,
    /// What a cell may hold.
    pub kind: Kind,
    /// True where the table cannot be read without the column.
    pub column_required: bool,
    /// True where an empty cell puts the line aside.
    pub cell_required: bool,
}

const fn field(name: &'static str, kind: Kind) -> Field {
    Field {
        name,
        kind,
        column_required: false,
        cell_required: false,
    }
}

const fn required(name: &'static str, kind: Kind) -> Field {
    Field {
        name,
        kind,
        column_required: true,
        cell_required: true,
    }
}

/// Words for `jobs.coverage`.
pub const COVERAGE: &[&str] = &["full", "partial"];
/// Words for `jobs.sample`.
pub const SAMPLE: &[&str] = &["none", "full_pair", "half_and_half"];
/// Words for `surfaces.orientation` and `inspections.orientation`.
pub const ORIENTATION: &[&str] = &["horizontal", "vertical"];
/// Words for `inspections.condition`.
pub const CONDITION: &[&str] = &["sound", "failed"];
/// Causes of callbacks that charge the coating's margin.
pub const COATING_CAUSES: &[&str] = &[
    "high_spot",
    "line",
    "missed_area",
    "haze",
    "colour_complaint",
];

use Kind::{
    Area, Date, Humidity, Key, Minutes, Moment, Money, Temperature, Text, Used, Volume, Word, YesNo,
};

const JOBS: &[Field] = &[
    required("job", Key),
    field("shop", Key),
    required("finished_on", Date),
    required("vehicle_class", Text),
    field("film", Text),
    field("finish", Text),
    field("area", Area),
    field("coverage", Word(COVERAGE)),
    field("offered", YesNo),
    field("sample", Word(SAMPLE)),
    field("sold_by", Key),
    required("coated", YesNo),
    field("coating_price", Money),
    field("coating_discount", Money),
    field("film_price", Money),
    field("quoted_on", Date),
    field("excluded", YesNo),
];
const SURFACES: &[Field] = &[
    required("job", Key),
    field("shop", Key),
    field("surface", Text),
    required("finish", Text),
    required("area", Area),
    field("orientation", Word(ORIENTATION)),
];
const COATINGS: &[Field] = &[
    required("job", Key),
    field("shop", Key),
    field("applied_by", Key),
    field("started_at", Moment),
    field("ended_at", Moment),
    field("minutes", Minutes),
    field("paused_minutes", Minutes),
    field("used", Used),
    field("bottle", Key),
    field("product", Text),
    field("air_temperature", Temperature),
    field("surface_temperature", Temperature),
    field("relative_humidity", Humidity),
    field("released_at", Moment),
    field("rain", YesNo),
    field("held_overnight", YesNo),
];
const BOTTLES: &[Field] = &[
    required("bottle", Key),
    field("shop", Key),
    field("product", Text),
    field("lot", Key),
    field("opened_on", Date),
    field("emptied_on", Date),
    field("volume", Volume),
    field("left_over", Volume),
    field("cost", Money),
];
const CALLBACKS: &[Field] = &[
    required("job", Key),
    field("shop", Key),
    field("reported_on", Date),
    field("cause", Text),
    field("minutes", Minutes),
    field("used", Used),
    field("cost", Money),
];
const PEOPLE: &[Field] = &[
    required("person", Key),
    field("shop", Key),
    field("role", Text),
    field("hourly_cost", Money),
    field("started_on", Date),
    field("ended_on", Date),
];
const INSPECTIONS: &[Field] = &[
    required("job", Key),
    field("shop", Key),
    required("seen_on", Date),
    required("condition", Word(CONDITION)),
    field("orientation", Word(ORIENTATION)),
];

impl Table {
    /// Canonical name, which is also the default file's stem.
    pub fn name(self) -> &'static str {
        match self {
            Self::Jobs => "jobs",
            Self::Surfaces => "surfaces",
            Self::Coatings => "coatings",
            Self::Bottles => "bottles",
            Self::Callbacks => "callbacks",
            Self::People => "people",
            Self::Inspections => "inspections",
        }
    }

    /// The table of a canonical name.
    pub fn named(name: &str) -> Option<Self> {
        TABLES.into_iter().find(|t| t.name() == name)
    }

    /// Its fields, in the contract's order.
    pub fn fields(self) -> &'static [Field] {
        match self {
            Self::Jobs => JOBS,
            Self::Surfaces => SURFACES,
            Self::Coatings => COATINGS,
            Self::Bottles => BOTTLES,
            Self::Callbacks => CALLBACKS,
            Self::People => PEOPLE,
            Self::Inspections => INSPECTIONS,
        }
    }

    /// The field of a canonical name.
    pub fn field(self, name: &str) -> Option<&'static Field> {
        self.fields().iter().find(|f| f.name == name)
    }

    /// The fields that make a record the same record in a later export,
    /// `shop` apart; empty where records have no key of their own (a job may
    /// have several surfaces, spells, callbacks, inspections).
    pub fn key(self) -> &'static [&'static str] {
        match self {
            Self::Jobs => &["job"],
            Self::Bottles => &["bottle"],
            Self::People => &["person"],
            Self::Surfaces | Self::Coatings | Self::Callbacks | Self::Inspections => &[],
        }
    }
}

impl fmt::Display for Table {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_unique_within_a_table_and_keys_are_fields() {
        for table in TABLES {
            let mut names: Vec<_> = table.fields().iter().map(|f| f.name).collect();
            names.sort_unstable();
            let before = names.len();
            names.dedup();
            assert_eq!(before, names.len(), "{table}");
            assert_eq!(Table::named(table.name()), Some(table));
            assert!(table.key().iter().all(|k| table.field(k).is_some()));
        }
    }
}
