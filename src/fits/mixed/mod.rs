//! One random intercept: what do the columns add to y, when rows come in
//! groups (jobs by person) that lie higher or lower as a whole?
//!
//! ```text
//! y_gi = x_gi beta + u_g + e_gi     u_g ~ N(0, tau^2)   e_gi ~ N(0, sigma^2)
//! v = tau^2 / sigma^2               lambda_g = n_g / (1 + n_g v)
//! A(v) = S_xx + sum_g lambda_g xbar_g xbar_g'           (= sigma^2 X'V^-1 X)
//! beta(v) = A^-1 (S_xy + sum_g lambda_g xbar_g ybar_g),  rss(v) likewise
//! REML:  d(v) = sum_g ln(1 + n_g v) + ln det A + (N - p)(1 + ln(2 pi rss/(N - p)))
//! ```
//!
//! Shapes: N rows of p columns in G groups; v is the one parameter searched
//! for, sigma^2 = rss/(N - p). d is the "REML criterion" as lme4 prints it.
//! Units: those of y. The search follows d'(v) from v = 0 to 1e8 and solves
//! d'(v) = 0 between the points where it turns from falling to rising, so that
//! the boundary tau = 0 is met exactly, and the estimate holds to 1e-12 where
//! a search on d itself stops at 1e-8.
//!
//! Intervals for combinations of beta are Kenward and Roger's (Biometrics
//! 1997;53:983-997, doi:10.2307/2533558), which hold at few groups where the
//! plug-in standard errors do not. REML: Patterson and Thompson, Biometrika
//! 1971;58:545-554, doi:10.1093/biomet/58.3.545; profiling: Bates, Maechler,
//! Bolker and Walker, Journal of Statistical Software 2015;67(1),
//! doi:10.18637/jss.v067.i01.
//!
//! It misleads where who does a job depends on how long it will take, and
//! says little about tau with fewer than five groups.

mod criterion;
mod kenward_roger;
mod profile;
mod search;
mod sparse;
mod statistics;

pub use sparse::SparseRows;
pub use statistics::GroupStatistics;

use crate::estimate::{Estimate, NotEnough};
use crate::fits::collinear::Rank;
use crate::fits::error::FitError;
use crate::fits::interval::{check_level, sum_of_independent, t_interval, variance_interval};
use crate::fits::record::Record;
use criterion::Point;
use kenward_roger::{KenwardRoger, Strata};
use nalgebra::{DMatrix, DVector};

/// What is maximised.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Criterion {
    /// Restricted likelihood: the variances make up for the columns fitted.
    #[default]
    Reml,
    /// Full likelihood: to compare with published values; its variances are
    /// too small with few groups.
    Ml,
}

/// A random-intercept model, not yet fitted.
#[derive(Debug, Clone, Copy, Default)]
pub struct RandomIntercept {
    /// What is maximised.
    pub criterion: Criterion,
}

/// What came of the spread between groups.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GroupSpread {
    /// Estimated, above zero.
    Estimated,
    /// Estimated at zero: groups differ no more than rows of one group do.
    Zero,
    /// There is but one group: ordinary least squares, its level included.
    OneGroup,
    /// Groups cannot be told apart from the columns (each class done by one
    /// person), or hold one row each: ordinary least squares.
    NotSeparable,
}

/// The effect of one group: how much higher its rows lie.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroupEffect {
    /// The group's label.
    pub label: u64,
    /// Its rows.
    pub rows: u64,
    /// Best linear unbiased predictor of u_g, in the units of y.
    pub value: f64,
    /// Its conditional standard deviation, the variances and beta taken as
    /// known (lme4's condVar); too small for an interval of its own.
    pub conditional_sd: f64,
}

/// A linear combination of the coefficients, ready for an interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Combination {
    /// l'beta.
    pub value: f64,
    /// Kenward and Roger's standard error.
    pub standard_error: f64,
    /// Kenward and Roger's degrees of freedom; infinite where the variances
    /// do not enter.
    pub df: f64,
}

/// Standard deviations and the variance of a row, with intervals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spreads {
    /// tau; `None` for ordinary least squares.
    pub group_sd: Option<Estimate>,
    /// sigma.
    pub residual_sd: Estimate,
    /// tau^2 + sigma^2, the variance of a row about its columns' mean, whoever
    /// does it: the profile intervals of both joined as those of independent
    /// figures; where tau is zero or was not separated, that of sigma^2 from
    /// chi-squared.
    pub total_variance: Estimate,
}

/// A fitted random-intercept model.
#[derive(Debug, Clone)]
pub struct MixedFit {
    /// beta, length p.
    pub coefficients: Vec<f64>,
    /// sigma^2.
    pub residual_variance: f64,
    /// tau^2; 0 where `spread` is not [`GroupSpread::Estimated`].
    pub group_variance: f64,
    /// d at the estimate: the REML criterion, or -2 ln L under [`Criterion::Ml`].
    pub criterion: f64,
    /// What came of the spread between groups.
    pub spread: GroupSpread,
    /// Effects in the order of the labels; empty for ordinary least squares.
    pub effects: Vec<GroupEffect>,
    /// Evaluations made and how the search ended.
    pub record: Record,
    statistics: GroupStatistics,
    kind: Criterion,
    precision: KenwardRoger,
}

