//! Pages: findings and drawings become files. Formatting only, always escaped;
//! no threshold and no statistic is decided here.

mod account;
mod constants;
mod datapackage;
mod do_next;
mod error;
mod first_screen;
pub mod format;
mod glance;
mod json;
mod methods;
mod noticed;
mod own;
mod page;
mod person;
mod quarantine;
mod quote;
mod recalibrate;
pub mod render;
mod rests_on;
mod sections;
mod summary;
pub mod table;
mod unlocks;
pub mod view;
mod words;
pub mod write;
pub mod year;

pub use crate::disk::File;
pub use error::PageError;

use crate::findings::Findings;
use crate::findings::headline::Action;
use crate::findings::own::Asked;
use crate::findings::person::OwnPage;
use crate::findings::quote::Quote;
use crate::intake::List;
use crate::intake::ledger::Ledger;
use crate::intake::reason::Rejected;
use crate::settings::shop::{Money, Review};
use crate::threads::both;
use format::Format;
use std::collections::BTreeMap;
use std::path::Path;

/// What a page says about itself.
#[derive(Debug, Clone, Default)]
pub struct About {
    /// Stands over the title.
    pub shop_name: Option<String>,
    /// Version of the program.
    pub version: &'static str,
    /// Fingerprint of all input files together.
    pub fingerprint: String,
    /// Sections that are left out, and what would unlock each.
    pub locked: Vec<String>,
    /// The tables reviewed, where their lines were counted elsewhere.
    pub elsewhere: Option<Elsewhere>,
}

/// Tables that another engine made of exports that were read there.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Elsewhere {
    /// Folders, one a part of the chain.
    pub folders: u64,
    /// Their tables.
    pub files: Vec<ElsewhereFile>,
}

/// One of them.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ElsewhereFile {
    /// Where it is.
    pub file: String,
    /// Its rows.
    pub rows: u64,
    /// SHA-256 of its bytes, in hexadecimal.
    pub sha256: String,
}

/// Everything that a review is made of.
#[derive(Debug, Clone, Copy)]
pub struct Material<'a> {
    /// What was found.
    pub findings: &'a Findings,
    /// What to do next.
    pub actions: &'a [Action],
    /// The shop's own questions, answered.
    pub own: &'a [Asked],
    /// Lines by state.
    pub ledger: &'a Ledger,
    /// Records that were put aside.
    pub rejected: &'a [Rejected],
    /// Money settings.
    pub money: &'a Money,
    /// Windows and rules.
    pub review: &'a Review,
    /// How numbers are written.
    pub format: &'a Format,
    /// What the page says about itself.
    pub about: &'a About,
}

/// All files of a review.
///
/// # Errors
/// Where a chart cannot be drawn or the template fails.
pub fn files(m: &Material<'_>) -> Result<Vec<File>, PageError> {
    let (json, page) = both(|| json::review(m), || page_and_tables(m));
    let mut all = page?;
    all.push(File {
        path: "review.json".into(),
        bytes: json?,
    });
    Ok(all)
}

/// All of them but `review.json`.
fn page_and_tables(m: &Material<'_>) -> Result<Vec<File>, PageError> {
    let page = page::page(m)?;
    let scale = m.format.currency.scale();
    let mut all = vec![
        File {
            path: "review.html".into(),
            bytes: render::page(&page.view)?.into_bytes(),
        },
        File {
            path: json::SCHEMA_FILE.into(),
            bytes: json::SCHEMA.as_bytes().to_vec(),
        },
    ];
    // What was put aside elsewhere is listed there.
    if m.about.elsewhere.is_none() {
        all.extend(quarantine::files(m.ledger, m.rejected)?);
    }
    all.push(recalibrate::proposed(m.findings)?);
    for table in page.sections.iter().flat_map(|s| &s.tables) {
        all.push(File {
            path: format!("tables/{}.csv", table.name),
            bytes: table.csv(scale)?,
        });
    }
    all.extend(own::files(m.own)?);
    all.push(File {
        path: "tables/datapackage.json".into(),
        bytes: datapackage::descriptor(
            page.sections.iter().flat_map(|s| &s.tables),
            m.own,
            &format!("tallycoat-review-{}", m.findings.scope.month),
            &m.format.currency,
        )?,
    });
    Ok(all)
}

/// The plain sentence on the month.
pub fn lead(m: &Material<'_>) -> String {
    view::words(&first_screen::lead(m))
}

/// A page for each of these people, to stand beside `review.html`. `names`:
/// what a person is called, by code or by "shop/code".
///
/// # Errors
/// Where a chart cannot be drawn or the template fails.
pub fn person_files(
    m: &Material<'_>,
    people: &[OwnPage],
    names: &BTreeMap<String, String>,
) -> Result<Vec<File>, PageError> {
    person::files(m, people, names)
}

/// What `recalibrate` prints for people.
pub fn recalibration_text(all: &Findings, f: &Format) -> String {
    recalibrate::text(all, f)
}

/// What `recalibrate --json` prints.
///
/// # Errors
/// None in practice: it is written to memory.
pub fn recalibration_json(all: &Findings, f: &Format) -> Result<String, PageError> {
    recalibrate::json(all, f)
}

/// What `recalibrate --out` writes.
///
/// # Errors
/// Where the next record cannot be written as TOML.
pub fn recalibration_files(all: &Findings, f: &Format) -> Result<Vec<File>, PageError> {
    recalibrate::files(all, f)
}

/// What `quote` prints for people.
pub fn quote_text(q: &Quote, f: &Format) -> String {
    quote::text(q, f)
}

/// What `quote --json` prints.
///
/// # Errors
/// None in practice: it is written to memory.
pub fn quote_json(q: &Quote, f: &Format) -> Result<String, PageError> {
    quote::json(q, f)
}

/// Lines for the terminal, for a review written to `place`.
pub fn summary(m: &Material<'_>, place: &Path) -> Vec<String> {
    summary::lines(m, place)
}

/// Sections left out or thin for want of columns, a sentence each.
pub fn locked(ledger: &Ledger) -> Vec<String> {
    unlocks::locked(ledger)
}

/// What `check` prints for people.
pub fn account_text(ledger: &Ledger, odd: &List) -> String {
    account::text(ledger, odd)
}

/// What `check --json` prints.
///
/// # Errors
/// None in practice: it is written to memory.
pub fn account_json(ledger: &Ledger, odd: &List) -> Result<String, PageError> {
    let mut text = serde_json::to_string_pretty(&account::json(ledger, odd))?;
    text.push('\n');
    Ok(text)
}
