//! The fit itself: weighted least squares of measured jobs, or generalised
//! least squares where bottle rows join them.
//!
//! With V = sigma^2 D + K, D the spread of the jobs themselves (A_i for a
//! measured one) and K the spread of straddling jobs, sigma^2 is the root of
//! the REML score, K being taken at the fitted use, again and again until both
//! stand still. With Phi = (X'V^-1 X)^-1, P = -X'V^-1 D V^-1 X and Q = X'V^-1 D
//! V^-1 D V^-1 X:
//!
//! ```text
//! score      = tr(V^-1 D) + tr(Phi P) - r'V^-1 D V^-1 r
//! 1/w        = 1/2 [tr(V^-1 D V^-1 D) - 2 tr(Phi Q) + tr(Phi P Phi P)]
//! covariance = Phi + 2 w Phi (Q - P Phi P) Phi
//! df(l)      = 2 (l'Phi l)^2 / (w (l'Phi P Phi l)^2)
//! ```
//!
//! which is Kenward and Roger's rule (1997, doi:10.2307/2533558) for one
//! variance. Without bottle rows K is zero, the score gives rss/(n - p), and
//! the rest the usual covariance with n - p degrees of freedom exactly.

use super::Expected;
use super::active_set::not_negative;
use super::bottles::Bottles;
use crate::estimate::Estimate;
use crate::fits::collinear::Rank;
use crate::fits::error::FitError;
use crate::fits::interval::t_interval;
use crate::fits::linear::{Design, LeastSquares};
use crate::fits::positive::ScaledCholesky;
use crate::fits::record::Ended;
use crate::fits::roots::{Bracket, find_root};
use nalgebra::{DMatrix, DVector};

mod chain;
use chain::BottleRows;

/// Rounds of K after which the search ends.
const MOST_ROUNDS: u32 = 100;

/// Rounds in which the fitted use is taken over as it is.
const FULL_STEPS: u32 = 20;

/// The rows of a fit: measured jobs, and bottles.
#[derive(Debug, Clone)]
pub(super) struct Rows {
    columns: usize,
    /// Measured jobs by their place in the input.
    jobs: Vec<usize>,
    /// n x columns, row-major.
    x: Vec<f64>,
    used: Vec<f64>,
    area: Vec<f64>,
    bottles: Option<BottleRows>,
    carrying: Vec<u64>,
}

impl Rows {
    pub(super) fn new(columns: usize) -> Self {
        Self {
            columns,
            jobs: Vec::new(),
            x: Vec::new(),
            used: Vec::new(),
            area: Vec::new(),
            bottles: None,
            carrying: vec![0; columns],
        }
    }

    pub(super) fn measure(&mut self, job: usize, used: f64, areas: &[f64]) {
        self.jobs.push(job);
        self.used.push(used);
        self.area.push(areas.iter().sum());
        self.x.push(1.0);
        self.x.extend_from_slice(areas);
        self.carry(1, areas);
    }

    pub(super) fn add_bottles(&mut self, bottles: &Bottles) {
        if bottles.order.is_empty() {
            return;
        }
        for &b in &bottles.order {
            let bottle = &bottles.bottles[b];
            self.carry(bottle.jobs, &bottle.areas);
        }
        let rows = BottleRows::new(bottles, self.columns);
        for straddle in rows.straddles() {
            self.carry(1, &bottles.straddles[straddle].areas);
        }
        self.bottles = Some(rows);
    }

    /// Counts towards s by jobs, towards a finish once.
    fn carry(&mut self, jobs: u64, areas: &[f64]) {
        self.carrying[0] += jobs;
        for (count, area) in self.carrying[1..].iter_mut().zip(areas) {
            *count += u64::from(*area > 0.0);
        }
    }

    pub(super) fn columns(&self) -> usize {
        self.columns
    }

    /// Jobs (or bottles, for a finish) that carry column `j`.
    pub(super) fn jobs_carrying(&self, j: usize) -> u64 {
        self.carrying[j]
    }

