//! A month against the usual *on the same work*: what the month's jobs took,
//! beside what the rest of the window says such jobs take. A month of large
//! vehicles is then no change, and neither is a month of rough film.

use super::FindError;
use super::certainty::{Change, LIKELY_LEVEL, LIMIT_LEVEL, Range, certainty};
use crate::estimate::Estimate;
use crate::fits::mean::Sample;
use crate::fits::ratio::Ratio;

/// Level of the likely range of the month itself.
const LEVEL: f64 = 0.95;

/// What one job took, and what such a job usually takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// Took.
    pub took: f64,
    /// Usually takes, by the window without the month.
    pub usual: f64,
}

/// The usual is an estimate too: with n jobs in the month and N in the usual
/// window, the variance of the difference is (1 + n/N) times the month's own.
fn widened(e: Estimate, usual_jobs: u64) -> Estimate {
    let factor = (1.0 + e.n as f64 / usual_jobs.max(1) as f64).sqrt();
    Estimate {
        low: e.value - (e.value - e.low) * factor,
        high: e.value + (e.high - e.value) * factor,
        ..e
    }
}

/// The figure is outside of it where the interval of its change excludes 0.
fn range(change: &Estimate, usual: f64) -> Option<Range> {
    let now = usual * (1.0 + change.value);
    let [low, high] = [change.high, change.low].map(|x| now / (1.0 + x));
    (change.low > -1.0).then_some(Range { low, high })
}

fn change(
    before: Option<f64>,
    usual: Option<f64>,
    at: impl Fn(f64) -> Option<Estimate>,
    usual_jobs: u64,
) -> Change {
    let difference = at(LIKELY_LEVEL).map(|e| widened(e, usual_jobs));
    let limit = at(LIMIT_LEVEL).map(|e| widened(e, usual_jobs));
    let outside = limit.is_some_and(|e| !e.holds(0.0));
    let now = at(LEVEL).zip(usual);
    Change {
        before,
        usual,
        difference,
        now: now.map(|(change, usual)| change.map(|x| usual * (1.0 + x))),
        range: limit.zip(usual).and_then(|(l, u)| range(&l, u)),
        certainty: certainty(outside, difference.as_ref()),
    }
}

/// Change of a quantity that adds up (coating): the ratio of totals, less 1.
/// `before` and the returned `usual` are in the unit of `took` per `per`.
pub fn of_totals(pairs: &[Pair], per: f64, before: Option<f64>, usual_jobs: u64) -> Change {
    let took: Vec<f64> = pairs.iter().map(|p| p.took).collect();
    let usual: Vec<f64> = pairs.iter().map(|p| p.usual).collect();
    let ratio = Ratio::of_totals(&took, &usual);
    let at = |level| Some(ratio.as_ref().ok()?.estimate(level).ok()?.map(|r| r - 1.0));
    let expected = usual.iter().sum::<f64>() / per;
    let usual = (per > 0.0 && !pairs.is_empty()).then_some(expected);
    change(before, usual, at, usual_jobs)
}

/// Change of a quantity that multiplies (minutes): the geometric mean of took
/// over usual, less 1. The returned `usual` is `now` without that change.
///
/// # Errors
/// Where a pair is not above 0.
pub fn of_factors(
    pairs: &[Pair],
    now: Option<f64>,
    before: Option<f64>,
    usual_jobs: u64,
) -> Result<Change, FindError> {
    let logs = Sample::of(pairs.iter().map(|p| (p.took / p.usual).ln()))?;
    let at = |level| Some(logs.estimate(level).ok()?.map(|x| x.exp() - 1.0));
    let usual = now
        .filter(|_| logs.n > 0)
        .map(|minutes| minutes / logs.mean.exp());
    Ok(change(before, usual, at, usual_jobs))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::certainty::Certainty;

    fn pairs(factor: f64, wobble: f64, n: usize) -> Vec<Pair> {
        let sign = |i: usize| if i.is_multiple_of(2) { 1.0 } else { -1.0 };
        let pair = |i: usize| Pair {
            took: 30.0 * factor * (1.0 + wobble * sign(i)),
            usual: 30.0,
        };
        (0..n).map(pair).collect()
    }

    #[test]
    fn the_same_work_at_the_same_pace_is_luck_and_a_third_more_is_not() {
        let same = of_totals(&pairs(1.0, 0.1, 20), 400.0, None, 200);
        assert_eq!(same.certainty, Certainty::Luck);
        assert!((same.usual.unwrap() - 1.5).abs() < 1e-12);
        let more = of_totals(&pairs(1.3, 0.1, 20), 400.0, None, 200);
        assert_eq!(more.certainty, Certainty::Outside);
        assert!((more.difference.unwrap().value - 0.3).abs() < 1e-12);
        let few = of_totals(&pairs(1.3, 0.1, 4), 400.0, None, 200);
        assert_eq!(few.certainty, Certainty::TooFew);
    }

    #[test]
    fn a_month_is_outside_its_usual_range_where_the_change_is_called_so() {
        for (factor, wobble) in [(1.0, 0.1), (1.3, 0.1), (0.7, 0.1), (1.02, 0.3)] {
            let totals = of_totals(&pairs(factor, wobble, 20), 400.0, None, 200);
            let factors = of_factors(&pairs(factor, wobble, 20), Some(50.0), None, 200).unwrap();
            for c in [totals, factors] {
                let (now, range) = (c.now.unwrap(), c.range.unwrap());
                let outside = now.value < range.low || now.value > range.high;
                assert_eq!(outside, c.certainty == Certainty::Outside, "{c:?}");
                assert!(range.low < c.usual.unwrap() && c.usual.unwrap() < range.high);
                assert!(now.low < now.value && now.value < now.high);
            }
        }
    }

    #[test]
    fn minutes_are_compared_as_factors() {
        let slow = of_factors(&pairs(1.25, 0.05, 12), Some(50.0), None, 100).unwrap();
        assert_eq!(slow.certainty, Certainty::Outside);
        let none = of_factors(&[], None, None, 100).unwrap();
        assert_eq!((none.certainty, none.usual), (Certainty::TooFew, None));
    }

    #[test]
    fn a_usual_from_few_jobs_widens_the_interval() {
        let wide = |jobs| {
            let c = of_totals(&pairs(1.0, 0.1, 20), 1.0, None, jobs);
            let d = c.difference.unwrap();
            d.high - d.low
        };
        assert!((wide(20) / wide(u64::MAX) - 2.0_f64.sqrt()).abs() < 1e-6);
    }
}
