//! What bottles told the use section: how they entered the fit, which did
//! not, and what a mL cost.

use super::say;
use crate::findings::coating_cost::{CoatingCost, MonthCost, ProductCost};
use crate::findings::consumption::{BottleLeftOut, BottleUse, WhyNot};
use crate::pages::format::Format;
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::Sentence;

/// How emptied bottles entered.
pub(super) fn bottle_notes(b: &BottleUse, f: &Format) -> Option<Sentence> {
    if b.used == 0 && b.left_out.is_empty() {
        return None;
    }
    let how = match (b.by_name, b.by_date) {
        (true, false) => "by the bottle that each record of work names",
        (false, true) => "by the days on which each bottle was open",
        _ => {
            "by the bottle that each record of work names, in shops that name none by the days on which each bottle was open"
        }
    };
    let left_out = match b.left_out.len() as u64 {
        0 => String::new(),
        n => format!(
            " {} left out and listed below.",
            f.count_of(n, "bottle is", "bottles are")
        ),
    };
    Some(say(format!(
        "{} told what unmeasured jobs took: what each held, less left-over, less what was measured on it. Jobs were matched to bottles {how}; where one job used two bottles, its split is taken as unknown.{left_out}",
        f.count_of(b.used, "emptied bottle", "emptied bottles")
    )))
}

/// Bottles that the fit leaves out, and why.
pub(super) fn bottles_left_out(bottles: &[BottleLeftOut]) -> Table {
    let word = |why| match why {
        WhyNot::NotWithin => "not opened and emptied within the months looked at",
        WhyNot::NoVolume => "what it held is not recorded",
        WhyNot::MoreThanItHeld => "more was measured on it than it held",
        WhyNot::JobWithoutBottle => "a job of its days names no bottle",
        WhyNot::JobWithoutArea => "a job done from it has no area",
        WhyNot::RareFinish => "a job done from it is on a finish too rare to be told apart",
        WhyNot::WithAnother => "was open beside a bottle that is left out: both count as one",
    };
    let row = |b: &BottleLeftOut| {
        vec![
            Cell::Text(b.bottle.clone()),
            Cell::Text(b.shop.clone()),
            Cell::Text(word(b.why).into()),
        ]
    };
    let table = Table {
        name: "bottles_left_out",
        fold: "Bottles left out of the figures",
        caption: "Bottles left out of the figures".into(),
        columns: vec![
            words_column("bottle", "Bottle"),
            words_column("shop", "Shop"),
            words_column("why", "Why"),
        ],
        rows: bottles.iter().map(row).collect(),
        definition: "Nothing is guessed about them. Bottles that one measured job drew on both, or that were open side by side, count as one.".into(),
    };
    table.without_blank("shop")
}

/// Cost of the coating by product and by month.
pub(super) fn costs(x: &CoatingCost) -> Vec<Table> {
    let product = |p: &ProductCost| {
        vec![
            Cell::Text(p.product.clone().unwrap_or_else(|| "not recorded".into())),
            Cell::Count(p.bought.bottles),
            Cell::PerVolume(p.bought.per_ml),
            Cell::PerVolume(p.bought.least),
            Cell::PerVolume(p.bought.most),
        ]
    };
    let month = |m: &MonthCost| {
        vec![
            Cell::Month(m.month),
            Cell::Count(m.bought.bottles),
            Cell::PerVolume(m.bought.per_ml),
        ]
    };
    let products = Table {
        name: "coating_cost_by_product",
        fold: "Cost per mL, product by product",
        caption: "Cost of the coating by product".into(),
        columns: vec![
            words_column("product", "Product"),
            numbers_column("bottles", "Bottles"),
            numbers_column("cost_per_ml", "Cost per mL that came to use"),
            numbers_column("cheapest_bottle", "Cheapest bottle"),
            numbers_column("dearest_bottle", "Dearest bottle"),
        ],
        rows: x.products.iter().map(product).collect(),
        definition:
            "What the bottles opened in the months looked at cost, over the mL that came to use: what was left in them is paid for too. These are all the bottles there are, so the figure is a fact and has no likely range."
                .into(),
    };
    let months = Table {
        name: "coating_cost_by_month",
        fold: "Cost per mL, month by month",
        caption: "Cost of the coating by month of opening".into(),
        columns: vec![
            words_column("month", "Month"),
            numbers_column("bottles", "Bottles"),
            numbers_column("cost_per_ml", "Cost per mL that came to use"),
        ],
        rows: x.months.iter().map(month).collect(),
        definition: "All products together. The section on bottles has the cost per mL bought, which is a little lower: it counts what was left in them too.".into(),
    };
    let all = [products, months];
    all.into_iter().filter(|t| !t.rows.is_empty()).collect()
}
