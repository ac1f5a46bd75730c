//! Estimates with their likely ranges, a row each, against the constants in
//! force or one reference.

use super::axis::Axis;
use super::control::Centre;
use super::error::ChartError;
use super::key::KeyEntry;
use super::rows::{Row, Rows, Second};
use super::{Size, Svg};

/// Rows of estimates: mL per m² by finish, minutes by class.
#[derive(Debug, Clone)]
pub struct Intervals<'a> {
    /// The rows, from the top down. `second` is the constant in force.
    pub rows: Vec<Row>,
    /// The axis of the values, which runs across.
    pub axis: Axis<'a>,
    /// One value for all rows, drawn through them.
    pub reference: Option<Centre>,
}

impl Intervals<'_> {
    fn plan(&self) -> Rows<'_> {
        Rows {
            chart: "interval",
            rows: self.rows.iter().collect(),
            axis: &self.axis,
            reference: self.reference.as_ref(),
            second: Second::Post,
        }
    }

    /// The marks that occur, with what they mean.
    pub fn key(&self) -> Vec<KeyEntry> {
        self.plan()
            .key("in use", "estimate that departs from the planning figure")
    }
}

/// Draws the rows.
///
/// # Errors
/// Where no row has a number, or one that no axis can hold.
pub fn intervals(spec: &Intervals, size: Size) -> Result<Svg, ChartError> {
    spec.plan().draw(size)
}
