//! What a shop turned out to be: its people, its factors, its sales.

use super::law::tidy;
use super::{MonthTruth, PersonTruth, SellerTruth, ShopTruth, Truth};
use crate::invent::shop::{ShopRun, Tally};
use crate::invent::write::person_key;

impl Truth {
    /// Adds what a shop turned out to be.
    pub(in crate::invent) fn add_shop(&mut self, run: &ShopRun<'_>) {
        let shop = run.shop();
        self.shops.push(ShopTruth {
            shop,
            use_factor: tidy(run.bay.use_factor),
            minutes_factor: tidy(run.bay.pace.exp()),
        });
        self.people
            .extend(run.crew.workers.iter().map(|w| PersonTruth {
                person: person_key(w.person.number),
                shop,
                log_minutes: tidy(w.pace),
                spread_factor: tidy(w.spread),
                use_factor: tidy(w.use_factor),
                callback_factor: tidy(w.callback_factor),
                new: w.new,
            }));
        self.sellers
            .extend(run.crew.sellers.iter().map(|s| SellerTruth {
                person: person_key(s.person.number),
                shop,
                log_odds: tidy(s.effect),
            }));
        self.add_months(&run.tally);
    }

    fn add_months(&mut self, tally: &[Tally]) {
        self.plan.coated += tally.iter().map(|t| t.coated).sum::<u64>();
        for (place, t) in tally.iter().enumerate() {
            let month = t.first.format("%Y-%m").to_string();
            if self.attach.months.len() <= place {
                self.attach.months.push(MonthTruth {
                    month,
                    eligible: 0,
                    coated: 0,
                    expected_rate: 0.0,
                });
            }
            if let Some(sum) = self.attach.months.get_mut(place) {
                let before = sum.expected_rate * sum.eligible as f64;
                sum.eligible += t.eligible;
                sum.coated += t.coated;
                let rate = (before + t.expected) / (sum.eligible as f64).max(1.0);
                sum.expected_rate = tidy(rate);
            }
        }
    }
}
