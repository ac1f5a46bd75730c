//! Who the shops of the window are, which shop each coated job is of, and
//! what is counted of each.

use crate::findings::Scope;
use crate::findings::shops::Counts;
use crate::fits::error::FitError;
use crate::fits::pace::Sums;
use crate::measures::Measures;
use std::collections::{BTreeSet, HashMap};

/// The shops of the window, in order of their names.
#[derive(Debug)]
pub(super) struct Roll<'a> {
    pub(super) names: Vec<&'a str>,
    /// Number of the shop of each coated job; `None` outside the window.
    of_job: Vec<Option<u32>>,
    /// Film jobs that the coating suits, and those of them that were coated.
    pub(super) offered: Vec<Counts>,
    /// Coated jobs, and those that came back for coating work.
    pub(super) coated: Vec<Counts>,
    /// Whether the shop writes callbacks down: one or more on any coated job
    /// in view. Of another it cannot be told whether nothing came back.
    pub(super) writes_callbacks: Vec<bool>,
}

impl<'a> Roll<'a> {
    pub(super) fn of(m: &'a Measures, scope: &Scope) -> Self {
        let names = names(m, scope);
        let number: HashMap<&str, u32> = names.iter().copied().zip(0..).collect();
        let mut offered = vec![Counts::default(); names.len()];
        for o in &m.offers {
            if let Some(own) =
                (number.get(o.shop.as_str())).and_then(|n| offered.get_mut(*n as usize))
            {
                own.yes += o.coated;
                own.of += o.eligible;
            }
        }
        let mut coated = vec![Counts::default(); names.len()];
        let mut writes_callbacks = vec![false; names.len()];
        let mut of_job = Vec::with_capacity(m.coated.len());
        for job in &m.coated {
            let n = number.get(job.shop.as_str()).copied();
            if let Some(own) = n.and_then(|n| writes_callbacks.get_mut(n as usize)) {
                *own |= job.came_back();
            }
            let n = n.filter(|_| scope.in_window(job.month));
            if let Some(own) = n.and_then(|n| coated.get_mut(n as usize)) {
                own.of += 1;
                own.yes += u64::from(job.came_back());
            }
            of_job.push(n);
        }
        Self {
            names,
            of_job,
            offered,
            coated,
            writes_callbacks,
        }
    }

    /// No jobs of any shop yet, `columns` numbers in a design row.
    pub(super) fn tallies(&self, columns: usize) -> Vec<Tally> {
        let none = Tally {
            sums: Sums::new(columns),
            on: vec![0; columns],
        };
        vec![none; self.names.len()]
    }

    /// The tally of the shop of a coated job, by its place.
    pub(super) fn tally<'t>(&self, all: &'t mut [Tally], place: usize) -> Option<&'t mut Tally> {
        let shop = self.of_job.get(place).copied().flatten()?;
        all.get_mut(shop as usize)
    }
}

/// One shop's jobs, summed up.
#[derive(Debug, Clone)]
pub(super) struct Tally {
    pub(super) sums: Sums,
    /// Jobs on which a column of the design is not 0.
    pub(super) on: Vec<u64>,
}

impl Tally {
    pub(super) fn add(&mut self, row: &[f64], y: f64) -> Result<(), FitError> {
        for (jobs, x) in self.on.iter_mut().zip(row) {
            *jobs += u64::from(*x != 0.0);
        }
        self.sums.add(row, y)
    }
}

/// Shops with a film job that the coating suits, or a coated one.
fn names<'a>(m: &'a Measures, scope: &Scope) -> Vec<&'a str> {
    let mut all: BTreeSet<&str> = m.offers.iter().map(|o| o.shop.as_str()).collect();
    // Jobs of one shop mostly stand together.
    let mut last = None;
    for job in m.coated.iter().filter(|j| scope.in_window(j.month)) {
        if last != Some(job.shop.as_str()) {
            all.insert(&job.shop);
            last = Some(&job.shop);
        }
    }
    all.into_iter().collect()
}