impl RandomIntercept {
    /// Fits the rows gathered in `statistics`.
    ///
    /// # Errors
    /// [`FitError::NotEnough`] with no more rows than columns,
    /// [`FitError::Collinear`] naming columns, [`FitError::NotFinite`] where a
    /// row held a NaN, [`FitError::NoSpread`] where nothing is left for
    /// sigma.
    pub fn fit(&self, statistics: &GroupStatistics) -> Result<MixedFit, FitError> {
        check(statistics)?;
        let strata = strata(statistics);
        let spread = separable(statistics, &strata);
        let found = match spread {
            GroupSpread::Estimated => search::minimise(statistics, self.criterion)?,
            _ => search::Found::direct(),
        };
        let point = Point::at(statistics, self.criterion, found.ratio)?;
        let spread = match spread {
            GroupSpread::Estimated if found.ratio == 0.0 => GroupSpread::Zero,
            other => other,
        };
        let sigma2 = point.residual_variance();
        let both = spread == GroupSpread::Estimated;
        let grouped = both || spread == GroupSpread::Zero;
        Ok(MixedFit {
            coefficients: point.beta.as_slice().to_vec(),
            residual_variance: sigma2,
            group_variance: found.ratio * sigma2,
            criterion: point.value,
            spread,
            effects: if grouped {
                effects(statistics, &point)
            } else {
                Vec::new()
            },
            record: Record {
                iterations: found.evaluations,
                ended: found.ended,
                ..Record::direct(statistics.rows() as usize)
            },
            precision: KenwardRoger::new(statistics, &point, strata, both)?,
            statistics: statistics.clone(),
            kind: self.criterion,
        })
    }
}

impl MixedFit {
    /// theta = tau / sigma.
    pub fn theta(&self) -> f64 {
        (self.group_variance / self.residual_variance).sqrt()
    }

    /// Covariance of the coefficients with the variances taken as known, as
    /// lme4's `vcov` gives it.
    pub fn covariance(&self) -> &DMatrix<f64> {
        &self.precision.plain
    }

    /// Kenward and Roger's covariance, p x p.
    pub fn adjusted_covariance(&self) -> &DMatrix<f64> {
        &self.precision.adjusted
    }

    /// The combination sum_j l_j beta_j with Kenward and Roger's standard
    /// error and degrees of freedom; missing entries of `l` count as zero.
    pub fn combination(&self, l: &[f64]) -> Combination {
        let l = self.fill(l);
        Combination {
            value: l.dot(&DVector::from_column_slice(&self.coefficients)),
            standard_error: self.precision.variance(&l).sqrt(),
            df: self.precision.df(&l),
        }
    }

    /// The combination with its t-interval; `n` is that of all rows.
    ///
    /// # Errors
    /// [`FitError::Parameter`] for the level.
    pub fn estimate(&self, l: &[f64], level: f64) -> Result<Estimate, FitError> {
        check_level(level)?;
        let c = self.combination(l);
        let n = self.statistics.rows();
        Ok(t_interval(c.value, c.standard_error, c.df, level, n))
    }

    /// tau, sigma and tau^2 + sigma^2 without intervals: low = high = value.
    pub fn spread_points(&self, level: f64) -> Spreads {
        let n = self.statistics.rows();
        let point = |value: f64| Estimate {
            value,
            low: value,
            high: value,
            level,
            n,
        };
        Spreads {
            group_sd: (self.spread == GroupSpread::Estimated)
                .then(|| point(self.group_variance.sqrt())),
            residual_sd: point(self.residual_variance.sqrt()),
            total_variance: point(self.group_variance + self.residual_variance),
        }
    }

    /// tau, sigma and tau^2 + sigma^2 with their intervals, in one go.
    ///
    /// # Errors
    /// As [`group_sd`](Self::group_sd).
    pub fn spreads(&self, level: f64) -> Result<Spreads, FitError> {
        let group_sd = self.group_sd(level)?;
        let residual_sd = self.residual_sd(level)?;
        let square = |sd: Estimate| sd.map(|s| s * s);
        let n = self.statistics.rows();
        let df = (n - self.coefficients.len() as u64) as f64;
        let total = match (group_sd, self.spread) {
            (Some(tau), GroupSpread::Estimated) => {
                sum_of_independent(square(residual_sd), square(tau))
            }
            _ => variance_interval(self.residual_variance, df, level, n),
        };
        Ok(Spreads {
            group_sd,
            residual_sd,
            total_variance: total,
        })
    }

    /// Satterthwaite's degrees of freedom of tau^2 + sigma^2.
    pub fn total_variance_df(&self) -> f64 {
        let total = self.group_variance + self.residual_variance;
        self.precision.matched_df(total, None)
    }

