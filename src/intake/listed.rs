//! What is odd and was accepted all the same: listed, never put aside.

use super::columns::Filled;
use super::dates::{DAY_MICROS, day_text, moment_text};
use super::file::FileRows;
use super::links::{Linked, LinkedTable, NO_JOB, Segment, Stack};
use super::refusals::shown;
use crate::settings::contract::Table;
use crate::threads::both_where;
use serde::Serialize;
use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

mod bottles;
mod film;
mod people;
mod records;

use records::Records;

/// What is odd.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Oddity {
    /// A person that `people` does not have.
    UnknownPerson,
    /// Work before the person's hire date.
    BeforeHire,
    /// Work after the person left.
    AfterLeaving,
    /// One person on two jobs at once.
    TwoJobsAtOnce,
    /// Surfaces whose areas are over 5 % off the job's; the surfaces win.
    SurfacesDoNotAddUp,
    /// A coating price on a job that was not coated.
    PriceWithoutCoating,
    /// A discount over the price.
    DiscountOverPrice,
    /// A bottle that `bottles` does not have.
    UnknownBottle,
    /// A record like an earlier one of its export in every cell, without a
    /// date or time that would tell whether it is the same: both count.
    SameAgain,
    /// A callback or a look dated before the film work was finished.
    BeforeTheWork,
    /// Film seen sound after the day on which it had failed.
    SoundAfterFailure,
}

/// All oddities, in the order listed.
pub const ODDITIES: [Oddity; 11] = [
    Oddity::UnknownPerson,
    Oddity::BeforeHire,
    Oddity::AfterLeaving,
    Oddity::TwoJobsAtOnce,
    Oddity::SurfacesDoNotAddUp,
    Oddity::PriceWithoutCoating,
    Oddity::DiscountOverPrice,
    Oddity::UnknownBottle,
    Oddity::SameAgain,
    Oddity::BeforeTheWork,
    Oddity::SoundAfterFailure,
];

impl Oddity {
    /// A code for machines.
    pub fn code(self) -> &'static str {
        match self {
            Self::UnknownPerson => "unknown-person",
            Self::BeforeHire => "before-hire",
            Self::AfterLeaving => "after-leaving",
            Self::TwoJobsAtOnce => "two-jobs-at-once",
            Self::SurfacesDoNotAddUp => "surfaces-do-not-add-up",
            Self::PriceWithoutCoating => "price-without-coating",
            Self::DiscountOverPrice => "discount-over-price",
            Self::UnknownBottle => "unknown-bottle",
            Self::SameAgain => "same-again",
            Self::BeforeTheWork => "before-the-work",
            Self::SoundAfterFailure => "sound-after-failure",
        }
    }
}

/// One oddity, or several of one subject.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Listed {
    /// What is odd.
    pub oddity: Oddity,
    /// The file of the (first) line.
    pub file: Arc<str>,
    /// The (first) line, from 1.
    pub line: u64,
    /// Shop of the subject; "" where there is none.
    pub shop: String,
    /// The job, person or bottle.
    pub subject: String,
    /// What was found, in words.
    pub found: String,
    /// Records that it stands for.
    pub count: u64,
}

/// Oddities, each kind up to [`KEPT`] of them, and how many records each
/// stands for in all.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct List {
    /// In the order of [`ODDITIES`], then of files and lines.
    pub listed: Vec<Listed>,
    /// Records by kind, those not kept included.
    pub counts: BTreeMap<Oddity, u64>,
    /// The same by kind and shop, of the first 10,000 shops.
    #[serde(skip)]
    pub by_shop: BTreeMap<Oddity, BTreeMap<String, u64>>,
}

/// Oddities of each kind that are kept one by one.
pub const KEPT: usize = 1000;

/// Surfaces may differ from the job's area by this share of it.
const AREA_TOLERANCE: f64 = 0.05;

/// A list in the making.
#[derive(Default)]
struct Collected {
    by_oddity: BTreeMap<Oddity, Vec<Listed>>,
    records: Records,
}

