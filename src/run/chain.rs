//! Several folders of exports, each of one or more shops, read as one.

mod nearest;
mod one;

use super::read::{Exports, exports, folder_name};
use super::shops::standing;
use super::{Error, Progress};
use crate::findings::shops::Shops;
use crate::intake::{IntakeError, List, text_of};
use crate::measures::Span;
use crate::measures::cells::CellsError;
use crate::settings::command::ReviewArgs;
use crate::settings::constants::Constants;
use crate::settings::month::Month;
use crate::settings::shop::Shop;
use polars::prelude::{DataFrame, DataType, Int64Chunked, IntoColumn, PolarsResult, StringChunked};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What a review is of.
pub(super) struct Asked {
    /// The exports reviewed.
    pub(super) read: Exports,
    /// Where they are from.
    pub(super) from: Origin,
}

/// Where the exports reviewed are from.
pub(super) struct Origin {
    /// Where one shop was asked for: the chain that it is part of, and its name.
    chain: Option<(Exports, String)>,
    /// The folder whose own questions are asked of it: the first, or the one
    /// shop's.
    pub(super) folder: PathBuf,
}

impl Origin {
    /// How the one shop stands within its chain, in a month; `None` where none
    /// was asked for, or it is alone.
    pub(super) fn standing(&self, month: Month) -> Result<Option<Shops>, Error> {
        match &self.chain {
            Some((chain, name)) => standing(chain, month, name),
            None => Ok(None),
        }
    }
}

/// The exports that a review is of: all of them, or one shop's.
///
/// # Errors
/// As [`read`]; [`Error::NoShop`].
pub(super) fn asked(args: &ReviewArgs, progress: &mut dyn FnMut(Progress)) -> Result<Asked, Error> {
    let Some(name) = &args.shop else {
        return Ok(Asked {
            read: read(&args.folder, &args.more, progress)?,
            from: Origin {
                chain: None,
                folder: args.folder.clone(),
            },
        });
    };
    if args.out.is_none() {
        return Err(Error::ShopOut);
    }
    let mut whole = Chain {
        asked: Some(name.clone()),
        ..Chain::default()
    };
    let chain = whole.of(&args.folder, &args.more, progress)?;
    let (folder, own) = match whole.own.take() {
        Some(own) => own,
        None => (args.folder.clone(), chain.clone()),
    };
    let mut read = one::only(&own, name)?;
    // A folder without constants goes by the others'.
    read.constants = chain.constants.clone();
    Ok(Asked {
        read,
        from: Origin {
            chain: Some((chain, name.clone())),
            folder,
        },
    })
}

/// The exports of all folders that a review is of. A shop without a name bears
/// its folder's where there are several.
///
/// Each folder is read by its own `shop.toml`. What counts money and time is
/// one for the chain: folders that differ in it are refused. Constants are
/// those of the folders that hold some, and the same in each.
pub(super) fn read(
    first: &Path,
    more: &[PathBuf],
    progress: &mut dyn FnMut(Progress),
) -> Result<Exports, Error> {
    Chain::default().of(first, more, progress)
}

/// Folders read so far.
#[derive(Default)]
struct Chain {
    read: Option<Exports>,
    /// The folder of each shop.
    shops: BTreeMap<String, String>,
    /// The first folder.
    first: String,
    /// The first folder with constants.
    with_constants: String,
    /// Keys below this are taken.
    keys: i64,
    /// The shop that is asked for.
    asked: Option<String>,
    /// The folder that has it, by itself.
    own: Option<(PathBuf, Exports)>,
}

impl Chain {
    fn of(
        &mut self,
        first: &Path,
        more: &[PathBuf],
        progress: &mut dyn FnMut(Progress),
    ) -> Result<Exports, Error> {
        if more.is_empty() {
            return exports(first, progress);
        }
        self.add(first, exports(first, progress)?)?;
        for folder in more {
            self.add(folder, exports(folder, progress)?)?;
        }
        self.read.take().ok_or(Error::ChainOut)
    }

    fn add(&mut self, folder: &Path, mut next: Exports) -> Result<(), Error> {
        let place = folder.display().to_string();
        let name = folder_name(folder);
        next.tables = (next.tables.into_iter())
            .map(|(table, frame)| {
                let named = of_chain(&frame, &name, self.keys);
                Ok((table, named.map_err(|e| fault(table, &e))?))
            })
            .collect::<Result<_, IntakeError>>()?;
        let there = self.each_shop_once(&next, &place)?;
        let rows = next.tables.values().map(DataFrame::height).max();
        self.keys += rows.unwrap_or(0) as i64;
        place_files(&mut next, &name);
        if self.asked.as_ref().is_some_and(|s| there.contains(s)) {
            self.own = Some((folder.to_path_buf(), next.clone()));
        }
        let Some(whole) = &mut self.read else {
            self.with_constants.clone_from(&place);
            self.first = place;
            self.read = Some(next);
            return Ok(());
        };
        same_settings(&whole.shop, &next.shop, &self.first, &place)?;
        if whole.shop.page.shop_name != next.shop.page.shop_name {
            whole.shop.page.shop_name = None;
        }
        if whole.constants.records.is_empty() {
            self.with_constants.clone_from(&place);
        }
        let constants = same_constants(&whole.constants, &next.constants);
        whole.constants = constants.ok_or_else(|| Error::ChainSettings {
            what: "constants.toml",
            first: self.with_constants.clone(),
            second: place,
        })?;
        join(whole, next)?;
        Ok(())
    }

