//! One shop, month by month: the place where offers, work, bottles and what
//! comes after meet.

use super::after::{Finished, coating_callback};
use super::calendar::{Month, jobs_by_day, months, next_working_day};
use super::cellar::Cellar;
use super::clock::Minute;
use super::crew::Crew;
use super::draws::{Draws, Purpose};
use super::guess::Guess;
use super::plan::{BottleRecord, Plan};
use super::sale::{Decided, Desk, Sale};
use super::tables::{Coating, Job, Surface, Tables};
use super::today::Today;
use super::vehicle::Vehicle;
use super::work::{Bay, Spell, Work, ready};
use chrono::NaiveDate;

/// Share of coatings that wait for the next working day.
const NEXT_DAY: f64 = 0.2;
/// Bottle numbers of one shop of a chain.
const BOTTLES_A_SHOP: u64 = 1_000_000;

/// A shop's part of a plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Part {
    /// From 1.
    pub(super) shop: u32,
    /// Film jobs.
    pub(super) jobs: u64,
    /// Number of its first job.
    pub(super) first_job: u64,
    /// Coated jobs, where the plan says how many.
    pub(super) coated: Option<u64>,
}

/// Sales of a month: how many, and how many the law expects.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tally {
    /// First day.
    pub(super) first: NaiveDate,
    /// Jobs that the coating suits.
    pub(super) eligible: u64,
    /// Coated jobs.
    pub(super) coated: u64,
    /// Sum over eligible jobs of their chance to be sold.
    pub(super) expected: f64,
}

/// A shop at work.
#[derive(Debug)]
pub(super) struct ShopRun<'a> {
    plan: &'a Plan,
    part: Part,
    draws: Draws,
    /// Its people.
    pub(super) crew: Crew,
    desk: Desk<'a>,
    /// Its factors.
    pub(super) bay: Bay<'a>,
    cellar: Cellar,
    months: Vec<Month>,
    next_job: u64,
    jobs_left: u64,
    coated_left: Option<u64>,
    waiting: Vec<Waiting>,
    today: Vec<Started>,
    /// Sales by month.
    pub(super) tally: Vec<Tally>,
}

/// A sold job that is not coated yet.
#[derive(Debug)]
struct Waiting {
    job: u64,
    vehicle: Vehicle,
}

/// A spell of today, bottles not yet drawn.
#[derive(Debug)]
struct Started {
    job: u64,
    spell: Spell,
    last: bool,
    work: Work,
}

impl<'a> ShopRun<'a> {
    /// Draws people and factors of a shop. `None` only where the law's
    /// distributions do not exist.
    pub(super) fn new(plan: &'a Plan, guess: &'a Guess, part: Part) -> Option<Self> {
        let mut draws = Draws::new(plan.seed, u64::from(part.shop), plan.law.residual)?;
        let place = if plan.keys_per_shop {
            0
        } else {
            u64::from(part.shop) - 1
        };
        let first_person = 1 + place * u64::from(plan.people + plan.sellers);
        let crew = Crew::draw(plan, part.shop, first_person, &mut draws);
        let alone = plan.shops == 1;
        let mut factor = |sd: f64| {
            let effect = draws.of(Purpose::Shops).normal(sd);
            if alone { 0.0 } else { effect }
        };
        let bay = Bay {
            plan,
            use_factor: factor(plan.law.coating.shop_sd).exp(),
            pace: factor(plan.law.minutes.shop_sd),
        };
        let starts = plan.starts()?;
        let months = months(starts, plan.ends, part.jobs, &mut draws);
        Some(Self {
            plan,
            part,
            desk: Desk {
                plan,
                guess,
                sellers: crew.sellers.iter().map(|s| s.effect).collect(),
            },
            cellar: Cellar::new(part.shop, 1 + place * BOTTLES_A_SHOP, &mut draws),
            draws,
            crew,
            bay,
            months,
            next_job: part.first_job,
            jobs_left: part.jobs,
            coated_left: part.coated,
            waiting: Vec::new(),
            today: Vec::new(),
            tally: Vec::new(),
        })
    }

