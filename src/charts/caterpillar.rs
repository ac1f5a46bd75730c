//! People side by side, each with a likely range, against the shop's usual.
//!
//! A caterpillar invites ranks that the data do not carry: print "not a league
//! table" beside it, and show the funnel too.

use super::axis::Axis;
use super::control::Centre;
use super::error::ChartError;
use super::key::KeyEntry;
use super::rows::{Row, Rows, Second};
use super::{Size, Svg};

/// Rows of people.
#[derive(Debug, Clone)]
pub struct Caterpillar<'a> {
    /// The rows in the order wanted; those without an estimate are put last.
    /// `second` is the plain average.
    pub rows: Vec<Row>,
    /// The axis of the values, which runs across.
    pub axis: Axis<'a>,
    /// The shop's usual.
    pub reference: Centre,
}

impl Caterpillar<'_> {
    fn plan(&self) -> Rows<'_> {
        let mut rows: Vec<&Row> = self.rows.iter().collect();
        rows.sort_by_key(|row| row.is_thin());
        Rows {
            chart: "caterpillar",
            rows,
            axis: &self.axis,
            reference: Some(&self.reference),
            second: Second::Ring,
        }
    }

    /// The marks that occur, with what they mean.
    pub fn key(&self) -> Vec<KeyEntry> {
        self.plan()
            .key("plain average", "estimate that stands apart from the usual")
    }
}

/// Draws the rows.
///
/// # Errors
/// Where there is no row, or a number that no axis can hold.
pub fn caterpillar(spec: &Caterpillar, size: Size) -> Result<Svg, ChartError> {
    if spec.rows.is_empty() {
        let chart = "caterpillar";
        return Err(ChartError::Empty { chart });
    }
    spec.plan().draw(size)
}
