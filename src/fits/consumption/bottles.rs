//! Emptied bottles as rows: what a bottle held, less what was measured on it,
//! is the sum over the jobs on it that were not measured.
//!
//! ```text
//! D_b = s n_b + sum_f c_f A_bf + (splits) + e_b
//! ```
//!
//! A job that straddles two bottles took a share U of its use m_j from the
//! first and 1 - U from the second; U is not known, so it is taken as uniform:
//! half of the job counts on either side, with
//!
//! ```text
//! Var = m_j^2/12 + sigma^2 A_j/3 at each end
//! Cov(first, second) = -m_j^2/12 + sigma^2 A_j/6
//! ```
//!
//! Neighbours thus carry errors of opposite sign: V is tridiagonal along each
//! chain of bottles, and the totals over a chain are known far better than
//! its single bottles.

use super::jobs::check_not_negative;
use crate::fits::error::FitError;
use crate::fits::linear::check_length;
use crate::fits::record::{LeftOut, Why};

/// An emptied bottle, its straddling jobs apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Bottle {
    /// mL that it held when opened, less what was left over when it was put
    /// away, less what was measured on it.
    pub used: f64,
    /// Whole unmeasured jobs on it.
    pub jobs: u64,
    /// Their areas by finish, m2.
    pub areas: Vec<f64>,
}

/// An unmeasured job done from two bottles.
#[derive(Debug, Clone, PartialEq)]
pub struct Straddle {
    /// Its areas by finish, m2.
    pub areas: Vec<f64>,
    /// The bottle that ran out on it; `None` where that is not in the list.
    pub from: Option<usize>,
    /// The bottle that was opened for it; `None` where that is not in the
    /// list (it may still be open).
    pub into: Option<usize>,
}

/// Emptied bottles and the jobs that straddle them, checked.
#[derive(Debug, Clone, PartialEq)]
pub struct Bottles {
    pub(super) bottles: Vec<Bottle>,
    pub(super) straddles: Vec<Straddle>,
    /// Bottles that carry something, in the order of their chains.
    pub(super) order: Vec<usize>,
    /// Whether each entry of `order` follows the one before it in a chain, and
    /// over which straddle.
    pub(super) link: Vec<Option<usize>>,
}

impl Bottles {
    /// Takes bottles and straddles. A bottle may have one straddle at either
    /// end; chains must not close upon themselves.
    ///
    /// # Errors
    /// [`FitError::NotFinite`]; [`FitError::OutOfRange`] for a negative area,
    /// an unknown bottle, or a second straddle at one end of a bottle.
    pub fn new(bottles: Vec<Bottle>, straddles: Vec<Straddle>) -> Result<Self, FitError> {
        for (row, b) in bottles.iter().enumerate() {
            if !b.used.is_finite() {
                return Err(FitError::NotFinite {
                    what: "bottles",
                    row,
                });
            }
            check_length("areas on a bottle", b.areas.len(), &b.areas)?;
            check_not_negative("areas on a bottle", &b.areas, b.areas.len())?;
        }
        for s in &straddles {
            check_length("areas of a straddling job", s.areas.len(), &s.areas)?;
            check_not_negative("areas of a straddling job", &s.areas, s.areas.len())?;
        }
        let ends = Ends::new(&bottles, &straddles)?;
        let (order, link) = ends.chains(&bottles)?;
        Ok(Self {
            bottles,
            straddles,
            order,
            link,
        })
    }

    /// Refuses areas of another number of finishes.
    pub(super) fn check(&self, finishes: usize) -> Result<(), FitError> {
        let bottles = self.bottles.iter().map(|b| b.areas.len());
        let mut lengths = bottles.chain(self.straddles.iter().map(|s| s.areas.len()));
        match lengths.find(|l| *l != finishes) {
            None => Ok(()),
            Some(found) => Err(FitError::Shape {
                what: "finishes of a bottle",
                expected: finishes,
                found,
            }),
        }
    }

    /// Bottles that take no part: nothing unmeasured was done from them, or
    /// more was measured on them than they held.
    pub(super) fn empty_rows(&self) -> Vec<LeftOut> {
        let mut live = vec![false; self.bottles.len()];
        for &b in &self.order {
            live[b] = true;
        }
        (live.iter().enumerate())
            .filter(|(_, live)| !**live)
            .map(|(row, _)| LeftOut {
                row,
                why: Why::Empty,
            })
            .collect()
    }
}

/// The straddle at either end of each bottle.
struct Ends<'a> {
    straddles: &'a [Straddle],
    /// The straddle that began the bottle.
    first: Vec<Option<usize>>,
    /// The straddle that ended it.
    last: Vec<Option<usize>>,
}

impl<'a> Ends<'a> {
    fn new(bottles: &[Bottle], straddles: &'a [Straddle]) -> Result<Self, FitError> {
        let mut first = vec![None; bottles.len()];
        let mut last = vec![None; bottles.len()];
        for (j, s) in straddles.iter().enumerate() {
            for (end, at) in [(&mut last, s.from), (&mut first, s.into)] {
                let Some(bottle) = at else { continue };
                let free = end.get_mut(bottle).filter(|e| e.is_none());
                *free.ok_or(FitError::OutOfRange {
                    what: "straddling jobs",
                    row: j,
                    found: bottle as f64,
                    expected: "a bottle of the list with that end free",
                })? = Some(j);
            }
        }
        Ok(Self {
            straddles,
            first,
            last,
        })
    }

    /// Live bottles chain by chain, with the straddle that links each to the
    /// one before it.
    fn chains(&self, bottles: &[Bottle]) -> Result<(Vec<usize>, Vec<Option<usize>>), FitError> {
        let live = |b: usize| {
            let works = bottles[b].jobs > 0 || self.first[b].or(self.last[b]).is_some();
            bottles[b].used > 0.0 && works
        };
        let before = |b: usize| self.first[b].filter(|j| self.straddles[*j].from.is_some_and(live));
        let after =
            |b: usize| self.last[b].and_then(|j| self.straddles[j].into.filter(|n| live(*n)));
        let (mut order, mut link) = (Vec::new(), Vec::new());
        let count = (0..bottles.len()).filter(|b| live(*b)).count();
        for start in (0..bottles.len()).filter(|b| live(*b) && before(*b).is_none()) {
            let mut next = Some(start);
            while let Some(b) = next {
                order.push(b);
                link.push(before(b));
                next = after(b);
            }
        }
        if order.len() == count {
            return Ok((order, link));
        }
        Err(FitError::OutOfRange {
            what: "straddling jobs",
            row: 0,
            found: (count - order.len()) as f64,
            expected: "no bottle in a chain that closes upon itself",
        })
    }
}
