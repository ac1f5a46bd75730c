//! Workspace and cure.

mod outside;

pub(in crate::pages) use outside::named;

use super::{Context, Section, drawn, say};
use crate::charts::{Axis, Band, Intervals, Row, RowFigure, Tick, figure_of, intervals};
use crate::estimate::Figure;
use crate::findings::Missing;
use crate::findings::workspace::{Compared, OutsideJob, Rule, RuleShare, Verdict, Workspace};
use crate::pages::error::PageError;
use crate::pages::format::{Format, month};
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{SectionView, Sentence, words as plain};
use crate::pages::words;
use serde_json::{Value, json};

pub(in crate::pages) const ID: &str = "workspace";
const HEADING: &str = "Workspace and cure";

/// The section.
pub(in crate::pages) fn section(
    found: &Result<Workspace, Missing>,
    c: Context<'_>,
) -> Result<Section, PageError> {
    Section::of(found, ID, HEADING, c, |x| shown(x, c))
}

fn shown(x: &Workspace, c: Context<'_>) -> Result<Section, PageError> {
    let f = c.format;
    let sentence = sentence_of(x, c);
    let spec = Intervals {
        rows: x.shares.iter().map(|s| row(s, x, f)).collect(),
        axis: Axis {
            tick: Tick(&|v| f.share(v)),
            from_zero: true,
            limits: Some(Band {
                low: 0.0,
                high: 1.0,
            }),
        },
        reference: None,
    };
    let drawing = figure_of(ID, HEADING, &plain(&sentence), |s| intervals(&spec, s));
    let view = SectionView {
        id: ID.into(),
        heading: HEADING.into(),
        figures: drawn(
            ID,
            "Share of coated jobs outside each rule, jobs of the months looked at on which it was recorded"
                .into(),
            spec.key(),
            drawing,
        )?,
        sentence,
        how_to_read: say(
            "The rules stand in the settings; their defaults are common practice without a published source. A job is outside a rule where any spell of its work was; one whose readings were not written down is counted neither inside nor outside.",
        ),
        notes: (x.compared.first())
            .map(|k| say(ratio_words(k, f)))
            .into_iter()
            .chain([care()])
            .collect(),
        more: vec![differ()],
        ..SectionView::default()
    };
    Ok(Section::new(
        view,
        vec![
            outside::table(x, c),
            by_rule(x, f),
            compared(x),
            counts(x, c),
        ],
        f,
    ))
}

fn sentence_of(x: &Workspace, c: Context<'_>) -> Sentence {
    let f = c.format;
    let name = month(c.scope.month.first());
    let mut all = match x.month.of {
        0 => say(format!(
            "{name}: no coated job has air and humidity written down."
        )),
        _ => say(format!(
            "{name}: **{} of {}** with air and humidity written down {} outside the rules of the workspace",
            f.count(x.month.yes),
            f.count_of(x.month.of, "coated job", "coated jobs"),
            if x.month.yes == 1 { "was" } else { "were" }
        )),
    };
    if x.month.of > 0 {
        all.extend(outside::named(x, OutsideJob::of_workspace));
    }
    let cure: Sentence = outside::named(x, OutsideJob::of_cure);
    if x.outside.iter().any(OutsideJob::of_cure) {
        all.extend(say(" Outside the rules of the cure"));
        all.extend(cure);
    }
    all
}

fn ratio_words(k: &Compared, f: &Format) -> String {
    let e = match &k.ratio {
        Figure::Known(e) => e,
        Figure::NotEnough(n) => {
            return format!(
                "Whether such jobs come back more often cannot be said: {}.",
                words::missing(n, f)
            );
        }
    };
    let found = format!(
        "Over the months looked at, jobs outside the workspace's rules came back for coating work {} times as often as jobs inside (likely {} to {})",
        f.number(e.value, 1),
        f.number(e.low, 1),
        f.number(e.high, 1)
    );
    match k.verdict {
        Verdict::NoneBack => format!(
            "Over the months looked at, none of the jobs outside the workspace's rules came back for coating work; they are too few to tell (likely {} to {} times as often as jobs inside).",
            f.number(e.low, 1),
            f.number(e.high, 1)
        ),
        Verdict::More => format!(
            "{found}: more often, which luck does not explain well. Wait for better air, or warm and dry it, before coating."
        ),
        Verdict::Less => format!("{found}: less often, which the rules do not explain."),
        Verdict::Luck | Verdict::NotEnough => {
            format!("{found}. That range holds 1, so it could be luck.")
        }
    }
}

