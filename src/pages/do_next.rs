//! What to do next: each thing in words, the place of its proof, and a table
//! of the figures behind it where its section shows them nowhere else.

mod behind;
mod work;

pub(super) use behind::behind;

use super::Material;
use super::format::{Format, list};
use super::sections::{attach, consumption, floor, margin, minutes, price_list};
use super::view::{Action as ActionView, Piece, Sentence, sentence};
use super::words;
use crate::findings::certainty::Certainty;
use crate::findings::floor::Cause;
use crate::findings::headline::{
    Action, LookInto, MendCost, MendFigure, MendPrices, Moved, RaiseList,
};
use crate::money::Minor;

fn say(text: impl AsRef<str>) -> Sentence {
    sentence(text.as_ref())
}

/// What to do next.
pub(super) fn do_next(m: &Material<'_>) -> Vec<ActionView> {
    m.actions.iter().map(|a| action(a, m.format)).collect()
}

fn view(what: String, why: Sentence, proof: &str, to: &str) -> ActionView {
    ActionView {
        what,
        why,
        proof: proof.into(),
        to: to.into(),
    }
}

fn action(a: &Action, f: &Format) -> ActionView {
    match a {
        Action::Show(x) => work::show(x, f),
        Action::AskDiscounts(x) => work::discounts(x, f),
        Action::Help(x) => work::help(x, f),
        Action::MendCallbacks(x) => work::mend_callbacks(x, f),
        Action::KeepRules(x) => work::keep_rules(x, f),
        Action::BuyBottles(x) => work::buy(x, f),
        Action::MendPrices(x) => mend_prices(x, f),
        Action::RaiseList(x) => raise_list(x, f),
        Action::MendUse(x) => mend_figure(x, &USE, f),
        Action::MendMinutes(x) => mend_figure(x, &MINUTES, f),
        Action::MendCost(x) => mend_cost(x, f),
        Action::LookInto(x) => look_into(x, f),
        Action::LeaveAlone(figures) => leave_alone(figures),
    }
}

fn mend_prices(x: &MendPrices, f: &Format) -> ActionView {
    let what = match x.jobs {
        1 => "Ask about the one job charged less than its floor.".to_string(),
        n => format!(
            "Ask about the {} jobs charged less than their floor.",
            f.count(n)
        ),
    };
    let together = match x.jobs {
        1 => format!("It was {} short: job ", f.money(x.short)),
        _ => format!(
            "They were {} short together; start with job ",
            f.money(x.short)
        ),
    };
    let mut why = say(together);
    why.push(Piece::text(x.worst.clone()));
    why.extend(say("."));
    why.extend(x.cause.as_ref().map(asked).unwrap_or_default());
    view(what, why, "See the jobs", floor::ID)
}

/// What most of the money below the floor comes from, and who sold it.
fn asked(cause: &Cause) -> Sentence {
    let mut all = say(" Most of it: ");
    all.push(Piece::text(floor::reason(&cause.reason)));
    all.extend(say(", sold by "));
    all.push(Piece::text(floor::whom(cause)));
    all.extend(say("."));
    all
}

fn raise_list(x: &RaiseList, f: &Format) -> ActionView {
    view(
        format!(
            "Raise the list price of {}/{} from {} to {}.",
            x.class,
            x.finish,
            f.money(x.list),
            f.money(x.mend_to)
        ),
        say(format!(
            "At the same sales it would have brought {} over the months looked at.{}",
            f.money(x.would_bring),
            others_under(x.others, x.others_would_bring, f)
        )),
        "See the price list",
        price_list::ID,
    )
}

