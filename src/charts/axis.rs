//! Axes: where a scale starts and ends, and which ticks it shows.
//!
//! Ticks are whole multiples of 1, 2 or 5 times a power of ten, are never
//! written alike, and the scale starts on one. A scale that leaves out zero
//! says so in words.

use super::error::ChartError;
use super::lettering::width;
use super::theme::SMALL;
use crate::estimate::Estimate;

/// Writes a value of an axis as text, unit included: `52%`, `$120`.
#[derive(Clone, Copy)]
pub struct Tick<'a>(pub &'a dyn Fn(f64) -> String);

impl std::fmt::Debug for Tick<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Tick")
    }
}

impl Tick<'_> {
    fn write(&self, value: f64) -> String {
        (self.0)(value)
    }
}

/// A stretch of an axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Band {
    /// The smallest band that holds all finite `values`; none without any.
    pub(super) fn over(values: impl IntoIterator<Item = f64>) -> Option<Self> {
        values
            .into_iter()
            .filter(|v| v.is_finite())
            .fold(None, |band: Option<Self>, v| {
                Some(band.map_or(Self { low: v, high: v }, |b| b.with(v)))
            })
    }

    fn with(self, v: f64) -> Self {
        Self {
            low: self.low.min(v),
            high: self.high.max(v),
        }
    }

    pub(super) fn size(&self) -> f64 {
        self.high - self.low
    }

    pub(super) fn clamp(&self, v: f64) -> f64 {
        v.max(self.low).min(self.high)
    }
}

/// The axis of the values.
#[derive(Debug, Clone, Copy)]
pub struct Axis<'a> {
    /// How a tick is written.
    pub tick: Tick<'a>,
    /// The scale is to hold zero.
    pub from_zero: bool,
    /// What the values cannot leave: 0 to 1 for a share.
    pub limits: Option<Band>,
}

/// Largest number that an axis takes.
const LARGEST: f64 = 1e12;
/// A scale starts at zero after all where the part left out would be less
/// than this share of what it ends at.
const NEAR_ZERO: f64 = 0.25;

/// Ticks from which a reader can tell how a scale runs.
const ENOUGH: usize = 3;

/// `value`, where an axis can hold it.
pub(super) fn checked(value: f64, what: &'static str, mark: &str) -> Result<f64, ChartError> {
    if value.is_finite() && value.abs() <= LARGEST {
        return Ok(value);
    }
    Err(ChartError::OffScale {
        what,
        mark: mark.to_string(),
    })
}

/// `band`, where an axis can hold it and it runs upwards.
pub(super) fn checked_band(band: Band, what: &'static str, mark: &str) -> Result<Band, ChartError> {
    checked(band.low, what, mark)?;
    checked(band.high, what, mark)?;
    if band.low <= band.high {
        return Ok(band);
    }
    Err(ChartError::Backwards {
        what,
        mark: mark.to_string(),
    })
}

/// The interval of `estimate`, where an axis can hold it and the value.
pub(super) fn interval(estimate: &Estimate, mark: &str) -> Result<Band, ChartError> {
    checked(estimate.value, "value", mark)?;
    let band = Band {
        low: estimate.low,
        high: estimate.high,
    };
    checked_band(band, "interval", mark)
}

/// What the values span, and of the intervals as much as leaves the values
/// room: an interval far longer than the rest is to run off the scale, with
/// an arrow, rather than press all others flat.
pub(super) fn reach(values: &[f64], intervals: &[Band]) -> Option<Band> {
    let ends = intervals.iter().flat_map(|i| [i.low, i.high]);
    let all = Band::over(values.iter().copied().chain(ends))?;
    let mut lengths: Vec<f64> = intervals.iter().map(Band::size).collect();
    lengths.sort_by(f64::total_cmp);
    let usual = lengths.get(lengths.len() / 2).copied().unwrap_or(0.0);
    let core = Band::over(values.iter().copied())?;
    let most = (0.5 * core.size() + 1.5 * usual).max(f64::MIN_POSITIVE);
    Some(Band {
        low: all.low.max(core.low - most),
        high: all.high.min(core.high + most),
    })
}

/// A scale: its ends and its ticks.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Scale {
    pub(super) band: Band,
    pub(super) ticks: Vec<TickAt>,
    /// Said where zero is not on the scale.
    pub(super) cut: Option<String>,
}

/// A tick and how it is written.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct TickAt {
    pub(super) at: f64,
    pub(super) text: String,
}

/// Direction and length, px, of an axis.
#[derive(Debug, Clone, Copy)]
pub(super) enum Length {
    Across(f64),
    Up(f64),
}

