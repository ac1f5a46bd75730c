//! A figure month by month, with its likely range, the usual range of each
//! month and the usual level. Without those two it is a plain run of months.

use super::axis::{Axis, Band, Length, Scale, checked, checked_band, interval, reach};
use super::error::ChartError;
use super::frame::{Frame, Margins, Name};
use super::key::{KeyEntry, Swatch};
use super::mark::{Mark, Shape};
use super::place::spread;
use super::rows::{LINE, ink, value_at};
use super::theme::{Ink, STRONG, THIN, WASH};
use super::words::Words;
use super::{Size, Svg};
use crate::estimate::Estimate;

/// A figure by month: a rate, or money per job.
#[derive(Debug, Clone)]
pub struct Control<'a> {
    /// The months in order, without gaps: a month without a figure keeps its
    /// place.
    pub months: Vec<Month>,
    /// The usual level.
    pub centre: Option<Centre>,
    /// The axis of the values, upright.
    pub axis: Axis<'a>,
}

/// One month.
#[derive(Debug, Clone)]
pub struct Month {
    /// "Oct 26".
    pub label: String,
    /// Value and likely range; none where there were too few jobs.
    pub figure: Option<Estimate>,
    /// The value as text; shown for the last month and for those outside.
    pub text: String,
    /// The range within which chance alone moves this month's figure.
    pub usual: Option<Band>,
    /// The figure lies outside its usual range; findings decide it.
    pub outside: bool,
    /// Tip of the month's marks; repeats the table.
    pub tip: String,
}

/// A level that others are held against.
#[derive(Debug, Clone, PartialEq)]
pub struct Centre {
    /// Where it lies, in the axis' unit.
    pub value: f64,
    /// How it is labelled: "usual 31%".
    pub text: String,
}

impl Control<'_> {
    /// The marks that occur, with what they mean.
    pub fn key(&self) -> Vec<KeyEntry> {
        let known = || self.months.iter().filter(|m| m.figure.is_some());
        let banded = self.months.iter().any(|m| m.usual.is_some());
        let mut key = KeyEntry::those([
            (known().any(|m| !m.outside), Swatch::Dot, "month"),
            (
                known().any(|m| m.outside),
                Swatch::Diamond,
                "month outside its usual range",
            ),
            (known().next().is_some(), Swatch::Whisker, "likely range"),
            (banded, Swatch::Band, "usual range"),
            (
                self.months.iter().any(|m| m.figure.is_none()),
                Swatch::Gap,
                "month with too few jobs to say",
            ),
        ]);
        if let Some(centre) = &self.centre {
            key.push(KeyEntry::new(Swatch::Line, centre.text.clone()));
        }
        key
    }

    fn data(&self) -> Result<Band, ChartError> {
        let mut values = Vec::new();
        let mut intervals = Vec::new();
        for month in &self.months {
            if let Some(estimate) = &month.figure {
                intervals.push(interval(estimate, &month.label)?);
                values.push(estimate.value);
            }
            if let Some(usual) = month.usual {
                let usual = checked_band(usual, "usual range", &month.label)?;
                values.extend([usual.low, usual.high]);
            }
        }
        if let Some(centre) = &self.centre {
            values.push(checked(centre.value, "usual level", &centre.text)?);
        }
        reach(&values, &intervals).ok_or(ChartError::Empty { chart: "control" })
    }

    /// The months, and room in a plot `width` px wide for the last one's value
    /// beside its dot.
    fn span(&self, width: f64) -> Band {
        let months = self.months.len() as f64;
        let last = self.months.last().filter(|m| m.figure.is_some());
        let room = last.map_or(0.0, |m| {
            let words = Words::new(m.text.clone(), 0.0, 0.0).bold();
            let beside = (BESIDE + words.room().width() + BESIDE).min(width / 2.0);
            ((beside * months - 0.5 * width) / (width - beside)).max(0.0)
        });
        Band {
            low: -0.5,
            high: months - 0.5 + room,
        }
    }
}

/// Room on the right for what names the band and the level, px.
const NAMES: f64 = 150.0;

