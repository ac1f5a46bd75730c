//! The people of a shop: who they are, how they differ, who takes a job.

use super::calendar::{earlier, later};
use super::clock::Minute;
use super::draws::{Draws, Purpose};
use super::kinds::Role;
use super::plan::Plan;
use super::tables::Person;
use crate::money::Minor;
use chrono::NaiveDate;

/// How much coating work an installer does against a prepper. Invented.
const INSTALLER_WEIGHT: f64 = 0.3;

/// Someone who does coating work.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Worker {
    /// As in the table.
    pub(super) person: Person,
    /// u: effect on log minutes.
    pub(super) pace: f64,
    /// Factor on the residual sd of log minutes.
    pub(super) spread: f64,
    /// Factor on coating used.
    pub(super) use_factor: f64,
    /// Factor on the chance of a callback.
    pub(super) callback_factor: f64,
    /// Hired within the data, so still learning at first.
    pub(super) new: bool,
    weight: f64,
    done: u32,
    /// Busy until then.
    pub(super) free_at: Minute,
}

impl Worker {
    /// Whether the person works here on a day.
    pub(super) fn works_on(&self, day: NaiveDate) -> bool {
        self.person.started_on <= day && self.person.ended_on.is_none_or(|last| day <= last)
    }

    /// Counts one more job and gives what learning adds to its log minutes.
    pub(super) fn learn(&mut self, learning: f64, learned_after: u32) -> f64 {
        self.done = self.done.saturating_add(1);
        if !self.new || self.done >= learned_after {
            return 0.0;
        }
        learning.log2() * (f64::from(self.done) / f64::from(learned_after)).ln()
    }
}

/// Someone who sells.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct SalesPerson {
    /// As in the table.
    pub(super) person: Person,
    /// Effect on the log odds of acceptance.
    pub(super) effect: f64,
}

/// The people of a shop.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Crew {
    /// Who coat.
    pub(super) workers: Vec<Worker>,
    /// Who sell.
    pub(super) sellers: Vec<SalesPerson>,
}

impl Crew {
    /// Draws the people of a shop. `first` is the number of the first one.
    pub(super) fn draw(plan: &Plan, shop: u32, first: u64, draws: &mut Draws) -> Self {
        let starts = plan.starts().unwrap_or(plan.ends);
        let people = u64::from(plan.people);
        let workers = (0..people)
            .map(|place| worker(plan, shop, first, place, starts, draws))
            .collect();
        let sellers = (0..u64::from(plan.sellers))
            .map(|place| {
                let old = earlier(starts, 100 + draws.of(Purpose::People).below(1_500));
                let wage = draws.of(Purpose::People).between(22.0, 27.0);
                let person = person(shop, first + people + place, Role::Seller, wage, old);
                let effect = draws.of(Purpose::Effects).normal(plan.law.sale.seller_sd);
                SalesPerson { person, effect }
            })
            .collect();
        Self { workers, sellers }
    }

    /// Who takes a job that could start at `ready`, and when: someone by
    /// weight, else the next who is free, else whoever is free first.
    pub(super) fn takes(&self, ready: Minute, draws: &mut Draws) -> Option<Taken> {
        self.takes_but(ready, None, draws)
    }

    /// As [`Crew::takes`], leaving one person out.
    pub(super) fn takes_but(
        &self,
        ready: Minute,
        but: Option<usize>,
        draws: &mut Draws,
    ) -> Option<Taken> {
        let day = ready.day();
        let here: Vec<usize> = (0..self.workers.len())
            .filter(|&w| Some(w) != but && self.workers[w].works_on(day))
            .collect();
        let weights: Vec<f64> = here.iter().map(|&w| self.workers[w].weight).collect();
        let wanted = draws.of(Purpose::Who).one_of(&here, &weights)?;
        let from = here.iter().position(|&w| w == wanted)?;
        let free = here
            .iter()
            .cycle()
            .skip(from)
            .take(here.len())
            .find(|&&w| self.workers[w].free_at <= ready);
        if let Some(&worker) = free {
            return Some(Taken { worker, at: ready });
        }
        let first_free = here.into_iter().min_by_key(|&w| self.workers[w].free_at)?;
        let at = self.workers[first_free].free_at.after(5);
        Some(Taken {
            worker: first_free,
            at,
        })
    }
}

