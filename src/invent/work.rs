//! The coating work itself: who, when, how long, how much, in what air.

use super::calendar::next_working_day;
use super::clock::Minute;
use super::crew::{Crew, Taken};
use super::draws::{Draws, Purpose, Stream, rounded};
use super::plan::Plan;
use super::today::Today;
use super::vehicle::Vehicle;
use chrono::{Datelike, NaiveDate};

/// Coating work starts no earlier and no later than this [minutes of the day].
const OPENS: i64 = 8 * 60;
const LAST_START: i64 = 17 * 60 + 30;
/// Air in the shop by month, January first [°C], and its sd. Invented.
const AIR: [f64; 12] = [
    14.0, 14.5, 16.0, 18.0, 20.5, 23.0, 25.0, 24.5, 21.5, 18.5, 16.0, 14.5,
];
const AIR_SD: f64 = 2.6;
/// Relative humidity by month [%], and its sd. Invented.
const HUMIDITY: [f64; 12] = [
    48.0, 48.0, 49.0, 50.0, 54.0, 57.0, 58.0, 58.0, 56.0, 53.0, 50.0, 49.0,
];
const HUMIDITY_SD: f64 = 8.5;
/// Share of vehicles that come in cold, and by how much [°C].
const COLD_SHARE: f64 = 0.05;
const COLD: f64 = 6.0;
/// Share of jobs whose air is not written down.
const AIR_NOT_KEPT: f64 = 0.08;
/// Share of jobs let out within the hour.
const EARLY_SHARE: f64 = 0.04;
const RAIN_SHARE: f64 = 0.2;
/// Share of rainy days on which the vehicle stays inside overnight.
const HELD_IN_RAIN: f64 = 0.86;

/// Air at the work.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Air {
    /// [°C]
    pub(super) temperature: f64,
    /// Of the panel [°C].
    pub(super) surface: f64,
    /// [%]
    pub(super) humidity: f64,
    /// Written down.
    pub(super) kept: bool,
}

/// One spell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spell {
    /// Place among the workers.
    pub(super) worker: usize,
    /// Start.
    pub(super) start: Minute,
    /// End.
    pub(super) end: Minute,
    /// Hands-on minutes.
    pub(super) minutes: f64,
    /// Minutes of pause.
    pub(super) paused: u32,
    /// Coating used [mL].
    pub(super) used: f64,
    /// `minutes` are written down, not only the clock.
    pub(super) timed: bool,
    /// `used` is written down.
    pub(super) measured: bool,
}

/// The work on one job: one spell or two.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Work {
    /// Spells in order.
    pub(super) spells: [Option<Spell>; 2],
    /// Air, the same for both.
    pub(super) air: Air,
    /// When the vehicle leaves the bay.
    pub(super) released: Minute,
    /// Rain on that day.
    pub(super) rain: bool,
    /// Kept inside overnight.
    pub(super) held: bool,
}

/// What the work of a shop rests on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bay<'a> {
    /// The plan.
    pub(super) plan: &'a Plan,
    /// Factor of this shop on coating used.
    pub(super) use_factor: f64,
    /// Effect of this shop on log minutes.
    pub(super) pace: f64,
}

/// Who does it, and in what shares.
#[derive(Debug, Clone, Copy)]
struct Team {
    first: Taken,
    second: Option<Taken>,
    /// Share of the first spell; 1 where there is one.
    share: f64,
}