/// How a kind of planning figure is written.
struct Written {
    text: fn(&Format, f64) -> String,
    number: fn(&Format, f64) -> String,
    range: fn(&Format, f64, f64) -> String,
    counted: [&'static str; 2],
    money_is_of: &'static str,
    proof: &'static str,
    to: &'static str,
}

const USE: Written = Written {
    text: Format::use_rate_text,
    number: Format::use_rate_number,
    range: Format::use_rate_range,
    counted: ["record of use", "records of use"],
    money_is_of: "coating",
    proof: "See the use",
    to: consumption::ID,
};

const MINUTES: Written = Written {
    text: Format::minutes,
    number: Format::minutes,
    range: Format::minutes_range,
    counted: ["timed job", "timed jobs"],
    money_is_of: "labour",
    proof: "See the minutes",
    to: minutes::ID,
};

fn mend_figure(x: &MendFigure, written: &Written, f: &Format) -> ActionView {
    let number = |v: f64| (written.number)(f, v);
    let [one, many] = written.counted;
    view(
        format!(
            "Plan {} for {}, not {}.",
            (written.text)(f, x.plan),
            x.key,
            number(x.in_force)
        ),
        say(format!(
            "{} say {} (likely {}); the figure in use counts for something too.{}",
            f.count_of(x.found.n, one, many),
            number(x.found.value),
            (written.range)(f, x.found.low, x.found.high),
            cost(x.month_cost, written.money_is_of, f)
        )),
        written.proof,
        written.to,
    )
}

fn mend_cost(x: &MendCost, f: &Format) -> ActionView {
    let major = |v: f64| f.money_about_exact(v * f.currency.scale() as f64);
    view(
        format!(
            "Quote the coating at {} per mL, not {}.",
            major(x.plan),
            major(x.in_force)
        ),
        say(format!(
            "{} say so.{}",
            f.count_of(x.bottles, "bottle", "bottles"),
            cost(Some(x.month_cost), "coating", f)
        )),
        "See the figures",
        consumption::ID,
    )
}

fn look_into(x: &LookInto, f: &Format) -> ActionView {
    let direction = if x.up { "rose" } else { "fell" };
    let worth = x.worth.map_or_else(String::new, |w| {
        let verb = if w.0 < 0 { "cost" } else { "brought" };
        format!(" It {verb} about {} this month.", f.money(Minor(w.0.abs())))
    });
    let (what, next) = match x.certainty {
        Certainty::Outside => (format!("Find out why {} {direction}.", noun(x.figure)), ""),
        _ => (
            format!("Watch {}, which {direction}.", noun(x.figure)),
            " See whether it holds next month before changing plans.",
        ),
    };
    let why = say(format!(
        "{}.{worth}{next}",
        words::certainty_word(x.certainty)
    ));
    view(what, why, "See the months", place(x.figure))
}

fn leave_alone(figures: &[Moved]) -> ActionView {
    let names: Vec<String> = figures.iter().map(|x| noun(*x).to_string()).collect();
    let to = figures.first().map_or(attach::ID, |x| place(*x));
    view(
        format!("Leave alone: {}.", list(&names)),
        say("Moved no more than it usually does."),
        "See why",
        to,
    )
}

fn others_under(others: u64, would_bring: Minor, f: &Format) -> String {
    if others == 0 {
        return String::new();
    }
    format!(
        " So would {} more that are under the floor: {}.",
        f.count_of(others, "entry", "entries"),
        f.money(would_bring)
    )
}

fn cost(amount: Option<Minor>, of: &str, f: &Format) -> String {
    match amount {
        Some(m) if m.0 > 0 => format!(
            " That is {} more for {of} this month than quotes counted on.",
            f.money(m)
        ),
        Some(m) if m.0 < 0 => format!(
            " Quotes counted on {} more for {of} this month than it took.",
            f.money(-m)
        ),
        _ => String::new(),
    }
}

fn noun(figure: Moved) -> &'static str {
    match figure {
        Moved::Attach => "the share of jobs coated",
        Moved::Margin => "what a coated job leaves over",
        Moved::Use => "coating used per area",
        Moved::Minutes => "hands-on time",
    }
}

fn place(figure: Moved) -> &'static str {
    match figure {
        Moved::Attach => attach::ID,
        Moved::Margin => margin::ID,
        Moved::Use => consumption::ID,
        Moved::Minutes => minutes::ID,
    }
}
