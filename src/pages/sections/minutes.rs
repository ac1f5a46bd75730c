//! Hands-on minutes by class.

use super::of_constants::{
    Beside, Written, figure, left_out, left_out_note, to_change, verdict, verdict_cell,
};
use super::{Context, Section, rare, say};
use crate::estimate::Figure;
use crate::findings::Findings;
use crate::findings::headline::Moved;
use crate::findings::minutes::{ClassMinutes, FinishFactor, Minutes};
use crate::findings::recalibrate::{Constant, Recalibration};
use crate::pages::constants::{self, Tested};
use crate::pages::error::PageError;
use crate::pages::format::{Format, month};
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{Piece, SectionView, Sentence};
use crate::pages::words;

pub(in crate::pages) const ID: &str = "minutes";
const HEADING: &str = "Hands-on minutes by class";
const UNIT: &str =
    "Typical hands-on minutes of a full job on the smoothest finish, jobs of the months looked at";

/// The section.
pub(in crate::pages) fn section(all: &Findings, c: Context<'_>) -> Result<Section, PageError> {
    Section::of(&all.minutes, ID, HEADING, c, |x| shown(x, all, c))
}

fn shown(x: &Minutes, all: &Findings, c: Context<'_>) -> Result<Section, PageError> {
    let f = c.format;
    let r = &all.constants;
    let written = Written {
        format: f,
        counted: ["job", "jobs"],
        text: &|v| f.minutes(v),
        number: &|v| f.minutes(v),
        range: &|low, high| f.minutes_range(low, high),
        drawn: &|v| v,
        tick: &|v| f.number(v, 0),
    };
    let classes: Vec<Beside<'_>> = x.classes.iter().map(|m| beside_constant(m, r)).collect();
    let mut sentence = moved(x, c);
    sentence.extend(say(" "));
    sentence.extend(to_change(&classes, r, &KINDS, &written));
    let view = SectionView {
        id: ID.into(),
        heading: HEADING.into(),
        figures: figure([ID, HEADING], UNIT.into(), &classes, &sentence, &written)?,
        sentence,
        how_to_read: say(
            "Typical: half of such jobs take less. For the calendar use the plan-for minutes in the table, which four jobs in five stay under; for costs, the average.",
        ),
        more: more(x, f),
        ..SectionView::default()
    };
    Ok(Section::new(view, tables(x, r, c), f))
}

fn tables(x: &Minutes, r: &Recalibration, c: Context<'_>) -> Vec<Table> {
    let figures = "Planning figures of time";
    let mut all = vec![
        by_class(x, r),
        constants::table("minutes_constants", figures, r.of(&KINDS), c.format),
        backtest(r),
        beside(x),
        this_month(x, c),
        left_out(
            "minutes_left_out",
            "Timed jobs left out of the figures",
            &x.fit.left_out,
        ),
    ];
    let rare = x.fit.rare.iter();
    all.extend(rare.map(|r| rare::table("minutes_rare_classes", r, RARE)));
    all
}

/// How classes too rare to be told apart are spoken of.
const RARE: rare::Told = rare::Told {
    of: "classes",
    figures: "minutes",
};
/// The same of finishes.
const RARE_FINISHES: rare::Told = rare::Told {
    of: "finishes",
    figures: "factor on the minutes",
};

/// Constants that this section decides.
const KINDS: [Constant; 2] = [Constant::Minutes, Constant::HourlyCost];

fn backtest(r: &Recalibration) -> Table {
    let tested = [Tested {
        what: "minutes",
        kind: Cell::Minutes,
        found: r.backtest.minutes.as_ref(),
    }];
    constants::backtest_table("minutes_backtest", &r.backtest, &tested)
}

fn beside_constant<'a>(m: &'a ClassMinutes, r: &Recalibration) -> Beside<'a> {
    Beside {
        name: &m.fit.class,
        jobs: m.fit.jobs,
        figure: &m.fit.typical,
        in_force: m.in_force,
        verdict: verdict(r, Constant::Minutes, &m.fit.class),
    }
}

fn moved(x: &Minutes, c: Context<'_>) -> Sentence {
    let f = c.format;
    let Some((now, usual)) = x.now.zip(x.change.usual) else {
        return say("Too few timed jobs this month to say whether the pace moved.");
    };
    say(format!(
        "{}: {} a job over {}, where the same work by the same people usually takes {}. {}",
        month(c.scope.month.first()),
        f.minutes(now),
        f.count_of(x.now_jobs, "timed job", "timed jobs"),
        f.minutes(usual),
        words::certainty_sentence(x.change.certainty)
    ))
}

fn more(x: &Minutes, f: &Format) -> Vec<Sentence> {
    let mut all = Vec::new();
    if let Some(smoothest) = &x.fit.smoothest {
        let mut note = say("The smoothest finish, for which the classes stand, is ");
        note.push(Piece::text(smoothest.clone()));
        note.extend(say("."));
        all.push(note);
    }
    all.extend((x.fit.rare.iter()).map(|r| rare::note(r, RARE, f)));
    all.extend((x.fit.rare_finishes.iter()).map(|r| rare::note(r, RARE_FINISHES, f)));
    all.extend(left_out_note(
        &x.fit.left_out,
        "timed job is",
        "timed jobs are",
        f,
    ));
    all
}

