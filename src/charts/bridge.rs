//! From one total to another, step by step: where the margin moved.
//!
//! Bars start at zero, always. Where the totals dwarf the changes, a zero-based
//! bridge would show two towers and a few splinters; then the changes stand
//! alone, each from zero, and the totals are words.

use super::axis::{Axis, Band, Length, Scale, Tick, checked};
use super::error::ChartError;
use super::frame::{Frame, Margins};
use super::key::{KeyEntry, Swatch};
use super::lettering::widest;
use super::mark::Mark;
use super::rows::Labels;
use super::theme::{Ink, PLAIN, THIN};
use super::words::Words;
use super::{Size, Svg};

/// A bridge, read from the top down.
#[derive(Debug, Clone)]
pub struct Bridge<'a> {
    /// What it starts from.
    pub from: Total,
    /// The steps between.
    pub steps: Vec<Step>,
    /// What it ends at: `from` and the steps added up.
    pub to: Total,
    /// How a tick is written.
    pub tick: Tick<'a>,
}

/// A start or an end.
#[derive(Debug, Clone)]
pub struct Total {
    /// "Quoted", "September".
    pub label: String,
    /// Its height.
    pub value: f64,
    /// Its value as text.
    pub text: String,
}

/// One step.
#[derive(Debug, Clone)]
pub struct Step {
    /// "Coating used".
    pub label: String,
    /// What it added (above 0) or took away.
    pub change: f64,
    /// The change as text, with its sign.
    pub text: String,
    /// Tip of the bar; repeats the table.
    pub tip: String,
}

/// Half the height of a bar, in rows.
const HALF: f64 = 0.3;
/// Changes stand alone where the longest would be shorter than this share of
/// the longest total.
const DWARFED: f64 = 0.2;
/// How far the steps may miss the end, as a share of the largest amount: what
/// adding floats costs, with room to spare.
const SLACK: f64 = 1e-6;

impl Bridge<'_> {
    /// The marks that occur, with what they mean.
    pub fn key(&self) -> Vec<KeyEntry> {
        let any = |wanted: fn(f64) -> bool| self.steps.iter().any(|s| wanted(s.change));
        KeyEntry::those([
            (any(|c| c > 0.0), Swatch::Gained, "added (+)"),
            (any(|c| c < 0.0), Swatch::Lost, "took away (\u{2212})"),
            (!self.stands_alone(), Swatch::Total, "total"),
        ])
    }

    /// True where the totals would dwarf the changes, so that these are drawn
    /// alone.
    pub fn stands_alone(&self) -> bool {
        let longest =
            |values: &mut dyn Iterator<Item = f64>| values.map(f64::abs).fold(0.0, f64::max);
        let change = longest(&mut self.steps.iter().map(|s| s.change));
        let total = longest(&mut [self.from.value, self.to.value].into_iter());
        change < DWARFED * total
    }

    fn check(&self) -> Result<(), ChartError> {
        let mut sum = checked(self.from.value, "start", &self.from.label)?;
        let mut largest = sum.abs();
        for step in &self.steps {
            sum += checked(step.change, "change", &step.label)?;
            largest = largest.max(step.change.abs());
        }
        let to = checked(self.to.value, "end", &self.to.label)?;
        largest = largest.max(to.abs());
        if (sum - to).abs() > SLACK * largest {
            return Err(ChartError::DoesNotAddUp { sum, to });
        }
        Ok(())
    }

    fn bars(&self) -> Vec<Bar<'_>> {
        let alone = self.stands_alone();
        let mut level = if alone { 0.0 } else { self.from.value };
        let mut bars = vec![Bar::total(&self.from, alone)];
        for step in &self.steps {
            let start = if alone { 0.0 } else { level };
            level = start + step.change;
            bars.push(Bar::step(step, start, level));
        }
        bars.push(Bar::total(&self.to, alone));
        bars
    }
}

/// One row of the drawing.
struct Bar<'a> {
    label: &'a str,
    text: &'a str,
    tip: &'a str,
    start: f64,
    end: f64,
    ink: Ink,
}

impl<'a> Bar<'a> {
    fn total(total: &'a Total, alone: bool) -> Self {
        Self {
            label: &total.label,
            text: &total.text,
            tip: "",
            start: 0.0,
            end: if alone { 0.0 } else { total.value },
            ink: Ink::Axis,
        }
    }

    fn step(step: &'a Step, start: f64, end: f64) -> Self {
        Self {
            label: &step.label,
            text: &step.text,
            tip: &step.tip,
            start,
            end,
            ink: if step.change < 0.0 {
                Ink::Warn
            } else {
                Ink::Main
            },
        }
    }

