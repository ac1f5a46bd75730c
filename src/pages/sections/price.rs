//! What the price asked did to the answer.

use super::{Context, Section, drawn, say};
use crate::charts::{Axis, Best, Centre, Curve, CurvePoint, Tick, curve, figure_of};
use crate::findings::price::{Answer, Effect, Peak, Price, PricePoint, Recorded, Unsaid};
use crate::pages::error::PageError;
use crate::pages::format::{Format, month};
use crate::pages::table::Table;
use crate::pages::view::{FigureView, SectionView, Sentence, words as plain};
use crate::pages::words;

mod machine;
mod tables;

pub(in crate::pages) use machine::json;

pub(in crate::pages) const ID: &str = "price-answer";
const HEADING: &str = "Does the price change who says yes?";

/// The section.
pub(in crate::pages) fn section(p: &Price, c: Context<'_>) -> Result<Section, PageError> {
    match &p.said {
        Ok(a) => answered(p, a, c),
        Err(why) => Ok(unsaid(p, why, c)),
    }
}

fn unsaid(p: &Price, why: &Unsaid, c: Context<'_>) -> Section {
    let r = &p.recorded;
    let sentence = match why {
        Unsaid::NotWritten => not_written(r, c.scope.months(), c.format),
        Unsaid::TooFew(n) => say(words::sentence_missing(n, c.format)),
        Unsaid::NeverVaried => say(
            "Offers alike were all asked the same price, so no price was tried against another. Ask two prices by turns for a while, and this page can say what that does.",
        ),
        Unsaid::Missing(why) => vec![words::why_missing(why, c.format).into()],
    };
    let view = SectionView {
        id: ID.into(),
        heading: HEADING.into(),
        sentence,
        ..SectionView::default()
    };
    Section::new(view, vec![tables::counts(p, c)], c.format)
}

/// "137 more declined offers need one, about 10 months at this pace".
pub(in crate::pages) fn to_go(r: &Recorded, months: u64, f: &Format) -> String {
    let n = r.lacking();
    let kind = n.of.split(' ').next().unwrap_or_default();
    let more = n.need.saturating_sub(n.have);
    let offers = match more {
        1 => format!("1 more {kind} offer needs one"),
        _ => format!("{} more {kind} offers need one", f.count(more)),
    };
    match r.months_to_go(months) {
        Some(m) => format!(
            "{offers}, about {} at this pace",
            f.count_of(m, "month", "months")
        ),
        None => offers,
    }
}

fn not_written(r: &Recorded, months: u64, f: &Format) -> Sentence {
    say(format!(
        "Not known yet. **Write the price asked on every offer**, declined ones too (coating_price on the job): {}. So far {} of {} accepted have one, and {} of {} declined.",
        to_go(r, months, f),
        f.count(r.accepted_priced),
        f.count_of(r.accepted, "offer", "offers"),
        f.count(r.declined_priced),
        f.count(r.declined)
    ))
}

fn answered(p: &Price, a: &Answer, c: Context<'_>) -> Result<Section, PageError> {
    let f = c.format;
    let sentence = say(format!("{} {}", peak(a, f), told(a, f)));
    let view = SectionView {
        id: ID.into(),
        heading: HEADING.into(),
        figures: figure(a, &plain(&sentence), c)?,
        sentence,
        how_to_read: say(
            "The line is what is left per offer after all costs, those who said no included, had every job been asked that much of today's list price. It ends where trying ended.",
        ),
        notes: notes(p, a, f),
        ..SectionView::default()
    };
    let all: Vec<Table> = vec![tables::along(a, c), tables::counts(p, c)];
    Ok(Section::new(view, all, f))
}

/// "12% over today's list price".
pub(in crate::pages) fn of_list(x: f64, f: &Format) -> String {
    let off = f.share((x - 1.0).abs());
    if off == f.share(0.0) {
        return "today's list price".into();
    }
    let side = if x > 1.0 { "over" } else { "under" };
    format!("{off} {side} today's list price")
}