/// Draws the months.
///
/// # Errors
/// Where there is no number to draw, one that no axis can hold, or a range
/// that runs backwards.
pub fn control(spec: &Control, size: Size) -> Result<Svg, ChartError> {
    if spec.months.is_empty() {
        return Err(ChartError::Empty { chart: "control" });
    }
    let data = spec.data()?;
    let wide = size == Size::Wide;
    let height = if wide { 310 } else { 270 };
    let plot = f64::from(height) - 60.0;
    let scale = Scale::fit(data, &spec.axis, Length::Up(plot));
    let named = wide && spec.centre.is_some();
    let margins = Margins {
        top: 28.0,
        right: if named { NAMES } else { 14.0 },
        bottom: 26.0,
        left: scale.lettering() + 14.0,
    };
    let span = spec.span(f64::from(size.width()) - margins.left - margins.right);
    let mut frame = Frame::new(size, height, margins, span, scale.band);
    frame.y_axis(&scale, span)?;
    draw_band(&frame, spec, span)?;
    draw_centre(&mut frame, spec, span)?;
    draw_run(&frame, spec)?;
    for (i, month) in spec.months.iter().enumerate() {
        draw_month(&frame, month, i as f64, &scale)?;
    }
    draw_foot(&mut frame, spec, span, &scale)?;
    label_values(&mut frame, spec);
    if named {
        name_band(&mut frame, spec);
    } else {
        name_centre(&mut frame, spec);
    }
    frame.finish()
}

/// The usual range: a wash with dashed edges, a step a month, the last one up
/// to the plot's edge, broken where a month has none.
fn draw_band(frame: &Frame, spec: &Control, span: Band) -> Result<(), ChartError> {
    for stretch in stretches(&spec.months, |m| m.usual) {
        let steps = |end: fn(&Band) -> f64| -> Vec<(f64, f64)> {
            let last = spec.months.len() as f64 - 1.0;
            let until = |x: f64| if x < last { x + 0.5 } else { span.high };
            let corners = |(x, band): &(f64, Band)| [(x - 0.5, end(band)), (until(*x), end(band))];
            stretch.iter().flat_map(corners).collect()
        };
        let (high, low) = (steps(|b| b.high), steps(|b| b.low));
        let outline = high.iter().chain(low.iter().rev()).copied().collect();
        frame.draw(&Mark::new().area(outline, Ink::Axis, WASH))?;
        let edges = Mark::new().dashed();
        frame.draw(&edges.line(high, Ink::Axis, THIN).line(low, Ink::Axis, THIN))?;
    }
    Ok(())
}

/// Runs of neighbouring months for which `of` gives something, with their
/// place on the axis.
fn stretches<T>(months: &[Month], of: impl Fn(&Month) -> Option<T>) -> Vec<Vec<(f64, T)>> {
    let mut out: Vec<Vec<(f64, T)>> = Vec::new();
    let mut open = false;
    for (i, month) in months.iter().enumerate() {
        let Some(found) = of(month) else {
            open = false;
            continue;
        };
        match out.last_mut() {
            Some(run) if open => run.push((i as f64, found)),
            _ => out.push(vec![(i as f64, found)]),
        }
        open = true;
    }
    out
}

fn draw_centre(frame: &mut Frame, spec: &Control, span: Band) -> Result<(), ChartError> {
    let Some(centre) = &spec.centre else {
        return Ok(());
    };
    let ends = [span.low, span.high].map(|x| (x, centre.value));
    frame.draw(&Mark::new().line(ends.to_vec(), Ink::Muted, STRONG))
}

/// The thin line from month to month.
fn draw_run(frame: &Frame, spec: &Control) -> Result<(), ChartError> {
    let value = |m: &Month| m.figure.as_ref().map(|e| e.value);
    for run in stretches(&spec.months, value) {
        if run.len() > 1 {
            frame.draw(&Mark::new().line(run, Ink::Main, THIN))?;
        }
    }
    Ok(())
}

fn draw_month(frame: &Frame, month: &Month, x: f64, scale: &Scale) -> Result<(), ChartError> {
    let mark = Mark::new().tip(&month.tip);
    let Some(e) = &month.figure else {
        let gap = vec![(x, scale.band.low), (x, scale.band.high)];
        let inner = Mark::new().dashed().line(gap, Ink::Axis, THIN);
        return frame.draw(&inner);
    };
    let ink = ink(month.outside);
    let ends = [e.low, e.high].map(|end| (x, scale.band.clamp(end)));
    let [low, high] = ends;
    let mut mark = mark.line(ends.to_vec(), ink, STRONG);
    if e.low < scale.band.low {
        let (at, step) = (low, 6.0);
        mark = mark.with(Shape::Beyond { at, ink, step });
    }
    if e.high > scale.band.high {
        let (at, step) = (high, -6.0);
        mark = mark.with(Shape::Beyond { at, ink, step });
    }
    frame.draw(&mark.with(value_at((x, e.value), month.outside)))
}