    fn is_total(&self) -> bool {
        self.ink == Ink::Axis
    }
}

/// Draws the bridge.
///
/// # Errors
/// Where there is no step, a number that no axis can hold, or steps that do
/// not lead from start to end.
pub fn bridge(spec: &Bridge, size: Size) -> Result<Svg, ChartError> {
    spec.check()?;
    if spec.steps.is_empty() {
        return Err(ChartError::Empty { chart: "bridge" });
    }
    let bars = spec.bars();
    let labels = Labels::of(bars.iter().map(|b| (b.label, "")), size);
    let text = widest(bars.iter().map(|b| b.text), PLAIN, true) + 14.0;
    // On a narrow sheet room beside the longest bar is dear: what took away has
    // its text on the other side of zero, where its row is free.
    let across_zero = size == Size::Narrow && spec.stands_alone();
    let left_text = if !across_zero && bars.iter().any(|b| b.end < 0.0) {
        text
    } else {
        0.0
    };
    let across = f64::from(size.width()) - labels.width - text - left_text;
    let scale = scale(spec, &bars, across);
    let margins = Margins {
        top: 6.0,
        right: text,
        bottom: 26.0,
        left: labels.width + left_text,
    };
    let mut frame = labels.frame(size, margins, scale.band);
    let upright = labels.span();
    frame.x_axis(&scale, upright)?;
    for (i, bar) in bars.iter().enumerate() {
        labels.put_at(&mut frame, i, labels.width);
        draw_bar(&mut frame, bar, -(i as f64))?;
        if bar.is_total() && spec.stands_alone() {
            put_total(&mut frame, bar, labels.width, -(i as f64));
        } else {
            put_change(&mut frame, bar, -(i as f64), across_zero);
        }
    }
    if !spec.stands_alone() {
        join(&frame, &bars)?;
    }
    frame.axis_line((0.0, upright.low), (0.0, upright.high))?;
    frame.finish()
}

fn scale(spec: &Bridge, bars: &[Bar], across: f64) -> Scale {
    let ends = bars.iter().flat_map(|b| [b.start, b.end]);
    let data = Band::over(ends).unwrap_or(Band {
        low: 0.0,
        high: 0.0,
    });
    let axis = Axis {
        tick: spec.tick,
        from_zero: true,
        limits: None,
    };
    Scale::fit(data, &axis, Length::Across(across))
}

fn draw_bar(frame: &mut Frame, bar: &Bar, y: f64) -> Result<(), ChartError> {
    let (low, high) = (bar.start.min(bar.end), bar.start.max(bar.end));
    let outline = vec![
        (low, y - HALF),
        (high, y - HALF),
        (high, y + HALF),
        (low, y + HALF),
    ];
    if low < high {
        frame.draw(&Mark::new().tip(bar.tip).area(outline, bar.ink, 1.0))?;
    } else if !bar.is_total() {
        let nothing = vec![(low, y - HALF), (low, y + HALF)];
        frame.draw(&Mark::new().tip(bar.tip).line(nothing, Ink::Axis, THIN))?;
    }
    Ok(())
}

/// The text of a bar at its end, or `across_zero` right of it.
fn put_change(frame: &mut Frame, bar: &Bar, y: f64, across_zero: bool) {
    let (low, high) = (bar.start.min(bar.end), bar.start.max(bar.end));
    let leftwards = bar.end < bar.start || (bar.is_total() && bar.end < 0.0);
    let backwards = leftwards && !across_zero;
    let (x, py) = frame.px((if backwards { low } else { high }, y));
    let words = if backwards {
        Words::new(bar.text, x - 6.0, py).end()
    } else {
        Words::new(bar.text, x + 6.0, py)
    };
    frame.put(words.bold());
}

/// The text of a total that has no bar, beside its label and away from the
/// zero line, where it would read as a change of nothing.
fn put_total(frame: &mut Frame, bar: &Bar, x: f64, y: f64) {
    let (_, py) = frame.px((0.0, y));
    frame.put(Words::new(bar.text, x, py).bold());
}

/// Thin lines from the end of each bar to the start of the next.
fn join(frame: &Frame, bars: &[Bar]) -> Result<(), ChartError> {
    for (i, bar) in bars.iter().enumerate().take(bars.len().saturating_sub(1)) {
        let (from, to) = (-(i as f64) - HALF, -(i as f64) - 1.0 + HALF);
        let line = vec![(bar.end, from), (bar.end, to)];
        frame.draw(&Mark::new().line(line, Ink::Axis, THIN))?;
    }
    Ok(())
}
