//! People: the timed jobs of the window become each person's figures.

mod course;

use super::estimates::{Basis, Time};
use crate::estimate::{Figure, NotEnough};
use crate::findings::money::Expected;
use crate::findings::pace::{
    Drift, Fitted, LEAST_JOBS, LOOKED_FOR, OVERUSE_LEVEL, PacePeople, SLOW, Sight, Whole, find,
};
use crate::findings::{FindError, Missing};
use crate::fits::collinear::Rank;
use crate::fits::discovery::Rule;
use crate::fits::error::FitError;
use crate::fits::learning;
use crate::fits::pace::sight::{self, Imagined};
use crate::fits::pace::{self as fit, Paces, Params, People, Sums};
use crate::fits::ratio::Ratio;
use crate::fits::shrink::{self, spread};
use crate::measures::{self, CoatedJob};
use crate::money::Minor;
use chrono::Months;
use course::{drift, long_pauses, own_months, paused_jobs};

/// Level of every range in this section.
const LEVEL: f64 = 0.95;
/// Seed of the simulated shops.
const SEED: u64 = 20_240_607;
/// Simulated shops.
const SIMULATED: u32 = 40;

/// What time and coating cost, where known.
#[derive(Debug, Clone, Copy)]
pub(super) struct Prices {
    /// Wage of those who are not on the list [minor units per hour].
    pub(super) wage: Option<f64>,
    /// Loaded labour = wage × this.
    pub(super) loading: f64,
    /// Coating [minor units per mL].
    pub(super) per_ml: Option<f64>,
}

impl Prices {
    fn hourly(&self, own: Option<&Minor>) -> Option<f64> {
        let wage = own.map(|w| w.as_f64()).or(self.wage)?;
        Some(wage * self.loading)
    }
}

/// A person's timed jobs, done alone.
struct Person<'a> {
    key: &'a measures::Person,
    sums: Sums,
    /// By practice.
    jobs: Vec<OwnJob<'a>>,
}

#[derive(Clone, Copy)]
struct OwnJob<'a> {
    place: usize,
    job: &'a CoatedJob,
    nth: Option<u64>,
    /// ln of minutes over what such work typically takes.
    over: Option<f64>,
}

/// Everybody's jobs, people by code.
struct Crew<'a> {
    people: Vec<Person<'a>>,
    shared: Sums,
}

/// Everybody's pace in the window. `expected`: of every coated job.
pub(super) fn pace(
    b: &Basis<'_>,
    expected: &[Expected],
    time: Result<&Time, &Missing>,
    prices: Prices,
) -> Result<Result<PacePeople, Missing>, FindError> {
    let time = match time {
        Ok(time) => time,
        Err(why) => return Ok(Err(why.clone())),
    };
    let crew = crew(b, time)?;
    let params = Params {
        slow: SLOW,
        level: LEVEL,
        prior_scale: b.review.pace_prior_scale,
    };
    let people = People::new(crew.people.iter().map(|p| &p.sums), &crew.shared)?;
    let paces = match missing(fit::fit(&people, params))? {
        Ok(paces) => paces,
        Err(why) => return Ok(Err(Missing::TooFew(why))),
    };
    let spreads = spreads(&crew.people, people.columns())?;
    let callbacks = callbacks(b, &crew.people)?;
    let sight = sight(&crew.people, &people, &paces, params)?;
    let paused = paused_jobs(b.measures);
    let mut all = Vec::with_capacity(crew.people.len());
    for (g, person) in crew.people.iter().enumerate() {
        let mut one = of_person(b, person, expected, prices);
        if let Some(p) = paces.people.get(g) {
            one.pace = p.factor.into();
            one.chance_slow = p.chance_slow;
            one.chance_quick = p.chance_quick;
        }
        one.long_pauses = long_pauses(&paused, person);
        one.drift = drift(b, person, paces.within.value, one.new)?;
        add_practice(&mut one, person)?;
        add_spread(&mut one, spreads.get(g));
        if let Some(rate) = callbacks.rates.get(g) {
            one.callbacks = rate.shrunk.into();
            one.callbacks_chance = rate.chance_over(callbacks.common);
        }
        all.push(one);
    }
    let whole = Whole {
        between: paces.between,
        within: paces.within,
        shared_jobs: crew.shared.jobs,
        sight,
        prior_scale: params.prior_scale,
        months: b.scope.months(),
        per_ml: prices.per_ml,
    };
    find(all, whole).map(Ok)
}

