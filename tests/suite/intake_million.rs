//! A million small exports, made at random in memory: no panic, and every
//! line accounted for, on every one; and where an export is strictly clean,
//! field by field what the `csv` crate reads.
//!
//! Not among the tests that run by default: `cargo test --test suite --
//! --ignored a_million_small_exports`. `TALLYCOAT_EXPORTS` sets how many.

use crate::intake_properties as properties;
use rand::seq::{IndexedRandom, SliceRandom};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use tallycoat::intake::bytes::Origin;
use tallycoat::intake::sources::SourceFile;
use tallycoat::intake::{self, Intake};
use tallycoat::settings::contract::Table;
use tallycoat::settings::shop::Shop;

const EXPORTS: u64 = 1_000_000;
const THREADS: u64 = 2;

/// Columns and sound cells of each.
const COLUMNS: [(&str, &[&str]); 8] = [
    ("finished_on", &["2026-10-01", "2026-10-31", "2026-09-15"]),
    (
        "vehicle_class",
        &[
            "suv",
            "van, tall",
            "12\" wheels",
            "fourgon \u{e9}",
            "two; in one",
            "a\tb",
            "=1+1",
        ],
    ),
    ("coated", &["yes", "no", "Yes", "0"]),
    ("finish", &["gloss", "matte", "own word"]),
    ("area", &["21.5", "20", "1000.25", ""]),
    ("coating_price", &["310.50", "0", "", "99"]),
    ("offered", &["yes", "no", ""]),
    (
        "note",
        &["", "plain", "a \"quoted\" word", "nul-free", "x,y;z|w"],
    ),
];

/// Cells that no column can hold, or that look like something else.
const ODD: [&str; 14] = [
    "nan",
    "-1",
    "1e12",
    "31/12/2026",
    "04/05/2026",
    "Total",
    "1.234,5",
    "$5",
    "\u{20ac}5",
    "12 oz",
    "perhaps",
    "two\nlines",
    "job",
    " ",
];

/// What harms a line or the file.
const HARM: [&[u8]; 12] = [
    b"\"", b"\0", b"\xe9", b",", b";", b"\r", b"\n\n", b"Total;;", b"\x1a", b"\\\"", b"\n\"",
    b"\xc3",
];

/// An export, and whether it is strictly clean.
struct Export {
    bytes: Vec<u8>,
    clean: bool,
}

fn quoted(cell: &str, delimiter: char, always: bool) -> String {
    let needs = cell.contains([delimiter, '"', '\n', '\r']);
    if needs || always {
        format!("\"{}\"", cell.replace('"', "\"\""))
    } else {
        cell.to_string()
    }
}

fn export(rng: &mut ChaCha8Rng) -> Export {
    let delimiter = *[',', ';', '\t', '|'].choose(rng).unwrap();
    let end = *["\n", "\r\n", "\r"].choose(rng).unwrap();
    let always = rng.random_bool(0.2);
    let clean = rng.random_bool(0.4);
    let mut columns = COLUMNS.to_vec();
    columns.shuffle(rng);
    let line = |cells: Vec<String>| {
        let cells: Vec<String> = cells.iter().map(|c| quoted(c, delimiter, always)).collect();
        cells.join(&delimiter.to_string())
    };
    let heading = std::iter::once("job").chain(columns.iter().map(|c| c.0));
    let mut lines = vec![line(heading.map(String::from).collect())];
    for n in 0..rng.random_range(0..6) {
        let mut cells = vec![format!("{n:03}")];
        for (_, sound) in &columns {
            let odd = !clean && rng.random_bool(0.05);
            let from: &[&str] = if odd { &ODD } else { sound };
            cells.push(from.choose(rng).unwrap().to_string());
        }
        lines.push(line(cells));
    }
    let mut bytes = lines.join(end).into_bytes();
    if rng.random_bool(0.8) {
        bytes.extend(end.as_bytes());
    }
    if !clean {
        for _ in 0..rng.random_range(0..3) {
            let at = rng.random_range(0..=bytes.len());
            bytes.splice(at..at, HARM.choose(rng).unwrap().iter().copied());
        }
        if rng.random_bool(0.05) {
            bytes.truncate(rng.random_range(0..=bytes.len()));
        }
    }
    Export { bytes, clean }
}

/// The text cells of a clean export as the `csv` crate reads them.
fn by_csv_crate(bytes: &[u8]) -> Vec<[String; 3]> {
    let first = bytes.split(|b| *b == b'\n' || *b == b'\r').next().unwrap();
    let delimiter = first
        .iter()
        .find(|b| b",;\t|".contains(b))
        .copied()
        .unwrap();
    let mut builder = csv::ReaderBuilder::new();
    let mut reader = builder.delimiter(delimiter).from_reader(bytes);
    let headings = reader.headers().unwrap().clone();
    let at = |name: &str| headings.iter().position(|h| h == name).unwrap();
    let columns = [at("job"), at("vehicle_class"), at("finish")];
    let records = reader.records().map(Result::unwrap);
    records.map(|r| columns.map(|c| r[c].to_string())).collect()
}

fn by_intake(found: &Intake) -> Vec<[String; 3]> {
    let jobs = found.frames.of(Table::Jobs);
    let column = |name: &str| jobs.column(name).unwrap().str().unwrap().clone();
    let columns = ["job", "vehicle_class", "finish"].map(column);
    let cell = |row: usize, c: usize| columns[c].get(row).unwrap_or("").to_string();
    (0..jobs.height())
        .map(|row| [0, 1, 2].map(|c| cell(row, c)))
        .collect()
}

/// True where the export was read.
fn try_one(rng: &mut ChaCha8Rng, shop: &Shop) -> bool {
    let Export { bytes, clean } = export(rng);
    let _told = super::intake_random::Told(&bytes);
    let file = SourceFile {
        name: "jobs.csv".to_string(),
        origin: Origin::Memory(Arc::from(bytes.as_slice())),
        tables: vec![Table::Jobs],
    };
    let files = std::slice::from_ref(&file);
    let found = properties::accounted(files, shop);
    if clean {
        let put_aside = &found.as_ref().expect("a clean export is read").quarantine;
        assert!(put_aside.is_empty(), "{put_aside:?}");
    }
    // One clean export in four, for the comparison takes as long as the rest.
    if clean && rng.random_bool(0.25) {
        let found = intake::read_sources(files, shop, &mut |_| {}).unwrap();
        assert_eq!(by_intake(&found), by_csv_crate(&bytes));
    }
    found.is_some()
}

#[test]
#[ignore = "minutes; .ci/run asks for it"]
fn a_million_small_exports() {
    let all = std::env::var("TALLYCOAT_EXPORTS").ok();
    let all: u64 = all.and_then(|n| n.parse().ok()).unwrap_or(EXPORTS);
    let was_read = AtomicU64::new(0);
    let start = std::time::Instant::now();
    std::thread::scope(|scope| {
        for thread in 0..THREADS {
            let was_read = &was_read;
            scope.spawn(move || {
                let shop = Shop::default();
                let mut rng = ChaCha8Rng::seed_from_u64(2611 + thread);
                for _ in 0..all / THREADS {
                    let read = try_one(&mut rng, &shop);
                    was_read.fetch_add(u64::from(read), Ordering::Relaxed);
                }
            });
        }
    });
    let read = was_read.load(Ordering::Relaxed);
    let seconds = start.elapsed().as_secs_f64();
    println!(
        "{all} exports, {read} of them read, {:.0} a second",
        all as f64 / seconds
    );
    assert!(read * 2 > all, "{read} of {all} were read");
}
