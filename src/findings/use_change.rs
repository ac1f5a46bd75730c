//! Has coating use changed? The window against the one before it, by finish;
//! each product of the window against the others, each lot against the other
//! lots of its product.
//!
//! Many figures are compared at once, so they share one error in twenty: with m
//! of them each interval is at level 1 - 0.05/m (Bonferroni), and a figure is
//! said to differ where its interval excludes 0. In a shop where nothing
//! changes some figure is said to differ in about one review of twenty. A lot
//! that differs may as well be the season, or the people, of its weeks.

use crate::estimate::Estimate;
use crate::fits::consumption::{self, ConsumptionFit};
use crate::fits::error::FitError;
use crate::fits::ratio::{Sums, difference};
use crate::settings::month::Month;
use serde::Serialize;
use std::collections::BTreeMap;

/// Error that all comparisons share.
pub const ERROR: f64 = 0.05;
/// Jobs (or bottles) that either side of a comparison must have.
pub const LEAST: u64 = 5;
/// Lots that are listed, the ones that differ apart.
const LISTED: usize = 20;

/// What is compared.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case", tag = "of")]
pub enum Of {
    /// mL a job before any is given, this window less the earlier one.
    SetUp,
    /// mL/m² of a finish, this window less the earlier one.
    Finish {
        /// The finish.
        finish: String,
    },
    /// A product of a shop, against the shop's others on the same work.
    Product {
        /// The shop; empty where there is one only.
        shop: String,
        /// The product.
        product: String,
    },
    /// A lot, against the other lots of its product in that shop.
    Lot {
        /// The shop; empty where there is one only.
        shop: String,
        /// Its product; empty where not recorded.
        product: String,
        /// The lot.
        lot: String,
    },
}

/// One comparison.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Row {
    /// Of what.
    #[serde(flatten)]
    pub of: Of,
    /// Jobs (or bottles) on its side.
    pub jobs: u64,
    /// Those on the other side.
    pub other_jobs: u64,
    /// Set-up in mL, finishes in mL/m², products and lots as a share of what
    /// the same work takes.
    pub difference: Estimate,
    /// The interval excludes no difference.
    pub differs: bool,
}

/// All comparisons.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct UseChange {
    /// First month of the earlier window.
    pub from: Month,
    /// Its last month.
    pub until: Month,
    /// How many there are.
    pub comparisons: u64,
    /// Level of each interval: 1 - 0.05/comparisons.
    pub level: f64,
    /// Set-up and finishes, then products, then lots; of the lots those that
    /// differ and those with most jobs.
    pub rows: Vec<Row>,
}

/// Coating used over what the same work takes: a lot and its product's others.
pub type Groups = BTreeMap<(String, String, String), Sums>;

/// Compares; `None` where there is too little of everything. `newer`, `older`:
/// fits of the two windows with the same `finishes`; `groups`: measured jobs of
/// the newer by shop, product and lot (y: mL used, x: mL that the fit says).
///
/// # Errors
/// [`FitError`] where the two fits are not of the same finishes.
pub fn find(
    newer: &ConsumptionFit,
    older: &ConsumptionFit,
    finishes: &[String],
    groups: &Groups,
    earlier: (Month, Month),
) -> Result<Option<UseChange>, FitError> {
    let pairs = pairs(groups);
    let compare = |level: f64| -> Result<Vec<Row>, FitError> {
        let mut rows = of_windows(newer, older, finishes, level)?;
        rows.extend(pairs.iter().filter_map(|p| p.row(level)));
        Ok(rows)
    };
    let comparisons = compare(1.0 - ERROR)?.len() as u64;
    if comparisons == 0 {
        return Ok(None);
    }
    let level = 1.0 - ERROR / comparisons as f64;
    Ok(Some(UseChange {
        from: earlier.0,
        until: earlier.1,
        comparisons,
        level,
        rows: listed(compare(level)?),
    }))
}

