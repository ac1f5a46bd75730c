//! Every query against hand-written expected tables, with empty, one-row and
//! NULL cases. `tests/expected/NN_name.txt` holds, per case, the tables that go
//! in and, behind `=`, the table that must come out. The same files are run on
//! DuckDB by `tests/engines/compare.py`.
//!
//! A cell is empty for NULL. Types: i integer, f float, s text, b yes/no,
//! d day, t moment.

use polars::prelude::*;
use std::collections::BTreeMap;
use std::path::Path;
use tallycoat::measures::{QUERIES, answer};

#[derive(Debug, Default)]
struct Block {
    name: String,
    columns: Vec<(String, char)>,
    rows: Vec<Vec<String>>,
}

#[derive(Debug)]
struct Case {
    title: String,
    tables: Vec<Block>,
    expected: Block,
}

fn cells(line: &str) -> Vec<String> {
    line.split('|').map(|c| c.trim().to_string()).collect()
}

fn block(name: &str, heading: &str) -> Block {
    let column = |c: String| {
        let (name, kind) = c.split_once(':').expect("heading cells are name:type");
        (name.to_string(), kind.chars().next().expect("a type"))
    };
    Block {
        name: name.to_string(),
        columns: cells(heading).into_iter().map(column).collect(),
        rows: Vec::new(),
    }
}

/// Cases of a file: `## title`, then blocks `@ table` or `=`, each a heading
/// line and rows.
fn cases(text: &str) -> Vec<Case> {
    let mut all = Vec::new();
    for part in text.split("\n## ").skip(1) {
        let mut lines = part.lines();
        let title = lines.next().unwrap_or("").to_string();
        let mut blocks: Vec<Block> = Vec::new();
        let mut name: Option<String> = None;
        for line in lines.filter(|l| !l.trim().is_empty() && !l.starts_with('#')) {
            if line == "=" || line.starts_with("@ ") {
                name = Some(line.trim_start_matches("@ ").to_string());
            } else if let Some(n) = name.take() {
                blocks.push(block(&n, line));
            } else {
                let block = blocks.last_mut().expect("rows stand in a block");
                let row = cells(line);
                assert_eq!(row.len(), block.columns.len(), "{title}: {line}");
                block.rows.push(row);
            }
        }
        let expected = blocks.pop().expect("a case ends with what must come out");
        assert_eq!(expected.name, "=", "{title}");
        all.push(Case {
            title,
            tables: blocks,
            expected,
        });
    }
    all
}

fn parsed<T: std::str::FromStr>(cell: &str) -> Option<T>
where
    T::Err: std::fmt::Debug,
{
    (!cell.is_empty()).then(|| cell.parse().expect(cell))
}

fn days(cell: &str) -> Option<i32> {
    let day: chrono::NaiveDate = parsed(cell)?;
    let epoch = chrono::NaiveDate::from_ymd_opt(1970, 1, 1).unwrap();
    Some((day - epoch).num_days() as i32)
}

fn moment(cell: &str) -> Option<i64> {
    let moment: chrono::NaiveDateTime = parsed(cell)?;
    Some(moment.and_utc().timestamp_micros())
}

fn column(block: &Block, i: usize) -> Column {
    let (name, kind) = &block.columns[i];
    let raw = || block.rows.iter().map(|r| r[i].as_str());
    let name = PlSmallStr::from(name.as_str());
    let series = match kind {
        'i' => Series::new(name, raw().map(parsed::<i64>).collect::<Vec<_>>()),
        'f' => Series::new(name, raw().map(parsed::<f64>).collect::<Vec<_>>()),
        'b' => {
            let yes = |c: &str| (!c.is_empty()).then_some(c == "yes");
            Series::new(name, raw().map(yes).collect::<Vec<_>>())
        }
        'd' => {
            let s = Series::new(name, raw().map(days).collect::<Vec<_>>());
            s.cast(&DataType::Date).unwrap()
        }
        't' => {
            let s = Series::new(name, raw().map(moment).collect::<Vec<_>>());
            s.cast(&DataType::Datetime(TimeUnit::Microseconds, None))
                .unwrap()
        }
        _ => {
            let text = |c: &str| match c {
                "" => None,
                "''" => Some(String::new()),
                c => Some(c.to_string()),
            };
            Series::new(name, raw().map(text).collect::<Vec<_>>())
        }
    };
    series.into()
}

