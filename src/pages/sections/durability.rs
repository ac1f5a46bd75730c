//! How long the film lasts, coated or not.

mod briefly;
mod json;

pub(in crate::pages) use briefly::{compared_briefly, lacking, line};
pub(in crate::pages) use json::json;

use super::{Context, Section, drawn, say};
use crate::charts::{Axis, Band, Drop, Group, Survival, Tick, figure_of, survival};
use crate::estimate::Figure;
use crate::findings::Missing;
use crate::findings::durability::{Durability, Face, Followed, Look, MONTH, Sound, Verdict};
use crate::pages::error::PageError;
use crate::pages::format::Format;
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{SectionView, Sentence, words as plain};

pub(in crate::pages) const ID: &str = "durability";
const HEADING: &str = "How long the film lasts, coated or not";

/// The section.
pub(in crate::pages) fn section(
    found: &Result<Durability, Missing>,
    c: Context<'_>,
) -> Result<Section, PageError> {
    Section::of(found, ID, HEADING, c, |x| shown(x, c))
}

fn shown(x: &Durability, c: Context<'_>) -> Result<Section, PageError> {
    let f = c.format;
    let sentence = sentence_of(x, f);
    let share = |v: f64| f.share(v);
    let months = |v: f64| f.number(v, 0);
    let spec = Survival {
        groups: groups(x, f),
        axis: Axis {
            tick: Tick(&share),
            // Film seldom fails: from zero, both curves would lie on the upper
            // edge. The drawing says where its scale starts.
            from_zero: false,
            limits: Some(Band {
                low: 0.0,
                high: 1.0,
            }),
        },
        times: x.looks.iter().map(|l| l.months).collect(),
        time: Tick(&months),
        at_risk: "still followed".into(),
    };
    let drawing = figure_of(ID, HEADING, &plain(&sentence), |s| survival(&spec, s));
    let view = SectionView {
        id: ID.into(),
        heading: HEADING.into(),
        figures: drawn(
            ID,
            "Share of vehicles without a film failure, by months since the film work, all history"
                .into(),
            spec.key(),
            drawing,
        )?,
        sentence,
        how_to_read: say(
            "Each curve starts at all sound and falls at every film failure. The shading is the likely range; under the chart stands how many vehicles are still followed, and where those are few the curve says little.",
        ),
        notes: vec![care()],
        more: more(x, f),
        ..SectionView::default()
    };
    let mut tables = vec![by_months(x), compared(x)];
    if !x.faces.is_empty() {
        tables.push(by_face(x));
    }
    Ok(Section::new(view, tables, f))
}

/// The last look at which both groups may still be compared.
fn last_look(x: &Durability) -> Option<&Look> {
    let horizon = *x.horizon.as_ref().ok()?;
    let known = |l: &&Look| l.months > 0.0 && l.months * MONTH <= horizon;
    x.looks.iter().rev().find(known)
}

/// True where a curve goes on past the months up to which groups are compared.
fn runs_on(x: &Durability) -> bool {
    let horizon = *x.horizon.as_ref().unwrap_or(&f64::INFINITY);
    x.coated.until.max(x.bare.until) > horizon
}

fn sentence_of(x: &Durability, f: &Format) -> Sentence {
    let of = |s: &Sound| s.share.map(|p| f.number(100.0 * p.share, 0));
    let shares = last_look(x).and_then(|l| {
        Some(format!(
            "After {} months, of 100 coated vehicles about **{}** had no film failure, of 100 bare ones about **{}**. ",
            f.number(l.months, 0),
            of(&l.coated)?,
            of(&l.bare)?
        ))
    });
    let shares = shares.unwrap_or_else(|| {
        format!(
            "{} and {} are followed, too few or too short a time to lay side by side. ",
            f.count_of(x.coated.jobs, "coated vehicle", "coated vehicles"),
            f.count_of(x.bare.jobs, "bare one", "bare ones")
        )
    });
    say(format!("{shares}{}", compared_words(x, f)))
}

fn compared_words(x: &Durability, f: &Format) -> String {
    let Figure::Known(e) = &x.hazard_ratio else {
        return "How the two compare on the same film and finish cannot be said yet.".into();
    };
    let factor = format!(
        "On the same film and finish, coated film failed {} times as often as bare film (likely {} to {})",
        f.number(e.value, 2),
        f.number(e.low, 2),
        f.number(e.high, 2)
    );
    match x.verdict {
        Verdict::Longer => format!("{factor}: less often, probably not by luck."),
        Verdict::Shorter => format!(
            "{factor}: more often, probably not by luck. Look at what went wrong on those vehicles."
        ),
        Verdict::Luck | Verdict::NotEnough => {
            format!("{factor}. That range holds 1, so the difference could be luck.")
        }
    }
}

