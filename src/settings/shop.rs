//! `shop.toml`: how a shop's exports are read and how its money is counted,
//! from raw text to checked values, once.

use super::contract::{Field, Kind, TABLES, Table};
use super::error::{SettingsError, Source};
use super::raw::{RawFormat, RawMoney, RawReview, RawShop, RawUnits, RawWindow};
use crate::money::Currency;
use crate::units::{AreaUnit, System, TemperatureUnit, UseUnit, VolumeUnit};
use chrono::NaiveDate;
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

/// Units of the numbers in an export; single fields ("surfaces.area") win
/// over their kind. `None`: the heading may say, else the canonical unit.
#[derive(Debug, Clone, Default)]
pub struct Units {
    /// Film areas.
    pub area: Option<AreaUnit>,
    /// Coating used on jobs and callbacks.
    pub used: Option<UseUnit>,
    /// Bottles.
    pub volume: Option<VolumeUnit>,
    /// Temperatures.
    pub temperature: Option<TemperatureUnit>,
    /// Areas of one field.
    pub area_of: BTreeMap<String, AreaUnit>,
    /// Uses of one field.
    pub used_of: BTreeMap<String, UseUnit>,
    /// Volumes of one field.
    pub volume_of: BTreeMap<String, VolumeUnit>,
    /// Temperatures of one field.
    pub temperature_of: BTreeMap<String, TemperatureUnit>,
}

/// Order of the parts of a date.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DateOrder {
    /// 2026-10-31
    YearFirst,
    /// 10/31/2026
    MonthFirst,
    /// 31/10/2026
    DayFirst,
}

/// Marks within numbers; `None` = found by looking.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Numbers {
    /// Decimal mark: `.` or `,`.
    pub decimal: Option<char>,
    /// Thousands mark.
    pub thousands: Option<char>,
}

/// Bytes and dialect of a file; `None` = found by looking.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct FileFormat {
    /// How bytes become text.
    pub encoding: Option<Encoding>,
    /// What stands between cells.
    pub delimiter: Option<u8>,
    /// What may enclose a cell.
    pub quote: Option<u8>,
    /// True where a backslash, not a doubled quote, makes a quote literal.
    pub backslash_escape: bool,
    /// Physical line of the heading, from 1.
    pub heading_line: Option<u32>,
    /// Lines that the heading takes; 0 = there is none, and columns are named
    /// by their number ("1" is the first).
    pub heading_lines: Option<u32>,
    /// Heading of the column that orders overlapping exports.
    pub later_by: Option<String>,
}

/// How bytes become text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize, serde::Serialize)]
pub enum Encoding {
    /// UTF-8, with or without byte order mark.
    #[serde(rename = "utf-8")]
    Utf8,
    /// UTF-16, by its byte order mark, else little endian.
    #[serde(rename = "utf-16")]
    Utf16,
    /// windows-1252.
    #[serde(rename = "windows-1252")]
    Windows1252,
}

/// Money settings. Shares are of 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Money {
    /// The shop's currency.
    pub currency: Currency,
    /// Loaded labour = wage × this.
    pub labour_loading: f64,
    /// True where the shop set the loading itself.
    pub labour_loading_given: bool,
    /// Consumables per coated job, major units.
    pub consumables: f64,
    /// Card fees as a share of what is charged.
    pub card_fee_share: f64,
    /// A price covers the work where its margin is at least this share.
    pub floor_margin: f64,
    /// The margin that the shop aims at.
    pub target_margin: f64,
    /// Prices are rounded up to a multiple of this, major units.
    pub price_rounding: f64,
    /// No list price of a partial job falls under this, major units.
    pub minimum_price: Option<f64>,
    /// True where prices in the exports hold sales tax.
    pub prices_include_tax: bool,
    /// Sales tax as a share of the price without it.
    pub tax_rate: f64,
}

impl Default for Money {
    fn default() -> Self {
        Self {
            currency: Currency {
                code: "USD".into(),
                sign: "$".into(),
                decimals: 2,
            },
            labour_loading: 1.42,
            labour_loading_given: false,
            consumables: 0.0,
            card_fee_share: 0.0,
            floor_margin: 0.35,
            target_margin: 0.55,
            price_rounding: 5.0,
            minimum_price: None,
            prices_include_tax: false,
            tax_rate: 0.0,
        }
    }
}

