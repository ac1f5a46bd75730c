//! Bottles: where the coating went, and how many the next months need.

mod said;

pub(in crate::pages) use said::{covers, less_shelf};

use super::{Context, Section, say};
use crate::findings::Findings;
use crate::findings::bottles::{Balance, Bottles, Forgotten, Hundredths, Need, Row, Shelf};
use crate::money::Minor;
use crate::pages::format::Format;
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{SectionView, Sentence};
use serde_json::{Value, json};

pub(in crate::pages) const ID: &str = "bottles";
const HEADING: &str = "Bottles";

/// The section.
pub(in crate::pages) fn section(all: &Findings, c: Context<'_>) -> Section {
    let f = c.format;
    let coated = all.attach.coated;
    let x = match &all.bottles {
        Ok(x) => x,
        Err(why) => return Section::missing(ID, HEADING, why, f),
    };
    let view = SectionView {
        id: ID.into(),
        heading: HEADING.into(),
        sentence: said::sentence_of(x, coated, f),
        notes: vec![said::gone(x, f)],
        more: more(x, f),
        ..SectionView::default()
    };
    let mut tables = vec![next(x)];
    tables.extend(x.shelf.as_ref().map(|s| shelf(x, s, coated)));
    tables.extend([balance(x), in_money(x)]);
    tables.extend(x.shelf.as_ref().map(forgotten));
    tables.retain(|t| !t.rows.is_empty());
    Section::new(view, tables, f)
}

fn more(x: &Bottles, f: &Format) -> Vec<Sentence> {
    let mut all = vec![say(if x.named {
        "What a job took stands in the month in which the bottle that it names was opened. Samples, training, spills, bottles weighed wrong and coating used on callbacks stand in what is not explained."
    } else {
        "No job names the bottle that it took from, so what jobs took stands in their own month: a bottle opened late in a month makes that month look short and the next one long. Write the bottle down to see more."
    })];
    if x.unknown_jobs > 0 {
        all.push(say(format!(
            "{} neither measured nor possible to estimate; what they took stands in what is not explained.",
            f.count_of(x.unknown_jobs, "job was", "jobs were")
        )));
    }
    all.push(say("The need is simulated from past months, jobs and use with their uncertainty; a season, a new price, a new finish or a lasting rise in the share of customers is not in it."));
    all.extend(x.shelf.as_ref().and_then(|s| forgotten_note(s, f)));
    all
}

fn next(x: &Bottles) -> Table {
    let row = |n: &Need| {
        vec![
            Cell::Count(n.months.into()),
            Cell::Count(n.jobs.half as u64),
            Cell::Volume(n.ml.half),
            Cell::Count(n.bottles_half),
            Cell::Count(n.jobs.nine_tenths as u64),
            Cell::Volume(n.ml.nine_tenths),
            Cell::Count(n.bottles_nine_tenths),
        ]
    };
    Table {
        name: "bottles_needed",
        fold: "What the next months need",
        caption: "Coating and bottles for the next one to three months".into(),
        columns: vec![
            numbers_column("months", "Months ahead"),
            numbers_column("jobs_half", "Coated jobs, half of the time"),
            numbers_column("ml_half", "mL, half of the time"),
            numbers_column("bottles_half", "Bottles, half of the time"),
            numbers_column("jobs_nine_tenths", "Coated jobs, nine times in ten"),
            numbers_column("ml_nine_tenths", "mL, nine times in ten"),
            numbers_column("bottles_nine_tenths", "Bottles, nine times in ten"),
        ],
        rows: x.needs.iter().flatten().map(row).collect(),
        definition: "Worked out by drawing months like the past ones by lot, many times over: jobs a month, areas of jobs and coating used, each as uncertain as it is. Whole bottles at what an emptied bottle usually gives.".into(),
    }
}

/// Bottles that nobody wrote down as emptied.
fn forgotten_note(s: &Shelf, f: &Format) -> Option<Sentence> {
    let n = s.forgotten.len() as u64;
    (n > 0).then(|| {
        say(format!(
            "{} opened before the months looked at and never written down as emptied; counted as empty here, and listed below.",
            f.count_of(n, "bottle was", "bottles were")
        ))
    })
}

fn forgotten(s: &Shelf) -> Table {
    let row = |b: &Forgotten| vec![Cell::Text(b.bottle.clone()), Cell::Month(b.opened)];
    Table {
        name: "bottles_not_closed",
        fold: "Bottles opened long ago and not written down as emptied",
        caption: "Bottles opened before the months looked at without a day they were emptied"
            .into(),
        columns: vec![
            words_column("bottle", "Bottle"),
            numbers_column("opened", "Opened in"),
        ],
        rows: s.forgotten.iter().map(row).collect(),
        definition: "They are counted as empty. Write down when each was emptied.".into(),
    }
}

