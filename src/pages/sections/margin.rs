//! What a coated job earns.

use super::{Context, Section, drawn, say};
use crate::charts::{Axis, Band, Centre, Control, Month, Tick, control, figure_of};
use crate::findings::Findings;
use crate::findings::headline::Moved;
use crate::findings::margin::{Margin, MarginMonth};
use crate::findings::margin_groups::{MarginGroup, MarginGroups};
use crate::findings::reserve::{Reserve, TrueUp};
use crate::money::Minor;
use crate::pages::error::PageError;
use crate::pages::format::{Format, month, month_short};
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{SectionView, Sentence, words as plain};
use crate::pages::words;

pub(in crate::pages) const ID: &str = "earns";
const HEADING: &str = "What a coated job earns";

/// The section.
pub(in crate::pages) fn section(all: &Findings, c: Context<'_>) -> Result<Section, PageError> {
    Section::of(&all.margin, ID, HEADING, c, |m| shown(m, all, c))
}

fn shown(m: &Margin, all: &Findings, c: Context<'_>) -> Result<Section, PageError> {
    let f = c.format;
    let sentence = sentence_of(m, c);
    let scale = f.currency.scale() as f64;
    let tick = |v: f64| f.money_tick(v);
    let spec = Control {
        months: m.months.iter().map(|x| mark(x, f, scale)).collect(),
        centre: m.change.usual.map(|u| Centre {
            value: u / scale,
            text: format!("usual {}", f.money_about(u)),
        }),
        axis: Axis {
            tick: Tick(&tick),
            from_zero: true,
            limits: None,
        },
    };
    let drawing = figure_of(ID, HEADING, &plain(&sentence), |s| control(&spec, s));
    let view = SectionView {
        id: ID.into(),
        heading: HEADING.into(),
        figures: drawn(
            ID,
            format!(
                "Left of a coated job's price after all its costs, by month, {}",
                f.currency.code
            ),
            spec.key(),
            drawing,
        )?,
        sentence,
        how_to_read: say(
            "Left over: the price charged less discount, coating, loaded labor, consumables, card fees and coating callbacks. Rent and other overheads are not in it.",
        ),
        notes: c.not_set(UNSET).into_iter().collect(),
        more: more(m, all.reserve.as_ref().ok(), c),
        ..SectionView::default()
    };
    let groups = by_group(&all.margin_groups, c);
    let mut tables = vec![components(m, c), by_month(m), groups];
    tables.extend(all.reserve.as_ref().ok().map(|r| reserve_table(r, c)));
    Ok(Section::new(view, tables, f))
}

fn sentence_of(m: &Margin, c: Context<'_>) -> Sentence {
    let f = c.format;
    let name = month(c.scope.month.first());
    let jobs = f.count_of(m.coated_jobs, "coated job", "coated jobs");
    let Some(e) = m.per_job.known() else {
        return say(format!(
            "{name}: {jobs} whose money is known, too few to say what one earns."
        ));
    };
    let usual = m
        .change
        .usual
        .map_or_else(String::new, |u| format!(" Usual is {}.", f.money_about(u)));
    say(format!(
        "{name}: a coated job left **{}** on average over {jobs} (likely {}).{usual} {}",
        f.money_about(e.value),
        f.money_range(e.low, e.high),
        words::certainty_sentence(m.change.certainty)
    ))
}

/// What costs that are not set do here.
const UNSET: &str =
    "they count as nothing here; consumables and card_fee_share in shop.toml set them";

fn more(m: &Margin, reserve: Option<&Reserve>, c: Context<'_>) -> Vec<Sentence> {
    let f = c.format;
    let mut all: Vec<Sentence> = reserve.map(|r| set_aside(r, f)).into_iter().collect();
    if let (Some(hour), Some(bay)) = (m.per_hands_on_hour.value(), m.per_bay_hour.value()) {
        all.push(say(format!(
            "That is {} for an hour of hands-on work, and {} for an hour that the bay is taken, cure included.",
            f.money_about(hour),
            f.money_about(bay)
        )));
    }
    if m.use_estimated + m.minutes_estimated > 0 {
        all.push(say(format!(
            "Estimated, as not written down: coating used on {} and minutes on {} of {}.",
            f.count(m.use_estimated),
            f.count(m.minutes_estimated),
            f.count_of(m.coated_jobs, "job", "jobs")
        )));
    }
    if m.without_price + m.without_cost > 0 {
        all.push(say(format!(
            "Left out of the money: {} without a price and {} whose costs are not known.",
            f.count_of(m.without_price, "coated job", "coated jobs"),
            f.count(m.without_cost)
        )));
    }
    all
}

