//! How long film has been followed, counted by days.

use super::error::MeasureError;
use super::run::{Reader, Results};
use super::tables::{count, day, strings};
use chrono::NaiveDate;

/// Film jobs that were finished on one day and last heard of on another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FilmLife {
    /// The day on which the film work was finished.
    pub finished_on: NaiveDate,
    /// The failure, or the last look that found the film sound; `None` where
    /// nothing has been heard up to the data's end.
    pub last_on: Option<NaiveDate>,
    /// True where the film failed.
    pub failed: bool,
    /// The vehicle left with the coating on.
    pub coated: bool,
    /// The film; empty where not recorded.
    pub film: String,
    /// The job's one finish; empty where it has several, or none is recorded.
    pub finish: String,
    /// Film jobs.
    pub jobs: u64,
}

/// Looks at panels of one orientation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FilmFace {
    /// horizontal or vertical.
    pub orientation: String,
    /// The vehicle left with the coating on.
    pub coated: bool,
    /// Jobs with a look at such panels.
    pub jobs: u64,
    /// Of these, jobs on which they were found failed.
    pub failed: u64,
}

pub(super) fn lives(results: &Results) -> Result<Vec<FilmLife>, MeasureError> {
    let r = Reader::new(results, "film_life")?;
    let finished = r.days("finished_on")?;
    let last = r.days("last_on")?;
    let failed = r.counts("failed")?;
    let coated = r.counts("coated")?;
    let jobs = r.counts("jobs")?;
    let film = strings(&r, "film")?;
    let finish = strings(&r, "finish")?;
    let names = film.into_iter().zip(finish).enumerate();
    let row = |(i, (film, finish)): (usize, (String, String))| FilmLife {
        finished_on: day(finished[i]),
        last_on: last[i].map(|d| day(Some(d))),
        failed: failed[i] == 1,
        coated: coated[i] == 1,
        film,
        finish,
        jobs: count(jobs[i]),
    };
    Ok(names.map(row).collect())
}

pub(super) fn faces(results: &Results) -> Result<Vec<FilmFace>, MeasureError> {
    let r = Reader::new(results, "film_faces")?;
    let coated = r.counts("coated")?;
    let jobs = r.counts("jobs")?;
    let failed = r.counts("failed")?;
    let names = strings(&r, "orientation")?.into_iter().enumerate();
    let row = |(i, orientation): (usize, String)| FilmFace {
        orientation,
        coated: coated[i] == 1,
        jobs: count(jobs[i]),
        failed: count(failed[i]),
    };
    Ok(names.map(row).collect())
}
