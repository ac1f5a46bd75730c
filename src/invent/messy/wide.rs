//! The front desk's sheet: job and coating columns together.

use super::broken::{Breaker, Broken, Damage, Plot, plot};
use super::sheet::{
    Coding, Dialect, Sheet, decimal, dollars, fahrenheit, fluid_ounces, job_key, note, square_feet,
    us_date, us_moment,
};
use super::vocabulary::{class, coverage, film, finish, sample, yes_no};
use crate::invent::Invented;
use crate::invent::tables::{Coating, Job};
use crate::invent::truth::PRODUCT;
use crate::invent::write::person_key;
use crate::money::Minor;
use std::collections::BTreeMap;

/// How the sheet is written.
pub(super) const DIALECT: Dialect = Dialect {
    name: "front-desk-export.csv",
    delimiter: ';',
    coding: Coding::Cp1252,
    line_end: "\r\n",
    quote_all: false,
};

/// Line of the heading.
pub(super) const HEADING_LINE: u32 = 5;

/// Headings with the field that each holds; the job's key serves both tables.
pub(super) const COLUMNS: [[&str; 2]; 32] = [
    ["Ticket #", "jobs.job"],
    ["Completed", "jobs.finished_on"],
    ["Vehicle", "jobs.vehicle_class"],
    ["Film type", "jobs.film"],
    ["Finish", "jobs.finish"],
    ["Area (ft²)", "jobs.area"],
    ["How much", "jobs.coverage"],
    ["Coating pitched?", "jobs.offered"],
    ["How shown", "jobs.sample"],
    ["Sold by", "jobs.sold_by"],
    ["Left as", "jobs.coated"],
    ["Coating price", "jobs.coating_price"],
    ["Coating discount", "jobs.coating_discount"],
    ["Film price", "jobs.film_price"],
    ["Quote date", "jobs.quoted_on"],
    ["Coating suits?", "jobs.excluded"],
    ["Notes", ""],
    ["Customer ref", ""],
    ["Coated by", "coatings.applied_by"],
    ["Coating start", "coatings.started_at"],
    ["Coating end", "coatings.ended_at"],
    ["Hands-on min", "coatings.minutes"],
    ["Break min", "coatings.paused_minutes"],
    ["Coating used (US fl oz)", "coatings.used"],
    ["Bottle", "coatings.bottle"],
    ["Product", "coatings.product"],
    ["Shop temp (°F)", "coatings.air_temperature"],
    ["Panel temp (°F)", "coatings.surface_temperature"],
    ["RH %", "coatings.relative_humidity"],
    ["Out the door", "coatings.released_at"],
    ["Weather", "coatings.rain"],
    ["Overnight", "coatings.held_overnight"],
];

/// Columns of the job, before those of the coating.
const JOB_COLUMNS: usize = 18;

/// Seventeen broken lines of ten kinds.
const PLOTS: [Plot; 17] = [
    plot(
        "cut off after the price",
        None,
        "missing-cell",
        Damage::Cut(12),
    ),
    plot(
        "area in words",
        Some("Area (ft²)"),
        "type-error",
        Damage::Cells(&[["Area (ft²)", "two hundred"]]),
    ),
    plot(
        "one cell too many",
        None,
        "extra-cell",
        Damage::Extra("see back of ticket"),
    ),
    plot(
        "area below zero",
        Some("Area (ft²)"),
        "constraint-error",
        Damage::Cells(&[["Area (ft²)", "-182.400"]]),
    ),
    plot(
        "quote in the middle of a cell",
        Some("Notes"),
        "quote-error",
        Damage::Bare("Notes", "18\" wheels off"),
    ),
    plot(
        "a day that is none",
        Some("Completed"),
        "type-error",
        Damage::Cells(&[["Completed", "13/45/2026"]]),
    ),
    plot(
        "area in another unit",
        Some("Area (ft²)"),
        "unit-error",
        Damage::Cells(&[["Area (ft²)", "18.9 m2"]]),
    ),
    plot(
        "humidity over 100",
        Some("RH %"),
        "constraint-error",
        Damage::Cells(&[["RH %", "164"]]),
    ),
    Plot {
        kind: "a ticket number used twice, for another vehicle",
        column: Some("Ticket #"),
        reason: "unique-error",
        damage: Damage::Cells(&[["Area (ft²)", "77.000"], ["Film price", "$1.00"]]),
        new_key: false,
    },
    plot(
        "quote that is never closed",
        Some("Notes"),
        "quote-error",
        Damage::Bare("Notes", "\"roof only"),
    ),
    plot(
        "minutes in words",
        Some("Hands-on min"),
        "type-error",
        Damage::Cells(&[["Hands-on min", "half an hour"]]),
    ),
    plot(
        "NUL byte",
        Some("Notes"),
        "nul-byte",
        Damage::Bare("Notes", "front\u{0}desk"),
    ),
    plot(
        "end before start",
        Some("Coating end"),
        "date-order-error",
        Damage::Cells(&[
            ["Coating start", "10/3/2026 2:10 PM"],
            ["Coating end", "10/3/2026 1:15 PM"],
        ]),
    ),
    plot(
        "cut off in the middle",
        None,
        "missing-cell",
        Damage::Cut(21),
    ),
    plot(
        "temperature in another unit",
        Some("Shop temp (°F)"),
        "unit-error",
        Damage::Cells(&[["Shop temp (°F)", "21.4 C"]]),
    ),
    plot(
        "delimiter within a cell that is not quoted",
        None,
        "extra-cell",
        Damage::Bare("Notes", "blue body; black roof"),
    ),
    plot(
        "minutes of more than a day",
        Some("Hands-on min"),
        "constraint-error",
        Damage::Cells(&[["Hands-on min", "1,910.0"]]),
    ),
];

