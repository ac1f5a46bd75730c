//! The design behind price and answer: which columns, and which of them can
//! be told apart.

use super::Used;
use crate::findings::groups::LEAST_OFFERS;
use crate::fits::collinear::Rank;
use nalgebra::DMatrix;
use std::collections::BTreeMap;

/// Sellers with a column of their own, those with most offers; the others
/// share the constant.
const MOST_SELLERS: usize = 20;

/// Rows of numbers: 1, what a job is of a full one (log), classes, finishes,
/// samples and sellers but the commonest of each, and last the price (log).
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Design {
    pub(super) rows: Vec<f64>,
    pub(super) columns: usize,
}

impl Design {
    /// The design of some offers; `None` where the other columns make up the
    /// price, so that offers alike were asked alike.
    pub(super) fn of(used: &[Used<'_>]) -> Option<Self> {
        let mut columns: Vec<Vec<f64>> = vec![vec![1.0; used.len()]];
        let size = |u: &Used<'_>| (u.list() / u.listed.full.as_f64().max(1.0)).ln();
        columns.push(used.iter().map(size).collect());
        columns.extend(dummies(used, |u| u.offers.class.to_string(), usize::MAX));
        columns.extend(dummies(used, finish, usize::MAX));
        columns.extend(dummies(used, |u| u.offers.sample.to_string(), usize::MAX));
        columns.extend(dummies(used, seller, MOST_SELLERS));
        columns.push(used.iter().map(|u| u.price.ln()).collect());
        Self::told_apart(&columns, used.len())
    }

    /// Column of the price.
    pub(super) fn price(&self) -> usize {
        self.columns - 1
    }

    pub(super) fn row(&self, i: usize) -> &[f64] {
        &self.rows[i * self.columns..(i + 1) * self.columns]
    }

    /// Those columns that the ones before them do not make up.
    fn told_apart(columns: &[Vec<f64>], n: usize) -> Option<Self> {
        let all = DMatrix::from_fn(n, columns.len(), |i, j| columns[j][i]);
        let kept = Rank::of_columns(&all).kept;
        if kept.last() != Some(&(columns.len() - 1)) {
            return None;
        }
        let row = |i: usize| {
            kept.iter()
                .map(move |j| columns[*j][i])
                .collect::<Vec<f64>>()
        };
        Some(Self {
            rows: (0..n).flat_map(row).collect(),
            columns: kept.len(),
        })
    }
}

/// The finish that the price is listed by; two-tone work is a kind of its own
/// beside it.
fn finish(u: &Used<'_>) -> String {
    let two = !u.offers.other_finish.is_empty();
    format!("{}{}", u.listed.finish, if two { "+" } else { "" })
}

/// Shop and person, and nobody.
fn seller(u: &Used<'_>) -> String {
    format!("{}\u{0}{}", u.offers.shop, u.offers.seller)
}

/// A column of 0 and 1 for each kind but the commonest, the commoner first, as
/// many as `most`, and none for a kind of fewer than [`LEAST_OFFERS`].
fn dummies(used: &[Used<'_>], kind: fn(&Used<'_>) -> String, most: usize) -> Vec<Vec<f64>> {
    let mut offers: BTreeMap<String, u64> = BTreeMap::new();
    for u in used {
        *offers.entry(kind(u)).or_default() += u.offers.offers;
    }
    let mut kinds: Vec<(String, u64)> = offers.into_iter().collect();
    kinds.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    let own = kinds.iter().skip(1).filter(|k| k.1 >= LEAST_OFFERS);
    let column = |k: &(String, u64)| {
        let is = |u: &Used<'_>| f64::from(u8::from(kind(u) == k.0));
        used.iter().map(is).collect()
    };
    own.take(most).map(column).collect()
}