    /// Range of one new row with columns `l`, of a group not seen before:
    /// l'beta -/+ t sqrt(tau^2 + sigma^2 + l' Cov l), the degrees of freedom
    /// matched to that variance. With one group it is a new row of that group.
    ///
    /// # Errors
    /// [`FitError::Parameter`] for the level.
    pub fn new_row(&self, l: &[f64], level: f64) -> Result<Estimate, FitError> {
        check_level(level)?;
        let l = self.fill(l);
        let plain = l.dot(&(&self.precision.plain * &l));
        let total = self.group_variance + self.residual_variance;
        let df = self.precision.matched_df(total + plain, Some(&l));
        let error = (total + self.precision.variance(&l)).sqrt();
        let value = l.dot(&DVector::from_column_slice(&self.coefficients));
        Ok(t_interval(value, error, df, level, self.statistics.rows()))
    }

    /// tau with its profile-likelihood interval; `None` for ordinary least
    /// squares. The lower end is 0 where zero cannot be ruled out.
    ///
    /// # Errors
    /// [`FitError::Parameter`] for the level, [`FitError::DidNotConverge`].
    pub fn group_sd(&self, level: f64) -> Result<Option<Estimate>, FitError> {
        check_level(level)?;
        if !self.has_groups() {
            return Ok(None);
        }
        let groups = self.statistics.group_count();
        profile::group_sd(&self.statistics, self.kind, self, level, groups).map(Some)
    }

    /// sigma with its profile-likelihood interval; for ordinary least squares
    /// the exact one from chi-squared.
    ///
    /// # Errors
    /// As [`group_sd`](Self::group_sd).
    pub fn residual_sd(&self, level: f64) -> Result<Estimate, FitError> {
        check_level(level)?;
        if self.has_groups() {
            return profile::residual_sd(&self.statistics, self.kind, self, level);
        }
        let n = self.statistics.rows();
        let df = (n - self.coefficients.len() as u64) as f64;
        Ok(variance_interval(self.residual_variance, df, level, n).map(f64::sqrt))
    }

    /// The effect of the group labelled `label`; zero for one not seen.
    pub fn effect_of(&self, label: u64) -> f64 {
        let found = self.effects.binary_search_by_key(&label, |e| e.label);
        found.map_or(0.0, |at| self.effects[at].value)
    }

    fn has_groups(&self) -> bool {
        matches!(self.spread, GroupSpread::Estimated | GroupSpread::Zero)
    }

    fn fill(&self, l: &[f64]) -> DVector<f64> {
        DVector::from_fn(self.coefficients.len(), |j, _| {
            l.get(j).copied().unwrap_or(0.0)
        })
    }
}

/// Refuses what cannot be fitted at all.
fn check(statistics: &GroupStatistics) -> Result<(), FitError> {
    let p = statistics.columns() as u64;
    if statistics.rows() <= p {
        return Err(NotEnough::new(statistics.rows(), p + 1, "rows of the design").into());
    }
    let gram = statistics.cross_products();
    if gram.iter().any(|v| !v.is_finite()) {
        return Err(FitError::NotFinite {
            what: "sums over the rows",
            row: 0,
        });
    }
    let rank = Rank::of_cross_products(&gram);
    if rank.dependencies.is_empty() {
        return Ok(());
    }
    Err(FitError::Collinear {
        columns: rank.entangled(),
    })
}

/// What is left between and within groups once the columns are taken out.
fn strata(statistics: &GroupStatistics) -> Strata {
    let p = statistics.columns();
    let table = statistics.within().view((0, 0), (p, p)).into_owned();
    let within = Rank::of_scatter(&table, &statistics.cross_products());
    let spanned =
        (statistics.group_count() as f64 + within.kept.len() as f64).min(statistics.rows() as f64);
    let between = (spanned - p as f64).max(0.0);
    Strata {
        between,
        within: statistics.rows() as f64 - p as f64 - between,
    }
}

/// Whether the rows can tell tau from sigma: a direction must be left between
/// groups that the columns do not fill, and one within groups.
fn separable(statistics: &GroupStatistics, strata: &Strata) -> GroupSpread {
    if statistics.group_count() == 1 {
        GroupSpread::OneGroup
    } else if strata.between < 1.0 || strata.within < 1.0 {
        GroupSpread::NotSeparable
    } else {
        GroupSpread::Estimated
    }
}

fn effects(statistics: &GroupStatistics, point: &Point) -> Vec<GroupEffect> {
    let sigma2 = point.residual_variance();
    let of = |label, group: &statistics::Group| {
        let shrunk = point.ratio / (1.0 + group.rows * point.ratio);
        GroupEffect {
            label,
            rows: group.rows as u64,
            value: shrunk * group.rows * point.mean_residual(&group.mean),
            conditional_sd: (sigma2 * shrunk).sqrt(),
        }
    };
    statistics.groups().map(|(label, g)| of(label, g)).collect()
}
