//! index.json: the index page for machines.

use super::{FORMAT, Index, IndexMonth, place};
use crate::findings::year::FigureMonth;
use crate::pages::format::Format;
use serde_json::{Map, Value, json};

/// Keys of the four figures, in their order.
const KEYS: [&str; 4] = ["attach", "margin_per_job", "use_ml_per_m2", "minutes"];

/// The file's bytes.
pub(super) fn index(index: &Index, f: &Format) -> Result<Vec<u8>, serde_json::Error> {
    let all = json!({
        "format": FORMAT,
        "version": 1,
        "currency": f.currency,
        "months": index.months.iter().map(month).collect::<Vec<_>>(),
    });
    let mut bytes = serde_json::to_vec_pretty(&all)?;
    bytes.push(b'\n');
    Ok(bytes)
}

fn month(m: &IndexMonth) -> Value {
    let mut all = Map::new();
    all.insert("month".into(), json!(m.month));
    all.insert("page".into(), json!(place(m.month)));
    all.insert("finished".into(), json!(m.figures.finished));
    all.insert("coated".into(), json!(m.figures.coated));
    for (key, x) in KEYS.iter().zip(&m.figures.figures) {
        all.insert((*key).into(), figure(x));
    }
    Value::Object(all)
}

/// An absent key says that there is none.
fn figure(x: &FigureMonth) -> Value {
    let numbers = [
        ("value", x.value),
        ("low", x.likely.map(|e| e.low)),
        ("high", x.likely.map(|e| e.high)),
        ("usual", x.usual),
        ("usual_low", x.range.map(|r| r.low)),
        ("usual_high", x.range.map(|r| r.high)),
    ];
    let known = numbers.into_iter().filter_map(|(k, v)| Some((k, v?)));
    let mut all: Map<String, Value> = known.map(|(k, v)| (k.into(), json!(v))).collect();
    if let Some(certainty) = x.certainty {
        all.insert("certainty".into(), json!(certainty));
    }
    Value::Object(all)
}
