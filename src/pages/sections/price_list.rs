//! The price list, entry by entry.

use super::{Context, Section, drawn, say};
use crate::charts::{Cell as Square, Cover, Heat, HeatRow, figure_of, heat};
use crate::findings::Missing;
use crate::findings::price_list::{Entry, PriceList, UNDER, Verdict};
use crate::pages::error::PageError;
use crate::pages::format::{Format, month};
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{SectionView, Sentence, words as plain};
use crate::pages::words;
use std::collections::BTreeSet;

pub(in crate::pages) const ID: &str = "price-list";
const HEADING: &str = "Price list";

/// The section. `margin`: the floor margin of the settings.
pub(in crate::pages) fn section(
    found: &Result<PriceList, Missing>,
    margin: f64,
    c: Context<'_>,
) -> Result<Section, PageError> {
    Section::of(found, ID, HEADING, c, |list| shown(list, margin, c))
}

fn shown(list: &PriceList, margin: f64, c: Context<'_>) -> Result<Section, PageError> {
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
            "An entry is under its floor where such a job, at list price, leaves less than {} of it after its expected costs. It is called under where that is at least {} sure, and likely under where it is more likely than not.",
            f.share(margin),
            f.share(UNDER)
        )),
        notes: c.not_set().into_iter().chain(notes(list, f)).collect(),
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
    say(format!(
        "Of {all} of the price list, **{} under the floor** and {} likely under it. At the same sales the mended prices would have brought {} over the window, {} of it on those that are under.",
        is_or_are(under, f),
        f.count(likely),
        f.money(list.would_bring(Verdict::Under) + list.would_bring(Verdict::LikelyUnder)),
        f.money(list.would_bring(Verdict::Under))
    ))
}

fn is_or_are(n: u64, f: &Format) -> String {
    format!("{} {}", f.count(n), if n == 1 { "is" } else { "are" })
}

fn notes(list: &PriceList, f: &Format) -> Vec<Sentence> {
    let mut all = Vec::new();
    let unknown = count(list, Verdict::NotEnough);
    if unknown > 0 {
        all.push(say(format!(
            "For {} the jobs do not say what the work costs.",
            f.count_of(unknown, "entry", "entries")
        )));
    }
    all.push(say(
        "Fewer customers may take the coating at a higher price: what the mended prices would have brought supposes that as many do.",
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
    let (classes, finishes) = (names(|e| &e.class), names(|e| &e.finish));
    let cell = |class: &String, finish: &String| {
        let entry = list
            .entries
            .iter()
            .find(|e| &e.class == class && &e.finish == finish);
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
                money(j.would_bring),
            ]),
            Err(n) => {
                let missing = [
                    Cell::Blank,
                    Cell::Text(verdict_word(e.verdict).into()),
                    Cell::Missing(n.clone()),
                ];
                cells.extend(missing);
                cells.extend(vec![Cell::Blank; 4]);
                cells.extend([Cell::Count(e.sold), Cell::Blank]);
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
            numbers_column("sold", "Coated jobs in the window"),
            numbers_column("would_bring", "Would have brought"),
        ],
        rows: list.entries.iter().map(row).collect(),
        definition: "Full jobs, at the list prices in force at the month's end. Expected cost: coating, loaded labour, consumables and the reserve for callbacks; likely from, to: 95% interval. Price that covers: the floor, rounded up as the shop rounds; the list price where that covers. A two-tone job counts with the dearer of its finishes. Would have brought: on the window's jobs, partial ones by their share, less tax and card fees.".into(),
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
            Cell::Money(list.would_bring(v).as_f64()),
        ]
    };
    let mut rows: Vec<Vec<Cell>> = verdicts.into_iter().map(row).collect();
    let both = list.would_bring(Verdict::Under) + list.would_bring(Verdict::LikelyUnder);
    rows.push(vec![
        Cell::Text("All entries".into()),
        Cell::Count(list.entries.len() as u64),
        Cell::Money(both.as_f64()),
    ]);
    if let Some(others) = count(list, Verdict::Under).checked_sub(1) {
        let worst = list
            .worst()
            .map_or_else(Default::default, Entry::would_bring);
        rows.push(vec![
            Cell::Text("Under the floor, without the one that would have brought most".into()),
            Cell::Count(others),
            Cell::Money((list.would_bring(Verdict::Under) - worst).as_f64()),
        ]);
    }
    Table {
        name: "price_list_counts",
        fold: "How many",
        caption: format!(
            "Entries of the price list, {}",
            month(c.scope.month.first())
        ),
        columns: vec![
            words_column("what", "What"),
            numbers_column("entries", "Entries"),
            numbers_column("would_bring", "Would have brought"),
        ],
        rows,
        definition: format!(
            "Under the floor: a chance of more than {}. Likely under: more than an even chance. Over a window of {}.",
            c.format.share(UNDER),
            c.format.count_of(list.months, "month", "months")
        ),
    }
}