impl Collected {
    /// Counts records, and keeps their entry where there is room for it.
    fn add(&mut self, oddity: Oddity, records: u64, entry: impl FnOnce() -> Listed) {
        let entry = entry();
        self.records.add(oddity, &entry.shop, records);
        let kept = self.by_oddity.entry(oddity).or_default();
        if kept.len() < KEPT {
            kept.push(entry);
        }
    }

    /// The list, with the other thread's part.
    fn with(mut self, other: Self) -> List {
        self.by_oddity.extend(other.by_oddity);
        self.records.join(other.records);
        List {
            listed: self.by_oddity.into_values().flatten().collect(),
            counts: self.records.counts,
            by_shop: self.records.by_shop,
        }
    }
}

/// Rows of a table that are in the frames, with their segment.
fn alive<'s, 'a>(
    linked: &'s Linked<'a>,
    table: &'s LinkedTable<'a>,
) -> impl Iterator<Item = (&'s Segment<'a>, usize, u32)> {
    let rows = |s: &'s Segment<'a>| {
        let alive = table.alive_in(&linked.states, s);
        alive.map(move |r| (s, r, s.base + r as u32))
    };
    table.stack.segments.iter().flat_map(rows)
}

/// What one look at the rows needs.
struct Look<'s, 'a> {
    files: &'s [FileRows],
    linked: &'s Linked<'a>,
}

impl<'s, 'a> Look<'s, 'a> {
    fn table(&self, table: Table) -> Option<&'s LinkedTable<'a>> {
        self.linked.tables.get(&table)
    }

    fn listed(
        &self,
        oddity: Oddity,
        segment: &Segment<'_>,
        row: usize,
        subject: (&str, &str),
        found: String,
    ) -> Listed {
        Listed {
            oddity,
            file: Arc::clone(&self.files[segment.file].plan.file),
            line: segment.line(row),
            shop: shown(subject.0),
            subject: shown(subject.1),
            found,
            count: 1,
        }
    }

    /// Shop and key of a row's job.
    fn job<'x>(stack: &Stack<'_>, segment: &'x Segment<'_>, row: usize) -> (&'x str, &'x str) {
        let text = |name| {
            let column = segment.column(stack.field(name));
            column.and_then(|c: &Filled| c.text(row)).unwrap_or("")
        };
        (text("shop"), text("job"))
    }

    fn surfaces(&self, list: &mut Collected) {
        let (Some(jobs), Some(surfaces)) = (self.table(Table::Jobs), self.table(Table::Surfaces))
        else {
            return;
        };
        if surfaces.stack.len == 0 || !jobs.stack.has("area") {
            return;
        }
        let mut sums = vec![0.0; jobs.stack.len as usize];
        let area = surfaces.stack.field("area");
        for segment in &surfaces.stack.segments {
            let Some(areas) = segment.column(area) else {
                continue;
            };
            for row in surfaces.alive_in(&self.linked.states, segment) {
                let job = surfaces.job_row[segment.base as usize + row];
                if let (Some(x), true) = (areas.real(row), job != NO_JOB) {
                    sums[job as usize] += x;
                }
            }
        }
        let area = jobs.stack.field("area");
        for segment in &jobs.stack.segments {
            let Some(areas) = segment.column(area) else {
                continue;
            };
            for row in jobs.alive_in(&self.linked.states, segment) {
                let sum = sums[segment.base as usize + row];
                let off = |own: &f64| sum > 0.0 && (sum - own).abs() > AREA_TOLERANCE * own;
                let Some(own) = areas.real(row).filter(off) else {
                    continue;
                };
                list.add(Oddity::SurfacesDoNotAddUp, 1, || {
                    let found = format!("surfaces of {sum:.2} m2 on a job of {own:.2} m2");
                    let job = Self::job(&jobs.stack, segment, row);
                    self.listed(Oddity::SurfacesDoNotAddUp, segment, row, job, found)
                });
            }
        }
    }

    fn prices(&self, list: &mut Collected) {
        let Some(jobs) = self.table(Table::Jobs) else {
            return;
        };
        let at = |name| jobs.stack.field(name);
        let fields = (at("coated"), at("coating_price"), at("coating_discount"));
        for segment in &jobs.stack.segments {
            let (coated, price, discount) = (
                segment.column(fields.0),
                segment.column(fields.1),
                segment.column(fields.2),
            );
            if price.is_none() && discount.is_none() {
                continue;
            }
            for row in jobs.alive_in(&self.linked.states, segment) {
                let price = price.and_then(|c| c.whole(row));
                let discount = discount.and_then(|c| c.whole(row));
                let mut add = |oddity, found: &str| {
                    list.add(oddity, 1, || {
                        let job = Self::job(&jobs.stack, segment, row);
                        self.listed(oddity, segment, row, job, found.to_string())
                    });
                };
                let uncoated = || coated.and_then(|c| c.yes(row)) == Some(false);
                if price.is_some_and(|p| p > 0) && uncoated() {
                    let found = "a coating price, and coated \"no\"";
                    add(Oddity::PriceWithoutCoating, found);
                }
                if discount.unwrap_or(0) > price.unwrap_or(i64::MAX) {
                    add(Oddity::DiscountOverPrice, "a discount over the price");
                }
            }
        }
    }

    fn alike(&self, list: &mut Collected) {
        for (table, pairs) in &self.linked.alike {
            let Some(linked) = self.table(*table) else {
                continue;
            };
            for pair in pairs
                .iter()
                .filter(|p| linked.alive(&self.linked.states, p.row))
            {
                let (at, first) = (
                    linked.stack.locate(pair.row),
                    linked.stack.locate(pair.first),
                );
                list.add(Oddity::SameAgain, 1, || {
                    let found = format!(
                        "the same as line {} in every cell, and no date or time in either; both \
                         count. If it was pasted twice, take one out",
                        first.line()
                    );
                    let job = Self::job(&linked.stack, at.segment, at.row);
                    self.listed(Oddity::SameAgain, at.segment, at.row, job, found)
                });
            }
        }
    }
}

