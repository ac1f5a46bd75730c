//! Typed frames: one a table, all seven always there.

use super::columns::Filled;
use super::error::IntakeError;
use super::links::{Linked, LinkedTable, NO_JOB};
use super::vocabulary::Vocabulary;
use crate::settings::contract::{Field, TABLES, Table};
use crate::threads::both_where;
use polars::prelude::*;
use polars::series::IsSorted;
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// One frame a table. Columns: `job_key` (Int64), then the contract's fields
/// in its order. Keys, words and text are String, or Enum where there are many
/// rows ([`text_of`]), null where not recorded (`shop` is never null: "" where
/// there is none); days are Date; moments
/// Datetime [µs], local; yes/no Boolean; money Int64 [minor units]; areas,
/// uses, volumes, temperatures, humidity and minutes Float64 [m², mL, mL, °C,
/// %, min]. Minutes of coating work that are not written down follow from
/// start, end and pauses.
///
/// `job_key` numbers the jobs from 0; in surfaces, coatings, callbacks and
/// inspections it is that of their job, in bottles and people the number of
/// the row. Rows stand in its order, those of one job as the exports have them.
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

    /// Frames out of linked rows: the jobs' beside all others, which together
    /// are about as much work.
    pub(super) fn build(linked: &Linked<'_>) -> Result<Self, IntakeError> {
        let fault = |table: Table, e: &PolarsError| IntakeError::Frame {
            table: table.name(),
            what: e.to_string(),
        };
        let words = Vocabulary::of(linked).map_err(|e| fault(Table::Jobs, &e))?;
        let jobs = linked.tables.get(&Table::Jobs);
        let keys = jobs.map(|jobs| ranks(linked, jobs)).unwrap_or_default();
        let made = |table: Table| {
            let rows = linked.tables.get(&table);
            let mut frame = frame(table, rows, linked, &keys, &words);
            if table == Table::Coatings {
                frame = frame.and_then(timed);
            }
            let frame = frame.and_then(in_order_of_jobs);
            frame.map_err(|e| fault(table, &e))
        };
        let others = || -> Result<BTreeMap<Table, DataFrame>, IntakeError> {
            let others = TABLES.into_iter().filter(|t| *t != Table::Jobs);
            others.map(|t| Ok((t, made(t)?))).collect()
        };
        let (others, jobs) = both_where(linked.are_many(), others, || made(Table::Jobs));
        let mut all = others?;
        all.insert(Table::Jobs, jobs?);
        Ok(Self { all })
    }
}

/// A frame whose words are text, whatever they were.
///
/// # Errors
/// None on frames made here.
pub fn text_of(frame: &DataFrame) -> PolarsResult<DataFrame> {
    let text = |column: &Column| match column.dtype().is_enum() {
        true => column.cast(&DataType::String),
        false => Ok(column.clone()),
    };
    let columns = frame.columns().iter().map(text);
    DataFrame::new(frame.height(), columns.collect::<PolarsResult<_>>()?)
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
    words: &Vocabulary,
) -> PolarsResult<DataFrame> {
    let fields = table.fields();
    let segments = rows.map_or(0, |r| r.stack.segments.len());
    if segments == 0 {
        return empty(table, words);
    }
    let mut key: Option<Series> = None;
    let mut columns: Vec<Series> = Vec::with_capacity(fields.len());
    let own_number = table == Table::Bottles || table == Table::People;
    for at in 0..segments {
        let Some(rows) = rows else { break };
        let kept = kept(linked, rows, keys, at);
        let before = key.as_ref().map_or(0, |k| k.len() as i64);
        let numbers = match own_number {
            true => (before..before + kept.keys.len() as i64).collect(),
            false => kept.keys,
        };
        let height = numbers.len();
        let numbers = Int64Chunked::from_vec("job_key".into(), numbers).into_series();
        match &mut key {
            None => key = Some(numbers),
            Some(key) => drop(key.append_owned(numbers)?),
        }
        for (place, field) in fields.iter().enumerate() {
            let found = rows.stack.segments[at].column(place);
            let part = part(
                field,
                &words.dtype(field),
                found,
                kept.mask.as_ref(),
                height,
            )?;
            match columns.get_mut(place) {
                None => columns.push(part),
                Some(column) => drop(column.append_owned(part)?),
            }
        }
    }
    let Some(key) = key else {
        return empty(table, words);
    };
    let height = key.len();
    let mut all = vec![key.into_column()];
    all.extend(columns.into_iter().map(IntoColumn::into_column));
    DataFrame::new(height, all)
}

/// The rows of a frame in the order of their jobs, those of one job as they
/// come, each column in one piece: the engine then joins and groups by job
/// without a hash table, and hands over results in that order.
fn in_order_of_jobs(mut frame: DataFrame) -> PolarsResult<DataFrame> {
    let keys = frame.column("job_key")?.as_materialized_series();
    if !keys.i64()?.iter().is_sorted() {
        let stable = SortMultipleOptions::default().with_maintain_order(true);
        return frame.sort(["job_key"], stable);
    }
    frame.rechunk_mut_par();
    let mut keys = frame.column("job_key")?.as_materialized_series().clone();
    keys.set_sorted_flag(IsSorted::Ascending);
    frame.with_column(keys.into_column())?;
    Ok(frame)
}

/// Microseconds of a minute: moments are counted in them.
const MINUTE: f64 = 6.0e7;

