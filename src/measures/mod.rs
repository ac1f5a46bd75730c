//! Measures: typed frames go in, plain tables come out. This room counts, sums
//! and groups, by the SQL in `queries/`, and infers nothing.

mod bottles;
mod catalogue;
mod cellar;
pub mod cells;
mod coated;
mod error;
mod film_life;
mod months;
mod names;
mod offers;
pub mod own;
mod practice;
mod priced;
mod prices;
mod reader;
mod run;
mod shape;
mod spells;
mod tables;

pub use bottles::{BottleSpan, Draw, Named};
pub use catalogue::{QUERIES, Query};
pub use cellar::{Bought, Poured, Waiting};
pub use coated::{CoatedJob, Part, Rework};
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

use cells::Looked;

use crate::settings::month::Month;
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
    let days = || days.iter().flatten();
    Ok((days().min().zip(days().max())).map(|(first, last)| Span {
        first: reader::day(Some(*first)),
        last: reader::day(Some(*last)),
    }))
}

/// Measures a shop.
///
/// `tables` holds the contract's tables by name, typed as DEVELOPERS.md says.
///
/// # Errors
/// Where a query does not run on them.
pub fn measure(
    shop: BTreeMap<&'static str, DataFrame>,
    view: View,
) -> Result<Measures, MeasureError> {
    tables::tables(&query(shop, &Looked::of_view(view), |_| true)?)
}

/// Runs the queries that are wanted over some months.
fn query(
    mut shop: BTreeMap<&'static str, DataFrame>,
    looked: &Looked,
    wanted: impl Fn(&str) -> bool,
) -> Result<run::Results, MeasureError> {
    let numbers = |months: &[Month]| run::numbers("month_no", months.iter().map(|m| number(*m)));
    shop.insert("spans", numbers(&looked.spans));
    shop.insert("window_months", numbers(&looked.window));
    run::run(&shop, wanted)
}

/// Queries whose results a look back takes.
const LOOK_BACK: [&str; 8] = [
    "coated",
    "coated_area",
    "work",
    "full_area",
    "bottle_cost",
    "wages",
    "bottle_spans",
    "draws",
];

/// Measures what single jobs took, over months further back than the window:
/// coated jobs with areas and work, bottles, wages. The rest stays empty.
///
/// # Errors
/// As [`measure`].
pub fn look_back(
    shop: BTreeMap<&'static str, DataFrame>,
    from: Month,
    until: Month,
) -> Result<Measures, MeasureError> {
    let looked = Looked::from(from, until);
    tables::look_back(&query(shop, &looked, |name| LOOK_BACK.contains(&name))?)
}
