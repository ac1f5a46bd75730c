//! Which planning figures to change, from what to what, and how.

use super::{Context, Section, say};
use crate::findings::Findings;
use crate::findings::recalibrate::{Line, Recalibration, Verdict, effective_on};
use crate::pages::constants;
use crate::pages::format::{Format, month};
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{SectionView, Sentence};

pub(in crate::pages) const ID: &str = "planning-figures";
const HEADING: &str = "Change these planning figures";

/// The section: the same verdicts as in the tables of constants, those to
/// change together.
pub(in crate::pages) fn section(all: &Findings, c: Context<'_>) -> Section {
    let (r, f) = (&all.constants, c.format);
    let changes = changes(r, f);
    let view = SectionView {
        id: ID.into(),
        heading: HEADING.into(),
        sentence: sentence_of(r, changes.rows.len() as u64, f),
        notes: notes(all),
        ..SectionView::default()
    };
    Section::new(view, vec![changes, counts(r)], f)
}

fn count(r: &Recalibration, verdict: Verdict) -> u64 {
    r.lines.iter().filter(|l| l.verdict == verdict).count() as u64
}

fn sentence_of(r: &Recalibration, changes: u64, f: &Format) -> Sentence {
    let change = match changes {
        0 => "**No planning figure** is to be changed".to_string(),
        n => format!(
            "**{}** to be changed",
            f.count_of(n, "planning figure is", "planning figures are")
        ),
    };
    say(format!(
        "{change}; {} kept, and for {} there is not enough yet to say.",
        is_or_are(count(r, Verdict::Keep), f),
        f.count(count(r, Verdict::NotEnough))
    ))
}

fn is_or_are(n: u64, f: &Format) -> String {
    format!("{} {}", f.count(n), if n == 1 { "is" } else { "are" })
}

fn notes(all: &Findings) -> Vec<Sentence> {
    let mut notes = Vec::new();
    if all.constants.proposed.is_some() {
        notes.push(say(format!(
            "To adopt them, run: tallycoat recalibrate FOLDER --adopt. It adds a record to constants.toml that holds from {} on; earlier records stay as they are, and quotes of earlier days keep theirs. constants-proposed.toml beside this page is that record, to read or to edit first.",
            month(effective_on(all.scope.month))
        )));
    }
    if let Ok(list) = &all.price_list
        && list.entries.iter().any(|e| e.judged.is_ok())
    {
        notes.push(say(
            "Prices are not changed by this: tables/price-list.csv beside this page has each entry with the price that would mend it.",
        ));
    }
    notes
}

/// What to change, from what to what.
fn changes(r: &Recalibration, f: &Format) -> Table {
    let row = |l: &Line| {
        let of = |x: Option<f64>| x.map_or(Cell::Blank, |x| constants::cell(l.constant, x, f));
        vec![
            Cell::Text(constants::planning_name(l)),
            of(l.in_force),
            of(l.proposed),
            of(l.data_alone.value()),
            Cell::Count(constants::observations(l)),
            Cell::Text(constants::why(l, f)),
        ]
    };
    Table {
        name: "planning_figures",
        fold: "From what, to what, and why",
        caption: "Planning figures to change".into(),
        columns: vec![
            words_column("figure", "Planning figure"),
            numbers_column("from", "From"),
            numbers_column("to", "To"),
            numbers_column("records_say", "Records say"),
            numbers_column("n", "Jobs or bottles"),
            words_column("why", "Why"),
        ],
        rows: r.changes().map(row).collect(),
        definition: "To: what the records say, with the figure in force counted as a few jobs, as the settings say. For one class or finish it lies between the two.".into(),
    }
}

fn counts(r: &Recalibration) -> Table {
    let row = |what: &str, verdict| vec![Cell::Text(what.into()), Cell::Count(count(r, verdict))];
    Table {
        name: "planning_counts",
        fold: "How many",
        caption: "Planning figures by verdict".into(),
        columns: vec![
            words_column("verdict", "Verdict"),
            numbers_column("count", "Figures"),
        ],
        rows: vec![
            row("to change", Verdict::Adopt),
            row("kept", Verdict::Keep),
            row("not enough yet", Verdict::NotEnough),
        ],
        definition: "The tables of constants under coating used and hands-on minutes list every one with its likely range.".into(),
    }
}
