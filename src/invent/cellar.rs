//! Bottles: one is open at a time, jobs draw from it in order, and a job that
//! empties it goes on with the next.

use super::draws::{Draws, Purpose, rounded};
use super::plan::Plan;
use super::tables::{Bottle, Tables};
use crate::money::Minor;
use chrono::NaiveDate;

/// Bottles of one lot.
const LOT: u64 = 24;
/// Sd of the log of a lot's cost round the going one.
const LOT_COST_SD: f64 = 0.012;
/// What stays in an emptied bottle and is thrown away [share of its volume].
const LEFT_OVER_LEAST: f64 = 0.002;
const LEFT_OVER_MOST: f64 = 0.015;
/// Less than this in a bottle is nothing [mL].
const NOTHING: f64 = 1.0e-6;

/// The bottles of a shop.
#[derive(Debug)]
pub(super) struct Cellar {
    shop: u32,
    next: u64,
    opened: u64,
    first_lot: u64,
    lot_cost: f64,
    open: Option<Open>,
}

#[derive(Debug)]
struct Open {
    bottle: Bottle,
    left_over: f64,
    holds: f64,
}

impl Cellar {
    /// An empty cellar; its first bottle has number `first`.
    pub(super) fn new(shop: u32, first: u64, draws: &mut Draws) -> Self {
        Self {
            shop,
            next: first,
            opened: 0,
            first_lot: 100 + draws.of(Purpose::Bottle).below(400),
            lot_cost: 1.0,
            open: None,
        }
    }

    /// Draws `ml` on a day, emptying and opening bottles as it goes. Gives the
    /// bottle that was drawn on first.
    pub(super) fn draw(
        &mut self,
        mut ml: f64,
        day: NaiveDate,
        cost_factor: f64,
        plan: &Plan,
        draws: &mut Draws,
        tables: &mut Tables,
    ) -> u64 {
        let mut first = None;
        loop {
            let mut open = match self.open.take() {
                Some(open) => open,
                None => self.open(day, cost_factor, plan, draws),
            };
            first = first.or(Some(open.bottle.number));
            let taken = ml.min(open.holds);
            open.holds -= taken;
            ml -= taken;
            if open.holds > NOTHING {
                self.open = Some(open);
            } else {
                tables.bottles.push(open.emptied(day));
            }
            if ml <= NOTHING {
                return first.unwrap_or(self.next);
            }
        }
    }

    /// Writes down the bottle that is still open at the end.
    pub(super) fn close(&mut self, tables: &mut Tables) {
        if let Some(open) = self.open.take() {
            tables.bottles.push(open.bottle);
        }
    }

    fn open(&mut self, day: NaiveDate, factor: f64, plan: &Plan, draws: &mut Draws) -> Open {
        let mut stream = draws.of(Purpose::Bottle);
        if self.opened.is_multiple_of(LOT) {
            self.lot_cost = stream.normal(LOT_COST_SD).exp();
        }
        let share = stream.between(LEFT_OVER_LEAST, LEFT_OVER_MOST);
        let left_over = rounded(plan.bottle_ml * share, 1);
        let cost = plan.law.cost_per_ml * plan.bottle_ml * factor * self.lot_cost;
        let bottle = Bottle {
            shop: self.shop,
            number: self.next,
            lot: self.first_lot + self.opened / LOT,
            opened_on: day,
            emptied_on: None,
            volume: plan.bottle_ml,
            left_over: None,
            cost: Minor((cost * 100.0).round() as i64),
        };
        self.next += 1;
        self.opened += 1;
        Open {
            left_over,
            holds: plan.bottle_ml - left_over,
            bottle,
        }
    }
}

impl Open {
    fn emptied(self, day: NaiveDate) -> Bottle {
        Bottle {
            emptied_on: Some(day),
            left_over: Some(self.left_over),
            ..self.bottle
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::law::Residual;
    use super::super::plan::day;
    use super::*;

    #[test]
    fn what_is_drawn_is_what_the_bottles_held() {
        let plan = Plan {
            bottle_ml: 15.0,
            ..Plan::default()
        };
        let mut draws = Draws::new(1, 1, Residual::Normal).unwrap();
        let mut cellar = Cellar::new(1, 1, &mut draws);
        let mut tables = Tables::default();
        let mut drawn = 0.0;
        for job in 0..200 {
            let ml = 5.0 + f64::from(job % 40);
            cellar.draw(ml, day(2026, 1, 1), 1.0, &plan, &mut draws, &mut tables);
            drawn += ml;
        }
        let rest = cellar.open.as_ref().map_or(0.0, |o| o.holds + o.left_over);
        cellar.close(&mut tables);
        let held = 15.0 * tables.bottles.len() as f64;
        let thrown: f64 = tables.bottles.iter().filter_map(|b| b.left_over).sum();
        assert!((held - thrown - rest - drawn).abs() < 1e-6);
        let numbers: Vec<u64> = tables.bottles.iter().map(|b| b.number).collect();
        assert!(numbers.windows(2).all(|w| w[1] == w[0] + 1));
    }
}
