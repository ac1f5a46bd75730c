//! Callbacks month by month, each month against its limits.

use super::{Count, exact};
use crate::estimate::{Figure, NotEnough};
use crate::findings::certainty::{LEAST_IN_A_MONTH, LIMIT_LEVEL};
use crate::findings::{FindError, Scope};
use crate::fits::proportion;
use crate::measures::Measures;
use crate::settings::month::Month;
use std::collections::BTreeMap;

/// One month's callbacks, by the month in which the job was finished.
#[derive(Debug, Clone, PartialEq)]
pub struct MonthRate {
    /// The month.
    pub month: Month,
    /// Coated jobs, and those of them that came back for coating work.
    pub count: Count,
    /// Share that came back, exact range.
    pub rate: Figure,
    /// Lower limit of the usual for so many jobs.
    pub usual_low: Option<f64>,
    /// Upper limit.
    pub usual_high: Option<f64>,
}

/// A month against its limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// More came back than the usual allows.
    Above,
    /// Fewer.
    Below,
    /// Within the limits.
    Within,
    /// Too few jobs, in the month or before it.
    TooFew,
}

impl MonthRate {
    /// Where the month stands against its limits.
    pub fn standing(&self) -> Standing {
        let (Some(rate), Some(low), Some(high)) =
            (self.rate.value(), self.usual_low, self.usual_high)
        else {
            return Standing::TooFew;
        };
        match rate {
            r if r > high => Standing::Above,
            r if r < low => Standing::Below,
            _ => Standing::Within,
        }
    }

    /// True where the month lies outside its limits.
    pub fn is_outside(&self) -> bool {
        matches!(self.standing(), Standing::Above | Standing::Below)
    }
}

pub(super) fn months(
    m: &Measures,
    jobs: &[usize],
    scope: &Scope,
) -> Result<Vec<MonthRate>, FindError> {
    let mut counts: BTreeMap<Month, Count> = BTreeMap::new();
    let mut month = scope.window_from;
    while month <= scope.month {
        counts.insert(month, Count { yes: 0, of: 0 });
        month = month.plus(1);
    }
    for job in jobs.iter().map(|i| &m.coated[*i]) {
        if let Some(c) = counts.get_mut(&job.month) {
            c.of += 1;
            c.yes += u64::from(job.came_back());
        }
    }
    let usual = counts.iter().filter(|(month, _)| scope.is_usual(**month));
    let usual = usual.fold(Count { yes: 0, of: 0 }, |c, (_, x)| Count {
        yes: c.yes + x.yes,
        of: c.of + x.of,
    });
    counts
        .into_iter()
        .map(|(month, c)| month_rate(month, c, usual))
        .collect()
}

fn month_rate(month: Month, count: Count, usual: Count) -> Result<MonthRate, FindError> {
    let enough = count.of >= LEAST_IN_A_MONTH;
    let limits = (enough && usual.of >= LEAST_IN_A_MONTH).then(|| {
        let rate = usual.yes as f64 / usual.of as f64;
        proportion::chart_limits(rate, count.of, LIMIT_LEVEL, 1.0)
    });
    let limits = limits.flatten();
    let rate = if enough {
        exact(count, "coated jobs")?
    } else {
        NotEnough::new(count.of, LEAST_IN_A_MONTH, "coated jobs").into()
    };
    Ok(MonthRate {
        month,
        count,
        rate,
        usual_low: limits.map(|l| l.low),
        usual_high: limits.map(|l| l.high),
    })
}
