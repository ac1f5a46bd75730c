//! Plain tables: vectors and names. The last sight of a frame is here.

use super::bottles::{self, BottleSpan, Draw};
use super::cellar::{self, Bought, Poured};
use super::error::MeasureError;
use super::film_life;
use super::offers::{OfferCount, Sales};
use super::practice;
use super::run::{Reader, Results};
use super::spells::{self, CameBack, Spell};
use crate::money::Minor;
use crate::settings::month::Month;
use chrono::{NaiveDate, TimeDelta};
use std::collections::{BTreeMap, HashMap};

/// Names of a text column, numbered in order of first sight.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Names {
    names: Vec<String>,
    index: HashMap<String, u32>,
}

impl Names {
    /// The number of a name, new or old.
    pub fn number(&mut self, name: &str) -> u32 {
        if let Some(i) = self.index.get(name) {
            return *i;
        }
        let i = self.names.len() as u32;
        self.names.push(name.to_string());
        self.index.insert(name.to_string(), i);
        i
    }

    /// The number of a name that is there.
    pub fn find(&self, name: &str) -> Option<u32> {
        self.index.get(name).copied()
    }

    /// The name of a number; empty where there is none.
    pub fn name(&self, number: u32) -> &str {
        self.names.get(number as usize).map_or("", String::as_str)
    }

    /// All names, by number.
    pub fn all(&self) -> &[String] {
        &self.names
    }
}

/// What became of the offer, in one shop and month. Counts of film jobs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MonthCount {
    /// The shop's key.
    pub shop: String,
    /// The month.
    pub month: Month,
    /// Film jobs finished.
    pub finished: u64,
    /// The coating suits them.
    pub eligible: u64,
    /// Known to have been offered.
    pub offered: u64,
    /// Nobody wrote down whether it was offered.
    pub offer_unknown: u64,
    /// Eligible and coated.
    pub coated: u64,
    /// Coated among offered.
    pub coated_offered: u64,
}

/// Film area of one finish on a job.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Number of the finish in [`Measures::finishes`].
    pub finish: u32,
    /// m².
    pub area: f64,
}

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
    pub shop: String,
    /// The job's key within the shop.
    pub job: String,
    /// The month in which it was finished.
    pub month: Month,
    /// Number of the class in [`Measures::classes`].
    pub class: u32,
    /// `Some(true)` full, `Some(false)` partial, `None` not recorded.
    pub full: Option<bool>,
    /// Film area by finish; empty where neither is recorded.
    pub parts: Vec<Part>,
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
    /// Callbacks of coating work.
    pub rework: Rework,
}

impl CoatedJob {
    /// Film area [m²]; 0 where none is recorded.
    pub fn area(&self) -> f64 {
        self.parts.iter().map(|p| p.area).sum()
    }
}

/// Area of a full job of a class.
#[derive(Debug, Clone, PartialEq)]
pub struct FullArea {
    /// The class.
    pub class: String,
    /// Full jobs with an area.
    pub jobs: u64,
    /// Their median area [m²].
    pub area: f64,
}

/// One bottle as bought.
#[derive(Debug, Clone, PartialEq)]
pub struct BottleCost {
    /// The month in which it was opened.
    pub month: Month,
    /// The product, where recorded.
    pub product: Option<String>,
    /// True where it was emptied.
    pub emptied: bool,
    /// What it held [mL].
    pub volume: f64,
    /// Thrown away [mL].
    pub left_over: f64,
    /// Landed cost.
    pub cost: Minor,
}

/// A person of a shop.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Person {
    /// The shop's key.
    pub shop: String,
    /// The person's key within it.
    pub person: String,
}

/// Everything that was measured.
#[derive(Debug, Clone, Default)]
pub struct Measures {
    /// By shop and month, all history.
    pub months: Vec<MonthCount>,
    /// Coated jobs of the months in view, in the order of the export.
    pub coated: Vec<CoatedJob>,
    /// Vehicle classes.
    pub classes: Names,
    /// Finishes.
    pub finishes: Names,
    /// People who applied the coating.
    pub people: Vec<Person>,
    /// Area of a full job by class.
    pub full_area: Vec<FullArea>,
    /// Bottles opened in the window.
    pub bottles: Vec<BottleCost>,
    /// Bottles opened or emptied in the window, by shop and opening day.
    pub bottle_spans: Vec<BottleSpan>,
    /// What the coated jobs drew from which bottle.
    pub draws: Vec<Draw>,
    /// Offers of the window, by what was offered to whom and how.
    pub offers: Vec<OfferCount>,
    /// Film and seller of the coated jobs.
    pub sales: Sales,
    /// Wage before loading [minor units per hour].
    pub wages: BTreeMap<Person, Minor>,
    /// How long film has been followed, all history.
    pub film_lives: Vec<film_life::FilmLife>,
    /// Looks by orientation of the panels, all history.
    pub film_faces: Vec<film_life::FilmFace>,
    /// For each coated job done by one person alone: which of that person's it
    /// was, over all history.
    pub nth: Vec<Option<u64>>,
    /// Bottles opened in the window, with their keys.
    pub bought: Vec<Bought>,
    /// What the coated jobs took from which bottle.
    pub poured: Vec<Poured>,
    /// Hire dates.
    pub hired: BTreeMap<Person, NaiveDate>,
    /// Spells of coating work on the coated jobs.
    pub spells: Vec<Spell>,
    /// What the coated jobs came back for.
    pub came_back: Vec<CameBack>,
}

