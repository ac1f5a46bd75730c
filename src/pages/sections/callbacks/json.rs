//! Callbacks for machines.

use crate::findings::callbacks::{Callbacks, Split};
use serde_json::{Value, json};

/// For machines.
pub(in crate::pages) fn json(x: &Callbacks) -> Value {
    let months: Vec<Value> = (x.months.iter())
        .map(|m| {
            let mut row = json!({"month": m.month, "coated": m.count.of, "came_back": m.count.yes, "rate": m.rate});
            if let Some((low, high)) = m.usual_low.zip(m.usual_high) {
                row["usual_low"] = json!(low);
                row["usual_high"] = json!(high);
            }
            row
        })
        .collect();
    let causes: Vec<Value> = (x.causes.iter())
        .map(|c| {
            let mut row = json!({
                "cause": c.cause, "charges_coating": c.of_coating, "callbacks": c.callbacks,
                "jobs": c.count.yes, "rate": c.rate,
            });
            if let Some(cost) = c.cost {
                row["cost"] = json!(cost);
            }
            row
        })
        .collect();
    let split = |key: &str, rows: &mut dyn Iterator<Item = &Split>| -> Vec<Value> {
        rows.map(|s| json!({key: s.name, "coated": s.count.of, "came_back": s.count.yes, "rate": s.exact, "shrunk": s.shrunk}))
            .collect()
    };
    let mut all = json!({
        "coated": x.window.of,
        "came_back": x.window.yes,
        "rate": x.rate,
        "callbacks": x.callbacks,
        "month_stands": x.standing(),
        "months": months,
        "by_cause": causes,
        "by_finish": split("finish", &mut x.finishes.iter()),
        "by_person": split("person", &mut x.people.iter().map(|p| &p.split)),
        "by_workspace": split("workspace", &mut x.workspace.iter()),
    });
    if let Some(cost) = x.cost {
        all["cost"] = json!(cost);
    }
    all
}
