//! What `quote` prints.

use super::error::PageError;
use super::format::{Format, date};
use crate::findings::Source;
use crate::findings::quote::{Coating, From, Lacks, Minutes, Money, Part, Quote, RANGE, Rests};
use crate::units::System;
use serde_json::{Value, json};

/// For people.
pub(super) fn text(q: &Quote, f: &Format) -> String {
    let mut lines = vec![job(q, f)];
    lines.extend(match &q.coating {
        Ok(c) => coating(c, f),
        Err(why) => vec![format!("Coating   {}", lacks(why))],
    });
    lines.extend(match &q.minutes {
        Ok(m) => minutes(m, f),
        Err(why) => vec![format!("Minutes   {}", lacks(why))],
    });
    lines.extend(match &q.money {
        Ok(m) => money(m, f),
        Err(why) => vec![format!("Cost      {}", lacks(why))],
    });
    lines.extend(where_from(q, f));
    let text: String = lines.iter().map(|l| format!("{l}\n")).collect();
    text.replace('\u{a0}', " ")
}

fn job(q: &Quote, f: &Format) -> String {
    let part = |p: &Part| format!("{} {}", p.finish, f.area(p.area));
    let parts: Vec<String> = q.parts.iter().map(part).collect();
    let full = if q.full_area_used {
        " (from the full area of the class)"
    } else {
        ""
    };
    let covered = q.covered.map_or_else(String::new, |c| {
        format!("; {} of a full {}", f.share(c), q.class)
    });
    format!("{}: {}{full}{covered}", q.class, parts.join(", "))
}

fn one_job(low: String, high: String) -> String {
    format!(
        "this one job likely {low} to {high} ({:.0}%)",
        100.0 * RANGE
    )
}

fn coating(c: &Coating, f: &Format) -> Vec<String> {
    let range = c.range.map_or_else(
        || "no range, as no job tells one".to_string(),
        |r| one_job(f.number(r.low, 1), f.millilitres(r.high)),
    );
    let mut lines = vec![format!("Coating   {}; {range}", f.millilitres(c.value))];
    if let (Some(size), Some(n)) = (c.bottle_ml, c.bottles_at_hand()) {
        lines.push(format!(
            "Bottles   {} of a bottle of {}; have {} at hand",
            f.number(c.value / size, 2),
            f.bottle_volume(size),
            f.count(n)
        ));
    } else {
        lines.push("Bottles   no bottle of the months looked at tells their size".into());
    }
    lines
}

fn minutes(m: &Minutes, f: &Format) -> Vec<String> {
    let plan = m
        .plan_for
        .map_or_else(String::new, |p| format!("; plan for {}", f.minutes(p)));
    let range = m.range.map_or_else(
        || "; no range, as no job tells one".to_string(),
        |r| format!("; {}", one_job(f.number(r.low, 0), f.minutes(r.high))),
    );
    vec![format!(
        "Minutes   typical {}{plan}{range}",
        f.minutes(m.typical)
    )]
}

fn money(m: &Money, f: &Format) -> Vec<String> {
    vec![
        format!(
            "Cost      {}: coating {}, labour {}, consumables {}, set aside for callbacks {}",
            f.money_exact(m.cost),
            f.money_exact(m.coating),
            f.money_exact(m.labour),
            f.money_exact(m.consumables),
            f.money_exact(m.reserve)
        ),
        format!(
            "Prices    floor {} leaves {} over, target {} leaves {}",
            f.money_exact(m.floor),
            f.share(m.floor_margin),
            f.money_exact(m.target),
            f.share(m.target_margin)
        ),
        "          floor_margin and target_margin in shop.toml set these shares".into(),
    ]
}

fn from(r: &Rests, f: &Format) -> String {
    let jobs = f.count_of(r.jobs, "job", "jobs");
    match r.from {
        From::Jobs => format!("{}: {jobs}", r.what),
        From::JobsAndConstant => format!("{}: {jobs} and the planning figure", r.what),
        From::ConstantOnly => format!("{}: the planning figure alone", r.what),
    }
}