const EPOCH: NaiveDate = NaiveDate::from_ymd_opt(1970, 1, 1).unwrap();

pub(super) fn day(days: Option<i32>) -> NaiveDate {
    let since = TimeDelta::days(i64::from(days.unwrap_or(0)));
    EPOCH.checked_add_signed(since).unwrap_or(EPOCH)
}

pub(super) fn month(month_no: i64) -> Month {
    let year = i32::try_from(month_no.div_euclid(12)).unwrap_or(0);
    Month::new(year, month_no.rem_euclid(12) as u32 + 1).unwrap_or(Month::of(EPOCH))
}

pub(super) fn count(n: i64) -> u64 {
    u64::try_from(n).unwrap_or(0)
}

/// Turns results into plain tables.
pub(super) fn tables(results: &Results) -> Result<Measures, MeasureError> {
    let mut m = Measures {
        months: months(results)?,
        full_area: full_area(results)?,
        bottles: bottles(results)?,
        bottle_spans: bottles::spans(results)?,
        offers: super::offers::read(results)?,
        sales: super::offers::sales(results)?,
        wages: wages(results)?,
        bought: cellar::bought(results)?,
        hired: practice::hired(results)?,
        film_lives: film_life::lives(results)?,
        film_faces: film_life::faces(results)?,
        ..Measures::default()
    };
    let rows = coated(results, &mut m)?;
    parts(results, &mut m, &rows)?;
    work(results, &mut m, &rows)?;
    rework(results, &mut m, &rows)?;
    m.spells = spells::spells(results, &rows)?;
    m.poured = cellar::poured(results, &rows)?;
    m.nth = practice::nth(results, &m, &rows)?;
    m.came_back = spells::came_back(results, &rows)?;
    m.draws = draws(results, &m, &rows)?;
    Ok(m)
}

pub(super) fn strings(r: &Reader<'_>, column: &str) -> Result<Vec<String>, MeasureError> {
    let mut all = Vec::with_capacity(r.len());
    r.texts(column, |_, t| all.push(t.unwrap_or("").to_string()))?;
    Ok(all)
}

/// The tables of a look back.
pub(super) fn look_back(results: &Results) -> Result<Measures, MeasureError> {
    let mut m = Measures {
        full_area: full_area(results)?,
        bottles: bottles(results)?,
        bottle_spans: bottles::spans(results)?,
        wages: wages(results)?,
        ..Measures::default()
    };
    let rows = coated(results, &mut m)?;
    parts(results, &mut m, &rows)?;
    work(results, &mut m, &rows)?;
    m.draws = draws(results, &m, &rows)?;
    Ok(m)
}

fn draws(results: &Results, m: &Measures, rows: &Rows) -> Result<Vec<Draw>, MeasureError> {
    let place = |key| rows.get(&key).copied();
    bottles::draws(results, &m.bottle_spans, place, |job| &m.coated[job].shop)
}

fn months(results: &Results) -> Result<Vec<MonthCount>, MeasureError> {
    let r = Reader::new(results, "months")?;
    let shops = strings(&r, "shop")?;
    let no = r.counts("month_no")?;
    let finished = r.counts("finished")?;
    let eligible = r.counts("eligible")?;
    let offered = r.counts("offered")?;
    let unknown = r.counts("offer_unknown")?;
    let coated = r.counts("coated")?;
    let both = r.counts("coated_offered")?;
    let row = |(i, shop): (usize, String)| MonthCount {
        shop,
        month: month(no[i]),
        finished: count(finished[i]),
        eligible: count(eligible[i]),
        offered: count(offered[i]),
        offer_unknown: count(unknown[i]),
        coated: count(coated[i]),
        coated_offered: count(both[i]),
    };
    Ok(shops.into_iter().enumerate().map(row).collect())
}

fn full_area(results: &Results) -> Result<Vec<FullArea>, MeasureError> {
    let r = Reader::new(results, "full_area")?;
    let classes = strings(&r, "vehicle_class")?;
    let jobs = r.counts("jobs")?;
    let areas = r.floats("area")?;
    let row = |(i, class): (usize, String)| {
        let area = areas[i]?;
        let jobs = count(jobs[i]);
        Some(FullArea { class, jobs, area })
    };
    Ok(classes.into_iter().enumerate().filter_map(row).collect())
}