fn shelf(x: &Bottles, s: &Shelf, coated: u64) -> Table {
    let row = |what: &str, count: Cell, ml: Cell| vec![Cell::Text(what.into()), count, ml];
    let mut rows = vec![
        row(
            "Unopened",
            Cell::Count(s.unopened),
            Cell::Volume(s.unopened_ml.ml()),
        ),
        row("Open", Cell::Count(s.open), Cell::Volume(s.open_ml.ml())),
        row(
            "On hand together",
            Cell::Count(s.unopened + s.open),
            Cell::Volume(s.ml().ml()),
        ),
        row(
            "Opened before the months looked at, not written down as emptied",
            Cell::Count(s.forgotten.len() as u64),
            Cell::Blank,
        ),
    ];
    for need in x.needs.iter().flatten() {
        let months = match need.months {
            1 => "To buy for one month, nine times in ten",
            2 => "To buy for two months, nine times in ten",
            _ => "To buy for three months, nine times in ten",
        };
        let lacking = (need.ml.nine_tenths - s.ml().ml()).max(0.0);
        let count = x.to_buy(need).map_or(Cell::Blank, Cell::Count);
        rows.push(row(months, count, Cell::Volume(lacking)));
    }
    let next = x.needs.as_ref().ok().and_then(|n| n.first());
    if let Some((buy, ml)) = next.and_then(|n| said::repeated(x, n, coated)) {
        let what = format!("To buy should this month's {coated} coated jobs repeat");
        rows.push(row(&what, Cell::Count(buy), Cell::Volume(ml)));
    }
    Table {
        name: "bottles_on_hand",
        fold: "What is on hand, and what to buy",
        caption: "Bottles on hand at the data's end, and bottles to buy".into(),
        columns: vec![
            words_column("what", "What"),
            numbers_column("bottles", "Bottles"),
            numbers_column("ml", "mL"),
        ],
        rows,
        definition: "Unopened: bottles on the list without a day they were opened or emptied, at what a bottle usually gives. Open: what they held less what was taken from each. To buy: the need nine times in ten less what is on hand, in whole bottles at what a bottle usually gives. This month's jobs: at the mL a job that nine months in ten need.".into(),
    }
}

fn month_cells(r: &Row) -> [Cell; 2] {
    let product = if r.product.is_empty() {
        "not recorded"
    } else {
        &r.product
    };
    [Cell::Month(r.month), Cell::Text(product.into())]
}

fn balance(x: &Bottles) -> Table {
    let amounts = |b: &Balance<Hundredths>| {
        [
            b.bought,
            b.measured,
            b.estimated,
            b.left_over,
            b.open,
            b.unexplained,
        ]
        .map(|v| Cell::Volume(v.ml()))
        .into_iter()
        .chain([Cell::maybe(said::unexplained(b), Cell::FineShare)])
    };
    let row = |r: &Row| {
        let mut all = Vec::from(month_cells(r));
        all.extend([Cell::Count(r.bottles), Cell::Count(r.open_bottles)]);
        all.extend(amounts(&r.ml));
        all
    };
    let mut rows: Vec<Vec<Cell>> = x.rows.iter().rev().map(row).collect();
    let count = |of: fn(&Row) -> u64| Cell::Count(x.rows.iter().map(of).sum());
    let mut total = vec![
        Cell::Text("all months".into()),
        Cell::Text("all".into()),
        count(|r| r.bottles),
        count(|r| r.open_bottles),
    ];
    total.extend(amounts(&x.ml));
    rows.push(total);
    Table {
        name: "bottles_by_month",
        fold: "Where the coating went, by month and product",
        caption: "Coating bought and what became of it [mL]".into(),
        columns: vec![
            numbers_column("month", "Opened in"),
            words_column("product", "Product"),
            numbers_column("bottles", "Bottles"),
            numbers_column("open_bottles", "Still open"),
            numbers_column("bought_ml", "Bought"),
            numbers_column("measured_ml", "Measured"),
            numbers_column("estimated_ml", "Estimated"),
            numbers_column("left_over_ml", "Left over"),
            numbers_column("open_ml", "In open bottles"),
            numbers_column("unexplained_ml", "Not explained"),
            numbers_column("unexplained_share", "Of bought"),
        ],
        rows,
        definition: "Bought = measured + estimated + left over + open + not explained, to the hundredth of a mL. Estimated: jobs without a measure, as the coating used section has it.".into(),
    }
}

