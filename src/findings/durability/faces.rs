//! Level panels and upright ones: how often each were found failed.

use super::LEVEL;
use crate::estimate::{Figure, NotEnough};
use crate::findings::FindError;
use crate::fits::error::FitError;
use crate::fits::exposure;
use crate::measures::FilmFace;
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// Days of a year, 12 months of 30.4375.
const YEAR: f64 = 365.25;

/// Panels of one orientation, on coated vehicles or on bare ones.
#[derive(Debug, Clone, PartialEq)]
pub struct Face {
    /// horizontal or vertical.
    pub orientation: String,
    /// Coated vehicles.
    pub coated: bool,
    /// Vehicles whose surfaces name such panels.
    pub vehicles: u64,
    /// Years that these were followed, all together.
    pub years: f64,
    /// Of these, vehicles on which such panels were found failed.
    pub failed: u64,
    /// Failures per vehicle and year, exact range.
    pub per_year: Figure,
    /// Found failed on vehicles whose surfaces do not name such panels: in no
    /// rate, as nobody knows how many such vehicles are sound.
    pub apart: u64,
}

#[derive(Debug, Clone, Copy, Default)]
struct Sum {
    vehicles: u64,
    days: f64,
    failed: u64,
    apart: u64,
}

/// Every orientation on coated and on bare vehicles. `until`: the data's end.
pub(super) fn faces(rows: &[FilmFace], until: NaiveDate) -> Result<Vec<Face>, FindError> {
    let mut sums: BTreeMap<(&str, bool), Sum> = BTreeMap::new();
    for row in rows {
        let end = row.last_on.unwrap_or(until);
        let days = end.signed_duration_since(row.finished_on).num_days();
        // A failure before the film work was finished is no time followed.
        if row.failed && days < 0 {
            continue;
        }
        let sum = sums.entry((&row.orientation, !row.coated)).or_default();
        if row.recorded {
            sum.vehicles += row.jobs;
            sum.days += days.max(0) as f64 * row.jobs as f64;
            sum.failed += if row.failed { row.jobs } else { 0 };
        } else {
            sum.apart += row.jobs;
        }
    }
    let face = |((orientation, bare), s): ((&str, bool), Sum)| {
        let years = s.days / YEAR;
        let per_year = match exposure::rate(s.failed, years, LEVEL) {
            Ok(e) => e.into(),
            Err(FitError::NotEnough(_)) => {
                NotEnough::new(0, 1, "vehicles whose surfaces name such panels").into()
            }
            Err(other) => return Err(other.into()),
        };
        Ok(Face {
            orientation: orientation.to_string(),
            coated: !bare,
            vehicles: s.vehicles,
            years,
            failed: s.failed,
            per_year,
            apart: s.apart,
        })
    };
    sums.into_iter().map(face).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn vehicles_are_at_risk_where_their_surfaces_say_so() {
        let day = |d: u32| NaiveDate::from_ymd_opt(2026, 1, d).unwrap();
        let row = |recorded, failed, last_on| FilmFace {
            orientation: "vertical".into(),
            recorded,
            coated: true,
            finished_on: day(1),
            last_on,
            failed,
            jobs: 2,
        };
        let rows = [
            row(true, false, None),
            row(true, true, Some(day(11))),
            row(false, true, Some(day(5))),
        ];
        let found = faces(&rows, day(31)).unwrap();
        let [one] = found.as_slice() else {
            panic!("{found:?}")
        };
        assert_eq!((one.vehicles, one.failed, one.apart), (4, 2, 2));
        assert!((one.years - 80.0 / YEAR).abs() < 1e-12);
        assert_eq!(one.per_year.value(), Some(2.0 / one.years));
        let apart = faces(&rows[2..], day(31)).unwrap();
        assert_eq!((apart[0].vehicles, apart[0].apart), (0, 2));
        assert!(matches!(apart[0].per_year, Figure::NotEnough(_)));
    }
}