impl Bay<'_> {
    /// Coats a vehicle from `ready` on. `None` where nobody has time that day,
    /// unless it `must` be done.
    pub(super) fn coat(
        &self,
        vehicle: &Vehicle,
        ready: Minute,
        must: bool,
        today: &Today,
        crew: &mut Crew,
        draws: &mut Draws,
    ) -> Option<Work> {
        let first = crew.takes(ready, draws)?;
        let late = first.at.of_day() > LAST_START || first.at.day() != ready.day();
        if late && !must {
            return None;
        }
        let team = self.team(first, crew, draws);
        let minutes = self.minutes(vehicle, &team, today, crew, draws);
        let used = self.used(vehicle, &team, today, crew, draws);
        let spells = self.spells(&team, minutes, used, crew, draws);
        let end = spells.iter().flatten().last()?.end;
        let release = release(end, draws);
        Some(Work {
            spells,
            air: air(first.at.day(), draws),
            released: release.at,
            rain: release.rain,
            held: release.held,
        })
    }

    fn team(&self, first: Taken, crew: &Crew, draws: &mut Draws) -> Team {
        let mut stream = draws.of(Purpose::Spells);
        let luck = stream.unit();
        let share = stream.between(0.3, 0.7);
        let shared = luck < self.plan.shared_share;
        let broken = luck < self.plan.shared_share + self.plan.two_spells_share;
        let other = if shared {
            crew.takes_but(first.at.after(25), Some(first.worker), draws)
        } else {
            None
        };
        let soon = other.filter(|o| o.at.day() == first.at.day());
        let second = soon.or(broken.then_some(first));
        let share = if second.is_some() { share } else { 1.0 };
        Team {
            first,
            second,
            share,
        }
    }

    /// The law of minutes. Two people on one job count by their shares.
    fn minutes(
        &self,
        vehicle: &Vehicle,
        team: &Team,
        today: &Today,
        crew: &mut Crew,
        draws: &mut Draws,
    ) -> f64 {
        let law = &self.plan.law;
        let m = &law.minutes;
        let pace = team.sum(crew, |w| w.pace + w.learn(m.learning, m.learned_after));
        let spread = team.sum(crew, |w| w.spread);
        let finish: f64 = m
            .finish_factor
            .iter()
            .zip(vehicle.areas)
            .map(|(factor, area)| factor.ln() * area / vehicle.area)
            .sum();
        let log = m.typical[vehicle.class.place()].ln()
            + m.exponent * vehicle.covered(&law.vehicle).ln()
            + finish
            + pace
            + self.pace
            + today.minutes_factor.ln()
            + m.sd * spread * draws.residual(Purpose::MinutesResidual);
        log.exp().clamp(0.5, 600.0)
    }

    /// The law of use, never under a fifth of a millilitre (which the default
    /// law with normal residuals does not reach).
    fn used(
        &self,
        vehicle: &Vehicle,
        team: &Team,
        today: &Today,
        crew: &mut Crew,
        draws: &mut Draws,
    ) -> f64 {
        let law = &self.plan.law.coating;
        let person = team.sum(crew, |w| w.use_factor);
        let needed: f64 = law
            .ml_per_m2
            .iter()
            .zip(vehicle.areas)
            .zip(today.use_factor)
            .map(|((c, area), factor)| c * area * factor)
            .sum();
        let residual = law.sd * vehicle.area.sqrt() * draws.residual(Purpose::UseResidual);
        let used = law.setup_ml + needed * person * self.use_factor + residual;
        rounded(used, 1).max(0.2)
    }

    fn spells(
        &self,
        team: &Team,
        minutes: f64,
        used: f64,
        crew: &mut Crew,
        draws: &mut Draws,
    ) -> [Option<Spell>; 2] {
        let measured = draws.of(Purpose::Measured).chance(self.plan.measured_share);
        let mut part = rounded(used * team.share, 1);
        if team.second.is_some() {
            part = part.clamp(0.1, (used - 0.1).max(0.1));
        }
        let first = self.spell(
            team.first.worker,
            team.first.at,
            minutes * team.share,
            part,
            draws,
        );
        let first = Spell { measured, ..first };
        free_from(crew, &first);
        let Some(second) = team.second else {
            return [Some(first), None];
        };
        let pause = draws.of(Purpose::Spells).between(15.0, 75.0) as i64;
        let at = first.end.after(pause).max(second.at);
        let rest = rounded(used - part, 1).max(0.1);
        let second = self.spell(second.worker, at, minutes * (1.0 - team.share), rest, draws);
        let second = Spell { measured, ..second };
        free_from(crew, &second);
        [Some(first), Some(second)]
    }

    fn spell(
        &self,
        worker: usize,
        start: Minute,
        exact: f64,
        used: f64,
        draws: &mut Draws,
    ) -> Spell {
        let mut clock = draws.of(Purpose::Clock);
        let timed = !clock.chance(self.plan.clock_only_share);
        let pauses = clock.chance(0.15);
        let pause = clock.between(5.0, 40.0) as u32;
        let minutes = rounded(exact, 1).max(0.1);
        let paused = if pauses { pause } else { 0 };
        let by_clock = (minutes.round() as i64).max(1);
        Spell {
            worker,
            start,
            end: start.after(by_clock + i64::from(paused)),
            minutes,
            paused,
            used,
            timed,
            measured: true,
        }
    }
}

