//! Coated against bare film for machines.

use crate::findings::durability::{Durability, Followed};
use serde_json::{Value, json};

/// For machines.
pub(in crate::pages) fn json(x: &Durability) -> Value {
    let group = |g: &Followed| {
        let first = json!([0.0, 1.0, 1.0, 1.0, g.jobs]);
        let rest = g
            .points
            .iter()
            .map(|p| json!([p.days, p.share, p.low, p.high, p.at_risk]));
        let km: Vec<Value> = std::iter::once(first)
            .filter(|_| g.jobs > 0)
            .chain(rest)
            .collect();
        let mut all =
            json!({"jobs": g.jobs, "failures": g.failures, "followed_days": g.until, "km": km});
        if let Some(mean) = &g.mean_days {
            all["mean_days"] = json!(mean);
        }
        all
    };
    let logrank = match &x.logrank {
        Ok(t) => json!({"chi2": t.chi2, "df": t.df, "p": t.p}),
        Err(n) => json!({"not_enough": n}),
    };
    let horizon = match &x.horizon {
        Ok(days) => json!(days),
        Err(n) => json!({"not_enough": n}),
    };
    let faces: Vec<Value> = (x.faces.iter())
        .map(|f| {
            json!({
                "orientation": f.orientation, "coated": f.coated, "vehicles": f.vehicles, "years": f.years,
                "failed": f.failed, "per_year": f.per_year, "failed_panels_not_recorded": f.apart,
            })
        })
        .collect();
    json!({
        "until": x.until.to_string(),
        "coated": group(&x.coated),
        "bare": group(&x.bare),
        "logrank": logrank,
        "hazard_ratio": x.hazard_ratio,
        "horizon_days": horizon,
        "mean_days_difference": x.difference,
        "strata": x.strata,
        "jobs_left_out": x.left_out,
        "by_orientation": faces,
    })
}
