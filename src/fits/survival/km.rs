//! The share still sound over time.
//!
//! Question: what share of jobs is still sound t days after the work?
//! Kaplan and Meier (JASA 1958;53:457-481,
//! doi:10.1080/01621459.1958.10501452): S(t) = Π (1 − d_j/n_j) over the
//! failure times t_j ≤ t, d_j failures among n_j at risk. Greenwood's
//! variance: S² Σ d_j/(n_j (n_j − d_j)). Bands on the scale of ln(−ln S):
//! S^exp(±z g), g = √(Σ d_j/(n_j(n_j−d_j))) / |ln S|; they stay within 0..1.
//! The bands are for one time each, not for the curve as a whole.
//!
//! Where S is 1 or 0 the formula gives no band, and none is given. When it
//! misleads: towards the end, where few are at risk (shown beside it).

use super::Times;
use crate::estimate::NotEnough;
use crate::fits::dist::normal_margin;
use crate::fits::error::FitError;
use crate::fits::interval::check_level;

/// The curve from one failure time to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// The time of the failures.
    pub time: f64,
    /// Jobs at risk just before.
    pub at_risk: u64,
    /// Failures at the time.
    pub failures: u64,
    /// Share still sound from this time on.
    pub share: f64,
    /// Greenwood's standard error of it; none where the share is 0.
    pub standard_error: Option<f64>,
    /// Its band; none where the share is 0.
    pub band: Option<Band>,
}

/// The two ends of a band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// A Kaplan-Meier curve.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// One step per distinct failure time, by time. Before the first the
    /// share is 1.
    pub steps: Vec<Step>,
    /// The times of all rows (failed and censored), sorted.
    pub times: Vec<f64>,
    /// Jobs of these rows and all after each: for counts at risk.
    from_here: Vec<u64>,
    /// Level of the bands.
    pub level: f64,
}

impl Curve {
    /// Share still sound at `time`; 1 before the first failure.
    pub fn share_at(&self, time: f64) -> f64 {
        self.step_at(time).map_or(1.0, |s| s.share)
    }

    /// The step that `time` lies on; none before the first failure.
    pub fn step_at(&self, time: f64) -> Option<&Step> {
        let after = self.steps.partition_point(|s| s.time <= time);
        self.steps.get(after.checked_sub(1)?)
    }

    /// Jobs at risk just before `time`.
    pub fn at_risk(&self, time: f64) -> u64 {
        let before = self.times.partition_point(|t| *t < time);
        self.from_here.get(before).copied().unwrap_or(0)
    }

    /// Jobs.
    pub fn jobs(&self) -> u64 {
        self.from_here.first().copied().unwrap_or(0)
    }

    /// The first time at which `share` or less is sound; none where the
    /// curve does not come down to it.
    pub fn time_to(&self, share: f64) -> Option<f64> {
        // The product of many quotients may miss one half by rounding.
        let reached = |s: &&Step| s.share <= share + 1e-12;
        self.steps.iter().find(reached).map(|s| s.time)
    }

    /// Failures on the curve.
    pub fn failures(&self) -> u64 {
        self.steps.iter().map(|s| s.failures).sum()
    }
}

/// The curve of these jobs, with bands at `level`.
///
/// # Errors
/// [`FitError::NotEnough`] without jobs; [`FitError::Shape`],
/// [`FitError::NotFinite`], [`FitError::OutOfRange`], [`FitError::Parameter`]
/// for bad input. No failure at all is no error: a curve without steps.
pub fn curve(jobs: Times<'_>, level: f64) -> Result<Curve, FitError> {
    check_level(level)?;
    jobs.check()?;
    if jobs.is_empty() {
        return Err(NotEnough::new(0, 1, "jobs").into());
    }
    let row = |i: usize| Row {
        time: jobs.time[i],
        failed: jobs.failed[i],
        jobs: jobs.jobs_of(i),
    };
    let mut rows: Vec<Row> = (0..jobs.len()).map(row).collect();
    rows.sort_unstable_by(|a, b| a.time.total_cmp(&b.time));
    let mut left = jobs.total();
    let from_here = |row: &Row| {
        left -= row.jobs;
        left + row.jobs
    };
    let from_here = rows.iter().map(from_here).collect();
    let mut walk = Walk {
        at_risk: jobs.total(),
        share: 1.0,
        greenwood: 0.0,
        z: normal_margin(level),
    };
    let steps = rows
        .chunk_by(|a, b| a.time == b.time)
        .filter_map(|tied| walk.step(tied))
        .collect();
    Ok(Curve {
        steps,
        times: rows.iter().map(|r| r.time).collect(),
        from_here,
        level,
    })
}

