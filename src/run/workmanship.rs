//! Callbacks and workspace: tables and prices become findings.

use crate::findings::callbacks::{self, Callbacks};
use crate::findings::money::Rates;
use crate::findings::workspace::{self, Stand, Workspace};
use crate::findings::{FindError, Missing, Scope};
use crate::measures::{CameBack, Measures};
use crate::money::Minor;
use crate::settings::shop::Shop;

/// Callbacks of the window.
pub(super) fn callbacks(
    m: &Measures,
    scope: &Scope,
    shop: &Shop,
    rates: Option<Rates>,
) -> Result<Result<Callbacks, Missing>, FindError> {
    let stands = workspace::stands(m.coated.len(), &m.spells, |s| {
        Stand::of_workspace(s, &shop.workspace)
    });
    let cost = |back: &CameBack| cost(back, m, rates, shop.money.labour_loading);
    callbacks::find(m, &stands, &cost, scope)
}

/// What a callback cost: as the margin charges it, rounded once.
fn cost(back: &CameBack, m: &Measures, rates: Option<Rates>, loading: f64) -> Option<Minor> {
    if back.minutes == 0.0 && back.used == 0.0 {
        return Some(back.cost);
    }
    let rates = rates?;
    let person = m
        .coated
        .get(back.job)
        .and_then(|j| m.people.get(j.person? as usize));
    let own = person.and_then(|p| m.wages.get(p)).map(|w| w.as_f64());
    let labour = back.minutes * own.unwrap_or(rates.wage) * loading / 60.0;
    Minor::nearest(back.cost.as_f64() + labour + back.used * rates.per_ml)
}

/// Workspace and cure of the window.
pub(super) fn workspace(
    m: &Measures,
    scope: &Scope,
    shop: &Shop,
) -> Result<Result<Workspace, Missing>, FindError> {
    workspace::find(&m.coated, &m.spells, &shop.workspace, scope)
}
