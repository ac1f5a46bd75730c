//! The price list, entry by entry.

use super::{Context, Section, drawn, say};
use crate::charts::{Cell as Square, Cover, Heat, HeatRow, figure_of, heat};
use crate::findings::Missing;
use crate::findings::headline::rises;
use crate::findings::price_list::{Entry, PriceList, UNDER, Verdict};
use crate::money::Minor;
use crate::pages::do_next::prices;
use crate::pages::error::PageError;
use crate::pages::format::{Format, month};
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{Piece, SectionView, Sentence, words as plain};
use crate::pages::words;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

pub(in crate::pages) const ID: &str = "price-list";
const HEADING: &str = "Price list";
/// Squares that are drawn at most; more of them make a page that is slow to
/// open and that nobody reads.
const MOST_SQUARES: usize = 240;
/// Columns likewise.
const MOST_COLUMNS: usize = 12;

/// The section.
pub(in crate::pages) fn section(
    found: &Result<PriceList, Missing>,
    c: Context<'_>,
) -> Result<Section, PageError> {
    Section::of(found, ID, HEADING, c, |list| shown(list, c))
}

fn shown(list: &PriceList, c: Context<'_>) -> Result<Section, PageError> {
    let f = c.format;
    let sentence = sentence_of(list, f);
    let spec = chart(list, f);
    let drawing = figure_of(ID, HEADING, &plain(&sentence), |s| heat(&spec, s));
    let unit = format!(
        "List price of a full job, {}, and what would mend it",
        f.currency.code
    );
    let view = SectionView {
        id: ID.into(),
        heading: HEADING.into(),
        figures: drawn(ID, unit, spec.key(), drawing)?,
        sentence,
        how_to_read: say(format!(
            "A list price is under its floor where such a job leaves less than {} of it after its expected costs. It is called under where that is at least {} sure, and likely under where it is more likely than not.",
            f.share(c.money.floor_margin),
            f.share(UNDER)
        )),
        more: more(list, &spec, c),
        ..SectionView::default()
    };
    Ok(Section::new(
        view,
        vec![entries(list, c), counts(list, c)],
        f,
    ))
}

fn count(list: &PriceList, verdict: Verdict) -> u64 {
    list.of(verdict).count() as u64
}

fn sentence_of(list: &PriceList, f: &Format) -> Sentence {
    let all = f.count_of(list.entries.len() as u64, "entry", "entries");
    let (under, likely) = (
        count(list, Verdict::Under),
        count(list, Verdict::LikelyUnder),
    );
    if under + likely == 0 {
        return say(format!(
            "Of {all} of the price list, none is under its floor as far as the jobs can tell."
        ));
    }
    let likely = match likely {
        0 => String::new(),
        n => format!(" and {} likely under it", f.count(n)),
    };
    let mut said = say(format!(
        "Of {all} of the price list, **{} under the floor**{likely}.",
        is_or_are(under, f)
    ));
    if under > 0 {
        said.extend(say(" Raise "));
        said.push(Piece::strong(prices::rises(&rises(list), f)));
        said.extend(say(format!(
            ": at the same sales that would have brought {}.",
            brought(list.would_bring(Verdict::Under), list.months, f)
        )));
    }
    said
}

/// "about $29 a month ($346 in 12 months)".
pub(in crate::pages) fn brought(all: Minor, months: u64, f: &Format) -> String {
    format!(
        "about {} a month ({} in {})",
        f.money_about(a_month(all, months)),
        f.money(all),
        f.count_of(months, "month", "months")
    )
}

/// Of a month [minor units].
fn a_month(all: Minor, months: u64) -> f64 {
    all.as_f64() / months.max(1) as f64
}

fn is_or_are(n: u64, f: &Format) -> String {
    format!("{} {}", f.count(n), if n == 1 { "is" } else { "are" })
}

fn more(list: &PriceList, drawn: &Heat, c: Context<'_>) -> Vec<Sentence> {
    let f = c.format;
    let mut all = vec![c.margins()];
    all.extend(c.not_set("more entries may be under their floor than it seems"));
    let unknown = count(list, Verdict::NotEnough);
    if unknown > 0 {
        all.push(say(format!(
            "For {} the jobs do not say what the work costs.",
            f.count_of(unknown, "entry", "entries")
        )));
    }
    if list.others > 0 {
        all.push(say(format!(
            "{} more of the list are of a class or finish too rare to be told apart, and are not judged.",
            f.count(list.others)
        )));
    }
    all.extend(not_drawn(drawn, list));
    all.push(say(
        "At a higher price fewer customers may take the coating: what it would have brought supposes that as many do. The last column supposes that fewer do, where the prices of declined offers tell how many.",
    ));
    all
}

