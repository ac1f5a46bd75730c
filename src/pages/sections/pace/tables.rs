//! The tables of the section: people with jobs enough first, by code.

use super::{name, spoken};
use crate::estimate::{Estimate, Figure};
use crate::findings::pace::{Drift, Kind, LEAST_JOBS, LOOKED_FOR, PacePeople, PersonPace};
use crate::pages::format::Format;
use crate::pages::table::{Cell, Table, numbers_column, words_column};

fn kind_words(kind: Kind) -> &'static str {
    match kind {
        Kind::None => "nothing to act on",
        Kind::Slow => "longer on the same work",
        Kind::Rushing => "quick, more comes back",
        Kind::Erratic => "times vary",
        Kind::Learning => "still learning, getting quicker",
        Kind::Overuse => "uses more coating",
        Kind::NotEnough => "too few jobs",
    }
}

fn drift_words(drift: Drift) -> &'static str {
    match drift {
        Drift::Slower => "slower",
        Drift::Quicker => "quicker",
        Drift::Steady => "as before",
        Drift::NotEnough => "too few jobs",
    }
}

/// A pace as a change in percent, of persons with jobs enough.
fn pace_cell(p: &PersonPace, of: fn(&Estimate) -> f64) -> Cell {
    let known = p.fit.pace.known().filter(|_| p.fit.jobs >= LEAST_JOBS);
    known.map_or(Cell::Blank, |e| Cell::Change(of(e) - 1.0))
}

/// People with jobs enough first, the others last; by code within.
fn ordered(x: &PacePeople) -> impl Iterator<Item = &PersonPace> {
    let thin = x.people.iter().filter(|p| p.fit.jobs < LEAST_JOBS);
    spoken(x).chain(thin)
}

pub(super) fn by_person(x: &PacePeople, f: &Format) -> Table {
    let row = |p: &PersonPace| {
        let mut said = vec![kind_words(p.finding)];
        said.extend(p.also.iter().map(|k| kind_words(*k)));
        vec![
            Cell::Text(name(p)),
            Cell::Count(p.fit.jobs),
            pace_cell(p, |e| e.value),
            pace_cell(p, |e| e.low),
            pace_cell(p, |e| e.high),
            Cell::maybe(p.fit.plain.map(|v| v - 1.0), Cell::Change),
            Cell::Text(drift_words(p.fit.drift).into()),
            Cell::Text(said.join("; ")),
        ]
    };
    Table {
        name: "pace_by_person",
        fold: "The numbers, by code: not a league table",
        caption: "Time on the same work, by person".into(),
        columns: vec![
            words_column("person", "Person"),
            numbers_column("jobs", "Timed jobs done alone"),
            numbers_column("pace", "Against the usual"),
            numbers_column("pace_low", "Likely from"),
            numbers_column("pace_high", "Likely to"),
            numbers_column("plain", "Plain average"),
            words_column("this_month", "This month against own past"),
            words_column("finding", "Said"),
        ],
        rows: ordered(x).map(row).collect(),
        definition: format!(
            "Against the usual: 0% is the middle of all people; each person's own figure is drawn towards it by as much as few jobs say little (people are thought to differ by about {} before their jobs say). Somebody is pointed at as slow where being over 10% slow is at least 80% sure, and at most one in ten of those pointed at is likely wrong. This month: the month's jobs, later ones counting more, against the own past.",
            f.share(x.prior_scale)
        ),
    }
}