    pub(super) fn columns_in_use(&self) -> u64 {
        self.carrying.iter().filter(|c| **c > 0).count() as u64
    }

    pub(super) fn measured_count(&self) -> usize {
        self.jobs.len()
    }

    pub(super) fn bottle_count(&self) -> usize {
        self.bottles.as_ref().map_or(0, BottleRows::count)
    }

    pub(super) fn count(&self) -> u64 {
        (self.measured_count() + self.bottle_count()) as u64
    }

    pub(super) fn job_of(&self, row: usize) -> usize {
        self.jobs[row]
    }

    /// Mean area of finish `f` over the measured jobs that have any.
    pub(super) fn typical_area(&self, f: usize) -> Option<f64> {
        let areas = self.x.chunks_exact(self.columns).map(|x| x[1 + f]);
        let (n, sum) = areas.filter(|a| *a > 0.0).fold((0.0, 0.0), |s, a| (s.0 + 1.0, s.1 + a));
        (n > 0.0).then_some(sum / n)
    }

    /// Mean area of a measured job.
    pub(super) fn typical_job(&self) -> Option<f64> {
        let n = self.area.len() as f64;
        (n > 0.0).then(|| self.area.iter().sum::<f64>() / n)
    }

    /// (M_i - x_i beta) / sqrt(A_i) of the measured jobs.
    pub(super) fn scaled_residuals(&self, beta: &[f64]) -> Vec<f64> {
        let rows = self.x.chunks_exact(self.columns).zip(&self.used).zip(&self.area);
        rows.map(|((x, y), a)| (y - dot(x, beta)) / a.sqrt()).collect()
    }

    /// sum z z'/A over the measured jobs, z = (x, y).
    fn measured_table(&self) -> DMatrix<f64> {
        let p = self.columns;
        let mut table = DMatrix::zeros(p + 1, p + 1);
        let rows = self.x.chunks_exact(p).zip(&self.used).zip(&self.area);
        for ((x, y), a) in rows {
            let z = DVector::from_fn(p + 1, |j, _| if j == p { *y } else { x[j] });
            table.ger(1.0 / a, &z, &z, 1.0);
        }
        table
    }

    /// X'V^-1 X and X'V^-1 y with sigma^2 = 1 for measured jobs alone, or at
    /// the fit's sigma^2, times it; with y'V^-1 y in the corner.
    pub(super) fn unit_table(&self, fitted: Option<&Fitted>) -> Option<DMatrix<f64>> {
        let measured = self.measured_table();
        let Some(bottles) = &self.bottles else {
            return Some(measured);
        };
        let fitted = fitted?;
        let spread = bottles.spread(&fitted.beta);
        let tables = bottles.tables(&spread, fitted.sigma2)?;
        Some(measured + tables.plain * fitted.sigma2)
    }
}

fn dot(x: &[f64], beta: &[f64]) -> f64 {
    x.iter().zip(beta).map(|(a, b)| a * b).sum()
}

/// A fit of the data alone. Vectors and matrices have all columns; those that
/// could not be told apart hold zeros.
#[derive(Debug, Clone)]
pub(super) struct Fitted {
    /// Unconstrained.
    pub(super) beta: Vec<f64>,
    /// With no coefficient below zero.
    pub(super) value: Vec<f64>,
    pub(super) sigma2: f64,
    /// Rows less coefficients.
    pub(super) df: u64,
    pub(super) iterations: u32,
    pub(super) ended: Ended,
    pub(super) covariance: DMatrix<f64>,
    plain: DMatrix<f64>,
    /// Phi P Phi.
    slope: DMatrix<f64>,
    /// w.
    variance_of_sigma2: f64,
    rank: Rank,
}

/// A variance's root, and the degrees of freedom that match it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spread {
    pub(super) standard_error: f64,
    pub(super) df: f64,
}

impl Fitted {
    /// Whether column `j` stands by itself.
    pub(super) fn tells_apart(&self, j: usize) -> bool {
        !self.rank.entangled().contains(&j)
    }

