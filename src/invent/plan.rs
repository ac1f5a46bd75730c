//! What to invent: how many jobs, months, shops and people, from which seed,
//! under which law, with what changes on the way.

use super::kinds::Finish;
use super::law::Law;
use chrono::{Datelike, Months, NaiveDate};
use thiserror::Error;

/// How bottles are written down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BottleRecord {
    /// Each spell names the bottle that it started with.
    PerJob,
    /// Only the days on which bottles are opened and emptied.
    DatesOnly,
}

/// Something that changes on a day and stays so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Change {
    /// Added to the log odds of acceptance.
    AcceptLogit(f64),
    /// Share of offers shown with one whole coated and one whole bare panel;
    /// the other two ways share what is left as before.
    FullPairShare(f64),
    /// Factor on the coating that a finish takes.
    Use {
        /// Of this finish.
        finish: Finish,
        /// Times this.
        factor: f64,
    },
    /// Factor on hands-on minutes.
    Minutes(f64),
    /// Factor on what bottles cost.
    Cost(f64),
}

/// A change and its first day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drift {
    /// First day.
    pub from: NaiveDate,
    /// What changes.
    pub change: Change,
}

/// What to invent. [`Plan::default`] keeps strictly to the law of use and
/// minutes that the fits assume; [`Plan::film_shop`] is the demo, with learning,
/// uneven people and changes on the way.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Film jobs, over all shops.
    pub jobs: u64,
    /// Months, the last of which holds `ends`.
    pub months: u32,
    /// Shops.
    pub shops: u32,
    /// People of a shop who do coating work.
    pub people: u32,
    /// People of a shop who sell.
    pub sellers: u32,
    /// Same seed and plan, same bytes.
    pub seed: u64,
    /// Last day.
    pub ends: NaiveDate,
    /// Share of coated jobs whose coating is measured.
    pub measured_share: f64,
    /// Share of spells for which only start and end are written down.
    pub clock_only_share: f64,
    /// Share of coated jobs done in two spells by one person.
    pub two_spells_share: f64,
    /// Share of coated jobs done by two people.
    pub shared_share: f64,
    /// How bottles are written down.
    pub bottles: BottleRecord,
    /// What a bottle holds [mL].
    pub bottle_ml: f64,
    /// 0: people of one role do equally much; k: the one in place p does
    /// p^-k as much as the first.
    pub uneven_use: f64,
    /// Exactly so many jobs are coated, drawn at random, with the law of sale
    /// set aside; for benches that need a given number.
    pub coated_exactly: Option<u64>,
    /// Whether the price quoted to those who declined is kept.
    pub price_on_declined: bool,
    /// Whether each shop numbers its jobs, people and bottles from 1, so that
    /// keys come again in other shops.
    pub keys_per_shop: bool,
    /// The law.
    pub law: Law,
    /// Changes on the way.
    pub drifts: Vec<Drift>,
}

/// Why a plan cannot be carried out.
#[derive(Debug, Error, PartialEq)]
pub enum PlanError {
    /// A count outside its range.
    #[error("{name} is {found}; expected {least} to {most}")]
    Count {
        /// Which.
        name: &'static str,
        /// What it is.
        found: u64,
        /// The least that works.
        least: u64,
        /// The most that works.
        most: u64,
    },
    /// A number outside its range.
    #[error("{name} is {found}; expected {expected}")]
    Number {
        /// Which.
        name: &'static str,
        /// What it is.
        found: f64,
        /// What works.
        expected: &'static str,
    },
    /// The months reach before the first year that can be invented.
    #[error("{months} months up to {ends} start before the year 1900 or end after 2200")]
    Dates {
        /// Months asked for.
        months: u32,
        /// Last day asked for.
        ends: NaiveDate,
    },
    /// More coating work than the people have hours for.
    #[error(
        "{people} people a shop have no time for about {jobs_a_day:.0} coated jobs a day; \
         it takes {need}, or more months"
    )]
    TooMuchWork {
        /// People of a shop.
        people: u32,
        /// Coated jobs of the busiest shop on a working day.
        jobs_a_day: f64,
        /// People that it takes.
        need: u64,
    },
}

/// The demo's last day.
const DEMO_ENDS: NaiveDate = day(2026, 10, 31);
/// The demo's seed, chosen for a last month with something to say.
const DEMO_SEED: u64 = 916;

