//! The things that a review may ask for, with the figures behind each.

use super::super::bottles::Buy;
use super::super::callbacks::MendCause;
use super::super::certainty::Certainty;
use super::super::chances::{Discounts, ShowWay};
use super::super::floor::Cause;
use super::super::pace::{HelpWith, Kind};
use super::super::recalibrate::Constant;
use super::super::workspace::KeepTo;
use crate::estimate::Estimate;
use crate::money::Minor;
use crate::settings::month::Month;

/// Something to do, or to leave alone.
#[derive(Debug, Clone, PartialEq)]
pub enum Action {
    /// Jobs went out under their floor price.
    MendPrices(MendPrices),
    /// One way of showing it brought more yeses than another.
    Show(ShowWay),
    /// Discounts were given.
    AskDiscounts(Discounts),
    /// Somebody needs help with something.
    Help(HelpWith),
    /// Callbacks point at one kind of work.
    MendCallbacks(MendCause),
    /// Jobs outside the rules come back more often.
    KeepRules(KeepTo),
    /// The next month needs more coating than is on hand.
    BuyBottles(Buy),
    /// Entries of the price list are under their floor.
    RaiseList(RaiseList),
    /// Planning figures are not what the jobs say.
    Replan(Replan),
    /// Another price would leave more per offer.
    TryPrice(TryPrice),
    /// A figure of the first screen moved.
    LookInto(LookInto),
    /// Figures that moved no more than they usually do.
    LeaveAlone(Vec<Moved>),
}

/// Jobs that went out under their floor price.
#[derive(Debug, Clone, PartialEq)]
pub struct MendPrices {
    /// How many.
    pub jobs: u64,
    /// What they were short together.
    pub short: Minor,
    /// The worst of them.
    pub worst: String,
    /// What most of that money comes from.
    pub cause: Option<Cause>,
}

/// Entries of the price list under their floor.
#[derive(Debug, Clone, PartialEq)]
pub struct RaiseList {
    /// The entries, the most money first; at least one.
    pub entries: Vec<ListRise>,
    /// What mending them would have brought over the months looked at.
    pub would_bring: Minor,
    /// How many months that are.
    pub months: u64,
}

/// One of them.
#[derive(Debug, Clone, PartialEq)]
pub struct ListRise {
    /// Class.
    pub class: String,
    /// Finish.
    pub finish: String,
    /// List price.
    pub list: Minor,
    /// The price that covers.
    pub mend_to: Minor,
    /// What that would have brought over the months looked at.
    pub would_bring: Minor,
}

/// Planning figures to change, all by one command.
#[derive(Debug, Clone, PartialEq)]
pub struct Replan {
    /// The figures, the most money first; at least one.
    pub figures: Vec<Replanned>,
}

/// One of them, in its own unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Replanned {
    /// Which.
    pub constant: Constant,
    /// Finish or class; empty where it has none.
    pub key: String,
    /// In use.
    pub from: Option<f64>,
    /// To adopt.
    pub to: f64,
    /// What the month's jobs cost beyond it; below 0: less than quoted.
    pub month_cost: Option<Minor>,
}

/// What the latest month's bottles cost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LatestCost {
    /// The month in which they were opened.
    pub month: Month,
    /// [minor units per mL]
    pub per_ml: f64,
}

/// Another price than today's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TryPrice {
    /// Price with most left per offer, as a multiple of today's list price.
    pub price: Estimate,
    /// Offers that say so.
    pub offers: u64,
    /// Months of them.
    pub months: u64,
    /// What it would leave more in a month.
    pub monthly: Minor,
}

/// A figure of the first screen that moved.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LookInto {
    /// Which.
    pub figure: Moved,
    /// Up or down.
    pub up: bool,
    /// How sure.
    pub certainty: Certainty,
    /// What the change is worth this month, where it can be said.
    pub worth: Option<Minor>,
}

/// A figure of the first screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Moved {
    /// Attach rate.
    Attach,
    /// Margin per coated job.
    Margin,
    /// Coating used per area.
    Use,
    /// Hands-on minutes.
    Minutes,
}

