//! Bottles: what became of the coating that was bought, and how many the next
//! months need.
//!
//! Bought = measured + estimated + left over + open + unexplained, in
//! hundredths of mL and in minor units, as whole numbers, so that it balances
//! exactly. What a spell took stands with the bottle that it names, in the
//! month in which that was opened; where it names none, in the month of its
//! job.

mod shelf;

use super::{FindError, Missing, Scope};
use crate::estimate::NotEnough;
pub use crate::fits::forecast::Need;
use crate::measures::{Bought, CoatedJob, Poured, Waiting};
use crate::money::Minor;
use crate::settings::month::Month;
use foldhash::fast::RandomState;
use std::collections::{BTreeMap, HashMap};
use std::iter::Sum;
use std::ops::{Add, Sub};

pub use shelf::{Buy, Forgotten, Shelf};

/// Hundredths of a mL.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Hundredths(pub i64);

impl Hundredths {
    fn of(ml: f64) -> Self {
        Self((100.0 * ml).round() as i64)
    }

    /// mL.
    pub fn ml(self) -> f64 {
        self.0 as f64 / 100.0
    }
}

impl Add for Hundredths {
    type Output = Self;
    fn add(self, o: Self) -> Self {
        Self(self.0 + o.0)
    }
}

impl Sub for Hundredths {
    type Output = Self;
    fn sub(self, o: Self) -> Self {
        Self(self.0 - o.0)
    }
}

impl Sum for Hundredths {
    fn sum<I: Iterator<Item = Self>>(all: I) -> Self {
        all.fold(Self::default(), Add::add)
    }
}

/// A balance; `bought` is the sum of the rest.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Balance<T> {
    /// Bought.
    pub bought: T,
    /// Measured on jobs.
    pub measured: T,
    /// Taken by jobs that were not measured, as the fit estimates it.
    pub estimated: T,
    /// Thrown away.
    pub left_over: T,
    /// Still in open bottles.
    pub open: T,
    /// What none of these explains; under 0: more was taken than bought.
    pub unexplained: T,
}

impl<T: Copy + Add<Output = T>> Add for Balance<T> {
    type Output = Self;
    fn add(self, o: Self) -> Self {
        Self {
            bought: self.bought + o.bought,
            measured: self.measured + o.measured,
            estimated: self.estimated + o.estimated,
            left_over: self.left_over + o.left_over,
            open: self.open + o.open,
            unexplained: self.unexplained + o.unexplained,
        }
    }
}

/// One month and product.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// The month in which the bottles were opened.
    pub month: Month,
    /// The product; empty where not recorded.
    pub product: String,
    /// Bottles opened.
    pub bottles: u64,
    /// Of these, still open at the month's end.
    pub open_bottles: u64,
    /// mL.
    pub ml: Balance<Hundredths>,
    /// Money; `None` where no cost is known.
    pub money: Option<Balance<Minor>>,
}

impl Row {
    /// Cost per mL as bought [minor units per mL].
    pub fn per_ml(&self) -> Option<f64> {
        let bought = self.ml.bought.ml();
        (bought > 0.0).then(|| Some(self.money?.bought.as_f64() / bought))?
    }
}

/// The section's findings.
#[derive(Debug, Clone, PartialEq)]
pub struct Bottles {
    /// By month and product, months of the window.
    pub rows: Vec<Row>,
    /// All together.
    pub ml: Balance<Hundredths>,
    /// All together, in money; `None` where a row has none.
    pub money: Option<Balance<Minor>>,
    /// Spells name the bottle they took from.
    pub named: bool,
    /// Jobs that were neither measured nor can be estimated.
    pub unknown_jobs: u64,
    /// The need of the next one, two and three months; `Err` says what is
    /// missing.
    pub needs: Result<Vec<Need>, NotEnough>,
    /// What a bottle usually gives [mL].
    pub usable_ml: Option<f64>,
    /// What is on hand; `None` where the month reviewed is not the data's
    /// last, as what was on hand then is not recorded.
    pub shelf: Option<Shelf>,
}

