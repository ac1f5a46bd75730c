//! Constants in words and cells: the same for the page, the terminal and the
//! spreadsheet.

use super::format::{Format, month};
use super::table::{Cell, Table, numbers_column, words_column};
use crate::estimate::Figure;
use crate::findings::backtest::{Backtest, Compared};
use crate::findings::recalibrate::{Constant, Line, Verdict, Why};

/// A value of a constant, with its unit where one cell cannot tell.
pub(super) fn cell(constant: Constant, value: f64, f: &Format) -> Cell {
    let minor = value * f.currency.scale() as f64;
    match constant {
        Constant::SetupMl => Cell::Volume(value),
        Constant::MlPerM2 => Cell::PerArea(value),
        Constant::Minutes => Cell::Minutes(value),
        Constant::CostPerMl | Constant::HourlyCost => Cell::PerVolume(minor),
    }
}

/// The same as text.
pub(super) fn text(constant: Constant, value: f64, f: &Format) -> String {
    cell(constant, value, f).shown(f).text
}

/// An error of a prediction: mL, minutes, or minor units as they are.
fn error(constant: Constant, error: f64) -> Cell {
    match constant {
        Constant::SetupMl | Constant::MlPerM2 => Cell::Volume(error),
        Constant::Minutes => Cell::Minutes(error),
        Constant::CostPerMl | Constant::HourlyCost => Cell::PerVolume(error),
    }
}

/// The constant's name for readers.
pub(super) fn name(line: &Line) -> String {
    match line.constant {
        Constant::SetupMl => "set-up a job".into(),
        Constant::MlPerM2 | Constant::Minutes => line.key.clone(),
        Constant::CostPerMl => "cost per mL".into(),
        Constant::HourlyCost => "wage an hour".into(),
    }
}

/// The same where planning figures of all kinds stand together. `key`: finish or
/// class.
pub(super) fn planning_name(constant: Constant, key: &str) -> String {
    match constant {
        Constant::SetupMl => "Coating, set-up a job".into(),
        Constant::MlPerM2 => format!("Coating, {key}"),
        Constant::Minutes => format!("Minutes, {key}"),
        Constant::CostPerMl => "Cost per mL".into(),
        Constant::HourlyCost => "Wage an hour".into(),
    }
}

/// The verdict in a word or two.
pub(super) fn verdict_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Adopt => "adopt",
        Verdict::Keep => "keep",
        Verdict::NotEnough => "not enough yet",
    }
}

/// Why, in one sentence.
pub(super) fn why(line: &Line, f: &Format) -> String {
    let errors = |p: &Compared| {
        let one = |x: f64| error(line.constant, x).shown(f).text;
        format!(
            "over {} {} of the last months the new one would have been off by {} on average, the old one by {}",
            f.count(p.jobs),
            line.proof_of,
            one(p.refit.mean_absolute_error),
            one(p.in_force.mean_absolute_error)
        )
    };
    let differs = if line.exact {
        "It is off by more than 2%"
    } else {
        "The likely range excludes it"
    };
    match &line.why {
        Why::PredictsBetter(p) => format!("{differs}, and {}.", errors(p)),
        Why::Close => "What was paid is within 2% of it, about as far as single purchases differ.".into(),
        Why::NoneInForce => "None is set.".into(),
        Why::Agrees => {
            "The likely range holds it and is narrow: an error worth a tenth of a typical job would have shown.".into()
        }
        Why::PredictsNoBetter(p) => {
            format!("{differs}, but {}: no better.", errors(p))
        }
        Why::SameDigits => "The new one is the same, to the digits in which planning figures are kept.".into(),
        Why::NoFigure(n) => format!(
            "{} of the {} {} that it takes.",
            f.count(n.have),
            f.count(n.need),
            n.of
        ),
        Why::TooWide { more, to_exclude: true } => format!(
            "The likely range is too wide to tell: about {} more {} would, if the figure stays as it is.",
            f.count(*more),
            line.of
        ),
        Why::TooWide { more, to_exclude: false } => format!(
            "The likely range is too wide to tell: about {} more {} would show an error of a tenth of a typical job.",
            f.count(*more),
            line.of
        ),
        Why::PeopleDiffer => "The likely range holds it; it stays wide because people differ, however many jobs they do.".into(),
        Why::Unproven(n) => format!(
            "{differs}, but {} of the {} {} that it takes to prove the new one.",
            f.count(n.have),
            f.count(n.need),
            n.of
        ),
    }
}