/// Which jobs the fits use, and how.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Review {
    /// Months up to the end of the month reviewed; `None` = all there are.
    pub window_months: Option<u32>,
    /// The data's last day, where the shop says so.
    pub data_until: Option<NaiveDate>,
    /// Leave far-off jobs out of the fits (never out of counts or money).
    pub leave_out: bool,
    /// The constants in force count as this many typical jobs per finish.
    pub evidence_jobs: f64,
}

impl Default for Review {
    fn default() -> Self {
        Self {
            window_months: Some(12),
            data_until: None,
            leave_out: true,
            evidence_jobs: 5.0,
        }
    }
}

/// Rules of the workspace: common practice, no published source.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Workspace {
    /// Air is to be above this [°C].
    pub air_min_c: f64,
    /// Relative humidity is to be under this [%].
    pub humidity_max: f64,
    /// The surface is to be this far above the dew point [°C].
    pub dew_point_margin_c: f64,
    /// Hours between the end of the work and the release.
    pub release_hours: f64,
}

impl Default for Workspace {
    fn default() -> Self {
        Self {
            air_min_c: 10.0,
            humidity_max: 70.0,
            dew_point_margin_c: 3.0,
            release_hours: 1.0,
        }
    }
}

/// How the page is written.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Page {
    /// Metric or US measures.
    pub system: System,
    /// Stands over the title.
    pub shop_name: Option<String>,
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
            files: files(source, raw.files)?,
            columns: columns(source, raw.columns)?,
            units: units(source, raw.units)?,
            density: positive(source, "density", raw.density)?,
            drops_per_ml: positive(source, "drops_per_ml", raw.drops_per_ml)?,
            words: words(source, raw.words)?,
            date_order: raw.dates.order,
            numbers: Numbers {
                decimal: one_of(source, "numbers", "decimal", raw.numbers.decimal, ".,")?,
                thousands: one_of(
                    source,
                    "numbers",
                    "thousands",
                    raw.numbers.thousands,
                    ".,' \u{a0}\u{202f}",
                )?,
            },
            format: format(source, "format", raw.format.all())?,
            file_formats: raw
                .format
                .file
                .into_iter()
                .map(|(name, f)| Ok((name.clone(), format(source, "format.file", f)?)))
                .collect::<Result<_, SettingsError>>()?,
            money: money(source, raw.money)?,
            review: review(source, raw.review)?,
            workspace: Workspace {
                air_min_c: raw.workspace.air_min_c.unwrap_or(10.0),
                humidity_max: raw.workspace.humidity_max.unwrap_or(70.0),
                dew_point_margin_c: raw.workspace.dew_point_margin_c.unwrap_or(3.0),
                release_hours: raw.workspace.release_hours.unwrap_or(1.0),
            },
            page: Page {
                system: raw.page.units.unwrap_or_default(),
                shop_name: raw.page.shop_name,
            },
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

fn table_named(source: &Source, within: &str, name: &str) -> Result<Table, SettingsError> {
    Table::named(name).ok_or_else(|| {
        let names: Vec<_> = TABLES.iter().map(|t| t.name()).collect();
        source.value(
            within,
            name,
            "no table of the contract",
            format!("one of {}", names.join(", ")),
        )
    })
}

fn files(
    source: &Source,
    raw: BTreeMap<String, super::raw::OneOrMany>,
) -> Result<BTreeMap<Table, Vec<String>>, SettingsError> {
    let mut all = BTreeMap::new();
    for (name, names) in raw {
        let table = table_named(source, "files", &name)?;
        let names = names.into_vec();
        if names.is_empty() || names.iter().any(|n| n.trim().is_empty()) {
            return Err(source.value("files", &name, "empty", "a file name or a pattern"));
        }
        all.insert(table, names);
    }
    Ok(all)
}

fn columns(
    source: &Source,
    raw: BTreeMap<String, BTreeMap<String, String>>,
) -> Result<BTreeMap<Table, BTreeMap<&'static str, String>>, SettingsError> {
    let mut all = BTreeMap::new();
    for (name, fields) in raw {
        let table = table_named(source, "columns", &name)?;
        let within = format!("columns.{name}");
        let mut headings = BTreeMap::new();
        for (field, heading) in fields {
            let known = table.field(&field).ok_or_else(|| {
                let names: Vec<_> = table.fields().iter().map(|f| f.name).collect();
                source.value(
                    &within,
                    &field,
                    "no field of that table",
                    format!("one of {}", names.join(", ")),
                )
            })?;
            headings.insert(known.name, heading);
        }
        all.insert(table, headings);
    }
    Ok(all)
}

