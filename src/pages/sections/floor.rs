//! Prices below the floor.

use super::{Context, Section, drawn, say};
use crate::charts::{Floor as Chart, Job, Priced, Tick, figure_of, floor as draw};
use crate::findings::Missing;
use crate::findings::floor::{Cause, Floor, Reason, Underpriced};
use crate::money::Minor;
use crate::pages::error::PageError;
use crate::pages::format::{Format, list, month};
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{Piece, SectionView, Sentence, words as plain};

pub(in crate::pages) const ID: &str = "below-floor";
const HEADING: &str = "Prices below the floor";
/// Jobs under the floor that are drawn with a label of their own.
const NAMED: usize = 60;
/// Jobs that the page lists; the CSV has all.
pub(in crate::pages) const LISTED: usize = 200;

/// The section.
pub(in crate::pages) fn section(
    found: &Result<Floor, Missing>,
    c: Context<'_>,
) -> Result<Section, PageError> {
    Section::of(found, ID, HEADING, c, |floor| shown(floor, c))
}

fn shown(floor: &Floor, c: Context<'_>) -> Result<Section, PageError> {
    let f = c.format;
    let sentence = sentence_of(floor, c);
    let tick = |v: f64| f.money_tick(v);
    let spec = chart(floor, f, &tick);
    let desc = plain(&sentence);
    let drawing = figure_of(ID, HEADING, &desc, |s| draw(&spec, s));
    let view = SectionView {
        id: ID.into(),
        heading: HEADING.into(),
        figures: drawn(
            ID,
            format!(
                "What was charged (up) against the floor price (across), {}, {}",
                f.currency.code,
                month(c.scope.month.first())
            ),
            spec.key(),
            drawing,
        )?,
        sentence,
        how_to_read: say(format!(
            "The floor is the price at which a job of that class, area and finish leaves {} of it over after its expected costs: those of such jobs on average, so a slow day does not make a fair price look wrong.",
            f.share(c.money.floor_margin)
        )),
        notes: floor.causes.iter().map(|x| ask(x, f)).collect(),
        more: more(floor, c),
        ..SectionView::default()
    };
    let tables = |at_most| {
        vec![
            this_month(floor, c),
            causes(floor, c),
            listed(floor, c, at_most),
        ]
    };
    let mut section = Section::new(view, tables(LISTED), f);
    section.tables = tables(usize::MAX);
    Ok(section)
}

fn sentence_of(floor: &Floor, c: Context<'_>) -> Sentence {
    let f = c.format;
    let name = month(c.scope.month.first());
    let checked = f.count_of(floor.checked, "coated job", "coated jobs");
    let Some(worst) = floor.jobs.first() else {
        let text = match floor.checked {
            0 => format!("{name} has no coated job whose price could be held against a floor."),
            _ => format!("{name}: none of {checked} was charged less than its floor price."),
        };
        return say(text);
    };
    let mut all = say(format!(
        "{name}: **{} of {checked}** {} charged less than the floor price, **{}** short in all. The worst is job ",
        f.count(floor.jobs.len() as u64),
        if floor.jobs.len() == 1 { "was" } else { "were" },
        f.money_exact(floor.short_total),
    ));
    all.push(Piece::text(at_shop(worst)));
    all.extend(say(format!(", {} short.", f.money_exact(worst.short))));
    all
}

/// A job's key, and whose it is where there are several shops.
fn at_shop(job: &Underpriced) -> String {
    match job.shop.as_str() {
        "" => job.job.clone(),
        shop => format!("{} of {shop}", job.job),
    }
}

/// A seller's code, or that there is none.
fn who(seller: &str) -> String {
    if seller.is_empty() {
        "not written down".into()
    } else {
        seller.into()
    }
}

/// Sellers in a row, as many as can be read.
pub(in crate::pages) fn whom(cause: &Cause) -> String {
    const MOST: usize = 5;
    let mut names: Vec<String> = cause.sellers.iter().take(MOST).map(|s| who(s)).collect();
    if cause.sellers.len() > MOST {
        names.push("others".into());
    }
    list(&names)
}

