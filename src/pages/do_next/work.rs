//! What showing, people, callbacks, workspace and bottles ask for.

use super::{ActionView, Format, say, view};
use crate::findings::bottles::Buy;
use crate::findings::callbacks::{Advice, MendCause};
use crate::findings::chances::ShowWay;
use crate::findings::pace::{HelpWith, Kind};
use crate::findings::workspace::KeepTo;
use crate::pages::sections::{attach, bottles, callbacks, pace, shown_as, workspace};

pub(super) fn show(x: &ShowWay, f: &Format) -> ActionView {
    let points = |v: f64| f.number(v.abs() * 100.0, 0);
    let against = shown_as(&x.against);
    view(
        if x.best {
            format!("Show everybody {}.", shown_as(&x.shown))
        } else {
            format!("Show {} rather than {against}.", shown_as(&x.shown))
        },
        say(format!(
            "{}On like jobs {} more of a hundred said yes than with {against} (likely {} to {}): about {} a month. Customers may have differed: try it and watch.",
            meant(&[&x.shown, &x.against]),
            points(x.difference.value),
            points(x.difference.low),
            points(x.difference.high),
            f.money(x.monthly)
        )),
        "See the samples",
        attach::ID,
    )
}

/// What is meant by the ways of showing it that are not plain by name.
fn meant(ways: &[&String]) -> String {
    let meaning = |way: &&&String| match way.as_str() {
        "full_pair" => {
            Some("A whole pair: one whole coated and one whole bare sample beside each other. ")
        }
        "half_and_half" => Some("Half and half: one sample, one half of it coated. "),
        _ => None,
    };
    ways.iter().filter_map(|way| meaning(&way)).collect()
}

pub(super) fn help(x: &HelpWith, f: &Format) -> ActionView {
    let who = match x.key.shop.as_str() {
        "" => x.key.person.clone(),
        shop => format!("{shop} {}", x.key.person),
    };
    let what = match x.kind {
        Kind::Rushing => format!("Ask {who} to slow down: quick, and more comes back."),
        Kind::Overuse => format!("Help {who} to use less coating on the same work."),
        Kind::Erratic => format!("Ask {who} what makes times vary so much."),
        _ => format!("Help {who} with pace on the same work."),
    };
    let others = match x.others {
        0 => String::new(),
        1 => " Something is said of one more person.".into(),
        n => format!(" Something is said of {} more people.", f.count(n)),
    };
    let money = x.monthly.map_or_else(String::new, |m| {
        format!(" About {} a month is behind it.", f.money(m))
    });
    view(
        what,
        say(format!(
            "Seen over {}.{money}{others}",
            f.count_of(x.jobs, "timed job", "timed jobs")
        )),
        "See the people",
        pace::ID,
    )
}

pub(super) fn mend_callbacks(x: &MendCause, f: &Format) -> ActionView {
    let what = match x.advice {
        Advice::Missed => {
            "Go round handles, recesses, edges and mirror feet by a fixed list before release."
        }
        _ => "Coat smaller sections, level each before it sets.",
    };
    let why = match x.advice {
        Advice::Missed => "missed areas",
        _ => "high spots and lines",
    };
    let money = x.monthly.map_or_else(String::new, |m| {
        format!(" They cost about {} a month.", f.money(m))
    });
    view(
        what.into(),
        say(format!(
            "{} of {} were for {why}.{money}",
            f.count(x.callbacks),
            f.count_of(x.of, "callback", "callbacks"),
        )),
        "See the callbacks",
        callbacks::ID,
    )
}

pub(super) fn keep_rules(x: &KeepTo, f: &Format) -> ActionView {
    let what = if x.workspace {
        "Keep to the rules for air and humidity."
    } else {
        "Keep to the rules for cure and release."
    };
    let money = x.monthly.map_or_else(String::new, |m| {
        format!(" About {} a month is behind it.", f.money(m))
    });
    view(
        what.into(),
        say(format!(
            "{} of {} outside came back, {} times as often as inside (likely {} to {}).{money}",
            f.count(x.outside.yes),
            f.count_of(x.outside.of, "job", "jobs"),
            f.number(x.ratio.value, 1),
            f.number(x.ratio.low, 1),
            f.number(x.ratio.high, 1)
        )),
        "See the workspace",
        workspace::ID,
    )
}

pub(super) fn buy(x: &Buy, f: &Format) -> ActionView {
    let cost = x.cost.map_or_else(String::new, |m| {
        format!(" At the latest price that is {}.", f.money(m))
    });
    view(
        format!("Buy {}.", f.count_of(x.bottles, "bottle", "bottles")),
        say(format!(
            "The next {} may need {}; {} is on hand.{cost}",
            f.count_of(u64::from(x.months), "month", "months"),
            f.millilitres(x.need_ml),
            f.millilitres(x.on_hand_ml)
        )),
        "See the bottles",
        bottles::ID,
    )
}
