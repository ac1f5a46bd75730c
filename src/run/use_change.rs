//! Coating use against the earlier window, by finish, product and lot.

use super::backtest::Past;
use super::estimates::{self, Basis, Use};
use super::find::allow;
use crate::findings::use_change::{self, Groups, UseChange};
use crate::findings::{FindError, Scope};
use crate::fits::ratio::Sums;
use crate::measures::Named;
use crate::settings::month::Month;
use foldhash::fast::RandomState;
use std::collections::HashMap;

/// Compares the window with the one before it; `None` where the settings' window
/// is all there is, or either tells too little.
pub(super) fn use_change(past: Past<'_>, scope: &Scope) -> Result<Option<UseChange>, FindError> {
    let Some((from, until)) = earlier(&past, scope) else {
        return Ok(None);
    };
    let basis = Basis {
        measures: past.measures,
        columns: past.columns,
        scope,
        record: None,
        review: &past.shop.review,
        full_area: past.full_area,
    };
    let fit = |keep: &dyn Fn(Month) -> bool| allow(estimates::fit_use(&basis, false, keep));
    let newer = fit(&|m| scope.in_window(m))?;
    let older = fit(&|m| from <= m && m <= until)?;
    let (Ok(newer), Ok(older)) = (newer, older) else {
        return Ok(None);
    };
    let finishes = past.columns.finishes.names(&past.measures.finishes);
    let finishes: Vec<String> = finishes.map(String::from).collect();
    let groups = groups(&basis, &newer);
    let found = use_change::find(&newer.fit, &older.fit, &finishes, &groups, (from, until))?;
    Ok(found)
}

/// Months of the window before, as far back as there are jobs.
fn earlier(past: &Past<'_>, scope: &Scope) -> Option<(Month, Month)> {
    let months = i32::try_from(past.shop.review.window_months?).ok()?;
    let from = scope.window_from.plus(-months).max(past.first);
    let until = scope.window_from.plus(-1);
    (from <= until).then_some((from, until))
}

/// The fit's measured jobs by shop, product and lot. A job that drew on bottles
/// of several lots is of no lot, and likewise for products; one that names no
/// bottle is of none.
fn groups(b: &Basis<'_>, newer: &Use) -> Groups {
    let spans = &b.measures.bottle_spans;
    let mut of_job: Vec<Option<(&str, &str)>> = vec![None; b.measures.coated.len()];
    for draw in &b.measures.draws {
        let Named::Bottle(bottle) = draw.bottle else {
            continue;
        };
        let span = &spans[bottle as usize];
        let own = (span.product.as_str(), span.lot.as_str());
        let of = &mut of_job[draw.job as usize];
        *of = Some(of.map_or(own, |before| shared(before, own)));
    }
    let mut places: HashMap<(&str, &str, &str), usize, RandomState> = HashMap::default();
    let mut all: Vec<((&str, &str, &str), Sums)> = Vec::new();
    for place in newer.kept() {
        let job = &b.measures.coated[place];
        let (Some((product, lot)), Some(used)) = (of_job[place], job.used) else {
            continue;
        };
        if let Some(usual) = newer.usual(b, place) {
            let key = (job.shop.as_str(), product, lot);
            let own = *places.entry(key).or_insert(all.len());
            if own == all.len() {
                all.push((key, Sums::default()));
            }
            all[own].1.add(used, usual);
        }
    }
    let named = |((shop, product, lot), sums): ((&str, &str, &str), Sums)| {
        ((shop.into(), product.into(), lot.into()), sums)
    };
    all.into_iter().map(named).collect()
}

/// What two bottles have in common.
fn shared<'a>(a: (&'a str, &'a str), b: (&'a str, &'a str)) -> (&'a str, &'a str) {
    match (a.0 == b.0, a.1 == b.1) {
        (true, true) => a,
        (true, false) => (a.0, ""),
        (false, _) => ("", ""),
    }
}
