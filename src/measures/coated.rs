//! Coated jobs, each with its areas, its work and what came back.

use super::error::MeasureError;
use super::prices::Person;
use super::reader::{Calendar, Numbering, Reader, count, month};
use super::rows::{Placed, Rows, as_they_come};
use super::run::Results;
use super::tables::Measures;
use super::text::Text;
use crate::money::Minor;
use crate::settings::month::Month;
use chrono::NaiveDate;
use foldhash::fast::RandomState;
use smallvec::SmallVec;
use std::collections::HashMap;

/// Film area of one finish on a job.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Number of the finish in [`Measures::finishes`].
    pub finish: u32,
    /// m².
    pub area: f64,
}

/// The parts of a job, which seldom are more than two.
pub type Parts = SmallVec<[Part; 2]>;

/// Callbacks of coating work on one job.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Rework {
    /// How often it came back.
    pub callbacks: u64,
    /// Hands-on minutes.
    pub minutes: f64,
    /// Coating used [mL].
    pub used: f64,
    /// Other cost.
    pub cost: Minor,
}

/// One coated job.
#[derive(Debug, Clone, PartialEq)]
pub struct CoatedJob {
    /// The shop's key.
    pub shop: Text,
    /// The job's key within the shop.
    pub job: Text,
    /// The month in which it was finished.
    pub month: Month,
    /// Number of the class in [`Measures::classes`].
    pub class: u32,
    /// `Some(true)` full, `Some(false)` partial, `None` not recorded.
    pub full: Option<bool>,
    /// Film area by finish; empty where neither is recorded.
    pub parts: Parts,
    /// Charged before discount, tax as recorded.
    pub price: Option<Minor>,
    /// Taken off it.
    pub discount: Minor,
    /// The day whose constants the quote rested on.
    pub priced_on: NaiveDate,
    /// Different people who worked on it; 0 where none is recorded.
    pub people: u32,
    /// The one person who did all of it, in [`Measures::people`].
    pub person: Option<u32>,
    /// Hands-on minutes.
    pub minutes: Option<f64>,
    /// Coating used [mL].
    pub used: Option<f64>,
    /// Callbacks of coating work; `None` where none are known: most jobs do not
    /// come back, and a look back does not ask.
    pub reworked: Option<Box<Rework>>,
}

impl CoatedJob {
    /// Film area [m²]; 0 where none is recorded.
    pub fn area(&self) -> f64 {
        self.parts.iter().map(|p| p.area).sum()
    }

    /// Callbacks of coating work; all 0 where it did not come back.
    pub fn rework(&self) -> Rework {
        self.reworked.as_deref().copied().unwrap_or_default()
    }

    /// Whether it came back for coating work.
    pub fn came_back(&self) -> bool {
        self.rework().callbacks > 0
    }
}

pub(super) fn coated(results: &Results, m: &mut Measures) -> Result<Rows, MeasureError> {
    let r = Reader::new(results, "coated")?;
    let keys = r.counts("job_key")?;
    let shops = r.words("shop")?;
    let jobs = r.words("job")?;
    let no = r.integers("month_no")?;
    let price = r.integers("coating_price")?;
    let discount = r.integers("coating_discount")?;
    let priced_on = r.days("priced_on")?;
    let calendar = Calendar::of(&priced_on);
    let mut full = vec![None; r.len()];
    r.texts("coverage", |i, t| full[i] = t.map(|t| t == "full"))?;
    let class = r.numbers("vehicle_class", &mut m.classes)?;
    let row = |i: usize| CoatedJob {
        shop: shops.text(i),
        job: jobs.text(i),
        month: month(no.or_zero(i)),
        class: class[i],
        full: full[i],
        parts: Parts::new(),
        price: price.at(i).map(Minor),
        discount: Minor(discount.or_zero(i)),
        priced_on: calendar.day(priced_on.at(i)),
        people: 0,
        person: None,
        minutes: None,
        used: None,
        reworked: None,
    };
    m.coated = (0..r.len()).map(row).collect();
    Ok(Rows::of(keys))
}

pub(super) fn parts(results: &Results, m: &mut Measures, rows: &Rows) -> Result<(), MeasureError> {
    let r = Reader::new(results, "coated_area")?;
    let areas = r.floats("area")?;
    let finishes = r.words("finish")?;
    let mut numbering = Numbering::of(&finishes);
    let by_finish = |a, b| finishes.get(a).cmp(&finishes.get(b));
    for Placed { job, at } in rows.place(&r.counts("job_key")?, by_finish) {
        if let Some(area) = areas.at(at) {
            let finish = numbering.number(at, &mut m.finishes);
            m.coated[job].parts.push(Part { finish, area });
        }
    }
    Ok(())
}

pub(super) fn work(results: &Results, m: &mut Measures, rows: &Rows) -> Result<(), MeasureError> {
    let r = Reader::new(results, "work")?;
    let people = r.integers("people")?;
    let unnamed = r.integers("unnamed")?;
    let minutes = r.floats("minutes")?;
    let used = r.floats("used")?;
    let persons = r.words("applied_by")?;
    let mut known = Known::default();
    for Placed { job, at } in rows.place(&r.counts("job_key")?, as_they_come) {
        let job = &mut m.coated[job];
        job.people = u32::try_from(people.or_zero(at)).unwrap_or(0);
        job.minutes = minutes.at(at);
        job.used = used.at(at);
        let alone = people.or_zero(at) == 1 && unnamed.or_zero(at) == 0;
        let person = persons.get(at).filter(|_| alone);
        job.person = person.map(|p| known.number(&job.shop, p, &mut m.people));
    }
    Ok(())
}

/// Numbers of people, by shop and key.
#[derive(Default)]
struct Known(HashMap<String, HashMap<String, u32, RandomState>, RandomState>);

impl Known {
    /// The number of a person; a new one is added to `people`.
    fn number(&mut self, shop: &str, person: &str, people: &mut Vec<Person>) -> u32 {
        if let Some(number) = self.0.get(shop).and_then(|own| own.get(person)) {
            return *number;
        }
        let number = people.len() as u32;
        let own = self.0.entry(shop.to_string()).or_default();
        own.insert(person.to_string(), number);
        people.push(Person::new(shop, person));
        number
    }
}

pub(super) fn rework(results: &Results, m: &mut Measures, rows: &Rows) -> Result<(), MeasureError> {
    let r = Reader::new(results, "rework")?;
    let keys = r.counts("job_key")?;
    let callbacks = r.integers("callbacks")?;
    let minutes = r.floats("minutes")?;
    let used = r.floats("used")?;
    let cost = r.integers("cost")?;
    for Placed { job, at } in rows.place(&keys, as_they_come) {
        m.coated[job].reworked = Some(Box::new(Rework {
            callbacks: count(callbacks.or_zero(at)),
            minutes: minutes.at(at).unwrap_or(0.0),
            used: used.at(at).unwrap_or(0.0),
            cost: Minor(cost.or_zero(at)),
        }));
    }
    Ok(())
}
