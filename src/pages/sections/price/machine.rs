//! Price and answer for review.json.

use crate::findings::price::{Answer, Peak, Price, PricePoint, SEED};
use serde_json::{Value, json};

/// What review.json holds of it.
pub(in crate::pages) fn json(p: &Price) -> Value {
    let mut all = match &p.said {
        Ok(a) => answer(a),
        Err(why) => json!({"not_enough": why.lacking(&p.recorded)}),
    };
    all["recorded"] = json!(p.recorded);
    all
}

fn answer(a: &Answer) -> Value {
    let points: Vec<Value> = a.curve.points.iter().map(point).collect();
    json!({
        "offers": a.offers,
        "accepted": a.accepted,
        "slope": a.slope,
        "effect": a.effect,
        "curve": points,
        "peak": peak(a),
        "flat": {"from": a.curve.flat_from, "to": a.curve.flat_to},
        "usual_list": a.usual_list,
        "discount_share": a.discount,
        "offers_in_mix": a.in_mix,
        "seed": SEED,
    })
}

fn point(p: &PricePoint) -> Value {
    json!({"of_list": p.price, "acceptance": p.acceptance, "contribution": p.contribution})
}

fn peak(a: &Answer) -> Value {
    let mut all = match a.curve.peak {
        Peak::Inside { price } => json!({"where": "inside", "of_list": price}),
        Peak::AtOrBeyondTop { tried } => json!({"where": "at_or_beyond_top", "tried": tried}),
        Peak::AtOrBelowBottom { tried } => json!({"where": "at_or_below_bottom", "tried": tried}),
    };
    all["contribution"] = json!(a.curve.best.contribution);
    all["chance_top"] = json!(a.curve.chance_top);
    all["chance_bottom"] = json!(a.curve.chance_bottom);
    all
}
