//! Coating used against the window before, and lots and products against each
//! other: a sentence and a table of the section on use.

use super::say;
use crate::findings::use_change::{Of, Row, UseChange};
use crate::pages::format::month;
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::Sentence;
use crate::pages::words;

/// What differs, or that nothing does.
pub(super) fn sentence(x: &UseChange) -> Sentence {
    let differ: Vec<String> = (x.rows.iter())
        .filter(|r| r.differs)
        .map(|r| named(&r.of).1)
        .collect();
    if differ.is_empty() {
        return say(
            "Against the months before and lot against lot, nothing differs by more than luck explains well.",
        );
    }
    let mut all = say("By more than luck explains well, use has changed or differs for ");
    all.push(words::shop_words(&differ));
    all.extend(say("; the table of changes says by how much."));
    all
}

/// What is compared, and its name.
fn named(of: &Of) -> (&'static str, String) {
    let at = |shop: &str, name: String| match shop {
        "" => name,
        shop => format!("{name}, {shop}"),
    };
    match of {
        Of::SetUp => ("these months less those before", "set-up".into()),
        Of::Finish { finish } => ("these months less those before", finish.clone()),
        Of::Product { shop, product } => ("product less the others", at(shop, product.clone())),
        Of::Lot { shop, product, lot } => {
            let product = at(shop, product.clone());
            let name = match product.as_str() {
                "" => format!("lot {lot}"),
                product => format!("lot {lot} of {product}"),
            };
            ("lot less the others of its product", name)
        }
    }
}

fn kind(of: &Of) -> fn(f64) -> Cell {
    match of {
        Of::SetUp => Cell::Volume,
        Of::Finish { .. } => Cell::PerArea,
        Of::Product { .. } | Of::Lot { .. } => Cell::Change,
    }
}

/// Every comparison that is listed.
pub(super) fn table(x: &UseChange) -> Table {
    let row = |r: &Row| {
        let (what, name) = named(&r.of);
        let kind = kind(&r.of);
        let word = if r.differs {
            "differs"
        } else {
            "could be luck"
        };
        vec![
            Cell::Text(name),
            Cell::Text(what.into()),
            Cell::Count(r.jobs),
            Cell::Count(r.other_jobs),
            kind(r.difference.value),
            kind(r.difference.low),
            kind(r.difference.high),
            Cell::Text(word.into()),
        ]
    };
    Table {
        name: "use_changes",
        fold: "Has it changed? By finish, product and lot",
        caption: format!(
            "Coating used against {} to {}; products and lots against each other",
            month(x.from.first()),
            month(x.until.first())
        ),
        columns: vec![
            words_column("of", "Of"),
            words_column("comparison", "Compared"),
            numbers_column("jobs", "Jobs or bottles"),
            numbers_column("other_jobs", "On the other side"),
            numbers_column("difference", "Difference"),
            numbers_column("low", "Likely from"),
            numbers_column("high", "Likely to"),
            words_column("verdict", "Verdict"),
        ],
        rows: x.rows.iter().map(row).collect(),
        definition: "Finishes per area, set-up a job, products and lots as a share of what the same work takes. As many figures are compared, each likely range is made wider, so that in a shop where nothing changes some figure is said to differ in about one review of twenty. Of lots that do not differ those with most jobs are listed. A lot that differs may as well be the people or the season of its weeks.".into(),
    }
}
