//! A figure against the number of jobs that it rests on, within the limits
//! that chance alone sets: wide for few jobs, narrow for many.

use super::axis::{Axis, Band, Length, Scale, Tick, checked, checked_band};
use super::control::Centre;
use super::error::ChartError;
use super::frame::{Frame, Margins};
use super::key::{KeyEntry, Swatch};
use super::mark::{Mark, Shape};
use super::rows::value_at;
use super::theme::{DIAMOND, Ink, STRONG, THIN, WASH};
use super::words::Words;
use super::{Size, Svg};

/// People, shops or sellers in a funnel.
#[derive(Debug, Clone)]
pub struct Funnel<'a> {
    /// The points.
    pub points: Vec<FunnelPoint>,
    /// The limits, at rising numbers of jobs.
    pub limits: Vec<FunnelLimit>,
    /// The shop's usual.
    pub centre: Centre,
    /// The axis of the values, upright.
    pub axis: Axis<'a>,
    /// What is counted along the level axis: "jobs".
    pub across: String,
}

/// One point.
#[derive(Debug, Clone)]
pub struct FunnelPoint {
    /// Who it is.
    pub label: String,
    /// Jobs that it rests on.
    pub jobs: f64,
    /// Its value.
    pub value: f64,
    /// Outside the limits; findings decide it.
    pub outside: bool,
    /// Something is said of it; findings decide it.
    pub stands_out: bool,
    /// Tip of the mark; repeats the table.
    pub tip: String,
}

/// The limits at one number of jobs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FunnelLimit {
    /// Number of jobs.
    pub jobs: f64,
    /// Range within which chance alone moves a figure that rests on them.
    pub usual: Band,
}

impl FunnelPoint {
    /// A dot, a diamond outside the limits: a hollow one where nothing is said.
    fn shape(&self, at: (f64, f64)) -> Shape {
        match (self.outside, self.stands_out) {
            (true, false) => Shape::Open {
                at,
                ink: Ink::Main,
                half: DIAMOND,
            },
            (outside, _) => value_at(at, outside),
        }
    }
}

impl Funnel<'_> {
    /// The marks that occur, with what they mean.
    pub fn key(&self) -> Vec<KeyEntry> {
        KeyEntry::those([
            (
                self.points.iter().any(|p| !p.outside),
                Swatch::Dot,
                "within what chance alone does",
            ),
            (
                self.points.iter().any(|p| p.outside && !p.stands_out),
                Swatch::Open,
                "outside it, but nothing to act on",
            ),
            (
                self.points.iter().any(|p| p.outside && p.stands_out),
                Swatch::Diamond,
                "outside it, and spoken of above",
            ),
            (
                self.limits.len() > 1,
                Swatch::Band,
                "range that chance alone sets",
            ),
            (true, Swatch::Line, "usual level"),
        ])
    }

    fn values(&self) -> Result<Band, ChartError> {
        let mut values = vec![checked(
            self.centre.value,
            "usual level",
            &self.centre.text,
        )?];
        for point in &self.points {
            values.push(checked(point.value, "value", &point.label)?);
        }
        for limit in self.shown() {
            checked_band(limit.usual, "limits", "funnel")?;
            values.extend([limit.usual.low, limit.usual.high]);
        }
        Band::over(values).ok_or(ChartError::Empty { chart: "funnel" })
    }

    /// Limits down to as few jobs as the fewest that a point rests on: further
    /// left they only press the rest flat.
    fn shown(&self) -> &[FunnelLimit] {
        let jobs = self.points.iter().map(|p| p.jobs);
        let fewest = jobs.fold(f64::INFINITY, f64::min);
        let before = self.limits.partition_point(|l| l.jobs <= fewest);
        self.limits.get(before.saturating_sub(1)..).unwrap_or(&[])
    }

    fn jobs(&self) -> Result<Band, ChartError> {
        let mut most: f64 = 1.0;
        for point in &self.points {
            most = most.max(checked(point.jobs, "number of jobs", &point.label)?);
        }
        for limit in &self.limits {
            most = most.max(checked(limit.jobs, "number of jobs", "limits")?);
        }
        Ok(Band {
            low: 0.0,
            high: most,
        })
    }
}

