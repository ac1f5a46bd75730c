//! What the sections on use and on minutes have in common: figures beside the
//! constants in force, the one verdict on each, and the jobs left out.

use super::{drawn, say};
use crate::charts::{Axis, Intervals, Row, RowFigure, Tick, figure_of, intervals};
use crate::estimate::Figure;
use crate::findings::left_out::{LeftOut, Why};
use crate::findings::recalibrate::{Constant, Recalibration, Verdict};
use crate::pages::constants;
use crate::pages::error::PageError;
use crate::pages::format::Format;
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{FigureView, Piece, Sentence, words as plain};
use crate::pages::words;

/// A figure beside its constant.
#[derive(Debug, Clone, Copy)]
pub(super) struct Beside<'a> {
    /// The finish or class.
    pub(super) name: &'a str,
    /// Jobs that carry it.
    pub(super) jobs: u64,
    /// By the jobs alone.
    pub(super) figure: &'a Figure,
    /// What quotes assume.
    pub(super) in_force: Option<f64>,
    /// What is to be done.
    pub(super) verdict: Option<Verdict>,
}

/// How a section writes its figures.
pub(super) struct Written<'a> {
    pub(super) format: &'a Format,
    /// One and several of what is counted.
    pub(super) counted: [&'static str; 2],
    /// A figure with its unit.
    pub(super) text: &'a dyn Fn(f64) -> String,
    /// A figure without it, where the unit was just said.
    pub(super) number: &'a dyn Fn(f64) -> String,
    /// An interval.
    pub(super) range: &'a dyn Fn(f64, f64) -> String,
    /// A figure as the drawing's axis has it.
    pub(super) drawn: &'a dyn Fn(f64) -> f64,
    /// A tick of that axis.
    pub(super) tick: &'a dyn Fn(f64) -> String,
}

/// The verdict on one constant.
pub(super) fn verdict(r: &Recalibration, constant: Constant, key: &str) -> Option<Verdict> {
    r.line(constant, key).map(|l| l.verdict)
}

/// The same as a table says it.
pub(super) fn verdict_cell(v: Option<Verdict>) -> Cell {
    v.map_or(Cell::Blank, |v| {
        Cell::Text(constants::verdict_word(v).into())
    })
}

/// Which constants to change, or that none of `kinds` is to be.
pub(super) fn to_change(
    all: &[Beside<'_>],
    r: &Recalibration,
    kinds: &[Constant],
    w: &Written<'_>,
) -> Sentence {
    let mut off = all.iter().filter(|b| b.verdict == Some(Verdict::Adopt));
    let Some(first) = off.next() else {
        return say(none_to_change(r, kinds));
    };
    let mut said = match first.in_force {
        Some(_) => say("Quotes are off for "),
        None => say("No planning figure is set for "),
    };
    said.push(Piece::strong(first.name.to_string()));
    if let Figure::Known(e) = first.figure {
        let constant = first.in_force.map_or_else(String::new, |x| {
            format!(", where they assume {}", (w.number)(x))
        });
        said.extend(say(format!(
            ": it takes **{}** over {} (likely {}){constant}.",
            (w.text)(e.value),
            w.format.count_of(first.jobs, w.counted[0], w.counted[1]),
            (w.range)(e.low, e.high)
        )));
    }
    let others: Vec<String> = off.map(|b| b.name.to_string()).collect();
    if !others.is_empty() {
        said.extend(say(" Also to change: "));
        said.push(words::shop_words(&others));
        said.extend(say("."));
    }
    said
}

/// What is said where no constant of these kinds is to be changed. Where one of
/// another key is, it is said elsewhere.
fn none_to_change(r: &Recalibration, kinds: &[Constant]) -> &'static str {
    let has = |verdict| r.of(kinds).any(|l| l.verdict == verdict);
    match (has(Verdict::Keep), has(Verdict::NotEnough)) {
        (true, false) => "No planning figure here is to be changed.",
        (true, true) => {
            "No planning figure here is to be changed; of some there is not enough to say yet."
        }
        _ => "There is not enough yet to say whether a planning figure is off.",
    }
}

/// The figures, each beside its constant, under the section's name and heading;
/// `sentence` describes the drawing.
pub(super) fn figure(
    [id, heading]: [&'static str; 2],
    unit: String,
    all: &[Beside<'_>],
    sentence: &Sentence,
    w: &Written<'_>,
) -> Result<Vec<FigureView>, PageError> {
    let spec = Intervals {
        rows: all.iter().map(|b| row(b, w)).collect(),
        axis: Axis {
            tick: Tick(w.tick),
            from_zero: false,
            limits: None,
        },
        reference: None,
    };
    let drawing = figure_of(id, heading, &plain(sentence), |s| intervals(&spec, s));
    drawn(id, unit, spec.key(), drawing)
}

/// The drawing's row.
fn row(b: &Beside<'_>, w: &Written<'_>) -> Row {
    let f = w.format;
    let figure = match b.figure {
        Figure::Known(e) => RowFigure::Known {
            estimate: e.map(w.drawn),
            text: (w.number)(e.value),
        },
        Figure::NotEnough(n) => RowFigure::Thin {
            text: words::missing_short(n, f),
        },
    };
    Row {
        label: b.name.to_string(),
        note: f.count_of(b.jobs, "job", "jobs"),
        figure,
        second: b.in_force.map(w.drawn),
        stands_out: b.verdict == Some(Verdict::Adopt),
        tip: tip(b, w),
    }
}

fn tip(b: &Beside<'_>, w: &Written<'_>) -> String {
    let name = b.name;
    match b.figure {
        Figure::Known(e) => {
            let constant = b.in_force.map_or_else(String::new, |x| {
                format!("; quotes assume {}", (w.number)(x))
            });
            format!(
                "{name}: {}, likely {}{constant}",
                (w.text)(e.value),
                (w.range)(e.low, e.high)
            )
        }
        Figure::NotEnough(n) => format!("{name}: {}", words::missing(n, w.format)),
    }
}

/// How many jobs a fit leaves out: `one`, `several` as "measured job is",
/// "measured jobs are".
pub(super) fn left_out_note(
    jobs: &[LeftOut],
    one: &str,
    several: &str,
    f: &Format,
) -> Option<Sentence> {
    (!jobs.is_empty()).then(|| {
        say(format!(
            "{} left out of these figures and listed below; none is left out of counts or money.",
            f.count_of(jobs.len() as u64, one, several)
        ))
    })
}

/// Jobs that a fit leaves out, and why.
pub(super) fn left_out(name: &'static str, caption: &str, jobs: &[LeftOut]) -> Table {
    let row = |j: &LeftOut| {
        let (why, score) = match j.why {
            Why::FarOff { score } => ("far off its kind", Cell::Factor(score)),
            Why::NoArea => ("no area recorded", Cell::Blank),
            Why::Zero => ("recorded as 0", Cell::Blank),
            Why::Rare => ("class or finish too rare to be told apart", Cell::Blank),
        };
        vec![
            Cell::Text(j.job.clone()),
            Cell::Text(j.shop.clone()),
            Cell::Text(why.into()),
            score,
        ]
    };
    let table = Table {
        name,
        fold: "Jobs left out of the figures",
        caption: caption.into(),
        columns: vec![
            words_column("job", "Job"),
            words_column("shop", "Shop"),
            words_column("why", "Why"),
            numbers_column("score", "Score"),
        ],
        rows: jobs.iter().map(row).collect(),
        definition: "Score: how many times further off than usual among at least 10 jobs of its kind; far off above 3.5 either way.".into(),
    };
    table.without_blank("shop")
}