/// Observations behind a line.
pub(super) fn observations(line: &Line) -> u64 {
    match &line.data_alone {
        Figure::Known(e) => e.n,
        Figure::NotEnough(n) => n.have,
    }
}

/// Constants of some kinds, old against new.
pub(super) fn table<'a>(
    name_of: &'static str,
    fold: &'static str,
    lines: impl Iterator<Item = &'a Line>,
    f: &Format,
) -> Table {
    let row = |l: &Line| {
        let of = |x: Option<f64>| x.map_or(Cell::Blank, |x| cell(l.constant, x, f));
        // A fact has no likely range.
        let ends = l.data_alone.known().filter(|_| !l.exact);
        let off = |p: Option<f64>| p.map_or(Cell::Blank, |x| error(l.constant, x));
        vec![
            Cell::Text(l.constant.name().into()),
            Cell::Text(name(l)),
            of(l.in_force),
            match &l.data_alone {
                Figure::Known(e) => cell(l.constant, e.value, f),
                Figure::NotEnough(n) => Cell::Missing(n.clone()),
            },
            of(ends.map(|e| e.low)),
            of(ends.map(|e| e.high)),
            Cell::Count(observations(l)),
            of(l.blended.value()),
            off(l.proof.map(|p| p.in_force.mean_absolute_error)),
            off(l.proof.map(|p| p.refit.mean_absolute_error)),
            l.proof.map_or(Cell::Blank, |p| Cell::Count(p.jobs)),
            Cell::Text(verdict_word(l.verdict).into()),
            of(l.proposed),
            Cell::Text(why(l, f)),
        ]
    };
    Table {
        name: name_of,
        fold,
        caption: format!("{fold}: what is in use, what the records say, what to do"),
        columns: vec![
            words_column("constant", "Planning figure"),
            words_column("key", "Of"),
            numbers_column("in_force", "In use"),
            numbers_column("data_alone", "Records say"),
            numbers_column("low", "Likely from"),
            numbers_column("high", "Likely to"),
            numbers_column("n", "Jobs or bottles"),
            numbers_column("blended", "Both together"),
            numbers_column("error_in_force", "Old one off by"),
            numbers_column("error_refit", "New one off by"),
            numbers_column("predicted", "Predicted"),
            words_column("verdict", "Verdict"),
            numbers_column("proposed", "Adopt"),
            words_column("why", "Why"),
        ],
        rows: lines.map(row).collect(),
        definition: "Adopt: the likely range (by the records alone) excludes the figure in use, and one worked out from what was known before each of the last months would have been off by less on the jobs of that month that rest on it. The value to adopt counts the figure in use as a few jobs, as the settings say. What bottles cost is a fact and has no likely range: it is adopted where it is off by more than 2% and would have predicted better.".into(),
    }
}

/// A quantity of the backtest.
pub(super) struct Tested<'a> {
    pub(super) what: &'static str,
    pub(super) kind: fn(f64) -> Cell,
    pub(super) found: Option<&'a Compared>,
}

/// The backtest, old against new.
pub(super) fn backtest_table(name: &'static str, b: &Backtest, tested: &[Tested<'_>]) -> Table {
    let mut rows = Vec::new();
    for t in tested {
        let Some(c) = t.found else { continue };
        for (who, score) in [("in use then", &c.in_force), ("new", &c.refit)] {
            rows.push(vec![
                Cell::Text(t.what.into()),
                Cell::Text(who.into()),
                Cell::Count(c.jobs),
                (t.kind)(score.bias),
                (t.kind)(score.mean_absolute_error),
                Cell::Share(score.cover),
            ]);
        }
    }
    Table {
        name,
        fold: "Would new figures have predicted better?",
        caption: format!(
            "{} predicted beforehand, {} to {}",
            match name {
                "use_backtest" => "Coating",
                "minutes_backtest" => "Minutes",
                _ => "Months",
            },
            month(b.from.first()),
            month(b.until.first())
        ),
        columns: vec![
            words_column("quantity", "Per job"),
            words_column("constants", "Planning figures"),
            numbers_column("jobs", "Jobs"),
            numbers_column("bias", "Too high by, on average"),
            numbers_column("mean_absolute_error", "Off by, on average"),
            numbers_column("cover", "Within the 80% range"),
        ],
        rows,
        definition: "Each month's jobs are predicted by the planning figures that were in use when they were quoted, and by new ones, worked out from the months before it. A figure in use is given the range of the new one, moved to lie about it. Money is coating and loaded labor.".into(),
    }
}