/// The kind of "table.field", where there is such a field.
fn kind_of(name: &str) -> Option<Kind> {
    let (table, field) = name.split_once('.')?;
    Some(Table::named(table)?.field(field)?.kind)
}

fn units(source: &Source, raw: RawUnits) -> Result<Units, SettingsError> {
    let mut units = Units {
        area: raw.area,
        used: raw.used,
        volume: raw.volume,
        temperature: raw.temperature,
        ..Units::default()
    };
    for (name, word) in raw.fields {
        let bad = |expected: &str| source.value("units", &name, format!("\"{word}\""), expected);
        let parsed = |w: &str| toml::Value::String(w.to_string());
        match kind_of(&name) {
            Some(Kind::Area) => {
                let unit = parsed(&word).try_into();
                let unit = unit.map_err(|_| bad("\"m2\" or \"ft2\""))?;
                units.area_of.insert(name.clone(), unit);
            }
            Some(Kind::Used) => {
                let unit = parsed(&word).try_into();
                let unit = unit.map_err(|_| bad("\"mL\", \"g\", \"US fl oz\" or \"drops\""))?;
                units.used_of.insert(name.clone(), unit);
            }
            Some(Kind::Volume) => {
                let unit = parsed(&word).try_into();
                let unit = unit.map_err(|_| bad("\"mL\", \"L\" or \"US fl oz\""))?;
                units.volume_of.insert(name.clone(), unit);
            }
            Some(Kind::Temperature) => {
                let unit = parsed(&word).try_into();
                let unit = unit.map_err(|_| bad("\"C\" or \"F\""))?;
                units.temperature_of.insert(name.clone(), unit);
            }
            _ => {
                return Err(source.value(
                    "units",
                    &name,
                    format!("\"{word}\""),
                    "a key area, used, volume, temperature, or \"table.field\" of such a field",
                ));
            }
        }
    }
    Ok(units)
}

fn positive(
    source: &Source,
    table: &str,
    raw: BTreeMap<String, f64>,
) -> Result<BTreeMap<String, f64>, SettingsError> {
    match raw.iter().find(|(_, v)| !(v.is_finite() && **v > 0.0)) {
        Some((key, v)) => Err(source.value(table, key, v, "a number above 0")),
        None => Ok(raw),
    }
}

fn words(
    source: &Source,
    raw: BTreeMap<String, BTreeMap<String, String>>,
) -> Result<BTreeMap<String, BTreeMap<String, String>>, SettingsError> {
    let mut all = BTreeMap::new();
    for (name, map) in raw {
        let known = name == "yes_no"
            || TABLES
                .iter()
                .any(|t| t.field(&name).is_some() || kind_of(&name).is_some());
        if !known {
            return Err(source.value(
                "words",
                &name,
                "no field of the contract",
                "a field's name, \"table.field\", or yes_no",
            ));
        }
        let lower = map
            .into_iter()
            .map(|(theirs, ours)| (theirs.trim().to_lowercase(), ours))
            .collect();
        all.insert(name, lower);
    }
    Ok(all)
}

fn one_of(
    source: &Source,
    table: &str,
    key: &str,
    raw: Option<String>,
    allowed: &str,
) -> Result<Option<char>, SettingsError> {
    let Some(text) = raw else { return Ok(None) };
    let mut chars = text.chars();
    match (chars.next(), chars.next()) {
        (Some(c), None) if allowed.contains(c) => Ok(Some(c)),
        _ => Err(source.value(
            table,
            key,
            format!("{text:?}"),
            format!("one of {:?}", allowed.chars().collect::<Vec<_>>()),
        )),
    }
}