/// Too little data is an outcome, not an error.
fn missing<T>(found: Result<T, FitError>) -> Result<Result<T, NotEnough>, FindError> {
    match found {
        Ok(x) => Ok(Ok(x)),
        Err(FitError::NotEnough(n)) => Ok(Err(n)),
        Err(FitError::NoSpread { what }) => {
            Ok(Err(NotEnough::new(1, 2, format!("{what} that differ"))))
        }
        Err(other) => Err(other.into()),
    }
}

fn crew<'a>(b: &Basis<'a>, time: &Time) -> Result<Crew<'a>, FindError> {
    let m = b.measures;
    let columns = time.shape(b).columns();
    let blank = |key| Person {
        key,
        sums: Sums::new(columns),
        jobs: Vec::new(),
    };
    let mut people: Vec<Person<'a>> = m.people.iter().map(blank).collect();
    let mut shared = Sums::new(columns);
    time.each_row(b, |of_fit, job| {
        let (place, row) = (of_fit.place, of_fit.row);
        let log = job.minutes.unwrap_or(1.0).ln();
        let Some(person) = job.person.and_then(|p| people.get_mut(p as usize)) else {
            return shared.add(row, log);
        };
        person.jobs.push(OwnJob {
            place,
            job,
            nth: m.nth.get(place).copied().flatten(),
            over: time.typical_of(b, of_fit).map(|t| log - t.ln()),
        });
        person.sums.add(row, log)
    })?;
    people.retain(|p| p.sums.jobs > 0);
    people.sort_by(|x, y| x.key.cmp(y.key));
    for person in &mut people {
        person.jobs.sort_by_key(|j| (j.nth, j.place));
    }
    thin(&mut people, &mut shared)?;
    Ok(Crew { people, shared })
}

/// Leaves out columns that the others imply: a class without jobs, a finish
/// that goes with one class alone.
fn thin(people: &mut [Person<'_>], shared: &mut Sums) -> Result<(), FindError> {
    let mut all = shared.clone();
    for person in people.iter() {
        all.merge(&person.sums)?;
    }
    let kept = Rank::of_cross_products(&all.xx).kept;
    for person in people {
        person.sums = person.sums.only(&kept);
    }
    *shared = shared.only(&kept);
    Ok(())
}

/// What can be said of a person without the others.
fn of_person(b: &Basis<'_>, person: &Person<'_>, expected: &[Expected], prices: Prices) -> Fitted {
    let m = b.measures;
    let over: Vec<f64> = person.jobs.iter().filter_map(|j| j.over).collect();
    let mean = over.iter().sum::<f64>() / over.len().max(1) as f64;
    let hired = m.hired.get(person.key);
    let year_before = b.scope.month.last().checked_sub_months(Months::new(12));
    let none = |of: &str| Figure::from(NotEnough::new(0, 1, of));
    let used = use_over(person, expected);
    let use_of = |level| ranged(&used, level);
    Fitted {
        shop: person.key.shop.clone(),
        person: person.key.person.clone(),
        jobs: person.sums.jobs,
        pace: none("jobs"),
        chance_slow: 0.0,
        chance_quick: 0.0,
        plain: (!over.is_empty()).then(|| mean.exp()),
        spread: none("timed jobs"),
        spread_ratio: None,
        spread_p: None,
        new: hired
            .zip(year_before)
            .is_some_and(|(day, year)| *day > year),
        count: person.jobs.iter().filter_map(|j| j.nth).max(),
        learning: none("people hired within the year"),
        expected_now: None,
        drift: Drift::NotEnough,
        used: use_of(LEVEL),
        used_low: use_of(OVERUSE_LEVEL).known().map(|e| e.low),
        callbacks: none("callbacks of coated jobs"),
        callbacks_chance: 0.0,
        long_pauses: 0,
        months: own_months(person),
        minutes: person.jobs.iter().filter_map(|j| j.job.minutes).sum(),
        used_ml: person.jobs.iter().filter_map(|j| j.job.used).sum(),
        hourly: prices.hourly(m.wages.get(person.key)),
    }
}

/// Used over what the measured jobs need.
fn use_over(person: &Person<'_>, expected: &[Expected]) -> Result<Ratio, NotEnough> {
    let pair = |j: &OwnJob<'_>| {
        let needed = expected.get(j.place)?.use_ml.filter(|n| *n > 0.0)?;
        Some((j.job.used.filter(|u| *u > 0.0)?, needed))
    };
    let (took, needed): (Vec<f64>, Vec<f64>) = person.jobs.iter().filter_map(pair).unzip();
    let few = || NotEnough::new(took.len() as u64, LEAST_JOBS, "measured jobs");
    if (took.len() as u64) < LEAST_JOBS {
        return Err(few());
    }
    Ratio::of_totals(&took, &needed).map_err(|_| few())
}