fn care() -> Sentence {
    say(
        "Shop rule at work: gloves, and ventilation or an organic-vapor respirator. The product's safety data sheet (section 8) and local law decide which. Nothing here assesses anyone's exposure, and no figure here clears a way of working.",
    )
}

fn differ() -> Sentence {
    say(
        "Jobs coated outside the rules may differ in more than the air: a busy week, a hurried customer. The comparison shows where to look, not what caused it.",
    )
}

fn name(rule: Rule, x: &Workspace, f: &Format) -> String {
    let r = &x.rules;
    match rule {
        Rule::Air => format!("Air above {}", f.temperature(r.air_min_c)),
        Rule::Humidity => format!("Humidity under {}", f.share(r.humidity_max / 100.0)),
        Rule::DewPoint => "Panel clear of the dew point".into(),
        Rule::Release => format!("{} h before release", f.number(r.release_hours, 1)),
        Rule::Rain => "Inside overnight if rain".into(),
    }
}

fn key(rule: Rule) -> &'static str {
    match rule {
        Rule::Air => "air",
        Rule::Humidity => "humidity",
        Rule::DewPoint => "dew_point",
        Rule::Release => "release",
        Rule::Rain => "rain",
    }
}

fn row(s: &RuleShare, x: &Workspace, f: &Format) -> Row {
    let label = name(s.rule, x, f);
    let note = f.count_of(s.checked, "job", "jobs");
    let (figure, tip) = match &s.share {
        Figure::Known(e) => (
            RowFigure::Known {
                estimate: *e,
                text: f.share(e.value),
            },
            format!(
                "{label}: {} of {note} outside, likely {}",
                f.count(s.broken),
                f.share_range(e.low, e.high)
            ),
        ),
        Figure::NotEnough(n) => (
            RowFigure::Thin {
                text: "not recorded".into(),
            },
            format!("{label}: {}", words::missing(n, f)),
        ),
    };
    Row {
        label,
        note,
        figure,
        second: None,
        stands_out: false,
        tip,
    }
}

fn by_rule(x: &Workspace, f: &Format) -> Table {
    let row = |s: &RuleShare| {
        vec![
            Cell::Text(name(s.rule, x, f)),
            Cell::Count(s.checked),
            Cell::Count(s.broken),
            Cell::value(&s.share, Cell::Share),
            Cell::low(&s.share, Cell::Share),
            Cell::high(&s.share, Cell::Share),
            Cell::Count(s.month_checked),
            Cell::Count(s.month_broken),
        ]
    };
    Table {
        name: "workspace_by_rule",
        fold: "The numbers, rule by rule",
        caption: "Coated jobs outside each rule of workspace and cure".into(),
        columns: vec![
            words_column("rule", "Rule"),
            numbers_column("checked", "Coated jobs, recorded"),
            numbers_column("outside", "Outside"),
            numbers_column("share", "Share"),
            numbers_column("share_low", "Likely from"),
            numbers_column("share_high", "Likely to"),
            numbers_column("month_checked", "This month, recorded"),
            numbers_column("month_outside", "This month, outside"),
        ],
        rows: x.shares.iter().map(row).collect(),
        definition: "Dew point: where moisture of the air would settle on the panel; the panel is to stand 3 °C (5 °F) above it unless the settings say otherwise.".into(),
    }
}

