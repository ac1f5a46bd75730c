//! Planning figures to change, in words.

use super::{ActionView, Format, view};
use crate::findings::headline::{LatestCost, Replan, Replanned};
use crate::findings::recalibrate::Constant;
use crate::money::Minor;
use crate::pages::constants;
use crate::pages::format::{list, month};
use crate::pages::sections::planning;
use crate::pages::view::{Piece, Sentence};

/// Figures that are named; the table has all.
const NAMED: usize = 3;

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

/// Those after the first, in one row: "a, b and others".
fn others(x: &Replan, f: &Format) -> String {
    let rest = x.figures.iter().skip(1);
    let mut named: Vec<String> = rest.take(NAMED - 1).map(|r| change(r, f)).collect();
    if x.figures.len() > NAMED {
        named.push("others".into());
    }
    list(&named)
}

pub(super) fn replan(x: &Replan, latest: Option<LatestCost>, f: &Format) -> ActionView {
    let first = x.figures.first().map(|r| change(r, f)).unwrap_or_default();
    let verb = if x.figures.iter().all(|r| r.from.is_none()) {
        "Set"
    } else {
        "Change"
    };
    let what = match x.figures.len() {
        1 => format!("{verb} one planning figure: {first}."),
        n => format!(
            "{verb} {} planning figures, first {first}.",
            f.count(n as u64)
        ),
    };
    let mut why = Sentence::new();
    why.extend(x.figures.first().and_then(|r| cost(r, f)).map(Piece::from));
    let others = others(x, f);
    if !others.is_empty() {
        // Finishes and classes are the shop's words.
        let also = ["Then ".to_string(), others, ". ".to_string()];
        why.extend(also.map(Piece::from));
    }
    why.extend(dearer(x, latest, f).map(Piece::from));
    if let Some(Piece::Text(last)) = why.last_mut() {
        last.truncate(last.trim_end().len());
    }
    view(what, why, "See why, and how", planning::ID)
}

/// What the month's jobs cost beyond the figure.
fn cost(r: &Replanned, f: &Format) -> Option<String> {
    let side = match r.month_cost?.0 {
        0 => return None,
        n if n > 0 => "more",
        _ => "less",
    };
    let size = Minor(r.month_cost?.0.abs());
    let of = f.money(size);
    Some(format!(
        "It cost {of} {side} this month than quotes counted on. "
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
        "The new cost per mL is the mean of the months looked at; bottles opened in {} cost {}.",
        month(latest.month.first()),
        f.money_about_exact(latest.per_ml)
    ))
}
