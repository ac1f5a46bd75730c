//! What can be wrong with tables that were made elsewhere.

use crate::measures::error::MeasureError;
use crate::settings::month::Month;

/// Why tables cannot be used as they are.
#[derive(Debug, thiserror::Error)]
pub enum CellsError {
    /// A table that the review needs is not there.
    #[error(
        "{folder}: no {names}. It is the result of queries/{query}; the folder needs one table for each query, and window_months and spans."
    )]
    NoFile {
        /// The folder.
        folder: String,
        /// Names that the file may bear.
        names: String,
        /// The query whose result is missing.
        query: String,
    },
    /// A table is there under both of its names.
    #[error("{folder}: {first} and {second} are the same table. Leave one of them there.")]
    TwoFiles {
        /// The folder.
        folder: String,
        /// One of them.
        first: String,
        /// The other.
        second: String,
    },
    /// A file cannot be read.
    #[error("{place}: {source}")]
    Unreadable {
        /// The file.
        place: String,
        /// The system's word.
        source: std::io::Error,
    },
    /// A file is no CSV in UTF-8 with as many cells in each line.
    #[error("{place}: {source}. Expected CSV in UTF-8, with a comma between cells.")]
    Csv {
        /// The file.
        place: String,
        /// What is wrong with it.
        source: csv::Error,
    },
    /// The heading does not name the columns that the query gives.
    #[error("{place}: column {column} {fault}. The columns are {expected}.")]
    Heading {
        /// The file.
        place: String,
        /// The column.
        column: String,
        /// What is wrong with it.
        fault: &'static str,
        /// All columns of the table.
        expected: String,
    },
    /// A cell does not hold what its column holds.
    #[error("{place}, line {line}, column {column}: found {found}; expected {expected}")]
    Cell {
        /// The file.
        place: String,
        /// The line, from 1.
        line: u64,
        /// The column.
        column: &'static str,
        /// What stands there.
        found: String,
        /// What should.
        expected: &'static str,
    },
    /// Two rows that should be one.
    #[error("{place}, line {line}: a second row with the same {grain}. There is one row for each.")]
    Twice {
        /// The file.
        place: String,
        /// The later line, from 1.
        line: u64,
        /// The columns that tell rows apart.
        grain: String,
    },
    /// A row of a job that is no coated job in view.
    #[error("{place}, line {line}: job_key {key} does not stand in {coated}")]
    NoJob {
        /// The file.
        place: String,
        /// The line, from 1.
        line: u64,
        /// The key.
        key: String,
        /// The table of coated jobs.
        coated: String,
    },
    /// Parts are whole shops.
    #[error(
        "shop {shop:?} is both in {first} and in {second}. Each shop belongs in one of the folders."
    )]
    SharedShop {
        /// The shop's key.
        shop: String,
        /// One folder.
        first: String,
        /// The other.
        second: String,
    },
    /// Parts were measured for different months.
    #[error(
        "{first} ends with {first_month} and {second} with {second_month}. All folders must be of one month."
    )]
    OtherMonth {
        /// One folder.
        first: String,
        /// Its month.
        first_month: Month,
        /// The other.
        second: String,
        /// Its month.
        second_month: Month,
    },
    /// The months that the queries looked at are not those of the review.
    #[error(
        "{table} holds the months {found}; this review needs {expected}. Fill it so, and run the queries again."
    )]
    Months {
        /// The table of months.
        table: String,
        /// What it holds.
        found: String,
        /// What it should hold.
        expected: String,
    },
    /// Sums that no 64-bit integer holds.
    #[error("table {table}, column {column}: the sum over the folders is too large")]
    TooLarge {
        /// The table.
        table: &'static str,
        /// The column.
        column: &'static str,
    },
    /// There is no job in the tables.
    #[error("film_life: no film job in any folder, so there is nothing to review")]
    NoJobs,
    /// A table cannot be taken in: a fault of this program.
    #[error(transparent)]
    Measures(#[from] MeasureError),
}
