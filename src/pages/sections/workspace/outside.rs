//! The month's jobs outside a rule: in words, and in a table.

use super::super::{Context, say};
use crate::findings::workspace::{OutsideJob, Rule, Workspace};
use crate::pages::format::month;
use crate::pages::table::{Cell, Table, words_column};
use crate::pages::view::{Piece, Sentence};

/// Jobs that are named; the table has all.
const NAMED: usize = 3;

/// What was wrong, in a few words.
fn broken(rule: Rule) -> &'static str {
    match rule {
        Rule::Air => "air too cold",
        Rule::Humidity => "air too damp",
        Rule::DewPoint => "panel too near the dew point",
        Rule::Release => "released too soon",
        Rule::Rain => "not kept inside overnight though it rained",
    }
}

fn reasons(j: &OutsideJob, wanted: impl Fn(&Rule) -> bool) -> String {
    let rules = j.rules.iter().filter(|r| wanted(r));
    let words: Vec<&str> = rules.map(|r| broken(*r)).collect();
    words.join(", ")
}

/// ": job J7 (air too cold) and others." for those that `kind` keeps; a full
/// stop where there is none.
pub(in crate::pages) fn named(x: &Workspace, kind: fn(&OutsideJob) -> bool) -> Sentence {
    let jobs: Vec<&OutsideJob> = x.outside.iter().filter(|j| kind(j)).collect();
    let of_kind = |r: &Rule| {
        kind(&OutsideJob {
            shop: String::new(),
            job: String::new(),
            rules: vec![*r],
        })
    };
    let mut all = Sentence::new();
    for (i, j) in jobs.iter().take(NAMED).enumerate() {
        all.extend(say(if i == 0 { ": job " } else { ", job " }));
        all.push(Piece::text(j.job.clone()));
        all.extend(say(format!(" ({})", reasons(j, of_kind))));
    }
    if jobs.len() > NAMED {
        all.extend(say(" and others"));
    }
    all.extend(say("."));
    all
}

/// The month's jobs outside, with the rules that each broke.
pub(super) fn table(x: &Workspace, c: Context<'_>) -> Table {
    let shops = x.outside.iter().any(|j| !j.shop.is_empty());
    let row = |j: &OutsideJob| {
        let mut cells = vec![Cell::Text(j.job.clone())];
        cells.extend(shops.then(|| Cell::Text(j.shop.clone())));
        cells.push(Cell::Text(reasons(j, |_| true)));
        cells
    };
    let mut columns = vec![words_column("job", "Job")];
    columns.extend(shops.then(|| words_column("shop", "Shop")));
    columns.push(words_column("outside", "Outside by"));
    Table {
        name: "workspace_jobs",
        fold: "This month's jobs outside a rule",
        caption: format!(
            "Coated jobs outside a rule, {}",
            month(c.scope.month.first())
        ),
        columns,
        rows: x.outside.iter().map(row).collect(),
        definition: "A job is outside where any spell of its work was, or its release.".into(),
    }
}
