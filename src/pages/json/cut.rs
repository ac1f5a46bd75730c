//! No list of review.json is longer than [`MOST`]: what a reader of the file
//! must hold does not grow with the shop. What is cut is said, and the tables
//! beside the file have all of it.

use serde_json::{Map, Value, json};

/// Entries of a list, at most: five times what the page shows of a table. Some
/// sixty lists of so many make a few MB, which any reader of JSON takes at
/// once.
pub(super) const MOST: usize = 1_000;

/// Cuts long lists; which, how many entries are left, and of how many, as
/// rows. An entry stays where it says most ([`says`]), the first of equals, in
/// the order in which they stood.
pub(super) fn lists(all: &mut Map<String, Value>) -> Vec<Value> {
    let mut cut = Vec::new();
    for (key, value) in all.iter_mut() {
        walk(value, key, &mut cut);
    }
    cut
}

fn walk(value: &mut Value, at: &str, cut: &mut Vec<Value>) {
    match value {
        Value::Object(map) => {
            for (key, value) in map.iter_mut() {
                walk(value, &format!("{at}.{key}"), cut);
            }
        }
        Value::Array(rows) => {
            let of = rows.len();
            if of > MOST {
                shorten(rows);
                cut.push(json!({"list": at, "listed": rows.len(), "of": of}));
            }
            for row in rows {
                walk(row, at, cut);
            }
        }
        _ => {}
    }
}

fn shorten(rows: &mut Vec<Value>) {
    // Points of a curve: some of them, evenly, with both ends.
    if rows.iter().all(Value::is_array) {
        let last = rows.len() - 1;
        let points = (0..MOST).map(|i| rows[i * last / (MOST - 1)].clone());
        *rows = points.collect();
        return;
    }
    let mut order: Vec<usize> = (0..rows.len()).collect();
    order.sort_by_key(|i| says(&rows[*i]));
    let mut kept = vec![false; rows.len()];
    for i in &order[..MOST] {
        kept[*i] = true;
    }
    let mut kept = kept.into_iter();
    rows.retain(|_| kept.next() == Some(true));
}

/// How much an entry says: 0 where something is to be done, 1 where nothing
/// is, 2 where there is too little to say.
fn says(row: &Value) -> u8 {
    let verdict = row.get("finding").or_else(|| row.get("verdict"));
    match verdict.and_then(Value::as_str) {
        Some("none" | "keep" | "covers") => 1,
        Some("not_enough") => 2,
        Some(_) => 0,
        None => {
            let values = row.as_object().into_iter().flat_map(Map::values);
            let mut lacking = values.filter(|v| v.get("not_enough").is_some());
            1 + u8::from(lacking.next().is_some())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cut(rows: Vec<Value>) -> (Vec<Value>, Vec<Value>) {
        let mut all = Map::new();
        all.insert("a".into(), json!({"b": [{"rows": rows}]}));
        let said = lists(&mut all);
        let rows = all["a"]["b"][0]["rows"].as_array().unwrap().clone();
        (rows, said)
    }

    #[test]
    fn a_list_of_a_thousand_stays_as_it_is() {
        let rows: Vec<Value> = (0..1_000).map(|i| json!({ "i": i })).collect();
        assert_eq!(cut(rows.clone()), (rows, Vec::new()));
    }

    #[test]
    fn a_longer_one_keeps_what_says_most_in_its_order_and_is_named() {
        let row = |i: u64| match i {
            1_998 => json!({"i": i, "finding": "slow"}),
            1_000..1_100 => json!({"i": i, "finding": "none"}),
            _ => json!({"i": i, "finding": "not_enough"}),
        };
        let (rows, said) = cut((0..2_000).map(row).collect());
        assert_eq!(
            said,
            [json!({"list": "a.b.rows", "listed": 1_000, "of": 2_000})]
        );
        let i = |row: &Value| row["i"].as_u64().unwrap();
        let kept: Vec<u64> = rows.iter().map(i).collect();
        let expected: Vec<u64> = (0..899).chain(1_000..1_100).chain([1_998]).collect();
        assert_eq!(kept, expected);
    }

    #[test]
    fn what_lacks_a_figure_goes_first() {
        let row = |i: u64| match i % 2 {
            0 => json!({"i": i, "rate": {"not_enough": {"have": 0}}}),
            _ => json!({"i": i, "rate": {"value": 0.5}}),
        };
        let (rows, _) = cut((0..2_000).map(row).collect());
        assert!(rows.len() == 1_000 && rows.iter().all(|r| r["rate"]["value"] == 0.5));
    }

    #[test]
    fn a_curve_keeps_its_ends_and_its_course() {
        let (points, said) = cut((0..5_000).map(|i| json!([i, 2 * i])).collect());
        assert_eq!((points.len(), said.len()), (1_000, 1));
        assert_eq!(
            (&points[0], &points[999]),
            (&json!([0, 0]), &json!([4_999, 9_998]))
        );
        let day = |p: &Value| p[0].as_u64().unwrap();
        assert!(
            points
                .windows(2)
                .all(|p| (5..=6).contains(&(day(&p[1]) - day(&p[0]))))
        );
    }
}
