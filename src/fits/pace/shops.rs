//! What do a chain's shops each take for the same work, and how far is each
//! from the chain's usual?
//!
//! Job i of shop j: y = x'β + u_j l + e, u ~ N(0, τ²), e ~ N(0, σ²), x (p) the
//! work. Two uses of one model:
//!
//! - minutes: y = log minutes, l = 1. A shop takes exp(u_j) times as long.
//! - coating: y, x and l over √area (so that e has one variance), x = what the
//!   work takes by the chain's constants b, a one for the set-up, the area of
//!   each finish; l = that first column. M = set-up + Σ c_f A_f + u_j (b_0 + Σ
//!   b_f A_f) + e, so a shop takes 1 + u_j times what the work takes, and its
//!   own rate on finish f is c_f + u_j b_f.
//!
//! Wanted are d_j = u_j − mean of all shops' u (the shop against the chain's
//! usual, the plain mean of its shops, however large each is) and r'β + l u_j
//! (what the shop itself takes for the work r). Posterior, grid and half-Cauchy
//! prior as for people ([`super`]): with w_j = Σ l² in place of the jobs n_j
//! and the means x̄_j = Σ l x/w_j, ȳ_j = Σ l y/w_j about the load in place of
//! plain means every line of it holds, since a shop's column in the design is
//! then l in place of 1. τ is integrated out; a shop with one job is drawn to
//! the usual. Sums and products per shop are all that is needed, so the cost
//! does not grow with the jobs, and parts of a shop add.
//!
//! One factor per shop, not a rate per shop and finish: with the 20 to 60 jobs
//! that a shop has in a month, rates of single finishes cannot be told apart
//! from luck.
//!
//! When it misleads: shops that write down minutes, or weigh, differently. A
//! shop's figure holds its people: two shops may differ because one person
//! does. e counts as independent within a shop, so what its people add is in
//! the figure and not in its range as if they were drawn anew.

use super::grid::{self, Grid};
use super::mixture::{self, Mixture};
use super::people::{People, Sums};
use crate::estimate::{Estimate, NotEnough};
use crate::fits::collinear::Rank;
use crate::fits::error::FitError;
use crate::fits::interval::check_level;
use nalgebra::DVector;

/// Least residual degrees of freedom (jobs less columns).
const FREEDOM: u64 = 3;

/// How much of a shop's effect a job bears.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Load {
    /// Every job alike.
    Even,
    /// As much as this column of the design says.
    Column(usize),
}

/// What is asked of the fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Params {
    /// Scale of the half-Cauchy prior of τ, on the scale of d.
    pub prior_scale: f64,
    /// A d beyond this is far above the usual; above 0.
    pub far_above: f64,
    /// A d beyond this is far below it; under 0.
    pub far_below: f64,
    /// Level of the intervals.
    pub level: f64,
}

/// A shop against the chain's usual.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Against {
    /// d; `n` is the shop's jobs.
    pub departure: Estimate,
    /// Chance that d is over `far_above`.
    pub chance_above: f64,
    /// Chance that d is under `far_below`.
    pub chance_below: f64,
}

/// The chain, fitted.
#[derive(Debug)]
pub struct Shops {
    people: People,
    grid: Grid,
    params: Params,
}

/// Leaves out the columns that others make up: a class without jobs, a finish
/// that goes with one class alone. Gives those kept, ascending.
///
/// # Errors
/// [`FitError::Shape`] where the numbers of columns differ.
pub fn thinned(each: &mut [Sums]) -> Result<Vec<usize>, FitError> {
    let mut all = Sums::new(each.first().map_or(0, |s| s.x.len()));
    for sums in each.iter() {
        all.merge(sums)?;
    }
    let kept = Rank::of_cross_products(&all.xx).kept;
    for sums in each {
        *sums = sums.only(&kept);
    }
    Ok(kept)
}

