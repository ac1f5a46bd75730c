//! The spells of coating work on the jobs in view, and what those came back
//! for.

use super::error::MeasureError;
use super::reader::{Reader, count};
use super::rows::{Placed, Rows};
use super::run::Results;
use super::text::Text;
use crate::money::Minor;
use std::cmp::Ordering;

/// One spell of coating work.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spell {
    /// Place of its job among the coated ones.
    pub job: usize,
    /// Start of the work [min since the start of 1970].
    pub started: Option<f64>,
    /// End of the work [min since the start of 1970].
    pub ended: Option<f64>,
    /// Pauses within it [min].
    pub paused_minutes: Option<f64>,
    /// Air [°C].
    pub air: Option<f64>,
    /// Panel [°C].
    pub surface: Option<f64>,
    /// Relative humidity [%].
    pub humidity: Option<f64>,
    /// Hours from the end of the work to the release.
    pub hours_to_release: Option<f64>,
    /// Rain on that day.
    pub rain: Option<bool>,
    /// The vehicle stayed inside overnight.
    pub held_overnight: Option<bool>,
}

/// What a coated job came back for.
#[derive(Debug, Clone, PartialEq)]
pub struct CameBack {
    /// Place of its job among the coated ones.
    pub job: usize,
    /// The cause; empty where not recorded.
    pub cause: Text,
    /// How often.
    pub callbacks: u64,
    /// Hands-on minutes.
    pub minutes: f64,
    /// Coating used [mL].
    pub used: f64,
    /// Other cost.
    pub cost: Minor,
}

/// Microseconds of an hour: moments are counted in them.
const HOUR: f64 = 3.6e9;
/// Microseconds of a minute.
const MINUTE: f64 = 6e7;

pub(super) fn spells(results: &Results, rows: &Rows) -> Result<Vec<Spell>, MeasureError> {
    let r = Reader::new(results, "spells")?;
    let keys = r.counts("job_key")?;
    let paused = r.floats("paused_minutes")?;
    let air = r.floats("air_temperature")?;
    let surface = r.floats("surface_temperature")?;
    let humidity = r.floats("relative_humidity")?;
    let started = r.integers("started_at")?;
    let ended = r.integers("ended_at")?;
    let released = r.integers("released_at")?;
    let rain = r.integers("rain")?;
    let held = r.integers("held_overnight")?;
    let spell = |Placed { job, at }| {
        let wait = released
            .at(at)
            .zip(ended.at(at))
            .map(|(r, e)| (r - e) as f64 / HOUR);
        Spell {
            job,
            started: started.at(at).map(|t| t as f64 / MINUTE),
            ended: ended.at(at).map(|t| t as f64 / MINUTE),
            paused_minutes: paused.at(at),
            air: air.at(at),
            surface: surface.at(at),
            humidity: humidity.at(at),
            hours_to_release: wait,
            rain: rain.at(at).map(|x| x == 1),
            held_overnight: held.at(at).map(|x| x == 1),
        }
    };
    let moments = |at: usize| (ended.at(at), released.at(at), started.at(at));
    let pauses = |a: usize, b: usize| paused.at(a).partial_cmp(&paused.at(b));
    let placed = rows.place(&keys, |a, b| {
        let same = || pauses(a, b).unwrap_or(Ordering::Equal);
        moments(a).cmp(&moments(b)).then_with(same)
    });
    Ok(placed.map(spell).collect())
}

pub(super) fn came_back(results: &Results, rows: &Rows) -> Result<Vec<CameBack>, MeasureError> {
    let r = Reader::new(results, "came_back")?;
    let keys = r.counts("job_key")?;
    let callbacks = r.integers("callbacks")?;
    let minutes = r.floats("minutes")?;
    let used = r.floats("used")?;
    let cost = r.integers("cost")?;
    let causes = r.words("cause")?;
    let row = |Placed { job, at }| CameBack {
        job,
        cause: causes.text(at),
        callbacks: count(callbacks.or_zero(at)),
        minutes: minutes.at(at).unwrap_or(0.0),
        used: used.at(at).unwrap_or(0.0),
        cost: Minor(cost.or_zero(at)),
    };
    let placed = rows.place(&keys, |a, b| causes.get(a).cmp(&causes.get(b)));
    Ok(placed.map(row).collect())
}