/// "1 by a discount (ask P8)". A list that is too low is no seller's doing.
pub(in crate::pages) fn briefly(c: &Cause, f: &Format) -> String {
    let why = match &c.reason {
        Reason::Discount => "by a discount".into(),
        Reason::PricedAsFinish(finish) => format!("priced as {finish}"),
        Reason::PricedAsClass(class) => format!("priced as class {class}"),
        Reason::UnderMinimum => "under the minimum price of a partial job".into(),
        Reason::UnderList => "charged less than the list price".into(),
        Reason::ListUnderFloor => "by a list price that is too low".into(),
        Reason::NoListPrice => "without a list price".into(),
    };
    let n = f.count(c.jobs);
    match c.reason == Reason::ListUnderFloor || c.sellers.contains("") {
        true => format!("{n} {why}"),
        false => format!("{n} {why} (ask {})", whom(c)),
    }
}

/// Whom to ask, and about what.
fn ask(cause: &Cause, f: &Format) -> Sentence {
    let mut all = say(format!(
        "{}, {} short: ",
        f.count_of(cause.jobs, "job", "jobs"),
        f.money_exact(cause.short)
    ));
    all.push(Piece::text(reason(&cause.reason)));
    // A list that is too low is no seller's doing.
    if cause.reason != Reason::ListUnderFloor {
        all.extend(say("; sold by "));
        all.push(Piece::text(whom(cause)));
    }
    all.extend(say("."));
    all
}

fn more(floor: &Floor, c: Context<'_>) -> Vec<Sentence> {
    let f = c.format;
    let mut all = Vec::new();
    if floor.jobs.iter().any(|j| j.finishes > 1) {
        all.push(say(
            "A two-tone job is sold at the list price of its dearer finish; its floor counts each finish over its own area, so for a full job it lies between the floors that the price list has for the two.",
        ));
    }
    all.push(c.margins());
    all.extend(c.not_set("every floor here lies higher in truth"));
    if floor.not_checked > 0 {
        all.push(say(format!(
            "{} could not be held against a floor, for want of a price or of an expected cost.",
            f.count_of(floor.not_checked, "coated job", "coated jobs")
        )));
    }
    if floor.jobs.len() > LISTED {
        all.push(say(format!(
            "The {LISTED} worst are listed here; tables/below_floor.csv has all {}.",
            f.count(floor.jobs.len() as u64)
        )));
    }
    all
}

fn chart<'a>(floor: &Floor, f: &Format, tick: &'a dyn Fn(f64) -> String) -> Chart<'a> {
    let major = |m: Minor| f.major(m);
    let covered = floor
        .points
        .iter()
        .filter(|p| p.price >= p.floor)
        .map(|p| Priced {
            floor: major(p.floor),
            price: major(p.price),
        });
    let at = |j: &Underpriced| Priced {
        floor: major(j.floor),
        price: major(j.price),
    };
    let named = |j: &Underpriced| Job {
        at: at(j),
        label: format!("job {}", at_shop(j)),
        tip: format!(
            "Job {}: charged {}, floor {}, {} short",
            at_shop(j),
            f.money(j.price),
            f.money(j.floor),
            f.money(j.short)
        ),
    };
    Chart {
        covered: covered.collect(),
        below: floor.jobs.iter().take(NAMED).map(named).collect(),
        more_below: floor.jobs.iter().skip(NAMED).map(at).collect(),
        tick: Tick(tick),
        up: "charged".into(),
        across: "floor price".into(),
    }
}

/// Why a price did not reach the floor, in words.
pub(in crate::pages) fn reason(r: &Reason) -> String {
    match r {
        Reason::Discount => "discount".into(),
        Reason::PricedAsFinish(finish) => format!("priced as {finish}"),
        Reason::PricedAsClass(class) => format!("priced as class {class}"),
        Reason::UnderMinimum => "partial job under the minimum price".into(),
        Reason::ListUnderFloor => "the list price itself is too low".into(),
        Reason::UnderList => "charged less than the list price".into(),
        Reason::NoListPrice => "no list price to compare with".into(),
    }
}

