//! Rows of one table out of a chunk's columns.

use super::super::columns::Filled;
use super::super::plan::Part;
use super::super::rising::Rising;
use crate::settings::contract::Table;
use polars::prelude::*;

/// Rows of one table out of a chunk.
#[derive(Debug)]
pub(in super::super) struct Rows {
    /// By field, in the contract's order; `None` where no column serves it.
    pub(in super::super) columns: Vec<Option<Filled>>,
    /// Rows.
    pub(in super::super) len: usize,
    /// The order of their keys, where they rise and the table has keys of its
    /// own.
    pub(in super::super) rising: Option<Rising>,
    /// The record of each row; `None` where row and record are the same.
    pub(in super::super) record: Option<Vec<u32>>,
}

/// Those for which `keep` is true.
pub(super) fn pick<T: Copy>(all: &[T], keep: &[bool]) -> Vec<T> {
    let kept = all.iter().zip(keep).filter(|(_, k)| **k);
    kept.map(|(x, _)| *x).collect()
}

/// The rows for which `keep` is true.
pub(super) fn filtered(column: Filled, keep: &[bool]) -> PolarsResult<Filled> {
    if keep.iter().all(|k| *k) {
        return Ok(column);
    }
    column.filter(&BooleanChunked::new(PlSmallStr::EMPTY, keep))
}

/// A part's rows: of the records kept, those that hold something of it.
pub(super) fn rows_of(
    part: &Part,
    columns: &mut [Option<Filled>],
    keep: &[bool],
    present: Option<&[bool]>,
) -> PolarsResult<Rows> {
    let mask: Vec<bool> = match present {
        None => keep.to_vec(),
        Some(p) => keep.iter().zip(p).map(|(k, p)| *k && *p).collect(),
    };
    let record = present.map(|p| {
        let of_kept = pick(p, keep);
        let held = of_kept.iter().enumerate().filter(|(_, p)| **p);
        held.map(|(i, _)| i as u32).collect()
    });
    let mut out = Vec::with_capacity(part.claims.len());
    for claim in &part.claims {
        let column = claim.and_then(|c| columns[c].take());
        out.push(column.map(|c| filtered(c, &mask)).transpose()?);
    }
    let len = mask.iter().filter(|m| **m).count();
    let rising = match present {
        None => rising(part.table, &out),
        Some(_) => None,
    };
    Ok(Rows {
        columns: out,
        len,
        rising,
        record,
    })
}

/// The order of the keys of a table that has keys of its own.
fn rising(table: Table, columns: &[Option<Filled>]) -> Option<Rising> {
    let column = |name: &str| {
        let at = table.fields().iter().position(|f| f.name == name)?;
        columns.get(at)?.as_ref()
    };
    let key = table.key().first()?;
    Rising::of(column("shop"), column(key)?)
}

/// The field that identifies a row, or its job.
pub(in super::super) fn key_field(table: Table) -> &'static str {
    table.key().first().copied().unwrap_or("job")
}
