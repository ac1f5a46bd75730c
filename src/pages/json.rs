//! review.json: every figure of the page, for machines. README documents the
//! keys; what cannot be estimated says what is missing and is never null.

mod cut;
mod definitions;
mod made_of;

use super::Material;
use super::constants as constant_words;
use super::format::Format;
use super::sections::floor as floor_words;
use super::sections::margin as margin_words;
use super::sections::{bottles, callbacks, durability, pace, price, shops, workspace};
use crate::estimate::Figure;
use crate::findings::attach::Attach;
use crate::findings::backtest::Backtest;
use crate::findings::bridge::{Bridge, Moved};
use crate::findings::certainty::Change;
use crate::findings::coating_cost::Bought;
use crate::findings::consumption::Consumption;
use crate::findings::floor::Floor;
use crate::findings::groups::{Comparison, Groups, Odds};
use crate::findings::left_out::LeftOut;
use crate::findings::margin::Margin;
use crate::findings::minutes::Minutes;
use crate::findings::price_list::{Entry, PriceList};
use crate::findings::recalibrate::{Line, Recalibration};
use crate::findings::{Lacking, Missing};
use serde::Serialize;
use serde_json::{Map, Value, json};

/// The schema's file, beside the review's.
pub(super) const SCHEMA_FILE: &str = "review.schema.json";
/// JSON Schema (draft 2020-12) of the file.
pub(super) const SCHEMA: &str = include_str!("../../reports/review.schema.json");

/// The file's bytes.
///
/// # Errors
/// None in practice: every number was checked to be finite.
// Long because it is a list: a key a line.
pub(super) fn review(m: &Material<'_>) -> Result<Vec<u8>, serde_json::Error> {
    let f = m.findings;
    let s = &f.scope;
    let mut all = Map::new();
    let mut put = |key: &str, value: Value| all.insert(key.into(), value);
    put("$schema", json!(SCHEMA_FILE));
    put("format", json!("tallycoat-review"));
    put("version", json!(1));
    put("month", json!(s.month));
    put("data_until", json!(f.data_until.to_string()));
    put("unfinished", json!(f.unfinished));
    put("window", json!({"from": s.window_from, "until": s.month}));
    put("currency", json!(m.format.currency));
    put("fingerprint", json!(m.about.fingerprint));
    put("lines", made_of::lines(m));
    let mut sold = attach(&f.attach);
    maybe(&mut sold, "sample", Some(samples(&f.groups)));
    maybe(&mut sold, "groups", Some(groups(&f.groups)));
    maybe(&mut sold, "sellers", Some(&f.groups.sellers));
    maybe(&mut sold, "last_year", f.attach.last_year);
    put("attach", sold);
    put("price", price::json(&f.price));
    let mut used = section(&f.consumption, consumption);
    let changed = f.use_change.as_ref();
    maybe(
        &mut used,
        "change",
        changed.filter(|_| f.consumption.is_ok()),
    );
    put("consumption", used);
    put("minutes", section(&f.minutes, minutes));
    put("pace", section(&f.pace, pace::json));
    put("pace_shop", section(&f.pace, pace::shop_json));
    if let Some(x) = &f.shops {
        put("shops", shops::json(x));
    }
    put("callbacks", section(&f.callbacks, callbacks::json));
    put("workspace", section(&f.workspace, workspace::json));
    put("bottles", section(&f.bottles, bottles::json));
    put("durability", section(&f.durability, durability::json));
    let bought = f.prices.bought.as_ref();
    put("cost_per_ml", json!(Bought::figure(bought)));
    put(
        "cost_per_ml_paid",
        bought.map_or_else(|| json!(Bought::figure(None)), |b| json!(b)),
    );
    let mut earned = section(&f.margin, margin);
    if f.margin.is_ok() {
        maybe(&mut earned, "groups", Some(&f.margin_groups));
    }
    put("margin", earned);
    let none = json!({"not_enough": {"have": 0, "need": 1, "of": "review of the month before, in reviews/"}});
    put("restated", f.restated.as_ref().map_or(none, |r| json!(r)));
    put("bridge", section(&f.moved, |x| bridge(&x.quoted)));
    put("bridge_months", section(&f.moved, bridge_months));
    let mut prices = section(&f.floor, underpriced);
    maybe(
        &mut prices,
        "price_list",
        Some(section(&f.price_list, price_list)),
    );
    let others = f.price_list.as_ref().ok().map(|l| l.others);
    maybe(&mut prices, "price_list_others", others.filter(|n| *n > 0));
    put("underpriced", prices);
    put("noticed", json!(f.noticed));
    put("reserve", section(&f.reserve, margin_words::reserve_json));
    put("constants", constants(&f.constants, m.format));
    put("backtest", backtest(&f.constants.backtest));
    put("own_questions", made_of::own_questions(m.own));
    let mut said = definitions::definitions();
    if f.shops.is_some() {
        definitions::add_shops(&mut said);
    }
    put("definitions", said);
    let cut = cut::lists(&mut all);
    if !cut.is_empty() {
        all.insert("shortened".into(), Value::Array(cut));
    }
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
        Err(Missing::NoPrice(Lacking::Constants)) => lacking("dated records in constants.toml"),
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
    maybe(&mut all, "usual_low", c.range.map(|r| r.low));
    maybe(&mut all, "usual_high", c.range.map(|r| r.high));
    all
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

fn groups(g: &Groups) -> Value {
    let mut all = json!({
        "film": g.film, "finish": g.finish, "class": g.class, "sample": g.sample,
        "coated_refused": g.coated_refused,
        "without_seller": g.without_seller,
        "without_sample": g.without_sample,
    });
    maybe(&mut all, "shop", (!g.shop.is_empty()).then_some(&g.shop));
    all
}

/// An odds ratio of which only one end exists has no value: the end stands
/// beside it.
fn samples(g: &Groups) -> Value {
    let one = |c: &Comparison| {
        let none = json!({"not_enough": {"have": 0, "need": 1, "of": "finishes and sellers that contradict the rest"}});
        let mut row = json!({
            "shown": c.shown, "against": c.against, "offers": c.offers,
            "against_offers": c.against_offers, "difference": c.difference, "strata": c.strata,
        });
        row["odds_ratio"] = match &c.odds_ratio {
            Odds::Known(e) => json!(e),
            Odds::NotEnough(n) => json!({"not_enough": n}),
            Odds::AtLeast(_) | Odds::AtMost(_) => none,
        };
        match c.odds_ratio {
            Odds::AtLeast(low) => row["odds_ratio_at_least"] = json!(low),
            Odds::AtMost(high) => row["odds_ratio_at_most"] = json!(high),
            _ => {}
        }
        row
    };
    Value::Array(g.samples.iter().map(one).collect())
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
        "setup_blended": x.setup_blended,
        "ml_per_m2": figures(rows().map(|u| (&u.fit.finish, &u.fit.blended))),
        "data_alone": figures(rows().map(|u| (&u.fit.finish, &u.fit.data_alone))),
        "in_force": in_force,
        "jobs_used": x.jobs_used,
        "bottles_used": x.bottles.used,
        "bottles_left_out": x.bottles.left_out,
        "jobs_left_out": left_out(&x.left_out),
        "month": {"jobs": x.now_jobs, "change": change(&x.change)},
    });
    maybe(&mut all, "rare_finishes", x.rare.as_ref());
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
    maybe(&mut all, "rare_classes", x.fit.rare.as_ref());
    maybe(&mut all, "rare_finishes", x.fit.rare_finishes.as_ref());
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

