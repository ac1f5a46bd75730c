//! The tables as CSV, with the canonical headings in the contract's order.
//! Numbers are written straight into bytes: a chain of a million jobs takes
//! seconds.

use super::plan::Plan;
use super::tables::{Bottle, Callback, Coating, Inspection, Job, Person, Surface, Tables};
use super::truth::PRODUCT;
use crate::money::Minor;
use chrono::{Datelike, NaiveDate, NaiveDateTime, Timelike};

/// File names, in the contract's order.
pub const FILES: [&str; 7] = [
    "jobs.csv",
    "surfaces.csv",
    "coatings.csv",
    "bottles.csv",
    "callbacks.csv",
    "people.csv",
    "inspections.csv",
];

/// Headings by file; `shop` comes second where there are several.
const HEADINGS: [&str; 7] = [
    "job,finished_on,vehicle_class,film,finish,area,coverage,offered,sample,sold_by,coated,\
     coating_price,coating_discount,film_price,quoted_on,excluded",
    "job,surface,finish,area,orientation",
    "job,applied_by,started_at,ended_at,minutes,paused_minutes,used,bottle,product,\
     air_temperature,surface_temperature,relative_humidity,released_at,rain,held_overnight",
    "bottle,product,lot,opened_on,emptied_on,volume,left_over,cost",
    "job,reported_on,cause,minutes,used,cost",
    "person,role,hourly_cost,started_on,ended_on",
    "job,seen_on,condition,orientation",
];

/// Key of a person.
pub(super) fn person_key(number: u64) -> String {
    format!("P{number:03}")
}

/// Bytes of the seven files, or of a stretch of them.
#[derive(Debug, Default)]
pub(super) struct Sheets {
    /// In the order of [`FILES`].
    pub(super) bytes: [Vec<u8>; 7],
}

/// How keys are written.
#[derive(Debug, Clone, Copy)]
pub(super) struct Style {
    chain: bool,
    job_digits: usize,
    shop_digits: usize,
}

impl Style {
    /// Of a plan: as many digits as its largest number needs.
    pub(super) fn of(plan: &Plan) -> Self {
        Self {
            chain: plan.shops > 1,
            job_digits: digits(plan.jobs).max(5),
            shop_digits: digits(u64::from(plan.shops)).max(2),
        }
    }
}

fn digits(n: u64) -> usize {
    n.checked_ilog10().map_or(1, |d| d as usize + 1)
}

impl Sheets {
    /// The headings.
    pub(super) fn headings(style: Style) -> Self {
        let bytes = HEADINGS.map(|heading| {
            let mut line = heading.to_string();
            if style.chain {
                line = line.replacen(',', ",shop,", 1);
            }
            (line + "\n").into_bytes()
        });
        Self { bytes }
    }

    /// Adds the rows of all tables.
    pub(super) fn add(&mut self, tables: &Tables, style: Style) {
        let [
            jobs,
            surfaces,
            coatings,
            bottles,
            callbacks,
            people,
            inspections,
        ] = &mut self.bytes;
        tables.jobs.iter().for_each(|row| job(jobs, row, style));
        let rows = &tables.surfaces;
        rows.iter().for_each(|row| surface(surfaces, row, style));
        let rows = &tables.coatings;
        rows.iter().for_each(|row| coating(coatings, row, style));
        let rows = &tables.bottles;
        rows.iter().for_each(|row| bottle(bottles, row, style));
        let rows = &tables.callbacks;
        rows.iter().for_each(|row| callback(callbacks, row, style));
        let rows = &tables.people;
        rows.iter().for_each(|row| person(people, row, style));
        let rows = &tables.inspections;
        rows.iter()
            .for_each(|row| inspection(inspections, row, style));
    }
}

/// One line in the making: every cell after the first brings its comma.
struct Line<'a>(&'a mut Vec<u8>);