/// The same as a figure.
fn ranged(used: &Result<Ratio, NotEnough>, level: f64) -> Figure {
    let ratio = match used {
        Ok(ratio) => ratio,
        Err(few) => return few.clone().into(),
    };
    let few = || NotEnough::new(ratio.n, LEAST_JOBS, "measured jobs");
    (ratio.estimate(level)).map_or_else(|_| few().into(), Figure::from)
}

/// The learning curve of a new person.
fn add_practice(one: &mut Fitted, person: &Person<'_>) -> Result<(), FindError> {
    if !one.new {
        return Ok(());
    }
    let point = |j: &OwnJob<'_>| Some((j.nth? as f64, j.over?));
    let (counts, over): (Vec<f64>, Vec<f64>) = person.jobs.iter().filter_map(point).unzip();
    match missing(learning::fit(&counts, &over, LEVEL))? {
        Ok(curve) => {
            one.learning = curve.per_doubling.into();
            one.expected_now = one.count.and_then(|n| curve.expected(n as f64));
        }
        Err(n) => one.learning = n.into(),
    }
    Ok(())
}

fn spreads(people: &[Person<'_>], columns: usize) -> Result<Vec<spread::Outcome>, FindError> {
    let own = |p: &Person<'_>| p.jobs.iter().filter_map(|j| j.over).collect();
    let residuals: Vec<Vec<f64>> = people.iter().map(own).collect();
    let slices: Vec<&[f64]> = residuals.iter().map(Vec::as_slice).collect();
    Ok(match missing(spread::spreads(&slices, columns, LEVEL))? {
        Ok(found) => found,
        Err(n) => people.iter().map(|_| Err(n.clone())).collect(),
    })
}

fn add_spread(one: &mut Fitted, found: Option<&spread::Outcome>) {
    match found {
        Some(Ok(s)) => {
            one.spread = s.sd.into();
            one.spread_ratio = Some(s.ratio);
            one.spread_p = Some(s.p_wider);
        }
        Some(Err(n)) => one.spread = n.clone().into(),
        None => {}
    }
}

#[derive(Default)]
struct Rates {
    rates: Vec<shrink::Rate>,
    common: f64,
}

fn callbacks(b: &Basis<'_>, people: &[Person<'_>]) -> Result<Rates, FindError> {
    // Nothing written down is not the same as nothing that came back.
    if b.measures.came_back.is_empty() {
        return Ok(Rates::default());
    }
    let count = |p: &Person<'_>| shrink::Count {
        yes: p.jobs.iter().filter(|j| j.job.came_back()).count() as u64,
        of: p.jobs.len() as u64,
    };
    let counts: Vec<shrink::Count> = people.iter().map(count).collect();
    let found = missing(shrink::rates(&counts, shrink::Params::default()))?;
    Ok(found.map_or_else(
        |_| Rates::default(),
        |r| Rates {
            rates: r.each,
            common: r.common.value,
        },
    ))
}

/// How often somebody truly slow would be raised here: simulated for the
/// person whose number of jobs is the middle one of those spoken of.
fn sight(
    crew: &[Person<'_>],
    people: &People,
    paces: &Paces,
    params: Params,
) -> Result<Option<Sight>, FindError> {
    let jobs = |g: &usize| crew[*g].sums.jobs;
    let mut spoken: Vec<usize> = (0..crew.len()).filter(|g| jobs(g) >= LEAST_JOBS).collect();
    spoken.sort_by_key(jobs);
    let Some(middle) = spoken.get(spoken.len() / 2).copied() else {
        return Ok(None);
    };
    let looked_at: Vec<bool> = (0..crew.len()).map(|g| g == middle).collect();
    let imagined = Imagined {
        between: paces.between.value,
        within: paces.within.value,
        slower: LOOKED_FOR,
        shops: SIMULATED,
        seed: SEED,
    };
    let found = missing(sight::power(
        people,
        &looked_at,
        imagined,
        Rule::default(),
        params,
    ))?;
    let share = found.ok().and_then(|s| s.power.get(middle).copied());
    Ok(share.map(|share| Sight {
        jobs: crew[middle].sums.jobs,
        shops: SIMULATED,
        noticed: (share * f64::from(SIMULATED)).round() / f64::from(SIMULATED),
    }))
}
