//! A price list as a table: which entries cover their floor and which do not.
//!
//! Each cell says so by its mark and its words; the tint only helps to find
//! it.

use super::axis::Band;
use super::error::ChartError;
use super::frame::{Frame, Margins};
use super::key::{KeyEntry, Swatch};
use super::lettering::{shorten, widest, wrap};
use super::mark::{Mark, Shape};
use super::rows::LINE;
use super::theme::{Ink, PLAIN, SMALL, STRONG, THIN, WASH};
use super::words::Words;
use super::{Size, Svg};

/// A price list: classes down, finishes across.
#[derive(Debug, Clone, PartialEq)]
pub struct Heat {
    /// Headings of the columns.
    pub columns: Vec<String>,
    /// The rows, from the top down.
    pub rows: Vec<HeatRow>,
}

/// A row of the price list.
#[derive(Debug, Clone, PartialEq)]
pub struct HeatRow {
    /// Its heading.
    pub label: String,
    /// A cell for each column.
    pub cells: Vec<Cell>,
}

/// An entry of the price list.
#[derive(Debug, Clone, PartialEq)]
pub struct Cell {
    /// The price in the list: "$310".
    pub text: String,
    /// Said under it: "mend to $345", "2 of 3 jobs"; may be empty.
    pub note: String,
    /// What is known of it.
    pub cover: Cover,
    /// Tip of the cell; repeats the table.
    pub tip: String,
}

/// Whether a price covers its floor; findings decide it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cover {
    /// It does.
    Covers,
    /// It likely does not.
    LikelyUnder,
    /// It does not.
    Under,
    /// Too little data to say.
    Unknown,
}

impl Cover {
    /// True where the cell has a mark in its corner.
    fn is_marked(self) -> bool {
        matches!(self, Self::LikelyUnder | Self::Under)
    }
}

/// A cell narrower than this moves its price aside for the corner mark, px.
const TIGHT: f64 = 90.0;
/// Height of a row and of a heading whose labels take two lines and one, px.
const ROW: f64 = 40.0;
const HEADING: f64 = 26.0;
/// Most lines of a row's label and of a heading.
const LABEL_LINES: usize = 3;
const HEADING_LINES: usize = 2;
/// Least width of a cell, px; a list with more columns than fit is drawn in
/// blocks, one under the other.
const LEAST: f64 = 62.0;

impl Heat {
    /// The marks that occur, with what they mean.
    pub fn key(&self) -> Vec<KeyEntry> {
        let has = |cover: Cover| self.cells().any(|c| c.cover == cover);
        KeyEntry::those([
            (has(Cover::Under), Swatch::Under, "under its floor"),
            (
                has(Cover::LikelyUnder),
                Swatch::LikelyUnder,
                "likely under its floor",
            ),
            (has(Cover::Unknown), Swatch::Unknown, "too few jobs to say"),
        ])
    }

    fn cells(&self) -> impl Iterator<Item = &Cell> {
        self.rows.iter().flat_map(|row| &row.cells)
    }

    fn check(&self) -> Result<(), ChartError> {
        if self.columns.is_empty() || self.rows.is_empty() {
            return Err(ChartError::Empty {
                chart: "price list",
            });
        }
        for row in &self.rows {
            if row.cells.len() != self.columns.len() {
                return Err(ChartError::Ragged {
                    row: row.label.clone(),
                    have: row.cells.len(),
                    need: self.columns.len(),
                });
            }
        }
        Ok(())
    }
}