fn by_class(x: &Minutes, r: &Recalibration) -> Table {
    let row = |m: &ClassMinutes| {
        vec![
            Cell::Text(m.fit.class.clone()),
            Cell::Count(m.fit.jobs),
            Cell::value(&m.fit.typical, Cell::Minutes),
            Cell::low(&m.fit.typical, Cell::Minutes),
            Cell::high(&m.fit.typical, Cell::Minutes),
            Cell::maybe(m.in_force, Cell::Minutes),
            Cell::value(&m.fit.average, Cell::Minutes),
            Cell::value(&m.fit.plan_for, Cell::Minutes),
            m.month_cost.map_or(Cell::Blank, Cell::Exact),
            verdict_cell(verdict(r, Constant::Minutes, &m.fit.class)),
        ]
    };
    Table {
        name: "minutes_by_class",
        fold: "The numbers, class by class",
        caption: "Hands-on minutes by class, against the planning figures in use".into(),
        columns: vec![
            words_column("vehicle_class", "Class"),
            numbers_column("jobs", "Timed jobs"),
            numbers_column("typical", "Typical"),
            numbers_column("typical_low", "Likely from"),
            numbers_column("typical_high", "Likely to"),
            numbers_column("in_force", "In use"),
            numbers_column("average", "Average"),
            numbers_column("plan_for", "Plan for"),
            numbers_column("month_cost", "Cost of the difference this month"),
            words_column("verdict", "Verdict"),
        ],
        rows: x.classes.iter().map(row).collect(),
        definition: "Full job on the smoothest finish, found from all timed jobs of the months looked at together: class, share of the vehicle covered, finish, and who did it each have their part in the minutes.".into(),
    }
}

fn beside(x: &Minutes) -> Table {
    let row = |what: String, figure: &Figure| {
        vec![
            Cell::Text(what),
            Cell::value(figure, Cell::Factor),
            Cell::low(figure, Cell::Factor),
            Cell::high(figure, Cell::Factor),
        ]
    };
    let finish = |x: &FinishFactor| row(format!("{}, factor", x.finish), &x.factor);
    let mut rows = vec![row("Covered share, exponent".into(), &x.fit.covered_share)];
    rows.extend(x.fit.finishes.iter().map(finish));
    rows.push(row("Spread between people".into(), &x.fit.person_sd));
    rows.push(row("Spread from job to job".into(), &x.fit.residual_sd));
    Table {
        name: "minutes_beside",
        fold: "What else bears on the minutes",
        caption: "Finish, covered share and spread".into(),
        columns: vec![
            words_column("what", "What"),
            numbers_column("value", "Value"),
            numbers_column("low", "Likely from"),
            numbers_column("high", "Likely to"),
        ],
        rows,
        definition: "Factor: minutes on that finish over minutes on the smoothest. Exponent: a job that covers half of the vehicle takes 0.5 to that power of the minutes. Spread: two in three lie within so much of the middle; 0.10 is about 10%.".into(),
    }
}

fn this_month(x: &Minutes, c: Context<'_>) -> Table {
    let row = |what: &str, cell: Cell| vec![Cell::Text(what.into()), cell];
    let difference = x.change.difference;
    let mut rows = vec![
        row("Timed jobs", Cell::Count(x.now_jobs)),
        row("Minutes a job", Cell::maybe(x.now, Cell::Minutes)),
        row(
            "Usual for the same work and people",
            Cell::maybe(x.change.usual, Cell::Minutes),
        ),
        row(
            "The month before",
            Cell::maybe(x.change.before, Cell::Minutes),
        ),
        row(
            "Change against the usual",
            Cell::maybe(difference.map(|d| d.value), Cell::Share),
        ),
        row(
            "Change, likely from",
            Cell::maybe(difference.map(|d| d.low), Cell::Share),
        ),
        row(
            "Change, likely to",
            Cell::maybe(difference.map(|d| d.high), Cell::Share),
        ),
        row(
            "What the change is worth this month",
            c.worth(Moved::Minutes).map_or(Cell::Blank, Cell::Exact),
        ),
        row(
            "Jobs that the figures rest on",
            Cell::Count(x.fit.jobs_used),
        ),
        row(
            "Jobs left out of the figures",
            Cell::Count(x.fit.left_out.len() as u64),
        ),
    ];
    rows.extend(x.fit.rare.iter().flat_map(|r| rare::rows(r, RARE)));
    let finishes = x.fit.rare_finishes.iter();
    rows.extend(finishes.flat_map(|r| rare::rows(r, RARE_FINISHES)));
    rows.retain(|r| r[1] != Cell::Blank);
    Table {
        name: "minutes_this_month",
        fold: "This month against the usual",
        caption: format!("Hands-on minutes, {}", month(c.scope.month.first())),
        columns: vec![words_column("what", "What"), numbers_column("value", "Value")],
        rows,
        definition: "Usual: what the rest of the months looked at says this month's jobs take in the hands of the same people. The likely range of the change is wider than others, as four figures are watched together.".into(),
    }
}