    /// Adds the rows of all people.
    pub(super) fn people(&self, tables: &mut Tables) {
        let workers = self.crew.workers.iter().map(|w| &w.person);
        let sellers = self.crew.sellers.iter().map(|s| &s.person);
        tables.people.extend(workers.chain(sellers).cloned());
    }

    /// Which shop it is, from 1.
    pub(super) fn shop(&self) -> u32 {
        self.part.shop
    }

    /// How many months there are.
    pub(super) fn months(&self) -> usize {
        self.months.len()
    }

    /// Works through one month and adds its rows.
    pub(super) fn work_month(&mut self, place: usize, tables: &mut Tables) {
        let Some(month) = self.months.get(place).copied() else {
            return;
        };
        self.tally.push(Tally {
            first: month.first,
            eligible: 0,
            coated: 0,
            expected: 0.0,
        });
        let counts = jobs_by_day(&month, &mut self.draws);
        for (day, jobs) in month.first.iter_days().zip(counts) {
            let today = Today::on(day, self.plan);
            self.coat_waiting(day, &today, tables);
            for _ in 0..jobs {
                self.finish_job(day, &today, tables);
            }
            self.draw_bottles(&today, tables);
        }
    }

    /// Coats what still waits when the months are over, and writes down the
    /// bottle that is open.
    pub(super) fn close(&mut self, tables: &mut Tables) {
        let mut day = self.plan.ends;
        while !self.waiting.is_empty() {
            day = next_working_day(day);
            let today = Today::on(day, self.plan);
            self.coat_waiting(day, &today, tables);
            self.draw_bottles(&today, tables);
        }
        self.cellar.close(tables);
    }

    fn coat_waiting(&mut self, day: NaiveDate, today: &Today, tables: &mut Tables) {
        for waiting in std::mem::take(&mut self.waiting) {
            let ready = ready(day, false, &mut self.draws.of(Purpose::Clock));
            self.coat(waiting, ready, today, tables);
        }
    }

    fn finish_job(&mut self, day: NaiveDate, today: &Today, tables: &mut Tables) {
        let Some(vehicle) = Vehicle::draw(&self.plan.law.vehicle, &mut self.draws) else {
            return;
        };
        let job = self.next_job;
        self.next_job += 1;
        let decided = self.decided();
        let sale = self
            .desk
            .offer(&vehicle, day, today, decided, &mut self.draws);
        self.count(&sale);
        self.write_job(job, day, &vehicle, &sale, tables);
        let finished = Finished {
            shop: self.part.shop,
            job,
            day,
            vehicle: &vehicle,
            coated: sale.coated,
        };
        finished.follow(self.plan, &mut self.draws, tables);
        if sale.coated {
            self.bring_in(Waiting { job, vehicle }, day, today, tables);
        }
    }

    /// Coats a job on its day, or leaves it for the next working day.
    fn bring_in(&mut self, job: Waiting, day: NaiveDate, today: &Today, tables: &mut Tables) {
        let mut clock = self.draws.of(Purpose::Clock);
        let waits = clock.chance(NEXT_DAY);
        let ready = ready(day, true, &mut clock);
        if waits && next_working_day(day) <= self.plan.ends {
            self.waiting.push(job);
        } else {
            self.coat(job, ready, today, tables);
        }
    }

    fn coat(&mut self, job: Waiting, ready: Minute, today: &Today, tables: &mut Tables) {
        // On the last day work goes on until it is done.
        let must = ready.day() >= self.plan.ends;
        let (crew, draws) = (&mut self.crew, &mut self.draws);
        let Some(work) = self.bay.coat(&job.vehicle, ready, must, today, crew, draws) else {
            self.waiting.push(job);
            return;
        };
        let count = work.spells.iter().flatten().count();
        for (place, spell) in work.spells.iter().flatten().enumerate() {
            self.today.push(Started {
                job: job.job,
                spell: *spell,
                last: place + 1 == count,
                work,
            });
        }
        self.call_back(job.job, &work, tables);
    }

