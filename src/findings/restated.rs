//! What changed since the last review: late and corrected jobs restate months
//! that were already reviewed.
//!
//! Compared are the counts of every month in the earlier review, and the money
//! of the month that it was about. Fits are not: they move with every month.

use super::attach::Attach;
use super::money::JobMoney;
use crate::money::Minor;
use crate::settings::month::Month;
use serde::Serialize;

/// Counts of one month in the earlier review.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Counted {
    /// The month.
    pub month: Month,
    /// Film jobs that the coating suits.
    pub eligible: u64,
    /// Of these, coated.
    pub coated: u64,
}

/// Money of the month that a review was about.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Earned {
    /// Coated jobs whose money is known.
    pub jobs: u64,
    /// Charged less discount, without tax.
    pub net_price: Minor,
    /// Left over.
    pub contribution: Minor,
}

impl Earned {
    /// Of some jobs' money.
    pub fn of(jobs: &[JobMoney]) -> Self {
        let total: JobMoney = jobs.iter().copied().sum();
        Self {
            jobs: jobs.len() as u64,
            net_price: total.net_price,
            contribution: total.contribution(),
        }
    }
}

/// The review of the month before.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Earlier {
    /// The month that it was about.
    pub month: Month,
    /// Counts by month.
    pub counts: Vec<Counted>,
    /// Money of its month; `None` where it had none.
    pub earned: Option<Earned>,
}

/// A figure of the earlier review.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum What {
    /// Film jobs that the coating suits.
    Eligible,
    /// Coated jobs.
    Coated,
    /// Coated jobs whose money is known.
    JobsWithMoney,
    /// Charged less discount.
    NetPrice,
    /// Left over.
    Contribution,
}

impl What {
    /// True where it is money, false where it is a count.
    pub fn is_money(self) -> bool {
        matches!(self, Self::NetPrice | Self::Contribution)
    }
}

/// A figure that moved.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Moved {
    /// The month that it is of.
    pub month: Month,
    /// Which.
    pub figure: What,
    /// What the earlier review said: a count, or minor units.
    pub was: i64,
    /// What it is now.
    pub now: i64,
}

/// What changed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Restated {
    /// The month of the earlier review.
    pub review: Month,
    /// Figures compared.
    pub compared: u64,
    /// Those that moved, earliest month first.
    pub moved: Vec<Moved>,
}

/// Compares an earlier review with today's figures. `earned`: those of its
/// month now, where money is known.
pub fn find(earlier: &Earlier, attach: &Attach, earned: Option<Earned>) -> Restated {
    let mut all = Vec::new();
    for then in &earlier.counts {
        let now = attach.months.iter().find(|m| m.month == then.month);
        let (eligible, coated) = now.map_or((0, 0), |m| (m.eligible, m.coated));
        all.push(figure(then.month, What::Eligible, then.eligible, eligible));
        all.push(figure(then.month, What::Coated, then.coated, coated));
    }
    if let Some((was, now)) = earlier.earned.zip(earned) {
        let month = earlier.month;
        all.push(figure(month, What::JobsWithMoney, was.jobs, now.jobs));
        all.push(money(month, What::NetPrice, was.net_price, now.net_price));
        all.push(money(
            month,
            What::Contribution,
            was.contribution,
            now.contribution,
        ));
    }
    let compared = all.len() as u64;
    all.retain(|m| m.was != m.now);
    all.sort_by_key(|m| m.month);
    Restated {
        review: earlier.month,
        compared,
        moved: all,
    }
}

fn figure(month: Month, figure: What, was: u64, now: u64) -> Moved {
    let whole = |n: u64| i64::try_from(n).unwrap_or(i64::MAX);
    Moved {
        month,
        figure,
        was: whole(was),
        now: whole(now),
    }
}

fn money(month: Month, figure: What, was: Minor, now: Minor) -> Moved {
    Moved {
        month,
        figure,
        was: was.0,
        now: now.0,
    }
}
