//! Labelled rows, each with an estimate and its interval: what the interval
//! chart and the caterpillar have in common.

use super::axis::{Axis, Band, Length, Scale, checked, interval, reach};
use super::control::Centre;
use super::error::ChartError;
use super::frame::{Frame, Margins};
use super::key::{KeyEntry, Swatch};
use super::lettering::{shorten, widest, wrap};
use super::mark::{Mark, Shape};
use super::theme::{DIAMOND, DOT, Ink, PLAIN, SMALL, STRONG, THICK};
use super::words::Words;
use super::{Size, Svg};
use crate::estimate::Estimate;

/// One row: a finish, a class, a person.
#[derive(Debug, Clone)]
pub struct Row {
    /// Name of the row.
    pub label: String,
    /// Said under the name: "48 jobs".
    pub note: String,
    /// The estimate, or why there is none.
    pub figure: RowFigure,
    /// A second mark: the constant in force (interval chart), the plain
    /// average (caterpillar).
    pub second: Option<f64>,
    /// The row departs from what was expected; findings decide it.
    pub stands_out: bool,
    /// Tip of the row's marks; repeats the table.
    pub tip: String,
}

/// What a row shows.
#[derive(Debug, Clone)]
pub enum RowFigure {
    /// An estimate, and its value as text for the row's end.
    Known {
        /// Value and interval, in the axis' unit.
        estimate: Estimate,
        /// "1.55".
        text: String,
    },
    /// Too little data: no mark, but this in grey: "3 of 10 jobs needed".
    Thin {
        /// What is missing.
        text: String,
    },
}

impl Row {
    fn known(&self) -> Option<(&Estimate, &str)> {
        match &self.figure {
            RowFigure::Known { estimate, text } => Some((estimate, text)),
            RowFigure::Thin { .. } => None,
        }
    }

    /// True where there is no estimate.
    pub(super) fn is_thin(&self) -> bool {
        matches!(self.figure, RowFigure::Thin { .. })
    }
}

/// How the second mark of a row looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Second {
    /// An upright stroke.
    Post,
    /// A ring.
    Ring,
}

/// A chart of rows, from the top down.
#[derive(Debug)]
pub(super) struct Rows<'a> {
    pub(super) chart: &'static str,
    pub(super) rows: Vec<&'a Row>,
    pub(super) axis: &'a Axis<'a>,
    pub(super) reference: Option<&'a Centre>,
    pub(super) second: Second,
}

/// Distance of two lines of a label, px.
pub(super) const LINE: f64 = 15.5;

