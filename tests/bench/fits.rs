//! Does the cost of a fit grow with jobs? Sums of 10,000 jobs by 20 people are
//! added to themselves until they stand for 10,000,000, and the fits that start
//! from sums are timed on each: the minutes' mixed model and everybody's pace.
//!
//! usage: cargo bench --bench fits

#![allow(clippy::print_stdout)]

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use std::time::{Duration, Instant};
use tallycoat::fits::error::FitError;
use tallycoat::fits::mixed::{GroupStatistics, RandomIntercept};
use tallycoat::fits::pace::{self, Params, People, Sums};

const PEOPLE: usize = 20;
const JOBS: usize = 10_000;
const COLUMNS: usize = 9;
/// Runs of which the middle one counts.
const RUNS: usize = 9;
/// How much longer the most jobs may take than the fewest: twice, for clocks
/// that are not alone.
const MOST: f64 = 2.0;

/// Sums of some jobs, for each of the two fits.
#[derive(Clone)]
struct Cells {
    statistics: GroupStatistics,
    people: Vec<Sums>,
}

impl Cells {
    fn of_jobs() -> Result<Self, FitError> {
        let mut rng = ChaCha8Rng::seed_from_u64(8);
        let mut normal = || -> f64 { StandardNormal.sample(&mut rng) };
        let effects: Vec<f64> = (0..PEOPLE).map(|_| 0.1 * normal()).collect();
        let mut cells = Self {
            statistics: GroupStatistics::new(COLUMNS),
            people: vec![Sums::new(COLUMNS); PEOPLE],
        };
        for job in 0..JOBS {
            let person = job % PEOPLE;
            let mut row = [0.0; COLUMNS];
            row[job % 5] = 1.0;
            row[5..].iter_mut().for_each(|x| *x = 0.3 * normal());
            let y = 3.5 + 0.4 * row[5] + effects[person] + 0.15 * normal();
            cells.statistics.add(Some(person as u64), &row, y);
            cells.people[person].add(&row, y)?;
        }
        Ok(cells)
    }

    /// The same jobs ten times over.
    fn ten_times(&self) -> Result<Self, FitError> {
        let mut all = self.clone();
        for _ in 1..10 {
            all.statistics.merge(&self.statistics)?;
            for (sum, own) in all.people.iter_mut().zip(&self.people) {
                sum.merge(own)?;
            }
        }
        Ok(all)
    }

    fn minutes(&self) -> Result<(), FitError> {
        let fit = RandomIntercept::default().fit(&self.statistics)?;
        fit.spreads(0.95).map(|_| ())
    }

    fn paces(&self) -> Result<(), FitError> {
        let people = People::new(&self.people, &Sums::new(COLUMNS))?;
        pace::fit(&people, Params::default()).map(|_| ())
    }
}

fn middle(mut run: impl FnMut() -> Result<(), FitError>) -> Result<Duration, FitError> {
    let mut took = Vec::with_capacity(RUNS);
    for _ in 0..RUNS {
        let start = Instant::now();
        run()?;
        took.push(start.elapsed());
    }
    took.sort_unstable();
    Ok(took[RUNS / 2])
}

fn main() -> Result<(), FitError> {
    println!("{:>12} {:>12} {:>12}", "jobs", "minutes", "pace");
    let mut cells = Cells::of_jobs()?;
    let mut rows = Vec::new();
    loop {
        let jobs = cells.statistics.rows();
        let took = [middle(|| cells.minutes())?, middle(|| cells.paces())?];
        println!("{jobs:>12} {:>9.2} ms {:>9.2} ms", ms(took[0]), ms(took[1]));
        rows.push(took);
        if jobs >= 10_000_000 {
            break;
        }
        cells = cells.ten_times()?;
    }
    for (fit, name) in ["minutes", "pace"].iter().enumerate() {
        let ratio = ms(rows[rows.len() - 1][fit]) / ms(rows[0][fit]);
        println!("{name}: {ratio:.2} times as long at 1,000 times the jobs");
        assert!(ratio < MOST, "the cost of a fit grows with jobs");
    }
    Ok(())
}

fn ms(took: Duration) -> f64 {
    1e3 * took.as_secs_f64()
}