fn draw_foot(
    frame: &mut Frame,
    spec: &Control,
    span: Band,
    scale: &Scale,
) -> Result<(), ChartError> {
    let level = scale.band.clamp(0.0);
    frame.axis_line((span.low, level), (span.high, level))?;
    let names: Vec<Name> = spec
        .months
        .iter()
        .enumerate()
        .map(|(i, month)| Name {
            at: i as f64,
            text: &month.label,
        })
        .collect();
    frame.x_names(&names);
    if let Some(note) = &scale.cut {
        frame.cut_note(note);
    }
    Ok(())
}

/// Values beside their marks: the last month's first, then those outside.
fn label_values(frame: &mut Frame, spec: &Control) {
    let last = spec.months.len().saturating_sub(1);
    for (i, month) in spec.months.iter().enumerate().rev() {
        if let Some(e) = month.figure.filter(|_| i == last || month.outside) {
            label_value(frame, month, i as f64, &e);
        }
    }
}

/// Steps by which a value moves off its mark to find a place, px.
const SEARCH: f64 = 4.0;
/// From a dot to the value beside it, px.
const BESIDE: f64 = 9.0;
/// Steps up or down within which a value still stands beside its dot.
const BESIDE_STEPS: u32 = 4;

/// The value of a month beside its dot, where there is room: over the stroke it
/// would read as another height. Else as near above its mark as there is room,
/// else as near below.
fn label_value(frame: &mut Frame, month: &Month, i: f64, e: &Estimate) {
    let inner = frame.inner;
    let (x, top) = frame.px((i, e.high));
    let (_, foot) = frame.px((i, e.low));
    let (top, foot) = (top.max(inner.top) - 9.0, foot.min(inner.bottom) + 10.0);
    let steps = |room: f64| (0..(room / SEARCH).max(0.0) as u32).map(|k| f64::from(k) * SEARCH);
    let above = steps(top - 6.0).map(|d| top - d);
    let below = steps(inner.bottom - foot).map(|d| foot + d);
    let at = |x: f64, y: f64| Words::new(month.text.clone(), x, y).bold();
    let aside = |y: f64| [at(x, y).middle(), at(x + 10.0, y).end(), at(x - 10.0, y)];
    let (_, level) = frame.px((i, e.value));
    let beside =
        (0..=BESIDE_STEPS).flat_map(|k| [-SEARCH, SEARCH].map(|s| level + s * f64::from(k)));
    let beside = beside.flat_map(|y| [at(x + BESIDE, y), at(x - BESIDE, y).end()]);
    let far = above.chain(below).flat_map(aside);
    let choices: Vec<Words> = beside.chain(far).collect();
    frame.try_put(choices);
}

/// Names the level and both edges of the last month's band, right of the plot.
fn name_band(frame: &mut Frame, spec: &Control) {
    let Some(centre) = &spec.centre else { return };
    let last = spec.months.last().and_then(|m| m.usual);
    let mut names = vec![(centre.value, centre.text.as_str(), Ink::Text)];
    if let Some(band) = last {
        names.push((band.high, "top of usual range", Ink::Muted));
        names.push((band.low, "bottom of usual range", Ink::Muted));
    }
    let wanted: Vec<f64> = names.iter().map(|n| frame.px((0.0, n.0)).1).collect();
    let (top, bottom) = (frame.inner.top, frame.inner.bottom);
    let x = frame.inner.right + 8.0;
    for (name, y) in names.iter().zip(spread(&wanted, LINE, top, bottom)) {
        let mut words = Words::new(name.1, x, y).muted();
        words.ink = name.2;
        frame.put(words);
    }
}

/// Names the level within the plot, where it crosses nothing.
fn name_centre(frame: &mut Frame, spec: &Control) {
    let Some(centre) = &spec.centre else { return };
    let (_, y) = frame.px((0.0, centre.value));
    let inner = frame.inner;
    let columns = 24;
    let choices = (0..columns).flat_map(|i| {
        let x = inner.left + 4.0 + inner.width() * f64::from(i) / f64::from(columns);
        [-9.0, 10.0].map(|dy| Words::new(centre.text.clone(), x, y + dy).small())
    });
    let within: Vec<Words> = choices.filter(|w| w.room().right < inner.right).collect();
    frame.try_put(within);
}
