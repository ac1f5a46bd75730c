//! Tables of parts become the table of the whole. Parts are whole shops.

use super::error::CellsError;
use super::sheet::{Cell, Sheet, Values};
use crate::measures::shape::{Adds, Shape};
use std::collections::BTreeMap;

/// Adds tables of one shape. One alone stays as it is; none give an empty one.
pub(super) fn add(shape: &'static Shape, parts: Vec<Sheet>) -> Result<Sheet, CellsError> {
    let alone = parts.len() == 1;
    let whole = beside(shape, parts);
    match shape.adds {
        _ if alone => Ok(whole),
        Adds::Rows => Ok(whole),
        Adds::Sums => sums(&whole),
        Adds::Median => Ok(medians(&whole)),
    }
}

/// The rows of all parts, one part behind the other.
fn beside(shape: &'static Shape, parts: Vec<Sheet>) -> Sheet {
    let mut parts = parts.into_iter();
    let mut whole = parts.next().unwrap_or_else(|| Sheet::empty(shape, ""));
    for part in parts {
        for (to, from) in whole.columns.iter_mut().zip(part.columns) {
            to.append(from);
        }
        whole.lines.extend(part.lines);
    }
    whole
}

/// Rows of each grain, in the grain's order.
fn by_grain(whole: &Sheet) -> BTreeMap<Vec<Cell<'_>>, Vec<usize>> {
    let mut groups: BTreeMap<Vec<Cell<'_>>, Vec<usize>> = BTreeMap::new();
    for row in 0..whole.len() {
        groups.entry(whole.grain(row)).or_default().push(row);
    }
    groups
}

fn sums(whole: &Sheet) -> Result<Sheet, CellsError> {
    let groups: Vec<Vec<usize>> = by_grain(whole).into_values().collect();
    let columns = whole.shape.columns.iter().zip(&whole.columns);
    let columns = columns.map(|(column, values)| {
        if column.grain {
            return Ok(first_of(&groups, values));
        }
        sum_of(&groups, values).ok_or(CellsError::TooLarge {
            table: whole.shape.name,
            column: column.name,
        })
    });
    Ok(Sheet {
        columns: columns.collect::<Result<_, _>>()?,
        lines: vec![0; groups.len()],
        ..Sheet::empty(whole.shape, &whole.place)
    })
}

/// The value of each group's first row.
fn first_of(groups: &[Vec<usize>], values: &Values) -> Values {
    let rows = || groups.iter().filter_map(|g| g.first());
    match values {
        Values::Texts(all) => Values::Texts(rows().map(|r| all[*r].clone()).collect()),
        Values::Integers(all) => Values::Integers(rows().map(|r| all[*r]).collect()),
        Values::Numbers(all) => Values::Numbers(rows().map(|r| all[*r]).collect()),
    }
}

/// The sum over each group's rows; `None` where an integer does not hold it.
fn sum_of(groups: &[Vec<usize>], values: &Values) -> Option<Values> {
    match values {
        // No text is a sum.
        Values::Texts(_) => Some(first_of(groups, values)),
        Values::Integers(all) => {
            let sum = |group: &Vec<usize>| {
                let values = group.iter().filter_map(|r| all[*r]);
                values.map(Some).reduce(|a, b| a?.checked_add(b?))
            };
            let sums: Vec<Option<Option<i64>>> = groups.iter().map(sum).collect();
            let held = sums.iter().all(|s| *s != Some(None));
            held.then(|| Values::Integers(sums.into_iter().map(Option::flatten).collect()))
        }
        Values::Numbers(all) => {
            let sum =
                |group: &Vec<usize>| group.iter().filter_map(|r| all[*r]).reduce(|a, b| a + b);
            Some(Values::Numbers(groups.iter().map(sum).collect()))
        }
    }
}

/// One part's median, and how many jobs it is of.
#[derive(Debug, Clone, Copy)]
struct PartMedian {
    area: f64,
    jobs: i64,
}

