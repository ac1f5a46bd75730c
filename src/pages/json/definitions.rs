//! What each figure of review.json is, by its path.

use serde_json::{Value, json};

/// The key `definitions`.
pub(super) fn definitions() -> Value {
    json!({
        "money": "integer minor units of the currency",
        "estimate": "value with the interval low..high that holds the truth `level` of the time; n observations",
        "attach.rate": "coated / eligible, eligible = finished film jobs that the coating suits; Wilson interval",
        "attach.acceptance": "coated / offered among jobs known to have been offered; Wilson interval",
        "attach.sample": "among jobs known to have been offered, pooled over finish and seller: Mantel-Haenszel odds ratio (Robins-Breslow-Greenland) and difference (Miettinen-Nurminen score interval)",
        "attach.sellers.acceptance": "a person's own share drawn towards everybody's (beta-binomial, spread integrated out); in order of names, no rank",
        "attach.months.usual_low": "exact binomial limits at 0.9973 for that month's count at the usual rate (window without the month)",
        "price": "among jobs known to have been offered, with a price: Firth's logistic regression on log price, share of a full job, class, finish, sample, seller; of_list: price asked / list price in force at the month's end; contribution: minor units per offer over the offers' mix, after tax, fees, usual discount and expected cost; nothing outside the range tried; observed, not an experiment",
        "price.slope": "change of the log odds of a yes per unit of log price",
        "change.usual_low": "limits at 0.9973 within which the month falls when nothing has changed, to usual_high; in the unit of the figure",
        "change.difference": "month less usual at level 0.9875 (four figures watched together); a share of the usual in consumption and minutes",
        "consumption.data_alone": "mL per m2, weighted least squares with a set-up per job, variance in proportion to the area; 95% t-interval cut at 0",
        "consumption.change": "this window less the one before it (set_up in mL, finish in mL per m2), and products and lots less the others on the same work (as a share of what it takes); all intervals share one error in twenty",
        "consumption.ml_per_m2": "the same with the constants in force as evidence; without constants, data alone",
        "minutes.typical": "median minutes of a full job on the smoothest finish; mixed model on log minutes, REML, Kenward-Roger interval",
        "minutes.average": "mean minutes of the same job", "minutes.plan_for": "80th percentile of the same job",
        "cost_per_ml": "cost over mL that came to use, bottles opened in the window, left-overs included; these are all the bottles there are, so low = high = value",
        "cost_per_ml_paid": "the same with the cheapest and the dearest single bottle",
        "margin.contribution": "net price less coating, loaded labour, consumables, card fees and callbacks of coating work",
        "margin.per_bay_hour": "contribution per hour of hands-on work plus the cure that the settings ask for",
        "bridge": "from, by what the constants in force on the day of the quote assumed, to what happened; one input changed at a time, + = gained; from and the terms add up to `to` exactly",
        "bridge_months": "the same from the month before; volume at what a job left over in that month, every other step against that month at as many jobs, mix and newer constants by the constants in force at its end",
        "underpriced.floor": "(expected cost + reserve for callbacks) / (1 - floor margin - card fees), without sales tax",
        "underpriced.price_list": "full jobs at the list prices in force at the month's end; list, floor and mend_to with tax as the shop writes prices; under: chance over 0.9, likely_under: over 0.5; would_bring: over the window's jobs at the same sales, less tax and card fees; would_leave: the same after costs, with as many takers as price.curve expects, at prices tried",
        "own_questions": "tables that SQL files in the shop's folder queries/ ask for; nothing in them is tested",
        "reserve": "mean cost of coating callbacks per coated job of the window; set_aside and true_up: the month against the rest of the window",
    })
}

/// Adds those of the key `shops`, where it is there.
pub(super) fn add_shops(to: &mut Value) {
    let all = [
        (
            "shops.use",
            "coating over what the same finishes and areas take in the chain, 1 = the plain mean of its shops; one factor a shop, spread between shops integrated out (half-Cauchy prior of scale prior_scale)",
        ),
        (
            "shops.time",
            "the same of the minutes, log scale, on the same class, area and finishes",
        ),
        (
            "shops.attach",
            "coated / eligible of the months looked at, drawn towards the chain's (beta-binomial); attach_outside: the share as it stands lies outside exact binomial limits that hold 998 of 1,000; in order of names, no rank",
        ),
        (
            "shops.said",
            "by the chance of lying over 10% from the usual (callbacks: over half as many again), over all shops and figures as long as their mean error stays within 10% and no chance is under 80%",
        ),
    ];
    for (path, what) in all {
        to[path] = json!(what);
    }
}
