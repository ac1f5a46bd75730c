//! What to do next: at most three things, by the money behind each.

mod action;

pub use action::{Action, LookInto, MendCost, MendFigure, MendPrices, Moved, RaiseList};

use super::Findings;
use super::bridge::Term;
use super::certainty::{Certainty, Change};
use super::chances;
use super::consumption::FinishUse;
use super::minutes::ClassMinutes;
use super::price_list::Verdict;
use super::recalibrate::{Constant, Recalibration};
use crate::money::Minor;

/// How many things are asked of the reader.
pub const AT_MOST: usize = 3;

/// What to do next, the most money first; "leave alone" fills the last place
/// where there is one.
pub fn actions(f: &Findings) -> Vec<Action> {
    let mut all: Vec<Action> = Vec::new();
    all.extend(prices(f));
    all.extend(raise_list(f));
    all.extend(
        f.consumption
            .iter()
            .flat_map(|c| c.finishes.iter().filter_map(|u| mend_use(u, &f.constants))),
    );
    all.extend(f.minutes.iter().flat_map(|m| {
        m.classes
            .iter()
            .filter_map(|x| mend_minutes(x, &f.constants))
    }));
    all.extend(mend_cost(f));
    all.extend(moved(f));
    all.extend(chances::show_way(f).map(Action::Show));
    all.extend(chances::discounts(f).map(Action::AskDiscounts));
    all.extend(workmanship(f));
    all.sort_by_key(|a| std::cmp::Reverse(a.money()));
    all.truncate(AT_MOST);
    if all.len() < AT_MOST {
        all.extend(leave_alone(f));
    }
    all
}

fn prices(f: &Findings) -> Option<Action> {
    let floor = f.floor.as_ref().ok()?;
    let worst = floor.jobs.first()?;
    Some(Action::MendPrices(MendPrices {
        jobs: floor.jobs.len() as u64,
        short: floor.short_total,
        worst: worst.job.clone(),
        cause: floor.causes.first().cloned(),
    }))
}

/// What people, callbacks, workspace and bottles ask for. Bottles are asked
/// for only where unopened ones are written down: else what is on hand is a
/// guess.
fn workmanship(f: &Findings) -> Vec<Action> {
    let callbacks = f.callbacks.as_ref().ok();
    let a_job = callbacks.and_then(super::callbacks::Callbacks::a_job);
    let help = f.pace.as_ref().ok().and_then(super::pace::PacePeople::help);
    let mend = callbacks.and_then(super::callbacks::Callbacks::mend);
    let workspace = f.workspace.as_ref().ok();
    let keep = workspace.and_then(|w| w.keep_to(a_job));
    let bottles = f.bottles.as_ref().ok();
    let buy = bottles.and_then(super::bottles::Bottles::buy);
    let mut all: Vec<Action> = help.map(Action::Help).into_iter().collect();
    all.extend(mend.map(Action::MendCallbacks));
    all.extend(keep.map(Action::KeepRules));
    all.extend(buy.filter(|b| b.unopened > 0).map(Action::BuyBottles));
    all
}

fn raise_list(f: &Findings) -> Option<Action> {
    let list = f.price_list.as_ref().ok()?;
    let worst = list.worst()?;
    let would_bring = worst.would_bring();
    let months = i64::try_from(list.months).unwrap_or(i64::MAX).max(1);
    Some(Action::RaiseList(RaiseList {
        class: worst.class.clone(),
        finish: worst.finish.clone(),
        list: worst.list,
        mend_to: worst.judged.as_ref().ok()?.mend_to,
        would_bring,
        monthly: Minor(would_bring.0 / months),
        others: list.of(Verdict::Under).count() as u64 - 1,
        others_would_bring: list.would_bring(Verdict::Under) - would_bring,
    }))
}