impl Action {
    /// Money a year that it can be counted on for [minor units]; nothing where
    /// that cannot be said. The rule stands at the head of the module above.
    pub fn a_year(&self) -> Minor {
        let money = match self {
            Self::Replan(x) => {
                let sizes = x.figures.iter().filter_map(|r| r.month_cost);
                MONTHS * sizes.map(|m| m.as_f64().abs()).sum::<f64>()
            }
            Self::RaiseList(x) => MONTHS * x.would_bring.as_f64() / x.months.max(1) as f64,
            // These jobs are over; what the next ones will be is not known.
            Self::MendPrices(x) => x.short.as_f64(),
            Self::LookInto(x) if x.certainty == Certainty::Outside => a_year(x.worth),
            Self::Show(x) => a_year(Some(x.monthly)) * sure(x.difference, 0.0),
            Self::KeepRules(x) => a_year(x.monthly) * beyond(x.ratio),
            Self::Help(x) => a_year(x.monthly) * helped(x),
            Self::MendCallbacks(x) => a_year(x.monthly) * NO_RANGE,
            Self::TryPrice(x) => a_year(Some(x.monthly)) * NO_RANGE,
            // A change that is only likely is watched. How much of a discount
            // would come back nobody knows: some of them brought the sale. What
            // bottles cost is spent anyway.
            Self::LookInto(_)
            | Self::AskDiscounts(_)
            | Self::BuyBottles(_)
            | Self::LeaveAlone(_) => 0.0,
        };
        Minor::nearest(money).unwrap_or_default()
    }
}

/// Months of a year.
const MONTHS: f64 = 12.0;
/// What is counted of money that is only likely and has no range.
const NO_RANGE: f64 = 0.5;

fn a_year(monthly: Option<Minor>) -> f64 {
    MONTHS * monthly.unwrap_or_default().as_f64().abs()
}

/// The low end's part of an estimate, both beyond `none`; 0 where the range
/// holds `none`.
fn sure(e: Estimate, none: f64) -> f64 {
    let part = (e.low - none) / (e.value - none);
    if part.is_finite() {
        part.clamp(0.0, 1.0)
    } else {
        0.0
    }
}

/// Of callbacks outside the rules, the part beyond those inside is
/// 1 − 1 / ratio: its low end over its value.
fn beyond(ratio: Estimate) -> f64 {
    let part = |r: f64| if r > 0.0 { 1.0 - 1.0 / r } else { 0.0 };
    let share = part(ratio.low) / part(ratio.value);
    if share.is_finite() {
        share.clamp(0.0, 1.0)
    } else {
        0.0
    }
}

/// Pace and coating used have a range over the usual, which is 1.
fn helped(x: &HelpWith) -> f64 {
    match (x.kind, x.figure.known()) {
        (Kind::Slow | Kind::Overuse, Some(e)) => sure(*e, 1.0),
        _ => NO_RANGE,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn estimate(value: f64, low: f64, high: f64) -> Estimate {
        Estimate {
            value,
            low,
            high,
            level: 0.95,
            n: 100,
        }
    }

    fn show(monthly: i64, low: f64) -> Action {
        Action::Show(ShowWay {
            shown: "full_pair".into(),
            against: "none".into(),
            difference: estimate(0.2, low, 0.3),
            offers: 100,
            months: 12,
            jobs_a_month: 1.0,
            monthly: Minor(monthly),
        })
    }

    /// By hand: 200.00 a month at 20 of a hundred, 5 at least: a quarter of
    /// 2,400.00. 60.00 over six months are 120.00 a year.
    #[test]
    fn what_is_likely_counts_with_its_low_end_and_what_is_certain_whole() {
        assert_eq!(show(20_000, 0.05).a_year(), Minor(60_000));
        assert_eq!(show(20_000, -0.01).a_year(), Minor(0));
        let list = Action::RaiseList(RaiseList {
            entries: Vec::new(),
            would_bring: Minor(6_000),
            months: 6,
        });
        assert_eq!(list.a_year(), Minor(12_000));
        let jobs = Action::MendPrices(MendPrices {
            jobs: 2,
            short: Minor(3_400),
            worst: "J1".into(),
            cause: None,
        });
        assert_eq!(jobs.a_year(), Minor(3_400));
    }

    #[test]
    fn a_figure_outside_its_limits_counts_and_one_to_watch_does_not() {
        let look = |certainty| {
            Action::LookInto(LookInto {
                figure: Moved::Attach,
                up: false,
                certainty,
                worth: Some(Minor(-10_000)),
            })
        };
        assert_eq!(look(Certainty::Outside).a_year(), Minor(120_000));
        assert_eq!(look(Certainty::Likely).a_year(), Minor(0));
    }

    /// Planning figures that are too high and too low do not cancel out.
    #[test]
    fn planning_figures_count_by_size() {
        let one = |cost| Replanned {
            constant: Constant::Minutes,
            key: "suv".into(),
            from: Some(40.0),
            to: 50.0,
            month_cost: Some(Minor(cost)),
        };
        let all = Action::Replan(Replan {
            figures: vec![one(1_000), one(-1_000)],
        });
        assert_eq!(all.a_year(), Minor(24_000));
    }

    /// By hand: twice as often is half beyond, 1.25 times a fifth beyond.
    #[test]
    fn callbacks_beyond_those_inside_count_with_the_low_end_of_the_ratio() {
        assert!((beyond(estimate(2.0, 1.25, 3.0)) - 0.4).abs() < 1e-12);
        assert!(beyond(estimate(2.0, 0.8, 3.0)).abs() < 1e-12);
    }
}
