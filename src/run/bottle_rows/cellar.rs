//! Which jobs were done from which bottle, and which bottles count as one.

use super::laid::Laid;
use crate::findings::consumption::WhyNot;
use crate::measures::{BottleSpan, Draw, Measures, Named};
use crate::run::estimates::Kinds;
use chrono::NaiveDate;
use std::collections::{BTreeMap, BTreeSet};

/// What more than a bottle's content must be measured on it before that is
/// called impossible [share of the content]: left-overs and scales are read to
/// about this.
const SLACK: f64 = 0.02;

/// Jobs that were done from two bottles, in the order of the list.
#[derive(Debug, Clone)]
pub(super) struct Link {
    pub(super) from: usize,
    pub(super) into: usize,
    pub(super) draws: Vec<Draw>,
}

/// The bottles of one shop and what was drawn from them. Bottles are counted
/// by their place in `bottles`, which is in order of opening.
pub(super) struct Cellar<'a> {
    pub(super) measures: &'a Measures,
    /// Those that the fits tell apart.
    pub(super) finishes: &'a Kinds,
    pub(super) bottles: Vec<usize>,
    pub(super) draws: Vec<Draw>,
    /// Drawn wholly from each bottle.
    pub(super) own: Vec<Vec<Draw>>,
    pub(super) links: Vec<Link>,
    /// The bottle with which each counts as one: itself, or an earlier one.
    one_with: Vec<usize>,
    /// Why a bottle cannot be a row, whichever months are looked at.
    pub(super) spoilt: Vec<Option<WhyNot>>,
}

impl<'a> Cellar<'a> {
    pub(super) fn new(measures: &'a Measures, finishes: &'a Kinds) -> Self {
        Self {
            measures,
            finishes,
            bottles: Vec::new(),
            draws: Vec::new(),
            own: Vec::new(),
            links: Vec::new(),
            one_with: Vec::new(),
            spoilt: Vec::new(),
        }
    }

