//! What a review was made of: files and their lines, tables counted elsewhere,
//! the shop's own questions.

use crate::findings::own::Asked;
use crate::pages::own;
use crate::pages::{Elsewhere, ElsewhereFile, Material};
use serde_json::{Map, Value, json};

/// Lines of the files by state; where they were counted elsewhere, the tables
/// that came from there.
pub(super) fn lines(m: &Material<'_>) -> Value {
    let here = || counted(m);
    m.about.elsewhere.as_ref().map_or_else(here, elsewhere)
}

fn counted(m: &Material<'_>) -> Value {
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

/// In place of the lines, which were counted where the tables were made.
fn elsewhere(e: &Elsewhere) -> Value {
    let file = |f: &ElsewhereFile| json!({"file": f.file, "rows": f.rows, "sha256": f.sha256});
    json!({
        "not_enough": {"have": 0, "need": 1, "of": "exports read by this program"},
        "tables": e.files.iter().map(file).collect::<Vec<_>>(),
    })
}

/// The shop's own questions: where each answer is, or why there is none.
pub(super) fn own_questions(asked: &[Asked]) -> Value {
    let one = |q: &Asked| {
        let mut row = json!({"name": q.name, "file": q.file, "title": q.title});
        match &q.answer {
            Ok(a) => {
                row["rows"] = json!(a.rows.len());
                row["table"] = json!(format!("tables/{}.csv", own::stem(q)));
            }
            Err(why) => row["note"] = json!(why.to_string()),
        }
        row
    };
    Value::Array(asked.iter().map(one).collect())
}
