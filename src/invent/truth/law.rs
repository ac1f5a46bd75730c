//! What is known before the first job: the law and the plan.

use super::{
    AttachTruth, ByWord, CallbackTruth, CoatingTruth, DriftTruth, DurabilityTruth, MinutesTruth,
    PRODUCT, PlanTruth, Truth,
};
use crate::invent::draws::rounded;
use crate::invent::kinds::{CAUSES, CLASSES, FILMS, FINISHES, SAMPLES};
use crate::invent::plan::{Change, Drift, Plan};
use crate::invent::today::Today;
use std::collections::BTreeMap;

/// Upper 80 % point of the standard normal.
const Z80: f64 = 0.841_621_233_572_914_2;

impl Truth {
    /// What is known before the first job.
    pub(in crate::invent) fn of(plan: &Plan) -> Self {
        Self {
            about: format!(
                "An invented shop: no real people, vehicles or prices. Made by `tallycoat invent` \
                 from seed {}; these are the numbers it was made from, for the fits to find again.",
                plan.seed
            ),
            seed: plan.seed,
            plan: PlanTruth {
                jobs: plan.jobs,
                coated: 0,
                shops: plan.shops,
                starts: plan.starts().map_or_else(String::new, |s| s.to_string()),
                ends: plan.ends.to_string(),
                measured_share: plan.measured_share,
            },
            coating: coating(plan),
            minutes: minutes(plan),
            residual: plan.law.residual.word(),
            full_area: by_class(&plan.law.vehicle.full_area),
            product_cost: product_cost(plan),
            attach: attach(plan),
            callbacks: callbacks(plan),
            durability: durability(plan),
            drifts: plan.drifts.iter().map(drift).collect(),
            shops: Vec::new(),
            people: Vec::new(),
            sellers: Vec::new(),
        }
    }
}

/// Six decimals: finer than any fit can tell, and the same on every machine.
pub(super) fn tidy(x: f64) -> f64 {
    rounded(x, 6)
}

fn by_class(values: &[f64; 6]) -> ByWord {
    CLASSES
        .iter()
        .map(|c| c.word())
        .zip(values.iter().copied())
        .collect()
}

fn by_finish(values: &[f64; 4]) -> ByWord {
    FINISHES
        .iter()
        .map(|f| f.word())
        .zip(values.iter().copied())
        .collect()
}

fn by_sample(values: &[f64; 3]) -> ByWord {
    SAMPLES
        .iter()
        .map(|s| s.word())
        .zip(values.iter().copied())
        .collect()
}

fn cost_last(plan: &Plan) -> f64 {
    let factor = Today::on(plan.ends, plan).cost_factor;
    tidy(plan.law.cost_per_ml * factor)
}

fn coating(plan: &Plan) -> CoatingTruth {
    let law = &plan.law.coating;
    CoatingTruth {
        law: "used on a job [mL] = setup_ml + sum over finishes of ml_per_m2 x area [m2] + e; e has \
              mean 0 and variance sigma^2 x the job's area; people, shops and drifts are factors on \
              the middle term",
        setup_ml: law.setup_ml,
        ml_per_m2: by_finish(&law.ml_per_m2),
        sigma: law.sd,
        person_sd: law.person_sd,
        shop_sd: law.shop_sd,
        product: PRODUCT,
        drops_per_ml: law.drops_per_ml,
        setup_drops: tidy(law.setup_ml * law.drops_per_ml),
        bottle_ml: plan.bottle_ml,
        cost_per_ml_first: plan.law.cost_per_ml,
        cost_per_ml_last: cost_last(plan),
    }
}

fn minutes(plan: &Plan) -> MinutesTruth {
    let law = &plan.law.minutes;
    let var = law.person_sd.powi(2) + law.sd.powi(2);
    MinutesTruth {
        law: "log(minutes of a job) = log(typical) + covered_share_exponent x log(area / full_area) \
              + sum over finishes of log(finish_factor) x its share of the area + person + e; sd of \
              person tau, of e sigma; two people on a job count by their shares of it; a new \
              person's minutes fall by the factor learning with each doubling of jobs done, until \
              learned_after",
        typical: by_class(&law.typical),
        average: by_class(&law.typical.map(|m| tidy(m * (var / 2.0).exp()))),
        plan_for: by_class(&law.typical.map(|m| tidy(m * (Z80 * var.sqrt()).exp()))),
        covered_share_exponent: law.exponent,
        finish_factor: by_finish(&law.finish_factor),
        tau: law.person_sd,
        sigma: law.sd,
        spread_sd: law.spread_sd,
        shop_sd: law.shop_sd,
        learning: law.learning,
        learned_after: law.learned_after,
    }
}

fn product_cost(plan: &Plan) -> BTreeMap<&'static str, ByWord> {
    let cost = cost_last(plan);
    let factor = Today::on(plan.ends, plan).use_factor;
    CLASSES
        .iter()
        .map(|class| {
            let area = plan.law.vehicle.full_area[class.place()];
            let by_finish = FINISHES.iter().map(|finish| {
                let drift = factor[finish.place()];
                let used = plan.law.expected_full_ml(area * drift, *finish);
                (finish.word(), tidy(used * cost))
            });
            (class.word(), by_finish.collect())
        })
        .collect()
}

fn attach(plan: &Plan) -> AttachTruth {
    let law = &plan.law.sale;
    AttachTruth {
        excluded_share: law.excluded_share,
        offered: law.offered,
        offer_unknown: law.offer_unknown,
        accept_logit: law.accept_logit,
        sample_effect: by_sample(&law.sample_effect),
        sample_share: by_sample(&law.sample_share),
        finish_effect: by_finish(&law.finish_effect),
        seller_sd: law.seller_sd,
        price_slope: law.price_slope,
        reference_price_minor: law.reference_price_minor,
        discount_share: law.discount_share,
        months: Vec::new(),
    }
}

fn callbacks(plan: &Plan) -> CallbackTruth {
    let law = &plan.law.after;
    let causes = CAUSES.iter().map(|c| c.word());
    CallbackTruth {
        coating: law.callback,
        outside_factor: law.outside_factor,
        person_sd: law.person_sd,
        cause_share: causes.zip(law.cause_share).collect(),
        edge_lift: law.edge_lift,
        other: law.other,
    }
}

fn durability(plan: &Plan) -> DurabilityTruth {
    let law = &plan.law.after;
    let films = FILMS.iter().map(|f| f.word());
    DurabilityTruth {
        law: "cumulative hazard at t years = failures_a_year x film_hazard x (hazard_ratio if coated) \
              x t^shape; of an inspected job nothing is heard after its last look",
        failures_a_year: law.failures_a_year,
        shape: law.failure_shape,
        hazard_ratio: law.hazard_ratio,
        film_hazard: films.zip(law.film_hazard).collect(),
        level_share: law.level_share,
        inspected_share: law.inspected_share,
    }
}

fn drift(drift: &Drift) -> DriftTruth {
    let (what, value) = match drift.change {
        Change::AcceptLogit(x) => ("added to the log odds of acceptance".to_string(), x),
        Change::FullPairShare(x) => ("share of offers shown as a full pair".to_string(), x),
        Change::Use { finish, factor } => (format!("factor on use of {}", finish.word()), factor),
        Change::Minutes(x) => ("factor on minutes".to_string(), x),
        Change::Cost(x) => ("factor on the cost of bottles".to_string(), x),
    };
    DriftTruth {
        from: drift.from.to_string(),
        what,
        value,
    }
}
