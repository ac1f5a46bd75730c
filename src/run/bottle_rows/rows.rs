//! Bottles that count as one become one row each.

use super::cellar::{Cellar, Link};
use crate::findings::consumption::{BottleLeftOut, BottleUse, WhyNot};
use crate::fits::consumption::{Bottle, Straddle};
use crate::measures::Draw;
use std::collections::{BTreeMap, BTreeSet};

impl Cellar<'_> {
    pub(super) fn rows(
        mut self,
        bottles: &mut Vec<Bottle>,
        straddles: &mut Vec<Straddle>,
        told: &mut BottleUse,
    ) {
        let links = std::mem::take(&mut self.links);
        let (inside, across): (Vec<Link>, Vec<Link>) =
            (links.into_iter()).partition(|l| self.root(l.from) == self.root(l.into));
        for link in inside {
            let root = self.root(link.from);
            self.own[root].extend(link.draws);
        }
        for link in &across {
            if link.draws.iter().any(|d| self.no_area(d)) {
                for end in [link.from, link.into] {
                    self.spoilt[end] = self.spoilt[end].or(Some(WhyNot::JobWithoutArea));
                }
            }
        }
        let mut at: BTreeMap<usize, usize> = BTreeMap::new();
        for (root, group) in self.gathered() {
            match group.why {
                None => {
                    at.insert(root, bottles.len());
                    told.used += group.members.len() as u64;
                    bottles.push(group.row);
                }
                Some(why) => told.left_out.extend(self.named(&group.members, why)),
            }
        }
        self.straddle(across, &at, bottles, straddles);
    }

    fn no_area(&self, draw: &Draw) -> bool {
        self.basis.measures.coated[draw.job as usize]
            .parts
            .is_empty()
    }

    fn named(&self, members: &[usize], why: WhyNot) -> Vec<BottleLeftOut> {
        // A group falls with one of its bottles; the others say so.
        let why = if why == WhyNot::NotWithin {
            WhyNot::WithAnother
        } else {
            why
        };
        let own = |b: usize| self.spoilt[b].unwrap_or(why);
        let told = members.iter().map(|b| BottleLeftOut {
            bottle: self.span(*b).bottle.clone(),
            why: own(*b),
        });
        told.filter(|l| l.why != WhyNot::NotWithin).collect()
    }

    fn gathered(&self) -> BTreeMap<usize, Gathered> {
        let finishes = self.basis.measures.finishes.all().len();
        let mut all: BTreeMap<usize, Gathered> = BTreeMap::new();
        for bottle in 0..self.bottles.len() {
            let root = self.root(bottle);
            let group = all.entry(root).or_insert_with(|| Gathered::empty(finishes));
            group.members.push(bottle);
            group.row.used += self.content(bottle).unwrap_or(0.0);
            if let Some(why) = self.spoilt[bottle] {
                group.why = Some(match why {
                    WhyNot::NotWithin => group.why.unwrap_or(WhyNot::NotWithin),
                    _ => WhyNot::WithAnother,
                });
            }
            for draw in &self.own[bottle] {
                self.add(draw, group);
            }
        }
        for group in all.values_mut() {
            if group.why.is_none() && group.row.used <= 0.0 {
                group.why = Some(WhyNot::MoreThanItHeld);
            }
        }
        all
    }

    fn add(&self, draw: &Draw, group: &mut Gathered) {
        if self.measured(draw) {
            group.row.used -= draw.used.unwrap_or(0.0);
        } else if group.jobs.insert(draw.job) {
            if self.no_area(draw) {
                group.why = group.why.or(Some(WhyNot::JobWithoutArea));
            }
            let job = &self.basis.measures.coated[draw.job as usize];
            group.row.jobs += 1;
            for (sum, area) in group.row.areas.iter_mut().zip(self.basis.areas(job)) {
                *sum += area;
            }
        }
    }

    /// Straddling jobs of a day stand together as one, whose split is as
    /// unknown; their further set-ups go half to either side.
    fn straddle(
        &self,
        links: Vec<Link>,
        at: &BTreeMap<usize, usize>,
        bottles: &mut [Bottle],
        straddles: &mut Vec<Straddle>,
    ) {
        let finishes = self.basis.measures.finishes.all().len();
        for link in links {
            let place = |b: usize| at.get(&self.root(b)).copied();
            let (a, b) = (self.root(link.from), self.root(link.into));
            let (from, into) = (place(a.min(b)), place(a.max(b)));
            if from.is_none() && into.is_none() {
                continue;
            }
            let mut areas = vec![0.0; finishes];
            let jobs: BTreeSet<u32> = link.draws.iter().map(|d| d.job).collect();
            for job in &jobs {
                let job = &self.basis.measures.coated[*job as usize];
                for (sum, area) in areas.iter_mut().zip(self.basis.areas(job)) {
                    *sum += area;
                }
            }
            let further = jobs.len().saturating_sub(1) as u64;
            for (end, set_ups) in [(from, further.div_ceil(2)), (into, further / 2)] {
                if let Some(bottle) = end.and_then(|e| bottles.get_mut(e)) {
                    bottle.jobs += set_ups;
                }
            }
            straddles.push(Straddle { areas, from, into });
        }
    }
}

/// Bottles that count as one, as a row.
#[derive(Debug, Clone)]
struct Gathered {
    members: Vec<usize>,
    jobs: BTreeSet<u32>,
    row: Bottle,
    why: Option<WhyNot>,
}

impl Gathered {
    fn empty(finishes: usize) -> Self {
        Self {
            members: Vec::new(),
            jobs: BTreeSet::new(),
            row: Bottle {
                used: 0.0,
                jobs: 0,
                areas: vec![0.0; finishes],
            },
            why: None,
        }
    }
}
