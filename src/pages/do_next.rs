//! What to do next: each thing in words, the place of its proof, and a table
//! of the figures behind it where its section shows them nowhere else.

use super::Material;
use super::format::{Format, list};
use super::sections::{
    attach, bottles, bridge, callbacks, consumption, floor, margin, minutes, pace, price_list,
    shown_as, workspace,
};
use super::table::{Cell, Table, numbers_column, words_column};
use super::view::{Action as ActionView, Piece, Sentence, sentence};
use super::words;
use crate::findings::bottles::Buy;
use crate::findings::callbacks::{Advice, MendCause};
use crate::findings::certainty::Certainty;
use crate::findings::chances::{Discounts, ShowWay};
use crate::findings::floor::Cause;
use crate::findings::headline::{Action, Moved};
use crate::findings::pace::{HelpWith, Kind};
use crate::findings::workspace::KeepTo;
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

// Longer than most: one arm for each thing to do, each a sentence.
fn action(a: &Action, f: &Format) -> ActionView {
    match a {
        Action::Show(x) => show(x, f),
        Action::AskDiscounts(x) => discounts(x, f),
        Action::Help(x) => help(x, f),
        Action::MendCallbacks(x) => mend_callbacks(x, f),
        Action::KeepRules(x) => keep_rules(x, f),
        Action::BuyBottles(x) => buy(x, f),
        Action::MendPrices {
            jobs,
            short,
            worst,
            cause,
        } => {
            let what = match jobs {
                1 => "Ask about the one job charged less than its floor.".to_string(),
                n => format!(
                    "Ask about the {} jobs charged less than their floor.",
                    f.count(*n)
                ),
            };
            let together = match jobs {
                1 => format!("It was {} short: job ", f.money(*short)),
                _ => format!(
                    "They were {} short together; start with job ",
                    f.money(*short)
                ),
            };
            let mut why = say(together);
            why.push(Piece::text(worst.clone()));
            why.extend(say("."));
            why.extend(cause.as_ref().map(asked).unwrap_or_default());
            view(what, why, "See the jobs", floor::ID)
        }
        Action::RaiseList {
            class,
            finish,
            list,
            mend_to,
            would_bring,
            others,
            others_would_bring,
            ..
        } => view(
            format!(
                "Raise the list price of {class}/{finish} from {} to {}.",
                f.money(*list),
                f.money(*mend_to)
            ),
            say(format!(
                "At the same sales it would have brought {} over the months looked at.{}",
                f.money(*would_bring),
                others_under(*others, *others_would_bring, f)
            )),
            "See the price list",
            price_list::ID,
        ),
        Action::MendUse {
            finish,
            in_force,
            plan,
            found,
            month_cost,
        } => view(
            format!(
                "Plan {} for {finish}, not {}.",
                f.use_rate_text(*plan),
                f.use_rate_number(*in_force)
            ),
            say(format!(
                "{} say {} (likely {}); the figure in use counts for something too.{}",
                f.count_of(found.n, "record of use", "records of use"),
                f.use_rate_number(found.value),
                f.use_rate_range(found.low, found.high),
                cost(*month_cost, "coating", f)
            )),
            "See the use",
            consumption::ID,
        ),
        Action::MendCost {
            in_force,
            plan,
            bottles,
            month_cost,
        } => {
            let major = |x: f64| f.money_about_exact(x * f.currency.scale() as f64);
            view(
                format!(
                    "Quote the coating at {} per mL, not {}.",
                    major(*plan),
                    major(*in_force)
                ),
                say(format!(
                    "{} say so.{}",
                    f.count_of(*bottles, "bottle", "bottles"),
                    cost(Some(*month_cost), "coating", f)
                )),
                "See the figures",
                consumption::ID,
            )
        }
        Action::MendMinutes {
            class,
            in_force,
            plan,
            found,
            month_cost,
        } => view(
            format!(
                "Plan {} for {class}, not {}.",
                f.minutes(*plan),
                f.minutes(*in_force)
            ),
            say(format!(
                "{} say {} (likely {}); the figure in use counts for something too.{}",
                f.count_of(found.n, "timed job", "timed jobs"),
                f.minutes(found.value),
                f.minutes_range(found.low, found.high),
                cost(*month_cost, "labour", f)
            )),
            "See the minutes",
            minutes::ID,
        ),
        Action::LookInto {
            figure,
            up,
            certainty,
            worth,
        } => {
            let direction = if *up { "rose" } else { "fell" };
            let worth = worth.map_or_else(String::new, |w| {
                let verb = if w.0 < 0 { "cost" } else { "brought" };
                format!(" It {verb} about {} this month.", f.money(Minor(w.0.abs())))
            });
            let what = match certainty {
                Certainty::Outside => format!("Find out why {} {direction}.", noun(*figure)),
                _ => format!("Watch {}, which {direction}.", noun(*figure)),
            };
            let next = match certainty {
                Certainty::Outside => "",
                _ => " See whether it holds next month before changing plans.",
            };
            view(
                what,
                say(format!(
                    "{}.{worth}{next}",
                    words::certainty_word(*certainty)
                )),
                "See the months",
                place(*figure),
            )
        }
        Action::LeaveAlone { figures } => {
            let names: Vec<String> = figures.iter().map(|x| noun(*x).to_string()).collect();
            let to = figures.first().map_or(attach::ID, |x| place(*x));
            view(
                format!("Leave alone: {}.", list(&names)),
                say("Moved no more than it usually does."),
                "See why",
                to,
            )
        }
    }
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

fn show(x: &ShowWay, f: &Format) -> ActionView {
    let points = |v: f64| f.number(v.abs() * 100.0, 0);
    view(
        format!(
            "Show {} rather than {}.",
            shown_as(&x.shown),
            shown_as(&x.against)
        ),
        say(format!(
            "On like jobs {} more of a hundred said yes (likely {} to {}); for all that were shown it the other way that is about {} a month. Nobody drew lots for it, so try it and watch.",
            points(x.difference.value),
            points(x.difference.low),
            points(x.difference.high),
            f.money(x.monthly)
        )),
        "See the samples",
        attach::ID,
    )
}

fn discounts(x: &Discounts, f: &Format) -> ActionView {
    view(
        "Ask what the discounts were for.".into(),
        say(format!(
            "{} of the {} with a known quote had one: {} together. Some of these may have brought the sale.",
            f.count(x.jobs),
            f.count_of(x.of, "coated job", "coated jobs"),
            f.money(x.given)
        )),
        "See the bridge",
        bridge::ID,
    )
}

fn help(x: &HelpWith, f: &Format) -> ActionView {
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

fn mend_callbacks(x: &MendCause, f: &Format) -> ActionView {
    let what = match x.advice {
        Advice::Missed => "Check handles and recesses before a vehicle leaves.",
        _ => "Work smaller sections and wipe off sooner.",
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

fn keep_rules(x: &KeepTo, f: &Format) -> ActionView {
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

fn buy(x: &Buy, f: &Format) -> ActionView {
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

/// The figures that the first screen says and the section shows nowhere else:
/// the section's name and the table.
pub(super) fn behind(a: &Action) -> Option<(&'static str, Table)> {
    let row = |what: &str, cell: Cell| vec![Cell::Text(what.into()), cell];
    let a_month = |m: Option<Minor>| {
        row(
            "Money behind it, a month",
            m.map_or(Cell::Blank, Cell::Exact),
        )
    };
    let (id, name, rows) = match a {
        Action::Show(x) => (
            attach::ID,
            "behind_showing",
            vec![
                row("Offers shown the other way", Cell::Count(x.offers)),
                row("Months of them", Cell::Count(x.months)),
                row(
                    "More of a hundred that said yes",
                    Cell::Count((x.difference.value * 100.0).round().max(0.0) as u64),
                ),
                row(
                    "The same, likely from",
                    Cell::Count((x.difference.low * 100.0).round().max(0.0) as u64),
                ),
                row(
                    "The same, likely to",
                    Cell::Count((x.difference.high * 100.0).round().max(0.0) as u64),
                ),
                a_month(Some(x.monthly)),
            ],
        ),
        Action::AskDiscounts(x) => (
            bridge::ID,
            "behind_discounts",
            vec![
                row("Coated jobs with a discount", Cell::Count(x.jobs)),
                row("Coated jobs whose quote is known", Cell::Count(x.of)),
                row("Discounts, without tax", Cell::Exact(x.given)),
            ],
        ),
        Action::Help(x) => (
            pace::ID,
            "behind_help",
            vec![
                row("Timed jobs", Cell::Count(x.jobs)),
                a_month(x.monthly),
                row(
                    "Other people of whom something is said",
                    Cell::Count(x.others),
                ),
            ],
        ),
        Action::MendCallbacks(x) => (
            callbacks::ID,
            "behind_callbacks",
            vec![
                row("Callbacks for it", Cell::Count(x.callbacks)),
                row("Callbacks of coating work", Cell::Count(x.of)),
                a_month(x.monthly),
            ],
        ),
        Action::KeepRules(x) => (
            workspace::ID,
            "behind_rules",
            vec![
                row("Jobs outside that came back", Cell::Count(x.outside.yes)),
                row("Jobs outside", Cell::Count(x.outside.of)),
                row("Times as often as inside", Cell::Factor(x.ratio.value)),
                row("The same, likely from", Cell::Factor(x.ratio.low)),
                row("The same, likely to", Cell::Factor(x.ratio.high)),
                a_month(x.monthly),
            ],
        ),
        Action::BuyBottles(x) => (
            bottles::ID,
            "behind_buying",
            vec![
                row("Bottles to buy", Cell::Count(x.bottles)),
                row("Months they are to last", Cell::Count(u64::from(x.months))),
                row("Needed, nine times in ten", Cell::Volume(x.need_ml)),
                row("On hand", Cell::Volume(x.on_hand_ml)),
                row(
                    "They cost, at the latest price",
                    x.cost.map_or(Cell::Blank, Cell::Exact),
                ),
            ],
        ),
        _ => return None,
    };
    Some((id, table(name, rows)))
}

fn table(name: &'static str, rows: Vec<Vec<Cell>>) -> Table {
    Table {
        name,
        fold: "What the first screen says of it",
        caption: "Figures behind what to do next".into(),
        columns: vec![words_column("what", "What"), numbers_column("value", "Value")],
        rows,
        definition: "Over the window that this section uses; a month of it where money is given by the month.".into(),
    }
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
            " It cost {} of {of} this month that quotes did not hold.",
            f.money(m)
        ),
        Some(m) if m.0 < 0 => format!(
            " Quotes held {} of {of} this month that was not needed.",
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