/// Draws the price list.
///
/// # Errors
/// Where it has no row or column, or a row with a cell too many or too few.
pub fn heat(spec: &Heat, size: Size) -> Result<Svg, ChartError> {
    spec.check()?;
    let longest = if size == Size::Wide { 170.0 } else { 92.0 };
    let labels = spec.rows.iter().map(|r| r.label.as_str());
    let left = widest(labels, PLAIN, false).min(longest) + 20.0;
    let across = f64::from(size.width()) - left - 1.0;
    let fit = ((across / LEAST).floor() as usize).max(1);
    let columns = spec.columns.len();
    let blocks = columns.div_ceil(fit);
    let per_block = columns.div_ceil(blocks);
    let cell = across / per_block as f64;
    let plan = Plan::of(spec, left, cell, per_block);
    let height = (plan.tall * blocks as f64).ceil() as u32 + 2;
    let mut frame = plan.frame(size, height);
    for block in 0..blocks {
        plan.headings(&mut frame, spec, block);
        for (r, row) in spec.rows.iter().enumerate() {
            plan.row(&mut frame, row, r, block)?;
        }
    }
    frame.finish()
}

/// Where things lie, px.
struct Plan {
    left: f64,
    cell: f64,
    per_block: usize,
    /// Height of a row, of the headings, and of a block.
    row: f64,
    heading: f64,
    tall: f64,
}

/// The lines of a row's label.
fn label(text: &str, left: f64) -> Vec<String> {
    wrap(text, PLAIN, left - 12.0, LABEL_LINES)
}

/// The lines of a column's heading.
fn heading(text: &str, cell: f64) -> Vec<String> {
    wrap(text, SMALL, cell - 4.0, HEADING_LINES)
}

impl Plan {
    /// Rows and headings as high as the longest of them needs.
    fn of(spec: &Heat, left: f64, cell: f64, per_block: usize) -> Self {
        let lines = |all: usize| all.max(1) as f64;
        let labels = spec.rows.iter().map(|r| label(&r.label, left).len());
        let headings = spec.columns.iter().map(|c| heading(c, cell).len());
        let row = ROW + LINE * (lines(labels.max().unwrap_or(0)) - 2.0).max(0.0);
        let heading = HEADING + LINE * (lines(headings.max().unwrap_or(0)) - 1.0);
        Self {
            left,
            cell,
            per_block,
            row,
            heading,
            tall: heading + row * spec.rows.len() as f64,
        }
    }

    /// A frame whose data coordinates are px.
    fn frame(&self, size: Size, height: u32) -> Frame {
        let none = Margins {
            top: 0.0,
            right: 0.0,
            bottom: 0.0,
            left: 0.0,
        };
        let x = Band {
            low: 0.0,
            high: f64::from(size.width()),
        };
        let y = Band {
            low: f64::from(height),
            high: 0.0,
        };
        Frame::new(size, height, none, x, y)
    }

    fn columns<'a, T>(&self, all: &'a [T], block: usize) -> impl Iterator<Item = (usize, &'a T)> {
        let from = block * self.per_block;
        all.iter().skip(from).take(self.per_block).enumerate()
    }

    fn headings(&self, frame: &mut Frame, spec: &Heat, block: usize) {
        // The last line of each stands on one line.
        let foot = self.tall * block as f64 + self.heading - HEADING / 2.0 + 2.0;
        for (c, name) in self.columns(&spec.columns, block) {
            let x = self.left + self.cell * (c as f64 + 0.5);
            for (above, line) in heading(name, self.cell).into_iter().rev().enumerate() {
                let y = foot - LINE * above as f64;
                frame.put(Words::new(line, x, y).muted().middle());
            }
        }
    }

    fn row(
        &self,
        frame: &mut Frame,
        row: &HeatRow,
        r: usize,
        block: usize,
    ) -> Result<(), ChartError> {
        let top = self.tall * block as f64 + self.heading + self.row * r as f64;
        let lines = label(&row.label, self.left);
        for (i, line) in lines.iter().enumerate() {
            let y =
                top + (self.row - 3.0) / 2.0 + LINE * (i as f64 - (lines.len() as f64 - 1.0) / 2.0);
            frame.put(Words::new(line.clone(), self.left - 10.0, y).end());
        }
        for (c, cell) in self.columns(&row.cells, block) {
            let left = self.left + self.cell * c as f64;
            draw_cell(frame, cell, (left, top), (self.cell, self.row))?;
        }
        Ok(())
    }
}