/// Who takes a job, and when.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Taken {
    /// Place among the workers.
    pub(super) worker: usize,
    /// Start.
    pub(super) at: Minute,
}

fn person(shop: u32, number: u64, role: Role, wage: f64, started_on: NaiveDate) -> Person {
    // Wages in steps of a quarter.
    let hourly_cost = Minor((wage * 4.0).round() as i64 * 25);
    Person {
        shop,
        number,
        role,
        hourly_cost,
        started_on,
        ended_on: None,
    }
}

/// Every third is an installer. The first are old hands; of the fifth and
/// later two in three are hired within the data (of three or four people, the
/// last), and of five or more people the fourth leaves.
fn worker(
    plan: &Plan,
    shop: u32,
    first: u64,
    place: u64,
    starts: NaiveDate,
    draws: &mut Draws,
) -> Worker {
    let role = match place % 3 {
        2 => Role::Installer,
        _ => Role::Prepper,
    };
    let people = u64::from(plan.people);
    let new = match people {
        0..=2 => false,
        3..=4 => place + 1 == people,
        _ => place >= 4 && !place.is_multiple_of(3),
    };
    let days = (plan.ends - starts).num_days().max(1) as f64;
    let mut stream = draws.of(Purpose::People);
    let wage = match role {
        Role::Installer => stream.between(23.0, 28.0),
        _ => stream.between(18.5, 22.5),
    };
    let within = stream.between(0.15, 0.75) * days;
    let before = 60 + stream.below(2_000);
    let leaves = stream.between(0.4, 0.8) * days;
    let started_on = if new {
        later(starts, within as u64)
    } else {
        earlier(starts, before)
    };
    let mut person = person(shop, first + place, role, wage, started_on);
    person.ended_on = (place == 3 && people > 4).then(|| later(starts, leaves as u64));
    let rank = (place + 1) as f64;
    let role_weight = if role == Role::Installer {
        INSTALLER_WEIGHT
    } else {
        1.0
    };
    let law = &plan.law;
    let mut effects = draws.of(Purpose::Effects);
    Worker {
        person,
        pace: effects.normal(law.minutes.person_sd),
        spread: effects.normal(law.minutes.spread_sd).exp(),
        use_factor: effects.normal(law.coating.person_sd).exp(),
        callback_factor: effects.normal(law.after.person_sd).exp(),
        new,
        weight: role_weight * rank.powf(-plan.uneven_use),
        done: 0,
        free_at: Minute(0),
    }
}

#[cfg(test)]
mod tests {
    use super::super::law::Residual;
    use super::super::plan::day;
    use super::*;

    #[test]
    fn a_new_person_starts_slow_and_stops_learning() {
        let plan = Plan::film_shop();
        let mut draws = Draws::new(1, 1, Residual::Normal).unwrap();
        let mut crew = Crew::draw(&plan, 1, 1, &mut draws);
        let new = crew.workers.iter_mut().find(|w| w.new).unwrap();
        let pace: Vec<f64> = (0..80).map(|_| new.learn(0.93, 40)).collect();
        let doubling = (pace[19] - pace[9]).exp();
        assert!((doubling - 0.93).abs() < 1e-12, "{doubling}");
        assert!(pace[0] > 0.3 && pace[40] == 0.0 && pace[79] == 0.0);
        let old = crew.workers.first_mut().unwrap();
        assert_eq!(old.learn(0.93, 40), 0.0);
    }

    #[test]
    fn nobody_takes_a_job_before_the_hire_date_or_while_busy() {
        let plan = Plan::film_shop();
        let mut draws = Draws::new(2, 1, Residual::Normal).unwrap();
        let mut crew = Crew::draw(&plan, 1, 1, &mut draws);
        let ready = Minute::of(day(2024, 11, 4), 600);
        for _ in 0..200 {
            let taken = crew.takes(ready, &mut draws).unwrap();
            let worker = &mut crew.workers[taken.worker];
            assert!(worker.works_on(ready.day()));
            assert!(worker.free_at <= taken.at);
            worker.free_at = taken.at.after(40);
        }
    }
}
