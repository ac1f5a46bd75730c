//! A folder, read and measured: what every command but `check` and `invent`
//! starts from.

use super::cells::{look_back_from, view};
use super::{Error, Progress};
use crate::findings::Scope;
use crate::intake::List;
use crate::intake::ledger::Ledger;
use crate::intake::reason::Rejected;
use crate::intake::{self, Intake};
use crate::measures::{self, Measures, Span};
use crate::pages::Elsewhere;
use crate::settings::constants::Constants;
use crate::settings::contract::Table;
use crate::settings::month::Month;
use crate::settings::shop::Shop;
use polars::prelude::DataFrame;
use std::collections::BTreeMap;
use std::path::Path;

/// A folder, read and measured.
pub(super) struct Folder {
    pub(super) shop: Shop,
    pub(super) constants: Constants,
    pub(super) ledger: Ledger,
    pub(super) rejected: Vec<Rejected>,
    /// What is odd and was taken as it stands.
    pub(super) odd: List,
    /// Where the tables were made elsewhere: these.
    pub(super) elsewhere: Option<Elsewhere>,
    pub(super) span: Option<Span>,
    pub(super) scope: Scope,
    /// The window and the month before.
    pub(super) measured: Measures,
    /// Single jobs of the months that the backtest predicts and of their
    /// windows.
    pub(super) history: Measures,
}

/// The name of a folder, by which a shop goes that its exports do not name.
pub(super) fn folder_name(folder: &Path) -> String {
    let whole = folder.canonicalize().ok();
    let name = whole.as_deref().unwrap_or(folder).file_name();
    name.map_or_else(String::new, |n| n.to_string_lossy().into_owned())
}

/// A folder's exports, read.
#[derive(Clone)]
pub(super) struct Exports {
    pub(super) shop: Shop,
    pub(super) constants: Constants,
    pub(super) ledger: Ledger,
    pub(super) rejected: Vec<Rejected>,
    pub(super) odd: List,
    pub(super) span: Option<Span>,
    /// The contract's tables by name.
    pub(super) tables: BTreeMap<&'static str, DataFrame>,
}

/// Reads a folder's exports by its settings.
pub(super) fn exports(folder: &Path, progress: &mut dyn FnMut(Progress)) -> Result<Exports, Error> {
    let shop = Shop::read(folder)?;
    let constants = Constants::read(folder)?;
    let read = intake::read(folder, &shop, &mut |p| progress(Progress::Reading(p)))?;
    read.need_jobs()?;
    let Intake {
        frames,
        ledger,
        quarantine: rejected,
        odd,
        ..
    } = read;
    let span = measures::span(frames.of(Table::Jobs))?;
    let tables = frames.into_inner().into_iter();
    Ok(Exports {
        shop,
        constants,
        ledger,
        rejected,
        odd,
        span,
        tables: tables.map(|(t, f)| (t.name(), f)).collect(),
    })
}

/// Reads and measures a folder for a month, the latest where none is asked
/// for.
pub(super) fn read(
    folder: &Path,
    month: Option<Month>,
    progress: &mut dyn FnMut(Progress),
) -> Result<Folder, Error> {
    let read = exports(folder, progress)?;
    let scope = super::scope(month, read.span, &read.shop)?;
    progress(Progress::Measuring(scope.month));
    measured(read, scope, progress)
}

/// Measures exports for a month.
pub(super) fn measured(
    read: Exports,
    scope: Scope,
    progress: &mut dyn FnMut(Progress),
) -> Result<Folder, Error> {
    let from = look_back_from(&scope, read.span, &read.shop);
    let (measured, history) = measures::measure(read.tables, view(&scope), from)?;
    progress(Progress::Finding(scope.month));
    Ok(Folder {
        shop: read.shop,
        constants: read.constants,
        ledger: read.ledger,
        rejected: read.rejected,
        odd: read.odd,
        elsewhere: None,
        span: read.span,
        scope,
        measured,
        history,
    })
}
