//! The whole program: on the demo, on the messy export, on bad input.

use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use tallycoat::run::{self, Reviewed};
use tallycoat::settings::command::{CheckArgs, ReviewArgs};
use tallycoat::settings::month::Month;

fn top(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn review_of(folder: &Path, out: &Path, month: Option<&str>) -> Result<Reviewed, run::Error> {
    let args = ReviewArgs {
        folder: folder.to_path_buf(),
        month: month.map(|m| Month::parse(m).unwrap()),
        out: Some(out.to_path_buf()),
        strict: false,
        ..ReviewArgs::default()
    };
    run::review(&args, &mut |_| {})
}

fn read(out: &Path) -> Value {
    serde_json::from_str(&fs::read_to_string(out.join("review.json")).unwrap()).unwrap()
}

/// Review of a folder under the project, as JSON.
fn json_of(folder: &str) -> Value {
    let out = tempfile::tempdir().unwrap();
    let place = out.path().join("r");
    review_of(&top(folder), &place, None).unwrap();
    read(&place)
}

/// A shop written from text, one file a pair.
fn shop(files: &[(&str, &str)]) -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    for (name, text) in files {
        fs::write(dir.path().join(name), text).unwrap();
    }
    dir
}

fn review_shop(files: &[(&str, &str)]) -> Result<(Reviewed, Value, String), String> {
    let dir = shop(files);
    let place = dir.path().join("out");
    let done = review_of(dir.path(), &place, None).map_err(|e| e.to_string())?;
    let page = fs::read_to_string(place.join("review.html")).unwrap();
    Ok((done, read(&place), page))
}

#[test]
fn the_demo_gives_a_review_with_its_known_figures() {
    let out = tempfile::tempdir().unwrap();
    let place = out.path().join("r");
    let done = review_of(&top("demo-data/film-shop"), &place, None).unwrap();
    assert_eq!(done.quarantined, 0);
    assert!(done.summary.len() <= 10, "{:#?}", done.summary);
    let r = read(&place);
    assert_eq!(r["format"], "tallycoat-review");
    assert_eq!(r["month"], "2026-10");
    assert_eq!(r["data_until"], "2026-10-31");
    // Counted with a spreadsheet's own means: lines of jobs.csv of October
    // 2026 that are not excluded, and those of them coated.
    let jobs = fs::read_to_string(top("demo-data/film-shop/jobs.csv")).unwrap();
    let mut reader = csv::Reader::from_reader(jobs.as_bytes());
    let heads = reader.headers().unwrap().clone();
    let at = |name: &str| heads.iter().position(|h| h == name).unwrap();
    let october: Vec<csv::StringRecord> = reader
        .records()
        .map(Result::unwrap)
        .filter(|r| r[at("finished_on")].starts_with("2026-10") && &r[at("excluded")] != "yes")
        .collect();
    let coated = october.iter().filter(|r| &r[at("coated")] == "yes").count();
    assert_eq!(r["attach"]["eligible"], october.len());
    assert_eq!(r["attach"]["coated"], coated);
    for file in [
        "review.html",
        "quarantine.csv",
        "tables/attach_by_month.csv",
        "tables/below_floor.csv",
    ] {
        assert!(place.join(file).is_file(), "{file}");
    }
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let out = tempfile::tempdir().unwrap();
    let (a, b) = (out.path().join("a"), out.path().join("b"));
    review_of(&top("demo-data/film-shop"), &a, None).unwrap();
    review_of(&top("demo-data/film-shop"), &b, None).unwrap();
    let mut compared = 0;
    let mut folders = vec![PathBuf::new()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(a.join(&folder)).unwrap() {
            let entry = entry.unwrap();
            let path = folder.join(entry.file_name());
            if entry.path().is_dir() {
                folders.push(path);
            } else {
                assert_eq!(
                    fs::read(a.join(&path)).unwrap(),
                    fs::read(b.join(&path)).unwrap(),
                    "{path:?}"
                );
                compared += 1;
            }
        }
    }
    assert!(compared > 10, "{compared}");
}

/// Paths whose numbers are of the files read, not of the shop.
const OF_THE_FILES: [&str; 2] = ["/lines", "/fingerprint"];

