//! A folder, read and measured: what every command but `check` and `invent`
//! starts from.

use super::Error;
use super::backtest;
use crate::findings::Scope;
use crate::intake::ledger::Ledger;
use crate::intake::reason::Rejected;
use crate::intake::{self, Intake, Progress};
use crate::measures::{self, Measures, Span, View};
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
    pub(super) span: Option<Span>,
    pub(super) scope: Scope,
    /// The window and the month before.
    pub(super) measured: Measures,
    /// Single jobs of the months that the backtest predicts and of their
    /// windows.
    pub(super) history: Measures,
}

/// Reads and measures a folder for a month, the latest where none is asked
/// for.
pub(super) fn read(
    folder: &Path,
    month: Option<Month>,
    progress: &mut dyn FnMut(Progress),
) -> Result<Folder, Error> {
    let shop = Shop::read(folder)?;
    let constants = Constants::read(folder)?;
    let read = intake::read(folder, &shop, progress)?;
    read.need_jobs()?;
    let Intake {
        frames,
        ledger,
        quarantine: rejected,
        ..
    } = read;
    let span = measures::span(frames.of(Table::Jobs))?;
    let scope = super::scope(month, span, &shop)?;
    let tables = frames.into_inner().into_iter();
    let tables: BTreeMap<&'static str, DataFrame> = tables.map(|(t, f)| (t.name(), f)).collect();
    let view = View {
        month: scope.month,
        window_from: scope.window_from,
    };
    let measured = measures::measure(tables.clone(), view)?;
    let first = span.map_or(scope.window_from, |s| Month::of(s.first));
    let from = backtest::from(scope.month, shop.review.window_months, first);
    let history = measures::look_back(tables, from, scope.month)?;
    Ok(Folder {
        shop,
        constants,
        ledger,
        rejected,
        span,
        scope,
        measured,
        history,
    })
}
