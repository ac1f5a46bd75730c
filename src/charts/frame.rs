//! The frame of a drawing: plotters' coordinates over our pen, our own axes,
//! and labels that keep off marks and off one another.

use super::axis::{Band, Scale};
use super::error::ChartError;
use super::mark::{At, Cells, Mark, to_px, units};
use super::pen::{Pen, Sheet};
use super::place::Room;
use super::theme::{Ink, SMALL, THIN};
use super::words::Words;
use super::{Size, Svg};
use plotters::coord::Shift;
use plotters::coord::cartesian::Cartesian2d;
use plotters::coord::types::RangedCoordf64;
use plotters::drawing::{DrawingArea, DrawingAreaErrorKind};
use plotters_backend::DrawingErrorKind;
use std::cell::RefCell;
use std::rc::Rc;

type Plot = DrawingArea<Pen, Cartesian2d<RangedCoordf64, RangedCoordf64>>;

impl From<DrawingAreaErrorKind<ChartError>> for ChartError {
    fn from(error: DrawingAreaErrorKind<ChartError>) -> Self {
        match error {
            DrawingAreaErrorKind::BackendError(DrawingErrorKind::DrawingError(own)) => own,
            other => Self::Refused {
                reason: other.to_string(),
            },
        }
    }
}

/// Room around the plot, px.
#[derive(Debug, Clone, Copy)]
pub(super) struct Margins {
    pub(super) top: f64,
    pub(super) right: f64,
    pub(super) bottom: f64,
    pub(super) left: f64,
}

/// Space kept on either side of words that look for a place, px.
const GAP: f64 = 2.0;

/// A drawing in the making.
pub(super) struct Frame {
    root: DrawingArea<Pen, Shift>,
    plot: Plot,
    sheet: Rc<RefCell<Sheet>>,
    size: Size,
    height: u32,
    /// Where the plot lies, px.
    pub(super) inner: Room,
    words: Vec<Words>,
}

/// Distance of the names under a plot from it, px: clear of the upright axis'
/// lowest text.
const NAMES: f64 = 15.0;

impl Frame {
    /// A frame of that height whose plot spans `x` and `y`.
    pub(super) fn new(size: Size, height: u32, margins: Margins, x: Band, y: Band) -> Self {
        let inner = inner(size, height, margins);
        let sheet = Rc::new(RefCell::new(Sheet::default()));
        let root = DrawingArea::from(Pen::new(sheet.clone(), size.width(), height));
        let across = units(inner.left)..units(inner.right);
        // y grows downwards on the sheet and upwards in the plot.
        let upwards = units(inner.bottom)..units(inner.top);
        let plot = root.apply_coord_spec(Cartesian2d::new(
            x.low..x.high,
            y.low..y.high,
            (across, upwards),
        ));
        Self {
            root,
            plot,
            sheet,
            size,
            height,
            inner,
            words: Vec::new(),
        }
    }

    pub(super) fn is_wide(&self) -> bool {
        self.size == Size::Wide
    }

    /// Width of the view box, px.
    pub(super) fn width(&self) -> f64 {
        f64::from(self.size.width())
    }

    /// Draws a mark at its data coordinates.
    pub(super) fn draw(&self, mark: &Mark) -> Result<(), ChartError> {
        Ok(self.plot.draw(mark)?)
    }

    /// Draws cells at their places on the canvas.
    pub(super) fn draw_cells(&self, cells: &Cells) -> Result<(), ChartError> {
        Ok(self.root.draw(cells)?)
    }

    /// Where a point of the data lies, px.
    pub(super) fn px(&self, at: At) -> (f64, f64) {
        to_px(self.plot.map_coordinate(&at))
    }

    /// Puts words where they must stand.
    pub(super) fn put(&mut self, words: Words) {
        self.words.push(words);
    }

