//! The jobs sorted latest first within strata, and the partial likelihood
//! in one pass over them. Sums over those at risk only ever grow, so nothing
//! cancels.

use super::{Jobs, Ties};
use crate::fits::error::FitError;
use crate::fits::newton::Local;
use crate::fits::survival::Times;
use nalgebra::{DMatrix, DVector};
use smallvec::SmallVec;

/// Rows of one time in one stratum.
#[derive(Debug, Clone, Copy)]
struct Tied {
    from: usize,
    to: usize,
    failures: u64,
    /// Whether a stratum begins here (its risk set is empty before).
    begins: bool,
}

/// The jobs, sorted, centred and scaled.
#[derive(Debug)]
pub(super) struct Sorted {
    /// Covariates, row after row.
    x: Vec<f64>,
    failed: Vec<bool>,
    /// Jobs of each row.
    jobs: Vec<f64>,
    tied: Vec<Tied>,
    /// Standard deviation of each column (1 where it does not vary).
    pub(super) spread: Vec<f64>,
    columns: usize,
    ties: Ties,
}

/// Σ e^{x'β}, Σ x e^{x'β}, Σ xx' e^{x'β} (lower triangle, packed).
#[derive(Debug, Clone)]
struct Sums {
    zero: f64,
    one: Vec<f64>,
    two: Vec<f64>,
}

impl Sums {
    fn new(p: usize) -> Self {
        Self {
            zero: 0.0,
            one: vec![0.0; p],
            two: vec![0.0; p * (p + 1) / 2],
        }
    }

    fn clear(&mut self) {
        self.zero = 0.0;
        self.one.fill(0.0);
        self.two.fill(0.0);
    }

    fn scale(&mut self, by: f64) {
        self.zero *= by;
        self.one.iter_mut().for_each(|v| *v *= by);
        self.two.iter_mut().for_each(|v| *v *= by);
    }

    fn add(&mut self, x: &[f64], risk: f64) {
        self.zero += risk;
        let mut k = 0;
        for (i, xi) in x.iter().enumerate() {
            let by = risk * xi;
            self.one[i] += by;
            for xj in &x[..=i] {
                self.two[k] += by * xj;
                k += 1;
            }
        }
    }
}

impl Sorted {
    pub(super) fn new(jobs: &Jobs<'_>, ties: Ties) -> Result<Self, FitError> {
        let (time, p) = (jobs.times.time, jobs.columns);
        let stratum = |i: usize| jobs.strata.map_or(0, |s| s[i]);
        let mut order: Vec<usize> = (0..time.len()).collect();
        order.sort_unstable_by(|&a, &b| {
            let by_time = || time[b].total_cmp(&time[a]);
            stratum(a).cmp(&stratum(b)).then_with(by_time)
        });
        let [centre, spread] = moments(jobs);
        let scaled = |&i: &usize| {
            let row = jobs.covariates[i * p..(i + 1) * p].iter();
            let moments = centre.iter().zip(&spread);
            row.zip(moments)
                .map(|(x, (c, s))| (x - c) / s)
                .collect::<Vec<_>>()
        };
        Ok(Self {
            x: order.iter().flat_map(scaled).collect(),
            failed: order.iter().map(|&i| jobs.times.failed[i]).collect(),
            jobs: (order.iter().map(|&i| jobs.times.jobs_of(i) as f64)).collect(),
            tied: blocks(&order, stratum, jobs.times),
            spread,
            columns: p,
            ties,
        })
    }

    fn row(&self, i: usize) -> &[f64] {
        &self.x[i * self.columns..(i + 1) * self.columns]
    }

    fn linear(&self, beta: &DVector<f64>) -> Vec<f64> {
        let dot = |row: &[f64]| row.iter().zip(beta.iter()).map(|(x, b)| x * b).sum();
        self.x.chunks_exact(self.columns).map(dot).collect()
    }

    /// The log partial likelihood at β with its derivatives.
    pub(super) fn at(&self, beta: &DVector<f64>) -> Option<Local> {
        let eta = self.linear(beta);
        let mut sweep = Sweep::new(self.columns);
        for tied in &self.tied {
            if tied.begins {
                sweep.begin();
            }
            sweep.failing.clear();
            for (i, eta) in (tied.from..tied.to).zip(&eta[tied.from..tied.to]) {
                sweep.enter(self.row(i), *eta, self.jobs[i], self.failed[i]);
            }
            for l in 0..tied.failures {
                let share = match self.ties {
                    Ties::Efron => l as f64 / tied.failures as f64,
                    Ties::Breslow => 0.0,
                };
                sweep.take_off(share);
            }
        }
        sweep.finish()
    }