fn in_money(x: &Bottles) -> Table {
    let amounts = |b: &Balance<Minor>| {
        [
            b.bought,
            b.measured,
            b.estimated,
            b.left_over,
            b.open,
            b.unexplained,
        ]
        .map(Cell::Exact)
    };
    let row = |r: &Row| {
        let mut all = Vec::from(month_cells(r));
        all.extend(amounts(&r.money?));
        all.push(Cell::maybe(r.per_ml(), Cell::PerVolume));
        Some(all)
    };
    let mut rows: Vec<Vec<Cell>> = x.rows.iter().rev().filter_map(row).collect();
    if let Some(money) = &x.money {
        let mut total = vec![Cell::Text("all months".into()), Cell::Text("all".into())];
        total.extend(amounts(money));
        total.push(Cell::Blank);
        rows.push(total);
    }
    Table {
        name: "bottles_in_money",
        fold: "The same in money, with the price per mL",
        caption: "Coating bought and what became of it, in money".into(),
        columns: vec![
            numbers_column("month", "Opened in"),
            words_column("product", "Product"),
            numbers_column("bought", "Bought"),
            numbers_column("measured", "Measured"),
            numbers_column("estimated", "Estimated"),
            numbers_column("left_over", "Left over"),
            numbers_column("open", "In open bottles"),
            numbers_column("unexplained", "Not explained"),
            numbers_column("per_ml", "Cost per mL bought"),
        ],
        rows,
        definition: "Cost per mL bought: over all that the bottles held; the cost per mL elsewhere on this page is over what came to use, so it is a little higher. Each part at the price per mL of its row, rounded once; not explained is the rest, so that a row adds up to the cent. Where use stands in a month without a bottle of its own, the price over all months looked at is used.".into(),
    }
}

/// For machines.
// Long because it is a list: a key a line.
pub(in crate::pages) fn json(x: &Bottles) -> Value {
    let ml = |b: &Balance<Hundredths>| {
        json!({
            "bought": b.bought.ml(), "measured": b.measured.ml(), "estimated": b.estimated.ml(),
            "left_over": b.left_over.ml(), "open": b.open.ml(), "unexplained": b.unexplained.ml(),
        })
    };
    let money = |b: &Balance<Minor>| {
        json!({
            "bought": b.bought, "measured": b.measured, "estimated": b.estimated,
            "left_over": b.left_over, "open": b.open, "unexplained": b.unexplained,
        })
    };
    let months: Vec<Value> = (x.rows.iter())
        .map(|r| {
            let mut row = json!({
                "month": r.month, "product": r.product, "bottles": r.bottles,
                "open_bottles": r.open_bottles, "ml": ml(&r.ml),
            });
            if let Some(m) = &r.money {
                row["money"] = money(m);
            }
            if let Some(price) = r.per_ml() {
                row["per_ml"] = json!(price);
            }
            row
        })
        .collect();
    let need = |n: &Need| {
        json!({
            "months": n.months,
            "jobs": {"half": n.jobs.half, "nine_tenths": n.jobs.nine_tenths},
            "ml": {"half": n.ml.half, "nine_tenths": n.ml.nine_tenths},
            "bottles_half": n.bottles_half, "bottles_nine_tenths": n.bottles_nine_tenths,
            "draws": n.draws, "seed": n.seed,
        })
    };
    let needs = match &x.needs {
        Ok(all) => Value::Array(all.iter().map(need).collect()),
        Err(n) => json!({"not_enough": n}),
    };
    let mut all = json!({
        "months": months,
        "ml": ml(&x.ml),
        "bottles_named": x.named,
        "unknown_jobs": x.unknown_jobs,
        "need": needs,
    });
    if let Some(m) = &x.money {
        all["money"] = money(m);
    }
    if let Some(ml) = x.usable_ml {
        all["usable_ml"] = json!(ml);
    }
    if let Some(s) = &x.shelf {
        let buy: Vec<Value> = (x.needs.iter().flatten())
            .filter_map(|n| Some(json!({"months": n.months, "bottles": x.to_buy(n)?})))
            .collect();
        all["on_hand"] = json!({
            "unopened_bottles": s.unopened, "unopened_ml": s.unopened_ml.ml(),
            "open_bottles": s.open, "open_ml": s.open_ml.ml(), "buy": buy,
            "not_closed": s.forgotten.iter().map(|b| json!({"bottle": b.bottle, "opened": b.opened})).collect::<Vec<Value>>(),
        });
    }
    all
}
