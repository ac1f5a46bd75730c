//! Coating used as rows for sums by shop: what the work takes by the chain's
//! own constants stands in front, since a shop's effect goes along it.

use super::{Basis, Use};
use crate::estimate::Figure;
use crate::fits::error::FitError;

/// Columns before those of the finishes: what the work takes, and a one for
/// the set-up.
pub(in crate::run) const BEFORE_FINISHES: usize = 2;

/// What the pooled jobs say that work takes.
#[derive(Debug)]
pub(in crate::run) struct Needs {
    /// mL a job.
    setup: f64,
    /// mL per m², by finish that is told apart; `None` where the jobs do not
    /// tell.
    rates: Vec<Option<f64>>,
}

impl Needs {
    /// Columns of the rows.
    pub(in crate::run) fn columns(&self) -> usize {
        BEFORE_FINISHES + self.rates.len()
    }
}

impl Use {
    /// By the jobs alone, shops pooled.
    pub(in crate::run) fn needs(&self) -> Needs {
        let finishes = self.fit.finishes.iter();
        Needs {
            setup: self.fit.setup.data_alone.value().unwrap_or(0.0),
            rates: finishes.map(|f| f.data_alone.value()).collect(),
        }
    }

    /// Passes each measured job that took part in the fit, by its place among
    /// the coated ones, to `take` with its row and its mL, all over √area, so
    /// that their errors have one variance.
    pub(in crate::run) fn each_row(
        &self,
        b: &Basis<'_>,
        needs: &Needs,
        mut take: impl FnMut(usize, &[f64], f64) -> Result<(), FitError>,
    ) -> Result<(), FitError> {
        let mut row = vec![0.0; needs.columns()];
        for place in self.kept() {
            let areas = b.columns.areas_of(place);
            let area: f64 = areas.iter().sum();
            let Some(used) = b.columns.used[place].filter(|_| area > 0.0) else {
                continue;
            };
            let root = area.sqrt();
            let rates = needs.rates.iter().map(|r| r.unwrap_or(0.0));
            let load: f64 = rates.zip(areas).map(|(rate, area)| rate * area).sum();
            row[0] = (needs.setup + load) / root;
            row[1] = 1.0 / root;
            for (to, area) in row[BEFORE_FINISHES..].iter_mut().zip(areas) {
                *to = area / root;
            }
            take(place, &row, used / root)?;
        }
        Ok(())
    }
}

/// The known ones of named figures, with their numbers.
pub(in crate::run) fn known<'a>(
    all: impl Iterator<Item = (&'a String, &'a Figure)>,
) -> Vec<(usize, &'a str, f64)> {
    let named = all.enumerate();
    named
        .filter_map(|(i, (name, figure))| Some((i, name.as_str(), figure.value()?)))
        .collect()
}