impl Team {
    /// A person's figure, or two people's in their shares.
    fn sum(&self, crew: &mut Crew, mut figure: impl FnMut(&mut super::crew::Worker) -> f64) -> f64 {
        let second = self.second.filter(|s| s.worker != self.first.worker);
        let share = if second.is_some() { self.share } else { 1.0 };
        let mut of = |place: usize| crew.workers.get_mut(place).map_or(0.0, &mut figure);
        let rest = second.map_or(0.0, |s| (1.0 - share) * of(s.worker));
        share * of(self.first.worker) + rest
    }
}

fn free_from(crew: &mut Crew, spell: &Spell) {
    if let Some(worker) = crew.workers.get_mut(spell.worker) {
        worker.free_at = spell.end.after(5);
    }
}

/// When the film of a job is finished on its day, or at which hour it is
/// taken up on a later one.
pub(super) fn ready(day: NaiveDate, finished_today: bool, stream: &mut Stream<'_>) -> Minute {
    let latest = if finished_today { 8.0 } else { 2.0 };
    Minute::of(day, OPENS + (stream.between(0.0, latest) * 60.0) as i64)
}

#[derive(Debug, Clone, Copy)]
struct Release {
    at: Minute,
    rain: bool,
    held: bool,
}

/// An hour at least, overnight if it rains, as a rule.
fn release(end: Minute, draws: &mut Draws) -> Release {
    let mut stream = draws.of(Purpose::Release);
    let rain = stream.chance(RAIN_SHARE);
    let early = stream.chance(EARLY_SHARE);
    let holds = if rain { HELD_IN_RAIN } else { 0.1 };
    let held = stream.chance(holds) && !early;
    let cure = if early {
        stream.between(20.0, 58.0)
    } else {
        62.0 + stream.waiting(45.0).min(300.0)
    };
    let morning = stream.between(0.0, 120.0);
    let at = if held {
        Minute::of(next_working_day(end.day()), OPENS + morning as i64)
    } else {
        end.after(cure as i64)
    };
    Release { at, rain, held }
}

fn air(day: NaiveDate, draws: &mut Draws) -> Air {
    let month = day.month0() as usize;
    let usual = |by_month: &[f64; 12]| by_month.get(month).copied().unwrap_or(18.0);
    let mut stream = draws.of(Purpose::Air);
    let temperature = rounded(usual(&AIR) + stream.normal(AIR_SD), 1);
    let humidity = rounded(usual(&HUMIDITY) + stream.normal(HUMIDITY_SD), 0).clamp(20.0, 98.0);
    let cold = stream.chance(COLD_SHARE);
    let cooler = if cold { COLD } else { 0.4 };
    let surface = rounded(temperature - cooler + stream.normal(0.7), 1);
    Air {
        temperature,
        surface,
        humidity,
        kept: !stream.chance(AIR_NOT_KEPT),
    }
}

impl Air {
    /// Outside the workspace rules of common practice (no published source):
    /// air at 10 °C or under, humidity of 70 % or over, panel under 3 °C above
    /// the dew point (Magnus form, WMO-No. 8, Annex 4.B).
    pub(super) fn outside(&self) -> bool {
        let g =
            (self.humidity / 100.0).ln() + 17.62 * self.temperature / (243.12 + self.temperature);
        let dew_point = 243.12 * g / (17.62 - g);
        self.temperature <= 10.0 || self.humidity >= 70.0 || self.surface - dew_point < 3.0
    }
}
