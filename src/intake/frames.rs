//! Typed frames: one a table, all seven always there.

use super::columns::{Filled, dtype};
use super::error::IntakeError;
use super::links::{Linked, LinkedTable, NO_JOB};
use crate::settings::contract::{Field, TABLES, Table};
use polars::prelude::*;
use std::collections::BTreeMap;

/// One frame a table. Columns: `job_key` (Int64), then the contract's fields
/// in its order. Keys, words and text are String, null where not recorded
/// (`shop` is never null: "" where there is none); days are Date; moments
/// Datetime [µs], local; yes/no Boolean; money Int64 [minor units]; areas,
/// uses, volumes, temperatures, humidity and minutes Float64 [m², mL, mL, °C,
/// %, min].
///
/// `job_key` numbers the jobs from 0; in surfaces, coatings, callbacks and
/// inspections it is that of their job, in bottles and people the number of
/// the row.
#[derive(Debug, Clone)]
pub struct Frames {
    all: BTreeMap<Table, DataFrame>,
}

impl Frames {
    /// The frame of a table.
    pub fn of(&self, table: Table) -> &DataFrame {
        // All seven are put in by `build`.
        &self.all[&table]
    }

    /// All frames, in the contract's order.
    pub fn iter(&self) -> impl Iterator<Item = (Table, &DataFrame)> {
        self.all.iter().map(|(table, frame)| (*table, frame))
    }

    /// All frames, by table.
    pub fn into_inner(self) -> BTreeMap<Table, DataFrame> {
        self.all
    }

    /// Frames out of linked rows.
    pub(super) fn build(linked: &Linked<'_>) -> Result<Self, IntakeError> {
        let jobs = linked.tables.get(&Table::Jobs);
        let keys = jobs.map(|jobs| ranks(linked, jobs)).unwrap_or_default();
        let mut all = BTreeMap::new();
        for table in TABLES {
            let rows = linked.tables.get(&table);
            let frame = frame(table, rows, linked, &keys);
            let frame = frame.map_err(|e| IntakeError::Frame {
                table: table.name(),
                what: e.to_string(),
            })?;
            all.insert(table, frame);
        }
        Ok(Self { all })
    }
}

/// The number of each row among the rows that are in the frames.
fn ranks(linked: &Linked<'_>, table: &LinkedTable<'_>) -> Vec<u32> {
    let mut next = 0;
    let mut out = Vec::with_capacity(table.stack.len as usize);
    for segment in &table.stack.segments {
        for row in 0..segment.rows.len {
            out.push(next);
            next += u32::from(table.alive_at(&linked.states, segment, row));
        }
    }
    out
}

/// The rows of one chunk that are in the frame, and their job keys.
struct Kept {
    mask: Option<BooleanChunked>,
    keys: Vec<i64>,
}

fn kept(linked: &Linked<'_>, table: &LinkedTable<'_>, keys: &[u32], segment: usize) -> Kept {
    let segment = &table.stack.segments[segment];
    let mut mask = Vec::with_capacity(segment.rows.len);
    let mut out = Vec::with_capacity(segment.rows.len);
    for local in 0..segment.rows.len {
        let alive = table.alive_at(&linked.states, segment, local);
        mask.push(alive);
        if !alive {
            continue;
        }
        let row = segment.base + local as u32;
        let job = match table.stack.table {
            Table::Jobs => row,
            _ => table.job_row.get(row as usize).copied().unwrap_or(NO_JOB),
        };
        let key = keys.get(job as usize).map(|k| i64::from(*k));
        out.push(key.unwrap_or(out.len() as i64));
    }
    let all = out.len() == mask.len();
    Kept {
        mask: (!all).then(|| BooleanChunked::new(PlSmallStr::EMPTY, &mask)),
        keys: out,
    }
}

fn frame(
    table: Table,
    rows: Option<&LinkedTable<'_>>,
    linked: &Linked<'_>,
    keys: &[u32],
) -> PolarsResult<DataFrame> {
    let fields = table.fields();
    let segments = rows.map_or(0, |r| r.stack.segments.len());
    let mut key = Series::new_empty("job_key".into(), &DataType::Int64);
    let mut columns: Vec<Series> = fields
        .iter()
        .map(|f| Series::new_empty(f.name.into(), &dtype(f.kind)))
        .collect();
    let own_number = table == Table::Bottles || table == Table::People;
    for at in 0..segments {
        let Some(rows) = rows else { break };
        let kept = kept(linked, rows, keys, at);
        let before = key.len() as i64;
        let numbers = match own_number {
            true => (before..before + kept.keys.len() as i64).collect(),
            false => kept.keys,
        };
        let height = numbers.len();
        key.append_owned(Int64Chunked::from_vec("job_key".into(), numbers).into_series())?;
        for (place, (field, column)) in fields.iter().zip(&mut columns).enumerate() {
            let found = rows.stack.segments[at].column(place);
            column.append_owned(part(field, found, kept.mask.as_ref(), height)?)?;
        }
    }
    let height = key.len();
    let mut all = vec![key.into_column()];
    all.extend(columns.into_iter().map(IntoColumn::into_column));
    DataFrame::new(height, all)
}

/// One chunk's part of a column.
fn part(
    field: &Field,
    found: Option<&Filled>,
    mask: Option<&BooleanChunked>,
    height: usize,
) -> PolarsResult<Series> {
    let column = match (found, mask) {
        (None, _) if field.name == "shop" => {
            return Ok(StringChunked::full("shop".into(), "", height).into_series());
        }
        (None, _) => {
            return Ok(Series::full_null(
                field.name.into(),
                height,
                &dtype(field.kind),
            ));
        }
        (Some(column), None) => column.clone(),
        (Some(column), Some(mask)) => column.filter(mask)?,
    };
    let series = column.into_series(field.kind);
    if field.name == "shop" && series.null_count() > 0 {
        let text = series.str()?;
        let filled: StringChunked = text.iter().map(|s| Some(s.unwrap_or(""))).collect();
        return Ok(filled.with_name("shop".into()).into_series());
    }
    Ok(series)
}
