//! The constants that the invented shop goes by: plausible, somewhat wrong,
//! in two dated records.
//!
//! Where they are wrong, by construction: the set-up, because its drops were
//! counted as if 20 made a millilitre (true of water, not of a solvent); satin,
//! taken to be as smooth as gloss; minutes of pickups, too few; coating at last
//! year's cost. A van is listed at a sedan's price whatever its finish, which
//! is under the floor where the finish is rough. The film area of a full job
//! is right, since it is measured.

use super::draws::rounded;
use super::kinds::{CLASSES, Class, FINISHES, Finish};
use super::law::Law;
use super::plan::Plan;
use crate::money::Minor;
use chrono::{Months, NaiveDate};
use std::fmt::Write;

/// Drops of water in a millilitre, near enough (USP <1101>: 45 to 55 mg each).
const WATER_DROPS_PER_ML: f64 = 20.0;
/// What the shop takes its loaded hour to be, over the wage.
const LOADING: f64 = 1.42;
/// Share of the list price that the shop means to spend on coating and labour.
const COST_SHARE: f64 = 0.46;
/// Wage that the shop goes by [major units per hour].
const WAGE: f64 = 22.0;

/// One dated record.
#[derive(Debug, Clone, PartialEq)]
pub struct Record {
    /// First day.
    pub effective_on: NaiveDate,
    /// Where it came from.
    pub source: &'static str,
    /// Set-up [mL a job].
    pub setup_ml: f64,
    /// Cost of coating [major units per mL].
    pub cost_per_ml: f64,
    /// Wage [major units per hour].
    pub hourly_cost: f64,
    /// By finish [mL/m²].
    pub ml_per_m2: [f64; 4],
    /// By class.
    pub minutes: [f64; 6],
    /// By class [m²].
    pub full_area: [f64; 6],
    /// By class and finish.
    pub list_price: [[Minor; 4]; 6],
}

/// The records, earliest first.
#[derive(Debug, Clone, PartialEq)]
pub struct Guess {
    /// In order of `effective_on`.
    pub records: [Record; 2],
}

impl Guess {
    /// What a shop under this plan's law would have guessed: first a month
    /// before the data start, then ten months before they end.
    pub fn of(plan: &Plan) -> Self {
        let starts = plan.starts().unwrap_or(plan.ends);
        let first = back(starts, 1);
        let second = back(plan.ends, 10).max(starts);
        let second = second.succ_opt().unwrap_or(second);
        Self {
            records: [
                record(&plan.law, first, "set by hand", 0.95),
                record(&plan.law, second, "set by hand, spring price list", 1.0),
            ],
        }
    }

    /// The record in force on a day.
    pub fn in_force(&self, day: NaiveDate) -> &Record {
        let [first, second] = &self.records;
        if second.effective_on <= day {
            second
        } else {
            first
        }
    }

    /// The text of `constants.toml`.
    pub fn toml(&self) -> String {
        let mut text = String::from(
            "# What this invented shop quotes by. Records are never edited in place:\n\
             # the one in force on a day is the latest with effective_on on or before it.\n",
        );
        for record in &self.records {
            record.write(&mut text);
        }
        text
    }
}

fn back(day: NaiveDate, months: u32) -> NaiveDate {
    day.checked_sub_months(Months::new(months)).unwrap_or(day)
}

/// `level` under 1 makes an earlier record: lower prices and costs, and
/// coating use as it was guessed at first.
fn record(law: &Law, effective_on: NaiveDate, source: &'static str, level: f64) -> Record {
    let [gloss, _, matte, textured] = law.coating.ml_per_m2;
    let first = level < 1.0;
    let ml_per_m2 = if first {
        [gloss, gloss, matte * 0.92, matte * 0.92]
    } else {
        [gloss, gloss * 0.97, matte * 1.03, textured * 0.97]
    };
    let pickup = Class::Pickup.place();
    let mut minutes = law.minutes.typical;
    minutes[pickup] *= 0.85;
    let mut record = Record {
        effective_on,
        source,
        setup_ml: rounded(
            law.coating.setup_ml * law.coating.drops_per_ml / WATER_DROPS_PER_ML,
            1,
        ),
        cost_per_ml: rounded(law.cost_per_ml * level, 2),
        hourly_cost: rounded(WAGE * level, 1),
        ml_per_m2: ml_per_m2.map(|c| rounded(c * 20.0, 0) / 20.0),
        minutes: minutes.map(|m| rounded(m, 0)),
        full_area: law.vehicle.full_area,
        list_price: [[Minor::ZERO; 4]; 6],
    };
    record.list_price = record.price_list(law);
    record
}

impl Record {
    fn price_list(&self, law: &Law) -> [[Minor; 4]; 6] {
        let sedan = self.price(law, Class::Sedan, Finish::Gloss);
        CLASSES.map(|class| {
            FINISHES.map(|finish| match (class, finish) {
                (Class::Van, _) => sedan,
                (_, Finish::Satin) => self.price(law, class, Finish::Gloss),
                _ => self.price(law, class, finish),
            })
        })
    }

    /// Coating and loaded labour by the record's own constants, over the share
    /// of the price that they may take, to the next 5.
    fn price(&self, law: &Law, class: Class, finish: Finish) -> Minor {
        let (c, f) = (class.place(), finish.place());
        let ml = self.setup_ml + self.ml_per_m2[f] * self.full_area[c];
        let minutes = self.minutes[c] * law.minutes.finish_factor[f];
        let cost = ml * self.cost_per_ml + minutes / 60.0 * self.hourly_cost * LOADING;
        let fives = (cost / COST_SHARE / 5.0).round();
        Minor(fives as i64 * 500)
    }

    /// List price of a full job.
    pub fn list(&self, class: Class, finish: Finish) -> Minor {
        self.list_price[class.place()][finish.place()]
    }

    fn write(&self, text: &mut String) {
        // Writing to a String cannot fail.
        let _ = write!(
            text,
            "\n[[record]]\neffective_on = {}\nsource = \"{}\"\nsetup_ml = {:.1}\n\
             cost_per_ml = {:.2}\nhourly_cost = {:.2}\n[record.ml_per_m2]\n",
            self.effective_on, self.source, self.setup_ml, self.cost_per_ml, self.hourly_cost
        );
        for (finish, ml) in FINISHES.iter().zip(self.ml_per_m2) {
            let _ = writeln!(text, "{} = {ml:.2}", finish.word());
        }
        by_class(text, "minutes", &self.minutes);
        by_class(text, "full_area", &self.full_area);
        text.push_str("[record.list_price]\n");
        for class in CLASSES {
            self.write_prices(class, text);
        }
    }

    fn write_prices(&self, class: Class, text: &mut String) {
        let usual = self.list(class, Finish::Gloss);
        let _ = writeln!(text, "{} = {:.2}", class.word(), usual.as_f64() / 100.0);
        for finish in FINISHES {
            let own = self.list(class, finish);
            if own != usual {
                let (class, finish) = (class.word(), finish.word());
                let _ = writeln!(text, "\"{class}/{finish}\" = {:.2}", own.as_f64() / 100.0);
            }
        }
    }
}

fn by_class(text: &mut String, table: &str, values: &[f64; 6]) {
    let _ = writeln!(text, "[record.{table}]");
    for (class, value) in CLASSES.iter().zip(values) {
        let _ = writeln!(text, "{} = {value:.1}", class.word());
    }
}