/// Oddities counted by subject.
#[derive(Default)]
struct Subjects {
    by_subject: BTreeMap<(String, String), Listed>,
    /// Records of subjects that are not kept.
    beyond: Records,
}

impl Subjects {
    fn note(&mut self, shop: &str, subject: &str, first: impl FnOnce() -> Listed) {
        let key = (shop.to_string(), subject.to_string());
        if let Some(known) = self.by_subject.get_mut(&key) {
            known.count += 1;
        } else if self.by_subject.len() < KEPT {
            self.by_subject.insert(key, first());
        } else {
            let first = first();
            self.beyond.add(first.oddity, &first.shop, 1);
        }
    }

    fn into_list(self, list: &mut Collected) {
        let mut all: Vec<Listed> = self.by_subject.into_values().collect();
        all.sort_by(|a, b| (&a.file, a.line).cmp(&(&b.file, b.line)));
        for listed in all {
            list.add(listed.oddity, listed.count, || listed);
        }
        list.records.join(self.beyond);
    }
}

/// Looks at rows for some oddities.
type Find = fn(&Look<'_, '_>, &mut Collected);

/// The longest first, for two threads share them.
const FINDS: [Find; 7] = [
    |look, list| people::known(look, list),
    |look, list| bottles::unknown(look, list),
    |look, list| people::overlaps(look, list),
    |look, list| look.prices(list),
    |look, list| look.surfaces(list),
    |look, list| film::film(look, list),
    |look, list| look.alike(list),
];

/// Lists what is odd among the rows in the frames, on two threads.
pub(super) fn list(files: &[FileRows], linked: &Linked<'_>) -> List {
    let look = Look { files, linked };
    let next = AtomicUsize::new(0);
    let some = || {
        let mut found = Collected::default();
        while let Some(find) = FINDS.get(next.fetch_add(1, Ordering::Relaxed)) {
            find(&look, &mut found);
        }
        found
    };
    let (theirs, mine) = both_where(linked.are_many(), some, some);
    mine.with(theirs)
}

/// A day of a moment or a day.
fn day_of(column: Option<&Filled>, row: usize) -> Option<i32> {
    let column = column?;
    let of_moment = column.whole(row).map(|m| m.div_euclid(DAY_MICROS) as i32);
    column.day(row).or(of_moment)
}
