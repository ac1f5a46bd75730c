//! The key `shops` of review.json.

use crate::estimate::Estimate;
use crate::findings::shops::{Constant, LOOKED_FOR, Shop, Shops};
use serde_json::{Map, Value, json};

/// For machines: every shop by name, or the one that the review is of.
pub(in crate::pages) fn json(x: &Shops) -> Value {
    let w = &x.whole;
    let mut all = json!({
        "count": x.count,
        "spoken_of": x.spoken_of,
        "pointed_at": x.pointed_at,
        "mean_error": x.mean_error,
        "prior_scale": w.prior_scale,
        "shops": x.shops.iter().map(shop).collect::<Vec<_>>(),
    });
    let estimates = [
        ("attach_usual", w.sold_usual),
        ("callbacks_usual", w.back_usual),
        ("use_between_sd", w.used_between),
        ("time_between_sd", w.time_between),
    ];
    for (key, found) in estimates {
        if let Some(e) = found {
            all[key] = json!(e);
        }
    }
    if let Some(s) = w.sight {
        all["would_notice"] = json!({
            "slower": LOOKED_FOR, "jobs": s.jobs, "share": s.noticed, "simulated": s.chains,
        });
    }
    all
}

fn shop(s: &Shop) -> Value {
    json!({
        "shop": s.name,
        "eligible": s.offered.of,
        "sold": s.offered.yes,
        "attach": s.sold.figure,
        "attach_outside": s.sold_outside,
        "measured_jobs": s.measured,
        "use": s.used.figure,
        "timed_jobs": s.timed,
        "time": s.time.figure,
        "coated": s.coated.of,
        "came_back": s.coated.yes,
        "callbacks": s.back.figure,
        "finding": finding(s),
        "said": s.said,
        "ml_per_m2": constants(s, Constant::MlPerM2),
        "minutes": constants(s, Constant::Minutes),
    })
}

/// What is said first, or why nothing is.
fn finding(s: &Shop) -> Value {
    match s.said.first() {
        Some(said) => json!(said),
        None if s.spoken_of() => json!("none"),
        None => json!("not_enough"),
    }
}

/// By finish or class.
fn constants(s: &Shop, constant: Constant) -> Map<String, Value> {
    let own = s.constants.iter().filter(|c| c.constant == constant);
    let one = |(key, e): (&String, &Estimate)| (key.clone(), json!(e));
    own.map(|c| one((&c.key, &c.own))).collect()
}
