//! Shares of shops: what was sold of what could be, what came back of what
//! was coated. Each drawn towards the chain's ([`crate::fits::shrink`]), and
//! the exact limits within which chance alone moves it
//! ([`crate::fits::funnel`]).

use super::{FAR, FAR_BACK, Held, LEAST_JOBS};
use crate::estimate::Estimate;
use crate::findings::FindError;
use crate::fits::error::FitError;
use crate::fits::funnel;
use crate::fits::shrink::{self, AgainstMean, Count, Far, Params, Rates};

/// Jobs, and those of them that count.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, serde::Serialize)]
pub struct Counts {
    /// Those that count.
    pub yes: u64,
    /// All.
    pub of: u64,
}

impl Counts {
    /// The share as it stands; `None` without jobs.
    pub fn share(self) -> Option<f64> {
        (self.of > 0).then(|| self.yes as f64 / self.of as f64)
    }
}

/// Where chance alone puts the share of so many jobs, 998 times in 1,000.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Jobs.
    pub jobs: u64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// Steps of the limits that are drawn.
const STEPS: u64 = 30;

/// Shops' shares of one kind.
#[derive(Debug, Clone, PartialEq)]
pub struct Shares {
    /// In the order of the counts.
    pub each: Vec<Held>,
    /// Whether each lies outside the limits as it stands.
    pub outside: Vec<bool>,
    /// The chain's usual: the plain mean of the shops' figures in `each`.
    pub usual: Option<Estimate>,
    /// All shops together.
    pub whole: Counts,
    /// Limits about the chain's own share at rising numbers of jobs.
    pub limits: Vec<Limits>,
}

/// The share of film jobs sold.
///
/// # Errors
/// The fits' complaint, none on counts.
pub fn sold(counts: &[Counts]) -> Result<Shares, FindError> {
    let far = Far {
        above: 1.0 + FAR,
        below: 1.0 - FAR,
        least: LEAST_JOBS,
    };
    shares(counts, "film jobs that the coating suits", far)
}

/// The share of coated jobs that came back; fewer is not pointed at.
///
/// # Errors
/// As [`sold`].
pub fn callbacks(counts: &[Counts]) -> Result<Shares, FindError> {
    let far = Far {
        above: 1.0 + FAR_BACK,
        below: 0.0,
        least: LEAST_JOBS,
    };
    shares(counts, "coated jobs", far)
}

fn shares(counts: &[Counts], what: &str, far: Far) -> Result<Shares, FindError> {
    let each: Vec<Count> = (counts.iter())
        .map(|c| Count {
            yes: c.yes,
            of: c.of,
        })
        .collect();
    let rates = match shrink::rates(&each, Params::default()) {
        Ok(rates) => Some(rates),
        Err(FitError::NotEnough(_)) => None,
        Err(other) => return Err(other.into()),
    };
    let found = rates.and_then(|r| Some((r.against_mean(&each, far)?, r)));
    let held = |(i, c): (usize, &Counts)| match &found {
        Some(both) if c.of >= LEAST_JOBS => known(both, i),
        _ => Held::missing(c.of, what),
    };
    let spoken = || counts.iter().filter(|c| c.of >= LEAST_JOBS);
    let whole = Counts {
        yes: counts.iter().map(|c| c.yes).sum(),
        of: counts.iter().map(|c| c.of).sum(),
    };
    // A share of 0 or 1 has no limits about it, and no shop outside them.
    let target = whole.share().filter(|t| *t > 0.0 && *t < 1.0);
    let limits_at = |sizes: &[u64]| target.map_or(Ok(Vec::new()), |t| limits(t, sizes));
    let outside = |c: &Counts| -> Result<bool, FindError> {
        let at = limits_at(&[c.of])?;
        let share = c.share().filter(|_| c.of >= LEAST_JOBS);
        Ok((at.first().zip(share)).is_some_and(|(l, s)| s < l.low || s > l.high))
    };
    Ok(Shares {
        each: counts.iter().enumerate().map(held).collect(),
        outside: (counts.iter())
            .map(|c| if c.of == 0 { Ok(false) } else { outside(c) })
            .collect::<Result<_, _>>()?,
        limits: limits_at(&sizes(spoken().map(|c| c.of)))?,
        usual: found.as_ref().map(|(against, _)| against.mean),
        whole,
    })
}

fn known((against, rates): &(AgainstMean, Rates), i: usize) -> Held {
    Held {
        figure: rates.each[i].shrunk.into(),
        above: against.each[i].above,
        below: against.each[i].below,
    }
}