    pub(super) fn span(&self, bottle: usize) -> &'a BottleSpan {
        &self.measures.bottle_spans[self.bottles[bottle]]
    }

    /// mL that a bottle gave.
    pub(super) fn content(&self, bottle: usize) -> Option<f64> {
        let span = self.span(bottle);
        Some(span.volume? - span.left_over)
    }

    pub(super) fn measured(&self, draw: &Draw) -> bool {
        let job = &self.measures.coated[draw.job as usize];
        job.used.is_some() && draw.used.is_some()
    }

    pub(super) fn root(&self, mut bottle: usize) -> usize {
        while self.one_with[bottle] != bottle {
            bottle = self.one_with[bottle];
        }
        bottle
    }

    /// Lets two bottles count as one from here on.
    fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.root(a), self.root(b));
        self.one_with[a.max(b)] = a.min(b);
    }

    /// Lays the draws to the bottles.
    pub(super) fn close(mut self) -> Laid {
        let spans = &self.measures.bottle_spans;
        let until = |i: usize| spans[i].emptied_on.unwrap_or(NaiveDate::MAX);
        self.bottles
            .sort_by_key(|i| (spans[*i].opened_on, until(*i), *i));
        let n = self.bottles.len();
        self.own = vec![Vec::new(); n];
        self.one_with = (0..n).collect();
        self.spoilt = (0..n).map(|i| self.unusable(i)).collect();
        self.draws.sort_by_key(|d| (d.day, d.minute, d.job));
        let by_name = self.draws.iter().any(|d| d.bottle != Named::Nothing);
        if by_name {
            self.by_name();
        } else {
            self.by_date();
        }
        self.settle();
        Laid::new(self, by_name)
    }

    /// Why a bottle cannot be a row, whatever was drawn from it.
    fn unusable(&self, bottle: usize) -> Option<WhyNot> {
        let held = self.content(bottle).is_some_and(|ml| ml > 0.0);
        (!held).then_some(WhyNot::NoVolume)
    }

    fn by_name(&mut self) {
        let mut place = vec![None; self.measures.bottle_spans.len()];
        for (at, span) in self.bottles.iter().enumerate() {
            place[*span] = Some(at);
        }
        let mut touched: BTreeMap<u32, BTreeSet<usize>> = BTreeMap::new();
        for draw in self.draws.clone() {
            match draw.bottle {
                Named::Bottle(i) => {
                    let Some(bottle) = place.get(i as usize).copied().flatten() else {
                        continue;
                    };
                    self.own[bottle].push(draw);
                    if !self.measured(&draw) {
                        touched.entry(draw.job).or_default().insert(bottle);
                    }
                }
                Named::Nothing => self.spoil(draw.day, WhyNot::JobWithoutBottle),
                Named::Elsewhere => {}
            }
        }
        self.too_much_measured();
        self.go_on(&mut touched);
        for (job, bottles) in touched {
            self.link_job(job, bottles);
        }
    }

    /// Spoils the bottles that were open on a day.
    fn spoil(&mut self, day: NaiveDate, why: WhyNot) {
        for bottle in 0..self.bottles.len() {
            let span = self.span(bottle);
            let open = span.opened_on <= day && span.emptied_on.is_none_or(|e| day <= e);
            if open && self.spoilt[bottle].is_none() {
                self.spoilt[bottle] = Some(why);
            }
        }
    }

    /// Spoils bottles on which more was measured than they held, the last job
    /// apart, which may have gone on with the next.
    fn too_much_measured(&mut self) {
        for bottle in 0..self.bottles.len() {
            let own = &self.own[bottle];
            let but_last = own.len().saturating_sub(1);
            let measured: f64 = own[..but_last].iter().filter_map(|d| d.used).sum();
            let held = self.content(bottle).unwrap_or(0.0);
            if self.spoilt[bottle].is_none() && measured > held * (1.0 + SLACK) {
                self.spoilt[bottle] = Some(WhyNot::MoreThanItHeld);
            }
        }
    }

    /// The last job on each emptied bottle goes on with the next bottle opened
    /// that day.
    fn go_on(&mut self, touched: &mut BTreeMap<u32, BTreeSet<usize>>) {
        let mut taken = vec![false; self.bottles.len()];
        for bottle in 0..self.bottles.len() {
            let Some(last) = self.own[bottle].last().copied() else {
                continue;
            };
            let mut next = self.opened_as_emptied(bottle, &taken);
            while let Some(n) = next {
                taken[n] = true;
                // A bottle that no spell names was emptied by this job whole.
                if self.own[n].is_empty() && self.span(n).emptied_on.is_some() {
                    self.join(bottle, n);
                    next = self.opened_as_emptied(n, &taken);
                    continue;
                }
                if self.measured(&last) {
                    self.join(bottle, n);
                } else {
                    touched.entry(last.job).or_default().insert(n);
                }
                break;
            }
        }
    }

    /// The first bottle after this one that was opened on the day that this
    /// one was emptied and does not yet follow another.
    fn opened_as_emptied(&self, bottle: usize, taken: &[bool]) -> Option<usize> {
        let day = self.span(bottle).emptied_on?;
        let spans = &self.measures.bottle_spans;
        let from = self
            .bottles
            .partition_point(|i| spans[*i].opened_on < day)
            .max(bottle + 1);
        let mut that_day =
            (from..self.bottles.len()).take_while(|n| self.span(*n).opened_on == day);
        that_day.find(|n| !taken[*n])
    }

    /// An unmeasured job over several bottles: all but the last count as one,
    /// and it straddles those and the last.
    fn link_job(&mut self, job: u32, bottles: BTreeSet<usize>) {
        let all: Vec<usize> = bottles.into_iter().collect();
        let [first, middle @ .., last] = all.as_slice() else {
            return;
        };
        for m in middle {
            self.join(*first, *m);
        }
        let mut draws = Vec::new();
        for bottle in &all {
            let (of_job, rest) = self.own[*bottle]
                .iter()
                .copied()
                .partition(|d| d.job == job);
            self.own[*bottle] = rest;
            draws.extend::<Vec<Draw>>(of_job);
        }
        draws.truncate(1);
        self.links.push(Link {
            from: *first,
            into: *last,
            draws,
        });
    }

    fn by_date(&mut self) {
        self.join_side_by_side();
        let mut boundaries: BTreeMap<(usize, usize), Vec<Draw>> = BTreeMap::new();
        let groups = self.spans_of_groups();
        for draw in self.draws.clone() {
            let upto = groups.partition_point(|g| g.opened <= draw.day);
            let open = |g: &&Group| g.emptied.is_none_or(|e| draw.day <= e);
            // Groups follow one another, so the last two may hold a day.
            let from = upto.saturating_sub(2);
            let holding: Vec<usize> = groups[from..upto]
                .iter()
                .filter(open)
                .map(|g| g.root)
                .collect();
            match holding.as_slice() {
                [one] => self.own[*one].push(draw),
                [from, into] => boundaries.entry((*from, *into)).or_default().push(draw),
                _ => {}
            }
        }
        for ((from, into), draws) in boundaries {
            self.links.push(Link { from, into, draws });
        }
    }

    /// Bottles that were open side by side count as one.
    fn join_side_by_side(&mut self) {
        let Some(mut last) = (!self.bottles.is_empty()).then_some(0) else {
            return;
        };
        for next in 1..self.bottles.len() {
            let (opened, emptied) = (self.span(next).opened_on, self.span(next).emptied_on);
            let until = self.span(last).emptied_on;
            let beside = until.is_none_or(|u| opened < u || (emptied == Some(u) && opened == u));
            if beside {
                self.join(last, next);
            }
            let longer = until.is_some_and(|u| emptied.is_none_or(|e| e >= u));
            if !beside || longer {
                last = next;
            }
        }
    }

    fn spans_of_groups(&self) -> Vec<Group> {
        let mut all: BTreeMap<usize, Group> = BTreeMap::new();
        for bottle in 0..self.bottles.len() {
            let span = self.span(bottle);
            let root = self.root(bottle);
            let group = all.entry(root).or_insert(Group {
                root,
                opened: span.opened_on,
                emptied: span.emptied_on,
            });
            group.emptied = group.emptied.zip(span.emptied_on).map(|(a, b)| a.max(b));
        }
        all.into_values().collect()
    }

    /// Joins bottles until each straddle is unmeasured and has an end of its
    /// own on either side.
    fn settle(&mut self) {
        for i in 0..self.links.len() {
            if self.links[i].draws.iter().any(|d| self.measured(d)) {
                let Link { from, into, .. } = self.links[i];
                self.join(from, into);
            }
        }
        while let Some((from, into)) = self.taken_twice() {
            self.join(from, into);
        }
    }

    /// The first straddle one of whose ends another straddle takes already.
    /// After a join ends are counted anew: bottles joined have one first and
    /// one last job fewer.
    fn taken_twice(&self) -> Option<(usize, usize)> {
        let (mut first, mut last) = (BTreeSet::new(), BTreeSet::new());
        self.links.iter().find_map(|link| {
            let (from, into) = (self.root(link.from), self.root(link.into));
            if from == into {
                return None;
            }
            let (from, into) = (from.min(into), from.max(into));
            let free = last.insert(from) & first.insert(into);
            (!free).then_some((from, into))
        })
    }
}

/// Bottles that count as one, in time.
#[derive(Debug, Clone, Copy)]
struct Group {
    root: usize,
    opened: NaiveDate,
    /// `None`: still open.
    emptied: Option<NaiveDate>,
}