impl<'a> Line<'a> {
    /// Starts with a key: a letter and at least so many digits, then the shop.
    fn start(
        out: &'a mut Vec<u8>,
        letter: u8,
        n: u64,
        width: usize,
        shop: u32,
        style: Style,
    ) -> Self {
        let mut line = Self(out);
        line.0.push(letter);
        line.number(n, width);
        if style.chain {
            line.0.extend_from_slice(b",S");
            line.number(u64::from(shop), style.shop_digits);
        }
        line
    }

    /// Starts with the key of a job.
    fn of_job(out: &'a mut Vec<u8>, job: u64, shop: u32, style: Style) -> Self {
        Self::start(out, b'J', job, style.job_digits, shop, style)
    }

    fn end(self) {
        self.0.push(b'\n');
    }

    fn number(&mut self, mut n: u64, width: usize) {
        let mut text = [b'0'; 20];
        let mut from = text.len();
        while n > 0 || text.len() - from < width.clamp(1, 20) {
            from -= 1;
            text[from] = b'0' + (n % 10) as u8;
            n /= 10;
        }
        self.0.extend_from_slice(&text[from..]);
    }

    fn text(&mut self, text: &str) {
        self.0.push(b',');
        self.0.extend_from_slice(text.as_bytes());
    }

    fn maybe_text(&mut self, text: Option<&str>) {
        self.text(text.unwrap_or_default());
    }

    fn key(&mut self, letter: u8, n: Option<u64>, width: usize) {
        self.0.push(b',');
        if let Some(n) = n {
            self.0.push(letter);
            self.number(n, width);
        }
    }

    /// A whole number of 10^-decimals.
    fn scaled(&mut self, units: i64, decimals: usize) {
        self.0.push(b',');
        if units < 0 {
            self.0.push(b'-');
        }
        let scale = 10_u64.pow(decimals as u32);
        let units = units.unsigned_abs();
        self.number(units / scale, 1);
        if decimals > 0 {
            self.0.push(b'.');
            self.number(units % scale, decimals);
        }
    }

    fn decimal(&mut self, x: Option<f64>, decimals: usize) {
        match x {
            Some(x) => self.scaled((x * 10_f64.powi(decimals as i32)).round() as i64, decimals),
            None => self.0.push(b','),
        }
    }

    fn money(&mut self, amount: Option<Minor>) {
        match amount {
            Some(Minor(minor)) => self.scaled(minor, 2),
            None => self.0.push(b','),
        }
    }

    fn yes_no(&mut self, yes: Option<bool>) {
        self.text(match yes {
            Some(true) => "yes",
            Some(false) => "no",
            None => "",
        });
    }

    fn day(&mut self, day: Option<NaiveDate>) {
        self.0.push(b',');
        if let Some(day) = day {
            self.number(u64::try_from(day.year()).unwrap_or(0), 4);
            self.0.push(b'-');
            self.number(u64::from(day.month()), 2);
            self.0.push(b'-');
            self.number(u64::from(day.day()), 2);
        }
    }

    fn moment(&mut self, moment: Option<NaiveDateTime>) {
        self.day(moment.map(|m| m.date()));
        if let Some(moment) = moment {
            self.0.push(b'T');
            self.number(u64::from(moment.hour()), 2);
            self.0.push(b':');
            self.number(u64::from(moment.minute()), 2);
            self.0.extend_from_slice(b":00");
        }
    }
}

fn job(out: &mut Vec<u8>, row: &Job, style: Style) {
    let mut line = Line::of_job(out, row.number, row.shop, style);
    line.day(Some(row.finished_on));
    line.text(row.class.word());
    line.text(row.film.word());
    line.maybe_text(row.finish.map(|f| f.word()));
    line.decimal(Some(row.area), 2);
    line.text(row.coverage.word());
    line.yes_no(row.offered);
    line.maybe_text(row.sample.map(|s| s.word()));
    line.key(b'P', Some(row.sold_by), 3);
    line.yes_no(Some(row.coated));
    line.money(row.coating_price);
    line.money(row.coating_discount);
    line.money(Some(row.film_price));
    line.day(row.quoted_on);
    line.yes_no(Some(row.excluded));
    line.end();
}