fn bottles(results: &Results) -> Result<Vec<BottleCost>, MeasureError> {
    let r = Reader::new(results, "bottle_cost")?;
    let no = r.counts("month_no")?;
    let emptied = r.counts("emptied")?;
    let volume = r.floats("volume")?;
    let left = r.floats("left_over")?;
    let cost = r.counts("cost")?;
    let mut all = Vec::with_capacity(r.len());
    r.texts("product", |i, product| {
        all.push(BottleCost {
            month: month(no[i]),
            product: product.map(str::to_string),
            emptied: emptied[i] == 1,
            volume: volume[i].unwrap_or(0.0),
            left_over: left[i].unwrap_or(0.0),
            cost: Minor(cost[i]),
        });
    })?;
    Ok(all)
}

fn wages(results: &Results) -> Result<BTreeMap<Person, Minor>, MeasureError> {
    let r = Reader::new(results, "wages")?;
    let shops = strings(&r, "shop")?;
    let people = strings(&r, "person")?;
    let cost = r.counts("hourly_cost")?;
    let pair = |((shop, person), cost)| (Person { shop, person }, Minor(cost));
    let both = shops.into_iter().zip(people).zip(cost);
    Ok(both.map(pair).collect())
}

/// Row of each coated job, by key.
pub(super) type Rows = HashMap<i64, usize>;

fn coated(results: &Results, m: &mut Measures) -> Result<Rows, MeasureError> {
    let r = Reader::new(results, "coated")?;
    let keys = r.counts("job_key")?;
    let shops = strings(&r, "shop")?;
    let jobs = strings(&r, "job")?;
    let no = r.counts("month_no")?;
    let price = r.integers("coating_price")?;
    let discount = r.counts("coating_discount")?;
    let priced_on = r.days("priced_on")?;
    let mut full = vec![None; r.len()];
    r.texts("coverage", |i, t| full[i] = t.map(|t| t == "full"))?;
    let mut class = vec![0; r.len()];
    r.texts("vehicle_class", |i, t| {
        class[i] = m.classes.number(t.unwrap_or(""));
    })?;
    let names = shops.into_iter().zip(jobs);
    let row = |(i, (shop, job)): (usize, (String, String))| CoatedJob {
        shop,
        job,
        month: month(no[i]),
        class: class[i],
        full: full[i],
        parts: Vec::new(),
        price: price[i].map(Minor),
        discount: Minor(discount[i]),
        priced_on: day(priced_on[i]),
        people: 0,
        person: None,
        minutes: None,
        used: None,
        rework: Rework::default(),
    };
    m.coated = names.enumerate().map(row).collect();
    Ok(keys.into_iter().enumerate().map(|(i, k)| (k, i)).collect())
}

fn parts(results: &Results, m: &mut Measures, rows: &Rows) -> Result<(), MeasureError> {
    let r = Reader::new(results, "coated_area")?;
    let keys = r.counts("job_key")?;
    let areas = r.floats("area")?;
    r.texts("finish", |i, finish| {
        let (Some(row), Some(area)) = (rows.get(&keys[i]), areas[i]) else {
            return;
        };
        let finish = m.finishes.number(finish.unwrap_or(""));
        m.coated[*row].parts.push(Part { finish, area });
    })
}

fn work(results: &Results, m: &mut Measures, rows: &Rows) -> Result<(), MeasureError> {
    let r = Reader::new(results, "work")?;
    let keys = r.counts("job_key")?;
    let people = r.counts("people")?;
    let unnamed = r.counts("unnamed")?;
    let minutes = r.floats("minutes")?;
    let used = r.floats("used")?;
    let mut known: HashMap<Person, u32> = HashMap::new();
    r.texts("applied_by", |i, person| {
        let Some(row) = rows.get(&keys[i]) else {
            return;
        };
        let job = &mut m.coated[*row];
        job.people = u32::try_from(people[i]).unwrap_or(0);
        job.minutes = minutes[i];
        job.used = used[i];
        let alone = people[i] == 1 && unnamed[i] == 0;
        if let Some(person) = person.filter(|_| alone) {
            let key = Person {
                shop: job.shop.clone(),
                person: person.to_string(),
            };
            let next = known.len() as u32;
            let number = *known.entry(key.clone()).or_insert(next);
            if number == next {
                m.people.push(key);
            }
            job.person = Some(number);
        }
    })
}

fn rework(results: &Results, m: &mut Measures, rows: &Rows) -> Result<(), MeasureError> {
    let r = Reader::new(results, "rework")?;
    let keys = r.counts("job_key")?;
    let callbacks = r.counts("callbacks")?;
    let minutes = r.floats("minutes")?;
    let used = r.floats("used")?;
    let cost = r.counts("cost")?;
    for (i, key) in keys.iter().enumerate() {
        if let Some(row) = rows.get(key) {
            m.coated[*row].rework = Rework {
                callbacks: count(callbacks[i]),
                minutes: minutes[i].unwrap_or(0.0),
                used: used[i].unwrap_or(0.0),
                cost: Minor(cost[i]),
            };
        }
    }
    Ok(())
}
