//! The sentence of the bottles.

use super::super::say;
use crate::findings::bottles::{Bottles, Need, Shelf};
use crate::money::Minor;
use crate::pages::format::Format;
use crate::pages::view::Sentence;
use crate::pages::words;

/// What next month needs, what to buy, and what became of the coating.
pub(super) fn sentence_of(x: &Bottles, f: &Format) -> Sentence {
    let next = match &x.needs {
        Ok(needs) => needs
            .first()
            .map_or_else(String::new, |n| next_month(x, n, f)),
        Err(n) => format!(
            "How many bottles next month needs cannot be said: {}. ",
            words::missing(n, f)
        ),
    };
    let missing = x.ml.unexplained.ml();
    let bought = x.ml.bought.ml();
    let worth = x.money.map_or_else(String::new, |m| {
        format!(" ({})", f.money(Minor(m.unexplained.0.abs())))
    });
    let gone = if missing >= 0.0 {
        format!(
            "Of {1} bought over the months looked at, {0}{worth} is not explained by jobs, left-overs or open bottles.",
            f.millilitres(missing),
            f.millilitres(bought)
        )
    } else {
        format!(
            "Jobs, left-overs and open bottles account for {}{worth} more than the {} bought over the months looked at.",
            f.millilitres(-missing),
            f.millilitres(bought)
        )
    };
    say(format!("{next}{gone}"))
}

/// What next month needs, and what to buy.
fn next_month(x: &Bottles, need: &Need, f: &Format) -> String {
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
            "**Buy {}** for next month{}, to be covered nine times in ten. ",
            f.count_of(n, "bottle", "bottles"),
            less_shelf(shelf)
        ),
    };
    format!("{first}{half}{} ", on_hand(shelf, f))
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
