//! From what the quotes assumed to what happened, job by job.
//!
//! Question: why did the coated jobs of a month leave more, or less, than
//! their quotes assumed?
//!
//! A job's quote rests on the constants in force on the day it was priced:
//! list price, standard mL (set-up and mL/m² of its finishes) at the standard
//! cost per mL, standard minutes at the standard wage, no callback. Standard
//! minutes of a partial job are the full ones times the share by which its
//! list price is reduced: nobody quoted more finely. One input is changed at a
//! time, in this order, and each step is what that changed (+ = gained):
//!
//! ```text
//! list price         charged − list                      (without tax)
//! discount           net − charged                       (without tax)
//! coating price      standard mL at standard − at actual cost per mL
//! coating usage      (standard − actual mL) at actual cost per mL
//! labour rate        standard minutes at standard − at actual wage
//! labour efficiency  (standard − actual minutes) at actual wage
//! consumables, fees  standard − actual
//! callbacks          − their cost
//! ```
//!
//! Every amount is rounded once, to the minor unit, before it is subtracted,
//! so steps telescope: a job's add to its difference exactly, and jobs to the
//! month.
//!
//! Textbooks value the price variance at the actual quantity; here it stands
//! at the standard one, and the usage bears what both cause together. Totals
//! are the same. It misleads where the constants were never meant: then it
//! describes the constants.

use super::list_price::Rule;
use super::money::{Account, JobMoney, without_tax};
use crate::measures::CoatedJob;
use crate::money::Minor;
use crate::settings::constants::Record;
use crate::settings::shop::Money;
use serde::Serialize;

/// A step of the bridge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Term {
    /// More or fewer coated jobs than the month before.
    Volume,
    /// Other classes, finishes and areas than the month before.
    Mix,
    /// Quotes that rested on newer constants.
    NewConstants,
    /// Charged otherwise than the list says.
    ListPrice,
    /// Taken off what was charged.
    Discount,
    /// The coating cost more or less per mL.
    CoatingPrice,
    /// More or less coating was used.
    CoatingUsage,
    /// An hour cost more or less.
    LabourRate,
    /// The work took more or fewer minutes.
    LabourEfficiency,
    /// Consumables and card fees.
    ConsumablesAndFees,
    /// Callbacks of coating work.
    Callbacks,
}

/// The steps from quoted to happened, in their order.
pub const STEPS: [Term; 8] = [
    Term::ListPrice,
    Term::Discount,
    Term::CoatingPrice,
    Term::CoatingUsage,
    Term::LabourRate,
    Term::LabourEfficiency,
    Term::ConsumablesAndFees,
    Term::Callbacks,
];

/// A step with its amount.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Step {
    /// Which.
    pub term: Term,
    /// What it added (above 0) or took away.
    pub amount: Minor,
}

/// What the quote of a job rested on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standard {
    /// List price, tax as the shop writes prices.
    pub list: Minor,
    /// Coating [mL].
    pub use_ml: f64,
    /// Cost of the coating [minor units per mL].
    pub per_ml: f64,
    /// Hands-on minutes.
    pub minutes: f64,
    /// Wage before loading [minor units per hour].
    pub wage: f64,
}

impl Standard {
    /// The standard of a job by a record; `None` where the record lacks a
    /// figure that the job needs. A set-up that it does not name is 0.
    pub fn of(job: &CoatedJob, record: &Record, rule: &Rule<'_>) -> Option<Self> {
        let names = rule.names;
        let scale = rule.currency.scale() as f64;
        let part = |p: &crate::measures::Part| {
            let rate = record.ml_per_m2.get(names.finishes.name(p.finish))?;
            Some(rate * p.area)
        };
        let film: Option<Vec<f64>> = job.parts.iter().map(part).collect();
        let film = film.filter(|all| !all.is_empty())?.iter().sum::<f64>();
        let full = record.minutes.get(names.classes.name(job.class))?;
        Some(Self {
            list: rule.of(record, job)?,
            use_ml: record.setup_ml.unwrap_or(0.0) + film,
            per_ml: record.cost_per_ml? * scale,
            minutes: full * rule.covered(Some(record), job)?,
            wage: record.hourly_cost? * scale,
        })
    }

    /// What the quote assumed; `None` where an amount does not fit.
    pub fn money(&self, money: &Money) -> Option<JobMoney> {
        let hours = self.minutes / 60.0;
        Some(JobMoney {
            net_price: without_tax(self.list, money),
            coating: Minor::nearest(self.use_ml * self.per_ml)?,
            labour: Minor::nearest(hours * self.wage * money.labour_loading)?,
            consumables: money.currency.minor(money.consumables)?,
            fees: Minor::nearest(self.list.as_f64() * money.card_fee_share)?,
            callbacks: Minor::ZERO,
        })
    }
}

/// One job from quoted to happened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JobBridge {
    /// The shop's key.
    pub shop: String,
    /// The job.
    pub job: String,
    /// Who sold it; empty where nobody is written down.
    pub seller: String,
    /// What the quote assumed to be left.
    pub from: Minor,
    /// What was left.
    pub to: Minor,
    /// Amounts of [`STEPS`].
    pub steps: [Minor; STEPS.len()],
}

