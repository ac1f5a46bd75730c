//! What to do next: each thing in words, the place of its proof, and a table
//! of the figures behind it where its section shows them nowhere else.

mod behind;
pub(super) mod prices;
pub(super) mod replan;
mod work;

pub(super) use behind::behind;

use super::Material;
use super::format::{Format, list, month_name};
use super::sections::{attach, consumption, margin, minutes, not_set};
use super::view::{Action as ActionView, Sentence, sentence};
use super::words;
use crate::findings::certainty::Certainty;
use crate::findings::headline::{Action, LookInto, Moved, latest_cost};
use crate::money::Minor;

fn say(text: impl AsRef<str>) -> Sentence {
    sentence(text.as_ref())
}

/// What to do next.
pub(super) fn do_next(m: &Material<'_>) -> Vec<ActionView> {
    let view = |a| {
        let mut said = action(a, m.format);
        if let (Action::RaiseList(_), Some(which)) = (a, not_set(m.money)) {
            let least = format!(" {which} not set, so these are the least, not the final, prices.");
            said.why.extend(say(least));
        }
        if let (Action::Replan(_), Some(latest)) = (a, latest_cost(m.findings)) {
            said.why.extend(say(format!(
                " Bottles opened in {} cost {} per mL that came to use.",
                month_name(latest.month.first()),
                m.format.money_about_exact(latest.per_ml)
            )));
        }
        said
    };
    m.actions.iter().map(view).collect()
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
        Action::AskDiscounts(x) => prices::discounts(x, f),
        Action::Help(x) => work::help(x, f),
        Action::MendCallbacks(x) => work::mend_callbacks(x, f),
        Action::KeepRules(x) => work::keep_rules(x, f),
        Action::BuyBottles(x) => work::buy(x, f),
        Action::MendPrices(x) => prices::below_floor(x, f),
        Action::RaiseList(x) => prices::raise_list(x, f),
        Action::TryPrice(x) => prices::try_price(x, f),
        Action::Replan(x) => replan::replan(x, f),
        Action::LookInto(x) => look_into(x, f),
        Action::LeaveAlone(figures) => leave_alone(figures),
    }
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
    let why = say(format!("{}.{worth}{next}", words::sure_word(x.certainty)));
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

pub(super) fn noun(figure: Moved) -> &'static str {
    match figure {
        Moved::Attach => "the share of jobs coated",
        Moved::Margin => "what a coated job leaves over",
        Moved::Use => "coating used per area",
        Moved::Minutes => "hands-on time",
    }
}

pub(super) fn place(figure: Moved) -> &'static str {
    match figure {
        Moved::Attach => attach::ID,
        Moved::Margin => margin::ID,
        Moved::Use => consumption::ID,
        Moved::Minutes => minutes::ID,
    }
}
