//! People's practice: which job of theirs each was, and when they were hired.

use super::error::MeasureError;
use super::prices::Person;
use super::reader::{Reader, count, day, strings};
use super::rows::{Placed, Rows, as_they_come};
use super::run::Results;
use super::tables::Measures;
use super::text::Text;
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// For each coated job done by one person alone: which coated job of that
/// person's it was, over all history.
pub(super) fn nth(
    results: &Results,
    m: &Measures,
    rows: &Rows,
) -> Result<Vec<Option<u64>>, MeasureError> {
    let r = Reader::new(results, "practice")?;
    let keys = r.counts("job_key")?;
    let nth = r.integers("nth")?;
    let names = r.words("applied_by")?;
    let mut all = vec![None; m.coated.len()];
    // One row a person: at most one of a job's is its own person's.
    for Placed { job, at } in rows.place(&keys, as_they_come) {
        let own = m.coated[job].person.and_then(|p| m.people.get(p as usize));
        if own.is_some_and(|p| Some(p.person.as_str()) == names.get(at)) {
            all[job] = Some(count(nth.or_zero(at)));
        }
    }
    Ok(all)
}

pub(super) fn hired(results: &Results) -> Result<BTreeMap<Person, NaiveDate>, MeasureError> {
    let r = Reader::new(results, "hired")?;
    let shops = strings(&r, "shop")?;
    let people = strings(&r, "person")?;
    let days = r.days("started_on")?;
    let both = shops.into_iter().zip(people).zip(days.all());
    let pair = |((shop, person), started): ((Text, Text), Option<i32>)| {
        started.map(|d| (Person::new(&shop, &person), day(Some(d))))
    };
    Ok(both.filter_map(pair).collect())
}