/// Hands-on minutes where none are written down: from start to end, less
/// pauses. Records for which these come out below 0 or above a day are put
/// aside before.
fn timed(mut coatings: DataFrame) -> PolarsResult<DataFrame> {
    let micros = |name| coatings.column(name)?.cast(&DataType::Int64);
    let (start, end) = (micros("started_at")?, micros("ended_at")?);
    let spans = start.i64()?.iter().zip(end.i64()?.iter());
    let pauses = coatings.column("paused_minutes")?.f64()?.iter();
    let written = coatings.column("minutes")?.f64()?.iter();
    let minutes = |((span, pause), written): ((_, Option<f64>), Option<f64>)| {
        let (start, end): (Option<i64>, Option<i64>) = span;
        let worked = || Some((end? - start?) as f64 / MINUTE - pause.unwrap_or(0.0));
        written.or_else(worked)
    };
    let all: Float64Chunked = spans.zip(pauses).zip(written).map(minutes).collect();
    coatings.with_column(all.with_name("minutes".into()).into_column())?;
    Ok(coatings)
}

/// The frame of a table without rows; with words as text made once, for most
/// folders lack some.
fn empty(table: Table, words: &Vocabulary) -> PolarsResult<DataFrame> {
    static MADE: OnceLock<BTreeMap<Table, DataFrame>> = OnceLock::new();
    if let Vocabulary::Numbers(_) = words {
        return without_rows(table, words);
    }
    if let Some(frame) = MADE.get().and_then(|all| all.get(&table)) {
        return Ok(frame.clone());
    }
    let of = |table: Table| Ok((table, without_rows(table, words)?));
    let all: BTreeMap<Table, DataFrame> =
        TABLES.into_iter().map(of).collect::<PolarsResult<_>>()?;
    let frame = all.get(&table).cloned().unwrap_or_default();
    // Another thread may have been first, with the same.
    let _ = MADE.set(all);
    Ok(frame)
}

fn without_rows(table: Table, words: &Vocabulary) -> PolarsResult<DataFrame> {
    let key = Series::new_empty("job_key".into(), &DataType::Int64);
    let columns = table.fields().iter();
    let columns = columns.map(|f| Series::new_empty(f.name.into(), &words.dtype(f)));
    let all: Vec<Column> = std::iter::once(key)
        .chain(columns)
        .map(Series::into_column)
        .collect();
    DataFrame::new(0, all)
}

/// One chunk's part of a column of the type `dtype`.
fn part(
    field: &Field,
    dtype: &DataType,
    found: Option<&Filled>,
    mask: Option<&BooleanChunked>,
    height: usize,
) -> PolarsResult<Series> {
    let column = match (found, mask) {
        (None, _) if field.name == "shop" => {
            return StringChunked::full("shop".into(), "", height)
                .into_series()
                .cast(dtype);
        }
        (None, _) => return Ok(Series::full_null(field.name.into(), height, dtype)),
        (Some(column), None) => column.clone(),
        (Some(column), Some(mask)) => column.filter(mask)?,
    };
    column.into_series(field, dtype)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::shop::Shop;

    /// Two jobs, 1 and 2, with this export of coating work.
    fn frames(coatings: &str) -> Frames {
        let dir = tempfile::tempdir().unwrap();
        let write = |name: &str, text: &str| std::fs::write(dir.path().join(name), text).unwrap();
        write(
            "jobs.csv",
            "job,finished_on,vehicle_class,finish,coated\n\
             1,2026-10-05,suv,gloss,yes\n2,2026-10-05,suv,gloss,yes\n",
        );
        write("coatings.csv", coatings);
        let read = crate::intake::read(dir.path(), &Shop::default(), &mut |_| {});
        read.unwrap().frames
    }

    /// Spells of jobs 2, 1, 2, 1 as they come: first those of job 1.
    #[test]
    fn rows_stand_in_the_order_of_their_jobs_those_of_one_as_they_come() {
        let frames = frames("job,minutes\n2,30\n1,10\n2,40\n1,20\n");
        let coatings = frames.of(Table::Coatings);
        let keys = coatings.column("job_key").unwrap();
        let minutes = coatings.column("minutes").unwrap().f64().unwrap();
        let found: Vec<_> = keys.i64().unwrap().iter().zip(minutes.iter()).collect();
        let (first, second) = (Some(0), Some(1));
        let expected = [(first, 10.0), (first, 20.0), (second, 30.0), (second, 40.0)];
        assert_eq!(found, expected.map(|(key, m)| (key, Some(m))));
        for table in TABLES {
            let keys = frames.of(table).column("job_key").unwrap();
            let flag = keys.as_materialized_series().is_sorted_flag();
            assert_eq!(flag, IsSorted::Ascending, "{table:?}");
        }
    }

    /// The data contract: where minutes are empty, from start to end less
    /// pauses; where one of the two is empty, not recorded.
    #[test]
    fn minutes_that_are_not_written_down_follow_from_start_end_and_pauses() {
        let frames = frames(
            "job,started_at,ended_at,minutes,paused_minutes\n\
             1,2026-10-05 09:02,2026-10-05 09:23,,4\n\
             1,2026-10-05 10:02,2026-10-05 10:23,,\n\
             1,2026-10-05 11:02,2026-10-05 11:23,33.5,4\n\
             1,2026-10-05 12:02,,,\n",
        );
        let coatings = frames.of(Table::Coatings);
        let minutes = coatings.column("minutes").unwrap().f64().unwrap();
        let found: Vec<Option<f64>> = minutes.iter().collect();
        assert_eq!(found, [Some(17.0), Some(21.0), Some(33.5), None]);
    }
}
