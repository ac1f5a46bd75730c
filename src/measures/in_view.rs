//! The coated jobs in view, out of those of a look back: what both hold is laid
//! out once.

use super::bottles::{BottleSpan, Draw, Named};
use super::coated::CoatedJob;
use super::names::Names;
use super::rows::Rows;
use super::tables::Measures;
use crate::settings::month::Month;
use foldhash::fast::RandomState;
use std::collections::{HashMap, HashSet};

/// Coated jobs in view, as they would be laid out for themselves.
pub(super) struct InView {
    /// The jobs with their areas and work, and the classes, finishes and people
    /// of these alone.
    pub(super) seen: Measures,
    /// By their keys.
    pub(super) rows: Rows,
    /// The place among them of each job of the look back.
    places: Vec<Option<u32>>,
}

impl InView {
    /// The jobs of `all` that were finished in the month `first` or later.
    /// `keys`: of each job of `all`.
    pub(super) fn of(all: &Measures, keys: &[i64], first: Month) -> Self {
        let mut seen = Measures::default();
        let mut numbers = Numbers::of(all);
        let mut places = vec![None; all.coated.len()];
        let mut kept = Vec::new();
        let jobs = all.coated.iter().zip(keys).zip(&mut places);
        for ((job, key), place) in jobs.filter(|((job, _), _)| job.month >= first) {
            *place = Some(kept.len() as u32);
            kept.push(*key);
            let mut own = job.clone();
            numbers.renumber(&mut own, all, &mut seen);
            seen.coated.push(own);
        }
        Self {
            seen,
            rows: Rows::of(kept),
            places,
        }
    }

    /// Of what the jobs of `all`, the look back, drew, that of the jobs in view
    /// at shops that have a bottle among `spans`.
    pub(super) fn draws(&self, all: &Measures, spans: &[BottleSpan]) -> Vec<Draw> {
        let key = |s: &BottleSpan| (s.shop.clone(), s.bottle.clone());
        let known: HashMap<_, u32, RandomState> = spans.iter().map(key).zip(0..).collect();
        let now = |s: &BottleSpan| known.get(&key(s)).map_or(Named::Elsewhere, named);
        let bottles: Vec<Named> = all.bottle_spans.iter().map(now).collect();
        let keeping: HashSet<&str, RandomState> = spans.iter().map(|s| s.shop.as_str()).collect();
        let draw = |draw: &Draw| {
            let job = self.places[draw.job as usize]?;
            let shop = self.seen.coated[job as usize].shop.as_str();
            let bottle = match draw.bottle {
                Named::Bottle(i) => bottles[i as usize],
                other => other,
            };
            keeping.contains(shop).then_some(Draw {
                job,
                bottle,
                ..*draw
            })
        };
        all.draws.iter().filter_map(draw).collect()
    }
}

fn named(place: &u32) -> Named {
    Named::Bottle(*place)
}

/// New numbers of the look back's classes, finishes and people, given in order
/// of first sight.
struct Numbers {
    classes: Vec<Option<u32>>,
    finishes: Vec<Option<u32>>,
    people: Vec<Option<u32>>,
}

impl Numbers {
    fn of(all: &Measures) -> Self {
        Self {
            classes: vec![None; all.classes.all().len()],
            finishes: vec![None; all.finishes.all().len()],
            people: vec![None; all.people.len()],
        }
    }

    fn renumber(&mut self, job: &mut CoatedJob, all: &Measures, seen: &mut Measures) {
        let anew = |old: u32, names: &Names, to: &mut Names| to.number(names.name(old));
        let class = &mut self.classes[job.class as usize];
        job.class = *class.get_or_insert_with(|| anew(job.class, &all.classes, &mut seen.classes));
        for part in &mut job.parts {
            let finish = &mut self.finishes[part.finish as usize];
            let number = || anew(part.finish, &all.finishes, &mut seen.finishes);
            part.finish = *finish.get_or_insert_with(number);
        }
        if let Some(person) = &mut job.person {
            let known = &mut self.people[*person as usize];
            let number = || {
                seen.people.push(all.people[*person as usize].clone());
                seen.people.len() as u32 - 1
            };
            *person = *known.get_or_insert_with(number);
        }
    }
}
