//! What else the first screen answers, a line each: what to leave alone, what
//! moved the margin, who was not offered it, whom to talk to, what came back,
//! which jobs were outside the rules, how many bottles to buy, what became of
//! coated film.

use super::Material;
use super::do_next::{noun, place};
use super::format::{Format, month_name};
use super::sections::short;
use super::sections::{
    attach, bottles, bridge, callbacks, discounts as said_of, durability, floor, pace, workspace,
};
use super::view::{Glance, Piece, Sentence, sentence};
use super::words::capital;
use crate::findings::chances::{self, Discounts};
use crate::findings::floor::{Cause, Reason};
use crate::findings::headline::{Action, leave_alone};
use crate::findings::workspace::{OutsideJob, Workspace};

fn say(text: impl AsRef<str>) -> Sentence {
    sentence(text.as_ref())
}

/// All lines that have something to say.
pub(super) fn lines(m: &Material<'_>) -> Vec<Glance> {
    let (f, all) = (m.format, m.findings);
    let line = |label: &str, to: &str, said: Sentence| Glance {
        label: label.into(),
        to: to.into(),
        said,
    };
    let moved = all.moved.as_ref().ok().filter(|x| !x.jobs.is_empty());
    let before = month_name(all.scope.month.plus(-1).first());
    let against = |x| {
        let mut said = short::off_quotes(x, "", f);
        let months = bridge::of_months(x, before, f);
        said.extend(months.into_iter().flat_map(|s| say(format!(" {s}"))));
        line("Against quotes", bridge::ID, said)
    };
    let margin = moved.map(against);
    let given = chances::discounts(all).filter(Discounts::is_usual);
    let given = given.map(|x| line("Discounts", bridge::ID, usual_discounts(&x, f)));
    let unasked = attach::not_offered(&all.attach, f);
    let unasked = unasked.map(|s| line("Not offered", attach::ID, s));
    let talk = Some(talk(m)).filter(|s| !s.is_empty());
    let back = all.callbacks.as_ref().ok();
    let back = back.map(|x| line("Callbacks", callbacks::ID, callbacks::of_month(x, f)));
    let rules = all.workspace.as_ref().ok().and_then(rules);
    let buys = |a: &&Action| matches!(a, Action::BuyBottles(_));
    let bought = m.actions.iter().find(buys).is_some();
    let stock = all.bottles.as_ref().ok().filter(|_| !bought);
    let coated = all.attach.coated;
    let stock = stock.map(|x| line("Bottles", bottles::ID, short::needed(x, coated, f)));
    let film = all.durability.as_ref().ok();
    let film = film.and_then(|x| durability::line(x, f));
    let film = film.map(|s| line("Coated film", durability::ID, s));
    let mut lines: Vec<Glance> = alone(m).into_iter().collect();
    lines.extend(unasked);
    lines.extend(margin);
    lines.extend(given);
    lines.extend(talk.map(|s| line("Talk with", "", s)));
    lines.extend(back);
    lines.extend(rules.map(|s| line("Outside the rules", workspace::ID, s)));
    lines.extend(stock);
    lines.extend(film);
    lines
}

/// What to leave alone: the figures that moved no more than they usually do,
/// and people who get quicker by themselves.
fn alone(m: &Material<'_>) -> Option<Glance> {
    let mut said = unmoved(m).unwrap_or_default();
    let people = m.findings.pace.as_ref().ok();
    if let Some(learning) = people.and_then(short::learning) {
        said.extend((!said.is_empty()).then(|| Piece::text(" ")));
        said.extend(learning);
        said.push(Piece::link("their pace", pace::ID));
        said.push(Piece::text(" alone."));
    }
    (!said.is_empty()).then(|| Glance {
        label: "Leave alone".into(),
        to: String::new(),
        said,
    })
}