fn bridge(x: &Bridge) -> Value {
    json!({"from": x.from, "to": x.to, "terms": x.terms})
}

fn bridge_months(x: &Moved) -> Value {
    let none =
        || json!({"not_enough": {"have": 0, "need": 1, "of": "coated jobs the month before"}});
    x.months.as_ref().map_or_else(none, bridge)
}

fn underpriced(x: &Floor) -> Value {
    let jobs: Vec<Value> = x
        .jobs
        .iter()
        .map(|j| {
            let reasons: Vec<String> = j.reasons.iter().map(floor_words::reason).collect();
            json!({
                "job": j.job, "shop": j.shop, "sold_by": j.seller, "price": j.price, "floor": j.floor,
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

fn price_list(x: &PriceList) -> Value {
    let entry = |e: &Entry| {
        let mut row = json!({
            "class": e.class, "finish": e.finish, "list": e.list, "sold": e.sold,
            "verdict": e.verdict,
        });
        match &e.judged {
            Ok(j) => {
                row["floor"] = json!(j.floor);
                row["mend_to"] = json!(j.mend_to);
                row["chance_under"] = json!(j.chance_under);
                row["cost"] = json!(j.cost);
                row["would_bring"] = json!(j.would_bring);
                row["would_leave"] = match &j.would_leave {
                    Ok(left) => json!(left),
                    Err(n) => json!({"not_enough": n}),
                };
            }
            Err(n) => row["cost"] = json!({"not_enough": n}),
        }
        row
    };
    Value::Array(x.entries.iter().map(entry).collect())
}

/// Every constant with its verdict.
pub(super) fn constants(r: &Recalibration, f: &Format) -> Value {
    let row = |l: &Line| {
        let mut row = json!({
            "constant": l.constant, "key": l.key, "data_alone": l.data_alone, "blended": l.blended,
            "verdict": l.verdict, "why": constant_words::why(l, f),
        });
        maybe(&mut row, "in_force", l.in_force);
        maybe(&mut row, "proposed", l.proposed);
        maybe(&mut row, "predicted", l.proof);
        row
    };
    Value::Array(r.lines.iter().map(row).collect())
}

/// Old constants against new, months predicted beforehand.
pub(super) fn backtest(b: &Backtest) -> Value {
    let mut all = json!({"from": b.from, "until": b.until, "months": b.months});
    maybe(&mut all, "use_ml", b.use_ml);
    maybe(&mut all, "minutes", b.minutes);
    maybe(&mut all, "money", b.money);
    all
}
