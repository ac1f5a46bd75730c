//! Lines of words on a drawing: where they are held, how they look, which room
//! they take.

use super::error::ChartError;
use super::lettering::width;
use super::mark::units;
use super::pen::Pen;
use super::place::Room;
use super::theme::{Ink, PLAIN, SMALL};
use plotters::element::{Drawable, PointCollection};
use plotters_backend::{BackendCoord, DrawingErrorKind};

/// Which part of a line of words lies at its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Hold {
    Start,
    Middle,
    End,
}

/// A line of words.
#[derive(Debug, Clone)]
pub(super) struct Words {
    pub(super) text: String,
    pub(super) ink: Ink,
    pub(super) size: f64,
    pub(super) bold: bool,
    pub(super) hold: Hold,
    /// A rim in the ground's colour sets the words off from what they cross.
    pub(super) rim: bool,
    /// The point, px; upright it is the middle of the line.
    pub(super) at: (f64, f64),
    canvas: BackendCoord,
}

impl Words {
    /// Plain words of the first rank that start at `(x, y)` px.
    pub(super) fn new(text: impl Into<String>, x: f64, y: f64) -> Self {
        Self {
            text: text.into(),
            ink: Ink::Text,
            size: PLAIN,
            bold: false,
            hold: Hold::Start,
            rim: true,
            at: (x, y),
            canvas: (units(x), units(y)),
        }
    }

    /// The words in the second rank: muted and small.
    pub(super) fn muted(mut self) -> Self {
        self.ink = Ink::Muted;
        self.size = SMALL;
        self
    }

    /// The words in small letters of the first rank.
    pub(super) fn small(mut self) -> Self {
        self.size = SMALL;
        self
    }

    pub(super) fn bold(mut self) -> Self {
        self.bold = true;
        self
    }

    pub(super) fn middle(mut self) -> Self {
        self.hold = Hold::Middle;
        self
    }

    pub(super) fn end(mut self) -> Self {
        self.hold = Hold::End;
        self
    }

    /// The words without a rim: they stand on a tint and cross nothing.
    pub(super) fn on_tint(mut self) -> Self {
        self.rim = false;
        self
    }

    /// The room that the words take, px.
    pub(super) fn room(&self) -> Room {
        let long = width(&self.text, self.size, self.bold);
        let left = match self.hold {
            Hold::Start => self.at.0,
            Hold::Middle => self.at.0 - long / 2.0,
            Hold::End => self.at.0 - long,
        };
        Room {
            left,
            top: self.at.1 - 0.5 * self.size,
            right: left + long,
            bottom: self.at.1 + 0.5 * self.size,
        }
    }
}

impl<'a> PointCollection<'a, BackendCoord> for &'a Words {
    type Point = &'a BackendCoord;
    type IntoIter = std::iter::Once<&'a BackendCoord>;

    fn point_iter(self) -> Self::IntoIter {
        std::iter::once(&self.canvas)
    }
}

impl Drawable<Pen> for Words {
    fn draw<I: Iterator<Item = BackendCoord>>(
        &self,
        mut at: I,
        pen: &mut Pen,
        _: (u32, u32),
    ) -> Result<(), DrawingErrorKind<ChartError>> {
        if let Some(point) = at.next() {
            pen.write(self, point);
        }
        Ok(())
    }
}