impl Rows<'_> {
    pub(super) fn draw(&self, size: Size) -> Result<Svg, ChartError> {
        let data = self.data()?;
        let labels = Labels::of(self.rows.iter().map(|r| (&*r.label, &*r.note)), size);
        let room = if size == Size::Wide { 120.0 } else { 92.0 };
        let texts = self.rows.iter().filter_map(|r| r.known()).map(|k| k.1);
        let right = widest(texts, PLAIN, true).min(room) + 16.0;
        let across = f64::from(size.width()) - labels.width - right;
        let scale = Scale::fit(data, self.axis, Length::Across(across));
        let margins = Margins {
            top: if self.reference.is_some() { 24.0 } else { 8.0 },
            right,
            bottom: if scale.cut.is_some() { 42.0 } else { 26.0 },
            left: labels.width,
        };
        let mut frame = labels.frame(size, margins, scale.band);
        let upright = labels.span();
        frame.x_axis(&scale, upright)?;
        frame.axis_line(
            (scale.band.low, upright.low),
            (scale.band.high, upright.low),
        )?;
        self.draw_reference(&mut frame, &scale, upright)?;
        for (i, row) in self.rows.iter().enumerate() {
            labels.put(&mut frame, i);
            self.draw_row(&mut frame, row, -(i as f64), &scale)?;
        }
        if let Some(note) = &scale.cut {
            let below = frame.inner.bottom + 29.0;
            frame.put(Words::new(note.clone(), frame.inner.left, below).muted());
        }
        frame.finish()
    }

    fn data(&self) -> Result<Band, ChartError> {
        let mut values = Vec::new();
        let mut intervals = Vec::new();
        for row in &self.rows {
            if let Some((estimate, _)) = row.known() {
                intervals.push(interval(estimate, &row.label)?);
                values.push(estimate.value);
            }
            if let Some(second) = row.second {
                values.push(checked(second, "second mark", &row.label)?);
            }
        }
        if let Some(reference) = self.reference {
            values.push(checked(reference.value, "reference", &reference.text)?);
        }
        reach(&values, &intervals).ok_or(ChartError::Empty { chart: self.chart })
    }

    fn draw_reference(
        &self,
        frame: &mut Frame,
        scale: &Scale,
        upright: Band,
    ) -> Result<(), ChartError> {
        let Some(reference) = self.reference else {
            return Ok(());
        };
        let (top, foot) = (
            (reference.value, upright.high),
            (reference.value, upright.low),
        );
        frame.draw(&Mark::new().line(vec![foot, top], Ink::Muted, STRONG))?;
        let (x, _) = frame.px((scale.band.clamp(reference.value), upright.high));
        let words = Words::new(reference.text.clone(), x, 12.0).small();
        let right = frame.width();
        let choices = [words.clone().middle(), words.clone().end(), words.clone()];
        let fits = |w: &Words| w.room().left >= 0.0 && w.room().right <= right;
        frame.put(choices.into_iter().find(fits).unwrap_or(words));
        Ok(())
    }

    fn draw_row(
        &self,
        frame: &mut Frame,
        row: &Row,
        y: f64,
        scale: &Scale,
    ) -> Result<(), ChartError> {
        let mut mark = Mark::new().tip(&row.tip);
        if let Some((estimate, _)) = row.known() {
            mark = with_interval(mark, estimate, y, row.stands_out, scale);
        }
        if let Some(second) = row.second {
            mark = mark.with(self.second_at((second, y)));
        }
        if let Some((estimate, _)) = row.known() {
            mark = mark.with(value_at((estimate.value, y), row.stands_out));
        }
        frame.draw(&mark)?;
        match &row.figure {
            RowFigure::Known { text, .. } => put_value(frame, text, y),
            RowFigure::Thin { text } => put_thin(frame, text, y),
        }
        Ok(())
    }

    fn second_at(&self, at: (f64, f64)) -> Shape {
        match self.second {
            Second::Post => Shape::Post {
                at,
                ink: Ink::Text,
                half: 9.0,
            },
            Second::Ring => Shape::Ring {
                at,
                ink: Ink::Axis,
                radius: 3.5,
            },
        }
    }

    /// The marks that occur, with what they mean.
    pub(super) fn key(&self, second: &str, stands_out: &str) -> Vec<KeyEntry> {
        let known = || self.rows.iter().filter(|r| !r.is_thin());
        let mut key = Vec::new();
        if known().any(|r| !r.stands_out) {
            key.push(KeyEntry::new(Swatch::Dot, "best estimate"));
        }
        if known().any(|r| r.stands_out) {
            key.push(KeyEntry::new(Swatch::Diamond, stands_out));
        }
        if known().next().is_some() {
            key.push(KeyEntry::new(Swatch::Interval, "likely range"));
        }
        if self.rows.iter().any(|r| r.second.is_some()) {
            let swatch = match self.second {
                Second::Post => Swatch::Post,
                Second::Ring => Swatch::Ring,
            };
            key.push(KeyEntry::new(swatch, second));
        }
        if self.runs_off() {
            key.push(KeyEntry::new(Swatch::Onward, "goes on past the scale"));
        }
        key
    }

    /// True where an interval may be longer than the scale, in either size.
    fn runs_off(&self) -> bool {
        let Ok(data) = self.data() else { return false };
        let scale = Scale::fit(data, self.axis, Length::Across(400.0));
        let ends = |e: &Estimate| e.low < scale.band.low || e.high > scale.band.high;
        self.rows
            .iter()
            .filter_map(|r| r.known())
            .any(|(e, _)| ends(e))
    }
}

fn with_interval(mark: Mark, e: &Estimate, y: f64, stands_out: bool, scale: &Scale) -> Mark {
    let ink = ink(stands_out);
    let ends = [e.low, e.high].map(|end| (scale.band.clamp(end), y));
    let [low, high] = ends;
    let mut mark = mark.line(ends.to_vec(), ink, THICK);
    if e.low < scale.band.low {
        let (at, step) = (low, -7.0);
        mark = mark.with(Shape::Onward { at, ink, step });
    }
    if e.high > scale.band.high {
        let (at, step) = (high, 7.0);
        mark = mark.with(Shape::Onward { at, ink, step });
    }
    mark
}

/// Ink of a mark that is as usual, or that stands out.
pub(super) fn ink(stands_out: bool) -> Ink {
    if stands_out { Ink::Warn } else { Ink::Main }
}

