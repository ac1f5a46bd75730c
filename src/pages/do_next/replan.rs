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
        Constant::Minutes => format!("minutes for the class {}", r.key),
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

/// Share of the dearest figure's money from which another is as worth the
/// reader's time; common practice, no published source.
const MATTERS: f64 = 0.25;

/// "a (it cost $177 more this month than quotes counted on), b ($86 less).
/// Smaller: c and others": those whose money matters first.
fn changes(x: &Replan, f: &Format) -> String {
    let size = |r: &&Replanned| r.month_cost.unwrap_or_default().0.abs();
    let most = x.figures.iter().map(|r| size(&r)).max().unwrap_or(0);
    let matters = |r: &&Replanned| most > 0 && size(r) as f64 >= MATTERS * most as f64;
    let (mut first, mut rest): (Vec<&Replanned>, Vec<&Replanned>) =
        x.figures.iter().take(NAMED).partition(matters);
    if first.is_empty() {
        std::mem::swap(&mut first, &mut rest);
    }
    let mut said: Vec<String> = Vec::new();
    for r in first {
        let beyond = cost(r, said.is_empty(), f).unwrap_or_default();
        said.push(format!("{}{beyond}", change(r, f)));
    }
    let mut rest: Vec<String> = rest.into_iter().map(|r| change(r, f)).collect();
    if x.figures.len() > NAMED {
        rest.push("others".into());
    }
    match rest.is_empty() {
        true => list(&said),
        false => format!("{}. Smaller: {}", list(&said), list(&rest)),
    }
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
    view(what, why, "See why, and how", planning::ID)
}

/// " ($86 less)": what the month's jobs cost beyond the figure; in full for
/// the first.
fn cost(r: &Replanned, first: bool, f: &Format) -> Option<String> {
    let side = match r.month_cost?.0 {
        0 => return None,
        n if n > 0 => "more",
        _ => "less",
    };
    let size = Minor(r.month_cost?.0.abs());
    let of = f.money(size);
    Some(match first {
        true => format!(" (which cost {of} {side} this month than quotes counted on)"),
        false => format!(" ({of} {side})"),
    })
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
