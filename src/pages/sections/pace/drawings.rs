//! The two drawings: each person's range, and the plain averages by number of
//! jobs.

use super::super::drawn;
use super::{HEADING, ID, name, percent, spoken};
use crate::charts::{
    Axis, Band, Caterpillar, Centre, Funnel, FunnelLimit, FunnelPoint, Row, RowFigure, Tick,
    caterpillar, figure_of, funnel,
};
use crate::estimate::NotEnough;
use crate::findings::pace::{Kind, LEAST_JOBS, PacePeople, PersonPace};
use crate::pages::error::PageError;
use crate::pages::format::Format;
use crate::pages::view::{FigureView, Sentence, words as plain};
use crate::pages::words;

fn row(p: &PersonPace, f: &Format) -> Row {
    let label = name(p);
    let note = f.count_of(p.fit.jobs, "job", "jobs");
    let known = p.fit.pace.known().filter(|_| p.fit.jobs >= LEAST_JOBS);
    let (figure, tip) = match known {
        Some(e) => (
            RowFigure::Known {
                estimate: *e,
                text: percent(e.value, f),
            },
            format!(
                "{label}: {}, likely {} to {}, {note}",
                f.pace(e.value),
                percent(e.low, f),
                percent(e.high, f)
            ),
        ),
        None => (
            RowFigure::Thin {
                text: words::missing_short(&NotEnough::new(p.fit.jobs, LEAST_JOBS, "jobs"), f),
            },
            format!("{label}: {note}, too few to speak of"),
        ),
    };
    Row {
        label,
        note,
        second: p.fit.plain.filter(|_| known.is_some()),
        figure,
        stands_out: p.finding == Kind::Slow || p.also.contains(&Kind::Slow),
        tip,
    }
}

pub(super) fn ranges(
    x: &PacePeople,
    sentence: &Sentence,
    f: &Format,
) -> Result<Vec<FigureView>, PageError> {
    let tick = |v: f64| percent(v, f);
    let spec = Caterpillar {
        rows: x.people.iter().map(|p| row(p, f)).collect(),
        axis: Axis {
            tick: Tick(&tick),
            from_zero: false,
            limits: None,
        },
        reference: Centre {
            value: 1.0,
            text: "the shop's usual".into(),
        },
    };
    let drawing = figure_of("pace-ranges", HEADING, &plain(sentence), |s| {
        caterpillar(&spec, s)
    });
    drawn(
        ID,
        "Time on the same work against the shop's usual, jobs of the months looked at, people by code".into(),
        spec.key(),
        drawing,
    )
}

/// Numbers of jobs at which the funnel's limits are drawn.
fn sizes(x: &PacePeople) -> Vec<f64> {
    let jobs = || spoken(x).map(|p| p.fit.jobs as f64);
    let (low, high) = (jobs().fold(f64::MAX, f64::min), jobs().fold(0.0, f64::max));
    if low > high {
        return Vec::new();
    }
    let (low, high) = ((0.8 * low).max(1.0), 1.1 * high + 1.0);
    (0..=30)
        .map(|i| low + (high - low) * f64::from(i) / 30.0)
        .collect()
}

/// True where the plain average lies outside what chance alone does.
pub(super) fn beyond_chance(p: &PersonPace) -> bool {
    (p.fit.plain).is_some_and(|v| v < p.usual_low || v > p.usual_high)
}

pub(super) fn by_jobs(
    x: &PacePeople,
    sentence: &Sentence,
    f: &Format,
) -> Result<Vec<FigureView>, PageError> {
    let tick = |v: f64| percent(v, f);
    let point = |p: &PersonPace| {
        let value = p.fit.plain?;
        Some(FunnelPoint {
            label: name(p),
            jobs: p.fit.jobs as f64,
            value,
            outside: beyond_chance(p),
            stands_out: !matches!(p.finding, Kind::None | Kind::NotEnough),
            tip: format!(
                "{}: plain average {}, {}",
                name(p),
                f.pace(value),
                f.count_of(p.fit.jobs, "job", "jobs")
            ),
        })
    };
    let limit = |jobs: f64| {
        let [low, high] = x.usual(jobs);
        FunnelLimit {
            jobs,
            usual: Band { low, high },
        }
    };
    let spec = Funnel {
        points: spoken(x).filter_map(point).collect(),
        limits: sizes(x).into_iter().map(limit).collect(),
        centre: Centre {
            value: 1.0,
            text: "the shop's usual".into(),
        },
        axis: Axis {
            tick: Tick(&tick),
            from_zero: false,
            limits: None,
        },
        across: "timed jobs".into(),
    };
    let title = "Plain averages within what chance allows";
    let drawing = figure_of("pace-by-jobs", title, &plain(sentence), |s| {
        funnel(&spec, s)
    });
    drawn(
        ID,
        "Plain average against the number of jobs; not a league table".into(),
        spec.key(),
        drawing,
    )
}
