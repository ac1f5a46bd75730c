//! The shared polluted files, each read by the contract's table of states.
//!
//! Where their expectations and the contract part: a second heading row, a
//! total at the foot, a blank line and a `sep=` line are structure; a heading
//! that is short or long by a label stops the file, although its records are
//! sound, because columns are bound by name and which name was lost cannot be
//! known; a file without heading is read where the settings say that it has
//! none.

use serde_json::Value;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use tallycoat::intake::{self, Intake, IntakeError, Structure};
use tallycoat::settings::contract::Table;
use tallycoat::settings::shop::Shop;

fn shared() -> Option<PathBuf> {
    let at = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/intake/polluted");
    if at.is_dir() {
        return Some(at);
    }
    eprintln!("SKIPPED: {} is not there", at.display());
    None
}

const HEADINGS: [&str; 10] = [
    "job_no", "date", "customer", "make", "model", "year", "service", "qty", "price", "notes",
];
const FIELDS: [&str; 9] = [
    "job",
    "finished_on",
    "film",
    "vehicle_class",
    "finish",
    "sold_by",
    "coated",
    "area",
    "coating_price",
];

/// The mapping of the ten columns: `notes` stays unclaimed.
fn settings(with_heading: bool, backslash: bool) -> String {
    let mut text = String::from("[columns.jobs]\n");
    for (i, field) in FIELDS.iter().enumerate() {
        let number = (i + 1).to_string();
        let heading = if with_heading { HEADINGS[i] } else { &number };
        text.push_str(&format!("{field} = \"{heading}\"\n"));
    }
    text.push_str("[words.coated]\nfull = \"yes\"\npartial = \"yes\"\nrepair = \"no\"\n[format]\n");
    if !with_heading {
        text.push_str("heading_lines = 0\n");
    }
    if backslash {
        text.push_str("escape = \"backslash\"\n");
    }
    text
}

fn read(bytes: &[u8], settings: &str) -> Result<Intake, IntakeError> {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("jobs.csv"), bytes).unwrap();
    std::fs::write(folder.path().join("shop.toml"), settings).unwrap();
    let shop = Shop::read(folder.path()).unwrap();
    intake::read(folder.path(), &shop, &mut |_| {})
}

/// The contract's code, or the kind of structure, of an expected reason.
fn by_contract(reason: &str) -> Result<&str, Structure> {
    match reason {
        "header-continuation" => Err(Structure::SecondHeading),
        "footer-or-total-row" => Err(Structure::Total),
        "blank-row" => Err(Structure::Blank),
        "sep-hint" => Err(Structure::SepLine),
        "unclosed-or-text-after-quote" | "unclosed-quote" | "stray-quote" => Ok("quote-error"),
        other => Ok(other),
    }
}

fn check(case: &Value, at: &Path) {
    let name = case["file"].as_str().unwrap();
    let bytes = std::fs::read(at.join("files").join(name)).unwrap();
    let dialect = &case["dialect"];
    let with_heading = !dialect["header_line"].is_null();
    let settings = settings(with_heading, dialect["escape"] == "\\");
    let stops: Vec<&str> = case["quarantine"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|q| q["reason"].as_str().filter(|r| r.ends_with("-label")))
        .collect();
    let found = match read(&bytes, &settings) {
        Err(IntakeError::Files { faults }) => {
            let codes: Vec<&str> = faults.iter().map(|f| f.kind.code()).collect();
            assert_eq!(codes, stops, "{name}");
            assert_eq!(faults[0].line, Some(1), "{name}");
            return;
        }
        other => other.unwrap_or_else(|e| panic!("{name}: {e}")),
    };
    assert!(stops.is_empty(), "{name} was read");
    let mut expected = BTreeSet::new();
    let mut structure = u64::from(with_heading);
    for q in case["quarantine"].as_array().unwrap() {
        let line = q["line"].as_u64().unwrap();
        match by_contract(q["reason"].as_str().unwrap()) {
            Ok(code) => {
                let column = q["column"].as_str().map(String::from);
                expected.insert((line, column, code.to_string()));
            }
            Err(kind) => {
                structure += 1;
                let kinds = &found.ledger.files[0].structure;
                assert!(kinds.contains_key(&kind), "{name}: {kind:?} in {kinds:?}");
            }
        }
    }
    let put_aside: BTreeSet<_> = found
        .quarantine
        .iter()
        .flat_map(|r| {
            r.faults.iter().map(|f| {
                let column = f.column.as_ref().map(|c| c.to_string());
                (r.line, column, f.reason.to_string())
            })
        })
        .collect();
    assert_eq!(put_aside, expected, "{name}");
    let lines = found.ledger.lines();
    let newlines = case["newlines_lf"].as_u64().unwrap();
    let text_ends = bytes.ends_with(b"\n") || name.contains("utf16");
    assert_eq!(lines.read, newlines + u64::from(!text_ends), "{name}");
    assert_eq!(lines.structure, structure, "{name}");
    let jobs = found.frames.of(Table::Jobs).height() as u64;
    assert_eq!(jobs, case["accepted_records"].as_u64().unwrap(), "{name}");
    let ledger = &found.ledger.files[0];
    assert_eq!(
        ledger.encoding.encoding.name(),
        dialect["encoding"],
        "{name}"
    );
    let delimiter = match ledger.dialect.delimiter.as_str() {
        "space" => " ",
        other => other,
    };
    assert_eq!(delimiter, dialect["delimiter"].as_str().unwrap(), "{name}");
    if let Some(line) = dialect["header_line"].as_u64() {
        assert_eq!(ledger.dialect.heading_line, line, "{name}");
    }
}

#[test]
fn every_polluted_file_is_read_by_the_table_of_states() {
    let Some(at) = shared() else { return };
    let cases = std::fs::read_to_string(at.join("expected.json")).unwrap();
    let cases: Vec<Value> = serde_json::from_str(&cases).unwrap();
    assert_eq!(cases.len(), 36);
    for case in &cases {
        check(case, &at);
    }
}

#[test]
fn a_file_without_heading_is_refused_in_words_unless_the_settings_say_so() {
    let Some(at) = shared() else { return };
    let bytes = std::fs::read(at.join("files/file_no_header.csv")).unwrap();
    let error = read(&bytes, &settings(true, false))
        .unwrap_err()
        .to_string();
    assert!(
        error.contains("no heading found in the first lines"),
        "{error}"
    );
    assert!(!error.contains("Customer 1"), "{error}");
}

#[test]
fn decimal_commas_give_the_same_money_as_points() {
    let Some(at) = shared() else { return };
    let price = |name: &str| {
        let bytes = std::fs::read(at.join("files").join(name)).unwrap();
        let found = read(&bytes, &settings(true, false)).unwrap();
        let jobs = found.frames.of(Table::Jobs);
        let price = jobs
            .column("coating_price")
            .unwrap()
            .i64()
            .unwrap()
            .iter()
            .collect::<Vec<_>>();
        price.into_iter().map(Option::unwrap).collect::<Vec<i64>>()
    };
    let commas = price("val_decimal_comma.csv");
    assert_eq!(commas.len(), 40);
    let points = price("source.csv");
    assert_eq!(points[0], 4950);
    assert!(commas.iter().all(|p| *p >= 100), "{commas:?}");
}