fn where_from(q: &Quote, f: &Format) -> Vec<String> {
    let all = |rests: &[Rests]| {
        rests
            .iter()
            .map(|r| from(r, f))
            .collect::<Vec<_>>()
            .join("; ")
    };
    let mut lines = vec![String::new(), "Where from".to_string()];
    if let Ok(c) = &q.coating {
        lines.push(format!("  coating   {}", all(&c.rests)));
    }
    if let Ok(m) = &q.minutes {
        lines.push(format!("  minutes   {}", all(&m.rests)));
    }
    let price = |x: Option<f64>| x.map_or_else(|| "not known".into(), |x| f.money_about_exact(x));
    let source = |s: Source| match s {
        Source::Data => "the records",
        Source::Constants => "constants.toml",
        Source::Nowhere => "nowhere",
    };
    lines.push(format!(
        "  prices    {} per mL from {}; wage {} an hour before loading from {}",
        price(q.per_ml),
        source(q.per_ml_from),
        price(q.wage),
        source(q.wage_from)
    ));
    lines.push(match (q.constants_of, &q.source) {
        (Some(day), Some(s)) if !s.is_empty() => {
            format!("  planning figures in use since {} ({s})", date(day))
        }
        (Some(day), _) => format!("  planning figures in use since {}", date(day)),
        (None, _) => "  no constants.toml".into(),
    });
    lines
}

fn lacks(why: &Lacks) -> String {
    match why {
        Lacks::Use(finishes) => format!(
            "not known: too few measured jobs or emptied bottles of {}, and no planning figure of each in constants.toml",
            finishes.join(", ")
        ),
        Lacks::Minutes(class) => {
            format!("not known: too few timed jobs of {class}, and no minutes of it in constants.toml")
        }
        Lacks::Scaling => "not known: the planned minutes are of a full vehicle on the smoothest finish, and no jobs tell how minutes change from there".into(),
        Lacks::CoatingCost => "not known: no bottles with volume and cost, and no cost_per_ml in constants.toml".into(),
        Lacks::Wage => "not known: no hourly_cost of people, nor in constants.toml".into(),
        Lacks::Margin => "margins and card fees leave nothing of a price".into(),
        Lacks::Parts => "not known without coating and minutes".into(),
    }
}

/// For machines.
///
/// # Errors
/// None in practice: it is written to memory.
pub(super) fn json(q: &Quote, f: &Format) -> Result<String, PageError> {
    let mut all = json!({
        "format": "tallycoat-quote",
        "version": 1,
        "currency": f.currency,
        "class": q.class,
        "finishes": q.parts,
        "area_unit": "m2",
        "asked_in": match f.system { System::Metric => "m2", System::Us => "ft2" },
        "full_area_used": q.full_area_used,
        "coating": part(&q.coating, coating_json),
        "minutes": part(&q.minutes, minutes_json),
        "money": part(&q.money, |m| json!(m)),
        "per_ml_from": q.per_ml_from,
        "wage_from": q.wage_from,
    });
    maybe(&mut all, "covered", q.covered.map(|x| json!(x)));
    maybe(
        &mut all,
        "smoothest_finish",
        q.smoothest.as_ref().map(|x| json!(x)),
    );
    maybe(&mut all, "per_ml", q.per_ml.map(|x| json!(x)));
    maybe(&mut all, "wage", q.wage.map(|x| json!(x)));
    maybe(
        &mut all,
        "constants_of",
        q.constants_of.map(|x| json!(x.to_string())),
    );
    maybe(&mut all, "source", q.source.as_ref().map(|x| json!(x)));
    let mut text = serde_json::to_string_pretty(&all)?;
    text.push('\n');
    Ok(text)
}

fn part<T>(found: &Result<T, Lacks>, write: impl Fn(&T) -> Value) -> Value {
    match found {
        Ok(x) => write(x),
        Err(why) => json!({"not_known": why, "why": lacks(why)}),
    }
}

fn maybe(to: &mut Value, key: &str, x: Option<Value>) {
    if let (Some(x), Some(map)) = (x, to.as_object_mut()) {
        map.insert(key.into(), x);
    }
}

fn coating_json(c: &Coating) -> Value {
    let mut all = json!({"ml": c.value, "rests_on": c.rests});
    maybe(&mut all, "one_job", c.range.map(|r| json!(r)));
    maybe(&mut all, "bottle_ml", c.bottle_ml.map(|x| json!(x)));
    maybe(&mut all, "bottles", c.bottle_ml.map(|x| json!(c.value / x)));
    maybe(
        &mut all,
        "bottles_at_hand",
        c.bottles_at_hand().map(|x| json!(x)),
    );
    all
}

fn minutes_json(m: &Minutes) -> Value {
    let mut all = json!({"typical": m.typical, "average": m.average, "rests_on": m.rests});
    maybe(&mut all, "plan_for", m.plan_for.map(|x| json!(x)));
    maybe(&mut all, "one_job", m.range.map(|r| json!(r)));
    all
}
