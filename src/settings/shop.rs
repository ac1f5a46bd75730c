//! `shop.toml`: how a shop's exports are read and how its money is counted,
//! from raw text to checked values, once.

mod files;
mod money;
mod page;
mod review;
mod units;

pub use files::{DateOrder, Encoding, FileFormat, Numbers};
pub use money::Money;
pub use review::{Review, Workspace};
pub use units::Units;

use super::contract::{Field, Table};
use super::error::{SettingsError, Source};
use super::raw::RawShop;
use crate::units::System;
use std::collections::BTreeMap;
use std::path::Path;

/// Everything `shop.toml` settles, with the contract's defaults where it is
/// silent.
#[derive(Debug, Clone, Default)]
pub struct Shop {
    /// True where there is a `shop.toml`.
    pub given: bool,
    /// Files of each table, as names or patterns within the folder; a table
    /// that is not named is looked for under its own name.
    pub files: BTreeMap<Table, Vec<String>>,
    /// Heading of each field, by table; a field that is not named is looked
    /// for under its canonical name.
    pub columns: BTreeMap<Table, BTreeMap<&'static str, String>>,
    /// Units of the numbers in the export.
    pub units: Units,
    /// g per mL by product; `"*"` serves any product.
    pub density: BTreeMap<String, f64>,
    /// Drops per mL by product, weighed by the shop.
    pub drops_per_ml: BTreeMap<String, f64>,
    /// The shop's words (lower case) → canonical words, by field name;
    /// `yes_no` serves every yes/no field.
    pub words: BTreeMap<String, BTreeMap<String, String>>,
    /// Order of day, month and year where the export leaves it open.
    pub date_order: Option<DateOrder>,
    /// Decimal and thousands marks where the export leaves them open.
    pub numbers: Numbers,
    /// Bytes and dialect of every file.
    pub format: FileFormat,
    /// The same for single files, by name; these win.
    pub file_formats: BTreeMap<String, FileFormat>,
    /// Money.
    pub money: Money,
    /// Windows and rules of the review.
    pub review: Review,
    /// Rules of the workspace.
    pub workspace: Workspace,
    /// How the page is written.
    pub page: Page,
}

/// How the page is written.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Page {
    /// Metric or US measures.
    pub system: System,
    /// Stands over the title.
    pub shop_name: Option<String>,
    /// Names of people by code, or by "shop/code" where there are several
    /// shops; printed on that person's own page and nowhere else.
    pub names: BTreeMap<String, String>,
    /// Marks within its numbers.
    pub marks: Marks,
}

/// Marks within the numbers of the page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Marks {
    /// Before decimals: `.` or `,`.
    pub decimal: char,
    /// Between thousands.
    pub thousands: char,
}

impl Default for Marks {
    fn default() -> Self {
        Self {
            decimal: '.',
            thousands: ',',
        }
    }
}

impl Shop {
    /// Reads and checks `shop.toml` of a folder; the defaults where there is
    /// none.
    ///
    /// # Errors
    /// An unreadable file, an unknown key or a value that is not allowed,
    /// each with file and line.
    pub fn read(folder: &Path) -> Result<Self, SettingsError> {
        match Source::read(folder.join("shop.toml"))? {
            None => Ok(Self::default()),
            Some(source) => Self::check(&source),
        }
    }

    fn check(source: &Source) -> Result<Self, SettingsError> {
        let raw: RawShop = source.parse()?;
        Ok(Self {
            given: true,
            files: files::files(source, raw.files)?,
            columns: files::columns(source, raw.columns)?,
            units: units::units(source, raw.units)?,
            density: units::positive(source, "density", raw.density)?,
            drops_per_ml: units::positive(source, "drops_per_ml", raw.drops_per_ml)?,
            words: files::words(source, raw.words)?,
            date_order: raw.dates.order,
            numbers: files::numbers(source, raw.numbers)?,
            format: files::format(source, "format", raw.format.all())?,
            file_formats: files::single(source, raw.format.file)?,
            money: money::money(source, raw.money)?,
            review: review::review(source, raw.review)?,
            workspace: review::workspace(source, raw.workspace)?,
            page: page::page(source, raw.page)?,
        })
    }

    /// The heading under which a field stands in this shop's exports.
    pub fn heading(&self, table: Table, field: &Field) -> &str {
        self.columns
            .get(&table)
            .and_then(|c| c.get(field.name))
            .map_or(field.name, String::as_str)
    }
}
