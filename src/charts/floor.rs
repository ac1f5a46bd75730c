//! Prices charged against the floor of each job: what lies under the line was
//! sold too cheap.
//!
//! Up to 1,500 jobs, each is a dot. Beyond that, jobs are gathered in cells
//! whose size tells how many they are, or the dots would hide one another.

use super::axis::{Axis, Band, Length, Scale, Tick, checked};
use super::error::ChartError;
use super::frame::{Frame, Margins};
use super::key::{KeyEntry, Swatch};
use super::mark::{Cells, Mark, Shape, units};
use super::theme::{DENSE, DIAMOND, Ink, SPECK, STRONG};
use super::words::Words;
use super::{Size, Svg};
use std::collections::BTreeMap;

/// Jobs by their floor and the price charged.
#[derive(Debug, Clone)]
pub struct Floor<'a> {
    /// Jobs at or above their floor.
    pub covered: Vec<Priced>,
    /// Jobs below their floor that are shown one by one, worst first; the
    /// first few are labelled where there is room.
    pub below: Vec<Job>,
    /// Further jobs below their floor, without names.
    pub more_below: Vec<Priced>,
    /// How a price is written on the axes.
    pub tick: Tick<'a>,
    /// What the upright axis holds: "charged".
    pub up: String,
    /// What the level axis holds: "floor price".
    pub across: String,
}

/// A job's two prices, in the axes' unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Priced {
    /// Its floor price.
    pub floor: f64,
    /// The price charged.
    pub price: f64,
}

/// A job with a name.
#[derive(Debug, Clone)]
pub struct Job {
    /// Its two prices.
    pub at: Priced,
    /// "job 4258".
    pub label: String,
    /// Tip of its mark; repeats the table.
    pub tip: String,
}

/// Jobs shown dot by dot; beyond that, in cells.
const MOST: usize = 1_500;
/// Side of a cell, whole px: then its squares need no decimals.
const CELL: f64 = 9.0;

impl Floor<'_> {
    fn all(&self) -> impl Iterator<Item = (Priced, &str)> {
        let named = self.below.iter().map(|job| (job.at, job.label.as_str()));
        named.chain(self.unnamed().map(|at| (at, "a job")))
    }

    fn unnamed(&self) -> impl Iterator<Item = Priced> {
        self.covered.iter().chain(&self.more_below).copied()
    }

    fn is_dense(&self) -> bool {
        self.covered.len() + self.more_below.len() > MOST
    }

    /// The marks that occur, with what they mean.
    pub fn key(&self) -> Vec<KeyEntry> {
        let covered = !self.covered.is_empty();
        let below = self.below.len() + self.more_below.len() > 0;
        KeyEntry::those([
            (
                covered && !self.is_dense(),
                Swatch::Speck,
                "job at or above its floor",
            ),
            (
                covered && self.is_dense(),
                Swatch::Cells,
                "jobs at or above their floor: 1, up to 9, up to 99, more",
            ),
            (below, Swatch::Diamond, "job below its floor"),
            (true, Swatch::Line, "charged just what the floor is"),
        ])
    }

    fn spans(&self) -> Result<Span, ChartError> {
        for (at, label) in self.all() {
            checked(at.floor, "floor", label)?;
            checked(at.price, "price", label)?;
        }
        let empty = ChartError::Empty { chart: "floor" };
        let floors = Band::over(self.all().map(|(at, _)| at.floor)).ok_or(empty.clone())?;
        let prices = Band::over(self.all().map(|(at, _)| at.price)).ok_or(empty)?;
        Ok(Span { floors, prices })
    }
}

struct Span {
    floors: Band,
    prices: Band,
}

/// Draws the jobs and the line at which price and floor are equal.
///
/// # Errors
/// Where there is no job, or a number that no axis can hold.
pub fn floor(spec: &Floor, size: Size) -> Result<Svg, ChartError> {
    let span = spec.spans()?;
    let axis = Axis {
        tick: spec.tick,
        from_zero: false,
        limits: None,
    };
    let (height, top, bottom) = if size == Size::Wide {
        (390, 40.0, 48.0)
    } else {
        (340, 40.0, 48.0)
    };
    let up = Scale::fit(
        span.prices,
        &axis,
        Length::Up(f64::from(height) - top - bottom),
    );
    let left = up.lettering() + 14.0;
    let across = f64::from(size.width()) - left - 18.0;
    let level = Scale::fit(span.floors, &axis, Length::Across(across));
    let margins = Margins {
        top,
        right: 18.0,
        bottom,
        left,
    };
    let mut frame = Frame::new(size, height, margins, level.band, up.band);
    frame.y_axis(&up, level.band)?;
    frame.x_axis(&level, up.band)?;
    frame.axis_line(
        (level.band.low, up.band.low),
        (level.band.high, up.band.low),
    )?;
    name_axes(&mut frame, spec, &up, &level);
    draw_unnamed(&frame, spec)?;
    let line = equal_line(level.band, up.band);
    if let Some(ends) = line {
        frame.draw(&Mark::new().line(ends.to_vec(), Ink::Muted, STRONG))?;
    }
    for job in &spec.below {
        frame.draw(&named(job))?;
    }
    if let Some([_, end]) = line {
        label_line(&mut frame, end);
    }
    label_worst(&mut frame, spec);
    frame.finish()
}