/// Fits the shops, each by its jobs' sums; `x` of `p` columns.
///
/// # Errors
/// [`FitError::NotEnough`] with fewer than two shops, or fewer than three jobs
/// more than columns; [`FitError::OutOfRange`] for a shop without jobs or
/// without load; [`FitError::Collinear`] for columns that cannot be told apart
/// ([`thinned`] leaves them out); [`FitError::NoSpread`] where the columns
/// explain everything; [`FitError::NotFinite`], [`FitError::Shape`],
/// [`FitError::Parameter`].
pub fn fit(each: &[Sums], load: Load, params: Params) -> Result<Shops, FitError> {
    check_params(params)?;
    if each.len() < 2 {
        return Err(NotEnough::new(each.len() as u64, 2, "shops with such jobs").into());
    }
    let people = match load {
        Load::Column(column) => People::along(each, column)?,
        Load::Even => {
            let columns = each.first().map_or(0, |s| s.x.len());
            People::new(each, &Sums::new(columns))?
        }
    };
    check(&people)?;
    let grid = Grid::new(&people, params.prior_scale, grid::SHOWN).map_err(in_words)?;
    Ok(Shops {
        people,
        grid,
        params,
    })
}

impl Shops {
    /// Number of shops.
    pub fn len(&self) -> usize {
        self.people.len()
    }

    /// True without shops, which [`fit`] refuses.
    pub fn is_empty(&self) -> bool {
        self.people.is_empty()
    }

    /// Every shop against the usual, in the order handed in.
    pub fn against(&self) -> Vec<Against> {
        let everybody: Vec<usize> = (0..self.len()).collect();
        let posteriors = self.grid.effects(&self.people, &everybody);
        let one = |(shop, d): (usize, &Mixture)| Against {
            departure: self.estimate(d, shop),
            chance_above: 1.0 - d.below(self.params.far_above),
            chance_below: d.below(self.params.far_below),
        };
        posteriors.iter().enumerate().map(one).collect()
    }

    /// What shop `shop` itself takes for the work `row` (p numbers) that bears
    /// `load` of its effect: r'β + l u; `n` is the shop's jobs. `None` for a
    /// shop that is not there, or a row of another length.
    pub fn own(&self, shop: usize, row: &[f64], load: f64) -> Option<Estimate> {
        let person = self.people.persons.get(shop)?;
        if row.len() != self.people.columns() {
            return None;
        }
        let row = DVector::from_column_slice(row);
        Some(self.estimate(&self.grid.own(person, &row, load), shop))
    }

    /// τ, the standard deviation between shops; `n` is the number of shops.
    pub fn between(&self) -> Estimate {
        let points = self.grid.points.iter();
        let tau = points.map(|p| [p.weight, p.theta * p.sigma]);
        mixture::weighted(tau, self.params.level, self.len() as u64)
    }

    /// σ, that of a shop's own jobs; `n` is the number of jobs.
    pub fn within(&self) -> Estimate {
        let sigma = self.grid.points.iter().map(|p| [p.weight, p.sigma]);
        mixture::weighted(sigma, self.params.level, self.people.all_jobs())
    }

    /// The tables of the fit, for [`super::sight`].
    pub fn tables(&self) -> &People {
        &self.people
    }

    fn estimate(&self, posterior: &Mixture, shop: usize) -> Estimate {
        let tail = (1.0 - self.params.level) / 2.0;
        Estimate {
            value: posterior.mean(),
            low: posterior.quantile(tail),
            high: posterior.quantile(1.0 - tail),
            level: self.params.level,
            n: self.people.jobs(shop),
        }
    }
}

/// The grid names minutes, as people have no other.
fn in_words(e: FitError) -> FitError {
    match e {
        FitError::NoSpread { .. } => FitError::NoSpread {
            what: "what shops take, once the work is taken out,",
        },
        other => other,
    }
}

fn check_params(params: Params) -> Result<(), FitError> {
    check_level(params.level)?;
    let above_0 = [
        ("scale of the prior", params.prior_scale),
        ("departure that counts as far above", params.far_above),
        (
            "departure that counts as far below, turned",
            -params.far_below,
        ),
    ];
    match above_0.iter().find(|(_, x)| !(x.is_finite() && *x > 0.0)) {
        None => Ok(()),
        Some((what, found)) => Err(FitError::Parameter {
            what,
            found: *found,
            expected: "above 0",
        }),
    }
}

fn check(people: &People) -> Result<(), FitError> {
    people.check_finite()?;
    let (jobs, need) = (people.all_jobs(), people.columns() as u64 + FREEDOM);
    if people.columns() == 0 || jobs < need {
        return Err(NotEnough::new(jobs, need.max(1 + FREEDOM), "jobs of the shops").into());
    }
    let columns = Rank::of_cross_products(&people.cross_products()).entangled();
    if columns.is_empty() {
        return Ok(());
    }
    Err(FitError::Collinear { columns })
}

#[cfg(test)]
mod tests;