/// Jobs of one time.
#[derive(Debug, Clone, Copy)]
struct Row {
    time: f64,
    failed: bool,
    jobs: u64,
}

/// The state between two distinct times.
#[derive(Debug)]
struct Walk {
    at_risk: u64,
    share: f64,
    greenwood: f64,
    z: f64,
}

impl Walk {
    /// Goes past the jobs of one time; a step where any failed.
    fn step(&mut self, tied: &[Row]) -> Option<Step> {
        let failures = tied.iter().filter(|r| r.failed).map(|r| r.jobs).sum();
        let at_risk = self.at_risk;
        self.at_risk -= tied.iter().map(|r| r.jobs).sum::<u64>();
        if failures == 0 {
            return None;
        }
        let (d, n) = (failures as f64, at_risk as f64);
        self.share *= (n - d) / n;
        self.greenwood += d / (n * (n - d));
        let alive = failures < at_risk;
        Some(Step {
            time: tied.first()?.time,
            at_risk,
            failures,
            share: self.share,
            standard_error: alive.then(|| self.share * self.greenwood.sqrt()),
            band: alive.then(|| self.band()),
        })
    }

    fn band(&self) -> Band {
        let g = self.greenwood.sqrt() / self.share.ln().abs();
        Band {
            low: self.share.powf((self.z * g).exp()),
            high: self.share.powf((-self.z * g).exp()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(rows: &[(f64, bool)]) -> Curve {
        let time: Vec<f64> = rows.iter().map(|r| r.0).collect();
        let failed: Vec<bool> = rows.iter().map(|r| r.1).collect();
        let jobs = Times {
            time: &time,
            failed: &failed,
            jobs: None,
        };
        curve(jobs, 0.95).unwrap()
    }

    #[test]
    fn without_censoring_it_is_the_plain_share() {
        let curve = of(&[(3.0, true), (1.0, true), (2.0, true), (2.0, true)]);
        let shares: Vec<f64> = curve.steps.iter().map(|s| s.share).collect();
        assert_eq!(shares, [0.75, 0.25, 0.0]);
        assert_eq!(curve.steps[2].band, None);
        assert_eq!(curve.time_to(0.5), Some(2.0));
    }

    #[test]
    fn a_job_censored_on_the_day_of_a_failure_was_at_risk() {
        let curve = of(&[(5.0, false), (5.0, true), (9.0, false)]);
        assert_eq!(curve.steps.len(), 1);
        assert_eq!(curve.steps[0].at_risk, 3);
        assert!((curve.share_at(5.0) - 2.0 / 3.0).abs() < 1e-15);
        assert_eq!(curve.share_at(4.9), 1.0);
        assert_eq!([curve.at_risk(5.0), curve.at_risk(5.1)], [3, 1]);
    }

    #[test]
    fn nothing_failed_and_nothing_there_are_told_apart() {
        let sound = of(&[(5.0, false), (8.0, false)]);
        assert!(sound.steps.is_empty());
        assert_eq!(sound.share_at(7.0), 1.0);
        assert_eq!(sound.time_to(0.5), None);
        let none = Times {
            time: &[],
            failed: &[],
            jobs: None,
        };
        assert!(matches!(curve(none, 0.95), Err(FitError::NotEnough(_))));
        let odd = Times {
            time: &[-1.0],
            failed: &[true],
            jobs: None,
        };
        assert!(matches!(
            curve(odd, 0.95),
            Err(FitError::OutOfRange { row: 0, .. })
        ));
    }
}