impl Length {
    fn px(self) -> f64 {
        match self {
            Self::Across(px) | Self::Up(px) => px.max(1.0),
        }
    }

    /// What the upper end is a multiple of. An upright scale ends on a tick; a
    /// level one, whose ticks stand far apart, may end between two, unless
    /// its end is what the cut note names.
    fn end_step(self, step: f64, wanted: Band) -> f64 {
        match self {
            Self::Across(_) if wanted.high > 0.0 => step / 5.0,
            _ => step,
        }
    }

    /// True where ticks `gap` px apart leave room for their texts.
    fn has_room(self, ticks: &[TickAt], gap: f64, space: f64) -> bool {
        match self {
            Self::Up(_) => gap >= 2.6 * SMALL,
            Self::Across(_) => ticks
                .iter()
                .all(|t| gap >= width(&t.text, SMALL, false) + space * SMALL),
        }
    }
}

impl Scale {
    /// The scale for `data` on an axis of that length. Two ticks make a poor
    /// scale: where there is no room for more, texts may stand closer, and
    /// where that does not help a line without a text halves the way.
    pub(super) fn fit(data: Band, axis: &Axis, length: Length) -> Self {
        let roomy = Self::spaced(data, axis, length, 1.2);
        if roomy.ticks.len() >= ENOUGH {
            return roomy;
        }
        let close = Self::spaced(data, axis, length, 0.55);
        let mut fitted = if close.ticks.len() > roomy.ticks.len() {
            close
        } else {
            roomy
        };
        if fitted.ticks.len() < ENOUGH {
            fitted.halve();
        }
        fitted
    }

    /// Puts a tick without a text half way between two, and beyond them where
    /// the scale goes on so far.
    fn halve(&mut self) {
        let [a, b] = self.ticks.as_slice() else {
            return;
        };
        let half = (b.at - a.at) / 2.0;
        let places = [a.at - half, a.at + half, b.at + half];
        let within = places
            .iter()
            .filter(|at| self.band.low <= **at && **at <= self.band.high);
        let bare: Vec<TickAt> = within
            .map(|at| TickAt {
                at: *at,
                text: String::new(),
            })
            .collect();
        self.ticks.extend(bare);
        self.ticks.sort_by(|a, b| a.at.total_cmp(&b.at));
    }

    fn spaced(data: Band, axis: &Axis, length: Length, space: f64) -> Self {
        let wanted = stretch(data, axis);
        let mut fitted = Self::with_step(wanted, axis, wanted.size(), length);
        for step in steps(wanted.size()) {
            fitted = Self::with_step(wanted, axis, step, length);
            let gap = step / fitted.band.size() * length.px();
            if distinct(&fitted.ticks) && length.has_room(&fitted.ticks, gap, space) {
                break;
            }
        }
        fitted.ticks.dedup_by(|b, a| a.text == b.text);
        fitted.thin_out(length, space);
        fitted.cut = fitted.cut_text(axis);
        fitted
    }

    /// Where no step leaves room for two texts side by side, one tick stays:
    /// zero where it is on the scale, else the lowest.
    fn thin_out(&mut self, length: Length, space: f64) {
        let span = self.band.size() / length.px();
        let mut pairs = self.ticks.windows(2);
        let tight = pairs.any(|p| !length.has_room(p, (p[1].at - p[0].at).abs() / span, space));
        if tight {
            let zero = self.ticks.iter().position(|t| t.at == 0.0).unwrap_or(0);
            self.ticks = self.ticks.drain(..).skip(zero).take(1).collect();
        }
    }

    fn with_step(wanted: Band, axis: &Axis, step: f64, length: Length) -> Self {
        let end = length.end_step(step, wanted);
        let mut band = Band {
            low: (wanted.low / step + 1e-9).floor() * step,
            high: (wanted.high / end - 1e-9).ceil() * end,
        };
        if let Some(limits) = axis.limits {
            band.low = band.low.max(limits.low.min(wanted.low));
            band.high = band.high.min(limits.high.max(wanted.high));
        }
        let first = (band.low / step - 1e-6).ceil() as i64;
        let last = (band.high / step + 1e-6).floor() as i64;
        let ticks = (first..=last)
            .map(|i| i as f64 * step + 0.0)
            .map(|at| TickAt {
                at,
                text: axis.tick.write(at),
            })
            .collect();
        Self {
            band,
            ticks,
            cut: None,
        }
    }

    fn cut_text(&self, axis: &Axis) -> Option<String> {
        let (low, high) = (self.band.low, self.band.high);
        if low > 0.0 {
            return Some(format!("scale starts at {}", axis.tick.write(low)));
        }
        (high < 0.0).then(|| format!("scale ends at {}", axis.tick.write(high)))
    }

