//! What other programs read: review.json by its JSON Schema, the tables by
//! their Data Package. Both are held to outside validators, the Python packages
//! `jsonschema` and `frictionless` (tests/engines/requirements.txt), by
//! TALLYCOAT_PYTHON.

use serde_json::Value;
use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use tallycoat::invent::{Plan, invent_into};
use tallycoat::run;
use tallycoat::settings::command::ReviewArgs;

fn top(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// A Python that has a package; `None`, said aloud, where there is none.
pub fn python_with(package: &str) -> Option<OsString> {
    let python = std::env::var_os("TALLYCOAT_PYTHON").unwrap_or_else(|| "python3".into());
    let has = Command::new(&python)
        .args(["-c", &format!("import {package}")])
        .output();
    if has.is_ok_and(|o| o.status.success()) {
        return Some(python);
    }
    eprintln!("SKIPPED: no Python with the {package} package (set TALLYCOAT_PYTHON)");
    None
}

fn review(folder: &Path, out: &Path) {
    let args = ReviewArgs {
        folder: folder.to_path_buf(),
        out: Some(out.to_path_buf()),
        ..ReviewArgs::default()
    };
    run::review(&args, &mut |_| {}).unwrap_or_else(|e| panic!("{e}"));
}

/// Reviews of shops that differ in what they record: all there is (with own
/// questions, one of them bad), a chain of three, the same from a messy export, one coated job,
/// no coated job.
fn reviews(at: &Path) -> Vec<PathBuf> {
    let shop = |name: &str, files: &[(&str, &str)]| {
        let folder = at.join(name);
        for (file, text) in files {
            let path = folder.join(file);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, text).unwrap();
        }
        folder
    };
    let full = shop(
        "full",
        &[
            (
                "queries/by_class.sql",
                "-- By class\nSELECT vehicle_class, coated, COUNT(*) AS jobs, MIN(finished_on) AS first, AVG(area) AS area FROM jobs GROUP BY vehicle_class, coated",
            ),
            ("queries/broken.sql", "SELEC"),
        ],
    );
    for entry in fs::read_dir(top("demo-data/film-shop")).unwrap() {
        let path = entry.unwrap().path();
        if path.is_file() {
            fs::copy(&path, full.join(path.file_name().unwrap())).unwrap();
        }
    }
    let head = "job,finished_on,vehicle_class,finish,area,coverage,offered,coated,coating_price\n";
    let one = format!("{head}1,2026-10-02,suv,gloss,20,full,yes,yes,310\n");
    let none = format!("{head}1,2026-10-02,suv,gloss,20,full,yes,no,\n");
    let chain = at.join("chain");
    let plan = Plan {
        jobs: 300,
        months: 8,
        shops: 3,
        ..Plan::default()
    };
    invent_into(&plan, &chain).unwrap();
    let folders = [
        full,
        chain,
        top("demo-data/messy-export"),
        shop(
            "one",
            &[
                ("jobs.csv", &one),
                ("coatings.csv", "job,applied_by,minutes,used\n1,P1,40,31\n"),
            ],
        ),
        shop("none", &[("jobs.csv", &none)]),
    ];
    let place = |(i, folder): (usize, &PathBuf)| {
        let out = at.join(format!("review-{i}"));
        review(folder, &out);
        out
    };
    folders.iter().enumerate().map(place).collect()
}

/// Validates files by a schema; the words of what is wrong, in Python's.
pub const BY_SCHEMA: &str = "import json, sys
from jsonschema import Draft202012Validator as V
schema = json.load(open(sys.argv[1])); V.check_schema(schema)
wrong = 0
def leaves(e):
    return [x for c in e.context for x in leaves(c)] or [e]
for f in sys.argv[2:]:
    for e in V(schema).iter_errors(json.load(open(f))):
        for x in sorted(leaves(e), key=lambda x: -len(x.absolute_path))[:3]:
            wrong += 1
            print(f, '/'.join(map(str, x.absolute_path)), x.message[:200])
print(wrong, 'faults'); sys.exit(1 if wrong else 0)";

pub fn run_python(python: &OsString, script: &str, args: &[&Path]) -> (bool, String) {
    let run = Command::new(python)
        .args(["-c", script])
        .args(args)
        .output()
        .unwrap();
    let said = [run.stdout, run.stderr].map(|b| String::from_utf8_lossy(&b).into_owned());
    (run.status.success(), said.concat())
}