/// Set-up and finishes that both windows tell.
fn of_windows(
    newer: &ConsumptionFit,
    older: &ConsumptionFit,
    finishes: &[String],
    level: f64,
) -> Result<Vec<Row>, FitError> {
    let found = consumption::difference(newer, older, level)?;
    let both = |fit: fn(&ConsumptionFit, usize) -> u64, f| (fit(newer, f), fit(older, f));
    let setup = (Of::SetUp, both(|x, _| x.setup.jobs, 0), found.setup);
    let names = finishes.iter().zip(found.finishes).enumerate();
    let of_finish = names.map(|(f, (name, figure))| {
        let of = Of::Finish {
            finish: name.clone(),
        };
        let jobs = both(|x, f| x.finishes.get(f).map_or(0, |c| c.jobs), f);
        (of, jobs, figure)
    });
    let rows = std::iter::once(setup).chain(of_finish);
    Ok(rows
        .filter_map(|(of, (jobs, other_jobs), figure)| {
            let known = *figure.known().filter(|_| jobs.min(other_jobs) >= LEAST)?;
            Some(row(of, jobs, other_jobs, known))
        })
        .collect())
}

fn row(of: Of, jobs: u64, other_jobs: u64, difference: Estimate) -> Row {
    Row {
        of,
        jobs,
        other_jobs,
        differs: !difference.holds(0.0),
        difference,
    }
}

/// A group and what it is held against.
struct Pair {
    of: Of,
    own: Sums,
    others: Sums,
}

impl Pair {
    fn row(&self, level: f64) -> Option<Row> {
        if self.own.n.min(self.others.n) < LEAST {
            return None;
        }
        let (own, others) = (self.own.ratio().ok()?, self.others.ratio().ok()?);
        let found = difference(&own, &others, level).ok()?;
        Some(row(self.of.clone(), self.own.n, self.others.n, found))
    }
}

/// Products first. A product or lot without a name is no side of its own.
fn pairs(groups: &Groups) -> Vec<Pair> {
    let mut products: BTreeMap<(&str, &str), Sums> = BTreeMap::new();
    let mut shops: BTreeMap<&str, Sums> = BTreeMap::new();
    for ((shop, product, _), sums) in groups {
        products.entry((shop, product)).or_default().merge(sums);
        if !product.is_empty() {
            shops.entry(shop).or_default().merge(sums);
        }
    }
    let of_product = |(&(shop, product), own): (&(&str, &str), &Sums)| {
        Some(Pair {
            of: Of::Product {
                shop: shop.into(),
                product: product.into(),
            },
            own: *own,
            others: shops
                .get(shop)
                .filter(|_| !product.is_empty())?
                .without(own),
        })
    };
    let of_lot = |((shop, product, lot), own): (&(String, String, String), &Sums)| {
        let key = (shop.as_str(), product.as_str());
        Some(Pair {
            of: Of::Lot {
                shop: shop.clone(),
                product: product.clone(),
                lot: lot.clone(),
            },
            own: *own,
            others: products.get(&key).filter(|_| !lot.is_empty())?.without(own),
        })
    };
    let mut all: Vec<Pair> = products.iter().filter_map(of_product).collect();
    all.extend(groups.iter().filter_map(of_lot));
    all
}

