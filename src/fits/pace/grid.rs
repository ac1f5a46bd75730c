//! The posterior of θ = τ/σ and σ on a grid, and the people's effects at
//! each of its points.
//!
//! θ runs over v in (0, 1) with τ = s tan(πv/2) at a typical σ, so that even
//! steps in v are even steps of the prior: first 64 of them, then 96 over
//! the part that carries the posterior. σ runs, at each θ, over 11 points in
//! ln σ, a standard deviation (1/√(2 df)) apart about its peak. Midpoint and
//! trapezoid rules on smooth functions: the error is far under what 2,000
//! simulated shops could show.

use super::People;
use crate::fits::error::FitError;
use crate::fits::positive::ScaledCholesky;
use nalgebra::DVector;
use std::f64::consts::FRAC_PI_2;

const COARSE: usize = 64;
const FINE: usize = 96;
/// Points in ln σ on each side of its peak.
const SIDE: i32 = 5;
/// Logarithm of the share of the highest density below which a cell of the
/// coarse grid is not refined.
const NOTHING: f64 = 14.0;
/// Share of the whole below which a point is left out.
const NO_WEIGHT: f64 = 1e-10;
/// Share of the spread of y below which what the columns leave is rounding.
const NOTHING_LEFT: f64 = 1e-13;

/// The people at one θ, for σ = 1.
#[derive(Debug, Clone)]
struct AtTheta {
    theta: f64,
    /// RSS(θ).
    rss: f64,
    /// −½ (ln|M| + Σ ln(1 + n θ²)).
    log_factor: f64,
    /// Posterior mean of each d.
    mean: Vec<f64>,
    /// Posterior standard deviation of each d over σ.
    relative_sd: Vec<f64>,
}

/// One point of the grid.
#[derive(Debug, Clone)]
pub(super) struct Point {
    /// Share of the posterior.
    pub(super) weight: f64,
    pub(super) theta: f64,
    pub(super) sigma: f64,
    pub(super) mean: std::rc::Rc<[f64]>,
    pub(super) relative_sd: std::rc::Rc<[f64]>,
}

/// The points that carry weight.
#[derive(Debug, Clone)]
pub(super) struct Grid {
    pub(super) points: Vec<Point>,
}

/// What stays the same over the grid.
struct Setting<'a> {
    people: &'a People,
    scale: f64,
    /// n − p.
    df: f64,
    /// σ at which v and θ are matched.
    typical: f64,
}

impl Grid {
    pub(super) fn new(people: &People, scale: f64) -> Result<Self, FitError> {
        let df = (people.all_jobs() - people.columns() as u64) as f64;
        let start = at_theta(people, 1.0)?;
        let setting = Setting {
            people,
            scale,
            df,
            typical: (start.rss / df).sqrt(),
        };
        let [from, to] = setting.region()?;
        let mut weighed = Vec::new();
        for cell in 0..FINE {
            let v = from + (to - from) * (cell as f64 + 0.5) / FINE as f64;
            weighed.extend(setting.points(v)?);
        }
        Ok(Self {
            points: normalised(weighed),
        })
    }
}

impl Setting<'_> {
    fn theta(&self, v: f64) -> f64 {
        self.scale * (FRAC_PI_2 * v).tan() / self.typical
    }

    /// The part of (0, 1) that carries the posterior.
    fn region(&self) -> Result<[f64; 2], FitError> {
        let width = 1.0 / COARSE as f64;
        let mut heights = Vec::with_capacity(COARSE);
        for cell in 0..COARSE {
            let points = self.points((cell as f64 + 0.5) * width)?;
            heights.push(
                points
                    .iter()
                    .map(|p| p.weight)
                    .fold(f64::NEG_INFINITY, f64::max),
            );
        }
        let top = heights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let carries = |h: &f64| *h > top - NOTHING;
        let first = heights.iter().position(carries).unwrap_or(0);
        let last = heights.iter().rposition(carries).unwrap_or(COARSE - 1);
        Ok([
            first.saturating_sub(1) as f64 * width,
            (last + 2).min(COARSE) as f64 * width,
        ])
    }

    /// The points at one v; their weights are log densities in (v, ln σ),
    /// less the logarithm of the steps in ln σ (the same for all).
    fn points(&self, v: f64) -> Result<Vec<Point>, FitError> {
        let at = at_theta(self.people, self.theta(v))?;
        let peak = 0.5 * (at.rss / self.df).ln();
        let step = 1.0 / (2.0 * self.df).sqrt();
        // dθ/dv, but for what is the same everywhere.
        let stretch = -2.0 * (FRAC_PI_2 * v).cos().ln();
        let (mean, relative_sd) = (at.mean.into(), at.relative_sd.into());
        let point = |k: i32| {
            let sigma = (peak + f64::from(k) * step).exp();
            let likelihood = -self.df * sigma.ln() - 0.5 * at.rss / (sigma * sigma);
            let prior = -(at.theta * sigma / self.scale).powi(2).ln_1p() + sigma.ln();
            Point {
                weight: likelihood + at.log_factor + prior + stretch,
                theta: at.theta,
                sigma,
                mean: std::rc::Rc::clone(&mean),
                relative_sd: std::rc::Rc::clone(&relative_sd),
            }
        };
        Ok((-SIDE..=SIDE).map(point).collect())
    }
}