    /// Puts the first of `choices` that lies on the sheet and meets neither
    /// mark nor words; false where none does.
    pub(super) fn try_put(&mut self, choices: impl IntoIterator<Item = Words>) -> bool {
        let Some(words) = choices.into_iter().find(|w| self.is_free(&w.room())) else {
            return false;
        };
        self.words.push(words);
        true
    }

    fn is_free(&self, words: &Room) -> bool {
        let room = &words.wider(GAP);
        let sheet = Room {
            left: 1.0,
            top: 1.0,
            right: f64::from(self.size.width()) - 1.0,
            bottom: f64::from(self.height) - 1.0,
        };
        sheet.holds(words)
            && self.words.iter().all(|w| !w.room().meets(room))
            && self.sheet.borrow().marks.iter().all(|m| !m.meets(room))
    }

    /// Grid lines and texts of the upright axis.
    pub(super) fn y_axis(&mut self, scale: &Scale, x: Band) -> Result<(), ChartError> {
        for tick in &scale.ticks {
            self.draw(&grid((x.low, tick.at), (x.high, tick.at)))?;
            if tick.text.is_empty() {
                continue;
            }
            let (_, y) = self.px((x.low, tick.at));
            let words = Words::new(tick.text.clone(), self.inner.left - 6.0, y);
            self.put(words.muted().end());
        }
        Ok(())
    }

    /// Grid lines and texts of the level axis.
    pub(super) fn x_axis(&mut self, scale: &Scale, y: Band) -> Result<(), ChartError> {
        for tick in &scale.ticks {
            self.draw(&grid((tick.at, y.low), (tick.at, y.high)))?;
            if tick.text.is_empty() {
                continue;
            }
            let (x, _) = self.px((tick.at, y.low));
            let words = Words::new(tick.text.clone(), x, self.inner.bottom + NAMES);
            self.put(words.muted().middle());
        }
        Ok(())
    }

    /// A solid line in the ink of axes.
    pub(super) fn axis_line(&self, from: At, to: At) -> Result<(), ChartError> {
        self.draw(&Mark::new().line(vec![from, to], Ink::Axis, THIN))
    }

    /// Says at the head of the plot that a scale leaves out zero.
    pub(super) fn cut_note(&mut self, note: &str) {
        let words = Words::new(note, self.inner.left, SMALL * 0.5 + 2.0);
        self.put(words.muted());
    }

    /// Names under the plot at `at`, as many as fit, the last one first.
    pub(super) fn x_names(&mut self, names: &[Name<'_>]) {
        let mut next = f64::INFINITY;
        for name in names.iter().rev() {
            let (x, _) = self.px((name.at, 0.0));
            let mut words = Words::new(name.text, x, self.inner.bottom + NAMES).muted();
            words = if next.is_finite() || fits_centred(&words, self.size) {
                words.middle()
            } else {
                words.at.0 = x;
                words.end()
            };
            if words.room().right < next && words.room().left >= 0.0 {
                next = words.room().left - SMALL;
                self.put(words);
            }
        }
    }

    /// The drawing as SVG.
    pub(super) fn finish(self) -> Result<Svg, ChartError> {
        for words in &self.words {
            self.root.draw(words)?;
        }
        self.root.present()?;
        let body = std::mem::take(&mut self.sheet.borrow_mut().body);
        Ok(Svg {
            width: self.size.width(),
            height: self.height,
            body,
        })
    }
}

/// A name under the plot.
#[derive(Debug)]
pub(super) struct Name<'a> {
    pub(super) at: f64,
    pub(super) text: &'a str,
}

fn fits_centred(words: &Words, size: Size) -> bool {
    words.clone().middle().room().right <= f64::from(size.width())
}

fn inner(size: Size, height: u32, margins: Margins) -> Room {
    let left = margins.left;
    let top = margins.top;
    Room {
        left,
        top,
        right: (f64::from(size.width()) - margins.right).max(left + 1.0),
        bottom: (f64::from(height) - margins.bottom).max(top + 1.0),
    }
}

fn grid(from: At, to: At) -> Mark {
    Mark::new().line(vec![from, to], Ink::Grid, THIN)
}
