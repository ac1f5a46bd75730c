//! The mixed model over the columns that stand, and what is missing.

use super::gathered::Gathered;
use super::{LEAST_DF, LEAST_JOBS};
use crate::estimate::{Figure, NotEnough};
use crate::fits::collinear::Rank;
use crate::fits::error::FitError;
use crate::fits::interval::t_interval;
use crate::fits::mixed::{GroupStatistics, MixedFit, RandomIntercept};

/// The rows' statistics, the columns that stand, and the fit where there are
/// rows enough.
#[derive(Debug, Clone)]
pub(super) struct Model {
    pub(super) rows: u64,
    /// Jobs carrying each column.
    pub(super) carrying: Vec<u64>,
    pub(super) rank: Rank,
    pub(super) fit: Option<MixedFit>,
}

impl Model {
    pub(super) fn new(gathered: &Gathered) -> Result<Self, FitError> {
        let statistics: &GroupStatistics = &gathered.statistics;
        let rank = Rank::of_cross_products(&statistics.cross_products());
        let need = rank.kept.len() as u64 + LEAST_DF;
        let enough = !rank.kept.is_empty() && statistics.rows() >= need;
        let fit = enough
            .then(|| RandomIntercept::default().fit(&statistics.select(&rank.kept)))
            .transpose()?;
        Ok(Self {
            rows: statistics.rows(),
            carrying: gathered.carrying.clone(),
            rank,
            fit,
        })
    }

    /// Place of a column among those that are fitted.
    pub(super) fn place(&self, column: usize) -> Option<usize> {
        self.rank.kept.binary_search(&column).ok()
    }

    /// What is missing where there are too few rows for any fit.
    pub(super) fn too_few(&self) -> NotEnough {
        let need = self.rank.kept.len() as u64 + LEAST_DF;
        NotEnough::new(self.rows, need, "timed jobs")
    }

    /// Why column `j` has no figure, if it has none.
    pub(super) fn missing(&self, j: usize) -> Option<NotEnough> {
        let jobs = self.carrying[j];
        if jobs < LEAST_JOBS {
            return Some(NotEnough::new(jobs, LEAST_JOBS, "timed jobs that carry it"));
        }
        if self.fit.is_none() {
            return Some(self.too_few());
        }
        let entangled = self.rank.entangled().contains(&j);
        entangled.then(|| {
            NotEnough::new(
                0,
                LEAST_JOBS,
                "timed jobs that tell it apart from the others",
            )
        })
    }

    /// Weights over the fitted columns from weights over all of them.
    pub(super) fn fitted_columns(&self, l: &[f64]) -> Vec<f64> {
        let weight = |j: &usize| l.get(*j).copied().unwrap_or(0.0);
        self.rank.kept.iter().map(weight).collect()
    }

    /// Column `j` with its interval on the log scale.
    pub(super) fn column(&self, j: usize, level: f64) -> Figure {
        let fit = match (self.missing(j), &self.fit) {
            (Some(missing), _) => return missing.into(),
            (None, Some(fit)) => fit,
            (None, None) => return self.too_few().into(),
        };
        let mut l = vec![0.0; self.carrying.len()];
        l[j] = 1.0;
        let c = fit.combination(&self.fitted_columns(&l));
        t_interval(c.value, c.standard_error, c.df, level, self.carrying[j]).into()
    }
}