    /// Value of column `j`, with the unconstrained interval cut at 0.
    pub(super) fn figure(&self, j: usize, level: f64, n: u64) -> Estimate {
        let mut l = vec![0.0; self.beta.len()];
        l[j] = 1.0;
        let free = self.unconstrained(&l);
        let interval = t_interval(free.mean, free.standard_error, free.df, level, n);
        let value = self.value[j];
        Estimate {
            value,
            low: interval.low.max(0.0).min(value),
            high: interval.high.max(value),
            ..interval
        }
    }

    pub(super) fn combination(&self, l: &[f64]) -> Expected {
        Expected {
            mean: dot(l, &self.value),
            ..self.unconstrained(l)
        }
    }

    /// l'beta of the unconstrained solution.
    pub(super) fn unconstrained(&self, l: &[f64]) -> Expected {
        let v = DVector::from_column_slice(l);
        let plain = v.dot(&(&self.plain * &v));
        let slope = v.dot(&(&self.slope * &v));
        Expected {
            mean: dot(l, &self.beta),
            standard_error: v.dot(&(&self.covariance * &v)).max(0.0).sqrt(),
            df: self.matched(plain, -slope),
        }
    }

    /// Spread of a new job of `area` m2 about its fitted mean.
    pub(super) fn new_job(&self, l: &[f64], area: f64) -> Spread {
        let v = DVector::from_column_slice(l);
        let own = self.sigma2 * area;
        let plain = v.dot(&(&self.plain * &v));
        let slope = v.dot(&(&self.slope * &v));
        let error = v.dot(&(&self.covariance * &v)).max(0.0);
        Spread {
            standard_error: (own + error).sqrt(),
            df: self.matched(own + plain, area - slope),
        }
    }

    /// Satterthwaite: 2 variance^2 over the variance of the variance. Rows
    /// less columns is what it comes to where sigma^2 is all there is to V, and
    /// so its least: with 8 bottles the ratio alone falls below 1 at times.
    fn matched(&self, variance: f64, gradient: f64) -> f64 {
        let spread = self.variance_of_sigma2 * gradient * gradient;
        if spread > 0.0 {
            (2.0 * variance * variance / spread).max(self.df as f64)
        } else {
            f64::INFINITY
        }
    }
}

/// Fits the rows; `None` where no degree of freedom is left.
pub(super) fn fit(rows: &Rows) -> Result<Option<Fitted>, FitError> {
    let crude = crude_table(rows);
    let p = rows.columns;
    let rank = Rank::of_cross_products(&crude.view((0, 0), (p, p)).into_owned());
    if rank.kept.is_empty() || rows.count() <= rank.kept.len() as u64 {
        return Ok(None);
    }
    match &rows.bottles {
        None => measured_alone(rows, rank).map(Some),
        Some(bottles) => with_bottles(rows, bottles, rank, &crude).map(Some),
    }
}

/// Cross-products with every row weighted by its area, straddles halved.
fn crude_table(rows: &Rows) -> DMatrix<f64> {
    let measured = rows.measured_table();
    rows.bottles.as_ref().map_or(measured.clone(), |b| measured + b.crude_table())
}

fn measured_alone(rows: &Rows, rank: Rank) -> Result<Fitted, FitError> {
    let design: Vec<f64> = (rows.x.chunks_exact(rows.columns))
        .flat_map(|x| rank.kept.iter().map(|j| x[*j]))
        .collect();
    let weights: Vec<f64> = rows.area.iter().map(|a| 1.0 / a).collect();
    let design = Design::new(&design, rank.kept.len())?;
    let solved = LeastSquares::new(design, &rows.used)?.weighted(&weights)?.fit()?;
    let df = solved.degrees_of_freedom;
    let sigma2 = solved.residual_squares / df as f64;
    let beta = DVector::from_vec(solved.coefficients);
    let unit = solved.unscaled_covariance;
    let normal = select(&rows.measured_table(), &rank.kept);
    let right = table_right(&rows.measured_table(), &rank.kept);
    let value = not_negative(&normal, &right);
    Ok(Fitted {
        beta: spread_vector(&beta, &rank, rows.columns),
        value: spread_vector(&value, &rank, rows.columns),
        sigma2,
        df,
        iterations: 0,
        ended: Ended::Direct,
        covariance: spread_matrix(&(&unit * sigma2), &rank, rows.columns),
        plain: spread_matrix(&(&unit * sigma2), &rank, rows.columns),
        slope: spread_matrix(&-unit, &rank, rows.columns),
        variance_of_sigma2: 2.0 * sigma2 * sigma2 / df as f64,
        rank,
    })
}

