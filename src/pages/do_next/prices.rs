//! What prices ask for: those below the floor, the list, discounts, another
//! price.

use super::{ActionView, Format, say, view};
use crate::findings::chances::Discounts;
use crate::findings::floor::{Cause, Reason};
use crate::findings::headline::{ListRise, MendPrices, RaiseList, TryPrice};
use crate::money::Minor;
use crate::pages::format::list;
use crate::pages::sections::{bridge, discounts as said, floor, price, price_list};
use crate::pages::view::Piece;

/// Entries and sellers that are named; the tables have all.
const NAMED: usize = 3;

pub(super) fn below_floor(x: &MendPrices, f: &Format) -> ActionView {
    let what = match x.cause.as_ref().and_then(named) {
        Some(whom) => format!("Ask {whom} about prices below the floor."),
        None => "Ask about prices below the floor.".into(),
    };
    let mut why = say(match x.jobs {
        1 => format!("One job was {} short: job ", f.money_exact(x.short)),
        n => format!(
            "{} jobs were {} short together; start with job ",
            f.count(n),
            f.money_exact(x.short)
        ),
    });
    why.push(Piece::text(x.worst.clone()));
    if !x.worst_shop.is_empty() {
        why.push(Piece::text(format!(" of {}", x.worst_shop)));
    }
    why.extend(say("."));
    if let Some(cause) = &x.cause {
        why.extend(say(" Most of it: "));
        why.push(Piece::text(floor::reason(&cause.reason)));
        why.extend(say("."));
    }
    view(what, why, "See the jobs", floor::ID)
}

/// Whom to ask: nobody where the list is at fault or nobody is written down.
fn named(cause: &Cause) -> Option<String> {
    let asked = cause.reason != Reason::ListUnderFloor && !cause.sellers.contains("");
    asked.then(|| floor::whom(cause))
}

/// "van/matte from $220 to $245".
fn rise(e: &ListRise, f: &Format) -> String {
    format!(
        "{}/{} from {} to {}",
        e.class,
        e.finish,
        f.money(e.list),
        f.money(e.mend_to)
    )
}

/// The first of them.
pub(in crate::pages) fn rises(entries: &[ListRise], f: &Format) -> String {
    let named = entries.iter().take(NAMED).map(|e| rise(e, f)).collect();
    first_of(named, entries.len())
}

/// "a, b and others" of `all` things of which the first are `named`.
fn first_of(mut named: Vec<String>, all: usize) -> String {
    if all > named.len() {
        named.push("others".into());
    }
    list(&named)
}

pub(super) fn raise_list(x: &RaiseList, f: &Format) -> ActionView {
    let all = rises(&x.entries, f);
    let what = match x.entries.len() {
        1 => format!("Raise the list price of {all}."),
        n => format!("Raise {} list prices: {all}.", f.count(n as u64)),
    };
    let why = format!(
        "At the same sales that would have brought {}{}.",
        price_list::brought(x.would_bring, x.months, f),
        fewer_takers(x, f)
    );
    view(what, say(why), "See the price list", price_list::ID)
}

/// What is known of fewer takers at a higher price.
fn fewer_takers(x: &RaiseList, f: &Format) -> String {
    match x.would_leave() {
        Some(left) if left.0 < 0 => format!(
            "; with the fewer takers that other prices let expect, {} less would have been left, so try it on some offers first",
            f.money(Minor(-left.0))
        ),
        Some(left) => format!(
            "; with the fewer takers that other prices let expect, {} more would have been left",
            f.money(left)
        ),
        None => "; how many would still take it is not known".into(),
    }
}

pub(super) fn try_price(x: &TryPrice, f: &Format) -> ActionView {
    view(
        format!("Try a price {}.", price::of_list(x.price.value, f)),
        say(format!(
            "By {} most is left there: about {} more a month, likely {} to {}. Ask it and today's price by turns, and write both down.",
            f.count_of(x.offers, "offer", "offers"),
            f.money(x.monthly),
            f.money(x.monthly_low),
            f.money(x.monthly_high)
        )),
        "See the prices",
        price::ID,
    )
}

pub(super) fn discounts(x: &Discounts, f: &Format) -> ActionView {
    let what = match said::amounts(x, f) {
        Some(who) => format!("Ask {who} what the discounts were for."),
        None => "Ask what the discounts were for.".into(),
    };
    let why = format!(
        "Of the {} with a known quote: {}. Some of these may have brought the sale.",
        f.count_of(x.of, "coated job", "coated jobs"),
        said::against(x, f)
    );
    view(what, say(why), "See the bridge", bridge::ID)
}