fn care() -> Sentence {
    say(
        "Who pays for a coating may also wash, park and drive with more care. This compares customers as much as coatings: it does not prove that the coating made the difference. Coated and bare panels on one vehicle would settle it.",
    )
}

fn more(x: &Durability, f: &Format) -> Vec<Sentence> {
    let mut all = vec![say(
        "No promise of a lifetime is made. A vehicle counts as followed up to its last look, or else to the data's end; nobody having complained is taken as sound.",
    )];
    if let (Some(look), true) = (last_look(x), runs_on(x)) {
        all.push(say(format!(
            "The sentence stops at {} months: past them so few vehicles of one group are still followed that one failure moves its line far.",
            f.number(look.months, 0)
        )));
    }
    if x.left_out > 0 {
        all.push(say(format!(
            "{} left out: the film failure bears no day, or one before the film work was finished.",
            f.count_of(x.left_out, "job is", "jobs are")
        )));
    }
    if !x.faces.is_empty() {
        all.push(say("Level panels take about twice the sun of upright ones in a year; the last table has the failures a year by where the panels face, where the surfaces of a job say so. Where failures are few the likely ranges are wide: read them before the figures."));
    }
    all
}

fn groups(x: &Durability, f: &Format) -> Vec<Group> {
    let coated = group("Coated", &x.coated, x.looks.iter().map(|l| l.coated), f);
    let bare = group("Bare", &x.bare, x.looks.iter().map(|l| l.bare), f);
    [coated, bare].into_iter().flatten().collect()
}

fn group(
    label: &str,
    group: &Followed,
    looks: impl Iterator<Item = Sound>,
    f: &Format,
) -> Option<Group> {
    let point = |p: &crate::findings::durability::Point| Drop {
        at: p.days / MONTH,
        share: p.share,
        likely: Band {
            low: p.low,
            high: p.high,
        },
    };
    (group.jobs > 0).then(|| Group {
        label: label.into(),
        drops: group.points.iter().map(point).collect(),
        until: group.until / MONTH,
        followed: looks.map(|s| s.at_risk).collect(),
        tip: format!(
            "{label}: {}, {}",
            f.count_of(group.jobs, "vehicle", "vehicles"),
            f.count_of(group.failures, "film failure", "film failures")
        ),
    })
}

fn by_months(x: &Durability) -> Table {
    let sound = |s: &Sound| {
        let share = |of: fn(&crate::findings::durability::Point) -> f64| {
            Cell::maybe(s.share.as_ref().map(of), Cell::Share)
        };
        [
            share(|p| p.share),
            share(|p| p.low),
            share(|p| p.high),
            Cell::Count(s.at_risk),
        ]
    };
    let row = |l: &Look| {
        let mut all = vec![Cell::Count(l.months as u64)];
        all.extend(sound(&l.coated));
        all.extend(sound(&l.bare));
        all
    };
    Table {
        name: "film_life_by_months",
        fold: "The numbers, by months since the film work",
        caption: "Vehicles without a film failure, coated and bare".into(),
        columns: vec![
            numbers_column("months", "Months"),
            numbers_column("coated_share", "Coated, no failure"),
            numbers_column("coated_low", "Likely from"),
            numbers_column("coated_high", "Likely to"),
            numbers_column("coated_followed", "Coated, still followed"),
            numbers_column("bare_share", "Bare, no failure"),
            numbers_column("bare_low", "Bare, likely from"),
            numbers_column("bare_high", "Bare, likely to"),
            numbers_column("bare_followed", "Bare, still followed"),
        ],
        rows: x.looks.iter().map(row).collect(),
        definition: "At each failure the share sound falls by that vehicle's part of those still followed. Each likely range holds by itself. A month here is 30.4375 days.".into(),
    }
}