fn with_bottles(
    rows: &Rows,
    bottles: &BottleRows,
    rank: Rank,
    crude: &DMatrix<f64>,
) -> Result<Fitted, FitError> {
    let model = Model {
        bottles,
        measured: rows.measured_table(),
        measured_count: rows.measured_count() as f64,
        kept: &rank.kept,
    };
    let df = rows.count() - rank.kept.len() as u64;
    let (mut beta, start) = crude_fit(crude, &rank.kept, df)?;
    let mut rounds = 0;
    let (state, ended) = loop {
        rounds += 1;
        let full = spread_vector(&beta, &rank, rows.columns);
        let spread = bottles.spread(&full);
        let found = model.best(&spread, start)?;
        let moved = (&found.state.beta - &beta).amax();
        if moved <= 1e-10 * (found.state.beta.amax() + 1e-12) {
            break (found.state, found.ended);
        }
        if rounds == MOST_ROUNDS {
            break (found.state, Ended::OutOfIterations);
        }
        // Full steps settle in 5 to 10 rounds; with 7 bottles they can swing
        // between two answers, and half steps end that.
        let step = if rounds <= FULL_STEPS { 1.0 } else { 0.5 };
        beta += (&found.state.beta - &beta) * step;
    };
    let phi = state.factor.inverse();
    let moved = &phi * &state.p;
    let w = 2.0 / (state.trace2 - 2.0 * (&phi * &state.q).trace() + (&moved * &moved).trace());
    let w = if w.is_finite() && w > 0.0 { w } else { 0.0 };
    let added = &phi * (&state.q - &state.p * &phi * &state.p) * &phi * w;
    let value = not_negative(&state.a, &state.right);
    let all = rows.columns;
    Ok(Fitted {
        value: spread_vector(&value, &rank, all),
        beta: spread_vector(&state.beta, &rank, all),
        sigma2: state.sigma2,
        df,
        iterations: rounds,
        ended,
        covariance: spread_matrix(&(&phi + (&added + added.transpose())), &rank, all),
        slope: spread_matrix(&(&moved * &phi), &rank, all),
        plain: spread_matrix(&phi, &rank, all),
        variance_of_sigma2: w,
        rank,
    })
}

/// beta and a first sigma^2 with the rows taken as independent.
fn crude_fit(
    crude: &DMatrix<f64>,
    kept: &[usize],
    df: u64,
) -> Result<(DVector<f64>, f64), FitError> {
    let right = table_right(crude, kept);
    let factor = ScaledCholesky::new(&select(crude, kept)).ok_or_else(|| FitError::Collinear {
        columns: kept.to_vec(),
    })?;
    let beta = factor.solve(&right);
    let last = crude.nrows() - 1;
    let left = crude[(last, last)] - beta.dot(&right);
    let floor = 1e-12 * crude[(last, last)];
    Ok((beta, left.max(floor) / df as f64))
}

/// Measured jobs and bottles with the columns that are kept.
struct Model<'a> {
    bottles: &'a BottleRows,
    measured: DMatrix<f64>,
    measured_count: f64,
    kept: &'a [usize],
}

/// The model at one sigma^2.
struct State {
    sigma2: f64,
    beta: DVector<f64>,
    /// X'V^-1 X.
    a: DMatrix<f64>,
    /// X'V^-1 y.
    right: DVector<f64>,
    factor: ScaledCholesky,
    p: DMatrix<f64>,
    q: DMatrix<f64>,
    trace2: f64,
    score: f64,
    /// -2 ln of the restricted likelihood, constants apart.
    value: f64,
}