fn differences(path: &str, a: &Value, b: &Value, to: &mut Vec<String>) {
    if OF_THE_FILES.contains(&path) {
        return;
    }
    match (a, b) {
        (Value::Object(x), Value::Object(y)) => {
            let mut keys: Vec<&String> = x.keys().chain(y.keys()).collect();
            keys.sort();
            keys.dedup();
            for key in keys {
                let none = Value::Null;
                let of = |m: &serde_json::Map<String, Value>| {
                    m.get(key).cloned().unwrap_or(none.clone())
                };
                differences(&format!("{path}/{key}"), &of(x), &of(y), to);
            }
        }
        (Value::Array(x), Value::Array(y)) if x.len() == y.len() => {
            for (i, (x, y)) in x.iter().zip(y).enumerate() {
                differences(&format!("{path}/{i}"), x, y, to);
            }
        }
        (Value::Number(x), Value::Number(y)) => {
            // A minor unit: a cost that the conversion tips over a rounding.
            let tipped = x
                .as_i64()
                .zip(y.as_i64())
                .is_some_and(|(x, y)| (x - y).abs() <= 1);
            let counted = [
                "jobs",
                "read",
                "eligible",
                "coated",
                "offered",
                "n",
                "callbacks",
            ];
            if tipped && !counted.iter().any(|c| path.ends_with(&format!("/{c}"))) {
                return;
            }
            let (x, y) = (x.as_f64().unwrap(), y.as_f64().unwrap());
            // The export prints areas to 0.001 ft2, uses to 0.00001 US fl oz
            // and temperatures to 0.01 F: up to 5e-6 of a use or an area, and
            // a cent on a job's cost where that tips a rounding.
            // A bias is a mean of differences of tens of mL, minutes or cents:
            // it moves with those, however near 0 it is itself.
            // So does the difference of two rates of 1 to 3 mL/m².
            let of_larger = path.ends_with("/bias") || path.contains("/difference/");
            let least = if of_larger { 1e-4 } else { 5e-6 };
            if (x - y).abs() > 5e-5 * x.abs().max(y.abs()) + least {
                to.push(format!("{path}: {x} and {y}"));
            }
        }
        (x, y) if x == y => {}
        (x, y) => to.push(format!("{path}: {x} and {y}")),
    }
}

#[test]
fn the_messy_export_of_the_same_shop_gives_the_same_review() {
    let (clean, messy) = (
        json_of("demo-data/film-shop"),
        json_of("demo-data/messy-export"),
    );
    let mut found = Vec::new();
    differences("", &clean, &messy, &mut found);
    assert!(found.is_empty(), "{found:#?}");
}

#[test]
fn every_broken_line_of_the_messy_export_is_named() {
    let text = fs::read_to_string(top("tests/suite/fixtures/messy-broken.json")).unwrap();
    let planted: Vec<Value> = serde_json::from_str(&text).unwrap();
    let kinds: std::collections::BTreeSet<&str> = planted
        .iter()
        .map(|p| p["kind"].as_str().unwrap())
        .collect();
    assert!(
        planted.len() == 25 && kinds.len() >= 10,
        "{} of {} kinds",
        planted.len(),
        kinds.len()
    );
    let out = tempfile::tempdir().unwrap();
    let place = out.path().join("r");
    review_of(&top("demo-data/messy-export"), &place, None).unwrap();
    let r = read(&place);
    assert_eq!(r["lines"]["quarantined"], planted.len());
    let mut csv = csv::Reader::from_path(place.join("quarantine.csv")).unwrap();
    let rows: Vec<csv::StringRecord> = csv.records().map(Result::unwrap).collect();
    for p in &planted {
        let named = rows.iter().any(|row| {
            row[0] == *p["file"].as_str().unwrap()
                && row[1] == *p["line"].to_string()
                && row[2] == *p["column"].as_str().unwrap_or("")
                && row[5] == *p["reason"].as_str().unwrap()
        });
        assert!(named, "{p} is not among\n{rows:#?}");
    }
}

#[test]
fn a_missing_folder_file_or_month_is_said_with_what_to_do() {
    let out = tempfile::tempdir().unwrap();
    let said = |folder: &Path, month| {
        review_of(folder, &out.path().join("r"), month)
            .unwrap_err()
            .to_string()
    };
    let none = out.path().join("nowhere");
    assert!(said(&none, None).contains("no such folder. Give the folder that holds the exports."));
    let empty = shop(&[]);
    assert!(said(empty.path(), None).contains("no file of jobs. Looked for"));
    let blank = shop(&[("jobs.csv", "")]);
    assert!(
        said(blank.path(), None).contains("jobs.csv"),
        "{}",
        said(blank.path(), None)
    );
    let heading = shop(&[("jobs.csv", "job,finished_on,vehicle_class,finish,coated\n")]);
    assert!(said(heading.path(), None).contains("no job to review"));
    let demo = top("demo-data/film-shop");
    let text = said(&demo, Some("2031-01"));
    assert_eq!(
        text,
        "--month 2031-01: the data hold jobs from 2024-11 to 2026-10. Ask for one of these months, or leave --month out for the latest."
    );
    assert!(!out.path().join("r").exists(), "nothing may be written");
}

const HEAD: &str =
    "job,finished_on,vehicle_class,finish,area,coverage,offered,coated,coating_price\n";

fn jobs(rows: &[&str]) -> String {
    format!("{HEAD}{}\n", rows.join("\n"))
}

