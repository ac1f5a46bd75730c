//! The plan's changes, as they stand on one day.

use super::kinds::Sample;
use super::plan::{Change, Plan};
use chrono::NaiveDate;

/// Factors and shifts in force on a day.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Today {
    /// Added to the log odds of acceptance.
    pub(super) accept_logit: f64,
    /// How often each way of showing is used.
    pub(super) sample_share: [f64; 3],
    /// Factor on use, by finish.
    pub(super) use_factor: [f64; 4],
    /// Factor on minutes.
    pub(super) minutes_factor: f64,
    /// Factor on the cost of bottles.
    pub(super) cost_factor: f64,
}

impl Today {
    /// What is in force on `day`; later changes of one kind multiply (or, for
    /// log odds, add to) earlier ones.
    pub(super) fn on(day: NaiveDate, plan: &Plan) -> Self {
        let mut today = Self {
            accept_logit: 0.0,
            sample_share: plan.law.sale.sample_share,
            use_factor: [1.0; 4],
            minutes_factor: 1.0,
            cost_factor: 1.0,
        };
        for drift in plan.drifts.iter().filter(|d| d.from <= day) {
            today.apply(drift.change);
        }
        today
    }

    fn apply(&mut self, change: Change) {
        match change {
            Change::AcceptLogit(shift) => self.accept_logit += shift,
            Change::FullPairShare(share) => self.show_full_pair(share),
            Change::Use { finish, factor } => self.use_factor[finish.place()] *= factor,
            Change::Minutes(factor) => self.minutes_factor *= factor,
            Change::Cost(factor) => self.cost_factor *= factor,
        }
    }

    fn show_full_pair(&mut self, share: f64) {
        let full = Sample::FullPair.place();
        let others = 1.0 - self.sample_share[full];
        if others > 0.0 {
            let scale = (1.0 - share) / others;
            self.sample_share.iter_mut().for_each(|s| *s *= scale);
        }
        self.sample_share[full] = share;
    }
}

#[cfg(test)]
mod tests {
    use super::super::kinds::Finish;
    use super::super::plan::day;
    use super::*;

    #[test]
    fn changes_hold_from_their_day_on_and_shares_still_add_up() {
        let plan = Plan::film_shop();
        let before = Today::on(day(2026, 9, 30), &plan);
        let after = Today::on(day(2026, 10, 1), &plan);
        assert_eq!(before.accept_logit, 0.0);
        assert!(after.accept_logit > 0.0);
        assert_eq!(after.sample_share[Sample::FullPair.place()], 0.6);
        let sum: f64 = after.sample_share.iter().sum();
        assert!((sum - 1.0).abs() < 1e-12);
        assert!(after.use_factor[Finish::Satin.place()] > 1.0);
        assert_eq!(Today::on(day(2025, 1, 1), &plan).cost_factor, 1.0);
    }
}
