//! Own time: against the usual, from job to job, from month to month, and
//! with practice.

use super::{Own, TIME, likely, pace, say, within};
use crate::charts::{Axis, Centre, Control, Month, Tick, control, figure_of};
use crate::estimate::{Estimate, Figure};
use crate::findings::pace::{Drift, Kind, OwnMonth};
use crate::findings::person::{BesideUsual, Side};
use crate::pages::error::PageError;
use crate::pages::format::{Format, month_short};
use crate::pages::sections::{Section, drawn};
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{FigureView, SectionView, Sentence, words as plain};
use crate::pages::words;

const HEADING: &str = "Your time";

pub(super) fn section(own: Own<'_>) -> Result<Section, PageError> {
    let sentence = sentence_of(own);
    let view = SectionView {
        id: TIME.into(),
        heading: HEADING.into(),
        figures: course(own, &sentence)?,
        sentence,
        how_to_read: say(
            "Each dot is a month of your jobs against your own average of the whole time, on the same work; the bar is its likely range. A month of few jobs has a long bar and says little.",
        ),
        notes: notes(own),
        ..SectionView::default()
    };
    Ok(Section::new(
        view,
        vec![figures(own), months(own)],
        own.format,
    ))
}

fn sentence_of(own: Own<'_>) -> Sentence {
    let f = own.format;
    let mut text = match (&own.page.beside, pace(own.page)) {
        (Some(b), Some(e)) => format!("{} ", beside(b, e, f)),
        (Some(b), None) => match b.pace.not_enough() {
            Some(n) => format!("Your time against the usual: {}. ", words::missing(n, f)),
            None => String::new(),
        },
        (None, _) => String::new(),
    };
    text.push_str(&steady(own));
    say(text)
}

fn beside(b: &BesideUsual, e: &Estimate, f: &Format) -> String {
    let said = match b.side {
        Side::Longer => "longer than luck explains well.",
        Side::Quicker => "quicker than luck explains well.",
        Side::Usual | Side::NotEnough => "a range that holds 0%, so about the usual.",
    };
    format!(
        "On the same work, against the shop's usual: **{}** ({}, {}), {said}",
        f.pace(e.value),
        likely(e, f),
        f.count_of(e.n, "job", "jobs")
    )
}

fn steady(own: Own<'_>) -> String {
    let f = own.format;
    let Some(e) = own.page.spread.known() else {
        return String::new();
    };
    let ratio = own.page.beside.as_ref().and_then(|b| b.spread_ratio);
    let beside = match (own.page.kinds.contains(&Kind::Erratic), ratio) {
        (true, Some(r)) => format!(", {} times as wide as other people's.", f.number(r, 2)),
        (false, Some(_)) => ", about as steady as other people's.".into(),
        (_, None) => ".".into(),
    };
    format!(
        "Two in three of your jobs took within {} of your usual time for such work{beside}",
        f.share(within(e.value))
    )
}

fn notes(own: Own<'_>) -> Vec<Sentence> {
    let page = own.page;
    let mut all = Vec::new();
    all.extend(practice(own));
    all.extend(match page.drift {
        Drift::Slower => Some(say(
            "This month you took longer than your own past would suggest. What changed: the work, the film, the day?",
        )),
        Drift::Quicker => Some(say(
            "This month you took less time than your own past would suggest. What did you find?",
        )),
        Drift::Steady => Some(say("This month is in line with your own past.")),
        Drift::NotEnough => None,
    });
    all
}

/// The learning curve of somebody new.
fn practice(own: Own<'_>) -> Option<Sentence> {
    let (page, f) = (own.page, own.format);
    if !page.new {
        return None;
    }
    let count = page.count?;
    let Some(e) = page.learning.known() else {
        return Some(say(
            "You are new: too few jobs yet to see how practice tells.",
        ));
    };
    let expected = page.beside.as_ref().and_then(|b| b.expected_now);
    let now = expected.map_or_else(String::new, |e| {
        format!(
            " Where that puts you now, against the shop's usual: {} ({}).",
            f.pace(e.value),
            likely(&e, f)
        )
    });
    Some(say(format!(
        "You are new, with {} so far: after twice as many jobs the same work takes you {} of the time (likely {} to {}).{now}",
        f.count_of(count, "coated job", "coated jobs"),
        f.number(e.value, 2),
        f.number(e.low, 2),
        f.number(e.high, 2)
    )))
}

fn percent(x: f64, f: &Format) -> String {
    format!("{}%", f.signed(100.0 * (x - 1.0), 0))
}

