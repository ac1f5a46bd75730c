//! review.json: every figure of the page, for machines. README documents the
//! keys; what cannot be estimated says what is missing and is never null.

use super::Material;
use super::sections::floor as floor_words;
use crate::estimate::Figure;
use crate::findings::attach::Attach;
use crate::findings::certainty::Change;
use crate::findings::consumption::Consumption;
use crate::findings::floor::Floor;
use crate::findings::in_force::{Against, LeftOut};
use crate::findings::margin::Margin;
use crate::findings::minutes::Minutes;
use crate::findings::{Lacking, Missing};
use serde::Serialize;
use serde_json::{Map, Value, json};

/// The file's bytes.
///
/// # Errors
/// None in practice: every number was checked to be finite.
pub(super) fn review(m: &Material<'_>) -> Result<Vec<u8>, serde_json::Error> {
    let f = m.findings;
    let s = &f.scope;
    let mut all = Map::new();
    let mut put = |key: &str, value: Value| all.insert(key.into(), value);
    put("format", json!("tallycoat-review"));
    put("version", json!(1));
    put("month", json!(s.month));
    put("data_until", json!(f.data_until.to_string()));
    put("unfinished", json!(f.unfinished));
    put("window", json!({"from": s.window_from, "until": s.month}));
    put("currency", json!(m.format.currency));
    put("fingerprint", json!(m.about.fingerprint));
    put("lines", lines(m));
    put("attach", attach(&f.attach));
    put("consumption", section(&f.consumption, consumption));
    put("minutes", section(&f.minutes, minutes));
    put("cost_per_ml", json!(f.prices.per_ml));
    put("margin", section(&f.margin, margin));
    put("underpriced", section(&f.floor, underpriced));
    put("constants", constants(m));
    put("definitions", definitions());
    let mut bytes = serde_json::to_vec_pretty(&Value::Object(all))?;
    bytes.push(b'\n');
    Ok(bytes)
}

/// A section, or what is missing for it.
fn section<T>(found: &Result<T, Missing>, write: impl Fn(&T) -> Value) -> Value {
    let lacking = |of: &str| json!({"not_enough": {"have": 0, "need": 1, "of": of}});
    match found {
        Ok(x) => write(x),
        Err(Missing::TooFew(n)) => json!({"not_enough": n}),
        Err(Missing::NoPrice(Lacking::CoatingCost)) => lacking(
            "price of the coating: bottles with volume and cost, or cost_per_ml in constants.toml",
        ),
        Err(Missing::NoPrice(Lacking::Wage)) => {
            lacking("hourly cost: people with hourly_cost, or hourly_cost in constants.toml")
        }
    }
}

/// Puts a number under a key where there is one: an absent key says that
/// there is none.
fn maybe(to: &mut Value, key: &str, x: Option<impl Serialize>) {
    if let (Some(x), Some(map)) = (x, to.as_object_mut()) {
        map.insert(key.into(), json!(x));
    }
}

fn change(c: &Change) -> Value {
    let mut all = json!({"certainty": c.certainty});
    maybe(&mut all, "before", c.before);
    maybe(&mut all, "usual", c.usual);
    maybe(&mut all, "difference", c.difference);
    all
}

fn lines(m: &Material<'_>) -> Value {
    let l = m.ledger.lines();
    let files: Vec<Value> = m
        .ledger
        .files
        .iter()
        .map(|file| {
            let reasons: Map<String, Value> = file
                .by_reason
                .iter()
                .map(|(r, n)| (r.code().to_string(), json!(n.lines)))
                .collect();
            json!({
                "file": file.file,
                "sha256": file.sha256,
                "read": file.lines.read,
                "accepted": file.lines.accepted,
                "quarantined": file.lines.quarantined,
                "structure": file.lines.structure,
                "superseded": file.lines.superseded,
                "by_reason": reasons,
            })
        })
        .collect();
    let reasons: Map<String, Value> = m
        .ledger
        .by_reason()
        .into_iter()
        .map(|(r, n)| (r.code().to_string(), json!(n)))
        .collect();
    json!({
        "read": l.read,
        "accepted": l.accepted,
        "quarantined": l.quarantined,
        "structure": l.structure,
        "superseded": l.superseded,
        "by_reason": reasons,
        "files": files,
    })
}

fn attach(a: &Attach) -> Value {
    let months: Vec<Value> = a
        .months
        .iter()
        .map(|m| {
            let mut row = json!({
                "month": m.month, "eligible": m.eligible, "coated": m.coated, "rate": m.rate,
            });
            maybe(&mut row, "usual_low", m.usual_low);
            maybe(&mut row, "usual_high", m.usual_high);
            row
        })
        .collect();
    json!({
        "eligible": a.eligible,
        "excluded": a.excluded,
        "offered": a.offered,
        "offer_unknown": a.offer_unknown,
        "coated": a.coated,
        "rate": a.rate,
        "acceptance": a.acceptance,
        "change": change(&a.change),
        "months": months,
    })
}

fn figures<'a>(rows: impl Iterator<Item = (&'a String, &'a Figure)>) -> Value {
    Value::Object(rows.map(|(k, v)| (k.clone(), json!(v))).collect())
}

fn consumption(x: &Consumption) -> Value {
    let rows = || x.finishes.iter();
    let in_force: Map<String, Value> = rows()
        .filter_map(|u| Some((u.fit.finish.clone(), json!(u.in_force?))))
        .collect();
    let mut all = json!({
        "unit": "mL/m2",
        "setup_ml": x.setup,
        "ml_per_m2": figures(rows().map(|u| (&u.fit.finish, &u.fit.blended))),
        "data_alone": figures(rows().map(|u| (&u.fit.finish, &u.fit.data_alone))),
        "in_force": in_force,
        "jobs_used": x.jobs_used,
        "bottles_used": x.bottles_used,
        "jobs_left_out": left_out(&x.left_out),
        "month": {"jobs": x.now_jobs, "change": change(&x.change)},
    });
    maybe(&mut all["month"], "per_m2", x.now);
    all
}

