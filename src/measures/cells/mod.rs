//! Cells: the results of the queries as CSV, written here or made elsewhere by
//! the same queries, and what they measure. Tables of several parts of a chain
//! become those of the whole.
//!
//! A folder of cells holds `NN_name.csv` or `name.csv` for each query, and the
//! two tables of months that the queries read, `window_months.csv` and
//! `spans.csv` (`month_no` = year · 12 + month − 1): for a review of month M
//! with a window of w months, `window_months` holds M−w+1 to M but none before
//! the month of the first film job, and `spans` the same, with M−1 where w is
//! one. In `look_back/` stand the results of the queries of
//! [`look_back_queries`] once more, with both tables of months holding M−w−11
//! to M, again from the first film job on: what the backtest of the constants
//! rests on.
//!
//! CSV in UTF-8 with a comma between cells and a heading, columns in any
//! order; an empty cell is NULL, days as 2026-10-31, moments as 2026-10-31
//! 16:45:00, `job_key` any text that is unique per shop and job.

mod add;
mod error;
mod looked;
mod part;
mod read;
mod sheet;
mod write;

pub use error::CellsError;

pub use looked::Looked;

use super::catalogue::{QUERIES, STEPS};
use super::error::MeasureError;
use super::run::{Order, Results};
use super::shape::shape_of;
use super::tables::{self, Measures};
use super::{Span, View, in_look_back, number};
use crate::settings::month::Month;
use part::{Set, Whole, each_shop_once};
use polars::prelude::DataFrame;
use std::collections::BTreeMap;

/// Tables of months, which the queries read and the folder holds beside them.
pub const MONTH_TABLES: [&str; 2] = ["window_months", "spans"];

/// One table as CSV.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CellFile {
    /// Where it is, or is to be.
    pub place: String,
    /// Its content.
    pub bytes: Vec<u8>,
}

/// Tables of one run of the queries, by name; with the tables of months.
pub type CellFiles = BTreeMap<&'static str, CellFile>;

/// The tables of one part of a chain, or of one shop.
#[derive(Debug, Clone, Default)]
pub struct Part {
    /// Name of the part: its shop's where its tables name none.
    pub name: String,
    /// Results of all queries over the months of the review.
    pub now: CellFiles,
    /// Results of [`look_back_queries`] over the months that a look back takes.
    pub look_back: CellFiles,
}

/// Names of the tables that a run of all queries hands over.
pub fn queries() -> impl Iterator<Item = &'static str> {
    let handed_over = |name: &&str| !STEPS.contains(name);
    QUERIES.iter().map(|q| q.name).filter(handed_over)
}

/// Names of the tables that a look back takes.
pub fn look_back_queries() -> impl Iterator<Item = &'static str> {
    queries().filter(|name| in_look_back(name))
}

/// What the tables of all parts measure.
#[derive(Debug, Clone)]
pub struct Cells {
    /// The window and the month before.
    pub measured: Measures,
    /// Single jobs of the months of the look back.
    pub history: Measures,
    /// First and last day on which a film job was finished.
    pub span: Span,
    /// Months of [`Self::measured`].
    pub now: Looked,
    /// Months of [`Self::history`].
    pub looked_back: Looked,
    /// Rows of each file read, in order.
    pub files: Vec<CellRows>,
}

/// A file that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CellRows {
    /// Where it is.
    pub place: String,
    /// Its rows, the heading not counted.
    pub rows: u64,
}

/// Reads the tables of the parts and adds them up.
///
/// # Errors
/// A heading, a cell or a row that is not as the shape says, a row of a job
/// that is not there, a shop in two parts, parts of different months.
pub fn read_cells(parts: &[Part]) -> Result<Cells, CellsError> {
    let mut files = Vec::new();
    let now = Set::read_all(parts, |p| &p.now, &mut files)?;
    let back = Set::read_all(parts, |p| &p.look_back, &mut files)?;
    each_shop_once(parts, &now)?;
    let now = Whole::of(parts, now)?;
    let back = Whole::of(parts, back)?;
    let measured = tables::tables(&now.results)?;
    let days = || measured.film_lives.iter().map(|l| l.finished_on);
    let ends = days().min().zip(days().max());
    let span = ends.map(|(first, last)| Span { first, last });
    Ok(Cells {
        span: span.ok_or(CellsError::NoJobs)?,
        history: tables::look_back(back.results)?,
        measured,
        now: now.looked,
        looked_back: back.looked,
        files,
    })
}

impl Cells {
    /// The month reviewed: the last of the window.
    ///
    /// # Errors
    /// [`CellsError::Months`] where the table of months is empty.
    pub fn month(&self) -> Result<Month, CellsError> {
        let last = self.now.window.last().copied();
        last.ok_or_else(|| looked::empty("window_months"))
    }

    /// Holds the tables of months to those of the review.
    ///
    /// # Errors
    /// [`CellsError::Months`].
    pub fn hold(&self, view: View, back_from: Month) -> Result<(), CellsError> {
        let held = |name, found: &[Month], from| looked::hold(name, found, from, view.month);
        held("window_months", &self.now.window, view.window_from)?;
        held("spans", &self.now.spans, view.first())?;
        let back = &self.looked_back;
        held("look_back/window_months", &back.window, back_from)?;
        held("look_back/spans", &back.spans, back_from)
    }
}

/// Writes the tables of one run of the queries; `names` are the queries run.
fn written(
    results: &Results,
    looked: &Looked,
    names: impl Iterator<Item = &'static str>,
) -> Result<CellFiles, MeasureError> {
    let mut files = CellFiles::new();
    let mut months = |table: &'static str, months: &[Month]| {
        let numbers = months.iter().map(|m| number(*m));
        files.insert(table, write::months(table, numbers));
    };
    months("window_months", &looked.window);
    months("spans", &looked.spans);
    for name in names {
        let shape = shape_of(name).ok_or_else(|| MeasureError::Unshaped {
            query: name.to_string(),
        })?;
        files.insert(name, write::write(results, shape)?);
    }
    Ok(files)
}

/// Runs the queries and writes what they give, for a review elsewhere.
/// `shop`: the contract's tables, typed as DEVELOPERS.md says; `back_from`:
/// first month of the look back.
///
/// # Errors
/// Where a query does not run on them.
pub fn write_cells(
    shop: BTreeMap<&'static str, DataFrame>,
    view: View,
    back_from: Month,
) -> Result<Part, MeasureError> {
    let now = Looked::of_view(view);
    let back = Looked::from(back_from, view.month);
    let results = super::query(shop.clone(), &now, Results::new(), |_| true, Order::Written)?;
    let results_back = super::query(shop, &back, Results::new(), in_look_back, Order::Written)?;
    Ok(Part {
        name: String::new(),
        now: written(&results, &now, queries())?,
        look_back: written(&results_back, &back, look_back_queries())?,
    })
}
