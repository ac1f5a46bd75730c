//! `cells`: what the queries give, written as CSV. And a review of such
//! tables, wherever the same queries made them, in place of exports.

use super::backtest;
use super::read::{Folder, folder_name};
use super::{Error, Progress, chain, scope};
use crate::findings::Scope;
use crate::intake::List;
use crate::intake::ledger::Ledger;
use crate::measures::cells::{self, CellFile, CellFiles, CellsError, MONTH_TABLES, Part};
use crate::measures::{QUERIES, Span, View};
use crate::pages::{self, Elsewhere, ElsewhereFile, File};
use crate::settings::command::CellsArgs;
use crate::settings::constants::Constants;
use crate::settings::month::Month;
use crate::settings::shop::Shop;
use sha2::{Digest, Sha256};
use std::fs;
use std::path::{Path, PathBuf};

/// Folder of the look back's tables, within that of the review's.
const LOOK_BACK: &str = "look_back";

/// Reads a folder of exports and writes what the queries give. Returns what to
/// print.
///
/// # Errors
/// Settings and intake's; a file that cannot be written.
pub fn cells(args: &CellsArgs, progress: &mut dyn FnMut(Progress)) -> Result<String, Error> {
    let read = chain::read(&args.folder, &args.more, progress)?;
    let scope = scope(args.month, read.span, &read.shop)?;
    let back = look_back_from(&scope, read.span, &read.shop);
    let part = cells::write_cells(read.tables, view(&scope), back)?;
    let now = files(part.now);
    let look_back = files(part.look_back);
    pages::write::into(&args.out, &now)?;
    pages::write::into(&args.out.join(LOOK_BACK), &look_back)?;
    Ok(format!(
        "{}: {} tables in {}. `tallycoat review {} --cells {}` reviews them.\n",
        scope.month,
        now.len() + look_back.len(),
        args.out.display(),
        args.folder.display(),
        args.out.display(),
    ))
}

fn files(all: CellFiles) -> Vec<File> {
    let file = |f: CellFile| File {
        path: f.place,
        bytes: f.bytes,
    };
    all.into_values().map(file).collect()
}

/// The months that the queries look at.
pub(super) fn view(scope: &Scope) -> View {
    View {
        month: scope.month,
        window_from: scope.window_from,
    }
}

/// First month of the look back.
pub(super) fn look_back_from(scope: &Scope, span: Option<Span>, shop: &Shop) -> Month {
    let first = span.map_or(scope.window_from, |s| Month::of(s.first));
    backtest::from(scope.month, shop.review.window_months, first)
}

/// Reads tables from `folders`, one a part of the chain, by the settings in
/// `settings`.
pub(super) fn read(
    settings: &Path,
    folders: &[PathBuf],
    month: Option<Month>,
) -> Result<Folder, Error> {
    let shop = Shop::read(settings)?;
    let constants = Constants::read(settings)?;
    let parts: Vec<Part> = (folders.iter())
        .map(|f| part(f))
        .collect::<Result<_, _>>()?;
    let read = cells::read_cells(&parts)?;
    let made_for = read.month()?;
    if let Some(asked) = month.filter(|m| *m != made_for) {
        return Err(Error::CellsOfOtherMonth { asked, made_for });
    }
    let scope = scope(Some(made_for), Some(read.span), &shop)?;
    let back = look_back_from(&scope, Some(read.span), &shop);
    read.hold(view(&scope), back)?;
    Ok(Folder {
        elsewhere: Some(elsewhere(&parts, &read)),
        shop,
        constants,
        ledger: Ledger::default(),
        rejected: Vec::new(),
        odd: List::default(),
        span: Some(read.span),
        scope,
        measured: read.measured,
        history: read.history,
    })
}

/// What the page says of tables that were made elsewhere.
fn elsewhere(parts: &[Part], read: &cells::Cells) -> Elsewhere {
    let bytes = parts
        .iter()
        .flat_map(|p| p.now.values().chain(p.look_back.values()));
    let digests = bytes.map(|f| (f.place.clone(), Sha256::digest(&f.bytes)));
    let rows = |place: &str| {
        read.files
            .iter()
            .find(|f| f.place == place)
            .map_or(0, |f| f.rows)
    };
    let file = |(place, digest): (String, _)| ElsewhereFile {
        rows: rows(&place),
        file: place,
        sha256: hexadecimal(digest),
    };
    Elsewhere {
        folders: parts.len() as u64,
        files: digests.map(file).collect(),
    }
}

fn hexadecimal(digest: impl AsRef<[u8]>) -> String {
    digest.as_ref().iter().map(|b| format!("{b:02x}")).collect()
}

/// The tables of a folder and of its look back.
fn part(folder: &Path) -> Result<Part, CellsError> {
    Ok(Part {
        name: folder_name(folder),
        now: tables(folder, cells::queries())?,
        look_back: tables(&folder.join(LOOK_BACK), cells::look_back_queries())?,
    })
}

/// The tables of months and of some queries.
fn tables(
    folder: &Path,
    names: impl Iterator<Item = &'static str>,
) -> Result<CellFiles, CellsError> {
    let mut all = CellFiles::new();
    for name in MONTH_TABLES {
        all.insert(name, table(folder, name, &[format!("{name}.csv")])?);
    }
    for name in names {
        let query = QUERIES.iter().find(|q| q.name == name);
        let numbered = query.map_or(name, |q| q.file.trim_end_matches(".sql"));
        let either = [format!("{numbered}.csv"), format!("{name}.csv")];
        all.insert(name, table(folder, numbered, &either)?);
    }
    Ok(all)
}

/// One table, under one of its names.
fn table(folder: &Path, query: &str, names: &[String]) -> Result<CellFile, CellsError> {
    let mut there = names.iter().filter(|n| folder.join(n).exists());
    let place = match (there.next(), there.next()) {
        (Some(first), Some(second)) => {
            return Err(CellsError::TwoFiles {
                folder: folder.display().to_string(),
                first: first.clone(),
                second: second.clone(),
            });
        }
        (Some(one), None) => folder.join(one),
        (None, _) => {
            return Err(CellsError::NoFile {
                folder: folder.display().to_string(),
                names: names.join(" or "),
                query: query.to_string(),
            });
        }
    };
    let shown = place.display().to_string();
    match fs::read(&place) {
        Ok(bytes) => Ok(CellFile {
            place: shown,
            bytes,
        }),
        Err(source) => Err(CellsError::Unreadable {
            place: shown,
            source,
        }),
    }
}