/// The sheet.
pub(super) fn sheet(invented: &Invented, broken: &mut Vec<Broken>) -> Sheet {
    let tables = &invented.tables;
    let mut sheet = Sheet::new(DIALECT);
    for line in [
        "Front desk export",
        "Store 1 – all tickets",
        "Printed 11/2/2026 8:02 AM",
        "",
    ] {
        sheet.line(line);
    }
    let headings = COLUMNS.map(|[heading, _]| heading);
    sheet.row(&headings);
    let mut spells: BTreeMap<u64, Vec<&Coating>> = BTreeMap::new();
    for spell in &tables.coatings {
        spells.entry(spell.job).or_default().push(spell);
    }
    // Patterns are jobs done in one spell with everything written down.
    let pattern = |spells: &[&Coating]| matches!(spells, [only] if only.minutes.is_some() && only.air_temperature.is_some());
    let patterns = spells.values().filter(|s| pattern(s)).count();
    let mut breaker = Breaker::new(&headings, &PLOTS, patterns, broken);
    for job in &tables.jobs {
        let done = spells.get(&job.number).map_or(&[][..], Vec::as_slice);
        for cells in rows(job, done) {
            sheet.row(&cells);
            if pattern(done) {
                breaker.after(&cells, &mut sheet);
            }
        }
    }
    sheet.row(&total(&tables.jobs));
    sheet
}

fn rows(job: &Job, spells: &[&Coating]) -> Vec<Vec<String>> {
    let bare = vec![String::new(); COLUMNS.len() - JOB_COLUMNS];
    let job = job_cells(job);
    if spells.is_empty() {
        return vec![[job, bare].concat()];
    }
    let with = |spell: &&Coating| [job.clone(), coating_cells(spell)].concat();
    spells.iter().map(with).collect()
}

fn money(amount: Option<Minor>) -> String {
    amount.map_or_else(String::new, |a| dollars(a.0))
}

fn job_cells(job: &Job) -> Vec<String> {
    vec![
        job_key(job.number),
        us_date(job.finished_on),
        class(job.class).into(),
        film(job.film).into(),
        job.finish.map_or("", finish).into(),
        square_feet(job.area),
        coverage(job.coverage).into(),
        yes_no("offered", job.offered).into(),
        sample(job.sample).into(),
        person_key(job.sold_by),
        yes_no("coated", Some(job.coated)).into(),
        money(job.coating_price),
        money(job.coating_discount),
        money(Some(job.film_price)),
        job.quoted_on.map_or_else(String::new, us_date),
        yes_no("excluded", Some(job.excluded)).into(),
        note(job).into(),
        format!("C-{:04}", job.number * 7_919 % 10_000),
    ]
}

fn coating_cells(spell: &Coating) -> Vec<String> {
    let text = |field, yes: Option<bool>| yes.map_or("", |y| yes_no(field, Some(y))).to_string();
    vec![
        person_key(spell.applied_by),
        us_moment(spell.started_at),
        us_moment(spell.ended_at),
        decimal(spell.minutes, 1),
        spell.paused_minutes.to_string(),
        fluid_ounces(spell.used),
        spell
            .bottle
            .map_or_else(String::new, |b| format!("B{b:04}")),
        PRODUCT.into(),
        fahrenheit(spell.air_temperature),
        fahrenheit(spell.surface_temperature),
        decimal(spell.relative_humidity, 0),
        spell.released_at.map_or_else(String::new, us_moment),
        text("rain", spell.rain),
        text("held_overnight", spell.held_overnight),
    ]
}

/// The total at the foot.
fn total(jobs: &[Job]) -> Vec<String> {
    let sum = |of: fn(&Job) -> Option<Minor>| jobs.iter().filter_map(of).map(|m| m.0).sum();
    let area: f64 = jobs.iter().map(|j| j.area).sum();
    let totals = [
        ["Ticket #", "Total"],
        ["Area (ft²)", &square_feet(area)],
        ["Coating price", &dollars(sum(|j| j.coating_price))],
        ["Coating discount", &dollars(sum(|j| j.coating_discount))],
        ["Film price", &dollars(sum(|j| Some(j.film_price)))],
    ]
    .map(|pair| pair.map(str::to_string));
    COLUMNS
        .iter()
        .map(|[heading, _]| {
            let found = totals.iter().find(|[of, _]| of == heading);
            found.map_or_else(String::new, |[_, total]| total.clone())
        })
        .collect()
}
