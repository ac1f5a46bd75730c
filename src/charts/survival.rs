//! How many of a hundred are still sound as time goes on, in one or two
//! groups, with likely ranges and the numbers still followed.

use super::axis::{Axis, Band, Length, Scale, Tick, checked, checked_band};
use super::error::ChartError;
use super::frame::{Frame, Margins};
use super::key::{KeyEntry, Swatch};
use super::lettering::{widest, width, wrap};
use super::mark::Mark;
use super::place::spread;
use super::rows::LINE;
use super::theme::{FINE, Ink, PLAIN, SMALL, WASH};
use super::words::Words;
use super::{Size, Svg};

/// One or two groups followed over time.
#[derive(Debug, Clone)]
pub struct Survival<'a> {
    /// The groups; the first is drawn solid, the second dashed.
    pub groups: Vec<Group>,
    /// The axis of the shares, upright; its limits are 0 and 1.
    pub axis: Axis<'a>,
    /// Times at which the axis has a tick and the numbers followed are given,
    /// rising from 0.
    pub times: Vec<f64>,
    /// How a time is written: "12 months" or "12".
    pub time: Tick<'a>,
    /// What stands over the numbers: "still followed".
    pub at_risk: String,
}

/// One group.
#[derive(Debug, Clone)]
pub struct Group {
    /// "Coated".
    pub label: String,
    /// The drops, at rising times; before the first all are sound.
    pub drops: Vec<Drop>,
    /// Time at which the curve ends: the last at which one is followed.
    pub until: f64,
    /// Numbers still followed, one for each of `times`.
    pub followed: Vec<u64>,
    /// Tip of the curve; repeats the table.
    pub tip: String,
}

/// From `at` on, this share is still sound.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drop {
    /// Time of the drop.
    pub at: f64,
    /// Share still sound, 0 to 1.
    pub share: f64,
    /// Its likely range.
    pub likely: Band,
}

/// Looks there are: solid blue, dashed vermillion.
const MOST: usize = 2;

impl Survival<'_> {
    /// The marks that occur, with what they mean.
    pub fn key(&self) -> Vec<KeyEntry> {
        let swatches = [Swatch::First, Swatch::Second];
        let curves = self.groups.iter().zip(swatches);
        let mut key: Vec<KeyEntry> = curves
            .map(|(group, swatch)| KeyEntry::new(swatch, group.label.clone()))
            .collect();
        key.push(KeyEntry::new(
            Swatch::Likely,
            "likely range; it widens as fewer are followed",
        ));
        key
    }

    fn check(&self) -> Result<(), ChartError> {
        let chart = "survival";
        if self.groups.is_empty() {
            return Err(ChartError::Empty { chart });
        }
        if self.groups.len() > MOST {
            let have = self.groups.len();
            return Err(ChartError::TooMany {
                chart,
                have,
                most: MOST,
            });
        }
        for group in &self.groups {
            group.check(self.times.len())?;
        }
        for time in &self.times {
            checked(*time, "time", "axis")?;
        }
        Ok(())
    }

    fn lasts(&self) -> Band {
        let ends = self.groups.iter().map(|g| g.until);
        let most = ends.chain(self.times.iter().copied()).fold(0.0, f64::max);
        Band {
            low: 0.0,
            high: if most > 0.0 { most } else { 1.0 },
        }
    }

    fn shares(&self) -> Band {
        let drops = self.groups.iter().flat_map(|g| &g.drops);
        let low = drops.map(|d| d.likely.low.min(d.share)).fold(1.0, f64::min);
        Band { low, high: 1.0 }
    }
}

impl Group {
    fn check(&self, times: usize) -> Result<(), ChartError> {
        checked(self.until, "end", &self.label)?;
        if self.followed.len() != times {
            return Err(ChartError::Ragged {
                row: self.label.clone(),
                have: self.followed.len(),
                need: times,
            });
        }
        let mut before = 0.0;
        for drop in &self.drops {
            checked(drop.at, "time", &self.label)?;
            checked(drop.share, "share", &self.label)?;
            checked_band(drop.likely, "likely range", &self.label)?;
            if drop.at < before {
                return Err(ChartError::Backwards {
                    what: "time",
                    mark: self.label.clone(),
                });
            }
            before = drop.at;
        }
        Ok(())
    }

    /// Level then upright, from all at time 0 to the end.
    fn steps(&self, of: fn(&Drop) -> f64) -> Vec<(f64, f64)> {
        let mut points = vec![(0.0, 1.0)];
        let mut level = 1.0;
        for drop in &self.drops {
            points.push((drop.at, level));
            level = of(drop);
            points.push((drop.at, level));
        }
        points.push((self.until.max(0.0), level));
        points
    }

    fn last(&self) -> f64 {
        self.drops.last().map_or(1.0, |d| d.share)
    }
}