/// See [`Adds::Median`].
fn medians(whole: &Sheet) -> Sheet {
    let groups = by_grain(whole);
    let jobs = whole.integers("jobs");
    let areas = match whole.column("area") {
        Some(Values::Numbers(all)) => all.as_slice(),
        _ => &[],
    };
    let mut sheet = Sheet::empty(whole.shape, &whole.place);
    for (grain, rows) in &groups {
        let part = |r: &usize| {
            Some(PartMedian {
                area: areas[*r]?,
                jobs: jobs[*r].filter(|n| *n > 0)?,
            })
        };
        let mut parts: Vec<PartMedian> = rows.iter().filter_map(part).collect();
        parts.sort_by(|a, b| a.area.total_cmp(&b.area));
        let total = parts.iter().map(|p| p.jobs).fold(0, i64::saturating_add);
        sheet.lines.push(0);
        for values in &mut sheet.columns {
            match values {
                Values::Texts(to) => to.push(class(grain)),
                Values::Integers(to) => to.push(Some(total)),
                Values::Numbers(to) => to.push(middle(&parts, total)),
            }
        }
    }
    sheet
}

/// The one text of a grain; `None` where it is ''.
fn class(grain: &[Cell<'_>]) -> Option<String> {
    match grain.first() {
        Some(Cell::Text(name)) if !name.is_empty() => Some((*name).to_string()),
        _ => None,
    }
}

/// The middle of `total` jobs; the mean of the two middle ones where they are
/// even in number.
fn middle(parts: &[PartMedian], total: i64) -> Option<f64> {
    let at = |nth: i64| {
        let mut before = 0_i64;
        let held = parts.iter().find(|p| {
            before = before.saturating_add(p.jobs);
            before > nth
        });
        held.or(parts.last()).map(|p| p.area)
    };
    Some((at((total - 1) / 2)? + at(total / 2)?) / 2.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measures::shape::{Column, Holds};

    const fn column(name: &'static str, holds: Holds, grain: bool) -> Column {
        Column {
            name,
            holds,
            optional: false,
            grain,
        }
    }

    const COUNTS: Shape = Shape {
        name: "counts",
        columns: &[
            column("finish", Holds::Text, true),
            column("jobs", Holds::Integer, false),
            column("used", Holds::Number, false),
        ],
        adds: Adds::Sums,
    };

    fn counts(finish: &[&str], jobs: &[i64]) -> Sheet {
        let text = finish.iter().map(|t| Some((*t).to_string()));
        Sheet {
            columns: vec![
                Values::Texts(text.collect()),
                Values::Integers(jobs.iter().copied().map(Some).collect()),
                Values::Numbers(jobs.iter().map(|n| Some(*n as f64 / 2.0)).collect()),
            ],
            lines: vec![0; jobs.len()],
            ..Sheet::empty(&COUNTS, "a.csv")
        }
    }

    #[test]
    fn counts_of_one_grain_are_added_and_empty_parts_change_nothing() {
        let parts = vec![
            counts(&["matte"], &[2]),
            counts(&[], &[]),
            counts(&["gloss", "matte"], &[5, 7]),
        ];
        let whole = add(&COUNTS, parts).unwrap();
        assert_eq!(whole.columns, counts(&["gloss", "matte"], &[5, 9]).columns);
        assert_eq!(add(&COUNTS, Vec::new()).unwrap().len(), 0);
    }

    #[test]
    fn a_sum_that_no_integer_holds_is_refused() {
        let parts = vec![counts(&["matte"], &[i64::MAX]), counts(&["matte"], &[1])];
        let said = add(&COUNTS, parts).unwrap_err().to_string();
        assert!(said.contains("table counts, column jobs"), "{said}");
    }

    /// The middle two of 3, 3, 3, 5, 9, 9: 3 and 5.
    #[test]
    fn a_median_of_parts_counts_each_job_at_its_parts_median() {
        let part = |area, jobs| PartMedian { area, jobs };
        let parts = [part(3.0, 3), part(5.0, 1), part(9.0, 2)];
        assert_eq!(middle(&parts, 6), Some(4.0));
        assert_eq!(middle(&parts[..2], 4), Some(3.0));
        assert_eq!(middle(&parts[2..], 2), Some(9.0));
        assert_eq!(middle(&[], 0), None);
    }
}
