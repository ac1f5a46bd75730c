//! The things that a review may ask for, with the figures behind each.

use super::super::bottles::Buy;
use super::super::callbacks::MendCause;
use super::super::certainty::Certainty;
use super::super::chances::{Discounts, ShowWay};
use super::super::floor::Cause;
use super::super::pace::HelpWith;
use super::super::workspace::KeepTo;
use crate::estimate::Estimate;
use crate::money::Minor;

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
    /// An entry of the price list is under its floor.
    RaiseList(RaiseList),
    /// The coating used on a finish is not what quotes assume [mL/m²].
    MendUse(MendFigure),
    /// The minutes of a class are not what quotes assume [min].
    MendMinutes(MendFigure),
    /// The coating costs more or less than quotes assume.
    MendCost(MendCost),
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

/// An entry of the price list under its floor.
#[derive(Debug, Clone, PartialEq)]
pub struct RaiseList {
    /// Class.
    pub class: String,
    /// Finish.
    pub finish: String,
    /// List price.
    pub list: Minor,
    /// The price that covers.
    pub mend_to: Minor,
    /// What that would have brought over the window.
    pub would_bring: Minor,
    /// The same for a month of the window.
    pub monthly: Minor,
    /// Other entries under their floor.
    pub others: u64,
    /// What mending these would have brought.
    pub others_would_bring: Minor,
}

/// A planning figure that the jobs do not bear out, in its own unit.
#[derive(Debug, Clone, PartialEq)]
pub struct MendFigure {
    /// Finish or class.
    pub key: String,
    /// In force.
    pub in_force: f64,
    /// To adopt.
    pub plan: f64,
    /// What the jobs say.
    pub found: Estimate,
    /// What the difference cost this month; above 0: more than quoted.
    pub month_cost: Option<Minor>,
}

/// What the coating costs [major units per mL].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MendCost {
    /// In force.
    pub in_force: f64,
    /// To adopt.
    pub plan: f64,
    /// Bottles that say so.
    pub bottles: u64,
    /// What the difference cost this month; above 0: more than quoted.
    pub month_cost: Minor,
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
    /// The money behind it; nothing where it cannot be said.
    pub fn money(&self) -> Minor {
        let money = match self {
            Self::MendPrices(x) => Some(x.short),
            Self::RaiseList(x) => Some(x.monthly),
            Self::MendUse(x) | Self::MendMinutes(x) => x.month_cost,
            Self::MendCost(x) => Some(x.month_cost),
            Self::LookInto(x) => x.worth,
            Self::Show(x) => Some(x.monthly),
            Self::Help(x) => x.monthly,
            Self::MendCallbacks(x) => x.monthly,
            Self::KeepRules(x) => x.monthly,
            // How much of a discount would come back nobody knows: some of
            // them brought the sale. What bottles cost is spent anyway.
            Self::AskDiscounts(_) | Self::BuyBottles(_) | Self::LeaveAlone(_) => None,
        };
        Minor(money.unwrap_or_default().0.abs())
    }
}
