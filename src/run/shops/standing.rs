//! How one shop stands within its chain.

use super::super::cells::view;
use super::super::estimates::{Basis, Columns, fit_time, fit_use};
use super::super::find::{allow, full_area};
use super::super::read::Exports;
use super::super::{Error, scope};
use super::shops;
use crate::findings::FindError;
use crate::findings::shops::Shops;
use crate::measures;
use crate::settings::month::Month;

/// The figures of shop `name` beside the usual of `chain`, and no other shop's;
/// `None` where it has no job among the months looked at, or is alone.
pub(in crate::run) fn standing(
    chain: &Exports,
    month: Month,
    name: &str,
) -> Result<Option<Shops>, Error> {
    let scope = scope(Some(month), chain.span, &chain.shop)?;
    // The months in view; nothing here looks further back.
    let from = scope.window_from.min(scope.month.plus(-1));
    let (measured, _) = measures::measure(chain.tables.clone(), view(&scope), from)?;
    let full_area = full_area(&measured);
    let columns = Columns::of(&measured);
    let basis = Basis {
        measures: &measured,
        columns: &columns,
        scope: &scope,
        record: chain.constants.in_force(month.last()),
        review: &chain.shop.review,
        full_area: &full_area,
    };
    let found = of(&basis)?;
    Ok(found.and_then(|all| all.only(name)))
}

fn of(basis: &Basis<'_>) -> Result<Option<Shops>, FindError> {
    let in_window = |m| basis.scope.in_window(m);
    let used = allow(fit_use(basis, true, in_window))?;
    let time = allow(fit_time(basis, in_window))?;
    shops(basis, used.as_ref().ok(), time.as_ref().ok())
}
