//! Bottles that count as one, gathered once; of some months they become rows.
//! Which job was done from which bottle does not depend on the months.

use super::Gathered;
use super::cellar::{Cellar, Link};
use crate::findings::consumption::{BottleLeftOut, WhyNot};
use crate::fits::consumption::{Bottle, Straddle};
use crate::measures::{Draw, Measures, Part};
use crate::settings::month::Month;
use std::collections::{BTreeMap, BTreeSet};

/// One shop's bottles with the jobs laid to them.
#[derive(Debug)]
pub(super) struct Laid {
    /// Spells name their bottle.
    pub(super) by_name: bool,
    /// Bottles that count as one, by the first of them.
    groups: Vec<Group>,
    /// Jobs between two groups.
    across: Vec<Across>,
}

/// Bottles that count as one.
#[derive(Debug)]
struct Group {
    members: Vec<Member>,
    row: Bottle,
}

/// One of them.
#[derive(Debug)]
struct Member {
    /// Its place among the measures' spans.
    span: usize,
    spoilt: Option<WhyNot>,
    /// What a job on it lacks.
    lacks: Option<WhyNot>,
}

/// Jobs that straddle two groups.
#[derive(Debug)]
struct Across {
    from: usize,
    into: usize,
    areas: Vec<f64>,
    /// Jobs beside the first.
    further: u64,
}

impl Laid {
    pub(super) fn new(mut cellar: Cellar<'_>, by_name: bool) -> Self {
        let links = std::mem::take(&mut cellar.links);
        let (inside, across): (Vec<Link>, Vec<Link>) =
            (links.into_iter()).partition(|l| cellar.root(l.from) == cellar.root(l.into));
        for link in inside {
            let root = cellar.root(link.from);
            cellar.own[root].extend(link.draws);
        }
        for link in &across {
            let lacks = link.draws.iter().find_map(|d| lacks(&cellar, d));
            for end in [link.from, link.into] {
                cellar.spoilt[end] = cellar.spoilt[end].or(lacks);
            }
        }
        let gathered = gathered(&cellar);
        let place: BTreeMap<usize, usize> = gathered.keys().copied().zip(0..).collect();
        let at = |bottle| place.get(&cellar.root(bottle)).copied().unwrap_or(0);
        let between = |link: &Link| {
            let (a, b) = (at(link.from), at(link.into));
            let jobs: BTreeSet<u32> = link.draws.iter().map(|d| d.job).collect();
            Across {
                from: a.min(b),
                into: a.max(b),
                areas: areas_of(&cellar, &jobs),
                further: jobs.len().saturating_sub(1) as u64,
            }
        };
        Self {
            by_name,
            across: across.iter().map(between).collect(),
            groups: gathered.into_values().map(|g| g.group).collect(),
        }
    }

    /// Adds the rows of the bottles that were opened and emptied in months
    /// that `keep` keeps.
    pub(super) fn rows(&self, m: &Measures, keep: &dyn Fn(Month) -> bool, to: &mut Gathered) {
        let within = |member: &Member| {
            let span = &m.bottle_spans[member.span];
            keep(span.opened) && span.emptied.is_some_and(keep)
        };
        let mut at = vec![None; self.groups.len()];
        for (group, at) in self.groups.iter().zip(&mut at) {
            match group.why(&within) {
                None => {
                    *at = Some(to.bottles.len());
                    to.told.used += group.members.len() as u64;
                    to.bottles.push(group.row.clone());
                }
                Some(why) => to.told.left_out.extend(group.named(m, &within, why)),
            }
        }
        for across in &self.across {
            across.straddle(&at, to);
        }
    }
}

impl Group {
    /// Why these bottles make no row of the months looked at.
    fn why(&self, within: &dyn Fn(&Member) -> bool) -> Option<WhyNot> {
        let mut why = None;
        for member in &self.members {
            if !within(member) {
                why = why.or(Some(WhyNot::NotWithin));
            } else if member.spoilt.is_some() {
                why = Some(WhyNot::WithAnother);
            }
            why = why.or(member.lacks);
        }
        why.or((self.row.used <= 0.0).then_some(WhyNot::MoreThanItHeld))
    }

