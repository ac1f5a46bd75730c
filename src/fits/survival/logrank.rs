//! Do groups last differently?
//!
//! Log-rank test (Mantel 1966; Peto and Peto, JRSS A 1972;135:185-207,
//! doi:10.2307/2344317): at each distinct failure time, with d failures
//! among n at risk and n_g of group g at risk, group g is expected d n_g/n;
//! covariance of observed less expected d (n−d)/(n−1) · n_g/n · (1{g=h} −
//! n_h/n). Sums over times, and over strata where there are any; (O−E)'V⁻(O−E)
//! on chi-square with the rank of V (groups ever at risk together, less one).
//!
//! Weighs all times alike. When it misleads: curves that cross.

use super::Times;
use crate::estimate::NotEnough;
use crate::fits::collinear::Rank;
use crate::fits::error::{FitError, check_shape};
use crate::fits::positive::ScaledCholesky;
use crate::fits::stratified::ChiSquare;
use nalgebra::{DMatrix, DVector};

/// One group's failures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Group {
    /// Jobs.
    pub jobs: u64,
    /// Failures seen.
    pub observed: u64,
    /// Failures that equal lasting would bring.
    pub expected: f64,
    /// Variance of the difference.
    pub variance: f64,
}

/// The test.
#[derive(Debug, Clone, PartialEq)]
pub struct LogRank {
    /// The groups by their code.
    pub groups: Vec<Group>,
    /// The test; its degrees of freedom are one less than the groups at risk
    /// together at failures.
    pub test: ChiSquare,
}

/// Compares the groups (codes from 0), within strata where given.
///
/// # Errors
/// [`FitError::NotEnough`] where no failure met two groups at risk; [`FitError::Shape`],
/// [`FitError::NotFinite`], [`FitError::OutOfRange`] for bad input.
pub fn test(
    jobs: Times<'_>,
    group: &[usize],
    strata: Option<&[usize]>,
) -> Result<LogRank, FitError> {
    jobs.check()?;
    check_shape("groups", jobs.len(), group.len())?;
    if let Some(strata) = strata {
        check_shape("strata", jobs.len(), strata.len())?;
    }
    check_codes(group)?;
    let groups = group.iter().max().map_or(0, |g| g + 1);
    let mut sums = Sums::new(groups);
    let mut order: Vec<usize> = (0..jobs.len()).collect();
    let stratum = |i: usize| strata.map_or(0, |s| s[i]);
    order.sort_unstable_by(|&a, &b| {
        let by_time = || jobs.time[b].total_cmp(&jobs.time[a]);
        stratum(a).cmp(&stratum(b)).then_with(by_time)
    });
    for one in order.chunk_by(|&a, &b| stratum(a) == stratum(b)) {
        sums.stratum(jobs, group, one);
    }
    for (row, &g) in group.iter().enumerate() {
        sums.groups[g].jobs += jobs.jobs_of(row);
    }
    sums.finish()
}

/// Codes are places in a table, so they must not be wild.
fn check_codes(group: &[usize]) -> Result<(), FitError> {
    match group.iter().position(|g| *g >= 1_000) {
        None => Ok(()),
        Some(row) => Err(FitError::OutOfRange {
            what: "group codes",
            row,
            found: group[row] as f64,
            expected: "codes from 0 to 999",
        }),
    }
}

/// Sums over times and strata.
#[derive(Debug)]
struct Sums {
    groups: Vec<Group>,
    covariance: DMatrix<f64>,
}

impl Sums {
    fn new(groups: usize) -> Self {
        let none = Group {
            jobs: 0,
            observed: 0,
            expected: 0.0,
            variance: 0.0,
        };
        Self {
            groups: vec![none; groups],
            covariance: DMatrix::zeros(groups, groups),
        }
    }

    /// Adds one stratum, whose rows come latest first.
    fn stratum(&mut self, jobs: Times<'_>, group: &[usize], latest_first: &[usize]) {
        let mut at_risk = vec![0.0; self.groups.len()];
        for tied in latest_first.chunk_by(|&a, &b| jobs.time[a] == jobs.time[b]) {
            let mut failures = 0.0;
            for &i in tied {
                let own = jobs.jobs_of(i);
                at_risk[group[i]] += own as f64;
                if jobs.failed[i] {
                    self.groups[group[i]].observed += own;
                    failures += own as f64;
                }
            }
            if failures > 0.0 {
                self.at_failure(failures, &at_risk);
            }
        }
    }

    /// Adds one distinct failure time.
    fn at_failure(&mut self, failures: f64, at_risk: &[f64]) {
        let n: f64 = at_risk.iter().sum();
        let spread = if n > 1.0 {
            failures * (n - failures) / (n - 1.0)
        } else {
            0.0
        };
        for (g, n_g) in at_risk.iter().enumerate() {
            let share = n_g / n;
            self.groups[g].expected += failures * share;
            for (h, n_h) in at_risk.iter().enumerate() {
                let own = if g == h { 1.0 } else { 0.0 };
                self.covariance[(g, h)] += spread * share * (own - n_h / n);
            }
        }
    }

    fn finish(mut self) -> Result<LogRank, FitError> {
        for (g, group) in self.groups.iter_mut().enumerate() {
            group.variance = self.covariance[(g, g)];
        }
        // Differences add up to zero among groups at risk together, so one of
        // them follows from the others.
        let free = Rank::of_cross_products(&self.covariance).kept;
        if free.is_empty() {
            return Err(NotEnough::new(1, 2, "groups at risk when a job failed").into());
        }
        let gap = DVector::from_iterator(
            free.len(),
            free.iter()
                .map(|&g| self.groups[g].observed as f64 - self.groups[g].expected),
        );
        let covariance = DMatrix::from_fn(free.len(), free.len(), |i, j| {
            self.covariance[(free[i], free[j])]
        });
        let factor = ScaledCholesky::new(&covariance).ok_or(FitError::NoSpread {
            what: "groups at risk together",
        })?;
        let chi2 = gap.dot(&factor.solve(&gap));
        Ok(LogRank {
            test: ChiSquare::new(chi2, free.len() as u32),
            groups: self.groups,
        })
    }
}
