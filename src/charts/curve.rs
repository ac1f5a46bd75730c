//! One figure along another, with its likely range: what is left per offer
//! against the price asked.

use super::axis::{Axis, Band, Length, Scale, checked, interval, reach};
use super::control::Centre;
use super::error::ChartError;
use super::frame::{Frame, Margins};
use super::key::{KeyEntry, Swatch};
use super::mark::{Mark, Shape};
use super::theme::{DOT, FINE, Ink, STRONG, WASH};
use super::words::Words;
use super::{Size, Svg};
use crate::estimate::Estimate;

/// A curve over the range in which something was tried.
#[derive(Debug, Clone)]
pub struct Curve<'a> {
    /// The curve, from left to right.
    pub points: Vec<CurvePoint>,
    /// The axis of the figure, upright.
    pub up: Axis<'a>,
    /// The axis of what was tried.
    pub across: Axis<'a>,
    /// What runs across: "price asked".
    pub named: String,
    /// A place on the level axis that others are held against.
    pub reference: Option<Centre>,
    /// The point that is marked and labelled.
    pub best: Option<Best>,
    /// Tip of the curve; repeats the table.
    pub tip: String,
}

/// A point of the curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurvePoint {
    /// Where on the level axis.
    pub at: f64,
    /// The figure there.
    pub figure: Estimate,
}

/// The point that stands out.
#[derive(Debug, Clone, PartialEq)]
pub struct Best {
    /// Where on the level axis.
    pub at: f64,
    /// The figure there.
    pub value: f64,
    /// Its label.
    pub text: String,
}

impl Curve<'_> {
    /// The marks that occur, with what they mean.
    pub fn key(&self) -> Vec<KeyEntry> {
        let mut key = vec![
            KeyEntry::new(Swatch::First, "best guess"),
            KeyEntry::new(Swatch::Likely, "likely range"),
        ];
        if let Some(best) = &self.best {
            key.push(KeyEntry::new(Swatch::Dot, best.text.clone()));
        }
        if let Some(r) = &self.reference {
            key.push(KeyEntry::new(Swatch::Line, r.text.clone()));
        }
        key
    }

    /// What the curve and its range span.
    fn spans(&self) -> Result<Spans, ChartError> {
        let mark = self.named.as_str();
        let mut before = f64::NEG_INFINITY;
        let mut ranges = Vec::new();
        for p in &self.points {
            if checked(p.at, "place", mark)? < before {
                let (what, mark) = ("place", mark.to_string());
                return Err(ChartError::Backwards { what, mark });
            }
            before = p.at;
            ranges.push(interval(&p.figure, mark)?);
        }
        let values: Vec<f64> = self.points.iter().map(|p| p.figure.value).collect();
        let empty = ChartError::Empty { chart: "curve" };
        let across = Band::over(self.points.iter().map(|p| p.at)).ok_or(empty.clone())?;
        let up = reach(&values, &ranges).ok_or(empty)?;
        Ok(Spans { across, up })
    }
}

struct Spans {
    across: Band,
    up: Band,
}

/// Draws the curve.
///
/// # Errors
/// Where there is no point, points that do not run from left to right, or a
/// number that no axis can hold.
pub fn curve(spec: &Curve, size: Size) -> Result<Svg, ChartError> {
    let spans = spec.spans()?;
    let (height, top, bottom) = match size {
        Size::Wide => (300, 28.0, 48.0),
        Size::Narrow => (270, 28.0, 48.0),
    };
    let up = Scale::fit(
        spans.up,
        &spec.up,
        Length::Up(f64::from(height) - top - bottom),
    );
    let left = up.lettering() + 14.0;
    let room = f64::from(size.width()) - left - 24.0;
    // Not a tick further than was tried.
    let within = Axis {
        limits: Some(spans.across),
        ..spec.across
    };
    let across = Scale::fit(spans.across, &within, Length::Across(room));
    let margins = Margins {
        top,
        right: 24.0,
        bottom,
        left,
    };
    let mut frame = Frame::new(size, height, margins, across.band, up.band);
    frame.y_axis(&up, across.band)?;
    frame.x_axis(&across, up.band)?;
    let floor = up.band.low;
    frame.axis_line((across.band.low, floor), (across.band.high, floor))?;
    draw_reference(&frame, spec, &across, &up)?;
    draw_range(&frame, spec, &up)?;
    draw_best(&mut frame, spec, &up)?;
    name_axis(&mut frame, spec, &up);
    frame.finish()
}

fn draw_reference(
    frame: &Frame,
    spec: &Curve,
    across: &Scale,
    up: &Scale,
) -> Result<(), ChartError> {
    let within = |r: &&Centre| across.band.clamp(r.value) == r.value;
    let Some(r) = spec.reference.as_ref().filter(within) else {
        return Ok(());
    };
    let ends = vec![(r.value, up.band.low), (r.value, up.band.high)];
    frame.draw(&Mark::new().line(ends, Ink::Muted, STRONG))
}

