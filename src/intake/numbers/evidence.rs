//! What a whole column says about its decimal mark.

use super::{Mark, Shape};

/// What a column's cells say about its decimal mark.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Evidence {
    /// Cells that only a decimal point fits.
    pub point: u64,
    /// Cells that only a decimal comma fits.
    pub comma: u64,
    /// Cells like `1.234`.
    pub either_point: u64,
    /// Cells like `1,234`.
    pub either_comma: u64,
    /// One of the cells that either fits.
    pub example: Option<String>,
}

impl Evidence {
    /// Adds a cell.
    pub fn note(&mut self, shape: Shape) {
        match shape {
            Shape::Plain => {}
            Shape::Point => self.point += 1,
            Shape::Comma => self.comma += 1,
            Shape::EitherPoint => self.either_point += 1,
            Shape::EitherComma => self.either_comma += 1,
        }
    }

    /// Adds another chunk's.
    pub fn add(&mut self, other: Self) {
        self.point += other.point;
        self.comma += other.comma;
        self.either_point += other.either_point;
        self.either_comma += other.either_comma;
        self.example = self.example.take().or(other.example);
    }

    /// The mark that the column's own cells settle, if they do: where both
    /// occur, the one of nine cells in ten.
    pub fn own(&self) -> Option<Mark> {
        match (self.point, self.comma) {
            (0, 0) => None,
            (p, c) if p >= 9 * c => Some(Mark::Point),
            (p, c) if c >= 9 * p => Some(Mark::Comma),
            _ => None,
        }
    }

    /// The column's mark; `elsewhere` is what other columns of the file
    /// settled. `None` where both readings fit and nothing decides. Cells like
    /// `21.375` alone are read as the canonical form has them.
    pub fn verdict(&self, elsewhere: Option<Mark>) -> Option<Mark> {
        if let Some(mark) = self.own() {
            return Some(mark);
        }
        if self.point + self.comma > 0 {
            return None;
        }
        match (elsewhere, self.either_point, self.either_comma) {
            (_, 0, 0) => Some(elsewhere.unwrap_or(Mark::Point)),
            (_, p, c) if p > 0 && c > 0 => None,
            (Some(mark), _, _) => Some(mark),
            (None, _, 0) => Some(Mark::Point),
            (None, _, _) => None,
        }
    }
}
