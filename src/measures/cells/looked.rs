//! The months that the queries looked at.

use super::error::CellsError;
use crate::measures::View;
use crate::settings::month::Month;

/// Months that a run of the queries looked at, in order.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Looked {
    /// The table `window_months`.
    pub window: Vec<Month>,
    /// The table `spans`.
    pub spans: Vec<Month>,
}

impl Looked {
    /// Those of a review.
    pub(in crate::measures) fn of_view(view: View) -> Self {
        Self {
            window: months(view.window_from, view.month),
            spans: months(view.first(), view.month),
        }
    }

    /// Those of a look back.
    pub(in crate::measures) fn from(from: Month, until: Month) -> Self {
        Self {
            window: months(from, until),
            spans: months(from, until),
        }
    }

    /// The months of both.
    pub(super) fn with(mut self, other: &Self) -> Self {
        self.window.extend(&other.window);
        self.spans.extend(&other.spans);
        for all in [&mut self.window, &mut self.spans] {
            all.sort_unstable();
            all.dedup();
        }
        self
    }
}

fn months(from: Month, until: Month) -> Vec<Month> {
    let all = (0..).map(|i| from.plus(i));
    all.take_while(|m| *m <= until).collect()
}

/// The complaint about an empty table of months.
pub(super) fn empty(table: &str) -> CellsError {
    CellsError::Months {
        table: table.to_string(),
        found: "none".into(),
        expected: "those of its window".into(),
    }
}

/// Holds a table of months to `from`..=`until`.
pub(super) fn hold(
    table: &str,
    found: &[Month],
    from: Month,
    until: Month,
) -> Result<(), CellsError> {
    let needed = months(from, until);
    if found == needed {
        return Ok(());
    }
    Err(CellsError::Months {
        table: table.to_string(),
        found: words(found),
        expected: words(&needed),
    })
}

/// Months in words.
fn words(all: &[Month]) -> String {
    match (all.first(), all.last()) {
        (Some(a), Some(b)) if months(*a, *b) == all => format!("{a} to {b}"),
        (Some(_), Some(_)) => {
            let names: Vec<String> = all.iter().map(Month::to_string).collect();
            names.join(", ")
        }
        _ => "none".into(),
    }
}