fn surface(out: &mut Vec<u8>, row: &Surface, style: Style) {
    let mut line = Line::of_job(out, row.job, row.shop, style);
    line.text(row.part.word());
    line.text(row.finish.word());
    line.decimal(Some(row.area), 2);
    line.maybe_text(row.orientation.map(|o| o.word()));
    line.end();
}

fn coating(out: &mut Vec<u8>, row: &Coating, style: Style) {
    let mut line = Line::of_job(out, row.job, row.shop, style);
    line.key(b'P', Some(row.applied_by), 3);
    line.moment(Some(row.started_at));
    line.moment(Some(row.ended_at));
    line.decimal(row.minutes, 1);
    line.scaled(i64::from(row.paused_minutes), 0);
    line.decimal(row.used, 1);
    line.key(b'B', row.bottle, 4);
    line.text(PRODUCT);
    line.decimal(row.air_temperature, 1);
    line.decimal(row.surface_temperature, 1);
    line.decimal(row.relative_humidity, 0);
    line.moment(row.released_at);
    line.yes_no(row.rain);
    line.yes_no(row.held_overnight);
    line.end();
}

fn bottle(out: &mut Vec<u8>, row: &Bottle, style: Style) {
    let mut line = Line::start(out, b'B', row.number, 4, row.shop, style);
    line.text(PRODUCT);
    line.text("");
    line.number(row.lot, 4);
    line.day(Some(row.opened_on));
    line.day(row.emptied_on);
    line.decimal(Some(row.volume), 1);
    line.decimal(row.left_over, 1);
    line.money(Some(row.cost));
    line.end();
}

fn callback(out: &mut Vec<u8>, row: &Callback, style: Style) {
    let mut line = Line::of_job(out, row.job, row.shop, style);
    line.day(Some(row.reported_on));
    line.text(row.cause.word());
    line.decimal(row.minutes, 0);
    line.decimal(row.used, 1);
    line.money(row.cost);
    line.end();
}

fn person(out: &mut Vec<u8>, row: &Person, style: Style) {
    let mut line = Line::start(out, b'P', row.number, 3, row.shop, style);
    line.text(row.role.word());
    line.money(Some(row.hourly_cost));
    line.day(Some(row.started_on));
    line.day(row.ended_on);
    line.end();
}

fn inspection(out: &mut Vec<u8>, row: &Inspection, style: Style) {
    let mut line = Line::of_job(out, row.job, row.shop, style);
    line.day(Some(row.seen_on));
    line.text(row.condition.word());
    line.maybe_text(row.orientation.map(|o| o.word()));
    line.end();
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(write: impl Fn(&mut Line<'_>)) -> String {
        let mut out = Vec::new();
        write(&mut Line(&mut out));
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn numbers_are_written_as_the_standard_formatter_would() {
        for (x, decimals) in [
            (0.0, 1),
            (-0.04, 1),
            (-0.5, 1),
            (31.25, 2),
            (1999.999, 2),
            (7.0, 0),
        ] {
            let ours = written(|line| line.decimal(Some(x), decimals));
            let theirs = format!(",{x:.decimals$}").replace("-0.0", "0.0");
            assert_eq!(ours, theirs);
        }
        assert_eq!(written(|line| line.decimal(None, 1)), ",");
        assert_eq!(written(|line| line.money(Some(Minor(-1205)))), ",-12.05");
        assert_eq!(written(|line| line.key(b'P', Some(7), 3)), ",P007");
        assert_eq!(written(|line| line.key(b'P', Some(12_345), 3)), ",P12345");
        let day = NaiveDate::from_ymd_opt(2026, 3, 9).unwrap();
        let moment = day.and_hms_opt(8, 5, 0);
        assert_eq!(written(|line| line.moment(moment)), ",2026-03-09T08:05:00");
    }
}