fn verdict_word(v: Verdict) -> &'static str {
    match v {
        Verdict::Under => "under the floor",
        Verdict::LikelyUnder => "likely under",
        Verdict::Covers => "covers",
        Verdict::NotEnough => "not enough jobs",
    }
}

fn square(e: &Entry, f: &Format) -> Square {
    let cover = match e.verdict {
        Verdict::Under => Cover::Under,
        Verdict::LikelyUnder => Cover::LikelyUnder,
        Verdict::Covers => Cover::Covers,
        Verdict::NotEnough => Cover::Unknown,
    };
    let mend = e.judged.as_ref().ok().filter(|j| j.mend_to > e.list);
    Square {
        text: f.money(e.list),
        note: mend.map_or_else(String::new, |j| format!("\u{2192} {}", f.money(j.mend_to))),
        cover,
        tip: match &e.judged {
            Ok(j) => format!(
                "{} {}: list {}, floor {}, {}",
                e.class,
                e.finish,
                f.money(e.list),
                f.money(j.floor),
                verdict_word(e.verdict)
            ),
            Err(n) => format!("{} {}: {}", e.class, e.finish, words::missing(n, f)),
        },
    }
}

fn chart(list: &PriceList, f: &Format) -> Heat {
    let names =
        |of: fn(&Entry) -> &String| -> BTreeSet<&String> { list.entries.iter().map(of).collect() };
    let finishes = sold_most(list, &names(|e| &e.finish), MOST_COLUMNS, |e| &e.finish);
    let rows = MOST_SQUARES / finishes.len().max(1);
    let classes = sold_most(list, &names(|e| &e.class), rows, |e| &e.class);
    let entries = list.entries.iter();
    let entries: BTreeMap<_, _> = entries.map(|e| ((&e.class, &e.finish), e)).collect();
    let cell = |class, finish| {
        let entry = entries.get(&(class, finish));
        entry.map_or_else(none, |e| square(e, f))
    };
    Heat {
        columns: finishes.iter().map(|x| (*x).clone()).collect(),
        rows: classes
            .iter()
            .map(|class| HeatRow {
                label: (*class).clone(),
                cells: finishes.iter().map(|finish| cell(class, finish)).collect(),
            })
            .collect(),
    }
}

/// Of names those under which most jobs were sold, `most` at most, as they
/// stood.
fn sold_most<'a>(
    list: &'a PriceList,
    names: &BTreeSet<&'a String>,
    most: usize,
    of: fn(&Entry) -> &String,
) -> Vec<&'a String> {
    let mut sold: BTreeMap<&String, u64> = BTreeMap::new();
    for entry in &list.entries {
        *sold.entry(of(entry)).or_default() += entry.sold;
    }
    let mut order: Vec<&String> = names.iter().copied().collect();
    order.sort_by_key(|name| Reverse(sold.get(name).copied().unwrap_or(0)));
    order.truncate(most);
    order.sort_unstable();
    order
}

/// What the drawing leaves to the table.
fn not_drawn(drawn: &Heat, list: &PriceList) -> Option<Sentence> {
    let is_drawn = |e: &Entry| {
        drawn.columns.contains(&e.finish) && drawn.rows.iter().any(|r| r.label == e.class)
    };
    (!list.entries.iter().all(is_drawn)).then(|| {
        say("The list is too long to be drawn whole: the classes and finishes sold most are drawn, and the table has every entry.")
    })
}

/// A pair that the list does not price.
fn none() -> Square {
    Square {
        text: "no price".into(),
        note: String::new(),
        cover: Cover::Unknown,
        tip: "Not in the price list".into(),
    }
}