// Long because it is a list: a row a line.
fn compared(x: &Durability) -> Table {
    let row = |what: &str, value: Cell, low: Cell, high: Cell| {
        vec![Cell::Text(what.into()), value, low, high]
    };
    let count = |what: &str, n: u64| row(what, Cell::Count(n), Cell::Blank, Cell::Blank);
    let figure = |what: &str, figure: &Figure, kind: fn(f64) -> Cell| {
        row(
            what,
            Cell::value(figure, kind),
            Cell::low(figure, kind),
            Cell::high(figure, kind),
        )
    };
    let months = |days: f64| Cell::Factor(days / MONTH);
    let mut rows = vec![
        count("Coated vehicles", x.coated.jobs),
        count("Film failures, coated", x.coated.failures),
        count("Bare vehicles", x.bare.jobs),
        count("Film failures, bare", x.bare.failures),
        count("Film failures, both", x.failures()),
        row(
            "Film failures, both, that would show half as many",
            x.failures_that_tell().map_or(Cell::Blank, Cell::Count),
            Cell::Blank,
            Cell::Blank,
        ),
        count("Kinds of film and finish kept apart", x.strata),
        count("Jobs left out", x.left_out),
        figure(
            "Failures, coated over bare, same film and finish",
            &x.hazard_ratio,
            Cell::Factor,
        ),
    ];
    let blank = || Cell::Blank;
    rows.push(match &x.logrank {
        Ok(t) => row(
            "Chance of so large a difference by luck alone",
            Cell::Factor(t.p),
            blank(),
            blank(),
        ),
        Err(n) => row(
            "Chance of so large a difference by luck alone",
            Cell::Missing(n.clone()),
            blank(),
            blank(),
        ),
    });
    rows.push(match &x.horizon {
        Ok(h) => row("Compared up to [months]", months(*h), blank(), blank()),
        Err(n) => row(
            "Compared up to [months]",
            Cell::Missing(n.clone()),
            blank(),
            blank(),
        ),
    });
    for (what, mean) in [
        (
            "Mean months without failure up to there, coated",
            x.coated.mean_days.as_ref(),
        ),
        (
            "Mean months without failure up to there, bare",
            x.bare.mean_days.as_ref(),
        ),
        ("Difference of the two [months]", Some(&x.difference)),
    ] {
        let mean = mean.map(|m| m.clone().map(|d| d / MONTH));
        rows.extend(mean.map(|m| figure(what, &m, Cell::Factor)));
    }
    Table {
        name: "film_life_compared",
        fold: "Coated against bare",
        caption: "How coated and bare film compare".into(),
        columns: vec![
            words_column("what", "What"),
            numbers_column("value", "Value"),
            numbers_column("low", "Likely from"),
            numbers_column("high", "Likely to"),
        ],
        rows,
        definition: "Vehicles that the coating does not suit are left out. Failures, coated over bare: how often coated vehicles failed at a time for each bare one of the same film and finish that did. Mean months: up to the last time at which both groups have 10 still followed, at most 36 months.".into(),
    }
}

/// What the trade calls it.
fn facing(orientation: &str) -> &str {
    match orientation {
        "horizontal" => "level",
        "vertical" => "upright",
        other => other,
    }
}

fn by_face(x: &Durability) -> Table {
    let a_hundred = |e: &Figure| e.clone().map(|x| 100.0 * x);
    let row = |face: &Face| {
        let rate = a_hundred(&face.per_year);
        vec![
            Cell::Text(facing(&face.orientation).into()),
            Cell::Text(if face.coated { "coated" } else { "bare" }.into()),
            Cell::Count(face.vehicles),
            Cell::Factor(face.years),
            Cell::Count(face.failed),
            Cell::value(&rate, Cell::Factor),
            Cell::low(&rate, Cell::Factor),
            Cell::high(&rate, Cell::Factor),
            Cell::Count(face.apart),
        ]
    };
    Table {
        name: "film_life_by_face",
        fold: "By where the panels face",
        caption: "Film failures on level and upright panels".into(),
        columns: vec![
            words_column("orientation", "Panels"),
            words_column("coated", "Vehicle"),
            numbers_column("vehicles", "Vehicles with such panels"),
            numbers_column("years", "Years followed, together"),
            numbers_column("failed", "Found failed"),
            numbers_column("per_hundred_years", "Failures a year of 100 vehicles"),
            numbers_column("low", "Likely from"),
            numbers_column("high", "Likely to"),
            numbers_column("failed_elsewhere", "Found failed, panels not recorded"),
        ],
        rows: x.faces.iter().map(row).collect(),
        definition: "Vehicles whose surfaces name level or upright panels, followed from the film work to the look that found those panels failed, else to another failure, the last look or the data's end. Rate: failures over the years followed. Failures found on vehicles whose surfaces name no such panels stand apart: nobody knows how many of those are sound.".into(),
    }
}