    /// The columns in which `step` runs off, if at every failure time the
    /// failing ranks highest along it.
    pub(super) fn runs_off(&self, step: &DVector<f64>) -> Option<Vec<usize>> {
        const SLACK: f64 = 1e-6;
        let along = self.linear(step);
        let reach = along.iter().fold(0.0_f64, |m, a| m.max(a.abs()));
        if reach == 0.0 || !reach.is_finite() {
            return None;
        }
        let mut highest = f64::NEG_INFINITY;
        for tied in &self.tied {
            if tied.begins {
                highest = f64::NEG_INFINITY;
            }
            let now = tied.from..tied.to;
            highest = now.clone().fold(highest, |m, i| m.max(along[i]));
            let behind = |i: usize| self.failed[i] && along[i] < highest - SLACK * reach;
            if now.into_iter().any(behind) {
                return None;
            }
        }
        let runs = |&j: &usize| step[j].abs() > SLACK * step.amax();
        Some((0..step.len()).filter(runs).collect())
    }
}

/// The state of a pass over the jobs.
#[derive(Debug)]
struct Sweep {
    local: Local,
    /// Sums over those at risk.
    risk: Sums,
    /// Sums over those failing now.
    failing: Sums,
    /// Largest η of those at risk, which all sums are taken relative to: so
    /// none overflows, and the sum over those at risk is never under 1.
    top: f64,
}

impl Sweep {
    fn new(p: usize) -> Self {
        Self {
            local: Local {
                value: 0.0,
                gradient: DVector::zeros(p),
                information: DMatrix::zeros(p, p),
            },
            risk: Sums::new(p),
            failing: Sums::new(p),
            top: f64::NEG_INFINITY,
        }
    }

    /// Begins a stratum: nobody is at risk yet.
    fn begin(&mut self) {
        self.risk.clear();
        self.top = f64::NEG_INFINITY;
    }

    /// Adds so many jobs to those at risk, and to those failing.
    fn enter(&mut self, x: &[f64], eta: f64, jobs: f64, failed: bool) {
        if eta > self.top {
            let shrink = (self.top - eta).exp();
            self.risk.scale(shrink);
            self.failing.scale(shrink);
            self.top = eta;
        }
        let weight = jobs * (eta - self.top).exp();
        self.risk.add(x, weight);
        if failed {
            self.failing.add(x, weight);
            self.local.value += jobs * eta;
            for (g, x) in self.local.gradient.iter_mut().zip(x) {
                *g += jobs * x;
            }
        }
    }

    /// Takes one failure's term off: ln φ, its gradient and its curvature,
    /// with φ = S_0 − share·D_0.
    fn take_off(&mut self, share: f64) {
        let (risk, failing, local) = (&self.risk, &self.failing, &mut self.local);
        let phi = risk.zero - share * failing.zero;
        local.value -= phi.ln() + self.top;
        let sums = risk.one.iter().zip(&failing.one);
        let mean: SmallVec<[f64; 8]> = sums.map(|(s, d)| (s - share * d) / phi).collect();
        let mut k = 0;
        for i in 0..mean.len() {
            local.gradient[i] -= mean[i];
            for j in 0..=i {
                let second = (risk.two[k] - share * failing.two[k]) / phi;
                local.information[(i, j)] += second - mean[i] * mean[j];
                k += 1;
            }
        }
    }

    /// The likelihood, where it is finite.
    fn finish(mut self) -> Option<Local> {
        let local = &mut self.local;
        local.information.fill_upper_triangle_with_lower_triangle();
        let finite = local.value.is_finite() && local.information.iter().all(|v| v.is_finite());
        finite.then_some(self.local)
    }
}

/// Mean and standard deviation of each column.
fn moments(jobs: &Jobs<'_>) -> [Vec<f64>; 2] {
    let (p, n) = (jobs.columns, jobs.times.total() as f64);
    let rows = || jobs.covariates.chunks_exact(p).enumerate();
    let part = |row: usize| jobs.times.jobs_of(row) as f64 / n;
    let mut centre = vec![0.0; p];
    for (i, row) in rows() {
        (row.iter().zip(&mut centre)).for_each(|(x, c)| *c += x * part(i));
    }
    let mut squares = vec![0.0; p];
    for (i, row) in rows() {
        for (j, x) in row.iter().enumerate() {
            squares[j] += (x - centre[j]).powi(2) * part(i);
        }
    }
    let sd = |s: &f64| if *s > 0.0 { s.sqrt() } else { 1.0 };
    [centre, squares.iter().map(sd).collect()]
}

/// The runs of equal time and stratum in `order`.
fn blocks(order: &[usize], stratum: impl Fn(usize) -> usize, times: Times<'_>) -> Vec<Tied> {
    let mut tied = Vec::new();
    let mut from = 0;
    for one in order.chunk_by(|&a, &b| stratum(a) == stratum(b)) {
        let mut begins = true;
        for rows in one.chunk_by(|&a, &b| times.time[a] == times.time[b]) {
            let failed = rows.iter().filter(|&&i| times.failed[i]);
            tied.push(Tied {
                from,
                to: from + rows.len(),
                failures: failed.map(|&i| times.jobs_of(i)).sum(),
                begins,
            });
            from += rows.len();
            begins = false;
        }
    }
    tied
}
