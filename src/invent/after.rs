//! What comes back: callbacks for coating work, film that fails, later looks.

use super::calendar::later;
use super::draws::{Draws, Purpose, Stream, rounded};
use super::kinds::{CAUSES, Cause, Condition, Orientation};
use super::plan::Plan;
use super::tables::{Callback, Inspection, Tables};
use super::vehicle::Vehicle;
use crate::money::Minor;
use chrono::NaiveDate;

const DAYS_A_YEAR: f64 = 365.25;
/// Share of film failures that are looked at when they are reported.
const LOOKED_AT: f64 = 0.7;
/// Share of inspected jobs that come back a second time.
const SECOND_LOOK: f64 = 0.5;

/// A finished job, as far as what comes after depends on it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Finished<'a> {
    /// Shop.
    pub(super) shop: u32,
    /// Job.
    pub(super) job: u64,
    /// Its day.
    pub(super) day: NaiveDate,
    /// The vehicle.
    pub(super) vehicle: &'a Vehicle,
    /// Left coated.
    pub(super) coated: bool,
}

/// Callback for coating work, at `chance`, from the day of the work on.
pub(super) fn coating_callback(
    shop: u32,
    job: u64,
    worked_on: NaiveDate,
    chance: f64,
    plan: &Plan,
    draws: &mut Draws,
    tables: &mut Tables,
) {
    let mut stream = draws.of(Purpose::Callback);
    let comes = stream.chance(chance.min(0.9));
    let cause = stream.one_of(&CAUSES, &plan.law.after.cause_share);
    let days = 1 + stream.waiting(9.0).min(60.0) as u64;
    let reported_on = later(worked_on, days);
    let minutes = rounded(stream.between(8.0, 40.0), 0);
    let reworked = stream.chance(0.8);
    let used = rounded(stream.between(0.6, 3.5), 1);
    let costs = stream.chance(0.5);
    let cost = Minor(stream.between(3.0, 18.0) as i64 * 100);
    if !comes || reported_on > plan.ends {
        return;
    }
    tables.callbacks.push(Callback {
        shop,
        job,
        reported_on,
        cause: cause.unwrap_or(Cause::HighSpot),
        minutes: Some(minutes),
        used: reworked.then_some(used),
        cost: costs.then_some(cost),
    });
}

impl Finished<'_> {
    /// Callbacks for the film, its failure, and later looks.
    pub(super) fn follow(&self, plan: &Plan, draws: &mut Draws, tables: &mut Tables) {
        let law = &plan.law.after;
        let looks = self.looks(law.inspected_share, plan.ends, draws);
        // Of an inspected job nothing is heard after its last look.
        let heard_until = looks.iter().flatten().last().copied().unwrap_or(plan.ends);
        let mut stream = draws.of(Purpose::Failure);
        let fails = self.fails_on(plan, &mut stream);
        let level = stream.chance(law.level_share);
        let looked_at = stream.chance(LOOKED_AT);
        let repair = Repair::draw(&mut stream, 40.0, 180.0);
        let failed = fails.filter(|day| *day <= heard_until);
        for look in looks.into_iter().flatten() {
            if failed.is_none_or(|day| look < day) {
                tables
                    .inspections
                    .push(self.seen(look, Condition::Sound, None));
            }
        }
        if let Some(day) = failed {
            tables
                .callbacks
                .push(self.callback(day, Cause::FilmFailure, repair));
            let facing = [Orientation::Vertical, Orientation::Horizontal][usize::from(level)];
            if looked_at || looks.iter().any(Option::is_some) {
                let seen = self.seen(day, Condition::Failed, Some(facing));
                tables.inspections.push(seen);
            }
        }
        self.small_things(plan, draws, tables);
    }

    fn looks(&self, share: f64, ends: NaiveDate, draws: &mut Draws) -> [Option<NaiveDate>; 2] {
        let mut stream = draws.of(Purpose::Inspection);
        let inspected = stream.chance(share);
        let again = stream.chance(SECOND_LOOK);
        let first = later(self.day, stream.between(120.0, 330.0) as u64);
        let second = later(first, stream.between(120.0, 330.0) as u64);
        [
            (inspected && first <= ends).then_some(first),
            (inspected && again && second <= ends).then_some(second),
        ]
    }

    /// Weibull time to failure, hazards proportional.
    fn fails_on(&self, plan: &Plan, stream: &mut Stream<'_>) -> Option<NaiveDate> {
        let law = &plan.law.after;
        let coating = if self.coated { law.hazard_ratio } else { 1.0 };
        let hazard = law.failures_a_year * law.film_hazard[self.vehicle.film.place()] * coating;
        let years = (stream.waiting(1.0) / hazard).powf(1.0 / law.failure_shape);
        let days = (years * DAYS_A_YEAR).ceil();
        (days < 40_000.0).then(|| later(self.day, days.max(1.0) as u64))
    }

    fn small_things(&self, plan: &Plan, draws: &mut Draws, tables: &mut Tables) {
        let law = &plan.law.after;
        let mut stream = draws.of(Purpose::Callback);
        let luck = stream.unit();
        let day = later(self.day, 1 + stream.waiting(25.0).min(200.0) as u64);
        let repair = Repair::draw(&mut stream, 10.0, 50.0);
        let cause = if luck < law.edge_lift {
            Cause::EdgeLift
        } else {
            Cause::Other
        };
        if luck < law.edge_lift + law.other && day <= plan.ends {
            tables.callbacks.push(self.callback(day, cause, repair));
        }
    }

    fn callback(&self, reported_on: NaiveDate, cause: Cause, repair: Repair) -> Callback {
        Callback {
            shop: self.shop,
            job: self.job,
            reported_on,
            cause,
            minutes: Some(repair.minutes),
            used: None,
            cost: repair.cost,
        }
    }

    fn seen(
        &self,
        seen_on: NaiveDate,
        condition: Condition,
        orientation: Option<Orientation>,
    ) -> Inspection {
        Inspection {
            shop: self.shop,
            job: self.job,
            seen_on,
            condition,
            orientation,
        }
    }
}

/// Minutes and cost of putting film right.
#[derive(Debug, Clone, Copy)]
struct Repair {
    minutes: f64,
    cost: Option<Minor>,
}

impl Repair {
    fn draw(stream: &mut Stream<'_>, low: f64, high: f64) -> Self {
        let minutes = rounded(stream.between(low, high), 0);
        let costs = stream.chance(0.6);
        let cost = Minor(stream.between(5.0, 90.0) as i64 * 100);
        Self {
            minutes,
            cost: costs.then_some(cost),
        }
    }
}
