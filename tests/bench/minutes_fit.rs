//! The minutes' fit on rows of a CSV file, for `tests/engines/mixed_models.py`,
//! which holds it against statsmodels on the same rows.
//!
//! ```text
//! cargo bench --bench minutes_fit -- ROWS.csv
//! ```
//!
//! Columns of ROWS.csv: minutes, class (0, 1, ...), covered (area over that of
//! a full job), person (0, 1, ...; empty for a job that several shared), then
//! one share of the area per finish, the smoothest first. Prints one line of
//! JSON: `rows`; `seconds`, the median of five runs from the columns to the
//! estimates; the mixed model's `coefficients` in the order of classes, covered
//! share, finishes but the first; `residual_variance`, `group_variance`. No job
//! is left out, so that both fit the same rows.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout)]

use std::time::Instant;
use tallycoat::fits::minutes::{Jobs, Minutes, MinutesFit, Shape};
use tallycoat::fits::robust::Outliers;

const RUNS: usize = 5;

#[derive(Default)]
struct Rows {
    minutes: Vec<f64>,
    class: Vec<usize>,
    covered: Vec<f64>,
    person: Vec<Option<u64>>,
    shares: Vec<f64>,
    finishes: usize,
}

fn read(path: &str) -> Rows {
    let mut file = csv::Reader::from_path(path).expect("a readable file of rows");
    let mut rows = Rows {
        finishes: file.headers().unwrap().len() - 4,
        ..Rows::default()
    };
    for line in file.records() {
        let line = line.unwrap();
        let number = |at: usize| line[at].parse::<f64>().unwrap();
        rows.minutes.push(number(0));
        rows.class.push(line[1].parse().unwrap());
        rows.covered.push(number(2));
        rows.person.push(line[3].parse().ok());
        rows.shares.extend((4..line.len()).map(number));
    }
    rows
}

fn fit(rows: &Rows) -> MinutesFit {
    let shape = Shape {
        classes: rows.class.iter().max().map_or(0, |c| c + 1),
        finishes: rows.finishes,
        smoothest: 0,
    };
    let jobs = Jobs::new(
        &rows.minutes,
        &rows.class,
        &rows.covered,
        &rows.shares,
        &rows.person,
        shape,
    );
    let task = Minutes::new(jobs.unwrap()).with_outliers(Outliers::Keep);
    task.fit().unwrap()
}

fn main() {
    // Cargo hands `--bench` to the binary.
    let path = std::env::args().skip(1).find(|a| !a.starts_with("--"));
    let rows = read(&path.expect("the file of rows"));
    let mut seconds = Vec::new();
    let mut found = None;
    for _ in 0..RUNS {
        let started = Instant::now();
        found = Some(fit(&rows));
        seconds.push(started.elapsed().as_secs_f64());
    }
    seconds.sort_by(f64::total_cmp);
    let found = found.unwrap();
    let mixed = found.mixed().expect("rows enough for a fit");
    println!(
        "{}",
        serde_json::json!({
            "rows": rows.minutes.len(),
            "seconds": seconds[RUNS / 2],
            "coefficients": mixed.coefficients,
            "residual_variance": mixed.residual_variance,
            "group_variance": mixed.group_variance,
        })
    );
}