/// The mark of a value: a dot, or a diamond where it stands out.
pub(super) fn value_at(at: (f64, f64), stands_out: bool) -> Shape {
    let ink = ink(stands_out);
    if stands_out {
        let half = DIAMOND;
        return Shape::Diamond { at, ink, half };
    }
    Shape::Dot {
        at,
        ink,
        opacity: 1.0,
        radius: DOT,
    }
}

fn put_value(frame: &mut Frame, text: &str, y: f64) {
    let (_, py) = frame.px((0.0, y));
    let x = frame.width() - 2.0;
    frame.put(Words::new(text, x, py).bold().end());
}

/// Says why a row has no mark, clear of its second mark where there is one: in
/// one line, or else in two beside it.
fn put_thin(frame: &mut Frame, text: &str, y: f64) {
    let (_, py) = frame.px((0.0, y));
    let inner = frame.inner;
    let (left, right) = (inner.left + 4.0, inner.right - 4.0);
    let middle = (left + right) / 2.0;
    let whole = shorten(text, SMALL, right - left);
    let at = |text: &str, x: f64, y: f64| Words::new(text, x, y).muted();
    let line = [
        at(&whole, middle, py).middle(),
        at(&whole, left, py),
        at(&whole, right, py).end(),
    ];
    if frame.try_put(line) {
        return;
    }
    let half = wrap(text, SMALL, (right - left) / 2.0 - 8.0, 2);
    for (i, part) in half.iter().enumerate() {
        let y = py + LINE * (i as f64 - (half.len() as f64 - 1.0) / 2.0);
        let free = frame.try_put([at(part, left, y), at(part, right, y).end()]);
        if !free {
            // The rim sets the words off from the mark that they cross.
            frame.put(at(part, left, y));
        }
    }
}

/// The labels of rows, broken into lines, and the room that they need.
#[derive(Debug)]
pub(super) struct Labels {
    rows: Vec<Label>,
    /// Width of the column, px, with the space to the plot.
    pub(super) width: f64,
    height: f64,
}

#[derive(Debug)]
struct Label {
    name: Vec<String>,
    note: Vec<String>,
}

impl Labels {
    /// The labels and notes of rows for a drawing of that size.
    pub(super) fn of<'a>(rows: impl Iterator<Item = (&'a str, &'a str)>, size: Size) -> Self {
        let (room, lines) = if size == Size::Wide {
            (200.0, 2)
        } else {
            (118.0, 3)
        };
        let rows: Vec<Label> = rows
            .map(|(label, note)| Label {
                name: wrap(label, PLAIN, room, lines),
                note: wrap(note, SMALL, room, 2),
            })
            .collect();
        let names = rows.iter().flat_map(|r| &r.name).map(String::as_str);
        let notes = rows.iter().flat_map(|r| &r.note).map(String::as_str);
        let width = widest(names, PLAIN, false).max(widest(notes, SMALL, false)) + 14.0;
        let lines = rows.iter().map(|r| r.name.len() + r.note.len()).max();
        let height = (LINE * lines.unwrap_or(1) as f64 + 8.0).max(30.0);
        Self {
            rows,
            width,
            height,
        }
    }

    /// Upright span of the rows: row `i` lies at `-i`.
    pub(super) fn span(&self) -> Band {
        Band {
            low: 0.5 - self.rows.len() as f64,
            high: 0.5,
        }
    }

    /// A frame that is as high as the rows need.
    pub(super) fn frame(&self, size: Size, margins: Margins, x: Band) -> Frame {
        let rows = self.height * self.rows.len() as f64;
        let height = (margins.top + rows + margins.bottom).ceil();
        Frame::new(size, height as u32, margins, x, self.span())
    }

    /// Writes the label of row `i` beside the plot.
    pub(super) fn put(&self, frame: &mut Frame, i: usize) {
        self.put_at(frame, i, frame.inner.left);
    }

    /// Writes the label of row `i` so that it ends left of `edge` px.
    pub(super) fn put_at(&self, frame: &mut Frame, i: usize, edge: f64) {
        let Some(label) = self.rows.get(i) else {
            return;
        };
        let (_, middle) = frame.px((0.0, -(i as f64)));
        let count = label.name.len() + label.note.len();
        let top = middle - LINE * (count as f64 - 1.0) / 2.0;
        let x = edge - 10.0;
        for (line, name) in label.name.iter().enumerate() {
            frame.put(Words::new(name.clone(), x, top + LINE * line as f64).end());
        }
        for (line, note) in label.note.iter().enumerate() {
            let y = top + LINE * (label.name.len() + line) as f64;
            frame.put(Words::new(note.clone(), x, y).muted().end());
        }
    }
}