    fn named<'a>(
        &'a self,
        m: &'a Measures,
        within: &'a dyn Fn(&Member) -> bool,
        why: WhyNot,
    ) -> impl Iterator<Item = BottleLeftOut> + 'a {
        // A group falls with one of its bottles; the others say so.
        let why = if why == WhyNot::NotWithin {
            WhyNot::WithAnother
        } else {
            why
        };
        let told = self.members.iter().filter(|member| within(member));
        told.map(move |member| BottleLeftOut {
            shop: m.bottle_spans[member.span].shop.to_string(),
            bottle: m.bottle_spans[member.span].bottle.to_string(),
            why: member.spoilt.unwrap_or(why),
        })
    }
}

impl Across {
    /// Straddling jobs of a day stand together as one, whose split is as
    /// unknown; their further set-ups go half to either side.
    fn straddle(&self, at: &[Option<usize>], to: &mut Gathered) {
        let place = |group: usize| at.get(group).copied().flatten();
        let (from, into) = (place(self.from), place(self.into));
        if from.is_none() && into.is_none() {
            return;
        }
        for (end, set_ups) in [(from, self.further.div_ceil(2)), (into, self.further / 2)] {
            if let Some(bottle) = end.and_then(|e| to.bottles.get_mut(e)) {
                bottle.jobs += set_ups;
            }
        }
        to.straddles.push(Straddle {
            areas: self.areas.clone(),
            from,
            into,
        });
    }
}

/// A group while it is gathered, with the jobs counted so far.
struct Growing {
    group: Group,
    jobs: BTreeSet<u32>,
}

fn gathered(cellar: &Cellar<'_>) -> BTreeMap<usize, Growing> {
    let finishes = cellar.finishes.count();
    let mut all: BTreeMap<usize, Growing> = BTreeMap::new();
    for (bottle, span) in cellar.bottles.iter().enumerate() {
        let growing = all
            .entry(cellar.root(bottle))
            .or_insert_with(|| Growing::empty(finishes));
        growing.group.members.push(Member {
            span: *span,
            spoilt: cellar.spoilt[bottle],
            lacks: None,
        });
        growing.group.row.used += cellar.content(bottle).unwrap_or(0.0);
        for draw in &cellar.own[bottle] {
            growing.add(cellar, draw);
        }
    }
    all
}

impl Growing {
    fn empty(finishes: usize) -> Self {
        Self {
            group: Group {
                members: Vec::new(),
                row: Bottle {
                    used: 0.0,
                    jobs: 0,
                    areas: vec![0.0; finishes],
                },
            },
            jobs: BTreeSet::new(),
        }
    }

    fn add(&mut self, cellar: &Cellar<'_>, draw: &Draw) {
        let group = &mut self.group;
        if cellar.measured(draw) {
            group.row.used -= draw.used.unwrap_or(0.0);
        } else if self.jobs.insert(draw.job) {
            if let Some(member) = group.members.last_mut() {
                member.lacks = member.lacks.or(lacks(cellar, draw));
            }
            group.row.jobs += 1;
            add_areas(cellar, draw.job, &mut group.row.areas);
        }
    }
}

/// What a job lacks to be a part of a row.
fn lacks(cellar: &Cellar<'_>, draw: &Draw) -> Option<WhyNot> {
    let parts = &cellar.measures.coated[draw.job as usize].parts;
    let rare = |p: &Part| cellar.finishes.column(p.finish).is_none();
    if parts.is_empty() {
        return Some(WhyNot::JobWithoutArea);
    }
    parts.iter().any(rare).then_some(WhyNot::RareFinish)
}

fn areas_of(cellar: &Cellar<'_>, jobs: &BTreeSet<u32>) -> Vec<f64> {
    let mut areas = vec![0.0; cellar.finishes.count()];
    for job in jobs {
        add_areas(cellar, *job, &mut areas);
    }
    areas
}

/// Adds a job's areas by finish, those of one finish first put together.
fn add_areas(cellar: &Cellar<'_>, job: u32, to: &mut [f64]) {
    let mut own = vec![0.0; to.len()];
    for part in &cellar.measures.coated[job as usize].parts {
        if let Some(column) = cellar.finishes.column(part.finish) {
            own[column] += part.area;
        }
    }
    for (sum, area) in to.iter_mut().zip(own) {
        *sum += area;
    }
}