fn format(source: &Source, table: &str, raw: RawFormat) -> Result<FileFormat, SettingsError> {
    let delimiter = match raw.delimiter.as_deref() {
        Some("tab") => Some(b'\t'),
        Some("space") => Some(b' '),
        Some(other) => {
            one_of(source, table, "delimiter", Some(other.into()), ",;\t| ")?.map(|c| c as u8)
        }
        None => None,
    };
    let quote = one_of(source, table, "quote", raw.quote, "\"'")?.map(|c| c as u8);
    let backslash_escape = match raw.escape.as_deref() {
        None | Some("doubled") => false,
        Some("backslash") => true,
        Some(other) => {
            return Err(source.value(
                table,
                "escape",
                format!("{other:?}"),
                "\"doubled\" or \"backslash\"",
            ));
        }
    };
    if raw.heading_line == Some(0) {
        return Err(source.value(table, "heading_line", 0, "a line from 1"));
    }
    Ok(FileFormat {
        encoding: raw.encoding,
        delimiter,
        quote,
        backslash_escape,
        heading_line: raw.heading_line,
        heading_lines: raw.heading_lines,
        later_by: raw.later_by,
    })
}

fn money(source: &Source, raw: RawMoney) -> Result<Money, SettingsError> {
    let usual = Money::default();
    let code = raw.currency.unwrap_or(usual.currency.code);
    let currency = Currency::of(&code).ok_or_else(|| {
        source.value(
            "money",
            "currency",
            format!("{code:?}"),
            "an ISO 4217 code of three capital letters, as \"USD\"",
        )
    })?;
    let number = |key: &str, given: Option<f64>, usual: f64, low: f64, below: f64| {
        let x = given.unwrap_or(usual);
        if x.is_finite() && low <= x && x < below {
            Ok(x)
        } else {
            let expected = format!("a number from {low} to under {below}");
            Err(source.value("money", key, x, expected))
        }
    };
    const ANY: f64 = 1.0e9;
    let minimum = raw.minimum_price;
    Ok(Money {
        currency,
        labour_loading: number("labour_loading", raw.labour_loading, 1.42, 1.0, 10.0)?,
        labour_loading_given: raw.labour_loading.is_some(),
        consumables: number("consumables", raw.consumables, 0.0, 0.0, ANY)?,
        card_fee_share: number("card_fee_share", raw.card_fee_share, 0.0, 0.0, 0.5)?,
        floor_margin: number("floor_margin", raw.floor_margin, 0.35, 0.0, 1.0)?,
        target_margin: number("target_margin", raw.target_margin, 0.55, 0.0, 1.0)?,
        price_rounding: number("price_rounding", raw.price_rounding, 5.0, 0.01, ANY)?,
        minimum_price: minimum
            .map(|m| number("minimum_price", Some(m), 0.0, 0.0, ANY))
            .transpose()?,
        prices_include_tax: raw.prices_include_tax.unwrap_or(false),
        tax_rate: number("tax_rate", raw.tax_rate, 0.0, 0.0, 1.0)?,
    })
}

fn review(source: &Source, raw: RawReview) -> Result<Review, SettingsError> {
    let usual = Review::default();
    let window_months = match raw.window_months {
        None => usual.window_months,
        Some(RawWindow::Months(n)) if (1..=1200).contains(&n) => Some(n),
        Some(RawWindow::Word(w)) if w == "all" => None,
        Some(other) => {
            let found = match other {
                RawWindow::Months(n) => n.to_string(),
                RawWindow::Word(w) => format!("{w:?}"),
            };
            return Err(source.value(
                "review",
                "window_months",
                found,
                "a number of months from 1, or \"all\"",
            ));
        }
    };
    let leave_out = match raw.outliers.as_deref() {
        None | Some("leave_out") => true,
        Some("keep") => false,
        Some(other) => {
            return Err(source.value(
                "review",
                "outliers",
                format!("{other:?}"),
                "\"leave_out\" or \"keep\"",
            ));
        }
    };
    let evidence_jobs = raw.evidence_jobs.unwrap_or(usual.evidence_jobs);
    if !(0.0..=1000.0).contains(&evidence_jobs) {
        return Err(source.value("review", "evidence_jobs", evidence_jobs, "0 to 1000 jobs"));
    }
    let data_until = raw
        .data_until
        .map(|d| {
            super::date_of(&d)
                .ok_or_else(|| source.value("review", "data_until", d, "a day, as 2026-10-31"))
        })
        .transpose()?;
    Ok(Review {
        window_months,
        data_until,
        leave_out,
        evidence_jobs,
    })
}