struct Best {
    state: State,
    ended: Ended,
}

impl Model<'_> {
    fn at(&self, spread: &[f64], sigma2: f64) -> Result<State, FitError> {
        let lost = || FitError::DidNotConverge {
            what: "spread of the jobs between bottles",
            iterations: 0,
        };
        let b = self.bottles.tables(spread, sigma2).ok_or_else(lost)?;
        let n = self.measured_count;
        let plain = &self.measured / sigma2 + b.plain;
        let once = &self.measured / -(sigma2 * sigma2) + b.once;
        let twice = &self.measured / sigma2.powi(3) + b.twice;
        let a = select(&plain, self.kept);
        let right = table_right(&plain, self.kept);
        let factor = ScaledCholesky::new(&a).ok_or_else(lost)?;
        let beta = factor.solve(&right);
        let last = plain.nrows() - 1;
        let rss = plain[(last, last)] - beta.dot(&right);
        let p = select(&once, self.kept);
        let pull = table_right(&once, self.kept);
        let residual = once[(last, last)] - 2.0 * beta.dot(&pull) + beta.dot(&(&p * &beta));
        Ok(State {
            score: n / sigma2 + b.trace + factor.inverse().component_mul(&p).sum() + residual,
            value: n * sigma2.ln() + b.log_determinant + factor.log_determinant() + rss,
            trace2: n / (sigma2 * sigma2) + b.trace2,
            q: select(&twice, self.kept),
            sigma2,
            beta,
            a,
            right,
            factor,
            p,
        })
    }

    /// The sigma^2 of greatest restricted likelihood, looked for from a
    /// millionth to ten thousand times the crude one.
    fn best(&self, spread: &[f64], start: f64) -> Result<Best, FitError> {
        let mut before = self.at(spread, start * 1e-6)?;
        let mut best: Option<State> = None;
        let lowest = before.sigma2;
        for step in 1..=20 {
            let sigma2 = start * 10f64.powf(-6.0 + f64::from(step) / 2.0);
            let here = self.at(spread, sigma2)?;
            if before.score < 0.0 && here.score >= 0.0 {
                let bracket = Bracket {
                    low: before.sigma2,
                    at_low: before.score,
                    high: here.sigma2,
                    at_high: here.score,
                };
                let root = find_root(bracket, 1e-13, |s| Ok(self.at(spread, s)?.score))?;
                let state = self.at(spread, root)?;
                if best.as_ref().is_none_or(|b| state.value < b.value) {
                    best = Some(state);
                }
            }
            before = here;
        }
        let boundary = self.at(spread, lowest)?;
        Ok(match best {
            Some(state) if state.value <= boundary.value => Best {
                state,
                ended: Ended::Converged,
            },
            _ => Best {
                state: boundary,
                ended: Ended::AtBoundary,
            },
        })
    }
}

fn select(table: &DMatrix<f64>, kept: &[usize]) -> DMatrix<f64> {
    DMatrix::from_fn(kept.len(), kept.len(), |i, j| table[(kept[i], kept[j])])
}

fn table_right(table: &DMatrix<f64>, kept: &[usize]) -> DVector<f64> {
    let last = table.ncols() - 1;
    DVector::from_fn(kept.len(), |i, _| table[(kept[i], last)])
}

fn spread_vector(part: &DVector<f64>, rank: &Rank, columns: usize) -> Vec<f64> {
    let mut whole = vec![0.0; columns];
    for (i, j) in rank.kept.iter().enumerate() {
        whole[*j] = part[i];
    }
    whole
}

fn spread_matrix(part: &DMatrix<f64>, rank: &Rank, columns: usize) -> DMatrix<f64> {
    let mut whole = DMatrix::zeros(columns, columns);
    for (a, i) in rank.kept.iter().enumerate() {
        for (b, j) in rank.kept.iter().enumerate() {
            whole[(*i, *j)] = part[(a, b)];
        }
    }
    whole
}