/// What a key gathers before it is balanced.
#[derive(Debug, Clone, Copy, Default)]
struct Gathered {
    bottles: u64,
    open_bottles: u64,
    bought: f64,
    measured: f64,
    estimated: f64,
    left_over: f64,
    /// Left in open bottles, by what was poured from each.
    open: f64,
    cost: i64,
    costed: u64,
}

/// What goes in beside the tables.
#[derive(Debug, Clone)]
pub struct Basis<'a> {
    /// The months spoken of.
    pub scope: &'a Scope,
    /// mL that each coated job is expected to take.
    pub expected: &'a [Option<f64>],
    /// Price where no bottle has a cost [minor units per mL].
    pub per_ml: Option<f64>,
    /// The need of the next months.
    pub needs: Result<Vec<Need>, NotEnough>,
    /// Bottles that are not emptied and were not opened in the window.
    pub waiting: &'a [Waiting],
    /// True where the month reviewed is the data's last.
    pub is_latest: bool,
}

/// Finds what became of the coating.
///
/// # Errors
/// None on counts.
pub fn find(
    bought: &[Bought],
    poured: &[Poured],
    jobs: &[CoatedJob],
    basis: Basis<'_>,
) -> Result<Result<Bottles, Missing>, FindError> {
    if bought.is_empty() {
        let of = "bottles with a volume and an opening day";
        return Ok(Err(Missing::TooFew(NotEnough::new(0, 1, of))));
    }
    let pours = pours(poured, jobs, &basis);
    let named = pours.iter().any(|p| !p.bottle.is_empty());
    let mut all: BTreeMap<(Month, &str), Gathered> = BTreeMap::new();
    gather_bottles(bought, &pours, &basis, named, &mut all);
    let rows: Vec<Row> = (all.into_iter())
        .map(|(key, g)| row(key, g, basis.per_ml))
        .collect();
    let money = rows.iter().map(|r| r.money).collect::<Option<Vec<_>>>();
    let emptied = bought.iter().filter(|b| b.emptied.is_some());
    let gives: Vec<f64> = emptied.map(|b| (b.volume - b.left_over).max(0.0)).collect();
    Ok(Ok(Bottles {
        ml: rows.iter().map(|r| r.ml).fold(Balance::default(), Add::add),
        money: money.map(|m| m.into_iter().fold(Balance::default(), Add::add)),
        named,
        unknown_jobs: pours.iter().filter(|p| p.unknown).count() as u64,
        needs: basis.needs,
        shelf: basis
            .is_latest
            .then(|| shelf::shelf(&rows, basis.waiting, bought, mean(&gives))),
        usable_ml: mean(&gives),
        rows,
    }))
}

/// The mean, where there is one.
pub fn mean(x: &[f64]) -> Option<f64> {
    (!x.is_empty()).then(|| x.iter().sum::<f64>() / x.len() as f64)
}

/// What one job took from one bottle, measured and estimated.
struct Pour<'a> {
    shop: &'a str,
    bottle: &'a str,
    product: &'a str,
    month: Month,
    measured: f64,
    estimated: f64,
    unknown: bool,
}

fn pours<'a>(poured: &'a [Poured], jobs: &'a [CoatedJob], basis: &Basis<'_>) -> Vec<Pour<'a>> {
    let mut totals: HashMap<usize, (f64, u64), RandomState> = HashMap::default();
    for p in poured {
        let total = totals.entry(p.job).or_default();
        total.0 += p.used;
        total.1 += p.unmeasured;
    }
    let pour = |p: &'a Poured| {
        let job = jobs.get(p.job).filter(|j| j.month <= basis.scope.month)?;
        let (used, unmeasured) = totals.get(&p.job).copied().unwrap_or_default();
        let expected = basis.expected.get(p.job).copied().flatten();
        // What the job is expected to take beyond what was measured on it, in
        // equal parts over its spells without a measure.
        let part = p.unmeasured as f64 / unmeasured.max(1) as f64;
        let estimated = expected.map(|e| (e - used).max(0.0) * part);
        Some(Pour {
            shop: &job.shop,
            bottle: &p.bottle,
            product: &p.product,
            month: job.month,
            measured: p.used,
            estimated: estimated.unwrap_or(0.0),
            unknown: p.unmeasured > 0 && expected.is_none(),
        })
    };
    poured.iter().filter_map(pour).collect()
}