#[test]
fn no_coated_job_gives_a_page_that_says_so() {
    let text = jobs(&[
        "1,2026-10-02,suv,gloss,20,full,yes,no,",
        "2,2026-10-03,van,matte,30,full,yes,no,",
    ]);
    let (_, r, page) = review_shop(&[("jobs.csv", &text)]).unwrap();
    assert_eq!(r["attach"]["coated"], 0);
    assert_eq!(r["margin"]["not_enough"]["of"], "coated jobs this month");
    assert!(
        page.contains("None of 2"),
        "the lead says that none took it"
    );
}

#[test]
fn one_coated_job_gives_a_page_without_a_claim() {
    let text = jobs(&["1,2026-10-02,suv,gloss,20,full,yes,yes,310"]);
    let coatings = "job,applied_by,minutes,used\n1,P1,40,31\n";
    let (_, r, page) = review_shop(&[("jobs.csv", &text), ("coatings.csv", coatings)]).unwrap();
    assert_eq!(r["attach"]["change"]["certainty"], "too_few");
    assert!(r["attach"]["rate"]["not_enough"].is_object());
    assert!(r["consumption"]["data_alone"]["gloss"]["not_enough"].is_object());
    assert!(r["minutes"]["typical"]["suv"]["not_enough"].is_object());
    assert!(page.contains("Too few jobs to say"));
    assert!(!page.contains("NaN"));
}

/// Thirty jobs of one class, on finishes and by people in turn.
fn thirty(finishes: &[&str], people: &[&str], price: &str) -> (String, String) {
    let mut rows = String::from(HEAD);
    let mut work = String::from("job,applied_by,minutes,used\n");
    for i in 0..30_usize {
        let finish = finishes[i % finishes.len()];
        let person = people[i % people.len()];
        let area = 15 + (i * 7) % 11;
        let day = 1 + i % 28;
        let month = 9 + i % 2;
        rows.push_str(&format!(
            "{i},2026-{month:02}-{day:02},suv,{finish},{area},full,yes,yes,{price}\n"
        ));
        let used = 1.0 + 1.5 * area as f64 + ((i * 13) % 7) as f64 / 3.0;
        work.push_str(&format!("{i},{person},{},{used}\n", 30 + (i * 5) % 9));
    }
    (rows, work)
}

#[test]
fn one_person_one_finish_and_no_prices_each_give_a_page() {
    for (finishes, people, price) in [
        (vec!["gloss"], vec!["P1"], "310"),
        (vec!["gloss", "matte"], vec!["P1"], ""),
        (vec!["matte"], vec!["P1", "P2"], ""),
    ] {
        let (rows, work) = thirty(&finishes, &people, price);
        let (_, r, page) = review_shop(&[("jobs.csv", &rows), ("coatings.csv", &work)]).unwrap();
        assert!(r["minutes"]["typical"]["suv"]["value"].is_number(), "{r:#}");
        assert!(r["consumption"]["data_alone"][finishes[0]]["value"].is_number());
        if price.is_empty() {
            // Neither bottles nor constants.toml: the page names what is missing.
            assert!(
                page.contains("add the bottles"),
                "the lacking price is named"
            );
        }
        let words = page.split("<script>").next().unwrap();
        for bad in ["NaN", "inf ", "null"] {
            assert!(!words.contains(bad), "{bad}");
        }
    }
}

#[test]
fn a_month_between_with_nothing_gives_a_page() {
    let text = jobs(&[
        "1,2026-08-02,suv,gloss,20,full,yes,yes,310",
        "2,2026-10-03,van,matte,30,full,yes,no,",
    ]);
    let dir = shop(&[("jobs.csv", &text)]);
    let place = dir.path().join("out");
    review_of(dir.path(), &place, Some("2026-09")).unwrap();
    let r = read(&place);
    assert_eq!(r["attach"]["eligible"], 0);
    let page = fs::read_to_string(place.join("review.html")).unwrap();
    assert!(page.contains("No film job was finished this month"));
}

