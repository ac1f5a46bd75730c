//! Planning figures to change, in words.

use super::{ActionView, Format, view};
use crate::findings::headline::{LatestCost, Replan, Replanned};
use crate::findings::recalibrate::Constant;
use crate::money::Minor;
use crate::pages::constants;
use crate::pages::format::{list, month};
use crate::pages::sections::planning;
use crate::pages::view::{Piece, Sentence};
use crate::pages::words::capital;

/// Figures that are named; the table has all.
const NAMED: usize = 5;

/// "cost per mL from $2.80 to $2.96".
pub(in crate::pages) fn change(r: &Replanned, f: &Format) -> String {
    let name = match r.constant {
        Constant::SetupMl => "set-up per job".to_string(),
        Constant::MlPerM2 => format!("coating on {}", r.key),
        Constant::Minutes => format!("minutes for each {}", r.key),
        Constant::CostPerMl => "cost per mL".into(),
        Constant::HourlyCost => "wage an hour".into(),
    };
    let unit = match r.constant {
        Constant::MlPerM2 => format!(" {}", f.use_rate_unit()),
        _ => String::new(),
    };
    let text = |x| constants::text(r.constant, x, f);
    match r.from {
        Some(from) => format!("{name} from {} to {}{unit}", text(from), text(r.to)),
        None => format!("{name} to {}{unit}", text(r.to)),
    }
}

/// All of them in one row: "a, b and others".
fn changes(x: &Replan, f: &Format) -> String {
    let each = x.figures.iter().take(NAMED);
    let mut named: Vec<String> = each.map(|r| change(r, f)).collect();
    if x.figures.len() > NAMED {
        named.push("others".into());
    }
    list(&named)
}

pub(super) fn replan(x: &Replan, f: &Format) -> ActionView {
    let verb = if x.figures.iter().all(|r| r.from.is_none()) {
        "Set"
    } else {
        "Change"
    };
    let changes = changes(x, f);
    let what = match x.figures.len() {
        1 => format!("{verb} one planning figure: {changes}."),
        n => format!("{verb} {} planning figures.", f.count(n as u64)),
    };
    let mut why = Sentence::new();
    if x.figures.len() > 1 {
        // Finishes and classes are the shop's words.
        why.extend([capital(changes), ".".into()].map(Piece::from));
    }
    if let Some(cost) = x.figures.first().and_then(|r| cost(r, x, f)) {
        why.extend((!why.is_empty()).then(|| Piece::from(" ")));
        why.push(cost.into());
    }
    view(what, why, "See why, and how", planning::ID)
}

/// What the month's jobs cost beyond the figure.
fn cost(r: &Replanned, x: &Replan, f: &Format) -> Option<String> {
    let side = match r.month_cost?.0 {
        0 => return None,
        n if n > 0 => "more",
        _ => "less",
    };
    let size = Minor(r.month_cost?.0.abs());
    let of = f.money(size);
    let which = if x.figures.len() > 1 {
        "The first"
    } else {
        "It"
    };
    Some(format!(
        "{which} cost {of} {side} this month than quotes counted on."
    ))
}

/// The figure to adopt is a mean; what the latest bottles cost, where dearer.
pub(in crate::pages) fn dearer(
    x: &Replan,
    latest: Option<LatestCost>,
    f: &Format,
) -> Option<String> {
    let mut figures = x.figures.iter();
    let latest = latest.filter(|_| figures.any(|r| r.constant == Constant::CostPerMl))?;
    Some(format!(
        "The new cost per mL is the mean of the months looked at; bottles opened in {} cost more, {} for each mL that came to use.",
        month(latest.month.first()),
        f.money_about_exact(latest.per_ml)
    ))
}