/// Where most is left, never outside what was tried.
fn peak(a: &Answer, f: &Format) -> String {
    let best = &a.curve.best;
    let left = format!(
        "{} an offer, likely {}",
        f.money_about(best.contribution.value),
        f.money_range(best.contribution.low, best.contribution.high)
    );
    match a.curve.peak {
        Peak::Inside { price } => format!(
            "Most is left per offer at **about {}**: {left}. The best price lies likely between {} and {}.",
            of_list(price.value, f),
            of_list(price.low, f),
            of_list(price.high, f)
        ),
        Peak::AtOrBeyondTop { tried } => format!(
            "Most is left per offer **at or beyond the top of what was tried**, {}: {left}.",
            of_list(tried, f)
        ),
        Peak::AtOrBelowBottom { tried } => format!(
            "Most is left per offer **at or below the lowest price tried**, {}: {left}.",
            of_list(tried, f)
        ),
    }
}

/// Whether dearer offers were declined more often.
fn told(a: &Answer, f: &Format) -> String {
    let points = &a.curve.points;
    let (Some(low), Some(high)) = (points.first(), points.last()) else {
        return String::new();
    };
    let ends = format!(
        "{} said yes at the lowest price tried and {} at the highest",
        f.share(low.acceptance.value),
        f.share(high.acceptance.value)
    );
    match a.effect {
        Effect::FewerWhenDearer => format!("Dearer offers were declined more often: {ends}."),
        Effect::MoreWhenDearer => format!(
            "Dearer offers were accepted more often: {ends}. Who wanted it more was asked more, it seems; do not read it as a reason to raise prices."
        ),
        Effect::NotTold => format!(
            "Whether the price moved the answer cannot be told: {ends}, which luck could make. The best price is then a guess."
        ),
    }
}

fn notes(p: &Price, a: &Answer, f: &Format) -> Vec<Sentence> {
    let r = &p.recorded;
    let mut all = vec![
        say(format!(
            "From {} to {} it loses no more than a fiftieth of that. Of a hundred curves that fit these offers about as well, {} peak at the top of the range and {} at its bottom.",
            of_list(a.curve.flat_from, f),
            of_list(a.curve.flat_to, f),
            f.number(100.0 * a.curve.chance_top, 0),
            f.number(100.0 * a.curve.chance_bottom, 0)
        )),
        say(
            "This is what was seen, not a trial: customers who were asked more may have differed otherwise. Nothing is said of prices that were not tried. To know, ask two prices by turns and write both down.",
        ),
    ];
    if r.without_list + r.for_nothing > 0 {
        all.push(say(format!(
            "Not in it: {} whose class, finish or size the price list does not hold, and {} at no price.",
            f.count_of(r.without_list, "offer", "offers"),
            f.count(r.for_nothing)
        )));
    }
    all
}

fn figure(a: &Answer, desc: &str, c: Context<'_>) -> Result<Vec<FigureView>, PageError> {
    let f = c.format;
    let money = |v: f64| f.money_tick(v);
    let off = |x: f64| format!("{}%", f.signed(100.0 * (x - 1.0), 0));
    let scale = f.currency.scale() as f64;
    let point = |p: &PricePoint| CurvePoint {
        at: p.price,
        figure: p.contribution.map(|x| x / scale),
    };
    let best = &a.curve.best;
    let spec = Curve {
        points: a.curve.points.iter().map(point).collect(),
        up: Axis {
            tick: Tick(&money),
            from_zero: false,
            limits: None,
        },
        across: Axis {
            tick: Tick(&off),
            from_zero: false,
            limits: None,
        },
        named: "price asked against today's list price".into(),
        reference: Some(Centre {
            value: 1.0,
            text: "today's list price".into(),
        }),
        best: Some(Best {
            at: match a.curve.peak {
                Peak::Inside { price } => price.value,
                _ => best.price,
            },
            value: best.contribution.value / scale,
            text: format!("most left: {}", f.money_about(best.contribution.value)),
        }),
        tip: format!(
            "Left per offer, {} to {}",
            of_list(a.curve.points.first().map_or(1.0, |p| p.price), f),
            of_list(a.curve.points.last().map_or(1.0, |p| p.price), f)
        ),
    };
    let drawing = figure_of(ID, HEADING, desc, |s| curve(&spec, s));
    let unit = format!(
        "Left per offer after all costs, {}, offers of the months looked at, up to {}",
        f.currency.code,
        month(c.scope.month.first())
    );
    drawn(ID, unit, spec.key(), drawing)
}