fn mend_use(u: &FinishUse, constants: &Recalibration) -> Option<Action> {
    let plan = constants.to_adopt(Constant::MlPerM2, &u.fit.finish)?;
    let found = *u.fit.data_alone.known()?;
    Some(Action::MendUse(MendFigure {
        key: u.fit.finish.clone(),
        in_force: u.in_force?,
        plan,
        found,
        month_cost: u.month_cost,
    }))
}

/// The bridge says what the price of the coating cost this month against the
/// quotes.
fn mend_cost(f: &Findings) -> Option<Action> {
    let mut lines = f.constants.lines.iter();
    let line = lines.find(|l| l.constant == Constant::CostPerMl)?;
    let moved = f.moved.as_ref().ok()?;
    let mut terms = moved.quoted.terms.iter();
    let step = terms.find(|t| t.term == Term::CoatingPrice)?;
    Some(Action::MendCost(MendCost {
        in_force: line.in_force?,
        plan: line.proposed?,
        bottles: line.data_alone.known()?.n,
        month_cost: -step.amount,
    }))
}

fn mend_minutes(m: &ClassMinutes, constants: &Recalibration) -> Option<Action> {
    let plan = constants.to_adopt(Constant::Minutes, &m.fit.class)?;
    let found = *m.fit.typical.known()?;
    Some(Action::MendMinutes(MendFigure {
        key: m.fit.class.clone(),
        in_force: m.in_force?,
        plan,
        found,
        month_cost: m.month_cost,
    }))
}

/// A figure with its change and what the change is worth this month.
struct Shift {
    figure: Moved,
    change: Change,
    worth: Option<Minor>,
}

fn shifts(f: &Findings) -> Vec<Shift> {
    let shift = |figure, change, worth| Shift {
        figure,
        change,
        worth,
    };
    let per_job = f.margin.as_ref().ok().and_then(|m| m.per_job.value());
    let attach = f.attach.change;
    let extra_jobs = attach
        .difference
        .map(|d| d.value * f.attach.eligible as f64);
    let attach_worth = extra_jobs
        .zip(per_job)
        .and_then(|(n, x)| Minor::nearest(n * x));
    let mut all = vec![shift(Moved::Attach, attach, attach_worth)];
    if let Ok(m) = &f.margin {
        let worth = m.change.difference.map(|d| d.value * m.coated_jobs as f64);
        all.push(shift(
            Moved::Margin,
            m.change,
            worth.and_then(Minor::nearest),
        ));
    }
    let total = f.margin.as_ref().ok().map(|m| m.total);
    if let Ok(c) = &f.consumption {
        let worth = share_of(c.change, total.map(|t| t.coating));
        all.push(shift(Moved::Use, c.change, worth));
    }
    if let Ok(m) = &f.minutes {
        let worth = share_of(m.change, total.map(|t| t.labour));
        all.push(shift(Moved::Minutes, m.change, worth));
    }
    all
}

/// What a change by a share adds to a month's cost: cost − cost / (1 + share).
fn share_of(change: Change, cost: Option<Minor>) -> Option<Minor> {
    let share = change.difference?.value;
    let cost = cost?.as_f64();
    Minor::nearest(cost - cost / (1.0 + share))
}

fn moved(f: &Findings) -> Vec<Action> {
    let action = |s: Shift| {
        let difference = s.change.difference?;
        let certainty = s.change.certainty;
        matches!(certainty, Certainty::Outside | Certainty::Likely).then_some(Action::LookInto(
            LookInto {
                figure: s.figure,
                up: difference.value > 0.0,
                certainty,
                worth: s.worth,
            },
        ))
    };
    shifts(f).into_iter().filter_map(action).collect()
}

fn leave_alone(f: &Findings) -> Option<Action> {
    let still: Vec<Moved> = shifts(f)
        .into_iter()
        .filter(|s| s.change.certainty == Certainty::Luck)
        .map(|s| s.figure)
        .collect();
    (!still.is_empty()).then_some(Action::LeaveAlone(still))
}