/// A day of the calendar, for constants; the epoch where there is none such.
pub(super) const fn day(year: i32, month: u32, day: u32) -> NaiveDate {
    match NaiveDate::from_ymd_opt(year, month, day) {
        Some(date) => date,
        None => NaiveDate::MIN,
    }
}

impl Default for Plan {
    fn default() -> Self {
        Self {
            jobs: 1_200,
            months: 24,
            shops: 1,
            people: 6,
            sellers: 3,
            seed: 1,
            ends: DEMO_ENDS,
            measured_share: 0.9,
            clock_only_share: 0.04,
            two_spells_share: 0.04,
            shared_share: 0.03,
            bottles: BottleRecord::PerJob,
            bottle_ml: 100.0,
            uneven_use: 0.0,
            coated_exactly: None,
            price_on_declined: false,
            keys_per_shop: false,
            law: Law::default(),
            drifts: Vec::new(),
        }
    }
}

impl Plan {
    /// The demo: an invented shop as a manager might meet one. Beyond the plain
    /// law: new people learn (factor 0.93 per doubling of jobs), some use more,
    /// some are erratic, some have more callbacks; coating costs 6 % more from
    /// ten months before the end; satin takes 4 % more in the last six
    /// months; in the last month the coating is shown better and sells better.
    pub fn film_shop() -> Self {
        let mut plan = Self {
            seed: DEMO_SEED,
            uneven_use: 0.3,
            ..Self::default()
        };
        plan.law.coating.person_sd = 0.03;
        plan.law.coating.shop_sd = 0.03;
        plan.law.minutes.spread_sd = 0.15;
        plan.law.minutes.shop_sd = 0.05;
        plan.law.minutes.learning = 0.93;
        plan.law.after.person_sd = 0.4;
        plan.with_demo_drifts()
    }

    /// The same plan with another last day (and, where the demo's changes are
    /// in it, those moved along).
    pub fn ending(mut self, ends: NaiveDate) -> Self {
        self.ends = ends;
        if self.drifts.is_empty() {
            return self;
        }
        self.with_demo_drifts()
    }

    fn with_demo_drifts(mut self) -> Self {
        let month = |back: u32| {
            let first = self.ends.with_day(1).unwrap_or(self.ends);
            first.checked_sub_months(Months::new(back)).unwrap_or(first)
        };
        let satin = Change::Use {
            finish: Finish::Satin,
            factor: 1.04,
        };
        let drift = |back, change| Drift {
            from: month(back),
            change,
        };
        self.drifts = vec![
            drift(9, Change::Cost(1.06)),
            drift(5, satin),
            drift(0, Change::FullPairShare(0.6)),
            drift(0, Change::AcceptLogit(0.7)),
        ];
        self
    }

    /// First day of the first month.
    pub fn starts(&self) -> Option<NaiveDate> {
        let back = Months::new(self.months.checked_sub(1)?);
        self.ends.with_day(1)?.checked_sub_months(back)
    }

    /// Checks every number of the plan.
    ///
    /// # Errors
    /// The first number that cannot work, with what could.
    pub fn check(&self) -> Result<(), PlanError> {
        self.check_counts()?;
        self.check_shares()?;
        self.check_law()?;
        let years = 1900..=2200;
        let starts = self.starts();
        if !starts.is_some_and(|s| years.contains(&s.year()) && years.contains(&self.ends.year())) {
            return Err(PlanError::Dates {
                months: self.months,
                ends: self.ends,
            });
        }
        self.check_work()
    }

    fn check_counts(&self) -> Result<(), PlanError> {
        let shops = u64::from(self.shops);
        let coated = self.coated_exactly.unwrap_or(0);
        for (name, found, least, most) in [
            ("months", u64::from(self.months), 1, 1_200),
            ("shops", shops, 1, 9_999),
            ("jobs", self.jobs, shops, 1_000_000_000),
            ("people", u64::from(self.people), 1, 10_000),
            ("sellers", u64::from(self.sellers), 1, 10_000),
            ("coated jobs", coated, 0, self.jobs),
        ] {
            if !(least..=most).contains(&found) {
                return Err(PlanError::Count {
                    name,
                    found,
                    least,
                    most,
                });
            }
        }
        Ok(())
    }