fn mark(m: &MarginMonth, f: &Format, scale: f64) -> Month {
    let label = month_short(m.month.first());
    let known = m.per_job.known().map(|e| e.map(|x| x / scale));
    let tip = match m.per_job.known() {
        Some(e) => format!(
            "{label}: {} a job over {}, likely {}",
            f.money_about(e.value),
            f.count_of(m.jobs, "job", "jobs"),
            f.money_range(e.low, e.high)
        ),
        None => format!("{label}: {}, too few", f.count_of(m.jobs, "job", "jobs")),
    };
    Month {
        label,
        text: m
            .per_job
            .value()
            .map_or_else(String::new, |x| f.money_about(x)),
        figure: known,
        usual: m.usual_low.zip(m.usual_high).map(|(low, high)| Band {
            low: low / scale,
            high: high / scale,
        }),
        outside: m.is_outside(),
        tip,
    }
}

// Long because it is a list: a row a line.
fn components(m: &Margin, c: Context<'_>) -> Table {
    let t = &m.total;
    let n = m.coated_jobs.max(1) as f64;
    let row = |what: &str, amount: Minor| {
        vec![
            Cell::Text(what.into()),
            Cell::Exact(amount),
            Cell::Money(amount.as_f64() / n),
        ]
    };
    let figure = |what: &str, cell: Cell| vec![Cell::Text(what.into()), Cell::Blank, cell];
    let mut rows = vec![
        row("Price less discount", t.net_price),
        row("Coating", -t.coating),
        row("Loaded labor", -t.labour),
        row("Consumables", -t.consumables),
        row("Card fees", -t.fees),
        row("Coating callbacks", -t.callbacks),
        row("Left over", m.contribution),
        figure("Left over, likely from", Cell::low(&m.per_job, Cell::Money)),
        figure("Left over, likely to", Cell::high(&m.per_job, Cell::Money)),
        figure("Usual", Cell::maybe(m.change.usual, Cell::Money)),
        figure(
            "The month before",
            Cell::maybe(m.change.before, Cell::Money),
        ),
        figure(
            "Left over of each unit of price",
            Cell::value(&m.rate, Cell::Share),
        ),
        figure(
            "An hour of hands-on work",
            Cell::value(&m.per_hands_on_hour, Cell::Money),
        ),
        figure(
            "An hour of the bay",
            Cell::value(&m.per_bay_hour, Cell::Money),
        ),
        figure(
            "What the change is worth this month",
            c.worth(Moved::Margin).map_or(Cell::Blank, Cell::Exact),
        ),
        figure("Coated jobs counted", Cell::Count(m.coated_jobs)),
        figure("Without a price", Cell::Count(m.without_price)),
        figure("Costs not known", Cell::Count(m.without_cost)),
        figure("Coating use estimated", Cell::Count(m.use_estimated)),
        figure("Minutes estimated", Cell::Count(m.minutes_estimated)),
    ];
    rows.retain(|r| r[2] != Cell::Blank);
    Table {
        name: "margin_this_month",
        fold: "Where the money went",
        caption: format!("Money of the coated jobs, {}", month(c.scope.month.first())),
        columns: vec![
            words_column("what", "What"),
            numbers_column("month", "All jobs"),
            numbers_column("per_job", "Per coated job, or as named"),
        ],
        rows,
        definition: "Every amount of every job is rounded once to the smallest coin; sums are exact. Labor is the wage times the labor loading. An hour of the bay: hands-on work and the cure that the settings ask for.".into(),
    }
}

fn by_month(m: &Margin) -> Table {
    let row = |x: &MarginMonth| {
        vec![
            Cell::Month(x.month),
            Cell::Count(x.jobs),
            Cell::value(&x.per_job, Cell::Money),
            Cell::low(&x.per_job, Cell::Money),
            Cell::high(&x.per_job, Cell::Money),
            Cell::maybe(x.usual_low, Cell::Money),
            Cell::maybe(x.usual_high, Cell::Money),
        ]
    };
    Table {
        name: "margin_by_month",
        fold: "The numbers, month by month",
        caption: "Left over per coated job, by month".into(),
        columns: vec![
            numbers_column("month", "Month"),
            numbers_column("jobs", "Coated jobs"),
            numbers_column("per_job", "Per job"),
            numbers_column("per_job_low", "Likely from"),
            numbers_column("per_job_high", "Likely to"),
            numbers_column("usual_low", "Usual from"),
            numbers_column("usual_high", "Usual to"),
        ],
        rows: m.months.iter().rev().map(row).collect(),
        definition: "Usual from, to: where the average of that many jobs falls, by the months looked at without the month reviewed.".into(),
    }
}

/// What callbacks cost a coated job, and the month against it.
fn set_aside(r: &Reserve, f: &Format) -> Sentence {
    let likely = r.rate.known().map_or_else(String::new, |e| {
        format!(
            " ({}, likely {})",
            f.share_fine(e.value),
            f.share_range(e.low, e.high)
        )
    });
    say(format!(
        "Callbacks: {} of {} in the months looked at came back{likely}, at {} a coated job, which the floors include. {}",
        f.count(r.came_back),
        f.count_of(r.jobs, "coated job", "coated jobs"),
        f.money_about_exact(r.in_floor),
        trued_up(r, f)
    ))
}

