//! What is said of the bottles: how many to buy, for how many jobs, and what
//! became of the coating.

use super::super::say;
use crate::findings::bottles::{Balance, Bottles, Hundredths, Need, Shelf};
use crate::money::Minor;
use crate::pages::format::Format;
use crate::pages::view::Sentence;
use crate::pages::words;

/// Share of what was bought up to which what is not explained is nothing to
/// look for: drops and scales; common practice, no published source.
const NOTHING: f64 = 0.02;

/// What next month needs, and what to buy.
pub(super) fn sentence_of(x: &Bottles, coated: u64, f: &Format) -> Sentence {
    say(match &x.needs {
        Ok(needs) => needs
            .first()
            .map_or_else(String::new, |n| next_month(x, n, coated, f)),
        Err(n) => format!(
            "How many bottles next month needs cannot be said: {}.",
            words::missing(n, f)
        ),
    })
}

/// What is not explained, of what was bought.
pub(super) fn unexplained(b: &Balance<Hundredths>) -> Option<f64> {
    let share = b.unexplained.ml() / b.bought.ml();
    share.is_finite().then_some(share)
}

/// What became of the coating that was bought.
pub(super) fn gone(x: &Bottles, f: &Format) -> Sentence {
    let b = &x.ml;
    let ml = |v: Hundredths| f.number(v.ml().abs(), 0);
    let worth = x.money.map_or_else(String::new, |m| {
        format!(", {}", f.money(Minor(m.unexplained.0.abs())))
    });
    let share = unexplained(b);
    let of = share.map_or_else(String::new, |s| f.share_fine(s.abs()));
    let side = if b.unexplained.ml() < 0.0 {
        "more than was bought"
    } else {
        "not explained"
    };
    let verdict = match share {
        Some(s) if s.abs() < NOTHING => ": nothing to look for",
        Some(s) if s > 0.0 => ": look for spills, samples, training and what was not written down",
        Some(_) => ": look for bottles that were not written down",
        None => "",
    };
    say(format!(
        "Of {} mL bought over the months looked at: {} measured on jobs, {} estimated, {} left over, {} in open bottles; {} mL ({of}{worth}) {side}{verdict}.",
        ml(b.bought),
        ml(b.measured),
        ml(b.estimated),
        ml(b.left_over),
        ml(b.open),
        ml(b.unexplained)
    ))
}

/// Bottles to buy, and the mL that are lacking, should as many jobs come as
/// this month had: at the mL a job of the need nine times in ten.
pub(super) fn repeated(x: &Bottles, need: &Need, coated: u64) -> Option<(u64, f64)> {
    let gives = x.usable_ml.filter(|ml| *ml > 0.0)?;
    let a_job = need.ml.nine_tenths / need.jobs.nine_tenths;
    let lacking = a_job * coated as f64 - x.shelf.as_ref()?.ml().ml();
    let busier = coated as f64 > need.jobs.nine_tenths;
    (busier && lacking.is_finite()).then(|| {
        let ml = lacking.max(0.0);
        ((ml / gives).ceil() as u64, ml)
    })
}

/// "Enough nine months in ten, which have 35 coated jobs or fewer; should
/// this month's 39 repeat, buy 12."
pub(in crate::pages) fn covers(x: &Bottles, need: &Need, coated: u64, f: &Format) -> String {
    let again = repeated(x, need, coated).map_or_else(String::new, |(buy, _)| {
        format!(
            "; should this month's {} repeat, buy {}",
            f.count(coated),
            f.count(buy)
        )
    });
    format!(
        "Enough nine months in ten, which have {} or fewer{again}.",
        f.count_of(need.jobs.nine_tenths as u64, "coated job", "coated jobs")
    )
}

/// What next month needs, and what to buy.
fn next_month(x: &Bottles, need: &Need, coated: u64, f: &Format) -> String {
    let half = format!(
        "Next month needs {} half of the time, {} nine times in ten. ",
        f.count_of(need.bottles_half, "bottle", "bottles"),
        f.count(need.bottles_nine_tenths)
    );
    let (Some(shelf), Some(buy)) = (&x.shelf, x.to_buy(need)) else {
        return half;
    };
    let first = match buy {
        0 => "**Nothing to buy** for next month: what is on hand is enough nine times in ten. "
            .to_string(),
        n => format!(
            "**Buy {}** for next month{}. {} ",
            f.count_of(n, "bottle", "bottles"),
            less_shelf(shelf),
            covers(x, need, coated, f)
        ),
    };
    format!("{first}{half}{}", on_hand(shelf, f))
}

/// Where no unopened bottle is written down, those on the shelf are not known.
pub(in crate::pages) fn less_shelf(s: &Shelf) -> &'static str {
    if s.unopened == 0 {
        ", less any that stand unopened on the shelf"
    } else {
        ""
    }
}

/// What is on hand.
fn on_hand(shelf: &Shelf, f: &Format) -> String {
    let open = format!(
        "{} in {}",
        f.millilitres(shelf.open_ml.ml()),
        open_bottles(shelf.open, f)
    );
    match shelf.unopened {
        0 => format!("On hand: {open}; no unopened bottle is written down."),
        n => format!(
            "On hand: {} in {} unopened and {open}.",
            f.millilitres(shelf.unopened_ml.ml()),
            f.count(n)
        ),
    }
}

fn open_bottles(n: u64, f: &Format) -> String {
    f.count_of(n, "open bottle", "open bottles")
}