/// Draws the curves.
///
/// # Errors
/// Where there is no group, more than two, a number that no axis can hold,
/// times out of order, or numbers followed that do not match the times.
pub fn survival(spec: &Survival, size: Size) -> Result<Svg, ChartError> {
    spec.check()?;
    let wide = size == Size::Wide;
    let head = wrap(&spec.at_risk, SMALL, f64::from(size.width()) - 4.0, 2);
    let foot = 32.0 + LINE * (spec.groups.len() + head.len()) as f64;
    let height = if wide { 250.0 } else { 220.0 } + foot;
    let scale = Scale::fit(spec.shares(), &spec.axis, Length::Up(height - foot - 26.0));
    let labels = spec.groups.iter().map(|g| g.label.as_str());
    let named = widest(labels, PLAIN, false);
    let margins = Margins {
        top: 26.0,
        right: if wide { named + 20.0 } else { 16.0 },
        bottom: foot,
        left: (scale.lettering() + 14.0).max(named.min(130.0) + 26.0),
    };
    let lasts = spec.lasts();
    let mut frame = Frame::new(size, height as u32, margins, lasts, scale.band);
    frame.y_axis(&scale, lasts)?;
    frame.axis_line((0.0, scale.band.low), (lasts.high, scale.band.low))?;
    for (i, group) in spec.groups.iter().enumerate() {
        draw_band(&frame, group, i, &scale)?;
    }
    for (i, group) in spec.groups.iter().enumerate() {
        draw_curve(&frame, group, i, &scale)?;
    }
    write_foot(&mut frame, spec, &head);
    if let Some(note) = &scale.cut {
        frame.cut_note(note);
    }
    if wide {
        name_curves(&mut frame, spec);
    }
    frame.finish()
}

fn look(i: usize) -> Ink {
    if i == 0 { Ink::Main } else { Ink::Warn }
}

fn draw_band(frame: &Frame, group: &Group, i: usize, scale: &Scale) -> Result<(), ChartError> {
    let clamp = |(x, y): (f64, f64)| (x, scale.band.clamp(y));
    let high = group.steps(|d| d.likely.high);
    let low = group.steps(|d| d.likely.low);
    let edges = [high, low].map(|edge| edge.into_iter().map(clamp).collect::<Vec<_>>());
    let [high, low] = edges;
    let outline = high.iter().chain(low.iter().rev()).copied().collect();
    let mark = Mark::new().area(outline, look(i), WASH);
    frame.draw(&mark.line(high, look(i), FINE).line(low, look(i), FINE))
}

fn draw_curve(frame: &Frame, group: &Group, i: usize, scale: &Scale) -> Result<(), ChartError> {
    let curve = group.steps(|d| d.share).into_iter();
    let curve = curve.map(|(x, y)| (x, scale.band.clamp(y))).collect();
    let mark = Mark::new().tip(&group.tip);
    let mark = if i == 0 { mark } else { mark.dashed() };
    frame.draw(&mark.line(curve, look(i), 2.0))
}

/// Times and, under them, how many were still followed.
fn write_foot(frame: &mut Frame, spec: &Survival, head: &[String]) {
    let inner = frame.inner;
    let line = |i: usize| inner.bottom + 34.0 + LINE * i as f64;
    for (i, text) in head.iter().enumerate() {
        frame.put(Words::new(text.clone(), 2.0, line(i)).muted());
    }
    let row = |i: usize| line(head.len() + i);
    for (i, group) in spec.groups.iter().enumerate() {
        frame.put(
            Words::new(group.label.clone(), inner.left - 22.0, row(i))
                .small()
                .end(),
        );
    }
    let mut free = f64::NEG_INFINITY;
    for (k, time) in spec.times.iter().enumerate() {
        let (x, _) = frame.px((*time, 0.0));
        let text = (spec.time.0)(*time);
        let counts: Vec<String> = spec
            .groups
            .iter()
            .map(|g| g.followed.get(k).map_or_else(String::new, u64::to_string))
            .collect();
        let texts = counts.iter().map(String::as_str).chain([text.as_str()]);
        let half = widest(texts, SMALL, false) / 2.0;
        if x - half < free {
            continue;
        }
        free = x + half + 8.0;
        frame.put(Words::new(text, x, inner.bottom + 12.0).muted().middle());
        for (i, count) in counts.into_iter().enumerate() {
            frame.put(Words::new(count, x, row(i)).small().middle());
        }
    }
}

/// Names each curve at its end, right of the plot.
fn name_curves(frame: &mut Frame, spec: &Survival) {
    let ends: Vec<(f64, f64)> = spec
        .groups
        .iter()
        .map(|g| frame.px((g.until, g.last())))
        .collect();
    let wanted: Vec<f64> = ends.iter().map(|end| end.1).collect();
    let (top, bottom) = (frame.inner.top, frame.inner.bottom);
    let heights = spread(&wanted, LINE + 2.0, top, bottom);
    for (group, y) in spec.groups.iter().zip(heights) {
        let room = width(&group.label, PLAIN, false);
        let x = (frame.inner.right + 8.0).min(frame.width() - room);
        frame.put(Words::new(group.label.clone(), x, y));
    }
}
