//! Plain tables: vectors and names. The last sight of a frame is here.

use super::bottles::{self, BottleSpan, Draw};
use super::cellar::{self, Bought, Poured, Waiting};
use super::coated::{self, CoatedJob};
use super::error::MeasureError;
use super::film_life;
use super::in_view::InView;
use super::months::{self, MonthCount};
use super::names::Names;
use super::offers::{self, OfferCount, Sales};
use super::practice;
use super::priced::{self, PricedOffers};
use super::prices::{self, BottleCost, FullArea, Person};
use super::rows::Rows;
use super::run::Results;
use super::spells::{self, CameBack, Spell};
use crate::money::Minor;
use crate::threads::both;
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// Everything that was measured.
#[derive(Debug, Clone, Default)]
pub struct Measures {
    /// By shop and month, all history.
    pub months: Vec<MonthCount>,
    /// Coated jobs of the months in view, in the order of the export.
    pub coated: Vec<CoatedJob>,
    /// Vehicle classes.
    pub classes: Names,
    /// Finishes.
    pub finishes: Names,
    /// People who applied the coating.
    pub people: Vec<Person>,
    /// Area of a full job by class.
    pub full_area: Vec<FullArea>,
    /// Bottles opened in the window.
    pub bottles: Vec<BottleCost>,
    /// Bottles opened or emptied in the window, by shop and opening day.
    pub bottle_spans: Vec<BottleSpan>,
    /// What the coated jobs drew from which bottle.
    pub draws: Vec<Draw>,
    /// Offers of the window, by what was offered to whom and how.
    pub offers: Vec<OfferCount>,
    /// The same by what was asked, known offers alone.
    pub priced: Vec<PricedOffers>,
    /// Film and seller of the coated jobs.
    pub sales: Sales,
    /// Wage before loading [minor units per hour].
    pub wages: BTreeMap<Person, Minor>,
    /// How long film has been followed, all history.
    pub film_lives: Vec<film_life::FilmLife>,
    /// The same of the panels of one orientation, where recorded.
    pub film_faces: Vec<film_life::FilmFace>,
    /// For each coated job done by one person alone: which of that person's it
    /// was, over all history.
    pub nth: Vec<Option<u64>>,
    /// Bottles opened in the window, with their keys.
    pub bought: Vec<Bought>,
    /// Bottles that are not emptied and were not opened in the window.
    pub waiting: Vec<Waiting>,
    /// What the coated jobs took from which bottle.
    pub poured: Vec<Poured>,
    /// Hire dates.
    pub hired: BTreeMap<Person, NaiveDate>,
    /// Spells of coating work on the coated jobs.
    pub spells: Vec<Spell>,
    /// What the coated jobs came back for.
    pub came_back: Vec<CameBack>,
}

/// Turns results into plain tables.
pub(super) fn tables(results: &Results) -> Result<Measures, MeasureError> {
    Ok(jobs(results)?.with_counts(counts(results)?))
}

impl Measures {
    /// Wage before loading [minor units per hour] of each of `people`.
    pub fn wage_of_each(&self) -> Vec<Option<f64>> {
        let wage = |p| self.wages.get(p).map(|w: &Minor| w.as_f64());
        self.people.iter().map(wage).collect()
    }

    /// These with the tables of [`counts`].
    pub(super) fn with_counts(self, counts: Self) -> Self {
        Self {
            months: counts.months,
            offers: counts.offers,
            priced: counts.priced,
            film_lives: counts.film_lives,
            film_faces: counts.film_faces,
            ..self
        }
    }
}

/// The tables of counts, which name no job.
pub(super) fn counts(results: &Results) -> Result<Measures, MeasureError> {
    Ok(Measures {
        months: months::months(results)?,
        offers: offers::read(results)?,
        priced: priced::read(results)?,
        film_lives: film_life::lives(results)?,
        film_faces: film_life::faces(results)?,
        ..Measures::default()
    })
}

/// The tables of jobs, bottles and people.
pub(super) fn jobs(results: &Results) -> Result<Measures, MeasureError> {
    let mut m = Measures {
        bottle_spans: bottles::spans(results)?,
        full_area: prices::full_area(results)?,
        ..Measures::default()
    };
    let rows = coated::coated(results, &mut m)?;
    coated::parts(results, &mut m, &rows)?;
    coated::work(results, &mut m, &rows)?;
    m.draws = draws(results, &m, &rows)?;
    further(results, m, &rows)
}

/// The same of the jobs in view of the look back `all`.
pub(super) fn jobs_in_view(
    results: &Results,
    all: &Measures,
    view: InView,
) -> Result<Measures, MeasureError> {
    let bottle_spans = bottles::spans(results)?;
    let m = Measures {
        draws: view.draws(all, &bottle_spans),
        full_area: all.full_area.clone(),
        bottle_spans,
        ..view.seen
    };
    further(results, m, &view.rows)
}

/// What a review looks at beside what a look back does.
fn further(results: &Results, mut m: Measures, rows: &Rows) -> Result<Measures, MeasureError> {
    coated::rework(results, &mut m, rows)?;
    let (spells, nth) = both(
        || spells::spells(results, rows),
        || practice::nth(results, &m, rows),
    );
    let (poured, sales) = both(|| cellar::poured(results, rows), || offers::sales(results));
    Ok(Measures {
        bottles: prices::bottles(results)?,
        sales: sales?,
        wages: prices::wages(results)?,
        bought: cellar::bought(results)?,
        waiting: cellar::waiting(results)?,
        hired: practice::hired(results)?,
        spells: spells?,
        poured: poured?,
        nth: nth?,
        came_back: spells::came_back(results, rows)?,
        ..m
    })
}

/// The tables of a look back. Each of the large results goes as soon as it is
/// laid out.
pub(super) fn look_back(mut results: Results) -> Result<Measures, MeasureError> {
    let mut m = Measures {
        full_area: prices::full_area(&results)?,
        bottles: prices::bottles(&results)?,
        bottle_spans: bottles::spans(&results)?,
        wages: prices::wages(&results)?,
        ..Measures::default()
    };
    let rows = coated::coated(&results, &mut m)?;
    results.remove("coated");
    coated::parts(&results, &mut m, &rows)?;
    results.remove("coated_area");
    coated::work(&results, &mut m, &rows)?;
    results.remove("work");
    m.draws = draws(&results, &m, &rows)?;
    Ok(m)
}

fn draws(results: &Results, m: &Measures, rows: &Rows) -> Result<Vec<Draw>, MeasureError> {
    bottles::draws(results, &m.bottle_spans, rows, |job| &m.coated[job].shop)
}
