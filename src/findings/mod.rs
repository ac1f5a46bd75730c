//! Findings: tables and estimates become claims: what, how sure, how much
//! money, what to do. Verdicts are decided here, once, with their thresholds
//! named; numbers stay numbers.

pub mod attach;
pub mod backtest;
pub mod bottles;
pub mod bridge;
pub mod callbacks;
pub mod certainty;
pub mod chances;
pub mod coating_cost;
pub mod consumption;
pub mod durability;
pub mod floor;
pub mod groups;
pub mod headline;
pub mod left_out;
pub mod list_price;
pub mod margin;
pub mod margin_groups;
pub mod minutes;
pub mod money;
pub mod noticed;
pub mod own;
pub mod pace;
pub mod person;
pub mod price;
pub mod price_list;
pub mod quote;
pub mod recalibrate;
pub mod reserve;
pub mod restated;
pub mod same_work;
pub mod shops;
pub mod use_change;
pub mod workspace;
pub mod year;

use crate::estimate::NotEnough;
use crate::fits::error::FitError;
use crate::settings::constants::Record;
use crate::settings::month::Month;
use chrono::NaiveDate;

/// What keeps findings from being made; too little data is not among it.
#[derive(Debug, thiserror::Error)]
pub enum FindError {
    /// A fit refused its input.
    #[error("a figure could not be computed: {0}")]
    Fit(#[from] FitError),
}

/// The months that the findings speak of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Scope {
    /// The month reviewed.
    pub month: Month,
    /// First month of the window, whose last is the month reviewed.
    pub window_from: Month,
}

impl Scope {
    /// True for months of the window, the one reviewed included.
    pub fn in_window(&self, month: Month) -> bool {
        self.window_from <= month && month <= self.month
    }

    /// Months of the window.
    pub fn months(&self) -> u64 {
        let no = |m: Month| i64::from(m.year()) * 12 + i64::from(m.month());
        u64::try_from(no(self.month) - no(self.window_from) + 1).unwrap_or(1)
    }

    /// True for months of "usual": the window without the month reviewed.
    pub fn is_usual(&self, month: Month) -> bool {
        self.window_from <= month && month < self.month
    }
}

/// Where a price came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// The tables: bottles, or people.
    Data,
    /// constants.toml.
    Constants,
    /// Neither has it.
    Nowhere,
}

/// Prices that the money sections rest on.
#[derive(Debug, Clone, PartialEq)]
pub struct Prices {
    /// Coating as bought in the window, left-overs included.
    pub bought: Option<coating_cost::Bought>,
    /// The price used [minor units per mL].
    pub per_ml_used: Option<f64>,
    /// Where it came from.
    pub per_ml_from: Source,
    /// The constant in force [minor units per mL].
    pub per_ml_in_force: Option<f64>,
    /// Mean wage before loading [minor units per hour].
    pub wage: Option<f64>,
    /// Where it came from.
    pub wage_from: Source,
}

/// Everything that a review says, as numbers.
#[derive(Debug, Clone)]
pub struct Findings {
    /// The months spoken of.
    pub scope: Scope,
    /// The data's last day.
    pub data_until: NaiveDate,
    /// True where the data end before the month's last week.
    pub unfinished: bool,
    /// Constants in force at the month's end.
    pub record: Option<Record>,
    /// Prices of coating and labour.
    pub prices: Prices,
    /// How often the coating is sold.
    pub attach: attach::Attach,
    /// Who takes it.
    pub groups: groups::Groups,
    /// What is odd and was taken as it stands.
    pub noticed: noticed::Noticed,
    /// What the price asked did to the answer.
    pub price: price::Price,
    /// What a coated job earns; `Err` says what is missing.
    pub margin: Result<margin::Margin, Missing>,
    /// The same by class, finish, film and seller, over the window.
    pub margin_groups: margin_groups::MarginGroups,
    /// Prices below the floor.
    pub floor: Result<floor::Floor, Missing>,
    /// The price list against what the work takes.
    pub price_list: Result<price_list::PriceList, Missing>,
    /// What to set aside for callbacks; `Err` says which price is missing.
    pub reserve: Result<reserve::Reserve, Missing>,
    /// From what quotes assumed to what happened.
    pub moved: Result<bridge::Moved, Missing>,
    /// Coating used against the earlier window, by finish, product and lot;
    /// `None` where there is too little.
    pub use_change: Option<use_change::UseChange>,
    /// Coating used per area.
    pub consumption: Result<consumption::Consumption, Missing>,
    /// Hands-on minutes.
    pub minutes: Result<minutes::Minutes, Missing>,
    /// Which constants to change.
    pub constants: recalibrate::Recalibration,
    /// Cost of the coating by product and month.
    pub coating_cost: coating_cost::CoatingCost,
    /// People's pace.
    pub pace: Result<pace::PacePeople, Missing>,
    /// The shops of a chain; `None` where there is one shop.
    pub shops: Option<shops::Shops>,
    /// Where the coating went, and what comes next.
    pub bottles: Result<bottles::Bottles, Missing>,
    /// Callbacks of coating work.
    pub callbacks: Result<callbacks::Callbacks, Missing>,
    /// Workspace and cure.
    pub workspace: Result<workspace::Workspace, Missing>,
    /// How long the film lasts.
    pub durability: Result<durability::Durability, Missing>,
    /// Money of the month before, as its jobs stand now; `None` where a price
    /// is missing.
    pub earned_before: Option<restated::Earned>,
    /// What changed since the last review; `None` where there is none.
    pub restated: Option<restated::Restated>,
}

/// Why a section has nothing to say.
#[derive(Debug, Clone, PartialEq)]
pub enum Missing {
    /// Too few of something.
    TooFew(NotEnough),
    /// A price that neither the tables nor constants.toml have.
    NoPrice(Lacking),
}

/// What the money needs and neither tables nor settings have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lacking {
    /// Cost of the coating per mL.
    CoatingCost,
    /// Hourly cost of labour.
    Wage,
    /// What quotes assume.
    Constants,
}