#[test]
fn every_review_is_valid_by_the_schema_beside_it_and_a_broken_key_is_not() {
    let Some(python) = python_with("jsonschema") else {
        return;
    };
    let at = tempfile::tempdir().unwrap();
    let places = reviews(at.path());
    let schema = places[0].join("review.schema.json");
    let kept = fs::read(top("reports/review.schema.json")).unwrap();
    assert_eq!(fs::read(&schema).unwrap(), kept);
    let files: Vec<PathBuf> = places.iter().map(|p| p.join("review.json")).collect();
    let mut args: Vec<&Path> = vec![&schema];
    args.extend(files.iter().map(PathBuf::as_path));
    let (valid, said) = run_python(&python, BY_SCHEMA, &args);
    assert!(valid, "{said}");
    // Each of these is one fault that a consumer would stumble over.
    let faults: [(&str, Value); 6] = [
        ("/attach/rate/value", Value::Null),
        ("/attach/coated", Value::from(3.5)),
        ("/month", Value::from("October")),
        ("/attach/change/certainty", Value::from("certain")),
        ("/margin/new_key", Value::from(1)),
        ("/unknown_section", Value::from(1)),
    ];
    let whole: Value = serde_json::from_slice(&fs::read(&files[0]).unwrap()).unwrap();
    for (path, value) in faults {
        let mut broken = whole.clone();
        let (parent, key) = path.rsplit_once('/').unwrap();
        broken.pointer_mut(parent).unwrap()[key] = value;
        let file = at.path().join("broken.json");
        fs::write(&file, broken.to_string()).unwrap();
        let (valid, said) = run_python(&python, BY_SCHEMA, &[&schema, &file]);
        assert!(!valid, "{path}: {said}");
    }
}

/// Objects of the schema list every key, but for those whose keys are data.
#[test]
fn the_schema_lets_no_unlisted_key_pass() {
    fn open(schema: &Value, path: &str, to: &mut Vec<String>) {
        match schema {
            Value::Object(map) => {
                let is_object = map.get("type").is_some_and(|t| t == "object");
                let named = map.contains_key("description") || map.contains_key("propertyNames");
                let closed = match map.get("additionalProperties") {
                    Some(Value::Bool(false)) => true,
                    // By finish, by class: keys are data, values are checked.
                    Some(Value::Object(_)) => named,
                    _ => false,
                };
                if is_object && !closed {
                    to.push(path.to_string());
                }
                for (key, value) in map {
                    open(value, &format!("{path}/{key}"), to);
                }
            }
            Value::Array(all) => all.iter().for_each(|x| open(x, path, to)),
            _ => {}
        }
    }
    let text = fs::read_to_string(top("reports/review.schema.json")).unwrap();
    let schema: Value = serde_json::from_str(&text).unwrap();
    let mut found = Vec::new();
    open(&schema, "", &mut found);
    assert!(found.is_empty(), "{found:#?}");
    assert!(text.matches("\"additionalProperties\": false").count() > 40);
}

/// Every CSV of the folder has a resource, and the other way round.
fn described(tables: &Path) -> usize {
    let text = fs::read_to_string(tables.join("datapackage.json")).unwrap();
    let package: Value = serde_json::from_str(&text).unwrap();
    let mut paths: Vec<&str> = (package["resources"].as_array().unwrap().iter())
        .map(|r| r["path"].as_str().unwrap())
        .collect();
    paths.sort_unstable();
    let names = fs::read_dir(tables)
        .unwrap()
        .map(|e| e.unwrap().file_name());
    let mut files: Vec<String> = names.map(|n| n.to_string_lossy().into_owned()).collect();
    files.retain(|n| n != "datapackage.json");
    files.sort();
    assert_eq!(paths, files);
    for resource in package["resources"].as_array().unwrap() {
        let file = tables.join(resource["path"].as_str().unwrap());
        let mut csv = csv::Reader::from_path(file).unwrap();
        let heads: Vec<String> = csv.headers().unwrap().iter().map(String::from).collect();
        let fields: Vec<&str> = (resource["schema"]["fields"].as_array().unwrap().iter())
            .map(|f| f["name"].as_str().unwrap())
            .collect();
        assert_eq!(heads, fields, "{}", resource["path"]);
    }
    paths.len()
}

#[test]
fn the_tables_are_valid_by_their_data_package() {
    let at = tempfile::tempdir().unwrap();
    let places = reviews(at.path());
    let counts: Vec<usize> = places
        .iter()
        .map(|p| described(&p.join("tables")))
        .collect();
    assert!(counts[0] > 35, "{counts:?}");
    let Some(python) = python_with("frictionless") else {
        return;
    };
    let script = "import os, sys; from frictionless import validate
os.chdir(sys.argv[1])
r = validate('datapackage.json')
print(r.flatten(['name', 'type', 'title', 'message'])[:10], r.stats)
sys.exit(0 if r.valid and r.stats['tasks'] == int(sys.argv[2]) else 1)";
    for (place, count) in places.iter().zip(&counts) {
        let n = PathBuf::from(count.to_string());
        let (valid, said) = run_python(&python, script, &[&place.join("tables"), &n]);
        assert!(valid, "{}: {said}", place.display());
    }
    // A word where the schema has a number is caught.
    let file = places[0].join("tables/attach_by_month.csv");
    let text = fs::read_to_string(&file).unwrap();
    let (head, rest) = text.split_once("\r\n").unwrap();
    let broken = rest
        .replacen(',', ",many,", 1)
        .replacen(",many,", ",many", 1);
    fs::write(&file, format!("{head}\r\n{broken}")).unwrap();
    let n = PathBuf::from(counts[0].to_string());
    let (valid, said) = run_python(&python, script, &[&places[0].join("tables"), &n]);
    assert!(!valid && said.contains("type"), "{said}");
}
