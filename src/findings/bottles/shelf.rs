//! What is on hand, and how many bottles to buy.

use super::{Bottles, Hundredths, Row, mean};
use crate::fits::forecast::Need;
use crate::measures::{Bought, Waiting};
use crate::money::Minor;
use crate::settings::month::Month;

/// Coating on hand at the data's end.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Shelf {
    /// Bottles without a day they were opened or emptied.
    pub unopened: u64,
    /// What these usually give, left-overs taken off.
    pub unopened_ml: Hundredths,
    /// Bottles opened in the window and not emptied.
    pub open: u64,
    /// What is still in them, by what was taken from each.
    pub open_ml: Hundredths,
    /// Bottles that were opened before the window and bear no day they were
    /// emptied: counted as empty, and to be looked at.
    pub forgotten: Vec<Forgotten>,
}

/// A bottle that nobody wrote down as emptied.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Forgotten {
    /// Its key, with the shop's where there are several.
    pub bottle: String,
    /// The month it was opened in.
    pub opened: Month,
}

impl Shelf {
    /// All of it.
    pub fn ml(&self) -> Hundredths {
        self.unopened_ml + self.open_ml
    }
}

/// Something to do: buy bottles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Buy {
    /// How many.
    pub bottles: u64,
    /// Months that they are to last, with what is on hand, nine times in ten.
    pub months: u32,
    /// What these months need nine times in ten [mL].
    pub need_ml: f64,
    /// What is on hand [mL].
    pub on_hand_ml: f64,
    /// Unopened bottles on hand. Where it is 0, none may be there or none
    /// written down.
    pub unopened: u64,
    /// What they cost at the latest price, where known.
    pub cost: Option<Minor>,
}

/// What is on hand, from bottles of the window and those that wait.
pub(super) fn shelf(
    rows: &[Row],
    waiting: &[Waiting],
    bought: &[Bought],
    usable_ml: Option<f64>,
) -> Shelf {
    let emptied = bought.iter().filter(|b| b.emptied.is_some());
    let held: Vec<f64> = emptied.map(|b| b.volume).collect();
    let held = mean(&held).filter(|v| *v > 0.0);
    let gives = usable_ml.zip(held).map_or(1.0, |(u, v)| (u / v).min(1.0));
    let unopened = || waiting.iter().filter(|w| w.opened.is_none());
    let name = |w: &Waiting| {
        if w.shop.is_empty() {
            w.bottle.to_string()
        } else {
            format!("{} {}", w.shop, w.bottle)
        }
    };
    Shelf {
        unopened: unopened().count() as u64,
        unopened_ml: unopened().map(|w| Hundredths::of(w.volume * gives)).sum(),
        open: rows.iter().map(|r| r.open_bottles).sum(),
        open_ml: rows.iter().map(|r| r.ml.open).sum(),
        forgotten: (waiting.iter())
            .filter_map(|w| {
                Some(Forgotten {
                    opened: w.opened?,
                    bottle: name(w),
                })
            })
            .collect(),
    }
}

impl Bottles {
    /// Bottles to buy so that a need is met nine times in ten; `None` where
    /// what is on hand or what a bottle gives is not known.
    pub fn to_buy(&self, need: &Need) -> Option<u64> {
        let shelf = self.shelf.as_ref()?;
        let gives = self.usable_ml.filter(|ml| *ml > 0.0)?;
        let lacking = (need.ml.nine_tenths - shelf.ml().ml()).max(0.0);
        Some((lacking / gives).ceil() as u64)
    }

    /// What a bottle costs: the mean of the latest month in which all that
    /// were opened bear a cost.
    fn latest_cost(&self) -> Option<f64> {
        let known = |r: &&Row| r.bottles > 0;
        let latest = self.rows.iter().rev().find(known)?;
        Some(latest.money?.bought.as_f64() / latest.bottles as f64)
    }

    /// What to buy for the next month; `None` where nothing is to be bought
    /// or it cannot be said.
    pub fn buy(&self) -> Option<Buy> {
        let need = self.needs.as_ref().ok()?.first()?;
        let bottles = self.to_buy(need).filter(|n| *n > 0)?;
        let shelf = self.shelf.as_ref()?;
        let cost = self.latest_cost().map(|c| c * bottles as f64);
        Some(Buy {
            bottles,
            months: need.months,
            need_ml: need.ml.nine_tenths,
            on_hand_ml: shelf.ml().ml(),
            unopened: shelf.unopened,
            cost: cost.and_then(Minor::nearest),
        })
    }
}