fn entries(list: &PriceList, c: Context<'_>) -> Table {
    let money = |x: crate::money::Minor| Cell::Money(x.as_f64());
    let row = |e: &Entry| {
        let mut cells = vec![
            Cell::Text(e.class.clone()),
            Cell::Text(e.finish.clone()),
            money(e.list),
        ];
        match &e.judged {
            Ok(j) => cells.extend([
                money(j.mend_to),
                Cell::Text(verdict_word(e.verdict).into()),
                Cell::Share(j.chance_under),
                money(j.floor),
                Cell::Money(j.cost.value),
                Cell::Money(j.cost.low),
                Cell::Money(j.cost.high),
                Cell::Count(e.sold),
                Cell::Exact(j.would_bring),
                match &j.would_leave {
                    Ok(left) => Cell::Exact(*left),
                    Err(n) => Cell::Missing(n.clone()),
                },
            ]),
            Err(n) => {
                let missing = [
                    Cell::Blank,
                    Cell::Text(verdict_word(e.verdict).into()),
                    Cell::Missing(n.clone()),
                ];
                cells.extend(missing);
                cells.extend(vec![Cell::Blank; 4]);
                cells.extend([Cell::Count(e.sold), Cell::Blank, Cell::Blank]);
            }
        }
        cells
    };
    Table {
        name: "price-list",
        fold: "The entries",
        caption: format!("Price list against the work, {}", month(c.scope.month.first())),
        columns: vec![
            words_column("class", "Class"),
            words_column("finish", "Finish"),
            numbers_column("list", "List price"),
            numbers_column("mend_to", "Price that covers"),
            words_column("verdict", "How it stands"),
            numbers_column("chance_under", "Chance that it is under"),
            numbers_column("floor", "Floor"),
            numbers_column("cost", "Expected cost"),
            numbers_column("cost_low", "Likely from"),
            numbers_column("cost_high", "Likely to"),
            numbers_column("sold", "Coated jobs"),
            numbers_column("would_bring", "Would have brought"),
            numbers_column("would_leave", "With fewer takers, after costs"),
        ],
        rows: list.entries.iter().map(row).collect(),
        definition: "Full jobs, at the list prices in use at the month's end. Expected cost: coating, loaded labor, consumables and the reserve for callbacks; likely from, to: of the expected cost. Price that covers: the floor, rounded up as the shop rounds; the list price where that covers. A two-tone job is sold at the list price of its dearer finish and counts there; its own floor counts each finish over its own area, so for a full job it lies between those of the two. Coated jobs, would have brought: of the months looked at, partial jobs by their share, less tax and card fees. With fewer takers: the same after costs, with as many takers as the section on price and answer expects, at prices that were tried.".into(),
    }
}

fn counts(list: &PriceList, c: Context<'_>) -> Table {
    let verdicts = [
        Verdict::Under,
        Verdict::LikelyUnder,
        Verdict::Covers,
        Verdict::NotEnough,
    ];
    let row = |v: Verdict| {
        vec![
            Cell::Text(verdict_word(v).into()),
            Cell::Count(count(list, v)),
            Cell::Exact(list.would_bring(v)),
        ]
    };
    let mut rows: Vec<Vec<Cell>> = verdicts.into_iter().map(row).collect();
    let both = list.would_bring(Verdict::Under) + list.would_bring(Verdict::LikelyUnder);
    rows.push(vec![
        Cell::Text("All entries".into()),
        Cell::Count(list.entries.len() as u64),
        Cell::Exact(both),
    ]);
    let under = list.would_bring(Verdict::Under);
    rows.push(vec![
        Cell::Text("Under the floor, a month; months looked at".into()),
        Cell::Count(list.months),
        Cell::PerVolume(a_month(under, list.months)),
    ]);
    if list.others > 0 {
        rows.push(vec![
            Cell::Text("Others, too rare to be judged".into()),
            Cell::Count(list.others),
            Cell::Blank,
        ]);
    }
    let under = ("Called under from a chance of", UNDER);
    let shares = c.margin_rows().into_iter().chain([under]);
    rows.extend(shares.map(|(what, share)| {
        let cells = [Cell::Text(what.into()), Cell::Share(share), Cell::Blank];
        Vec::from(cells)
    }));
    Table {
        name: "price_list_counts",
        fold: "How many, and the margins",
        caption: format!(
            "Entries of the price list, {}",
            month(c.scope.month.first())
        ),
        columns: vec![
            words_column("what", "What"),
            numbers_column("entries", "Entries, months or share"),
            numbers_column("would_bring", "Would have brought"),
        ],
        rows,
        definition: format!(
            "Under the floor: a chance of more than {}. Likely under: more than an even chance. Over {}.",
            c.format.share(UNDER),
            c.format.count_of(list.months, "month", "months")
        ),
    }
}
