//! The offers' own mix, over which the curve averages.

use super::design::Design;
use super::{Used, priced};

/// The offers whose costs are known, as the curve takes them.
pub(super) struct Mix {
    design: Vec<f64>,
    pub(super) weights: Vec<f64>,
    pub(super) base: Vec<f64>,
    costs: Vec<f64>,
}

impl Mix {
    pub(super) fn of(used: &[Used<'_>], design: &Design, rows: &[usize]) -> Self {
        let of = |f: fn(&Used<'_>) -> f64| rows.iter().map(|i| f(&used[*i])).collect();
        Self {
            design: rows.iter().flat_map(|i| design.row(*i)).copied().collect(),
            weights: of(|u| u.offers.offers as f64),
            base: of(|u| u.list()),
            costs: of(|u| u.cost.unwrap_or(0.0)),
        }
    }

    pub(super) fn as_fit(&self, design: &Design, kept: f64) -> priced::Mix<'_> {
        priced::Mix {
            design: &self.design,
            price_column: design.price(),
            weights: &self.weights,
            base: &self.base,
            costs: &self.costs,
            kept,
        }
    }
}
