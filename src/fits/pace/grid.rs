//! The posterior of θ = τ/σ and σ on a grid, and the people's effects at
//! each of its points.
//!
//! θ runs over v in (0, 1) with τ = s tan(πv/2) at a typical σ, so that even
//! steps in v are even steps of the prior: first 64 of them, then 96 over
//! the part that carries the posterior ([`Cells`]). σ runs, at each θ, over 11 points in
//! ln σ, a standard deviation (1/√(2 df)) apart about its peak. Midpoint and
//! trapezoid rules on smooth functions: the error is far under what 2,000
//! simulated shops could show. Imagined shops ([`super::sight`]) take fewer.

use super::People;
use super::mixture::{Mixture, Normal};
use super::people::Person;
use crate::fits::error::FitError;
use crate::fits::positive::ScaledCholesky;
use nalgebra::{DMatrix, DVector};
use std::f64::consts::FRAC_PI_2;

/// Points in ln σ on each side of its peak.
const SIDE: i32 = 5;
/// Logarithm of the share of the highest density below which a cell of the
/// coarse grid is not refined.
const NOTHING: f64 = 14.0;
/// Share of the whole below which a point is left out.
const NO_WEIGHT: f64 = 1e-10;
/// Degrees of freedom from which on the points in σ at one θ count as one
/// normal of their mean variance in a person's posterior: σ is then known to
/// 1 %, and a t of so many degrees of freedom is a normal to the fifth digit.
const MANY: f64 = 5_000.0;
/// Share of the spread of y below which what the columns leave is rounding.
const NOTHING_LEFT: f64 = 1e-13;

/// Cells of the grid in v.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Cells {
    /// Over all of it.
    coarse: usize,
    /// Over the part that carries the posterior.
    fine: usize,
}

/// For figures that are shown: the errors at the head of the module.
pub(super) const SHOWN: Cells = Cells {
    coarse: 64,
    fine: 96,
};

/// For the chances of imagined people, which are only held against a limit: by
/// prior scales of 0.05 to 0.3 they are within 0.002 of those of [`SHOWN`].
const IMAGINED: Cells = Cells {
    coarse: 24,
    fine: 24,
};

impl Cells {
    /// For imagined people under a prior of this scale: few cells where they
    /// serve.
    pub(super) fn imagined(prior_scale: f64) -> Self {
        if (0.05..=0.3).contains(&prior_scale) {
            IMAGINED
        } else {
            SHOWN
        }
    }
}

/// What all people say together at one θ, for σ = 1.
#[derive(Debug)]
struct AtTheta {
    theta: f64,
    /// RSS(θ).
    rss: f64,
    /// −½ (ln|M| + Σ ln(1 + n θ²)).
    log_factor: f64,
    beta: DVector<f64>,
    /// M.
    factor: ScaledCholesky,
}

/// One point of the grid.
#[derive(Debug, Clone, Copy)]
pub(super) struct Point {
    /// Share of the posterior.
    pub(super) weight: f64,
    pub(super) theta: f64,
    pub(super) sigma: f64,
    /// Its place among the θ.
    at: usize,
}

/// The points that carry weight, and what is known at their θ.
#[derive(Debug)]
pub(super) struct Grid {
    pub(super) points: Vec<Point>,
    thetas: Vec<AtTheta>,
    /// n − p.
    df: f64,
}

/// What stays the same over the grid.
struct Setting<'a> {
    people: &'a People,
    scale: f64,
    cells: Cells,
    /// n − p.
    df: f64,
    /// σ at which v and θ are matched.
    typical: f64,
}

impl Grid {
    pub(super) fn new(people: &People, scale: f64, cells: Cells) -> Result<Self, FitError> {
        let df = (people.all_jobs() - people.columns() as u64) as f64;
        let start = at_theta(people, 1.0)?;
        let setting = Setting {
            people,
            scale,
            cells,
            df,
            typical: (start.rss / df).sqrt(),
        };
        let [from, to] = setting.region()?;
        let (mut weighed, mut thetas) = (Vec::new(), Vec::new());
        for cell in 0..cells.fine {
            let v = from + (to - from) * (cell as f64 + 0.5) / cells.fine as f64;
            let at = at_theta(people, setting.theta(v))?;
            weighed.extend(setting.points(v, &at, cell));
            thetas.push(at);
        }
        Ok(Self {
            points: normalised(weighed),
            thetas,
            df,
        })
    }

    /// The posterior of d of the people in `who`.
    pub(super) fn effects(&self, people: &People, who: &[usize]) -> Vec<Mixture> {
        let mut parts = vec![Vec::new(); who.len()];
        for same in self.points.chunk_by(|a, b| a.at == b.at) {
            let Some(at) = same.first().and_then(|p| self.thetas.get(p.at)) else {
                continue;
            };
            let effects = Effects::new(people, at);
            let sigmas = self.sigmas(same);
            for (parts, g) in parts.iter_mut().zip(who) {
                let [mean, relative_sd] = effects.centred(&people.persons[*g]);
                parts.extend(sigmas.iter().map(|[weight, sigma]| Normal {
                    weight: *weight,
                    mean,
                    sd: sigma * relative_sd,
                }));
            }
        }
        parts.into_iter().map(Mixture::new).collect()
    }

