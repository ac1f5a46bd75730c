//! The month's discounts: who gave most of them, and whether they are more than
//! those of earlier months. They stand in the section on where the margin moved.

use super::{Context, say};
use crate::findings::chances::{Discounts, Earlier, SellerDiscounts};
use crate::pages::format::{Format, list, month};
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{Piece, Sentence};

/// "P1"; "north P1" where there are several shops.
fn called(s: &SellerDiscounts) -> String {
    match s.shop.as_str() {
        "" => s.seller.clone(),
        shop => format!("{shop} {}", s.seller),
    }
}

/// "P9 and P8": those whose jobs carry most of it.
pub(in crate::pages) fn whom(x: &Discounts) -> Option<String> {
    let names: Vec<String> = x.carriers().into_iter().map(called).collect();
    (!names.is_empty()).then(|| list(&names))
}

/// "P9 ($100 on 3 jobs) and P8 ($65 on 3 jobs)".
pub(in crate::pages) fn amounts(x: &Discounts, f: &Format) -> Option<String> {
    let one = |s: &SellerDiscounts| {
        let jobs = f.count_of(s.jobs, "job", "jobs");
        format!("{} ({} on {jobs})", called(s), f.money(s.given))
    };
    let names: Vec<String> = x.carriers().into_iter().map(one).collect();
    (!names.is_empty()).then(|| list(&names))
}

/// "$175 on 7 jobs".
pub(in crate::pages) fn given(x: &Discounts, f: &Format) -> String {
    let jobs = f.count_of(x.jobs, "job", "jobs");
    format!("{} on {jobs}", f.money(x.given))
}

/// ", $4.49 a coated job; earlier months had $3.60 on average, $6.10 at most".
fn earlier(x: &Discounts, b: &Earlier, f: &Format) -> String {
    format!(
        ", {} a coated job; earlier months had {} on average, {} at most",
        f.money_exact(x.a_job()),
        f.money_exact(b.mean),
        f.money_exact(b.most)
    )
}

/// "$175 on 7 jobs", and what earlier months had.
pub(in crate::pages) fn against(x: &Discounts, f: &Format) -> String {
    let before = x.before.as_ref().map(|b| earlier(x, b, f));
    format!("{}{}", given(x, f), before.unwrap_or_default())
}

/// The discounts, and whether there is anything to ask.
pub(super) fn sentence(x: &Discounts, f: &Format) -> Sentence {
    let mut all = say(format!("Discounts: {}. ", against(x, f)));
    match amounts(x, f) {
        _ if x.is_usual() => all.extend(say("No more than usual: nothing to ask.")),
        Some(whom) => {
            all.extend(say("Most by "));
            all.push(Piece::text(whom));
            all.extend(say(
                ": ask what they were for. Some may have brought the sale.",
            ));
        }
        None => all.extend(say(
            "Ask what they were for. Some may have brought the sale.",
        )),
    }
    all
}

/// Discounts by who sold the jobs; on the page of a single shop without the
/// shop's column.
pub(super) fn by_seller(x: &Discounts, c: Context<'_>, on_page: bool) -> Table {
    let row = |s: &SellerDiscounts| {
        let name = if s.seller.is_empty() {
            "not written down"
        } else {
            &s.seller
        };
        let cells = [
            Cell::Text(s.shop.clone()),
            Cell::Text(name.into()),
            Cell::Count(s.jobs),
            Cell::Exact(s.given),
        ];
        Vec::from(cells)
    };
    let mut table = Table {
        name: "discounts",
        fold: "Discounts, and who gave them",
        caption: format!("Discounts by seller, {}", month(c.scope.month.first())),
        columns: vec![
            words_column("shop", "Shop"),
            words_column("sold_by", "Sold by"),
            numbers_column("jobs", "Coated jobs with a discount"),
            numbers_column("given", "Discounts, without tax"),
        ],
        rows: x.sellers.iter().map(row).chain(sums(x)).collect(),
        definition: "In order of names; not a league table. Coated jobs whose quote is known. Earlier months: those looked at without the month reviewed."
            .into(),
    };
    if on_page && x.sellers.iter().all(|s| s.shop.is_empty()) {
        table.columns.remove(0);
        table.rows.iter_mut().for_each(|row| {
            row.remove(0);
        });
    }
    table
}

/// All of the month, and the earlier months beside it.
fn sums(x: &Discounts) -> Vec<Vec<Cell>> {
    let row = |what: &str, jobs: Cell, given| {
        let names = [String::new(), what.into()].map(Cell::Text);
        let mut cells = Vec::from(names);
        cells.extend([jobs, Cell::Exact(given)]);
        cells
    };
    let mut rows = vec![row("all", Cell::Count(x.jobs), x.given)];
    if let Some(b) = &x.before {
        rows.push(row("a coated job", Cell::Blank, x.a_job()));
        rows.push(row(
            "a coated job, earlier months, mean",
            Cell::Blank,
            b.mean,
        ));
        rows.push(row(
            "a coated job, earlier months, most",
            Cell::Blank,
            b.most,
        ));
    }
    rows
}
