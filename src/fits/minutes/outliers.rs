//! Jobs far from the rest of their class.

use super::design::{Carried, Jobs};
use super::model::Model;
use crate::fits::collinear::Rank;
use crate::fits::mixed::MixedFit;
use crate::fits::record::{LeftOut, Why};
use crate::fits::robust::{far_from_the_rest, stays_far};
use foldhash::fast::RandomState;
use std::collections::HashMap;

/// Jobs whose residual (log scale, the person's effect taken out) lies far
/// from the others' of the class, in classes of ten jobs or more.
pub(super) fn far(jobs: &Jobs, left_out: &[LeftOut], rank: &Rank, fit: &MixedFit) -> Vec<LeftOut> {
    let effects: HashMap<u64, f64, RandomState> =
        fit.effects.iter().map(|e| (e.label, e.value)).collect();
    let mut cells = vec![Cell::default(); jobs.shape().classes];
    let mut beta = vec![0.0; jobs.columns()];
    for (column, b) in rank.kept.iter().zip(&fit.coefficients) {
        beta[*column] = *b;
    }
    let mut row = Carried::new();
    for job in jobs.used(left_out) {
        jobs.carried(job, &mut row);
        let fitted: f64 = row.iter().map(|(j, v)| v * beta[*j]).sum();
        let person = jobs.person_of(job).and_then(|p| effects.get(&p).copied());
        let cell = &mut cells[jobs.class_of(job)];
        cell.jobs.push(job);
        cell.residuals
            .push(jobs.log_minutes(job) - fitted - person.unwrap_or(0.0));
    }
    let found: Vec<LeftOut> = cells.iter().flat_map(Cell::far).collect();
    merged(&[], &found)
}

/// Of the jobs called far those that stay far from the fit without them,
/// their person's effect in that fit taken out. A job with a column that no
/// other job carries cannot be judged and stays in.
pub(super) fn still_far(jobs: &Jobs, called: &[LeftOut], without: &Model) -> Vec<LeftOut> {
    let Some(fit) = &without.fit else {
        return Vec::new();
    };
    let mut row = vec![0.0; jobs.columns()];
    let mut stays = |l: &&LeftOut| {
        jobs.fill_row(l.row, &mut row);
        let judged = (row.iter().enumerate()).all(|(j, v)| *v == 0.0 || without.place(j).is_some());
        let person = jobs.person_of(l.row);
        let mean = fit.combination(&without.fitted_columns(&row));
        let effect = person.map_or(0.0, |p| fit.effect_of(p));
        // A shared job, like one of a person not seen, carries tau too.
        let own = if person.is_none() {
            fit.group_variance
        } else {
            0.0
        };
        let variance = fit.residual_variance + own + mean.standard_error.powi(2);
        let distance = jobs.log_minutes(l.row) - mean.value - effect;
        judged && stays_far(distance, variance.sqrt())
    };
    called.iter().filter(|l| stays(l)).copied().collect()
}

/// Both lists in the order of their rows.
pub(super) fn merged(a: &[LeftOut], b: &[LeftOut]) -> Vec<LeftOut> {
    let mut all = [a, b].concat();
    all.sort_by_key(|l| l.row);
    all
}

/// One class.
#[derive(Debug, Clone, Default)]
struct Cell {
    jobs: Vec<usize>,
    residuals: Vec<f64>,
}

impl Cell {
    fn far(&self) -> Vec<LeftOut> {
        (far_from_the_rest(&self.residuals).into_iter())
            .map(|f| LeftOut {
                row: self.jobs[f.at],
                why: Why::FarFromTheRest { score: f.score },
            })
            .collect()
    }
}
