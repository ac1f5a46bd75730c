//! Film jobs laid out for the fits.

use crate::fits::survival::Times;
use crate::measures::FilmLife;
use chrono::NaiveDate;
use foldhash::fast::RandomState;
use std::collections::HashMap;

/// Jobs laid out for the fits, those alike in one row.
#[derive(Debug, Default)]
pub(super) struct Jobs {
    pub(super) time: Vec<f64>,
    pub(super) failed: Vec<bool>,
    pub(super) jobs: Vec<u64>,
    pub(super) coated: Vec<usize>,
    pub(super) stratum: Vec<usize>,
    pub(super) strata: u64,
    pub(super) left_out: u64,
}

impl Jobs {
    pub(super) fn new(lives: &[FilmLife], until: NaiveDate) -> Self {
        let mut all = Self::default();
        let mut strata: HashMap<(&str, &str), usize, RandomState> = HashMap::default();
        let mut rows: HashMap<(usize, i64, bool, bool), usize, RandomState> = HashMap::default();
        for life in lives.iter().filter(|l| l.jobs > 0) {
            let end = life.last_on.or((!life.failed).then_some(until));
            let days = end.map(|e| e.signed_duration_since(life.finished_on).num_days());
            // A look before the job was finished says nothing of its film,
            // and a job finished after the data's end was followed no day.
            let days = days.map(|d| if life.failed { d } else { d.max(0) });
            let Some(days) = days.filter(|d| *d >= 0) else {
                all.left_out += life.jobs;
                continue;
            };
            let next = strata.len();
            let stratum = *strata.entry((&life.film, &life.finish)).or_insert(next);
            let key = (stratum, days, life.failed, life.coated);
            let row = *rows.entry(key).or_insert(all.jobs.len());
            if row == all.jobs.len() {
                all.time.push(days as f64);
                all.failed.push(life.failed);
                all.coated.push(usize::from(life.coated));
                all.stratum.push(stratum);
                all.jobs.push(0);
            }
            all.jobs[row] += life.jobs;
        }
        all.strata = strata.len() as u64;
        all
    }

    pub(super) fn times(&self) -> Times<'_> {
        Times {
            time: &self.time,
            failed: &self.failed,
            jobs: Some(&self.jobs),
        }
    }

    pub(super) fn only(&self, coated: usize) -> Group {
        let rows = || (0..self.time.len()).filter(|i| self.coated[*i] == coated);
        Group {
            time: rows().map(|i| self.time[i]).collect(),
            failed: rows().map(|i| self.failed[i]).collect(),
            jobs: rows().map(|i| self.jobs[i]).collect(),
        }
    }
}

/// Times and failures of one group.
#[derive(Debug)]
pub(super) struct Group {
    pub(super) time: Vec<f64>,
    pub(super) failed: Vec<bool>,
    pub(super) jobs: Vec<u64>,
}

impl Group {
    pub(super) fn times(&self) -> Times<'_> {
        Times {
            time: &self.time,
            failed: &self.failed,
            jobs: Some(&self.jobs),
        }
    }
}