/// Log densities to shares; points without weight left out.
fn normalised(mut points: Vec<Point>) -> Vec<Point> {
    let top = points
        .iter()
        .map(|p| p.weight)
        .fold(f64::NEG_INFINITY, f64::max);
    for point in &mut points {
        point.weight = (point.weight - top).exp();
    }
    let whole: f64 = points.iter().map(|p| p.weight).sum();
    points.retain(|p| p.weight > NO_WEIGHT * whole);
    let kept: f64 = points.iter().map(|p| p.weight).sum();
    for point in &mut points {
        point.weight /= kept;
    }
    points
}

fn at_theta(people: &People, theta: f64) -> Result<AtTheta, FitError> {
    let (p, ratio) = (people.columns(), theta * theta);
    let table = people.combine(|n| n / (1.0 + n * ratio), 1.0 / (1.0 + ratio));
    let factor = ScaledCholesky::new(&table.view((0, 0), (p, p)).into_owned());
    let factor = factor.ok_or_else(|| FitError::Collinear {
        columns: (0..p).collect(),
    })?;
    let right = table.view((0, p), (p, 1)).column(0).into_owned();
    let beta = factor.solve(&right);
    let rss = table[(p, p)] - beta.dot(&right);
    if rss <= NOTHING_LEFT * table[(p, p)] {
        let what = "minutes, once class, area and finish are taken out,";
        return Err(FitError::NoSpread { what });
    }
    let groups = people.persons.iter().map(|g| (g.jobs * ratio).ln_1p());
    let logs = groups.sum::<f64>() + people.shared_jobs as f64 * ratio.ln_1p();
    let effects = Effects::new(people, ratio, &beta);
    Ok(AtTheta {
        theta,
        rss,
        log_factor: -0.5 * (factor.log_determinant() + logs),
        mean: effects.centred_means(),
        relative_sd: effects.centred_sds(&factor),
    })
}

/// û, k and a of each person.
struct Effects {
    u: Vec<f64>,
    k: Vec<f64>,
    a: Vec<DVector<f64>>,
}

impl Effects {
    fn new(people: &People, ratio: f64, beta: &DVector<f64>) -> Self {
        let p = beta.len();
        let k: Vec<f64> = people
            .persons
            .iter()
            .map(|g| ratio / (1.0 + g.jobs * ratio))
            .collect();
        let each = || people.persons.iter().zip(&k);
        let a = each()
            .map(|(g, k)| g.mean.rows(0, p) * (g.jobs * k))
            .collect();
        let residual = |mean: &DVector<f64>| mean[p] - mean.rows(0, p).dot(beta);
        let u = each()
            .map(|(g, k)| g.jobs * k * residual(&g.mean))
            .collect();
        Self { u, k, a }
    }

    fn centred_means(&self) -> Vec<f64> {
        let mean = self.u.iter().sum::<f64>() / self.u.len() as f64;
        self.u.iter().map(|u| u - mean).collect()
    }

    fn centred_sds(&self, factor: &ScaledCholesky) -> Vec<f64> {
        let m = self.k.len() as f64;
        let p = self.a.first().map_or(0, |a| a.len());
        let centre = self.a.iter().fold(DVector::zeros(p), |sum, a| sum + a) / m;
        let common = self.k.iter().sum::<f64>() / (m * m);
        let variance = |(k, a): (&f64, &DVector<f64>)| {
            let away = a - &centre;
            let fixed = away.dot(&factor.solve(&away));
            (k * (1.0 - 2.0 / m) + common + fixed).max(0.0)
        };
        self.k
            .iter()
            .zip(&self.a)
            .map(variance)
            .map(f64::sqrt)
            .collect()
    }
}