/// The month's callbacks against what was set aside. To the cent: the parts
/// of a sum of rounded figures may not add up.
fn trued_up(r: &Reserve, f: &Format) -> String {
    let came = f.money_exact(r.came);
    let t = match &r.true_up {
        Ok(t) => t,
        Err(_) => {
            return format!(
                "This month {came} came; there is no other month in the months looked at to hold that against."
            );
        }
    };
    let held = match t.left.0 {
        n if n < 0 => format!("{} more", f.money_exact(-t.left)),
        _ => format!("{} less", f.money_exact(t.left)),
    };
    format!(
        "At the rate of the other months, callbacks of this month's jobs would cost {}; they cost {came}, {held}.",
        f.money_exact(t.set_aside)
    )
}

/// The reserve for review.json.
pub(in crate::pages) fn reserve_json(r: &Reserve) -> serde_json::Value {
    let mut all = serde_json::json!(r);
    let (set_aside, left) = match &r.true_up {
        Ok(t) => (serde_json::json!(t.set_aside), serde_json::json!(t.left)),
        Err(n) => {
            let none = serde_json::json!({"not_enough": n});
            (none.clone(), none)
        }
    };
    all["set_aside"] = set_aside;
    all["true_up"] = left;
    all
}

fn reserve_table(r: &Reserve, c: Context<'_>) -> Table {
    let row = |what: &str, cell: Cell| vec![Cell::Text(what.into()), cell];
    let in_floor = Minor::nearest(r.in_floor).unwrap_or_default();
    let trued = |of: fn(&TrueUp) -> Minor| match &r.true_up {
        Ok(t) => Cell::Exact(of(t)),
        Err(n) => Cell::Missing(n.clone()),
    };
    Table {
        name: "callback_reserve",
        fold: "Set aside for callbacks",
        caption: format!("Reserve for callbacks, {}", month(c.scope.month.first())),
        columns: vec![words_column("what", "What"), numbers_column("value", "Value")],
        rows: vec![
            row("Coated jobs in the months looked at", Cell::Count(r.jobs)),
            row("Came back", Cell::Count(r.came_back)),
            row("Share that came back", Cell::value(&r.rate, Cell::FineShare)),
            row("The same, likely from", Cell::low(&r.rate, Cell::Share)),
            row("The same, likely to", Cell::high(&r.rate, Cell::Share)),
            row("Cost per coated job", Cell::Exact(in_floor)),
            row("The same, likely from", Cell::low(&r.per_job, Cell::Money)),
            row("The same, likely to", Cell::high(&r.per_job, Cell::Money)),
            row("To be set aside this month", trued(|t| t.set_aside)),
            row("Came this month", Cell::Exact(r.came)),
            row("Left of it", trued(|t| t.left)),
        ],
        definition: "Callbacks of coating work only. Set aside this month: what the rest of the months looked at cost per coated job. The newest jobs have had little time to come back.".into(),
    }
}

fn by_group(groups: &MarginGroups, c: Context<'_>) -> Table {
    let row = |by: &str, g: &MarginGroup| {
        let name = if g.name.is_empty() {
            "not recorded"
        } else {
            &g.name
        };
        vec![
            Cell::Text(by.into()),
            Cell::Text(name.into()),
            Cell::Count(g.jobs),
            Cell::Money(g.contribution.as_f64()),
            Cell::value(&g.per_job, Cell::Money),
            Cell::low(&g.per_job, Cell::Money),
            Cell::high(&g.per_job, Cell::Money),
            Cell::value(&g.rate, Cell::Share),
        ]
    };
    let all = [
        ("shop", &groups.shop),
        ("class", &groups.class),
        ("finish", &groups.finish),
        ("film", &groups.film),
        ("seller", &groups.seller),
    ];
    let rows = all
        .iter()
        .flat_map(|(by, of)| of.iter().map(|g| row(by, g)));
    Table {
        name: "margin_by_group",
        fold: match groups.shop.is_empty() {
            true => "By class, finish, film and seller",
            false => "By shop, class, finish, film and seller",
        },
        caption: format!("Left over by group, months looked at, up to {}", month(c.scope.month.first())),
        columns: vec![
            words_column("by", "By"),
            words_column("group", "Group"),
            numbers_column("jobs", "Coated jobs"),
            numbers_column("contribution", "Left over in all"),
            numbers_column("per_job", "Per job"),
            numbers_column("per_job_low", "Likely from"),
            numbers_column("per_job_high", "Likely to"),
            numbers_column("rate", "Of each unit of price"),
        ],
        rows: rows.collect(),
        definition: "All coated jobs of the months looked at whose money is known, in order of names. Not a league table: sellers meet different customers and vehicles.".into(),
    }
}
