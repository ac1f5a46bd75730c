//! Measures: typed frames go in, plain tables come out. This room counts, sums
//! and groups, by the SQL in `queries/`, and infers nothing.

mod bottles;
mod catalogue;
mod cellar;
pub mod cells;
mod coated;
mod error;
mod film_life;
mod in_view;
mod months;
mod names;
mod offers;
pub mod own;
mod practice;
mod priced;
mod prices;
mod reader;
mod rows;
mod run;
mod shape;
mod spells;
mod tables;
mod text;

pub use bottles::{BottleSpan, Draw, Named};
pub use catalogue::{QUERIES, Query, STEPS};
pub use cellar::{Bought, Poured, Waiting};
pub use coated::{CoatedJob, Part, Parts, Rework};
pub use error::MeasureError;
pub use film_life::{FilmFace, FilmLife};
pub use months::MonthCount;
pub use names::Names;
pub use offers::{OfferCount, Sale, Sales};
pub use priced::PricedOffers;
pub use prices::{BottleCost, FullArea, Person};
pub use run::answer;
pub use shape::{Adds, Column, Holds, SHAPES, Shape};
pub use spells::{CameBack, Spell};
pub use tables::Measures;
pub use text::Text;

use cells::Looked;
use in_view::InView;
use reader::Reader;
use run::{Order, Results};

use crate::settings::month::Month;
use crate::threads::joined;
use chrono::NaiveDate;
use polars::prelude::DataFrame;
use std::collections::BTreeMap;

/// The months that a review looks at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct View {
    /// The month reviewed.
    pub month: Month,
    /// First month of the window that the fits use; the month is its last.
    pub window_from: Month,
}

impl View {
    /// The first month of which single jobs are looked at: the window's first,
    /// or the month before the one reviewed where the window is that short.
    fn first(self) -> Month {
        self.window_from.min(self.month.plus(-1))
    }
}

fn number(month: Month) -> i64 {
    i64::from(month.year()) * 12 + i64::from(month.month()) - 1
}

/// First and last day on which a film job was finished.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span {
    /// First day.
    pub first: NaiveDate,
    /// Last day.
    pub last: NaiveDate,
}

/// The span of a table of jobs; `None` where it holds none.
///
/// # Errors
/// Where the table has no such column.
pub fn span(jobs: &DataFrame) -> Result<Option<Span>, MeasureError> {
    let days = reader::days("jobs", jobs, "finished_on")?;
    let days = || days.all().flatten();
    Ok((days().min().zip(days().max())).map(|(first, last)| Span {
        first: reader::day(Some(first)),
        last: reader::day(Some(last)),
    }))
}

/// Measures a shop over the months in view, and what single jobs took over
/// those from `back_from` to the month reviewed: coated jobs with areas and
/// work, bottles, wages; the rest of the second stays empty.
///
/// `shop` holds the contract's tables by name, typed as DEVELOPERS.md says.
/// `back_from` is no later than the first month in view, of jobs or bottles:
/// what both need is asked for once.
///
/// # Errors
/// Where a query does not run on them.
pub fn measure(
    mut shop: BTreeMap<&'static str, DataFrame>,
    view: View,
    back_from: Month,
) -> Result<(Measures, Measures), MeasureError> {
    for (name, frame) in &mut shop {
        let unread = UNREAD.iter().filter(|(table, _)| table == name);
        *frame = frame.drop_many(unread.map(|(_, column)| *column));
    }
    let (looked, looked_back) = (Looked::of_view(view), Looked::from(back_from, view.month));
    // One thread counts while the other goes through the jobs, as a query
    // seldom keeps all cores busy; results are laid out while the engine goes
    // on, and let go.
    let placed = |shop, looked, given, wanted| query(shop, looked, given, wanted, Order::Placed);
    std::thread::scope(|threads| {
        let (all, view_of) = (shop.clone(), &looked);
        let counts = threads
            .spawn(move || tables::counts(&placed(all, view_of, Results::new(), is_counts)?));
        let back = placed(shop.clone(), &looked_back, Results::new(), in_look_back)?;
        let given = read_further(&back, view)?;
        let history = threads.spawn(move || seen(back, view));
        let now = placed(shop, &looked, given, is_further)?;
        let (history, in_view) = joined(history)?;
        let jobs = tables::jobs_in_view(&now, &history, in_view)?;
        Ok((jobs.with_counts(joined(counts)?), history))
    })
}

/// Columns that no query reads, by table: a row knows its job by `job_key`. A
/// query that read one would be told that it is not there.
const UNREAD: [(&str, &str); 9] = [
    ("jobs", "film_price"),
    ("surfaces", "shop"),
    ("surfaces", "job"),
    ("surfaces", "surface"),
    ("coatings", "job"),
    ("callbacks", "shop"),
    ("callbacks", "job"),
    ("inspections", "shop"),
    ("inspections", "job"),
];

/// Queries whose results name no job, and their steps; none of the others reads
/// them.
const COUNTS: [&str; 6] = [
    "months",
    "carried",
    "priced_offers",
    "offers",
    "film_life",
    "film_faces",
];

fn is_counts(name: &str) -> bool {
    COUNTS.contains(&name)
}

/// Runs the queries that are wanted and not `given` over some months.
fn query(
    mut shop: BTreeMap<&'static str, DataFrame>,
    looked: &Looked,
    given: Results,
    wanted: fn(&str) -> bool,
    order: Order,
) -> Result<Results, MeasureError> {
    let numbers = |months: &[Month]| run::numbers("month_no", months.iter().map(|m| number(*m)));
    shop.insert("spans", numbers(&looked.spans));
    shop.insert("window_months", numbers(&looked.window));
    run::run(shop, given, wanted, order)
}

/// Queries whose results a look back takes, and their step.
const LOOK_BACK: [&str; 9] = [
    "spell_counts",
    "coated",
    "coated_area",
    "work",
    "full_area",
    "bottle_cost",
    "wages",
    "bottle_spans",
    "draws",
];

fn in_look_back(name: &str) -> bool {
    LOOK_BACK.contains(&name)
}

/// Whether a review asks for this of the jobs in view, for what they have in
/// common with a look back.
fn is_further(name: &str) -> bool {
    !is_counts(name) && !SHARED.contains(&name)
}

/// Results that look back and review have in common: the jobs in view are among
/// those of the look back, or they bear no month.
const SHARED: [&str; 4] = ["coated_area", "work", "full_area", "draws"];

/// What further queries read of a look back: its coated jobs that are in view,
/// and the step, which bears no month.
fn read_further(back: &Results, view: View) -> Result<Results, MeasureError> {
    let kept = back.iter().filter(|(name, _)| **name == "spell_counts");
    let mut given: Results = kept.map(|(name, frame)| (*name, frame.clone())).collect();
    if let Some(coated) = back.get("coated") {
        given.insert("coated", run::from_month(coated, number(view.first()))?);
    }
    Ok(given)
}

/// A look back, and of its jobs those in view.
fn seen(back: Results, view: View) -> Result<(Measures, InView), MeasureError> {
    let keys = Reader::new(&back, "coated")?.counts("job_key")?;
    let history = tables::look_back(back)?;
    let in_view = InView::of(&history, &keys, view.first());
    Ok((history, in_view))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::contract::Table;

    /// A name that is none would drop nothing, without a word.
    #[test]
    fn columns_that_go_unread_are_of_the_contract() {
        for (table, column) in UNREAD {
            let field = Table::named(table).unwrap().field(column);
            assert!(field.is_some(), "{table}.{column}");
        }
    }
}
