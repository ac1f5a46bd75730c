//! Each section in a line: what stands beside its name in the list of sections,
//! so that a reader finds the answer before the evidence.

use super::{
    attach, bottles, bridge, callbacks, consumption, discounts, durability, floor, margin, minutes,
    pace, planning, price, price_list, say, shops, workspace,
};
use crate::estimate::{Estimate, Figure};
use crate::findings::bridge::Moved;
use crate::findings::certainty::{Certainty, Change};
use crate::findings::durability::Durability;
use crate::findings::floor::Floor;
use crate::findings::headline::{Replanned, replan as to_change, rises};
use crate::findings::pace::{Kind, PacePeople, PersonPace};
use crate::findings::price::{Answer, Effect, Peak, Unsaid};
use crate::findings::price_list::PriceList;
use crate::findings::recalibrate::Constant;
use crate::findings::workspace::{OutsideJob, Workspace};
use crate::findings::{Findings, bottles as stock, callbacks as back, chances};
use crate::pages::do_next::{prices, replan};
use crate::pages::format::{Format, list};
use crate::pages::view::{Piece, Sentence};
use crate::pages::words;

/// The line of the section `id`; nothing where it has none or lacks its
/// records.
pub(in crate::pages) fn of(id: &str, all: &Findings, f: &Format) -> Option<Sentence> {
    line(id, all, f).map(capital)
}

/// With a capital first letter. No line begins with a word of the shop's.
fn capital(mut line: Sentence) -> Sentence {
    if let Some(Piece::Text(text) | Piece::Strong(text)) = line.first_mut() {
        text.get_mut(..1).map(str::make_ascii_uppercase);
    }
    line
}

/// The question that a section answers, as a manager would ask it; empty for a
/// section that has none.
pub(in crate::pages) fn question(id: &str) -> &'static str {
    match id {
        attach::ID => "Did more customers take the coating?",
        price::ID => "Did the price change their answer?",
        margin::ID => "What does a coated job earn?",
        bridge::ID => "What moved the margin?",
        floor::ID => "Which jobs went out too cheap?",
        price_list::ID => "Which list prices are too low?",
        consumption::ID => "Did we use more coating?",
        minutes::ID => "Did the work take longer?",
        planning::ID => "Which planning figures are off?",
        pace::ID => "Whom to talk to about time?",
        shops::ID => "Does a shop stand out?",
        callbacks::ID => "What came back, and why?",
        workspace::ID => "Which jobs were outside the rules?",
        bottles::ID => "How many bottles to buy?",
        durability::ID => "Does coated film last longer?",
        _ => "",
    }
}

fn line(id: &str, all: &Findings, f: &Format) -> Option<Sentence> {
    match id {
        attach::ID => sold(all, f),
        price::ID => Some(asked(all, f)),
        margin::ID => earned(all, f),
        bridge::ID => Some(moved(all.moved.as_ref().ok()?, all, f)),
        floor::ID => below(all.floor.as_ref().ok()?, f),
        price_list::ID => Some(listed(all.price_list.as_ref().ok()?, f)),
        consumption::ID => {
            let x = all.consumption.as_ref().ok()?;
            let used = now(x.now.map(|v| f.use_rate_text(v)), &x.change)?;
            Some(with_plan(
                used,
                all,
                &[Constant::SetupMl, Constant::MlPerM2],
            ))
        }
        minutes::ID => {
            let x = all.minutes.as_ref().ok()?;
            let took = now(x.now.map(|v| f.minutes(v)), &x.change)?;
            Some(with_plan(took, all, &[Constant::Minutes]))
        }
        planning::ID => Some(figures(all, f)),
        pace::ID => Some(people(all.pace.as_ref().ok()?)),
        callbacks::ID => Some(came_back(all.callbacks.as_ref().ok()?, f)),
        workspace::ID => Some(outside(all.workspace.as_ref().ok()?, f)),
        bottles::ID => Some(needed(all.bottles.as_ref().ok()?, all.attach.coated, f)),
        durability::ID => Some(lasts(all.durability.as_ref().ok()?, f)),
        _ => None,
    }
}

/// How a figure stands to its usual, in two or three words.
fn against(change: &Change) -> &'static str {
    let up = change.difference.is_some_and(|d| d.value > 0.0);
    match (change.certainty, up) {
        (Certainty::Outside, true) => "clearly more than usual",
        (Certainty::Outside, false) => "clearly less than usual",
        (Certainty::Likely, true) => "probably more than usual",
        (Certainty::Likely, false) => "probably less than usual",
        (Certainty::Luck, _) => "within ordinary ups and downs",
        (Certainty::TooFew, _) => "too few jobs to compare",
        (Certainty::NoUsual, _) => "nothing to compare with yet",
    }
}

