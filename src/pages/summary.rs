//! Ten lines for the terminal.

use super::Material;
use super::do_next::do_next;
use super::first_screen::lead;
use super::format::month;
use super::view::words as plain;
use std::path::Path;

/// The summary of a review that was written to `place`.
pub(super) fn lines(m: &Material<'_>, place: &Path) -> Vec<String> {
    let f = m.format;
    let l = m.ledger.lines();
    let a = &m.findings.attach;
    let reasons: Vec<String> = m
        .ledger
        .by_reason()
        .into_iter()
        .map(|(r, n)| format!("{} {}", r.code(), f.count(n)))
        .collect();
    let lines_read = match &m.about.elsewhere {
        None => format!(
            "{} read: {} accepted, {}, {} replaced, {} put aside",
            f.count_of(l.read, "line", "lines"),
            f.count(l.accepted),
            f.count_of(l.structure, "heading or the like", "headings and the like"),
            f.count(l.superseded),
            f.count(l.quarantined)
        ),
        Some(e) => format!(
            "{} read; the exports' lines were counted where they were made",
            f.count_of(e.files.len() as u64, "table", "tables")
        ),
    };
    let mut all = vec![
        format!(
            "{}: {}",
            month(m.findings.scope.month.first()),
            plain(&lead(m))
        ),
        format!(
            "{}, {} that the coating suits, {} coated",
            f.count_of(a.eligible + a.excluded, "film job", "film jobs"),
            f.count(a.eligible),
            f.count(a.coated)
        ),
        lines_read,
    ];
    if !reasons.is_empty() {
        all.push(format!("put aside: {}", reasons.join(", ")));
    }
    for (i, action) in do_next(m).iter().enumerate() {
        all.push(format!("{}. {} {}", i + 1, action.what, plain(&action.why)));
    }
    all.push(format!("Page: {}", place.join("review.html").display()));
    all
}
