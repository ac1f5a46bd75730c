//! What to do next: at most three things, in this order: the money a year that
//! each can be counted on for ([`Action::a_year`]), the most first.
//!
//! What is certain counts whole: a price that was under its floor, what jobs
//! cost beyond their planning figures (what they cost less brings nothing by
//! being written down), a figure outside its limits. What is only likely counts
//! with the low end of its likely range, so that a large but doubtful gain does
//! not push a sure one off the list; with half of it where there is no range. A
//! higher list price counts with the fewer takers that the answers to other
//! prices let expect, and by half where they do not tell. What happens month
//! after month counts twelve times; what is over, and a single month outside
//! its limits, once. What can only be watched counts nothing and fills a place
//! that is left. All planning figures are one thing to do,
//! as one command changes them, and so are all prices under their floor: else
//! either could take all three places.

mod action;

pub use action::{
    Action, LatestCost, ListRise, LookInto, MendPrices, Moved, RaiseList, Replan, Replanned,
    TryPrice,
};

use super::Findings;
use super::bridge::Term;
use super::certainty::{Certainty, Change};
use super::chances;
use super::price_list::{Entry, PriceList, Verdict};
use super::recalibrate::{Constant, Line, WORTH_CHANGING};
use crate::money::Minor;

/// How many things are asked of the reader.
pub const AT_MOST: usize = 3;
/// Share by which the latest bottles are dearer than the mean before that is
/// said: half of what makes a cost worth changing.
const DEARER: f64 = WORTH_CHANGING / 2.0;

/// What to do next; "leave alone" fills the last place where there is one.
pub fn actions(f: &Findings) -> Vec<Action> {
    let mut all: Vec<Action> = Vec::new();
    all.extend(replan(f).map(Action::Replan));
    all.extend(raise_list(f).map(Action::RaiseList));
    all.extend(prices(f));
    all.extend(chances::show_way(f).map(Action::Show));
    all.extend(try_price(f).map(Action::TryPrice));
    all.extend(workmanship(f));
    let discounts = chances::discounts(f).filter(|d| !d.is_usual());
    all.extend(discounts.map(Action::AskDiscounts));
    all.extend(moved(f));
    all.sort_by_key(|a| std::cmp::Reverse(a.a_year()));
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
        worst_shop: worst.shop.clone(),
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

/// Every entry that is under its floor, the most money first.
pub fn rises(list: &PriceList) -> Vec<ListRise> {
    let rise = |e: &Entry| {
        let judged = e.judged.as_ref().ok()?;
        Some(ListRise {
            class: e.class.clone(),
            finish: e.finish.clone(),
            list: e.list,
            mend_to: judged.mend_to,
            would_bring: judged.would_bring,
            would_leave: judged.would_leave.as_ref().ok().copied(),
        })
    };
    let mut entries: Vec<ListRise> = list.of(Verdict::Under).filter_map(rise).collect();
    entries.sort_by_key(|e| std::cmp::Reverse(e.would_bring));
    entries
}

fn raise_list(f: &Findings) -> Option<RaiseList> {
    let list = f.price_list.as_ref().ok()?;
    let entries = rises(list);
    (!entries.is_empty()).then(|| RaiseList {
        entries,
        would_bring: list.would_bring(Verdict::Under),
        months: list.months,
    })
}

/// Every planning figure to change, the most money first.
pub fn replan(f: &Findings) -> Option<Replan> {
    let one = |l: &Line| {
        Some(Replanned {
            constant: l.constant,
            key: l.key.clone(),
            from: l.in_force,
            to: l.proposed?,
            month_cost: month_cost(l, f),
        })
    };
    let mut figures: Vec<Replanned> = f.constants.changes().filter_map(one).collect();
    let size = |r: &Replanned| r.month_cost.map_or(0, |m| m.0.abs());
    figures.sort_by_key(|r| std::cmp::Reverse(size(r)));
    (!figures.is_empty()).then_some(Replan { figures })
}

/// What the jobs of the month cost beyond what a planning figure assumed;
/// `None` where the money cannot be laid to that figure alone.
pub fn month_cost(l: &Line, f: &Findings) -> Option<Minor> {
    match l.constant {
        Constant::MlPerM2 => {
            let finishes = &f.consumption.as_ref().ok()?.finishes;
            finishes.iter().find(|u| u.fit.finish == l.key)?.month_cost
        }
        Constant::Minutes => {
            let classes = &f.minutes.as_ref().ok()?.classes;
            classes.iter().find(|m| m.fit.class == l.key)?.month_cost
        }
        Constant::CostPerMl => step(Term::CoatingPrice, f),
        Constant::HourlyCost => step(Term::LabourRate, f),
        Constant::SetupMl => setup_cost(l, f),
    }
}

/// What set-up took beyond its figure, over the month's coated jobs.
fn setup_cost(l: &Line, f: &Findings) -> Option<Minor> {
    let beyond = l.data_alone.value()? - l.in_force?;
    Minor::nearest(beyond * f.attach.coated as f64 * f.prices.per_ml_used?)
}

/// What a step of the bridge took away this month.
fn step(term: Term, f: &Findings) -> Option<Minor> {
    let terms = &f.moved.as_ref().ok()?.quoted.terms;
    Some(-terms.iter().find(|t| t.term == term)?.amount)
}

/// What the latest month's bottles cost, where that is clearly more than the
/// mean of all months looked at, which is the figure to adopt.
pub fn latest_cost(f: &Findings) -> Option<LatestCost> {
    f.constants.to_adopt(Constant::CostPerMl, "")?;
    let latest = f.coating_cost.months.last()?;
    let mean = f.prices.bought?.per_ml;
    (latest.bought.per_ml > mean * (1.0 + DEARER)).then_some(LatestCost {
        month: latest.month,
        per_ml: latest.bought.per_ml,
    })
}

/// Another price, where the one with most left is told from today's
/// ([`super::price::Answer::better`]) and today's was tried too, without which
/// nothing can be held against it.
fn try_price(f: &Findings) -> Option<TryPrice> {
    let said = f.price.said.as_ref().ok()?;
    let price = said.better()?;
    let gain = said.curve.gain?;
    let a_month = |an_offer: f64| {
        let offers = said.offers as f64 / f.scope.months().max(1) as f64;
        Minor::nearest(an_offer * offers)
    };
    Some(TryPrice {
        price,
        offers: said.offers,
        months: f.scope.months(),
        monthly: a_month(gain.value)?,
        monthly_low: a_month(gain.low)?,
        monthly_high: a_month(gain.high)?,
    })
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

/// The figures that moved no more than they usually do; none: `None`.
pub fn leave_alone(f: &Findings) -> Option<Action> {
    let still: Vec<Moved> = shifts(f)
        .into_iter()
        .filter(|s| s.change.certainty == Certainty::Luck)
        .map(|s| s.figure)
        .collect();
    (!still.is_empty()).then_some(Action::LeaveAlone(still))
}

#[cfg(test)]
mod tests;