    /// The folder's shops, none of which an earlier one has.
    fn each_shop_once(&mut self, next: &Exports, place: &str) -> Result<BTreeSet<String>, Error> {
        let there = shops(next)?;
        for shop in there.iter().cloned() {
            if let Some(first) = self.shops.insert(shop.clone(), place.to_string()) {
                return Err(Error::Cells(CellsError::SharedShop {
                    shop,
                    first,
                    second: place.to_string(),
                }));
            }
        }
        Ok(there)
    }
}

fn fault(table: &'static str, e: &impl ToString) -> IntakeError {
    IntakeError::Frame {
        table,
        what: e.to_string(),
    }
}

/// Shops with a job.
fn shops(read: &Exports) -> Result<BTreeSet<String>, Error> {
    let Some(jobs) = read.tables.get("jobs") else {
        return Ok(BTreeSet::new());
    };
    let names = jobs.column("shop").and_then(|c| c.cast(&DataType::String));
    let names = names.map_err(|e| fault("jobs", &e))?;
    let names = names.str().map_err(|e| fault("jobs", &e))?;
    Ok(names.iter().flatten().map(str::to_string).collect())
}

/// A folder's table as the chain has it: keys of its own, shops named.
fn of_chain(frame: &DataFrame, name: &str, first_key: i64) -> PolarsResult<DataFrame> {
    // Folders number their words each in its own way.
    let mut frame = text_of(frame)?;
    let keys = frame.column("job_key")?.i64()?.iter();
    let keys: Int64Chunked = keys.map(|k| k.map(|k| k + first_key)).collect();
    let shops = frame.column("shop")?.str()?.iter();
    let named = |s: Option<&str>| match s {
        None | Some("") => Some(name.to_string()),
        Some(shop) => Some(shop.to_string()),
    };
    let shops: StringChunked = shops.map(named).collect();
    frame.with_column(keys.with_name("job_key".into()).into_column())?;
    frame.with_column(shops.with_name("shop".into()).into_column())?;
    Ok(frame)
}

/// Names files by their folder.
fn place_files(read: &mut Exports, name: &str) {
    let placed = |file: &str| format!("{name}/{file}");
    for file in &mut read.ledger.files {
        file.file = placed(&file.file);
    }
    for rejected in &mut read.rejected {
        rejected.file = Arc::from(placed(&rejected.file));
    }
    for listed in &mut read.odd.listed {
        listed.file = Arc::from(placed(&listed.file));
        if listed.shop.is_empty() {
            listed.shop = name.to_string();
        }
    }
    for shops in read.odd.by_shop.values_mut() {
        if let Some(records) = shops.remove("") {
            *shops.entry(name.to_string()).or_default() += records;
        }
    }
}

/// What counts money and time must be the same everywhere.
fn same_settings(a: &Shop, b: &Shop, first: &str, second: &str) -> Result<(), Error> {
    let differs = [
        ("[money] in shop.toml", a.money == b.money),
        ("[review] in shop.toml", a.review == b.review),
        ("[workspace] in shop.toml", a.workspace == b.workspace),
    ];
    match differs.into_iter().find(|(_, same)| !same) {
        None => Ok(()),
        Some((what, _)) => Err(Error::ChainSettings {
            what,
            first: first.to_string(),
            second: second.to_string(),
        }),
    }
}

/// The constants of both; `None` where both have some and they differ.
fn same_constants(a: &Constants, b: &Constants) -> Option<Constants> {
    match (a.records.is_empty(), b.records.is_empty()) {
        (true, _) => Some(b.clone()),
        (false, true) => Some(a.clone()),
        (false, false) => (a == b).then(|| a.clone()),
    }
}

/// Puts a folder's lines and tables behind those before.
fn join(whole: &mut Exports, next: Exports) -> Result<(), Error> {
    whole.ledger.files.extend(next.ledger.files);
    whole.ledger.rejected_not_kept += next.ledger.rejected_not_kept;
    whole.rejected.extend(next.rejected);
    join_lists(&mut whole.odd, next.odd);
    whole.span = [whole.span, next.span]
        .into_iter()
        .flatten()
        .reduce(|a, b| Span {
            first: a.first.min(b.first),
            last: a.last.max(b.last),
        });
    for (table, frame) in next.tables {
        if let Some(before) = whole.tables.get_mut(table) {
            let both = before.vstack(&frame);
            *before = both.map_err(|e| fault(table, &e))?;
        }
    }
    Ok(())
}

fn join_lists(whole: &mut List, next: List) {
    whole.listed.extend(next.listed);
    whole.listed.sort_by_key(|l| l.oddity);
    for (oddity, records) in next.counts {
        *whole.counts.entry(oddity).or_default() += records;
    }
    for (oddity, shops) in next.by_shop {
        let own = whole.by_shop.entry(oddity).or_default();
        for (shop, records) in shops {
            *own.entry(shop).or_default() += records;
        }
    }
}