/// The figures that moved no more than they usually do, where what to do next
/// does not name them.
fn unmoved(m: &Material<'_>) -> Option<Sentence> {
    let named = |a: &Action| matches!(a, Action::LeaveAlone(_));
    let Action::LeaveAlone(figures) = leave_alone(m.findings)? else {
        return None;
    };
    if m.actions.iter().any(named) {
        return None;
    }
    let mut said = Sentence::new();
    for (i, figure) in figures.iter().enumerate() {
        said.extend((i > 0).then(|| Piece::text(between(i, figures.len()))));
        said.push(Piece::link(noun(*figure), place(*figure)));
    }
    said.push(Piece::text(" moved no more than usual."));
    Some(said)
}

/// What stands before the `i`th of `n` things in a row.
fn between(i: usize, n: usize) -> &'static str {
    if i + 1 == n { " and " } else { ", " }
}

/// Whom to talk to, and about what; empty where there is nobody.
fn talk(m: &Material<'_>) -> Sentence {
    let (f, all) = (m.format, m.findings);
    let given = chances::discounts(all).filter(|x| !x.is_usual());
    let topics = [
        all.pace.as_ref().ok().and_then(|x| {
            let topic = Piece::link("how they work", pace::ID);
            Some(vec![
                short::to_talk_with(x)?.into(),
                " about ".into(),
                topic,
                ".".into(),
            ])
        }),
        given.as_ref().and_then(|x| discounts(x, f)),
        all.floor.as_ref().ok().and_then(|x| {
            let asked = |c: &&Cause| c.reason != Reason::ListUnderFloor && !c.sellers.contains("");
            Some(too_cheap(x.causes.iter().find(asked)?, f))
        }),
        all.callbacks.as_ref().ok().and_then(|x| {
            let most = x.most.as_ref().filter(|p| p.beyond_luck)?;
            let topic = Piece::link("callbacks", callbacks::ID);
            let whom = Piece::text(most.name.clone());
            Some(vec![whom, " about ".into(), topic, ".".into()])
        }),
    ];
    let mut said = Sentence::new();
    for topic in topics.into_iter().flatten() {
        said.extend((!said.is_empty()).then(|| Piece::text(" ")));
        said.extend(topic);
    }
    said
}

fn discounts(x: &Discounts, f: &Format) -> Option<Sentence> {
    let topic = Piece::link("discounts", bridge::ID);
    Some(vec![
        said_of::amounts(x, f)?.into(),
        " about ".into(),
        topic,
        format!(", in all {}.", said_of::against(x, f)).into(),
    ])
}

fn usual_discounts(x: &Discounts, f: &Format) -> Sentence {
    say(format!("{}: no more than usual.", said_of::given(x, f)))
}

fn too_cheap(cause: &Cause, f: &Format) -> Sentence {
    let jobs = f.count_of(cause.jobs, "job", "jobs");
    let short = format!(", {} short (", f.money(cause.short));
    vec![
        floor::whom(cause).into(),
        " about ".into(),
        Piece::link(format!("{jobs} below the floor price"), floor::ID),
        short.into(),
        floor::reason(&cause.reason).into(),
        ").".into(),
    ]
}

/// The month's jobs outside a rule, of the workspace or of the cure.
fn rules(x: &Workspace) -> Option<Sentence> {
    if x.outside.is_empty() {
        return (x.month.of > 0).then(|| say("none that is written down."));
    }
    Some(broken(x))
}

/// "Job J7 (air too cold). Job J9 (released too soon)."
fn broken(x: &Workspace) -> Sentence {
    let mut said = Sentence::new();
    for kind in [OutsideJob::of_workspace, OutsideJob::of_cure] {
        if x.outside.iter().any(kind) {
            let later = !said.is_empty();
            said.extend(later.then(|| Piece::text(" ")));
            let mut jobs = workspace::named(x, kind);
            if let Some(Piece::Text(first)) = jobs.first_mut() {
                let plain = first.trim_start_matches([':', ' ']).to_string();
                *first = if later { capital(plain) } else { plain };
            }
            said.extend(jobs);
        }
    }
    said
}