    fn check_shares(&self) -> Result<(), PlanError> {
        for (name, found) in [
            ("measured share", self.measured_share),
            ("share by the clock alone", self.clock_only_share),
            ("share in two spells", self.two_spells_share),
            ("share by two people", self.shared_share),
            ("excluded share", self.law.sale.excluded_share),
            ("offered share", self.law.sale.offered),
            ("share of unknown offers", self.law.sale.offer_unknown),
            ("two-tone share", self.law.vehicle.two_tone_share),
            ("partial share", self.law.vehicle.partial_share),
            ("inspected share", self.law.after.inspected_share),
        ] {
            number(name, found, (0.0..=1.0).contains(&found), "0 to 1")?;
        }
        Ok(())
    }

    fn check_law(&self) -> Result<(), PlanError> {
        let law = &self.law;
        let positive = law.coating.ml_per_m2.iter().chain(&law.minutes.typical);
        let positive = positive.chain(&law.vehicle.full_area);
        let positive = positive.chain(&law.minutes.finish_factor);
        for &found in positive.chain([&law.cost_per_ml, &law.minutes.learning]) {
            let fits = found > 0.0 && found < 1_000.0;
            number(
                "a number of the law",
                found,
                fits,
                "above 0 and under 1,000",
            )?;
        }
        for (name, found) in [
            ("sd of use", law.coating.sd),
            ("set-up", law.coating.setup_ml),
            ("uneven use", self.uneven_use),
        ] {
            number(name, found, (0.0..100.0).contains(&found), "0 to under 100")?;
        }
        for (name, found) in [
            ("sd of people's use", law.coating.person_sd),
            ("sd of shops' use", law.coating.shop_sd),
            ("sd of people's minutes", law.minutes.person_sd),
            ("sd of shops' minutes", law.minutes.shop_sd),
            ("sd of people's spreads", law.minutes.spread_sd),
            ("sd of minutes", law.minutes.sd),
            ("sd of areas", law.vehicle.area_sd),
            ("sd of prices", law.sale.price_spread),
            ("sd of people's callbacks", law.after.person_sd),
        ] {
            number(
                name,
                found,
                (0.0..=2.0).contains(&found),
                "0 to 2 (log scale)",
            )?;
        }
        let bottle = (1.0..=1.0e6).contains(&self.bottle_ml);
        number("bottle size", self.bottle_ml, bottle, "1 to 1,000,000 mL")
    }

    /// A person has time for about seven coated jobs on a working day, and up
    /// to two thirds of the people may be hired late.
    fn check_work(&self) -> Result<(), PlanError> {
        const JOBS_A_DAY: f64 = 7.0;
        let jobs_a_day = self.coated_a_day();
        let need = (jobs_a_day / JOBS_A_DAY * 3.0).ceil() as u64;
        if jobs_a_day <= 1.0 || u64::from(self.people) >= need {
            return Ok(());
        }
        Err(PlanError::TooMuchWork {
            people: self.people,
            jobs_a_day,
            need,
        })
    }

    /// The same plan with as many people as its work takes at an easy pace
    /// (1.4 coated jobs a day each, in the busiest shop), and no fewer than it
    /// has.
    pub fn staffed(mut self) -> Self {
        const EASY: f64 = 1.4;
        let people = (self.coated_a_day() / EASY).ceil().min(10_000.0);
        self.people = self.people.max(people as u32);
        self
    }

    /// Coated jobs of the busiest shop on a working day, about; shops differ
    /// in size by up to two fifths from their mean.
    fn coated_a_day(&self) -> f64 {
        const WORKING_DAYS: f64 = 23.0;
        let busiest = if self.shops > 1 { 1.4 } else { 1.0 };
        let days = f64::from(self.months.max(1)) * WORKING_DAYS;
        let coated = self
            .coated_exactly
            .map_or(0.55 * self.jobs as f64, |c| c as f64);
        busiest * coated / f64::from(self.shops.max(1)) / days
    }
}

fn number(
    name: &'static str,
    found: f64,
    fits: bool,
    expected: &'static str,
) -> Result<(), PlanError> {
    if fits {
        return Ok(());
    }
    Err(PlanError::Number {
        name,
        found,
        expected,
    })
}