/// Draws the funnel.
///
/// # Errors
/// Where there is no point, or a number that no axis can hold.
pub fn funnel(spec: &Funnel, size: Size) -> Result<Svg, ChartError> {
    if spec.points.is_empty() {
        return Err(ChartError::Empty { chart: "funnel" });
    }
    let (values, jobs) = (spec.values()?, spec.jobs()?);
    let height = if size == Size::Wide { 330 } else { 300 };
    let up = Scale::fit(values, &spec.axis, Length::Up(f64::from(height) - 74.0));
    let left = up.lettering() + 14.0;
    let count = |v: f64| format!("{v:.0}");
    let level_axis = Axis {
        tick: Tick(&count),
        from_zero: true,
        limits: None,
    };
    let across = f64::from(size.width()) - left - 24.0;
    let level = Scale::fit(jobs, &level_axis, Length::Across(across));
    let margins = Margins {
        top: 28.0,
        right: 24.0,
        bottom: 46.0,
        left,
    };
    let mut frame = Frame::new(size, height, margins, level.band, up.band);
    frame.y_axis(&up, level.band)?;
    frame.x_axis(&level, up.band)?;
    draw_limits(&frame, spec)?;
    let ends = [level.band.low, level.band.high].map(|x| (x, spec.centre.value));
    frame.draw(&Mark::new().line(ends.to_vec(), Ink::Muted, STRONG))?;
    for point in &spec.points {
        let at = (point.jobs, point.value);
        let mark = Mark::new().tip(&point.tip);
        frame.draw(&mark.with(point.shape(at)))?;
    }
    write(&mut frame, spec, &up);
    frame.finish()
}

fn draw_limits(frame: &Frame, spec: &Funnel) -> Result<(), ChartError> {
    let high: Vec<_> = spec
        .shown()
        .iter()
        .map(|l| (l.jobs, l.usual.high))
        .collect();
    let low: Vec<_> = spec.shown().iter().map(|l| (l.jobs, l.usual.low)).collect();
    if high.len() < 2 {
        return Ok(());
    }
    let outline = high.iter().chain(low.iter().rev()).copied().collect();
    frame.draw(&Mark::new().area(outline, Ink::Axis, WASH))?;
    let edges = Mark::new().dashed();
    frame.draw(&edges.line(high, Ink::Axis, THIN).line(low, Ink::Axis, THIN))
}

fn write(frame: &mut Frame, spec: &Funnel, up: &Scale) {
    let inner = frame.inner;
    let across = format!("{} \u{2192}", spec.across);
    frame.put(
        Words::new(across, inner.right, inner.bottom + 31.0)
            .muted()
            .end(),
    );
    if let Some(note) = &up.cut {
        frame.cut_note(note);
    }
    // Those outside first: they get the places.
    let mut order: Vec<&FunnelPoint> = spec.points.iter().collect();
    order.sort_by_key(|p| !p.outside);
    for point in order {
        let (x, y) = frame.px((point.jobs, point.value));
        let words = |x: f64, y: f64| Words::new(point.label.clone(), x, y).small();
        frame.try_put([
            words(x + 10.0, y),
            words(x - 10.0, y).end(),
            words(x, y - 14.0).middle(),
            words(x, y + 14.0).middle(),
        ]);
    }
    let (_, level) = frame.px((0.0, spec.centre.value));
    let words = |x: f64, y: f64| Words::new(spec.centre.text.clone(), x, y).small();
    frame.try_put([
        words(inner.right, level - 10.0).end(),
        words(inner.right, level + 10.0).end(),
        words(inner.left + 4.0, level - 10.0),
        words(inner.left + 4.0, level + 10.0),
    ]);
}