fn frame(block: &Block) -> DataFrame {
    let columns = (0..block.columns.len()).map(|i| column(block, i)).collect();
    DataFrame::new(block.rows.len(), columns).unwrap()
}

fn shown(value: &AnyValue<'_>) -> String {
    match value {
        AnyValue::Null => String::new(),
        AnyValue::String("") => "''".to_string(),
        AnyValue::String(s) => (*s).to_string(),
        AnyValue::StringOwned(s) if s.is_empty() => "''".to_string(),
        AnyValue::StringOwned(s) => s.to_string(),
        AnyValue::Boolean(b) => if *b { "yes" } else { "no" }.to_string(),
        AnyValue::Date(d) => {
            let epoch = chrono::NaiveDate::from_ymd_opt(1970, 1, 1).unwrap();
            (epoch + chrono::Days::new(u64::try_from(*d).unwrap())).to_string()
        }
        other => other.to_string(),
    }
}

/// Integers and text exactly, floats to 1e-12 relative: sums of a few terms.
fn alike(found: &str, expected: &str, kind: char) -> bool {
    if found == expected {
        return true;
    }
    match (kind, found.parse::<f64>(), expected.parse::<f64>()) {
        ('f', Ok(a), Ok(b)) => (a - b).abs() <= 1e-12 * b.abs().max(1.0),
        _ => false,
    }
}

fn check(query: &str, sql: &str, case: &Case) {
    let tables: BTreeMap<String, DataFrame> = case
        .tables
        .iter()
        .map(|b| (b.name.clone(), frame(b)))
        .collect();
    let found = answer(query, sql, &tables).unwrap();
    let title = format!("{query}: {}", case.title);
    let names: Vec<_> = found
        .get_column_names()
        .iter()
        .map(|n| n.to_string())
        .collect();
    let expected: Vec<_> = case.expected.columns.iter().map(|c| c.0.clone()).collect();
    assert_eq!(names, expected, "{title}");
    assert_eq!(found.height(), case.expected.rows.len(), "{title}\n{found}");
    for (r, row) in case.expected.rows.iter().enumerate() {
        for (c, cell) in row.iter().enumerate() {
            let value = shown(&found.columns()[c].get(r).unwrap());
            let kind = case.expected.columns[c].1;
            assert!(
                alike(&value, cell, kind),
                "{title}, row {}, {}: found {value:?}, expected {cell:?}\n{found}",
                r + 1,
                expected[c]
            );
        }
    }
}

#[test]
fn every_query_gives_its_expected_tables() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/expected");
    for query in QUERIES {
        let stem = query.file.trim_end_matches(".sql");
        assert!(
            stem.ends_with(query.name) && stem.len() == query.name.len() + 3,
            "{stem}"
        );
        let file = folder.join(format!("{stem}.txt"));
        let text = std::fs::read_to_string(&file).unwrap_or_else(|e| panic!("{file:?}: {e}"));
        let all = cases(&text);
        assert!(
            all.len() >= 3,
            "{file:?}: an empty, a one-row and a NULL case at least"
        );
        for case in &all {
            check(query.name, query.sql, case);
        }
    }
}

/// Every file of queries/ is in the catalogue, in the order of its number.
#[test]
fn the_catalogue_holds_every_query_in_order() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("queries");
    let mut files: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    files.sort();
    let listed: Vec<&str> = QUERIES.iter().map(|q| q.file).collect();
    assert_eq!(listed, files);
}

/// A header that names every column, so that a reader needs no engine.
#[test]
fn every_query_says_its_grain_and_names_its_columns() {
    for query in QUERIES {
        let header: String = query
            .sql
            .lines()
            .take_while(|l| l.starts_with("--"))
            .collect::<Vec<_>>()
            .join("\n");
        for word in ["-- grain: ", "-- reads: ", "-- columns:"] {
            assert!(header.contains(word), "{}: no {word:?}", query.name);
        }
    }
}