fn now(figure: Option<String>, change: &Change) -> Option<Sentence> {
    Some(say(format!("{}, {}.", figure?, against(change))))
}

/// A month within ordinary ups and downs can still have planning figures that
/// the jobs do not bear out.
fn with_plan(mut line: Sentence, all: &Findings, kinds: &[Constant]) -> Sentence {
    let plan = to_change(all).map(|p| p.figures).unwrap_or_default();
    let those = plan.iter().filter(|r| kinds.contains(&r.constant));
    let names: Vec<String> = those.map(planned).collect();
    let figures = if names.len() > 1 { "figures" } else { "figure" };
    let names = at_most(names);
    if !names.is_empty() {
        line.push(Piece::text(format!(" Change the planning {figures} for ")));
        line.push(Piece::text(list(&names)));
        line.push(Piece::text("."));
    }
    line
}

/// As many names as can be read.
fn at_most(mut names: Vec<String>) -> Vec<String> {
    if names.len() > NAMED {
        names.truncate(NAMED);
        names.push("others".into());
    }
    names
}

/// What a planning figure is for.
fn planned(r: &Replanned) -> String {
    match r.constant {
        Constant::SetupMl => "set-up".into(),
        _ => r.key.clone(),
    }
}

fn sold(all: &Findings, f: &Format) -> Option<Sentence> {
    let a = &all.attach;
    let mut said = now(a.rate.known().map(|e| f.share(e.value)), &a.change)?;
    if let Some(unasked) = attach::not_offered(a, f) {
        said.extend(say(" Not offered: "));
        said.extend(unasked);
    }
    Some(said)
}

fn earned(all: &Findings, f: &Format) -> Option<Sentence> {
    let m = all.margin.as_ref().ok()?;
    let a_job = m.per_job.known()?;
    let text = format!("{} a coated job", f.money_about(a_job.value));
    now(Some(text), &m.change)
}

fn asked(all: &Findings, f: &Format) -> Sentence {
    let said = match &all.price.said {
        Ok(a) => most_left(a, f),
        Err(Unsaid::NotWritten) => "not known; write the price on declined offers too.".into(),
        Err(Unsaid::NeverVaried) => "not known; only one price was tried.".into(),
        Err(Unsaid::TooFew(_) | Unsaid::Missing(_)) => "not known yet.".into(),
    };
    say(said)
}

/// Where most is left, as surely as the offers tell.
fn most_left(a: &Answer, f: &Format) -> String {
    let range = |e: &Estimate| {
        let [low, high] = [e.low, e.high].map(|x| price::of_list(x, f));
        format!("from {low} to {high}")
    };
    match a.curve.peak {
        _ if a.effect != Effect::FewerWhenDearer => {
            "it cannot be told at which price most is left.".into()
        }
        Peak::Inside { price } => match a.better() {
            Some(better) => format!(
                "most is left at about {} (likely {}).",
                price::of_list(better.value, f),
                range(&better)
            ),
            None => format!("most is left somewhere {}.", range(&price)),
        },
        Peak::AtOrBeyondTop { .. } => {
            "most seems left at the top of what was tried, or beyond.".into()
        }
        Peak::AtOrBelowBottom { .. } => {
            "most seems left at the bottom of what was tried, or below.".into()
        }
    }
}

/// What all coated jobs of the month left against their quotes; `than`: what it
/// is held against, where that is not said before.
pub(in crate::pages) fn off_quotes(m: &Moved, than: &str, f: &Format) -> Sentence {
    let off = m.quoted.difference();
    let Some(by) = bridge::less_or_more_about(off, f) else {
        return say("About as much left over as quotes assumed.");
    };
    let steps = m.quoted.terms.iter().map(|s| (s.term, s.amount));
    say(format!(
        "{by} left over{than}{}.",
        bridge::mostly(steps, off, f)
    ))
}

fn moved(m: &Moved, all: &Findings, f: &Format) -> Sentence {
    let mut said = off_quotes(m, " than quotes assumed", f);
    let given = chances::discounts(all).filter(|x| !x.is_usual());
    if let Some(whom) = given.as_ref().and_then(discounts::whom) {
        said.extend(say(" Ask "));
        said.push(Piece::text(whom));
        said.extend(say(" about discounts."));
    }
    said
}

fn below(x: &Floor, f: &Format) -> Option<Sentence> {
    let jobs = x.jobs.len() as u64;
    if x.checked == 0 {
        return None;
    }
    let of = f.count_of(x.checked, "coated job", "coated jobs");
    if jobs == 0 {
        return Some(say(format!("none of {of}.")));
    }
    let mut said = say(format!(
        "{} of {of}, {} short: ",
        f.count(jobs),
        f.money(x.short_total)
    ));
    let named: Vec<String> = x
        .causes
        .iter()
        .take(NAMED)
        .map(|c| floor::briefly(c, f))
        .collect();
    said.push(Piece::text(list(&named)));
    said.push(Piece::text("."));
    Some(said)
}

