//! The law by which invented jobs come about: every number that a fit could
//! try to find again.
//!
//! Coating used on a job [mL], with `s` the set-up, `c_f` per finish, `A_f`
//! the area of finish f [m²] and A their sum:
//!
//! ```text
//! M = s + Σ_f c_f A_f + e,   Var(e) = σ² A
//! ```
//!
//! Hands-on minutes of a job, with `u` the person and `share_f = A_f / A`:
//!
//! ```text
//! log(min) = α_class + γ log(A / full_area_class) + Σ_f δ_f share_f + u + e
//! u ~ N(0, τ²),  e ~ N(0, σ²)
//! ```
//!
//! [`Law::default`] is these two and nothing more. What a real shop adds
//! (learning, people who use more, erratic people, drift) is switched on by
//! numbers that are neutral by default.

use super::kinds::Finish;

/// Shape of the residuals of use and of minutes, both scaled to the stated
/// standard deviation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Residual {
    /// Normal.
    Normal,
    /// Student's t with 5 degrees of freedom, divided by √(5/3).
    T5,
}

impl Residual {
    /// Name as `truth.json` has it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Normal => "normal",
            Self::T5 => "t5",
        }
    }
}

/// Coating used.
#[derive(Debug, Clone, PartialEq)]
pub struct UseLaw {
    /// What a dry applicator takes before it gives anything [mL a job].
    pub setup_ml: f64,
    /// By finish [mL/m²].
    pub ml_per_m2: [f64; 4],
    /// σ: residual standard deviation on one square metre [mL/√m²].
    pub sd: f64,
    /// Sd of people's factors on use (log scale); 0 switches them off.
    pub person_sd: f64,
    /// Sd of shops' factors on use (log scale); one shop alone has none.
    pub shop_sd: f64,
    /// Drops in one millilitre of this product, weighed. A drop of solvent is
    /// under half a drop of water, of which 20 make a millilitre.
    pub drops_per_ml: f64,
}

/// Hands-on minutes.
#[derive(Debug, Clone, PartialEq)]
pub struct MinutesLaw {
    /// exp(α): typical minutes of a full job on the smoothest finish, by class.
    pub typical: [f64; 6],
    /// γ: exponent of the covered share.
    pub exponent: f64,
    /// exp(δ): factor by finish.
    pub finish_factor: [f64; 4],
    /// τ: sd between people (log scale).
    pub person_sd: f64,
    /// σ: residual sd (log scale).
    pub sd: f64,
    /// Sd of log(σ) between people, steady ones to erratic ones; 0 = all alike.
    pub spread_sd: f64,
    /// Sd of shops' factors on minutes (log scale); one shop alone has none.
    pub shop_sd: f64,
    /// Factor per doubling of jobs done, for people hired within the data
    /// (unit model); 1 = no learning.
    pub learning: f64,
    /// The job number from which a new person learns no more.
    pub learned_after: u32,
}

/// Film area and what is covered.
#[derive(Debug, Clone, PartialEq)]
pub struct VehicleLaw {
    /// Share of classes among jobs.
    pub class_share: [f64; 6],
    /// Typical film area of a full job, by class [m²].
    pub full_area: [f64; 6],
    /// Sd of the log of a full job's area within its class.
    pub area_sd: f64,
    /// Share of finishes.
    pub finish_share: [f64; 4],
    /// Share of kinds of film.
    pub film_share: [f64; 3],
    /// Share of jobs in two finishes.
    pub two_tone_share: f64,
    /// Share of jobs that cover some panels only.
    pub partial_share: f64,
    /// Share of one-finish jobs whose areas are noted by panel group.
    pub panel_group_share: f64,
}

/// Offer and sale.
#[derive(Debug, Clone, PartialEq)]
pub struct SaleLaw {
    /// Share of jobs that the coating does not suit.
    pub excluded_share: f64,
    /// Chance that it is offered where it suits.
    pub offered: f64,
    /// Chance that nobody wrote down whether it was offered.
    pub offer_unknown: f64,
    /// Log odds of acceptance: nothing shown, the reference price, gloss.
    pub accept_logit: f64,
    /// Added by how it was shown.
    pub sample_effect: [f64; 3],
    /// How often each way is used.
    pub sample_share: [f64; 3],
    /// Added by finish.
    pub finish_effect: [f64; 4],
    /// Sd of sellers' effects (log odds).
    pub seller_sd: f64,
    /// Added per unit of log(price / reference price).
    pub price_slope: f64,
    /// Reference price [minor units].
    pub reference_price_minor: i64,
    /// Sd of the log of what is quoted round the list.
    pub price_spread: f64,
    /// Share of quotes made by a wrong line of the price list (a smoother
    /// finish or a smaller class).
    pub misquoted_share: f64,
    /// Share of sold jobs with a discount.
    pub discount_share: f64,
}