    /// The posterior of r'β + l u of person `g`: what such a person's job of
    /// the design row r and the load l takes. At each θ it is normal about
    /// r'β̂ + l û with variance σ² (l² k + a'M⁻¹a), a = r − l n k z̄.
    pub(super) fn own(&self, person: &Person, row: &DVector<f64>, load: f64) -> Mixture {
        let p = row.len();
        let mut parts = Vec::with_capacity(self.points.len());
        for same in self.points.chunk_by(|a, b| a.at == b.at) {
            let Some(at) = same.first().and_then(|p| self.thetas.get(p.at)) else {
                continue;
            };
            let k = k(person.weight, at.theta);
            let shrunk = person.weight * k;
            let means = person.mean.rows(0, p);
            let mean = row.dot(&at.beta) + load * shrunk * (person.mean[p] - means.dot(&at.beta));
            let away = row - means * (load * shrunk);
            let variance = load * load * k + away.dot(&at.factor.solve(&away));
            parts.extend(self.sigmas(same).iter().map(|[weight, sigma]| Normal {
                weight: *weight,
                mean,
                sd: sigma * variance.max(0.0).sqrt(),
            }));
        }
        Mixture::new(parts)
    }

    /// The same for a twin that puts no points together.
    #[cfg(test)]
    pub(super) fn with_all_sigmas(mut self) -> Self {
        self.df = 0.0;
        self
    }

    /// Weight and σ of the points at one θ; see [`MANY`].
    fn sigmas(&self, same: &[Point]) -> Vec<[f64; 2]> {
        if self.df < MANY {
            return same.iter().map(|p| [p.weight, p.sigma]).collect();
        }
        let weight: f64 = same.iter().map(|p| p.weight).sum();
        let square: f64 = same.iter().map(|p| p.weight * p.sigma * p.sigma).sum();
        vec![[weight, (square / weight).sqrt()]]
    }
}

impl Setting<'_> {
    fn theta(&self, v: f64) -> f64 {
        self.scale * (FRAC_PI_2 * v).tan() / self.typical
    }

    /// The part of (0, 1) that carries the posterior.
    fn region(&self) -> Result<[f64; 2], FitError> {
        let coarse = self.cells.coarse;
        let width = 1.0 / coarse as f64;
        let mut heights = Vec::with_capacity(coarse);
        for cell in 0..coarse {
            let v = (cell as f64 + 0.5) * width;
            let points = self.points(v, &at_theta(self.people, self.theta(v))?, cell);
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
        let last = heights.iter().rposition(carries).unwrap_or(coarse - 1);
        Ok([
            first.saturating_sub(1) as f64 * width,
            (last + 2).min(coarse) as f64 * width,
        ])
    }

    /// The points at one v; their weights are log densities in (v, ln σ),
    /// less the logarithm of the steps in ln σ (the same for all).
    fn points(&self, v: f64, at: &AtTheta, place: usize) -> Vec<Point> {
        let peak = 0.5 * (at.rss / self.df).ln();
        let step = 1.0 / (2.0 * self.df).sqrt();
        // dθ/dv, but for what is the same everywhere.
        let stretch = -2.0 * (FRAC_PI_2 * v).cos().ln();
        let point = |k: i32| {
            let sigma = (peak + f64::from(k) * step).exp();
            let likelihood = -self.df * sigma.ln() - 0.5 * at.rss / (sigma * sigma);
            let prior = -(at.theta * sigma / self.scale).powi(2).ln_1p() + sigma.ln();
            Point {
                weight: likelihood + at.log_factor + prior + stretch,
                theta: at.theta,
                sigma,
                at: place,
            }
        };
        (-SIDE..=SIDE).map(point).collect()
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
    let alike = people.alike.iter();
    let groups = alike.map(|a| a.people * (a.weight * ratio).ln_1p());
    let logs = groups.sum::<f64>() + people.shared_jobs as f64 * ratio.ln_1p();
    Ok(AtTheta {
        theta,
        rss,
        log_factor: -0.5 * (factor.log_determinant() + logs),
        beta,
        factor,
    })
}

/// What a person's d rests on at one θ, for σ = 1.
struct Effects<'a> {
    at: &'a AtTheta,
    /// M⁻¹.
    inverse: DMatrix<f64>,
    /// m, people.
    people: f64,
    /// Mean of û.
    u: f64,
    /// Σk/m².
    common: f64,
    /// ā.
    centre: DVector<f64>,
}

impl<'a> Effects<'a> {
    fn new(people: &People, at: &'a AtTheta) -> Self {
        let (p, m) = (at.beta.len(), people.len() as f64);
        let shrunk = |n: f64| n * k(n, at.theta);
        let mean = people.weighted_means(shrunk) / m;
        let centre = mean.rows(0, p).into_owned();
        let alike = people.alike.iter();
        let k: f64 = alike.map(|a| a.people * k(a.weight, at.theta)).sum();
        Self {
            at,
            inverse: at.factor.inverse(),
            people: m,
            u: mean[p] - centre.dot(&at.beta),
            common: k / (m * m),
            centre,
        }
    }

    /// Posterior mean of a person's d, and its standard deviation over σ.
    fn centred(&self, person: &Person) -> [f64; 2] {
        let p = self.centre.len();
        let k = k(person.weight, self.at.theta);
        let shrunk = person.weight * k;
        let fitted = person.mean.rows(0, p).dot(&self.at.beta);
        let away = |j: usize| shrunk * person.mean[j] - self.centre[j];
        let columns = self.inverse.as_slice().chunks_exact(p.max(1));
        let fixed: f64 = columns
            .enumerate()
            .map(|(j, column)| {
                let along = column.iter().enumerate().map(|(i, v)| v * away(i));
                away(j) * along.sum::<f64>()
            })
            .sum();
        let variance = k * (1.0 - 2.0 / self.people) + self.common + fixed;
        [
            shrunk * (person.mean[p] - fitted) - self.u,
            variance.max(0.0).sqrt(),
        ]
    }
}

/// θ²/(1 + n θ²).
fn k(n: f64, theta: f64) -> f64 {
    let ratio = theta * theta;
    ratio / (1.0 + n * ratio)
}