fn listed(x: &PriceList, f: &Format) -> Sentence {
    let rises = rises(x);
    if rises.is_empty() {
        return say("no price is surely under its floor.");
    }
    vec![
        Piece::text("raise "),
        Piece::text(prices::rises(&rises, f)),
        Piece::text("."),
    ]
}

fn figures(all: &Findings, f: &Format) -> Sentence {
    let Some(plan) = to_change(all) else {
        return say("none is to be changed.");
    };
    let first = plan.figures.first().map(|r| replan::change(r, f));
    let n = plan.figures.len() as u64;
    vec![
        Piece::text(format!("change {}; first ", f.count(n))),
        Piece::text(first.unwrap_or_default()),
        Piece::text("."),
    ]
}

/// Names of those that are wanted, as many as can be read.
fn those(x: &PacePeople, wanted: impl Fn(&PersonPace) -> bool) -> Option<String> {
    let all = x.people.iter().filter(|p| wanted(p));
    let names = at_most(all.map(pace::name).collect());
    (!names.is_empty()).then(|| list(&names))
}

/// Those about whom there is something to do.
pub(in crate::pages) fn to_talk_with(x: &PacePeople) -> Option<String> {
    those(x, |p| p.to_do().is_some())
}

/// "P5 and P6 are new and getting quicker: leave "; nothing where nobody is.
pub(in crate::pages) fn learning(x: &PacePeople) -> Option<Sentence> {
    let well = |p: &PersonPace| p.finding == Kind::Learning && p.to_do().is_none();
    let are = match x.people.iter().filter(|p| well(p)).count() {
        1 => "is",
        _ => "are",
    };
    let rest = format!(" {are} new and getting quicker: leave ");
    Some(vec![those(x, well)?.into(), rest.into()])
}

fn people(x: &PacePeople) -> Sentence {
    let mut said = match to_talk_with(x) {
        Some(whom) => vec![Piece::text("talk with "), whom.into(), ".".into()],
        None => say("nobody."),
    };
    if let Some(learning) = learning(x) {
        said.push(Piece::text(" "));
        said.extend(learning);
        said.push(Piece::text("their pace alone."));
    }
    said
}

/// People who are named in a line.
const NAMED: usize = 4;

fn came_back(x: &back::Callbacks, f: &Format) -> Sentence {
    let mut said = callbacks::of_month(x, f);
    let most = match x.advice {
        back::Advice::Removal => {
            "Most frequent: high spots and lines. Coat smaller sections, level each before it sets."
        }
        back::Advice::Missed => {
            "Most frequent: missed areas. Go round them by a fixed list before release."
        }
        back::Advice::Other => "No one cause to mend.",
        back::Advice::TooFew => "Too few to name a cause.",
    };
    said.extend(say(format!(" {most}")));
    said
}

fn outside(x: &Workspace, f: &Format) -> Sentence {
    if x.month.of == 0 {
        return say("not written down this month.");
    }
    let mut said = say(format!(
        "{} of {} outside the workspace rules",
        f.count(x.month.yes),
        f.count_of(x.month.of, "coated job", "coated jobs")
    ));
    said.extend(workspace::named(x, OutsideJob::of_workspace));
    if x.outside.iter().any(OutsideJob::of_cure) {
        said.extend(say(" Outside the rules of the cure"));
        said.extend(workspace::named(x, OutsideJob::of_cure));
    }
    said
}

/// How many bottles to buy.
pub(in crate::pages) fn needed(x: &stock::Bottles, coated: u64, f: &Format) -> Sentence {
    let need = x.needs.as_ref().ok().and_then(|n| n.first());
    let Some(need) = need else {
        return say("too few months to say what the next needs.");
    };
    let all = f.count_of(need.bottles_nine_tenths, "bottle", "bottles");
    match (x.to_buy(need), &x.shelf) {
        (Some(0), _) => say("enough on hand for next month."),
        (Some(n), Some(s)) => say(format!(
            "buy {} for next month{}. {}",
            f.count_of(n, "bottle", "bottles"),
            bottles::less_shelf(s),
            bottles::covers(x, need, coated, f)
        )),
        _ => say(format!("next month needs {all}.")),
    }
}

fn lasts(x: &Durability, f: &Format) -> Sentence {
    match &x.hazard_ratio {
        Figure::Known(e) => durability::compared_briefly(e, x, f),
        Figure::NotEnough(n) => say(format!("{}.", words::missing(n, f))),
    }
}