pub(super) fn beside(x: &PacePeople) -> Table {
    let row = |p: &PersonPace| {
        let figure = |x: &Figure, kind: fn(f64) -> Cell| {
            [
                Cell::value(x, kind),
                Cell::low(x, kind),
                Cell::high(x, kind),
            ]
        };
        let mut all = vec![Cell::Text(name(p))];
        all.extend(figure(&p.fit.spread, Cell::Factor));
        all.push(Cell::maybe(p.fit.spread_ratio, Cell::Factor));
        all.extend(figure(&p.fit.used, Cell::Factor));
        all.extend(figure(&p.fit.callbacks, Cell::Share));
        all.push(p.fit.count.map_or(Cell::Blank, Cell::Count));
        all.push(if p.fit.new {
            Cell::value(&p.fit.learning, |x| Cell::Change(x - 1.0))
        } else {
            Cell::Blank
        });
        all.push(Cell::maybe(
            p.fit.expected_now.map(|e| e.value - 1.0),
            Cell::Change,
        ));
        all.push(Cell::Count(p.fit.long_pauses));
        all
    };
    Table {
        name: "pace_beside",
        fold: "Spread, coating used, callbacks and practice, by code",
        caption: "What stands beside each person's pace".into(),
        columns: vec![
            words_column("person", "Person"),
            numbers_column("spread", "Spread"),
            numbers_column("spread_low", "Likely from"),
            numbers_column("spread_high", "Likely to"),
            numbers_column("spread_ratio", "Spread over the others'"),
            numbers_column("used", "Coating used over needed"),
            numbers_column("used_low", "Used, likely from"),
            numbers_column("used_high", "Used, likely to"),
            numbers_column("callbacks", "Jobs that came back"),
            numbers_column("callbacks_low", "Came back, likely from"),
            numbers_column("callbacks_high", "Came back, likely to"),
            numbers_column("jobs_so_far", "Coated jobs so far"),
            numbers_column("learning", "Time per doubling of jobs"),
            numbers_column("expected_now", "Own curve now"),
            numbers_column("long_pauses", "Jobs over a pause of half an hour"),
        ],
        rows: ordered(x).map(row).collect(),
        definition: "Spread: two in three of a person's jobs lie within so much of the own pace; 0.20 is about 20%. Time per doubling: by how much the time on the same work changes each time the number of jobs doubles, of people hired within the year; own curve now: where that leaves them at the latest job, against the usual, while the pace is that of all jobs of the months looked at, the first ones too. Jobs that came back: drawn towards the common share.".into(),
    }
}

/// `shown`: people on the page.
// Long because it is a list: a row a line.
pub(super) fn whole(x: &PacePeople, shown: usize) -> Table {
    let row = |what: &str, value: Cell, e: Option<&Estimate>| {
        let end = |of: fn(&Estimate) -> f64| Cell::maybe(e.map(of), Cell::Factor);
        vec![
            Cell::Text(what.into()),
            value,
            end(|e| e.low),
            end(|e| e.high),
        ]
    };
    let mut rows = vec![
        row(
            "People with enough jobs to speak of",
            Cell::Count(spoken(x).count() as u64),
            None,
        ),
        row(
            "People with too few",
            Cell::Count((x.people.len() - spoken(x).count()) as u64),
            None,
        ),
        row(
            "Spread between people",
            Cell::Factor(x.between.value),
            Some(&x.between),
        ),
        row(
            "Spread of a person's own jobs",
            Cell::Factor(x.within.value),
            Some(&x.within),
        ),
        row(
            "Truly slower by, for the next line",
            Cell::Share(LOOKED_FOR),
            None,
        ),
        row(
            "With so many jobs",
            x.sight.map_or(Cell::Blank, |s| Cell::Count(s.jobs)),
            None,
        ),
        row(
            "Would be noticed",
            Cell::maybe(x.sight.map(|s| s.noticed), Cell::Share),
            None,
        ),
        row(
            "Simulated shops",
            x.sight.map_or(Cell::Blank, |s| Cell::Count(s.shops.into())),
            None,
        ),
        row(
            "Mean chance of being wrong about those pointed at as slow",
            Cell::Share(x.mean_error),
            None,
        ),
        row(
            "Timed jobs shared by several people",
            Cell::Count(x.shared_jobs),
            None,
        ),
    ];
    if shown < x.people.len() {
        let count = |n: usize| Cell::Count(n as u64);
        rows.push(row("People in all", count(x.people.len()), None));
        rows.push(row("People on this page", count(shown), None));
    }
    rows.retain(|r| r[1] != Cell::Blank);
    Table {
        name: "pace_shop",
        fold: "The shop as a whole, and what it could have seen",
        caption: "Differences between people, and how visible they are".into(),
        columns: vec![
            words_column("what", "What"),
            numbers_column("value", "Value"),
            numbers_column("low", "Likely from"),
            numbers_column("high", "Likely to"),
        ],
        rows,
        definition: "Would be noticed: simulated shops with the same people, jobs and spreads, in which one person is truly that slow, put through the same rule; the person imagined has the middle number of jobs.".into(),
    }
}
