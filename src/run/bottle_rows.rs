//! Emptied bottles become rows of the use fit: what a bottle held, less its
//! left-over, less what was measured on it, is the sum over its jobs that were
//! not measured.
//!
//! Where spells name their bottle, that is used: the last job on an emptied
//! bottle goes on with the bottle that was opened that day, if one was. Where
//! a shop names none, jobs belong to the bottle that was open on their day, and
//! the jobs of a day on which one bottle was emptied and the next opened
//! straddle both. How much of a straddling job came from which bottle is not
//! known. Where it was measured, its two bottles count as one, which needs no
//! such knowledge; so do bottles that were open side by side, or that one job
//! emptied whole.

mod cellar;
mod laid;

use super::estimates::Kinds;
use crate::findings::consumption::BottleUse;
use crate::fits::consumption::{Bottle, Bottles, Straddle};
use crate::fits::error::FitError;
use crate::measures::{Draw, Measures};
use crate::settings::month::Month;
use cellar::Cellar;
use laid::Laid;
use std::collections::{BTreeMap, BTreeSet};

/// Every shop's bottles with the jobs laid to them, for any months.
#[derive(Debug, Default)]
pub(super) struct Cellars {
    /// By the shop's key.
    shops: Vec<Laid>,
    /// Months with a job on the bottles that was not measured.
    unmeasured: BTreeSet<Month>,
}

/// Bottles of some months as rows, and what was done.
#[derive(Debug, Clone, Default)]
pub(super) struct Gathered {
    bottles: Vec<Bottle>,
    straddles: Vec<Straddle>,
    pub(super) told: BottleUse,
}

/// What a bottle gave to unmeasured jobs, and which.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Load {
    /// mL.
    pub(super) used: f64,
    /// Jobs, then their areas by finish [m²]; a straddling job counts half.
    pub(super) columns: Vec<f64>,
}

impl Cellars {
    /// `finishes`: those that the fits tell apart.
    pub(super) fn of(m: &Measures, finishes: &Kinds) -> Self {
        let mut shops: BTreeMap<&str, Cellar<'_>> = BTreeMap::new();
        for (i, span) in m.bottle_spans.iter().enumerate() {
            let cellar = shops
                .entry(&span.shop)
                .or_insert_with(|| Cellar::new(m, finishes));
            cellar.bottles.push(i);
        }
        let mut unmeasured = BTreeSet::new();
        let of = |draw: &Draw| &m.coated[draw.job as usize];
        for own in m.draws.chunk_by(|a, b| of(a).shop == of(b).shop) {
            if let Some(cellar) = own.first().and_then(|d| shops.get_mut(of(d).shop.as_str())) {
                cellar.draws.extend_from_slice(own);
            }
        }
        for job in m.draws.iter().map(of).filter(|job| job.used.is_none()) {
            unmeasured.insert(job.month);
        }
        let shops = shops.into_values().map(Cellar::close).collect();
        Self { shops, unmeasured }
    }

    /// Rows of the bottles that were opened and emptied in months that `keep`
    /// keeps; none where every job of them is measured.
    pub(super) fn gather(&self, m: &Measures, keep: &dyn Fn(Month) -> bool) -> Gathered {
        let mut all = Gathered::default();
        if !self.unmeasured.iter().any(|month| keep(*month)) {
            return all;
        }
        for laid in &self.shops {
            all.told.by_name |= laid.by_name;
            all.told.by_date |= !laid.by_name;
            laid.rows(m, keep, &mut all);
        }
        all
    }
}

impl Gathered {
    /// Rows for the fit; `None` where there is no bottle.
    ///
    /// # Errors
    /// [`FitError::OutOfRange`] where the fit refuses them.
    pub(super) fn rows(self) -> Result<Option<Bottles>, FitError> {
        if self.bottles.is_empty() {
            return Ok(None);
        }
        Bottles::new(self.bottles, self.straddles).map(Some)
    }

    /// The rows as loads, straddling jobs halved.
    pub(super) fn loads(&self) -> Vec<Load> {
        let load = |b: &Bottle| Load {
            used: b.used,
            columns: std::iter::once(b.jobs as f64)
                .chain(b.areas.iter().copied())
                .collect(),
        };
        let mut all: Vec<Load> = self.bottles.iter().map(load).collect();
        for s in &self.straddles {
            for end in [s.from, s.into].into_iter().flatten() {
                let Some(load) = all.get_mut(end) else {
                    continue;
                };
                let half = std::iter::once(1.0).chain(s.areas.iter().copied());
                for (sum, x) in load.columns.iter_mut().zip(half) {
                    *sum += x / 2.0;
                }
            }
        }
        all.retain(|l| l.columns[0] > 0.0);
        all
    }
}