fn left_out(jobs: &[LeftOut]) -> Value {
    json!(jobs)
}

fn minutes(x: &Minutes) -> Value {
    let rows = || x.classes.iter().map(|c| &c.fit);
    let factors = x.fit.finishes.iter().map(|f| (&f.finish, &f.factor));
    let mut all = json!({
        "typical": figures(rows().map(|c| (&c.class, &c.typical))),
        "average": figures(rows().map(|c| (&c.class, &c.average))),
        "plan_for": figures(rows().map(|c| (&c.class, &c.plan_for))),
        "covered_share_exponent": x.fit.covered_share,
        "finish_factor": figures(factors),
        "person_sd": x.fit.person_sd,
        "residual_sd": x.fit.residual_sd,
        "jobs_used": x.fit.jobs_used,
        "jobs_left_out": left_out(&x.fit.left_out),
        "month": {"jobs": x.now_jobs, "change": change(&x.change)},
    });
    maybe(&mut all, "smoothest_finish", x.fit.smoothest.as_ref());
    maybe(&mut all["month"], "mean_minutes", x.now);
    all
}

fn margin(x: &Margin) -> Value {
    let t = &x.total;
    let months: Vec<Value> = x
        .months
        .iter()
        .map(|m| {
            let mut row = json!({"month": m.month, "jobs": m.jobs, "per_job": m.per_job});
            maybe(&mut row, "usual_low", m.usual_low);
            maybe(&mut row, "usual_high", m.usual_high);
            row
        })
        .collect();
    json!({
        "coated_jobs": x.coated_jobs,
        "without_price": x.without_price,
        "without_cost": x.without_cost,
        "use_estimated": x.use_estimated,
        "minutes_estimated": x.minutes_estimated,
        "net_price": t.net_price,
        "coating": t.coating,
        "labour": t.labour,
        "consumables": t.consumables,
        "fees": t.fees,
        "callbacks": t.callbacks,
        "contribution": x.contribution,
        "rate": x.rate,
        "per_job": x.per_job,
        "per_hands_on_hour": x.per_hands_on_hour,
        "per_bay_hour": x.per_bay_hour,
        "change": change(&x.change),
        "months": months,
    })
}

fn underpriced(x: &Floor) -> Value {
    let jobs: Vec<Value> = x
        .jobs
        .iter()
        .map(|j| {
            let reasons: Vec<String> = j.reasons.iter().map(floor_words::reason).collect();
            json!({
                "job": j.job, "shop": j.shop, "price": j.price, "floor": j.floor,
                "short": j.short, "reasons": reasons,
            })
        })
        .collect();
    json!({
        "checked": x.checked,
        "not_checked": x.not_checked,
        "jobs": jobs,
        "short_total": x.short_total,
    })
}

/// Constants in force beside what the data say. Whether to adopt one is for
/// `recalibrate`; here stands how they compare.
fn constants(m: &Material<'_>) -> Value {
    let mut all = Vec::new();
    let row =
        |constant: &str, key: &str, in_force: Option<f64>, found: &Figure, against: Against| {
            let mut row =
                json!({"constant": constant, "key": key, "data_alone": found, "against": against});
            maybe(&mut row, "in_force", in_force);
            row
        };
    if let Ok(x) = &m.findings.consumption {
        all.push(row(
            "setup_ml",
            "",
            x.setup_in_force,
            &x.setup,
            x.setup_against,
        ));
        for u in &x.finishes {
            all.push(row(
                "ml_per_m2",
                &u.fit.finish,
                u.in_force,
                &u.fit.data_alone,
                u.against,
            ));
        }
    }
    if let Ok(x) = &m.findings.minutes {
        for c in &x.classes {
            all.push(row(
                "minutes",
                &c.fit.class,
                c.in_force,
                &c.fit.typical,
                c.against,
            ));
        }
    }
    Value::Array(all)
}

fn definitions() -> Value {
    json!({
        "money": "integer minor units of the currency",
        "estimate": "value with the interval low..high that holds the truth `level` of the time; n observations",
        "attach.rate": "coated / eligible, eligible = finished film jobs that the coating suits; Wilson interval",
        "attach.acceptance": "coated / offered among jobs known to have been offered; Wilson interval",
        "attach.months.usual_low": "exact binomial limits at 0.9973 for that month's count at the usual rate (window without the month)",
        "change.difference": "month less usual at level 0.9875 (four figures watched together); a share of the usual in consumption and minutes",
        "consumption.data_alone": "mL per m2, weighted least squares with a set-up per job, variance in proportion to the area; 95% t-interval cut at 0",
        "consumption.ml_per_m2": "the same with the constants in force as evidence; without constants, data alone",
        "minutes.typical": "median minutes of a full job on the smoothest finish; mixed model on log minutes, REML, Kenward-Roger interval",
        "minutes.average": "mean minutes of the same job", "minutes.plan_for": "80th percentile of the same job",
        "cost_per_ml": "cost over mL that came to use, bottles opened in the window, left-overs included; ratio of totals",
        "margin.contribution": "net price less coating, loaded labour, consumables, card fees and callbacks of coating work",
        "margin.per_bay_hour": "contribution per hour of hands-on work plus the cure that the settings ask for",
        "underpriced.floor": "expected cost / (1 - floor margin - card fee share)",
    })
}