fn this_month(floor: &Floor, c: Context<'_>) -> Table {
    let row = |what: &str, cell: Cell| vec![Cell::Text(what.into()), cell];
    let margins = (c.margin_rows().into_iter()).map(|(what, x)| row(what, Cell::Share(x)));
    Table {
        name: "floor_this_month",
        fold: "This month's count",
        caption: format!("Prices against the floor, {}", month(c.scope.month.first())),
        columns: vec![
            words_column("what", "What"),
            numbers_column("value", "Value"),
        ],
        rows: [
            row(
                "Coated jobs held against a floor",
                Cell::Count(floor.checked),
            ),
            row("Charged less than it", Cell::Count(floor.jobs.len() as u64)),
            row("Short in all", Cell::Exact(floor.short_total)),
            row(
                "Could not be held against a floor",
                Cell::Count(floor.not_checked),
            ),
        ]
        .into_iter()
        .chain(margins)
        .collect(),
        definition: "Floor: expected cost over 1 less the floor margin less the card fee share."
            .into(),
    }
}

/// Why, and whom to ask.
fn causes(floor: &Floor, c: Context<'_>) -> Table {
    let row = |cause: &Cause| {
        vec![
            Cell::Text(reason(&cause.reason)),
            Cell::Count(cause.jobs),
            Cell::Exact(cause.short),
            Cell::Text(whom(cause)),
        ]
    };
    Table {
        name: "below_floor_causes",
        fold: "Why, and whom to ask",
        caption: format!(
            "Jobs charged less than their floor by reason, {}",
            month(c.scope.month.first())
        ),
        columns: vec![
            words_column("reason", "Why"),
            numbers_column("jobs", "Jobs"),
            numbers_column("short", "Short"),
            words_column("sold_by", "Sold by"),
        ],
        rows: floor.causes.iter().map(row).collect(),
        definition: "Each job by its plainest reason. Sellers in order of names; a list that is too low is no seller's doing.".into(),
    }
}

/// Place of the shop's column, which the page of a single shop leaves out.
const SHOP: usize = 1;

fn listed(floor: &Floor, c: Context<'_>, at_most: usize) -> Table {
    let row = |j: &Underpriced| {
        let why: Vec<String> = j.reasons.iter().map(reason).collect();
        vec![
            Cell::Text(j.job.clone()),
            Cell::Text(j.shop.clone()),
            Cell::Text(j.class.clone()),
            Cell::Text(j.finish.clone()),
            Cell::Text(who(&j.seller)),
            Cell::Exact(j.price),
            Cell::Exact(j.floor),
            Cell::Exact(j.short),
            Cell::Text(why.join("; ")),
        ]
    };
    let mut table = Table {
        name: "below_floor",
        fold: "The jobs, worst first",
        caption: format!(
            "Jobs charged less than their floor, {}",
            month(c.scope.month.first())
        ),
        columns: vec![
            words_column("job", "Job"),
            words_column("shop", "Shop"),
            words_column("vehicle_class", "Class"),
            words_column("finish", "Finish"),
            words_column("sold_by", "Sold by"),
            numbers_column("price", "Charged"),
            numbers_column("floor", "Floor"),
            numbers_column("short", "Short"),
            words_column("reasons", "Why"),
        ],
        rows: floor.jobs.iter().take(at_most).map(row).collect(),
        definition: format!(
            "Charged: less discount, without sales tax. {} of the month held against a floor; {} under it, short {} in all.",
            c.format
                .count_of(floor.checked, "coated job", "coated jobs"),
            c.format.count(floor.jobs.len() as u64),
            c.format.money_exact(floor.short_total)
        ),
    };
    if at_most == LISTED && floor.jobs.iter().all(|j| j.shop.is_empty()) {
        table.columns.remove(SHOP);
        table.rows.iter_mut().for_each(|row| {
            row.remove(SHOP);
        });
    }
    table
}
