//! The invented tables as plain rows, values already rounded as they stand in
//! the files.

use super::kinds::{
    Cause, Class, Condition, Coverage, Film, Finish, Orientation, Part, Role, Sample,
};
use crate::money::Minor;
use chrono::{NaiveDate, NaiveDateTime};

/// One film job.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// Shop, from 1.
    pub shop: u32,
    /// Its number: the key is `J` and this.
    pub number: u64,
    /// Film work finished.
    pub finished_on: NaiveDate,
    /// Vehicle class.
    pub class: Class,
    /// Kind of film.
    pub film: Film,
    /// Finish; `None` where surfaces carry two.
    pub finish: Option<Finish>,
    /// Film area [m²].
    pub area: f64,
    /// Full or partial.
    pub coverage: Coverage,
    /// Whether the coating was offered; `None` = nobody wrote it down.
    pub offered: Option<bool>,
    /// How it was shown, where it is known to have been offered.
    pub sample: Option<Sample>,
    /// Seller.
    pub sold_by: u64,
    /// The vehicle left coated.
    pub coated: bool,
    /// Quoted for the coating.
    pub coating_price: Option<Minor>,
    /// Taken off it.
    pub coating_discount: Option<Minor>,
    /// The film job itself.
    pub film_price: Minor,
    /// Day of the quote.
    pub quoted_on: Option<NaiveDate>,
    /// The coating does not suit this job.
    pub excluded: bool,
}

/// One finish or panel group of a job.
#[derive(Debug, Clone, PartialEq)]
pub struct Surface {
    /// Shop.
    pub shop: u32,
    /// Job.
    pub job: u64,
    /// Which part.
    pub part: Part,
    /// Its finish.
    pub finish: Finish,
    /// Its area [m²].
    pub area: f64,
    /// Which way it faces, where that is one way.
    pub orientation: Option<Orientation>,
}

/// One spell of coating work by one person.
#[derive(Debug, Clone, PartialEq)]
pub struct Coating {
    /// Shop.
    pub shop: u32,
    /// Job.
    pub job: u64,
    /// Person.
    pub applied_by: u64,
    /// Start.
    pub started_at: NaiveDateTime,
    /// End.
    pub ended_at: NaiveDateTime,
    /// Hands-on minutes; `None` = by the clock.
    pub minutes: Option<f64>,
    /// Minutes of pause between start and end.
    pub paused_minutes: u32,
    /// Coating used [mL]; `None` = not measured.
    pub used: Option<f64>,
    /// The bottle that the spell started with.
    pub bottle: Option<u64>,
    /// Air [°C].
    pub air_temperature: Option<f64>,
    /// Panel [°C].
    pub surface_temperature: Option<f64>,
    /// Relative humidity [%].
    pub relative_humidity: Option<f64>,
    /// When the vehicle left the bay; on a job's last spell.
    pub released_at: Option<NaiveDateTime>,
    /// Rain on that day; on a job's last spell.
    pub rain: Option<bool>,
    /// Kept inside overnight; on a job's last spell.
    pub held_overnight: Option<bool>,
}

/// One bottle.
#[derive(Debug, Clone, PartialEq)]
pub struct Bottle {
    /// Shop.
    pub shop: u32,
    /// Its number: the key is `B` and this.
    pub number: u64,
    /// Lot, written with four digits.
    pub lot: u64,
    /// First day.
    pub opened_on: NaiveDate,
    /// Last day; `None` = still open.
    pub emptied_on: Option<NaiveDate>,
    /// What it held [mL].
    pub volume: f64,
    /// Thrown away [mL].
    pub left_over: Option<f64>,
    /// Landed cost.
    pub cost: Minor,
}

/// One callback.
#[derive(Debug, Clone, PartialEq)]
pub struct Callback {
    /// Shop.
    pub shop: u32,
    /// Job.
    pub job: u64,
    /// Day of the report.
    pub reported_on: NaiveDate,
    /// Cause.
    pub cause: Cause,
    /// Minutes of rework.
    pub minutes: Option<f64>,
    /// Coating used on rework [mL].
    pub used: Option<f64>,
    /// Other cost.
    pub cost: Option<Minor>,
}

/// One person.
#[derive(Debug, Clone, PartialEq)]
pub struct Person {
    /// Shop.
    pub shop: u32,
    /// Number: the key is `P` and this.
    pub number: u64,
    /// What the person does.
    pub role: Role,
    /// Wage.
    pub hourly_cost: Minor,
    /// First day.
    pub started_on: NaiveDate,
    /// Last day.
    pub ended_on: Option<NaiveDate>,
}

/// One later look at a job.
#[derive(Debug, Clone, PartialEq)]
pub struct Inspection {
    /// Shop.
    pub shop: u32,
    /// Job.
    pub job: u64,
    /// Day.
    pub seen_on: NaiveDate,
    /// What was found.
    pub condition: Condition,
    /// Of which panels: where the film failed, or which were looked at.
    pub orientation: Option<Orientation>,
}

/// All tables, or a stretch of them.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Tables {
    /// Film jobs.
    pub jobs: Vec<Job>,
    /// Surfaces of two-tone jobs and of jobs noted by panel group.
    pub surfaces: Vec<Surface>,
    /// Spells of coating work.
    pub coatings: Vec<Coating>,
    /// Bottles.
    pub bottles: Vec<Bottle>,
    /// Callbacks.
    pub callbacks: Vec<Callback>,
    /// People.
    pub people: Vec<Person>,
    /// Inspections.
    pub inspections: Vec<Inspection>,
}

impl Tables {
    /// Empties every table and keeps its memory.
    pub fn clear(&mut self) {
        self.jobs.clear();
        self.surfaces.clear();
        self.coatings.clear();
        self.bottles.clear();
        self.callbacks.clear();
        self.people.clear();
        self.inspections.clear();
    }
}