/// All but lots that do not differ, beyond the [`LISTED`] with most jobs.
fn listed(rows: Vec<Row>) -> Vec<Row> {
    let plain = |r: &Row| matches!(r.of, Of::Lot { .. }) && !r.differs;
    let mut jobs: Vec<u64> = rows.iter().filter(|r| plain(r)).map(|r| r.jobs).collect();
    jobs.sort_unstable_by(|a, b| b.cmp(a));
    let least = jobs.get(LISTED).copied().unwrap_or(0);
    let mut room = LISTED;
    let mut keep = |r: &Row| {
        let kept = !plain(r) || (r.jobs >= least && room > 0);
        room -= usize::from(kept && plain(r));
        kept
    };
    rows.into_iter().filter(|r| keep(r)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fits::consumption::{Consumption, Jobs};

    const RATE: f64 = 1.5;

    fn month(text: &str) -> Month {
        Month::parse(text).unwrap()
    }

    /// Jobs of one finish at `rate`, with a fixed scatter of 0.6 mL.
    fn fit(n: usize, rate: f64) -> ConsumptionFit {
        let areas: Vec<f64> = (0..n).map(|i| 12.0 + ((i * 7) % 11) as f64).collect();
        let scatter = |i: usize| [0.6, -0.6, -0.6, 0.6][i % 4];
        let used: Vec<f64> = areas
            .iter()
            .enumerate()
            .map(|(i, a)| 0.5 + rate * a + scatter(i))
            .collect();
        Consumption::new(Jobs::new(&used, &areas, 1).unwrap())
            .fit()
            .unwrap()
    }

    fn sums(n: usize, factor: f64) -> Sums {
        let mut all = Sums::default();
        for i in 0..n {
            let usual = 25.0 + (i % 5) as f64;
            all.add(usual * factor + [0.8, -0.8][i % 2], usual);
        }
        all
    }

    fn groups(parts: &[(&str, &str, usize, f64)]) -> Groups {
        let one = |p: &(&str, &str, usize, f64)| {
            (
                (String::new(), p.0.to_string(), p.1.to_string()),
                sums(p.2, p.3),
            )
        };
        parts.iter().map(one).collect()
    }

    fn compared(older_rate: f64, parts: &[(&str, &str, usize, f64)]) -> UseChange {
        let (newer, older) = (fit(40, RATE), fit(40, older_rate));
        let earlier = (month("2025-01"), month("2025-12"));
        let found = find(&newer, &older, &["gloss".into()], &groups(parts), earlier);
        found.unwrap().unwrap()
    }

    #[test]
    fn windows_products_and_lots_share_one_error_in_twenty() {
        let got = compared(
            RATE,
            &[
                ("A", "1", 20, 1.0),
                ("A", "2", 20, 1.0),
                ("B", "9", 20, 1.0),
            ],
        );
        // Set-up, gloss, two products, the two lots of A; B has one lot only.
        assert_eq!(got.comparisons, 6);
        assert!((got.level - (1.0 - 0.05 / 6.0)).abs() < 1e-12);
        assert!(got.rows.iter().all(|r| r.difference.level == got.level));
        assert!(got.rows.iter().all(|r| !r.differs), "{:?}", got.rows);
    }

    #[test]
    fn what_differs_is_found_with_its_sign_and_size() {
        let got = compared(
            1.2,
            &[
                ("A", "1", 20, 1.0),
                ("A", "2", 20, 1.1),
                ("A", "3", 20, 1.0),
            ],
        );
        let differs: Vec<&Row> = got.rows.iter().filter(|r| r.differs).collect();
        let gloss = Of::Finish {
            finish: "gloss".into(),
        };
        assert_eq!(differs[0].of, gloss);
        assert!(
            (differs[0].difference.value - 0.3).abs() < 0.05,
            "{:?}",
            differs[0]
        );
        let lot = differs
            .iter()
            .find(|r| matches!(&r.of, Of::Lot { lot, .. } if lot == "2"))
            .unwrap();
        // Even numbers of +0.8 and -0.8 leave 1.1 - 1.0.
        assert!((lot.difference.value - 0.1).abs() < 1e-9);
        assert_eq!((lot.jobs, lot.other_jobs), (20, 40));
    }

    #[test]
    fn too_little_is_no_comparison() {
        let (newer, older) = (fit(40, RATE), fit(4, RATE));
        let few = groups(&[("A", "1", 4, 1.0), ("A", "2", 30, 1.0), ("", "", 30, 2.0)]);
        let earlier = (month("2025-01"), month("2025-12"));
        let found = find(&newer, &older, &["gloss".into()], &few, earlier);
        assert_eq!(found.unwrap(), None);
    }

    #[test]
    fn many_lots_are_compared_and_those_that_differ_are_listed() {
        let names: Vec<String> = (0..60).map(|i| format!("{i:02}")).collect();
        let mut parts: Vec<(&str, &str, usize, f64)> =
            names.iter().map(|n| ("A", n.as_str(), 10, 1.0)).collect();
        parts[59] = ("A", "59", 6, 1.4);
        let got = compared(RATE, &parts);
        let lots = got.rows.iter().filter(|r| matches!(r.of, Of::Lot { .. }));
        assert_eq!((got.comparisons, lots.count()), (62, LISTED + 1));
        assert!(got.rows.last().unwrap().differs);
    }
}
