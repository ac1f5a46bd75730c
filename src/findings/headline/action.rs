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
    /// Its shop's key, where there are several shops.
    pub worst_shop: String,
    /// What most of that money comes from.
    pub cause: Option<Cause>,
}

/// Entries of the price list under their floor.
#[derive(Debug, Clone, PartialEq)]
pub struct RaiseList {
    /// The entries, the most money first; at least one.
    pub entries: Vec<ListRise>,
    /// What mending them would have brought over the months looked at, at the
    /// same sales.
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
    /// What that would have brought over the months looked at, at the same
    /// sales.
    pub would_bring: Minor,
    /// What it would have left more with as many takers as the answers to other
    /// prices let expect; below 0 where it would have left less. `None` where
    /// they do not tell.
    pub would_leave: Option<Minor>,
}

impl RaiseList {
    /// [`ListRise::would_leave`] of all entries together; `None` where that of
    /// one is not known.
    pub fn would_leave(&self) -> Option<Minor> {
        self.entries.iter().map(|e| e.would_leave).sum()
    }

    /// Money over the months looked at that can be counted on: what fewer
    /// takers would leave where that is known, else half of what the same sales
    /// would bring [minor units]. Nothing where it comes out below 0.
    fn counted_on(&self) -> f64 {
        let one = |e: &ListRise| match e.would_leave {
            Some(left) => left.as_f64(),
            None => NO_RANGE * e.would_bring.as_f64(),
        };
        self.entries.iter().map(one).sum::<f64>().max(0.0)
    }
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
    /// Low end of the likely range of that; below 0: it may leave less.
    pub monthly_low: Minor,
    /// High end.
    pub monthly_high: Minor,
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
                let beyond = x.figures.iter().filter_map(|r| r.month_cost);
                MONTHS * beyond.map(|m| m.as_f64().max(0.0)).sum::<f64>()
            }
            Self::RaiseList(x) => MONTHS * x.counted_on() / x.months.max(1) as f64,
            // These jobs are over; what the next ones will be is not known.
            Self::MendPrices(x) => x.short.as_f64(),
            // One month; whether the next is like it is not known.
            Self::LookInto(x) if x.certainty == Certainty::Outside => {
                x.worth.unwrap_or_default().as_f64().abs()
            }
            Self::Show(x) => a_year(Some(x.monthly)) * sure(x.difference, 0.0),
            Self::KeepRules(x) => a_year(x.monthly) * beyond(x.ratio),
            Self::Help(x) => a_year(x.monthly) * helped(x),
            Self::MendCallbacks(x) => a_year(x.monthly) * NO_RANGE,
            Self::TryPrice(x) => MONTHS * x.monthly_low.as_f64().max(0.0),
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
            best: false,
            jobs_a_month: 1.0,
            monthly: Minor(monthly),
        })
    }

    /// By hand: 200.00 a month at 20 of a hundred, 5 at least: a quarter of
    /// 2,400.00.
    #[test]
    fn what_is_likely_counts_with_its_low_end_and_what_is_certain_whole() {
        assert_eq!(show(20_000, 0.05).a_year(), Minor(60_000));
        assert_eq!(show(20_000, -0.01).a_year(), Minor(0));
        let jobs = Action::MendPrices(MendPrices {
            jobs: 2,
            short: Minor(3_400),
            worst: "J1".into(),
            worst_shop: String::new(),
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
        // One month, not twelve.
        assert_eq!(look(Certainty::Outside).a_year(), Minor(10_000));
        assert_eq!(look(Certainty::Likely).a_year(), Minor(0));
    }

    fn list(entries: &[(i64, Option<i64>)]) -> Action {
        let one = |(bring, leave): &(i64, Option<i64>)| ListRise {
            class: "van".into(),
            finish: "matte".into(),
            list: Minor(22_000),
            mend_to: Minor(24_500),
            would_bring: Minor(*bring),
            would_leave: leave.map(Minor),
        };
        Action::RaiseList(RaiseList {
            entries: entries.iter().map(one).collect(),
            would_bring: entries.iter().map(|e| Minor(e.0)).sum(),
            months: 6,
        })
    }

    /// By hand: 60.00 over six months at the same sales are 120.00 a year, of
    /// which half counts; with fewer takers 20.00 are 40.00, and a loss counts
    /// against the others but never below nothing.
    #[test]
    fn a_raised_list_price_counts_with_fewer_takers_or_by_half() {
        assert_eq!(list(&[(6_000, None)]).a_year(), Minor(6_000));
        assert_eq!(list(&[(6_000, Some(2_000))]).a_year(), Minor(4_000));
        let both = list(&[(6_000, Some(-1_000)), (6_000, Some(3_000))]);
        assert_eq!(both.a_year(), Minor(4_000));
        assert_eq!(list(&[(6_000, Some(-1_000))]).a_year(), Minor(0));
    }

    #[test]
    fn another_price_counts_with_the_low_end_of_its_gain() {
        let price = |low| {
            Action::TryPrice(TryPrice {
                price: estimate(1.1, 1.04, 1.2),
                offers: 300,
                months: 12,
                monthly: Minor(9_000),
                monthly_low: Minor(low),
                monthly_high: Minor(20_000),
            })
        };
        assert_eq!(price(1_500).a_year(), Minor(18_000));
        assert_eq!(price(-1_500).a_year(), Minor(0));
    }

    /// What cost less than quoted brings nothing by being written down, and
    /// takes nothing from what cost more.
    #[test]
    fn planning_figures_count_where_jobs_cost_more_than_quoted() {
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
        assert_eq!(all.a_year(), Minor(12_000));
    }

    /// By hand: twice as often is half beyond, 1.25 times a fifth beyond.
    #[test]
    fn callbacks_beyond_those_inside_count_with_the_low_end_of_the_ratio() {
        assert!((beyond(estimate(2.0, 1.25, 3.0)) - 0.4).abs() < 1e-12);
        assert!(beyond(estimate(2.0, 0.8, 3.0)).abs() < 1e-12);
    }
}