fn name_axes(frame: &mut Frame, spec: &Floor, up: &Scale, level: &Scale) {
    let with_cut = |name: &str, scale: &Scale| match &scale.cut {
        Some(cut) => format!("{name} ({cut})"),
        None => name.to_string(),
    };
    let upright = format!("\u{2191} {}", with_cut(&spec.up, up));
    frame.put(Words::new(upright, 2.0, 10.0).muted());
    let across = format!("{} \u{2192}", with_cut(&spec.across, level));
    let y = frame.inner.bottom + 32.0;
    frame.put(Words::new(across, frame.inner.right, y).muted().end());
}

/// The part of the line price = floor that lies within both spans.
fn equal_line(x: Band, y: Band) -> Option<[(f64, f64); 2]> {
    let (low, high) = (x.low.max(y.low), x.high.min(y.high));
    (low < high).then_some([(low, low), (high, high)])
}

fn named(job: &Job) -> Mark {
    let at = (job.at.floor, job.at.price);
    Mark::new().tip(&job.tip).with(Shape::Diamond {
        at,
        ink: Ink::Warn,
        half: DIAMOND - 1.0,
    })
}

fn draw_unnamed(frame: &Frame, spec: &Floor) -> Result<(), ChartError> {
    if spec.is_dense() {
        draw_cells(frame, &spec.covered, Ink::Main)?;
        return draw_cells(frame, &spec.more_below, Ink::Warn);
    }
    for job in &spec.covered {
        frame.draw(&Mark::new().with(Shape::Dot {
            at: (job.floor, job.price),
            ink: Ink::Main,
            opacity: DENSE,
            radius: SPECK,
        }))?;
    }
    for job in &spec.more_below {
        frame.draw(&Mark::new().with(Shape::Diamond {
            at: (job.floor, job.price),
            ink: Ink::Warn,
            half: SPECK + 1.0,
        }))?;
    }
    Ok(())
}

/// Sizes of a cell's square, half the side in px, and up to how many jobs it
/// stands for.
const CLASSES: [(f64, usize); 4] = [(1.0, 1), (2.0, 9), (3.0, 99), (4.0, usize::MAX)];

fn draw_cells(frame: &Frame, jobs: &[Priced], ink: Ink) -> Result<(), ChartError> {
    let mut counts: BTreeMap<(i32, i32), usize> = BTreeMap::new();
    for job in jobs {
        let (x, y) = frame.px((job.floor, job.price));
        let cell = ((x / CELL).floor() as i32, (y / CELL).floor() as i32);
        *counts.entry(cell).or_default() += 1;
    }
    let mut least = 0;
    for (half, most) in CLASSES {
        let of_class = counts.iter().filter(|(_, n)| least < **n && **n <= most);
        let middle = |i: i32| units(f64::from(i) * CELL + (CELL / 2.0).floor());
        let at: Vec<(i32, i32)> = of_class
            .map(|((i, j), _)| (middle(*i), middle(*j)))
            .collect();
        least = most;
        if !at.is_empty() {
            let turned = ink == Ink::Warn;
            frame.draw_cells(&Cells {
                at,
                half,
                turned,
                ink,
            })?;
        }
    }
    Ok(())
}

fn label_line(frame: &mut Frame, end: (f64, f64)) {
    let (x, y) = frame.px(end);
    let words = |x: f64, y: f64| Words::new("floor", x, y).small().end();
    frame.try_put([
        words(x, y + 16.0),
        words(x - 4.0, y + 26.0),
        words(x - 24.0, y - 4.0),
        words(x - 4.0, y - 10.0),
    ]);
}

fn label_worst(frame: &mut Frame, spec: &Floor) {
    let most = if frame.is_wide() { 4 } else { 2 };
    for job in spec.below.iter().take(most) {
        let (x, y) = frame.px((job.at.floor, job.at.price));
        let words = |x: f64, y: f64| Words::new(job.label.clone(), x, y).small();
        frame.try_put([
            words(x + 10.0, y),
            words(x, y + 14.0).middle(),
            words(x + 8.0, y + 9.0),
            words(x - 10.0, y).end(),
            words(x, y - 14.0).middle(),
            words(x - 8.0, y + 9.0).end(),
        ]);
    }
}
