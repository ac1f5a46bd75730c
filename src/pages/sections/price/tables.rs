//! The tables of price and answer.

use super::Context;
use crate::findings::price::{Answer, Peak, Price, PricePoint, Recorded, Unsaid};
use crate::pages::format::month;
use crate::pages::table::{Cell, Table, numbers_column, words_column};

/// Points of the curve between two rows of the table.
const STEP: usize = 4;

/// The curve, price by price.
pub(super) fn along(a: &Answer, c: Context<'_>) -> Table {
    let points = &a.curve.points;
    let at = |price: f64| points.iter().position(|p| p.price == price);
    let named = [
        at(a.curve.best.price),
        at(a.curve.flat_from),
        at(a.curve.flat_to),
    ];
    let shown = |i: &usize| i.is_multiple_of(STEP) || named.contains(&Some(*i));
    let last = points.len().saturating_sub(1);
    let what = |i: usize| match i {
        i if Some(i) == named[0] => "most is left",
        0 => "lowest tried",
        i if i == last => "highest tried",
        _ => "",
    };
    let row = |i: usize, p: &PricePoint| {
        vec![
            Cell::Change(p.price - 1.0),
            Cell::Money(p.price * a.usual_list),
            Cell::Share(p.acceptance.value),
            Cell::Share(p.acceptance.low),
            Cell::Share(p.acceptance.high),
            Cell::Money(p.contribution.value),
            Cell::Money(p.contribution.low),
            Cell::Money(p.contribution.high),
            Cell::Text(what(i).into()),
        ]
    };
    let rows = (0..points.len()).filter(shown);
    Table {
        name: "price_curve",
        fold: "Price by price",
        caption: format!(
            "Answer and what is left by price asked, months looked at, up to {}",
            month(c.scope.month.first())
        ),
        columns: vec![
            numbers_column("against_list", "Against today's list price"),
            numbers_column("price_of_usual_job", "Asked for the usual job"),
            numbers_column("acceptance", "Said yes"),
            numbers_column("acceptance_low", "Likely from"),
            numbers_column("acceptance_high", "Likely to"),
            numbers_column("left", "Left per offer"),
            numbers_column("left_low", "Likely from"),
            numbers_column("left_high", "Likely to"),
            words_column("what", ""),
        ],
        rows: rows.filter_map(|i| Some(row(i, points.get(i)?))).collect(),
        definition: "The chance of a yes by price asked, share of a full job, class, finish, sample and seller, over the same mix of offers at every price. The range tried has five offers at or beyond each end. Price asked: before discount; discounts count as a cost in their usual share. The usual job: the mean list price of the mix.".into(),
    }
}

/// What was written down, and what the fit says in single figures.
pub(super) fn counts(p: &Price, c: Context<'_>) -> Table {
    let r = &p.recorded;
    let mut rows = vec![
        row("Offers accepted", Cell::Count(r.accepted)),
        row(
            "Of these, price written down",
            Cell::Count(r.accepted_priced),
        ),
        row("Offers declined", Cell::Count(r.declined)),
        row(
            "Of these, price written down",
            Cell::Count(r.declined_priced),
        ),
        row(
            "Priced, but not on the price list",
            Cell::Count(r.without_list),
        ),
        row("Offered at no price", Cell::Count(r.for_nothing)),
    ];
    match &p.said {
        Ok(a) => rows.extend(of_answer(a)),
        Err(Unsaid::TooFew(n)) => rows.push(row("Of those needed", Cell::Missing(n.clone()))),
        Err(Unsaid::NotWritten) => rows.extend(to_go(r, c)),
        Err(_) => {}
    }
    Table {
        name: "price_offers",
        fold: "What was written down",
        caption: format!(
            "Offers and their prices, months looked at, up to {}",
            month(c.scope.month.first())
        ),
        columns: vec![
            words_column("what", "What"),
            numbers_column("value", "Value"),
        ],
        rows,
        definition: "Film jobs that the coating suits and that are known to have been offered it. At least four fifths of both answers need a price, or those written down may be unlike the rest.".into(),
    }
}

fn row(what: &str, cell: Cell) -> Vec<Cell> {
    vec![Cell::Text(what.into()), cell]
}

/// How many offers still need a price, and how long that takes.
fn to_go(r: &Recorded, c: Context<'_>) -> Vec<Vec<Cell>> {
    let n = r.lacking();
    let more = n.need.saturating_sub(n.have);
    let months = r.months_to_go(c.scope.months());
    vec![
        row("Offers that still need a price", Cell::Count(more)),
        row(
            "Months that takes at this pace",
            months.map_or(Cell::Blank, Cell::Count),
        ),
    ]
}

fn of_answer(a: &Answer) -> Vec<Vec<Cell>> {
    let mut rows = vec![row("Offers in the curve", Cell::Count(a.offers))];
    let off = |x: f64| Cell::Change(x - 1.0);
    match a.curve.peak {
        Peak::Inside { price } => rows.extend([
            row(
                "Most is left at, against today's list price",
                off(price.value),
            ),
            row("The same, likely from", off(price.low)),
            row("The same, likely to", off(price.high)),
        ]),
        Peak::AtOrBeyondTop { tried } | Peak::AtOrBelowBottom { tried } => rows.push(row(
            "Most is left at or beyond, against today's list price",
            off(tried),
        )),
    }
    let tenth = |slope: f64| Cell::Factor(1.1_f64.powf(slope));
    rows.extend([
        row(
            "Curves that peak at the top",
            Cell::Share(a.curve.chance_top),
        ),
        row(
            "Curves that peak at the bottom",
            Cell::Share(a.curve.chance_bottom),
        ),
        row("Odds of a yes at a tenth more, times", tenth(a.slope.value)),
        row("The same, likely from", tenth(a.slope.low)),
        row("The same, likely to", tenth(a.slope.high)),
        row(
            "Discount, share of the price asked",
            Cell::FineShare(a.discount),
        ),
        row("Mean list price", Cell::Money(a.usual_list)),
    ]);
    rows
}