/// Bridges one job, sold by `seller`; `None` where an amount does not fit.
pub fn job(
    job: &CoatedJob,
    seller: &str,
    standard: &Standard,
    account: &Account,
    money: &Money,
) -> Option<JobBridge> {
    let quoted = standard.money(money)?;
    let happened = account.money;
    let charged = without_tax(account.charged, money);
    let hours = standard.minutes / 60.0;
    let coating = Minor::nearest(standard.use_ml * account.rates.per_ml)?;
    let labour = Minor::nearest(hours * account.rates.wage * money.labour_loading)?;
    let other = |m: &JobMoney| m.consumables + m.fees;
    Some(JobBridge {
        shop: job.shop.to_string(),
        job: job.job.to_string(),
        seller: seller.to_string(),
        from: quoted.contribution(),
        to: happened.contribution(),
        steps: [
            charged - quoted.net_price,
            happened.net_price - charged,
            quoted.coating - coating,
            coating - happened.coating,
            quoted.labour - labour,
            labour - happened.labour,
            other(&quoted) - other(&happened),
            -happened.callbacks,
        ],
    })
}

/// A bridge between two totals: `from` and the terms add up to `to`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bridge {
    /// Where it starts.
    pub from: Minor,
    /// Where it ends.
    pub to: Minor,
    /// The steps between, in order.
    pub terms: Vec<Step>,
}

impl Bridge {
    /// `to` less `from`.
    pub fn difference(&self) -> Minor {
        self.to - self.from
    }

    /// The step with the largest amount either way; the first of several.
    pub fn largest(&self) -> Option<Step> {
        let moved = self.terms.iter().filter(|s| s.amount != Minor::ZERO);
        moved.copied().min_by_key(|s| -s.amount.0.abs())
    }
}

/// The bridge of some jobs together.
pub fn sum(jobs: &[JobBridge]) -> Bridge {
    Bridge {
        from: jobs.iter().map(|j| j.from).sum(),
        to: jobs.iter().map(|j| j.to).sum(),
        terms: steps(|i| jobs.iter().map(|j| j.steps[i]).sum()),
    }
}

fn steps(amount: impl Fn(usize) -> Minor) -> Vec<Step> {
    let step = |(i, term): (usize, &Term)| Step {
        term: *term,
        amount: amount(i),
    };
    STEPS.iter().enumerate().map(step).collect()
}

/// A job with its bridge, and what a quote by the older constants would have
/// assumed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dated {
    /// From quoted to happened.
    pub bridge: JobBridge,
    /// Quoted by the constants in force at the end of the month before.
    pub by_older: Minor,
}

/// The bridge from one month to the next; `None` where the first has no job.
///
/// Every step but the first holds this month against the month before at as
/// many jobs: with r = jobs now / jobs before,
///
/// ```text
/// volume         r · left before − left before
/// mix            quotes now − r · quotes before
/// new constants  what newer constants changed in the quotes, now − r · before
/// the rest       each step of quoted to happened, now − r · before
/// ```
///
/// so that what did not change per job is no step, however many jobs there
/// were. Mix values both months' quotes by the constants in force at the end of
/// the first. Each r · amount is rounded once, and the volume is what they add
/// up to.
pub fn between(before: &[Dated], now: &[Dated]) -> Option<Bridge> {
    if before.is_empty() {
        return None;
    }
    let ratio = now.len() as f64 / before.len() as f64;
    let (parts_before, parts_now) = (parts(before), parts(now));
    let scaled = |part: &Minor| Minor::nearest(part.as_f64() * ratio);
    let at_as_many: Vec<Minor> = parts_before.iter().map(scaled).collect::<Option<_>>()?;
    let left = |jobs: &[Dated]| -> Minor { jobs.iter().map(|j| j.bridge.to).sum() };
    let from = left(before);
    let volume = at_as_many.iter().copied().sum::<Minor>() - from;
    let moved = at_as_many
        .iter()
        .zip(&parts_now)
        .map(|(old, new)| *new - *old);
    let terms = [Term::Mix, Term::NewConstants].into_iter().chain(STEPS);
    let rest = terms.zip(moved).map(|(term, amount)| Step { term, amount });
    let first = Step {
        term: Term::Volume,
        amount: volume,
    };
    Some(Bridge {
        from,
        to: left(now),
        terms: std::iter::once(first).chain(rest).collect(),
    })
}

/// What some jobs left, taken apart: their quotes by the older constants, what
/// newer ones changed in them, then each of [`STEPS`].
fn parts(jobs: &[Dated]) -> [Minor; STEPS.len() + 2] {
    let mut all = [Minor::ZERO; STEPS.len() + 2];
    for job in jobs {
        let quoted = [job.by_older, job.bridge.from - job.by_older];
        let own = quoted.into_iter().chain(job.bridge.steps);
        all.iter_mut().zip(own).for_each(|(sum, x)| *sum += x);
    }
    all
}

/// The section's findings.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Moved {
    /// Quoted to happened, the month.
    pub quoted: Bridge,
    /// The same, job by job, in the order of the export.
    pub jobs: Vec<JobBridge>,
    /// Coated jobs of the month whose money is not known.
    pub without_money: u64,
    /// Coated jobs of the month whose quote the constants cannot tell.
    pub without_standard: u64,
    /// The month before to this one; `None` where that month has no such job.
    pub months: Option<Bridge>,
    /// Jobs of the month before in it.
    pub jobs_before: u64,
}

#[cfg(test)]
mod tests;