fn limits(target: f64, sizes: &[u64]) -> Result<Vec<Limits>, FindError> {
    let found = funnel::limits(target, sizes)?;
    let one = |l: &funnel::Limits| Limits {
        jobs: l.n,
        low: l.alarm_low,
        high: l.alarm_high,
    };
    Ok(found.iter().map(one).collect())
}

/// Numbers of jobs from under the fewest to over the most, rising.
fn sizes(jobs: impl Iterator<Item = u64> + Clone) -> Vec<u64> {
    let (Some(low), Some(high)) = (jobs.clone().min(), jobs.max()) else {
        return Vec::new();
    };
    let (low, high) = ((low * 4 / 5).max(1), high + high / 10 + 1);
    let mut all: Vec<u64> = (0..=STEPS)
        .map(|i| low + (high - low) * i / STEPS)
        .collect();
    all.dedup();
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shop_that_sells_half_as_much_is_far_under_and_outside() {
        let counts = [(50, 100), (48, 100), (52, 100), (22, 100), (2, 3)];
        let counts: Vec<Counts> = (counts.iter())
            .map(|(yes, of)| Counts { yes: *yes, of: *of })
            .collect();
        let found = sold(&counts).unwrap();
        assert!(found.each[3].below > 0.95, "{found:?}");
        assert_eq!(found.outside, [false, false, false, true, false]);
        assert!(found.each[4].figure.known().is_none());
        assert_eq!(found.each[4].figure.not_enough().unwrap().need, LEAST_JOBS);
        let (first, last) = (found.limits[0], found.limits[found.limits.len() - 1]);
        assert!(first.jobs < 100 && last.jobs > 100);
        assert!(first.high - first.low > last.high - last.low);
        // Fewer callbacks than usual are not pointed at.
        assert!(
            callbacks(&counts)
                .unwrap()
                .each
                .iter()
                .all(|h| h.below == 0.0)
        );
    }

    fn counts(rows: &[(u64, u64)]) -> Vec<Counts> {
        let one = |(yes, of): &(u64, u64)| Counts { yes: *yes, of: *of };
        rows.iter().map(one).collect()
    }

    /// The least chance at which a shop is pointed at.
    fn raised(shares: &Shares) -> Vec<bool> {
        let least = crate::fits::discovery::Rule::default().least_chance;
        let each = shares.each.iter();
        each.map(|h| h.above.max(h.below) >= least).collect()
    }

    #[test]
    fn shops_all_alike_are_not_pointed_at_however_few_they_are() {
        for shops in [2, 3, 6] {
            for (jobs, yes) in [
                (300, 2),
                (300, 6),
                (1000, 20),
                (1000, 100),
                (300, 150),
                (1000, 500),
            ] {
                let alike = counts(&vec![(yes, jobs); shops]);
                for found in [sold(&alike).unwrap(), callbacks(&alike).unwrap()] {
                    assert!(!raised(&found).contains(&true), "{found:?}");
                    let (usual, own) = (found.usual.unwrap(), found.each[0].figure.known());
                    assert!((usual.value - own.unwrap().value).abs() < 1e-9);
                    assert!(usual.low < usual.value && usual.value < usual.high);
                }
            }
        }
    }

    #[test]
    fn the_usual_is_the_mean_of_the_shops() {
        let found = sold(&counts(&[(60, 600), (110, 600), (85, 600)])).unwrap();
        let usual = found.usual.unwrap().value;
        assert!((usual - 85.0 / 600.0).abs() < 0.001, "{usual}");
    }

    #[test]
    fn one_that_is_truly_different_is_pointed_at_and_no_other() {
        let found = sold(&counts(&[
            (500, 1000),
            (300, 1000),
            (510, 1000),
            (490, 1000),
        ]))
        .unwrap();
        assert!(raised(&found)[1] && found.each[1].below > 0.99, "{found:?}");
        let two = sold(&counts(&[(500, 1000), (300, 1000)])).unwrap();
        assert!(
            two.each[0].above > 0.95 && two.each[1].below > 0.95,
            "{two:?}"
        );
        let back = callbacks(&counts(&[(20, 1000), (80, 1000), (22, 1000), (18, 1000)])).unwrap();
        assert_eq!(raised(&back), [false, true, false, false], "{back:?}");
    }

    #[test]
    fn nothing_sold_and_no_jobs_are_no_error() {
        let none = vec![Counts { yes: 0, of: 30 }; 3];
        let found = sold(&none).unwrap();
        assert!(found.limits.is_empty() && !found.outside[0]);
        let empty = sold(&[Counts::default(); 2]).unwrap();
        assert!(empty.usual.is_none() && empty.each[0].figure.known().is_none());
        assert!(sold(&[]).unwrap().each.is_empty());
    }
}
