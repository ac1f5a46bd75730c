//! Which files serve which tables, their headings and words, and how their
//! bytes, cells, dates and numbers are marked.

use super::super::contract::{Kind, TABLES, Table};
use super::super::error::{SettingsError, Source};
use super::super::raw::{OneOrMany, RawFormat, RawNumbers};
use std::collections::BTreeMap;

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

pub(super) fn files(
    source: &Source,
    raw: BTreeMap<String, OneOrMany>,
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

pub(super) fn columns(
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
pub(super) fn kind_of(name: &str) -> Option<Kind> {
    let (table, field) = name.split_once('.')?;
    Some(Table::named(table)?.field(field)?.kind)
}

pub(super) fn words(
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

pub(super) fn one_of(
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

pub(super) fn format(
    source: &Source,
    table: &str,
    raw: RawFormat,
) -> Result<FileFormat, SettingsError> {
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

/// Formats of single files.
pub(super) fn single(
    source: &Source,
    raw: BTreeMap<String, RawFormat>,
) -> Result<BTreeMap<String, FileFormat>, SettingsError> {
    let checked = |(name, raw): (String, RawFormat)| {
        let format = format(source, "format.file", raw)?;
        Ok((name, format))
    };
    raw.into_iter().map(checked).collect()
}

/// Decimal and thousands marks.
pub(super) fn numbers(source: &Source, raw: RawNumbers) -> Result<Numbers, SettingsError> {
    const THOUSANDS: &str = ".,' \u{a0}\u{202f}";
    Ok(Numbers {
        decimal: one_of(source, "numbers", "decimal", raw.decimal, ".,")?,
        thousands: one_of(source, "numbers", "thousands", raw.thousands, THOUSANDS)?,
    })
}
