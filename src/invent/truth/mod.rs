//! What the fits are to find again, as `truth.json`.

mod law;
mod turned_out;

use serde::Serialize;
use std::collections::BTreeMap;

/// A number for each word of a list.
pub type ByWord = BTreeMap<&'static str, f64>;

/// The product's name in the tables.
pub const PRODUCT: &str = "TC-A";

/// All of `truth.json`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Truth {
    /// What this is.
    pub about: String,
    /// The seed.
    pub seed: u64,
    /// Counts of the plan.
    pub plan: PlanTruth,
    /// Coating used.
    pub coating: CoatingTruth,
    /// Hands-on minutes.
    pub minutes: MinutesTruth,
    /// Shape of the residuals of both: normal, or t5.
    pub residual: &'static str,
    /// Film area of a full job, by class [m²].
    pub full_area: ByWord,
    /// Expected product for a typical full job at the end's cost [major
    /// units], by class and finish.
    pub product_cost: BTreeMap<&'static str, ByWord>,
    /// Offer and sale.
    pub attach: AttachTruth,
    /// Callbacks.
    pub callbacks: CallbackTruth,
    /// How long film lasts.
    pub durability: DurabilityTruth,
    /// Changes on the way.
    pub drifts: Vec<DriftTruth>,
    /// Shops.
    pub shops: Vec<ShopTruth>,
    /// People who coat.
    pub people: Vec<PersonTruth>,
    /// People who sell.
    pub sellers: Vec<SellerTruth>,
}

/// Counts of the plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlanTruth {
    /// Film jobs.
    pub jobs: u64,
    /// Coated ones.
    pub coated: u64,
    /// Shops.
    pub shops: u32,
    /// First day.
    pub starts: String,
    /// Last day.
    pub ends: String,
    /// Share of coated jobs whose use is written down.
    pub measured_share: f64,
}

/// Law of use; see [`super::Law`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CoatingTruth {
    /// The law in words.
    pub law: &'static str,
    /// s [mL a job].
    pub setup_ml: f64,
    /// c [mL/m²].
    pub ml_per_m2: ByWord,
    /// σ [mL/√m²].
    pub sigma: f64,
    /// Sd of people's factors (log scale).
    pub person_sd: f64,
    /// Sd of shops' factors (log scale).
    pub shop_sd: f64,
    /// Product.
    pub product: &'static str,
    /// Its drops per mL, weighed.
    pub drops_per_ml: f64,
    /// Drops that load a dry applicator: `setup_ml` × `drops_per_ml`.
    pub setup_drops: f64,
    /// What a bottle holds [mL].
    pub bottle_ml: f64,
    /// Landed cost at the start [major units per mL].
    pub cost_per_ml_first: f64,
    /// Landed cost at the end [major units per mL].
    pub cost_per_ml_last: f64,
}

/// Law of minutes; see [`super::Law`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MinutesTruth {
    /// The law in words.
    pub law: &'static str,
    /// exp(α): median, full job on the smoothest finish.
    pub typical: ByWord,
    /// Mean of the same: exp(α + (τ² + σ²)/2), where people do not differ in
    /// spread.
    pub average: ByWord,
    /// 80th percentile of the same.
    pub plan_for: ByWord,
    /// γ.
    pub covered_share_exponent: f64,
    /// exp(δ).
    pub finish_factor: ByWord,
    /// τ.
    pub tau: f64,
    /// σ.
    pub sigma: f64,
    /// Sd of log(σ) between people.
    pub spread_sd: f64,
    /// Sd of shops' factors (log scale).
    pub shop_sd: f64,
    /// Factor per doubling of jobs for new people (unit model).
    pub learning: f64,
    /// Jobs after which they learn no more.
    pub learned_after: u32,
}

/// Offer and sale.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AttachTruth {
    /// Share of jobs that the coating does not suit.
    pub excluded_share: f64,
    /// Chance of an offer where it suits.
    pub offered: f64,
    /// Chance that it is not known.
    pub offer_unknown: f64,
    /// Log odds of acceptance, nothing shown, reference price, gloss.
    pub accept_logit: f64,
    /// Added by how it was shown.
    pub sample_effect: ByWord,
    /// How often each way is used at the start.
    pub sample_share: ByWord,
    /// Added by finish.
    pub finish_effect: ByWord,
    /// Sd of sellers.
    pub seller_sd: f64,
    /// Per unit of log price over the reference price.
    pub price_slope: f64,
    /// Reference price [minor units].
    pub reference_price_minor: i64,
    /// Share of sold jobs with a discount.
    pub discount_share: f64,
    /// By month.
    pub months: Vec<MonthTruth>,
}

/// Sales of a month.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MonthTruth {
    /// As 2026-10.
    pub month: String,
    /// Jobs that the coating suits.
    pub eligible: u64,
    /// Coated ones.
    pub coated: u64,
    /// Rate that the law expects for these jobs; 0 where there are none.
    pub expected_rate: f64,
}

/// Callbacks.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CallbackTruth {
    /// Chance for coating work inside the workspace rules.
    pub coating: f64,
    /// Factor outside.
    pub outside_factor: f64,
    /// Sd of people's factors (log scale).
    pub person_sd: f64,
    /// Causes of coating work.
    pub cause_share: ByWord,
    /// Chance of an edge that lifts.
    pub edge_lift: f64,
    /// Chance of another.
    pub other: f64,
}

/// How long film lasts.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DurabilityTruth {
    /// The law in words.
    pub law: &'static str,
    /// Failures of a bare colour-change job in its first year (cumulative
    /// hazard at one year).
    pub failures_a_year: f64,
    /// Weibull shape.
    pub shape: f64,
    /// Hazard ratio of the coating.
    pub hazard_ratio: f64,
    /// Hazard by kind of film.
    pub film_hazard: ByWord,
    /// Chance that the panel that fails lies level.
    pub level_share: f64,
    /// Share of jobs that come back for a look.
    pub inspected_share: f64,
}

/// A change on the way.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DriftTruth {
    /// First day.
    pub from: String,
    /// What.
    pub what: String,
    /// How much.
    pub value: f64,
}

/// A shop's own factors.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShopTruth {
    /// From 1.
    pub shop: u32,
    /// On use.
    pub use_factor: f64,
    /// On minutes.
    pub minutes_factor: f64,
}

/// A person's own effects.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PersonTruth {
    /// Key.
    pub person: String,
    /// Shop.
    pub shop: u32,
    /// u: log minutes.
    pub log_minutes: f64,
    /// On σ of minutes.
    pub spread_factor: f64,
    /// On use.
    pub use_factor: f64,
    /// On callbacks.
    pub callback_factor: f64,
    /// Still learning at first.
    pub new: bool,
}

/// A seller's own effect.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SellerTruth {
    /// Key.
    pub person: String,
    /// Shop.
    pub shop: u32,
    /// Log odds of acceptance.
    pub log_odds: f64,
}

impl Truth {
    /// The text of `truth.json`.
    pub fn json(&self) -> String {
        // Plain structs of numbers and text always serialise.
        serde_json::to_string_pretty(self).unwrap_or_default() + "\n"
    }
}