fn mark(m: &OwnMonth, f: &Format) -> Month {
    let label = month_short(m.month.first());
    let jobs = f.count_of(m.jobs, "job", "jobs");
    let figure = m.over.known().copied();
    Month {
        text: figure.map_or_else(String::new, |e| percent(e.value, f)),
        tip: figure.map_or_else(
            || format!("{label}: {jobs}"),
            |e| {
                format!(
                    "{label}: {}, {}, {jobs}",
                    percent(e.value, f),
                    likely(&e, f)
                )
            },
        ),
        figure,
        usual: None,
        outside: false,
        label,
    }
}

fn course(own: Own<'_>, sentence: &Sentence) -> Result<Vec<FigureView>, PageError> {
    let f = own.format;
    let tick = |v: f64| percent(v, f);
    let spec = Control {
        months: own.page.months.iter().map(|m| mark(m, f)).collect(),
        centre: Some(Centre {
            value: 1.0,
            text: "your average".into(),
        }),
        axis: Axis {
            tick: Tick(&tick),
            from_zero: false,
            limits: None,
        },
    };
    let drawing = figure_of(TIME, HEADING, &plain(sentence), |s| control(&spec, s));
    drawn(
        TIME,
        "Your time on the same work against your own average, month by month".into(),
        spec.key(),
        drawing,
    )
}

fn months(own: Own<'_>) -> Table {
    let change = |x: &Figure| x.clone().map(|v| v - 1.0);
    let row = |m: &OwnMonth| {
        let x = change(&m.over);
        vec![
            Cell::Month(m.month),
            Cell::Count(m.jobs),
            Cell::value(&x, Cell::Change),
            Cell::low(&x, Cell::Change),
            Cell::high(&x, Cell::Change),
        ]
    };
    Table {
        name: "your_months",
        fold: "Month by month",
        caption: "Your time against your own average, by month".into(),
        columns: vec![
            numbers_column("month", "Month"),
            numbers_column("jobs", "Timed jobs"),
            numbers_column("time", "Against your average"),
            numbers_column("low", "Likely from"),
            numbers_column("high", "Likely to"),
        ],
        rows: own.page.months.iter().rev().map(row).collect(),
        definition: "Your minutes over what such work takes, on average, against the same of all your jobs here; the likely range follows from how much your times vary.".into(),
    }
}

/// A row of the table: a figure with its ends.
fn row(what: &str, x: &Figure, kind: fn(f64) -> Cell) -> Vec<Cell> {
    vec![
        Cell::Text(what.into()),
        Cell::value(x, kind),
        Cell::low(x, kind),
        Cell::high(x, kind),
    ]
}

fn figures(own: Own<'_>) -> Table {
    Table {
        name: "your_time",
        fold: "The numbers",
        caption: "Your time and your practice".into(),
        columns: vec![
            words_column("what", "What"),
            numbers_column("value", "Value"),
            numbers_column("low", "Likely from"),
            numbers_column("high", "Likely to"),
        ],
        rows: figure_rows(own),
        definition: "Two in three jobs: within so much of your own pace. Time per doubling: what part of the time the same work takes after twice as many jobs. A pause counts within a spell of work, or between one spell and the next on the same job.".into(),
    }
}

fn figure_rows(own: Own<'_>) -> Vec<Vec<Cell>> {
    let page = own.page;
    let count = |what: &str, n: u64| {
        let blank = || Cell::Blank;
        vec![Cell::Text(what.into()), Cell::Count(n), blank(), blank()]
    };
    let change = |x: &Figure| x.clone().map(|v| v - 1.0);
    let mut rows = vec![count("Timed jobs done alone", page.jobs)];
    if let Some(b) = &page.beside {
        let what = "Time on the same work, against the shop's usual";
        rows.push(row(what, &change(&b.pace), Cell::Change));
    }
    let spread = page.spread.clone().map(within);
    rows.push(row("Two in three jobs lie within", &spread, Cell::Share));
    if let Some(ratio) = page.beside.as_ref().and_then(|b| b.spread_ratio) {
        let what = "Spread of your times over other people's";
        rows.push(vec![
            Cell::Text(what.into()),
            Cell::Factor(ratio),
            Cell::Blank,
            Cell::Blank,
        ]);
    }
    rows.push(count(
        "Jobs over a pause of half an hour or more",
        page.long_pauses,
    ));
    rows.extend(
        page.count
            .map(|n| count("Coated jobs so far, all history", n)),
    );
    if page.new {
        rows.push(row(
            "Time per doubling of jobs",
            &page.learning,
            Cell::Factor,
        ));
    }
    if let Some(e) = page
        .beside
        .as_ref()
        .and_then(|b| b.expected_now)
        .filter(|_| page.new)
    {
        let what = "Own curve now, against the shop's usual";
        rows.push(row(what, &change(&e.into()), Cell::Change));
    }
    rows
}