fn gather_bottles<'a>(
    bought: &'a [Bought],
    pours: &[Pour<'a>],
    basis: &Basis<'_>,
    named: bool,
    all: &mut BTreeMap<(Month, &'a str), Gathered>,
) {
    let mut place: HashMap<(&str, &str), usize, RandomState> = HashMap::default();
    for (i, b) in bought.iter().enumerate() {
        place.insert((&b.shop, &b.bottle), i);
    }
    let mut taken = vec![0.0; bought.len()];
    let one = one_product(bought);
    for p in pours {
        let of = place.get(&(p.shop, p.bottle)).copied();
        let key = match of {
            Some(i) => (bought[i].opened, bought[i].product.as_str()),
            // From a bottle that was opened before the window: not bought in it.
            None if !p.bottle.is_empty() || !basis.scope.in_window(p.month) => continue,
            None if p.product.is_empty() => (p.month, one.unwrap_or("")),
            None => (p.month, p.product),
        };
        if let Some(i) = of {
            taken[i] += p.measured + p.estimated;
        }
        let g = all.entry(key).or_default();
        g.measured += p.measured;
        g.estimated += p.estimated;
    }
    for (b, taken) in bought.iter().zip(taken) {
        let open = b.emptied.is_none_or(|m| m > basis.scope.month);
        let g = all.entry((b.opened, b.product.as_str())).or_default();
        g.bottles += 1;
        g.open_bottles += u64::from(open);
        g.bought += b.volume;
        g.cost += b.cost.map_or(0, |c| c.0);
        g.costed += u64::from(b.cost.is_some());
        if open {
            g.open += if named {
                (b.volume - taken).max(0.0)
            } else {
                b.volume
            };
        } else {
            g.left_over += b.left_over;
        }
    }
    if !named {
        for g in all.values_mut() {
            let rest = g.bought - g.measured - g.estimated - g.left_over;
            g.open = g.open.min(rest).max(0.0);
        }
    }
}

/// The shop's only product, where it has one.
fn one_product(bought: &[Bought]) -> Option<&str> {
    let first = bought.first()?.product.as_str();
    bought.iter().all(|b| b.product == first).then_some(first)
}

fn row((month, product): (Month, &str), g: Gathered, per_ml: Option<f64>) -> Row {
    let bought = Hundredths::of(g.bought);
    let parts = [g.measured, g.estimated, g.left_over, g.open].map(Hundredths::of);
    let ml = balance(bought, parts, parts.into_iter().sum());
    // A month without a bottle of its own is valued at the window's price.
    let price = if g.costed == g.bottles && g.bottles > 0 {
        Some(g.cost as f64 / g.bought)
    } else {
        per_ml
    };
    let money = price.and_then(|price| {
        let bought = if g.costed == g.bottles {
            Minor(g.cost)
        } else {
            Minor::nearest(price * g.bought)?
        };
        let value = |x: Hundredths| Minor::nearest(price * x.ml());
        let [measured, estimated, left_over, open] = parts.map(value);
        let parts = [measured?, estimated?, left_over?, open?];
        Some(balance(bought, parts, parts.into_iter().sum()))
    });
    Row {
        month,
        product: product.to_string(),
        bottles: g.bottles,
        open_bottles: g.open_bottles,
        ml,
        money,
    }
}

fn balance<T: Copy + Sub<Output = T>>(bought: T, parts: [T; 4], explained: T) -> Balance<T> {
    let [measured, estimated, left_over, open] = parts;
    Balance {
        bought,
        measured,
        estimated,
        left_over,
        open,
        unexplained: bought - explained,
    }
}
