//! Why a drawing could not be made.

use thiserror::Error;

/// A drawing that could not be made. None is a fault of the reader: the page
/// leaves the figure out and keeps sentence and table.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ChartError {
    /// There is nothing to draw.
    #[error("nothing to draw in a {chart} chart")]
    Empty {
        /// Kind of chart.
        chart: &'static str,
    },
    /// A number that no axis can hold: not finite, or past 1e12.
    #[error("{what} of \"{mark}\" is not a number that an axis can hold")]
    OffScale {
        /// Which number.
        what: &'static str,
        /// Label of the mark that it belongs to.
        mark: String,
    },
    /// An interval or band whose low end lies above its high end.
    #[error("the {what} of \"{mark}\" ends below its start")]
    Backwards {
        /// Which interval.
        what: &'static str,
        /// Label of the mark that it belongs to.
        mark: String,
    },
    /// The steps of a bridge do not lead from its start to its end.
    #[error("start and steps of a bridge make {sum}, its end is {to}")]
    DoesNotAddUp {
        /// Start and steps.
        sum: f64,
        /// End given.
        to: f64,
    },
    /// More groups than the chart has looks for.
    #[error("{have} groups in a {chart} chart, which can show {most}")]
    TooMany {
        /// Kind of chart.
        chart: &'static str,
        /// Groups given.
        have: usize,
        /// Groups that can be told apart.
        most: usize,
    },
    /// A row whose cells do not match the heading.
    #[error("row \"{row}\" has {have} cells under {need} headings")]
    Ragged {
        /// Label of the row.
        row: String,
        /// Cells given.
        have: usize,
        /// Headings given.
        need: usize,
    },
    /// A colour that is no named ink reached the backend.
    #[error("colour {red:02x}{green:02x}{blue:02x} is no named ink")]
    UnnamedInk {
        /// Red of 255.
        red: u8,
        /// Green of 255.
        green: u8,
        /// Blue of 255.
        blue: u8,
    },
    /// The plotting library refused to draw.
    #[error("the plotting library refused: {reason}")]
    Refused {
        /// Its own words.
        reason: String,
    },
}
