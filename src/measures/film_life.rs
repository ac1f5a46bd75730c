//! How long film has been followed, counted by days.

use super::error::MeasureError;
use super::reader::{Calendar, Reader, count, strings};
use super::run::Results;
use super::text::Text;
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
    pub film: Text,
    /// The job's one finish; empty where it has several, or none is recorded.
    pub finish: Text,
    /// Film jobs.
    pub jobs: u64,
}

/// Film jobs whose panels of one orientation were followed from one day to
/// another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FilmFace {
    /// horizontal or vertical.
    pub orientation: Text,
    /// True where the job's surfaces name such panels; false where only a look
    /// that found them failed does.
    pub recorded: bool,
    /// The vehicle left with the coating on.
    pub coated: bool,
    /// The day on which the film work was finished.
    pub finished_on: NaiveDate,
    /// The failure of such panels, another failure after which nothing is
    /// known of these, or the last look that found the film sound; `None`
    /// where nothing has been heard up to the data's end.
    pub last_on: Option<NaiveDate>,
    /// True where such panels were found failed.
    pub failed: bool,
    /// Film jobs.
    pub jobs: u64,
}

pub(super) fn lives(results: &Results) -> Result<Vec<FilmLife>, MeasureError> {
    let r = Reader::new(results, "film_life")?;
    let finished = r.days("finished_on")?;
    let last = r.days("last_on")?;
    let [on_finished, on_last] = [&finished, &last].map(Calendar::of);
    let failed = r.counts("failed")?;
    let coated = r.counts("coated")?;
    let jobs = r.counts("jobs")?;
    let film = strings(&r, "film")?;
    let finish = strings(&r, "finish")?;
    let names = film.into_iter().zip(finish).enumerate();
    let row = |(i, (film, finish)): (usize, (Text, Text))| FilmLife {
        finished_on: on_finished.day(finished.at(i)),
        last_on: last.at(i).map(|d| on_last.day(Some(d))),
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
    let recorded = r.counts("recorded")?;
    let coated = r.counts("coated")?;
    let finished = r.days("finished_on")?;
    let last = r.days("last_on")?;
    let [on_finished, on_last] = [&finished, &last].map(Calendar::of);
    let failed = r.counts("failed")?;
    let jobs = r.counts("jobs")?;
    let names = strings(&r, "orientation")?.into_iter().enumerate();
    let row = |(i, orientation): (usize, Text)| FilmFace {
        orientation,
        recorded: recorded[i] == 1,
        coated: coated[i] == 1,
        finished_on: on_finished.day(finished.at(i)),
        last_on: last.at(i).map(|d| on_last.day(Some(d))),
        failed: failed[i] == 1,
        jobs: count(jobs[i]),
    };
    Ok(names.map(row).collect())
}
