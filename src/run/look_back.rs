//! What is found of the months before, out of jobs that nothing else looks at:
//! they are let go of with it.

use super::backtest::{self, Past};
use super::estimates::Columns;
use super::read::Folder;
use super::use_change;
use crate::findings::FindError;
use crate::findings::backtest::Backtest;
use crate::findings::use_change::UseChange;
use crate::measures::Measures;
use crate::settings::month::Month;
use std::collections::BTreeMap;

/// What is found of the months before.
pub(super) struct LookBack {
    /// The planning figures against what came.
    pub(super) backtest: Backtest,
    /// Coating use against the earlier window.
    pub(super) use_change: Option<UseChange>,
}

impl LookBack {
    /// Looks back through `history`; `full_area`: of a full job by class [m²].
    pub(super) fn of(
        folder: &Folder,
        history: Measures,
        full_area: &BTreeMap<String, f64>,
    ) -> Result<Self, FindError> {
        let columns = Columns::of(&history);
        let first = folder.span.map(|s| Month::of(s.first));
        let past = Past {
            measures: &history,
            columns: &columns,
            shop: &folder.shop,
            constants: &folder.constants,
            full_area,
            first: first.unwrap_or(folder.scope.window_from),
        };
        Ok(Self {
            use_change: use_change::use_change(past, &folder.scope)?,
            backtest: backtest::backtest(past, folder.scope.month),
        })
    }
}