fn draw_range(frame: &Frame, spec: &Curve, up: &Scale) -> Result<(), ChartError> {
    let edge = |of: fn(&Estimate) -> f64| -> Vec<(f64, f64)> {
        let at = |p: &CurvePoint| (p.at, up.band.clamp(of(&p.figure)));
        spec.points.iter().map(at).collect()
    };
    let (high, low) = (edge(|e| e.high), edge(|e| e.low));
    let outline = high.iter().chain(low.iter().rev()).copied().collect();
    let range = Mark::new().area(outline, Ink::Main, WASH);
    frame.draw(&range.line(high, Ink::Main, FINE).line(low, Ink::Main, FINE))?;
    let line = Mark::new().tip(&spec.tip);
    frame.draw(&line.line(edge(|e| e.value), Ink::Main, 2.0))
}

fn draw_best(frame: &mut Frame, spec: &Curve, up: &Scale) -> Result<(), ChartError> {
    let Some(best) = &spec.best else {
        return Ok(());
    };
    let at = (best.at, up.band.clamp(best.value));
    frame.draw(&Mark::new().tip(&best.text).with(Shape::Dot {
        at,
        ink: Ink::Main,
        opacity: 1.0,
        radius: DOT,
    }))?;
    let (x, y) = frame.px(at);
    let words = |dx: f64, dy: f64| Words::new(best.text.clone(), x + dx, y + dy).small();
    frame.try_put([
        words(0.0, -14.0).middle(),
        words(-8.0, -14.0).end(),
        words(8.0, -14.0),
        words(0.0, 16.0).middle(),
        words(-8.0, 16.0).end(),
        words(-8.0, -28.0).end(),
        words(-8.0, 32.0).end(),
    ]);
    Ok(())
}

fn name_axis(frame: &mut Frame, spec: &Curve, up: &Scale) {
    if let Some(cut) = &up.cut {
        frame.cut_note(cut);
    }
    let across = format!("{} \u{2192}", spec.named);
    let y = frame.inner.bottom + 32.0;
    frame.put(Words::new(across, frame.inner.right, y).muted().end());
}

#[cfg(test)]
mod tests {
    use super::super::Tick;
    use super::*;

    fn estimate(value: f64, half: f64) -> Estimate {
        Estimate {
            value,
            low: value - half,
            high: value + half,
            level: 0.95,
            n: 100,
        }
    }

    fn drawn(points: Vec<CurvePoint>, size: Size) -> Result<Svg, ChartError> {
        let tick = |v: f64| format!("{v:.1}");
        let axis = Axis {
            tick: Tick(&tick),
            from_zero: false,
            limits: None,
        };
        let spec = Curve {
            points,
            up: axis,
            across: axis,
            named: "price asked".into(),
            reference: Some(Centre {
                value: 1.0,
                text: "list price".into(),
            }),
            best: Some(Best {
                at: 1.1,
                value: 90.0,
                text: "most left".into(),
            }),
            tip: "a curve".into(),
        };
        curve(&spec, size)
    }

    fn points(n: usize) -> Vec<CurvePoint> {
        let point = |i: usize| CurvePoint {
            at: 0.9 + 0.2 * i as f64 / (n.max(2) - 1) as f64,
            figure: estimate(80.0 + i as f64, 9.0),
        };
        (0..n).map(point).collect()
    }

    #[test]
    fn a_curve_has_its_range_its_reference_and_its_best_point() {
        for size in [Size::Wide, Size::Narrow] {
            let svg = drawn(points(9), size).unwrap();
            let body = svg.body();
            assert!(body.contains("most left") && body.contains("price asked"));
            assert!(body.contains("fill-opacity") && body.contains("<circle"));
            assert!(body.contains("s-muted"), "the reference stands");
        }
    }

    #[test]
    fn the_axis_ends_where_trying_ended() {
        let svg = drawn(points(9), Size::Wide).unwrap();
        assert!(!svg.body().contains(">0.8<") && !svg.body().contains(">1.2<"));
    }

    #[test]
    fn nothing_backwards_and_no_number_is_refused() {
        assert!(matches!(
            drawn(Vec::new(), Size::Wide),
            Err(ChartError::Empty { .. })
        ));
        let mut turned = points(3);
        turned.reverse();
        assert!(matches!(
            drawn(turned, Size::Wide),
            Err(ChartError::Backwards { .. })
        ));
        let mut bad = points(3);
        bad[1].figure.value = f64::NAN;
        assert!(matches!(
            drawn(bad, Size::Narrow),
            Err(ChartError::OffScale { .. })
        ));
        assert!(drawn(points(1), Size::Wide).is_ok(), "one point is a dot");
    }
}
