//! The four figures of the first screen, month by month, as each month's own
//! review has them.

use super::Findings;
use super::certainty::{Certainty, Change, Range};
use super::headline::Moved;
use crate::estimate::Estimate;
use crate::settings::month::Month;

/// The four figures, in the order of the first screen.
pub const FIGURES: [Moved; 4] = [Moved::Attach, Moved::Margin, Moved::Use, Moved::Minutes];

/// A month's figures.
#[derive(Debug, Clone, PartialEq)]
pub struct YearMonth {
    /// The month.
    pub month: Month,
    /// Film jobs finished.
    pub finished: u64,
    /// Of those that the coating suits, coated.
    pub coated: u64,
    /// In the order of [`FIGURES`].
    pub figures: [FigureMonth; 4],
}

/// One figure of a month. Units: share; minor units per coated job; mL/m²;
/// minutes per job.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FigureMonth {
    /// As the first screen shows it; `None` where the month had too few jobs.
    pub value: Option<f64>,
    /// The same with its likely range (0.95).
    pub likely: Option<Estimate>,
    /// The usual that the month was held against.
    pub usual: Option<f64>,
    /// Where it falls when nothing has changed.
    pub range: Option<Range>,
    /// How sure its change was; `None` where the section lacks something.
    pub certainty: Option<Certainty>,
}

impl FigureMonth {
    const NONE: Self = Self {
        value: None,
        likely: None,
        usual: None,
        range: None,
        certainty: None,
    };

    fn of(value: Option<f64>, change: &Change) -> Self {
        // The same jobs but for those that the fits leave out: the range goes
        // along to the figure that the month's page shows.
        let moved = |e: Estimate, x: f64| e.map(|v| v * x / e.value);
        let likely = (change.now.zip(value))
            .filter(|(e, _)| e.value != 0.0)
            .map(|(e, x)| moved(e, x));
        Self {
            value,
            likely: likely.or(change.now.filter(|_| value.is_some())),
            usual: change.usual,
            range: change.range,
            certainty: Some(change.certainty),
        }
    }
}

/// The figures of a month's review.
pub fn figures(f: &Findings) -> YearMonth {
    let a = &f.attach;
    let margin = f.margin.as_ref();
    let used = f.consumption.as_ref();
    let minutes = f.minutes.as_ref();
    YearMonth {
        month: f.scope.month,
        finished: a.eligible + a.excluded,
        coated: a.coated,
        figures: [
            FigureMonth::of(a.rate.value(), &a.change),
            margin.map_or(FigureMonth::NONE, |m| {
                FigureMonth::of(m.per_job.value(), &m.change)
            }),
            used.map_or(FigureMonth::NONE, |u| FigureMonth::of(u.now, &u.change)),
            minutes.map_or(FigureMonth::NONE, |m| FigureMonth::of(m.now, &m.change)),
        ],
    }
}