#[test]
fn text_that_would_run_shows_as_text() {
    let evil = "<script>alert(1)</script>";
    let formula = "=cmd|' /C calc'!A0";
    let mut rows = String::from(HEAD);
    let mut work = String::from("job,applied_by,minutes,used\n");
    for i in 0..12 {
        rows.push_str(&format!(
            "\"{formula}{i}\",2026-10-{:02},{evil},{evil},{},full,yes,yes,10\n",
            i + 1,
            18 + i
        ));
        work.push_str(&format!(
            "\"{formula}{i}\",{evil},{},{}\n",
            40 + i % 5,
            30 + i % 3
        ));
    }
    let bottles = "bottle,opened_on,volume,cost\nB1,2026-10-01,100,290\nB2,2026-10-09,100,290\n";
    let people = "person,hourly_cost\n<script>alert(1)</script>,27\n";
    let dir = shop(&[
        ("jobs.csv", &rows),
        ("coatings.csv", &work),
        ("bottles.csv", bottles),
        ("people.csv", people),
    ]);
    let place = dir.path().join("out");
    review_of(dir.path(), &place, None).unwrap();
    let page = fs::read_to_string(place.join("review.html")).unwrap();
    assert!(!page.contains("<script>alert"), "markup from data");
    assert!(page.contains("&lt;script&gt;alert") || page.contains("&#60;script&#62;alert"));
    let below = fs::read_to_string(place.join("tables/below_floor.csv")).unwrap();
    assert!(below.contains("'=cmd|"), "{below}");
    for line in below.lines().skip(1) {
        assert!(!line.starts_with('=') && !line.starts_with("\"="), "{line}");
    }
}

#[test]
fn prices_with_tax_leave_less() {
    let (rows, work) = thirty(&["gloss"], &["P1"], "310");
    let bottles = "bottle,opened_on,volume,cost\nB1,2026-09-01,100,290\nB2,2026-10-09,100,290\n";
    let people = "person,hourly_cost\nP1,27\n";
    let net = |settings: &str| {
        let files = [
            ("jobs.csv", rows.as_str()),
            ("coatings.csv", &work),
            ("bottles.csv", bottles),
            ("people.csv", people),
            ("shop.toml", settings),
        ];
        review_shop(&files).unwrap().1["margin"]["net_price"]
            .as_i64()
            .unwrap()
    };
    let without = net("");
    let with = net("[money]\nprices_include_tax = true\ntax_rate = 0.24\n");
    assert_eq!(without, 15 * 31_000);
    assert_eq!(with, 15 * 25_000);
}

#[test]
fn settings_that_cannot_be_used_are_refused_with_their_line() {
    let said = |text: &str| {
        let (rows, work) = thirty(&["gloss"], &["P1"], "310");
        let files = [
            ("jobs.csv", rows.as_str()),
            ("coatings.csv", &work),
            ("shop.toml", text),
        ];
        review_shop(&files).unwrap_err()
    };
    let unknown = said("[money]\ncurrency = \"USD\"\nmargin = 0.3\n");
    assert!(
        unknown.contains("shop.toml, line 3: unknown field `margin`, expected one of"),
        "{unknown}"
    );
    let range = said("\n[money]\nfloor_margin = 1.5\n");
    assert!(
        range.contains(
            "shop.toml, line 3: money.floor_margin is 1.5; expected a number from 0 to under 1"
        ),
        "{range}"
    );
    let field = said("[columns.jobs]\njob = \"Ticket\"\nfinised_on = \"Done\"\n");
    assert!(
        field.contains(
            "line 3: columns.jobs.finised_on is no field of that table; expected one of job, shop"
        ),
        "{field}"
    );
}

#[test]
fn check_writes_nothing_and_accounts_for_every_line() {
    let (rows, work) = thirty(&["gloss"], &["P1"], "310");
    let dir = shop(&[("jobs.csv", &rows), ("coatings.csv", &work)]);
    let args = CheckArgs {
        folder: dir.path().to_path_buf(),
        json: true,
        descriptor: false,
        strict: false,
    };
    let done = run::check(&args, &mut |_| {}).unwrap();
    let r: Value = serde_json::from_str(&done.text).unwrap();
    assert_eq!(r["lines"]["read"], 62);
    assert_eq!(r["lines"]["accepted"], 60);
    assert_eq!(r["lines"]["structure"], 2);
    let left: Vec<_> = fs::read_dir(dir.path()).unwrap().collect();
    assert_eq!(left.len(), 2, "nothing is written");
}

#[test]
fn a_draft_of_the_settings_is_never_written_over_those_that_are_there() {
    let (rows, _) = thirty(&["gloss"], &["P1"], "310");
    let dir = shop(&[("jobs.csv", &rows)]);
    let args = |write| tallycoat::settings::command::MapArgs {
        folder: dir.path().to_path_buf(),
        write,
    };
    let printed = run::map(&args(false)).unwrap();
    assert!(
        printed.contains("[columns.jobs]") || printed.contains("[files]"),
        "{printed}"
    );
    assert!(!dir.path().join("shop.toml").exists());
    run::map(&args(true)).unwrap();
    assert_eq!(
        fs::read_to_string(dir.path().join("shop.toml")).unwrap(),
        printed
    );
    fs::write(dir.path().join("shop.toml"), "# mine\n").unwrap();
    let said = run::map(&args(true)).unwrap_err().to_string();
    assert!(
        said.contains("is there already and was left alone"),
        "{said}"
    );
    assert_eq!(
        fs::read_to_string(dir.path().join("shop.toml")).unwrap(),
        "# mine\n"
    );
}
