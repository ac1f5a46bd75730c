//! Tables of one part, and of all parts together.

use super::add::add;
use super::error::CellsError;
use super::looked::Looked;
use super::read::read;
use super::sheet::{Sheet, Values};
use super::{CellFiles, CellRows, Part};
use crate::measures::error::MeasureError;
use crate::measures::reader::month;
use crate::measures::run::Results;
use crate::measures::shape::{MONTHS, shape_of};
use crate::settings::month::Month;
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// The tables of one run of the queries on one part.
pub(super) struct Set {
    sheets: BTreeMap<&'static str, Sheet>,
    looked: Looked,
}

impl Set {
    /// Reads one run's tables of each part. Jobs are numbered on through the
    /// parts.
    pub(super) fn read_all(
        parts: &[Part],
        of: impl Fn(&Part) -> &CellFiles,
        files: &mut Vec<CellRows>,
    ) -> Result<Vec<Self>, CellsError> {
        let many = parts.len() > 1;
        let mut jobs = 0;
        let one = |part: &Part| {
            let set = Self::read(of(part), many.then_some(&part.name), jobs, files)?;
            jobs += set.sheets.get("coated").map_or(0, |s| s.len() as i64);
            Ok(set)
        };
        parts.iter().map(one).collect()
    }

    fn read(
        tables: &CellFiles,
        name: Option<&String>,
        first_job: i64,
        files: &mut Vec<CellRows>,
    ) -> Result<Self, CellsError> {
        let mut sheets = BTreeMap::new();
        for (table, file) in tables {
            let mut sheet = read(file, shape_of(table).unwrap_or(&MONTHS))?;
            files.push(CellRows {
                place: file.place.clone(),
                rows: sheet.len() as u64,
            });
            name_shop(&mut sheet, name);
            sheets.insert(*table, sheet);
        }
        let looked = Looked {
            window: months(sheets.get("window_months")),
            spans: months(sheets.get("spans")),
        };
        number_jobs(&mut sheets, first_job)?;
        Ok(Self { sheets, looked })
    }

    fn shops(&self) -> BTreeSet<&str> {
        let named = self
            .sheets
            .get("months")
            .map_or(&[][..], |s| s.texts("shop"));
        named.iter().map(|t| t.as_deref().unwrap_or("")).collect()
    }
}

/// Where there are several parts, a shop without a name bears its part's.
fn name_shop(sheet: &mut Sheet, name: Option<&String>) {
    let (Some(name), Some(Values::Texts(all))) = (name, sheet.column_mut("shop")) else {
        return;
    };
    for shop in all.iter_mut().filter(|s| s.is_none()) {
        *shop = Some(name.clone());
    }
}

fn months(sheet: Option<&Sheet>) -> Vec<Month> {
    let numbers = sheet.map_or(&[][..], |s| s.integers("month_no"));
    let mut all: Vec<Month> = numbers.iter().flatten().map(|no| month(*no)).collect();
    all.sort_unstable();
    all
}

/// Puts a number in place of each coated job's key; a key elsewhere must be one
/// of theirs.
fn number_jobs(sheets: &mut BTreeMap<&'static str, Sheet>, first: i64) -> Result<(), CellsError> {
    let Some(coated) = sheets.get("coated") else {
        return Ok(());
    };
    let place = coated.place.clone();
    let keys = coated.texts("job_key").iter().flatten().cloned();
    let keys: HashMap<String, i64> = keys.zip(first..).collect();
    for sheet in sheets.values_mut().filter(|s| s.shape.of_jobs()) {
        let number = |(key, line): (&Option<String>, &u64)| {
            let key = key.as_deref().unwrap_or("");
            let number = keys.get(key).copied().map(Some);
            number.ok_or_else(|| CellsError::NoJob {
                place: sheet.place.clone(),
                line: *line,
                key: key.to_string(),
                coated: place.clone(),
            })
        };
        let rows = sheet.texts("job_key").iter().zip(&sheet.lines);
        let numbers: Vec<Option<i64>> = rows.map(number).collect::<Result<_, _>>()?;
        if let Some(values) = sheet.column_mut("job_key") {
            *values = Values::Integers(numbers);
        }
    }
    Ok(())
}

/// Parts are whole shops, so that no count of people, bottles or practice is
/// split.
pub(super) fn each_shop_once(parts: &[Part], sets: &[Set]) -> Result<(), CellsError> {
    let mut seen: BTreeMap<&str, &str> = BTreeMap::new();
    for (part, set) in parts.iter().zip(sets) {
        for shop in set.shops() {
            if let Some(first) = seen.insert(shop, &part.name) {
                return Err(CellsError::SharedShop {
                    shop: shop.to_string(),
                    first: first.to_string(),
                    second: part.name.clone(),
                });
            }
        }
    }
    Ok(())
}

/// The results of one run on the whole.
pub(super) struct Whole {
    pub(super) results: Results,
    pub(super) looked: Looked,
}

impl Whole {
    pub(super) fn of(parts: &[Part], sets: Vec<Set>) -> Result<Self, CellsError> {
        let looked = together(parts, &sets)?;
        let mut by_name: BTreeMap<&'static str, Vec<Sheet>> = BTreeMap::new();
        for (name, sheet) in sets.into_iter().flat_map(|s| s.sheets) {
            by_name.entry(name).or_default().push(sheet);
        }
        let mut results = Results::new();
        for (name, sheets) in by_name {
            if let Some(shape) = shape_of(name) {
                let frame = add(shape, sheets)?.frame();
                let frame = frame.map_err(|source| MeasureError::Query {
                    query: name.to_string(),
                    source,
                })?;
                results.insert(name, frame);
            }
        }
        Ok(Self { results, looked })
    }
}

/// The months of all parts, which must end with the same.
fn together(parts: &[Part], sets: &[Set]) -> Result<Looked, CellsError> {
    let last = |set: &Set| set.looked.window.last().copied();
    let mut all = Looked::default();
    for (part, set) in parts.iter().zip(sets) {
        let ends = (sets.first().and_then(last)).zip(last(set));
        if let Some((first_month, second_month)) = ends.filter(|(a, b)| a != b) {
            return Err(CellsError::OtherMonth {
                first: parts.first().map_or("", |p| &p.name).to_string(),
                first_month,
                second: part.name.clone(),
                second_month,
            });
        }
        all = all.with(&set.looked);
    }
    Ok(all)
}