/// Callbacks and how long the film lasts.
#[derive(Debug, Clone, PartialEq)]
pub struct AfterLaw {
    /// Chance of a callback for coating work on a coated job, inside the
    /// workspace rules.
    pub callback: f64,
    /// Factor on it outside the rules.
    pub outside_factor: f64,
    /// Sd of people's factors on it (log scale).
    pub person_sd: f64,
    /// Share of causes among callbacks for coating work, in the order of
    /// [`super::CAUSES`].
    pub cause_share: [f64; 5],
    /// Chance of an edge that lifts, coated or not.
    pub edge_lift: f64,
    /// Chance of another callback.
    pub other: f64,
    /// Film failures of a bare colour-change job in a year.
    pub failures_a_year: f64,
    /// Weibull shape of the time to film failure; 1 = constant hazard.
    pub failure_shape: f64,
    /// Hazard ratio of the coating on film failure.
    pub hazard_ratio: f64,
    /// Hazard by kind of film.
    pub film_hazard: [f64; 3],
    /// Share of jobs that come back for a look; of these nothing is heard
    /// after the last look.
    pub inspected_share: f64,
    /// Chance that the panel that fails lies level.
    pub level_share: f64,
}

/// All of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Law {
    /// Coating used.
    pub coating: UseLaw,
    /// Hands-on minutes.
    pub minutes: MinutesLaw,
    /// Residuals of both.
    pub residual: Residual,
    /// Vehicles and film.
    pub vehicle: VehicleLaw,
    /// Offer and sale.
    pub sale: SaleLaw,
    /// Callbacks and failures.
    pub after: AfterLaw,
    /// Landed cost of the coating [major units per mL].
    pub cost_per_ml: f64,
}

impl Default for UseLaw {
    fn default() -> Self {
        Self {
            setup_ml: 0.55,
            ml_per_m2: [1.50, 1.60, 1.74, 1.82],
            sd: 0.55,
            person_sd: 0.0,
            shop_sd: 0.0,
            drops_per_ml: 46.0,
        }
    }
}

impl Default for MinutesLaw {
    fn default() -> Self {
        Self {
            typical: [33.5, 35.5, 37.5, 40.0, 41.0, 49.0],
            exponent: 0.8,
            finish_factor: [1.0, 1.04, 1.12, 1.18],
            person_sd: 0.10,
            sd: 0.14,
            spread_sd: 0.0,
            shop_sd: 0.0,
            learning: 1.0,
            learned_after: 40,
        }
    }
}

impl Default for VehicleLaw {
    fn default() -> Self {
        Self {
            class_share: [0.12, 0.25, 0.26, 0.14, 0.14, 0.09],
            full_area: [18.0, 18.8, 20.2, 21.8, 22.4, 24.5],
            area_sd: 0.04,
            finish_share: [0.45, 0.25, 0.18, 0.12],
            film_share: [0.62, 0.18, 0.20],
            two_tone_share: 1.0 / 6.0,
            partial_share: 0.2,
            panel_group_share: 0.03,
        }
    }
}

impl Default for SaleLaw {
    fn default() -> Self {
        Self {
            excluded_share: 0.05,
            offered: 0.87,
            offer_unknown: 0.07,
            accept_logit: -0.40,
            sample_effect: [0.0, 0.35, 0.85],
            sample_share: [0.35, 0.35, 0.30],
            finish_effect: [0.0, 0.1, 0.25, 0.1],
            seller_sd: 0.3,
            price_slope: -0.8,
            reference_price_minor: 23_000,
            price_spread: 0.0,
            misquoted_share: 0.04,
            discount_share: 0.18,
        }
    }
}

impl Default for AfterLaw {
    fn default() -> Self {
        Self {
            callback: 0.055,
            outside_factor: 2.2,
            person_sd: 0.0,
            cause_share: [0.38, 0.20, 0.20, 0.14, 0.08],
            edge_lift: 0.02,
            other: 0.01,
            failures_a_year: 0.06,
            failure_shape: 1.0,
            hazard_ratio: 0.6,
            film_hazard: [1.0, 1.8, 0.5],
            inspected_share: 0.10,
            level_share: 0.46,
        }
    }
}

impl Default for Law {
    fn default() -> Self {
        Self {
            coating: UseLaw::default(),
            minutes: MinutesLaw::default(),
            residual: Residual::Normal,
            vehicle: VehicleLaw::default(),
            sale: SaleLaw::default(),
            after: AfterLaw::default(),
            cost_per_ml: 2.80,
        }
    }
}

impl Law {
    /// Coating that a job is expected to take [mL], with `areas` by finish [m²].
    pub fn expected_ml(&self, areas: [f64; 4]) -> f64 {
        let used = self.coating.ml_per_m2.iter().zip(areas);
        self.coating.setup_ml + used.map(|(c, a)| c * a).sum::<f64>()
    }

    /// Coating that a typical full job in one finish is expected to take [mL].
    pub fn expected_full_ml(&self, full_area: f64, finish: Finish) -> f64 {
        let mut areas = [0.0; 4];
        areas[finish.place()] = full_area;
        self.expected_ml(areas)
    }
}