    /// Width of the widest tick text, px.
    pub(super) fn lettering(&self) -> f64 {
        super::lettering::widest(self.ticks.iter().map(|t| t.text.as_str()), SMALL, false)
    }
}

/// `data` with zero where it belongs on the scale, and never of no size.
fn stretch(data: Band, axis: &Axis) -> Band {
    let mut band = data;
    let near = band.low > 0.0 && band.low < NEAR_ZERO * band.high;
    if axis.from_zero || near {
        band = band.with(0.0);
    }
    if band.size() <= band.low.abs().max(band.high.abs()) * 1e-9 {
        let half = (band.low.abs() * 0.1).max(0.5);
        let limits = axis.limits.unwrap_or(Band {
            low: f64::NEG_INFINITY,
            high: f64::INFINITY,
        });
        band = Band {
            low: limits.clamp(band.low - half).min(band.low),
            high: limits.clamp(band.high + half).max(band.high),
        };
    }
    if band.size() <= 0.0 {
        band.high = band.low + 1.0;
    }
    band
}

/// Steps worth trying for a scale of that size, small ones first.
fn steps(size: f64) -> impl Iterator<Item = f64> {
    let start = (size / 20.0).log10().floor() as i32;
    (start..=start + 3).flat_map(|power| [1.0, 2.0, 5.0].map(|m| m * 10_f64.powi(power)))
}

fn distinct(ticks: &[TickAt]) -> bool {
    ticks.windows(2).all(|pair| match pair {
        [a, b] => a.text != b.text,
        _ => true,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn axis<'a>(tick: &'a dyn Fn(f64) -> String, from_zero: bool) -> Axis<'a> {
        Axis {
            tick: Tick(tick),
            from_zero,
            limits: None,
        }
    }

    fn band(low: f64, high: f64) -> Band {
        Band { low, high }
    }

    #[test]
    fn a_scale_starts_on_a_tick_and_holds_the_data() {
        let whole = |v: f64| format!("{v:.0}");
        for (low, high) in [(83.0, 131.0), (0.2, 0.9), (-40.0, 12.0), (1e6, 3.3e6)] {
            let scale = Scale::fit(band(low, high), &axis(&whole, false), Length::Up(250.0));
            assert!(
                scale.band.low <= low && scale.band.high >= high,
                "{scale:?}"
            );
            assert_eq!(scale.ticks[0].at, scale.band.low, "{scale:?}");
            assert!(distinct(&scale.ticks), "{scale:?}");
        }
    }

    #[test]
    fn a_cut_scale_says_so_and_one_from_zero_does_not() {
        let money = |v: f64| format!("${v:.0}");
        let cut = Scale::fit(band(83.0, 131.0), &axis(&money, false), Length::Up(250.0));
        assert_eq!(cut.cut.as_deref(), Some("scale starts at $80"));
        let whole = Scale::fit(band(83.0, 131.0), &axis(&money, true), Length::Up(250.0));
        assert_eq!((whole.band.low, whole.cut), (0.0, None));
        let near = Scale::fit(band(20.0, 131.0), &axis(&money, false), Length::Up(250.0));
        assert_eq!(near.band.low, 0.0);
    }

    #[test]
    fn equal_data_still_make_a_scale() {
        let plain = |v: f64| format!("{v}");
        for v in [0.0, 5.0, -3.0, 1e12, 1e-9] {
            let scale = Scale::fit(band(v, v), &axis(&plain, false), Length::Across(500.0));
            assert!(scale.band.size() > 0.0, "{v}: {scale:?}");
            assert!(
                scale.band.low <= v && v <= scale.band.high,
                "{v}: {scale:?}"
            );
        }
    }

    #[test]
    fn limits_hold_even_where_ticks_would_go_past_them() {
        let share = |v: f64| format!("{:.0}%", 100.0 * v);
        let axis = Axis {
            limits: Some(band(0.0, 1.0)),
            ..axis(&share, false)
        };
        let scale = Scale::fit(band(0.93, 0.99), &axis, Length::Up(200.0));
        assert!(scale.band.high <= 1.0, "{scale:?}");
        let all = Scale::fit(band(1.0, 1.0), &axis, Length::Up(200.0));
        assert!(all.band.size() > 0.0 && all.band.high <= 1.0, "{all:?}");
    }

    #[test]
    fn one_endless_interval_does_not_press_the_others_flat() {
        let values = [1.5, 1.7, 2.0];
        let intervals = [band(1.4, 1.6), band(1.6, 1.8), band(-90.0, 90.0)];
        let reach = reach(&values, &intervals).unwrap();
        assert!(reach.low > 0.0 && reach.high < 4.0, "{reach:?}");
    }
}
