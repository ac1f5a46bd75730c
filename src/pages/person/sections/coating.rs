//! Coating used over what the work needs.

use super::{COATING, Own, say};
use crate::estimate::Figure;
use crate::findings::pace::Kind;
use crate::pages::sections::Section;
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{SectionView, Sentence};
use crate::pages::words;

pub(super) fn section(own: Own<'_>) -> Section {
    let view = SectionView {
        id: COATING.into(),
        heading: "Coating used".into(),
        sentence: sentence_of(own),
        ..SectionView::default()
    };
    Section::new(view, vec![table(own)], own.format)
}

fn sentence_of(own: Own<'_>) -> Sentence {
    let f = own.format;
    let e = match &own.page.used {
        Figure::Known(e) => e,
        Figure::NotEnough(n) => {
            return say(format!(
                "How much coating you use for what the work needs: {}.",
                words::missing(n, f)
            ));
        }
    };
    let judged = if own.page.kinds.contains(&Kind::Overuse) {
        "That is more than luck explains well."
    } else {
        "Nothing to act on."
    };
    say(format!(
        "You used **{} times** the coating that the work needs, by finish and area (likely {} to {}, {} measured). {judged}",
        f.number(e.value, 2),
        f.number(e.low, 2),
        f.number(e.high, 2),
        f.count_of(e.n, "job", "jobs")
    ))
}

fn table(own: Own<'_>) -> Table {
    let used = &own.page.used;
    let jobs = match used {
        Figure::Known(e) => Cell::Count(e.n),
        Figure::NotEnough(n) => Cell::Missing(n.clone()),
    };
    Table {
        name: "your_coating",
        fold: "The numbers",
        caption: "Your coating used over what the work needs".into(),
        columns: vec![
            words_column("what", "What"),
            numbers_column("jobs", "Measured jobs"),
            numbers_column("used", "Used over needed"),
            numbers_column("low", "Likely from"),
            numbers_column("high", "Likely to"),
        ],
        rows: vec![vec![
            Cell::Text("Coating".into()),
            jobs,
            Cell::value(used, Cell::Factor),
            Cell::low(used, Cell::Factor),
            Cell::high(used, Cell::Factor),
        ]],
        definition: "Needed: what the shop's jobs let expect of the same finishes and areas. All that was used over all that was needed.".into(),
    }
}