fn compared(x: &Workspace) -> Table {
    let row = |k: &Compared| {
        vec![
            Cell::Text(
                if k.workspace {
                    "Workspace"
                } else {
                    "Cure: release and rain"
                }
                .into(),
            ),
            Cell::Count(k.inside.of),
            Cell::Count(k.inside.yes),
            Cell::Count(k.outside.of),
            Cell::Count(k.outside.yes),
            Cell::Count(k.unknown),
            Cell::value(&k.ratio, Cell::Factor),
            Cell::low(&k.ratio, Cell::Factor),
            Cell::high(&k.ratio, Cell::Factor),
        ]
    };
    Table {
        name: "workspace_callbacks",
        fold: "Callbacks inside and outside the rules",
        caption: "Jobs that came back for coating work, by where they stood".into(),
        columns: vec![
            words_column("rules", "Rules"),
            numbers_column("inside", "Jobs inside"),
            numbers_column("inside_back", "Came back"),
            numbers_column("outside", "Jobs outside"),
            numbers_column("outside_back", "Came back, outside"),
            numbers_column("unknown", "Not recorded"),
            numbers_column("ratio", "Times as often outside"),
            numbers_column("ratio_low", "Likely from"),
            numbers_column("ratio_high", "Likely to"),
        ],
        rows: x.compared.iter().map(row).collect(),
        definition: "Times as often: the share that came back of the jobs outside over that of the jobs inside. A job is outside where any spell of it is; inside where all of its spells are known to be.".into(),
    }
}

fn counts(x: &Workspace, c: Context<'_>) -> Table {
    let row = |what: &str, cell: Cell| vec![Cell::Text(what.into()), cell];
    let mut rows = vec![
        row(
            "Coated jobs this month with air and humidity recorded",
            Cell::Count(x.month.of),
        ),
        row("Of these, outside", Cell::Count(x.month.yes)),
        row(
            "Share outside this month",
            Cell::value(&x.month_share, Cell::Share),
        ),
        row(
            "Coated jobs of all months looked at with air and humidity recorded",
            Cell::Count(x.window.of),
        ),
        row("Of these, outside, all months", Cell::Count(x.window.yes)),
        row(
            "Share outside, all months",
            Cell::value(&x.window_share, Cell::Share),
        ),
        row(
            "Coated jobs of the months looked at without them",
            Cell::Count(x.unknown),
        ),
    ];
    if let Some(margin) = x.least_margin {
        rows.push(row(
            "Least distance of a panel from the dew point",
            Cell::Degrees(margin),
        ));
    }
    Table {
        name: "workspace_counts",
        fold: "This month and all months looked at",
        caption: format!("Coated jobs outside the rules, {}", month(c.scope.month.first())),
        columns: vec![words_column("what", "What"), numbers_column("value", "Value")],
        rows,
        definition: "Outside: any of air, humidity and dew point. The dew point counts where the panel's temperature is recorded.".into(),
    }
}

/// For machines.
pub(in crate::pages) fn json(x: &Workspace) -> Value {
    let rules: Vec<Value> = (x.shares.iter())
        .map(|s| {
            json!({
                "rule": key(s.rule), "checked": s.checked, "outside": s.broken, "share": s.share,
                "month_checked": s.month_checked, "month_outside": s.month_broken,
            })
        })
        .collect();
    let compared = |k: &Compared| {
        json!({
            "inside": k.inside.of, "inside_came_back": k.inside.yes,
            "outside": k.outside.of, "outside_came_back": k.outside.yes,
            "unknown": k.unknown, "risk_ratio": k.ratio, "verdict": k.verdict,
        })
    };
    let of = |workspace: bool| {
        x.compared
            .iter()
            .find(|k| k.workspace == workspace)
            .map(compared)
    };
    let mut all = json!({
        "outside_share": x.window_share,
        "month_outside_share": x.month_share,
        "checked": x.window.of,
        "outside": x.window.yes,
        "unknown": x.unknown,
        "rules": rules,
    });
    for (key, workspace) in [("callbacks", true), ("callbacks_cure", false)] {
        if let Some(value) = of(workspace) {
            all[key] = value;
        }
    }
    if let Some(margin) = x.least_margin {
        all["least_dew_point_margin_c"] = json!(margin);
    }
    all
}