fn draw_cell(
    frame: &mut Frame,
    cell: &Cell,
    (left, top): (f64, f64),
    (width, height): (f64, f64),
) -> Result<(), ChartError> {
    let (right, foot) = (left + width - 3.0, top + height - 3.0);
    let outline = vec![(left, top), (right, top), (right, foot), (left, foot)];
    let mark = Mark::new().tip(&cell.tip);
    frame.draw(&tinted(mark, outline, cell.cover, (left + 9.0, top + 9.0)))?;
    let (x, middle) = ((left + right) / 2.0, (top + foot) / 2.0);
    let room = width - 6.0;
    let has_note = !cell.note.is_empty();
    let y = if has_note {
        middle - LINE / 2.0 + 1.0
    } else {
        middle
    };
    let aside = if cell.cover.is_marked() && width < TIGHT {
        5.0
    } else {
        0.0
    };
    let text = shorten(&cell.text, PLAIN, room - 2.0 * aside);
    let mut words = Words::new(text, x + aside, y).middle().on_tint();
    match cell.cover {
        Cover::Under => words = words.bold(),
        Cover::Unknown => words.ink = Ink::Muted,
        Cover::Covers | Cover::LikelyUnder => {}
    }
    frame.put(words);
    if has_note {
        let note = shorten(&cell.note, SMALL, room);
        let mut words = Words::new(note, x, middle + LINE / 2.0)
            .small()
            .middle()
            .on_tint();
        if cell.cover == Cover::Unknown {
            words.ink = Ink::Muted;
        }
        frame.put(words);
    }
    Ok(())
}

/// The ground, edge and corner mark of a cell.
fn tinted(mark: Mark, outline: Vec<(f64, f64)>, cover: Cover, corner: (f64, f64)) -> Mark {
    let mut edge = outline.clone();
    edge.extend(outline.first().copied());
    match cover {
        Cover::Covers => mark
            .area(outline, Ink::Paper, 1.0)
            .line(edge, Ink::Grid, THIN),
        Cover::Unknown => mark
            .area(outline, Ink::Paper, 1.0)
            .dashed()
            .line(edge, Ink::Axis, THIN),
        Cover::LikelyUnder => {
            mark.area(outline, Ink::Warn, WASH)
                .line(ring(corner, 4.0), Ink::Warn, STRONG)
        }
        Cover::Under => mark
            .area(outline, Ink::Warn, WASH)
            .line(edge, Ink::Warn, STRONG)
            .with(Shape::Diamond {
                at: corner,
                ink: Ink::Warn,
                half: 5.0,
            }),
    }
}

/// The outline of a diamond around a point.
fn ring((x, y): (f64, f64), half: f64) -> Vec<(f64, f64)> {
    vec![
        (x, y - half),
        (x + half, y),
        (x, y + half),
        (x - half, y),
        (x, y - half),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(label: &str, column: &str, size: Size) -> Svg {
        let cell = Cell {
            text: "$310".into(),
            note: String::new(),
            cover: Cover::Covers,
            tip: String::new(),
        };
        let row = HeatRow {
            label: label.into(),
            cells: vec![cell.clone(), cell],
        };
        let spec = Heat {
            columns: vec![column.into(), "matte".into()],
            rows: vec![row],
        };
        heat(&spec, size).unwrap()
    }

    #[test]
    fn long_names_take_lines_and_the_rows_grow() {
        let (name, column) = (
            "Sport utility, long wheelbase",
            "Textured carbon weave look",
        );
        let long = drawn(name, column, Size::Narrow);
        assert!(!long.body.contains('\u{2026}'), "{}", long.body);
        let short = drawn("suv", "gloss", Size::Narrow);
        assert!(f64::from(long.height()) >= f64::from(short.height()) + 2.0 * LINE);
    }
}