    fn call_back(&mut self, job: u64, work: &Work, tables: &mut Tables) {
        let Some(first) = work.spells.iter().flatten().next() else {
            return;
        };
        let law = &self.plan.law.after;
        let person = self.crew.workers.get(first.worker);
        let factor = person.map_or(1.0, |w| w.callback_factor);
        let outside = if work.air.outside() {
            law.outside_factor
        } else {
            1.0
        };
        let chance = law.callback * factor * outside;
        let day = first.start.day();
        let (plan, draws) = (self.plan, &mut self.draws);
        coating_callback(self.part.shop, job, day, chance, plan, draws, tables);
    }

    /// Selection sampling where the number of coated jobs is given.
    fn decided(&mut self) -> Decided {
        let jobs_left = self.jobs_left.max(1);
        self.jobs_left = jobs_left - 1;
        let Some(left) = self.coated_left else {
            return Decided::ByLaw;
        };
        let coated = self.draws.of(Purpose::Shops).below(jobs_left) < left;
        self.coated_left = Some(left - u64::from(coated));
        Decided::Told(coated)
    }

    fn count(&mut self, sale: &Sale) {
        if let Some(month) = self.tally.last_mut() {
            if !sale.excluded {
                month.eligible += 1;
                month.expected += sale.expected;
            }
            month.coated += u64::from(sale.coated);
        }
    }

    fn write_job(
        &self,
        number: u64,
        day: NaiveDate,
        vehicle: &Vehicle,
        sale: &Sale,
        tables: &mut Tables,
    ) {
        let shop = self.part.shop;
        let quoted = self.plan.price_on_declined && sale.offered == Some(true);
        let seller = self.crew.sellers.get(sale.seller);
        tables.jobs.push(Job {
            shop,
            number,
            finished_on: day,
            class: vehicle.class,
            film: vehicle.film,
            finish: (!vehicle.two_tone).then_some(vehicle.main),
            area: vehicle.area,
            coverage: vehicle.coverage,
            offered: sale.offered,
            sample: sale.sample,
            sold_by: seller.map_or(0, |s| s.person.number),
            coated: sale.coated,
            coating_price: (sale.coated || quoted).then_some(sale.price),
            coating_discount: sale.coated.then_some(sale.discount),
            film_price: sale.film_price,
            quoted_on: sale.quoted_on,
            excluded: sale.excluded,
        });
        for piece in vehicle.pieces.into_iter().flatten() {
            tables.surfaces.push(Surface {
                shop,
                job: number,
                part: piece.part,
                finish: piece.finish,
                area: piece.area,
                orientation: piece.orientation,
            });
        }
    }

    /// Draws the day's coating from the bottles, in the order of the work.
    fn draw_bottles(&mut self, today: &Today, tables: &mut Tables) {
        let mut started = std::mem::take(&mut self.today);
        started.sort_by_key(|s| (s.spell.start, s.job));
        for spell in started.drain(..) {
            self.write_spell(&spell, today, tables);
        }
        self.today = started;
    }

    fn write_spell(&mut self, started: &Started, today: &Today, tables: &mut Tables) {
        let (spell, work) = (&started.spell, &started.work);
        let day = spell.start.day();
        let (plan, draws) = (self.plan, &mut self.draws);
        let bottle = self
            .cellar
            .draw(spell.used, day, today.cost_factor, plan, draws, tables);
        let named = plan.bottles == BottleRecord::PerJob;
        let person = self.crew.workers.get(spell.worker);
        let air = work.air.kept.then_some(work.air);
        tables.coatings.push(Coating {
            shop: self.part.shop,
            job: started.job,
            applied_by: person.map_or(0, |w| w.person.number),
            started_at: spell.start.moment(),
            ended_at: spell.end.moment(),
            minutes: spell.timed.then_some(spell.minutes),
            paused_minutes: spell.paused,
            used: spell.measured.then_some(spell.used),
            bottle: named.then_some(bottle),
            air_temperature: air.map(|a| a.temperature),
            surface_temperature: air.map(|a| a.surface),
            relative_humidity: air.map(|a| a.humidity),
            released_at: started.last.then(|| work.released.moment()),
            rain: started.last.then_some(work.rain),
            held_overnight: started.last.then_some(work.held),
        });
    }
}
