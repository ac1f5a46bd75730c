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
mod rows;

use super::estimates::Basis;
use crate::findings::consumption::BottleUse;
use crate::fits::consumption::{Bottle, Bottles, Straddle};
use crate::fits::error::FitError;
use crate::measures::Draw;
use crate::settings::month::Month;
use cellar::Cellar;
use std::collections::BTreeMap;

/// Rows for the fit, and what was done.
#[derive(Debug, Clone, Default)]
pub(super) struct BottleRows {
    /// `None` where no bottle has an unmeasured job.
    pub(super) rows: Option<Bottles>,
    pub(super) told: BottleUse,
    bottles: Vec<Bottle>,
    straddles: Vec<Straddle>,
}

/// What a bottle gave to unmeasured jobs, and which.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Load {
    /// mL.
    pub(super) used: f64,
    /// Jobs, then their areas by finish [m²]; a straddling job counts half.
    pub(super) columns: Vec<f64>,
}

impl BottleRows {
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

/// Rows of the bottles that were opened and emptied in months that `keep`
/// keeps.
pub(super) fn bottle_rows(
    b: &Basis<'_>,
    keep: &dyn Fn(Month) -> bool,
) -> Result<BottleRows, FitError> {
    let m = b.measures;
    let job = |d: &Draw| &m.coated[d.job as usize];
    let unmeasured = |d: &Draw| job(d).used.is_none() && keep(job(d).month);
    let mut all = BottleRows::default();
    if m.bottle_spans.is_empty() || !m.draws.iter().any(unmeasured) {
        return Ok(all);
    }
    let mut shops: BTreeMap<&str, Cellar<'_>> = BTreeMap::new();
    for (i, span) in m.bottle_spans.iter().enumerate() {
        let cellar = shops
            .entry(&span.shop)
            .or_insert_with(|| Cellar::new(b, keep));
        cellar.bottles.push(i);
    }
    for draw in &m.draws {
        if let Some(cellar) = shops.get_mut(job(draw).shop.as_str()) {
            cellar.draws.push(*draw);
        }
    }
    let (mut bottles, mut straddles) = (Vec::new(), Vec::new());
    for cellar in shops.into_values() {
        cellar.close(&mut bottles, &mut straddles, &mut all.told);
    }
    if !bottles.is_empty() {
        all.rows = Some(Bottles::new(bottles.clone(), straddles.clone())?);
        all.bottles = bottles;
        all.straddles = straddles;
    }
    Ok(all)
}
