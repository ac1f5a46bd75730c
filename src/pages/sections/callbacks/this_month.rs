//! The month's jobs that came back, and whose jobs make most of those of all
//! months: in words, and in tables.

use super::super::say;
use crate::findings::callbacks::{BackJob, Callbacks, Most};
use crate::pages::format::Format;
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{Piece, Sentence};

/// Jobs that are named; the table has all.
const NAMED: usize = 3;

/// What it came back for, in words.
fn causes(j: &BackJob) -> String {
    let words: Vec<String> = j.causes.iter().map(|c| c.replace('_', " ")).collect();
    words.join(", ")
}

/// ": job J7 (high spot) and others."; a full stop where none came back.
pub(super) fn jobs(x: &Callbacks) -> Sentence {
    let mut all = Sentence::new();
    for (i, j) in x.this_month.iter().take(NAMED).enumerate() {
        all.extend(say(if i == 0 { ": job " } else { ", job " }));
        all.push(Piece::text(j.job.clone()));
        all.push(Piece::text(format!(" ({})", causes(j))));
    }
    if x.this_month.len() > NAMED {
        all.extend(say(" and others"));
    }
    all.extend(say("."));
    all
}

/// "1 of 39 coated jobs so far: job J7 (high spot). One person did 7 of the 13
/// that came back in the months looked at: could be luck." Who, only where it is
/// more than luck.
pub(in crate::pages) fn line(x: &Callbacks, f: &Format) -> Sentence {
    let Some(m) = x.months.last() else {
        return Sentence::new();
    };
    let mut all = say(format!(
        "{} of {} so far",
        f.count(m.count.yes),
        f.count_of(m.count.of, "coated job", "coated jobs")
    ));
    all.extend(jobs(x));
    if let Some(p) = &x.most {
        let (own, of) = (f.count(p.own.yes), f.count(p.all.yes));
        let those = format!("{own} of the {of} that came back in the months looked at");
        if p.beyond_luck {
            all.push(Piece::text(format!(" {} did {those}", p.name)));
            all.extend(say(": more than luck explains well."));
        } else {
            all.extend(say(format!(" One person did {those}: could be luck.")));
        }
    }
    all
}

/// Whose jobs make most of those that came back, and whether that is luck.
pub(super) fn most(p: &Most, f: &Format) -> Sentence {
    let mut all = vec![Piece::text(p.name.clone())];
    let verdict = if p.beyond_luck {
        "That is more than luck explains well: talk it over with them."
    } else {
        "That could be luck: nothing to act on."
    };
    all.extend(say(format!(
        " did {} of the {} that one person did alone, and {} of the {} that came back among them. {verdict}",
        f.count(p.own.of),
        f.count_of(p.all.of, "coated job", "coated jobs"),
        f.count(p.own.yes),
        f.count(p.all.yes),
    )));
    all
}

/// The month's jobs that came back, with what for.
pub(super) fn table(x: &Callbacks) -> Table {
    let row = |j: &BackJob| {
        vec![
            Cell::Text(j.job.clone()),
            Cell::Text(j.shop.clone()),
            Cell::Text(causes(j)),
        ]
    };
    let table = Table {
        name: "callbacks_this_month",
        fold: "This month's jobs that came back",
        caption: "Coated jobs of the month that came back for coating work".into(),
        columns: vec![
            words_column("job", "Job"),
            words_column("shop", "Shop"),
            words_column("cause", "For"),
        ],
        rows: x.this_month.iter().map(row).collect(),
        definition: "By the month in which the job was finished.".into(),
    };
    table.without_blank("shop")
}

/// Jobs that one person did alone, and those of them that came back.
pub(super) fn alone(x: &Callbacks) -> Table {
    let all = x.people.iter().map(|p| p.split.count);
    let (of, yes) = all.fold((0, 0), |(of, yes), c| (of + c.of, yes + c.yes));
    let row = |what: &str, n: u64| vec![Cell::Text(what.into()), Cell::Count(n)];
    Table {
        name: "callbacks_alone",
        fold: "Jobs done by one person alone",
        caption: "Coated jobs done by one person alone, and those that came back".into(),
        columns: vec![
            words_column("what", "What"),
            numbers_column("value", "Value"),
        ],
        rows: vec![
            row("Coated jobs that one person did alone", of),
            row("Of these, came back", yes),
        ],
        definition: "The others were done by several people, or nobody is written down.".into(),
    }
}
