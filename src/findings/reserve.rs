//! What to set aside for callbacks of coating work: how often coated jobs come
//! back, what that costs per coated job, and the month's true-up.
//!
//! The reserve is the mean callback cost over all coated jobs of the window,
//! most of which never come back; floors include it. The month's true-up holds
//! what came against what the rest of the window would have set aside.
//!
//! When it misleads: the newest jobs have had little time to come back, so
//! their cost is still too low, and a shop that writes no callback down has
//! none.

use super::{FindError, Scope};
use crate::estimate::{Figure, NotEnough};
use crate::fits::error::FitError;
use crate::fits::mean::Sample;
use crate::fits::proportion;
use crate::money::Minor;
use crate::settings::month::Month;
use serde::Serialize;

/// Level of the intervals.
pub const LEVEL: f64 = 0.95;

/// A coated job's callbacks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Came {
    /// The month in which the job was finished.
    pub month: Month,
    /// It came back at least once.
    pub back: bool,
    /// What that cost.
    pub cost: Minor,
}

/// The reserve.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reserve {
    /// Coated jobs of the window whose money is known.
    pub jobs: u64,
    /// Of these, came back at least once.
    pub came_back: u64,
    /// Share that came back.
    pub rate: Figure,
    /// Mean cost per coated job [minor units].
    pub per_job: Figure,
    /// The same as the floors take it; 0 without a job.
    pub in_floor: f64,
    /// What the month's callbacks cost.
    pub came: Minor,
    /// The month against the rest of the window; says what is missing for it where
    /// there is no rest.
    #[serde(skip)]
    pub true_up: Result<TrueUp, NotEnough>,
}

/// The month's callbacks against what was set aside for them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct TrueUp {
    /// What the rest of the window would have set aside for the month.
    pub set_aside: Minor,
    /// Set aside less what came; above 0: left over.
    pub left: Minor,
}

/// Finds the reserve. `jobs`: coated jobs of the months in view whose money is
/// known.
///
/// # Errors
/// None on whole amounts; the fit's complaint otherwise.
pub fn find(jobs: &[Came], scope: &Scope) -> Result<Reserve, FindError> {
    let of = |keep: &dyn Fn(Month) -> bool| -> Vec<Came> {
        jobs.iter().filter(|j| keep(j.month)).copied().collect()
    };
    let window = of(&|m| scope.in_window(m));
    let usual = of(&|m| scope.is_usual(m));
    let month = of(&|m| m == scope.month);
    let (n, back) = (
        window.len() as u64,
        window.iter().filter(|j| j.back).count() as u64,
    );
    let costs = sample(&window)?;
    let came = month.iter().map(|j| j.cost).sum();
    Ok(Reserve {
        jobs: n,
        came_back: back,
        rate: match n {
            0 => NotEnough::new(0, 1, "coated jobs whose money is known").into(),
            _ => proportion::wilson(back, n, LEVEL)?.into(),
        },
        per_job: per_job(&costs)?,
        in_floor: costs.mean,
        came,
        true_up: true_up(&usual, month.len(), came)?,
    })
}

/// What other months would have set aside for `jobs` jobs, against what came.
fn true_up(
    usual: &[Came],
    jobs: usize,
    came: Minor,
) -> Result<Result<TrueUp, NotEnough>, FindError> {
    if usual.is_empty() {
        let of = "coated jobs of other months in the months looked at";
        return Ok(Err(NotEnough::new(0, 1, of)));
    }
    let set_aside = Minor::nearest(sample(usual)?.mean * jobs as f64).unwrap_or_default();
    Ok(Ok(TrueUp {
        set_aside,
        left: set_aside - came,
    }))
}

fn sample(jobs: &[Came]) -> Result<Sample, FindError> {
    Ok(Sample::of(jobs.iter().map(|j| j.cost.as_f64()))?)
}

fn per_job(costs: &Sample) -> Result<Figure, FindError> {
    let none = || NotEnough::new(0, 1, "callbacks that cost something").into();
    match costs.estimate(LEVEL) {
        Ok(e) => Ok(e.map(|x| x.max(0.0)).into()),
        Err(FitError::NotEnough(n)) => Ok(n.into()),
        Err(FitError::NoSpread { .. }) => Ok(none()),
        Err(other) => Err(other.into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn jobs(month: &str, costs: &[i64]) -> Vec<Came> {
        let month = Month::parse(month).unwrap();
        let came = |c: &i64| Came {
            month,
            back: *c > 0,
            cost: Minor(*c),
        };
        costs.iter().map(came).collect()
    }

    fn scope() -> Scope {
        Scope {
            month: Month::parse("2026-10").unwrap(),
            window_from: Month::parse("2026-08").unwrap(),
        }
    }

    /// By hand: 12 of the window's jobs cost 60.00 together, 5.00 a job; those
    /// before the month 4.00, so 4 jobs set 16.00 aside, and 28.00 came.
    #[test]
    fn the_month_is_held_against_the_rest_by_hand() {
        let mut all = jobs("2026-08", &[0, 0, 0, 3_200]);
        all.extend(jobs("2026-09", &[0, 0, 0, 0]));
        all.extend(jobs("2026-10", &[0, 2_800, 0, 0]));
        all.extend(jobs("2026-07", &[90_000]));
        let r = find(&all, &scope()).unwrap();
        assert_eq!((r.jobs, r.came_back), (12, 2));
        assert_eq!(r.came, Minor(2_800));
        let expected = TrueUp {
            set_aside: Minor(1_600),
            left: Minor(-1_200),
        };
        assert_eq!(r.true_up, Ok(expected));
        assert!((r.in_floor - 500.0).abs() < 1e-9);
        assert!(r.per_job.known().unwrap().low >= 0.0);
    }

    #[test]
    fn nothing_on_record_sets_nothing_aside_and_says_so() {
        let none = find(&[], &scope()).unwrap();
        assert_eq!(none.in_floor, 0.0);
        assert!(none.true_up.is_err());
        assert!(none.rate.known().is_none() && none.per_job.known().is_none());
        let free = find(&jobs("2026-09", &[0; 30]), &scope()).unwrap();
        let rate = free.rate.known().unwrap();
        assert!(
            rate.value == 0.0 && rate.high > 0.05,
            "nobody came back is not never"
        );
    }

    #[test]
    fn a_first_month_has_nothing_to_be_held_against() {
        let r = find(&jobs("2026-10", &[0, 2_800, 0]), &scope()).unwrap();
        assert_eq!((r.jobs, r.came), (3, Minor(2_800)));
        let none = NotEnough::new(0, 1, "coated jobs of other months in the months looked at");
        assert_eq!(r.true_up, Err(none));
    }
}
