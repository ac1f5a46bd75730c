//! Which planning figures to change, from what to what, and how.

use super::{Context, Section, say};
use crate::findings::Findings;
use crate::findings::headline::{Replan, latest_cost, month_cost, replan as to_change};
use crate::findings::recalibrate::{Constant, Line, Recalibration, Verdict, effective_on};
use crate::pages::constants;
use crate::pages::do_next::replan;
use crate::pages::format::{Format, month};
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{Piece, SectionView, Sentence};

pub(in crate::pages) const ID: &str = "planning-figures";
const HEADING: &str = "Planning figures";

/// The section: the same verdicts as in the tables of constants, those to
/// change together.
pub(in crate::pages) fn section(all: &Findings, c: Context<'_>) -> Section {
    let (r, f) = (&all.constants, c.format);
    let plan = to_change(all);
    let view = SectionView {
        id: ID.into(),
        heading: HEADING.into(),
        sentence: sentence_of(r, plan.as_ref(), f),
        notes: notes(all, plan.as_ref(), f),
        ..SectionView::default()
    };
    Section::new(view, vec![changes(all, f), counts(r)], f)
}

fn count(r: &Recalibration, verdict: Verdict) -> u64 {
    r.lines.iter().filter(|l| l.verdict == verdict).count() as u64
}

fn sentence_of(r: &Recalibration, plan: Option<&Replan>, f: &Format) -> Sentence {
    let rest = rest(r, f);
    let Some(plan) = plan else {
        return say(format!("**No planning figure** is to be changed.{rest}"));
    };
    let changes = plan.figures.iter().map(|c| replan::change(c, f));
    let all = changes.collect::<Vec<_>>().join("; ");
    let n = f.count_of(
        plan.figures.len() as u64,
        "planning figure",
        "planning figures",
    );
    let mut said = say(format!("Change **{n}**: "));
    said.push(Piece::text(all));
    said.extend(say(format!(".{rest}")));
    said
}

/// What becomes of the others.
fn rest(r: &Recalibration, f: &Format) -> String {
    let kept = match count(r, Verdict::Keep) {
        0 => String::new(),
        n => format!(" {} kept.", is_or_are(n, f)),
    };
    match count(r, Verdict::NotEnough) {
        0 => kept,
        n => format!("{kept} For {} there is not enough yet to say.", f.count(n)),
    }
}

fn is_or_are(n: u64, f: &Format) -> String {
    format!("{} {}", f.count(n), if n == 1 { "is" } else { "are" })
}

fn notes(all: &Findings, plan: Option<&Replan>, f: &Format) -> Vec<Sentence> {
    let mut notes = Vec::new();
    let dearer = plan.and_then(|x| replan::dearer(x, latest_cost(all), f));
    notes.extend(dearer.map(say));
    notes.extend(part_of_the_way(&all.constants, f));
    if all.constants.proposed.is_some() {
        notes.push(say(format!(
            "To change them all, run: tallycoat recalibrate FOLDER --adopt. The new figures hold from {} on; quotes of earlier days keep theirs. constants-proposed.toml beside this page has them, to read or to edit first.",
            month(effective_on(all.scope.month))
        )));
    }
    if let Ok(list) = &all.price_list
        && list.entries.iter().any(|e| e.judged.is_ok())
    {
        notes.push(say(
            "Prices are not changed by this; the price list is a section of its own.",
        ));
    }
    notes
}

/// Figures that are named as an example.
const NAMED: usize = 3;

/// Why a figure to adopt is not what the records say, where some show it.
fn part_of_the_way(r: &Recalibration, f: &Format) -> Option<Sentence> {
    let one = |l: &Line| {
        let (to, says) = l.proposed.zip(l.data_alone.value())?;
        let [to, says] = [to, says].map(|x| constants::text(l.constant, x, f));
        let name = constants::planning_name(l.constant, &l.key).to_lowercase();
        (!l.exact && to != says).then(|| format!("{name}: {to} where the records say {says}"))
    };
    let named: Vec<String> = r.changes().filter_map(one).take(NAMED).collect();
    (!named.is_empty()).then(|| {
        let mut note = say("A figure moves part of the way to what the records say, as the jobs looked at are not all that will come (");
        note.push(Piece::text(named.join("; ")));
        note.extend(say(")."));
        note
    })
}

/// What to change, from what to what.
fn changes(all: &Findings, f: &Format) -> Table {
    let latest = latest_cost(all).map(|x| x.per_ml);
    let row = |l: &Line| {
        let of = |x: Option<f64>| x.map_or(Cell::Blank, |x| constants::cell(l.constant, x, f));
        let latest = latest.filter(|_| l.constant == Constant::CostPerMl);
        vec![
            Cell::Text(constants::planning_name(l.constant, &l.key)),
            of(l.in_force),
            of(l.proposed),
            of(l.data_alone.value()),
            Cell::Count(constants::observations(l)),
            month_cost(l, all).map_or(Cell::Blank, Cell::Exact),
            Cell::maybe(latest, Cell::PerVolume),
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
            numbers_column("month_cost", "Cost more this month"),
            numbers_column("latest", "Latest bottles"),
            words_column("why", "Why"),
        ],
        rows: all.constants.changes().map(row).collect(),
        definition: "To: what the records say, with the figure in use counted as a few jobs, as the settings say. For one class or finish it lies between the two. Cost more this month: below 0, less than quoted. Latest bottles: where those of the latest month cost clearly more than the mean.".into(),
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
        definition: "The tables of planning figures under coating used and hands-on minutes list every one with its likely range.".into(),
    }
}
