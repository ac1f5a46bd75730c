//! Many of everything: what grows with one column's number of words must end,
//! in time, and give a page that a browser opens. Larger folders of the same
//! kinds are too slow to be tested each time.

use super::faults::{done, review};
use super::machine::{BY_SCHEMA, python_with, run_python};
use super::page::unproved;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

/// What a page may weigh, bytes.
const PAGE: u64 = 1_000_000;
/// What review.json may: some sixty lists of at most 1,000 entries, of which
/// a shop fills a few.
const JSON: u64 = 5_000_000;
/// Some twenty times what these take alone on two cores: an end, where work
/// that grows with the square would find none.
const PATIENCE: Duration = Duration::from_secs(120);

/// How many different words each column holds.
#[derive(Debug, Clone, Copy)]
struct Counts {
    jobs: u64,
    shops: u64,
    classes: u64,
    finishes: u64,
    sellers: u64,
    people: u64,
    bottles: u64,
    products: u64,
    lots: u64,
    causes: u64,
    months: u64,
    /// Letters of a class's name.
    letters: usize,
}

/// A shop of one of each, but for jobs and months.
const ONE: Counts = Counts {
    jobs: 1_500,
    shops: 1,
    classes: 4,
    finishes: 3,
    sellers: 3,
    people: 4,
    bottles: 60,
    products: 1,
    lots: 3,
    causes: 3,
    months: 14,
    letters: 5,
};

/// Numbers without order, the same each time: one step of Knuth's generator
/// (MMIX).
fn scattered(i: u64, salt: u64) -> u64 {
    let x = (i + 1).wrapping_mul(6_364_136_223_846_793_005);
    x.wrapping_add(salt.wrapping_mul(1_442_695_040_888_963_407)) >> 33
}

struct Tables {
    jobs: String,
    coatings: String,
    callbacks: String,
}

impl Tables {
    fn of(n: Counts) -> Self {
        let mut all = Self {
            jobs: "job,shop,finished_on,vehicle_class,film,finish,area,coverage,offered,sold_by,\
                   coated,coating_price,coating_discount\n"
                .into(),
            coatings: "job,shop,applied_by,started_at,minutes,used,bottle,product\n".into(),
            callbacks: "job,shop,reported_on,cause,minutes,cost\n".into(),
        };
        for i in 0..n.jobs {
            all.add(n, i);
        }
        all
    }

    fn add(&mut self, n: Counts, i: u64) {
        let month = i * n.months / n.jobs;
        let day = format!(
            "{}-{:02}-{:02}",
            2006 + month / 12,
            month % 12 + 1,
            1 + i % 28
        );
        let shop = i % n.shops;
        let class = format!("{}{}", "c".repeat(n.letters), i % n.classes);
        let (finish, seller) = (i % n.finishes, scattered(i, 1) % n.sellers);
        let area = 15.0 + (scattered(i, 2) % 100) as f64 / 10.0;
        let coated = scattered(i, 3) % 10 < 6;
        let price = 200 + scattered(i, 4) % 100;
        let charged = if coated {
            price.to_string()
        } else {
            String::new()
        };
        let _ = writeln!(
            self.jobs,
            "J{i},{shop},{day},{class},colour_change,f{finish},{area},full,yes,s{seller},{},{charged},0",
            if coated { "yes" } else { "no" }
        );
        if !coated {
            return;
        }
        let noise = 0.8 + (scattered(i, 5) % 400) as f64 / 1000.0;
        let _ = writeln!(
            self.coatings,
            "J{i},{shop},p{},{day}T10:00:00,{:.1},{:.1},b{},k{}",
            i % n.people,
            2.0 * area * noise,
            1.5 * area * noise,
            i % n.bottles,
            i % n.products
        );
        if i.is_multiple_of(4) {
            let cause = i / 4 % n.causes;
            let _ = writeln!(self.callbacks, "J{i},{shop},{day},cause {cause},20,5.00");
        }
    }
}

fn write(folder: &Path, n: Counts) {
    let tables = Tables::of(n);
    let mut bottles =
        String::from("bottle,shop,product,lot,opened_on,emptied_on,volume,left_over,cost\n");
    for b in 0..n.bottles {
        let (shop, product, lot) = (b % n.shops, b % n.products, b % n.lots);
        let _ = writeln!(
            bottles,
            "b{b},{shop},k{product},l{lot},2006-01-01,2006-12-31,500,5,1400.00"
        );
    }
    let mut people = String::from("person,shop,role,hourly_cost,started_on\n");
    for p in 0..n.people {
        let _ = writeln!(people, "p{p},{},prepper,22.00,2005-01-01", p % n.shops);
    }
    fs::create_dir_all(folder).unwrap();
    for (name, text) in [
        ("jobs", &tables.jobs),
        ("coatings", &tables.coatings),
        ("callbacks", &tables.callbacks),
        ("bottles", &bottles),
        ("people", &people),
    ] {
        fs::write(folder.join(format!("{name}.csv")), text).unwrap();
    }
}

/// A folder and its review.
struct Reviewed {
    dir: tempfile::TempDir,
}

impl Reviewed {
    fn read(&self, file: &str) -> String {
        fs::read_to_string(self.dir.path().join("out").join(file)).unwrap()
    }

    fn json(&self) -> Value {
        serde_json::from_str(&self.read("review.json")).unwrap()
    }

    /// Rows of a table, the heading left out.
    fn rows(&self, table: &str) -> Vec<Vec<String>> {
        let text = self.read(&format!("tables/{table}.csv"));
        let cells = |line: &str| line.split(',').map(String::from).collect();
        text.lines().skip(1).map(cells).collect()
    }
}

/// Reviews a folder of these counts within time and size.
fn reviewed(what: &str, n: Counts) -> Reviewed {
    reviewed_by(what, n, "")
}

/// The same with constants.
fn reviewed_by(what: &str, n: Counts, constants: &str) -> Reviewed {
    let dir = tempfile::tempdir().unwrap();
    let (folder, place) = (dir.path().join("in"), dir.path().join("out"));
    write(&folder, n);
    if !constants.is_empty() {
        fs::write(folder.join("constants.toml"), constants).unwrap();
    }
    let started = Instant::now();
    done(&review(&folder, &place).output().unwrap());
    let took = started.elapsed();
    let size = |file: &str| fs::metadata(place.join(file)).unwrap().len();
    let (page, json) = (size("review.html"), size("review.json"));
    println!(
        "{what}: {:.1} s, page {} kB, review.json {} kB",
        took.as_secs_f64(),
        page / 1000,
        json / 1000
    );
    assert!(page < PAGE, "{what}: the page has {page} bytes");
    assert!(json < JSON, "{what}: review.json has {json} bytes");
    assert!(took < PATIENCE, "{what}: {took:?}");
    Reviewed { dir }
}

/// Coated jobs by the class (column 3) or finish (5) of the jobs written.
fn coated_by(review: &Reviewed, column: usize) -> BTreeMap<String, u64> {
    let jobs = fs::read_to_string(review.dir.path().join("in/jobs.csv")).unwrap();
    let mut counts = BTreeMap::new();
    for line in jobs.lines() {
        let cells: Vec<&str> = line.split(',').collect();
        if cells[10] == "yes" {
            *counts.entry(cells[column].to_string()).or_default() += 1;
        }
    }
    counts
}

/// What is said of kinds too rare to be told apart is what the jobs say:
/// `told_apart` are those with figures.
fn rare_are_said(
    review: &Reviewed,
    counts: &BTreeMap<String, u64>,
    said: &Value,
    table: &str,
    told_apart: &BTreeSet<String>,
) {
    let others: BTreeMap<&String, u64> = (counts.iter())
        .filter(|(name, _)| !told_apart.contains(*name))
        .map(|(name, n)| (name, *n))
        .collect();
    let least = told_apart.iter().map(|name| counts[name]).min().unwrap();
    assert!(others.values().all(|n| *n <= least), "not the commonest");
    assert_eq!(told_apart.len(), 60);
    assert_eq!(said["told_apart"], 60);
    assert_eq!(said["others"], others.len());
    assert_eq!(said["jobs"], others.values().sum::<u64>());
    assert_eq!(said["need"], least + 1);
    let listed = review.rows(table);
    let listed: BTreeMap<String, u64> = (listed.into_iter())
        .map(|row| (row[0].clone(), row[1].parse().unwrap()))
        .collect();
    assert!(listed.iter().eq(others.iter().map(|(k, n)| (*k, n))));
    let html = review.read("review.html");
    let sentence = format!(
        "Each of the other {} has fewer than {}",
        others.len(),
        least + 1
    );
    assert!(html.contains(&sentence), "{sentence}");
    assert_eq!(unproved(&html), Vec::<String>::new());
}

fn keys(map: &Value) -> BTreeSet<String> {
    map.as_object().unwrap().keys().cloned().collect()
}

/// The rule by which reviews are valid for other programs.
fn is_valid(review: &Reviewed) {
    let Some(python) = python_with("jsonschema") else {
        return;
    };
    let out = review.dir.path().join("out");
    let files = ["review.schema.json", "review.json"].map(|f| out.join(f));
    let (valid, said) = run_python(&python, BY_SCHEMA, &[&files[0], &files[1]]);
    assert!(valid, "{said}");
}

#[test]
fn many_shops_with_a_job_each() {
    reviewed(
        "shops",
        Counts {
            shops: 1_500,
            ..ONE
        },
    );
}

#[test]
fn many_people_and_sellers() {
    reviewed(
        "people",
        Counts {
            people: 1_500,
            ..ONE
        },
    );
    reviewed(
        "sellers",
        Counts {
            sellers: 1_500,
            ..ONE
        },
    );
}

#[test]
fn many_classes_and_finishes() {
    let sixty = Counts {
        classes: 60,
        finishes: 60,
        jobs: 150,
        months: 6,
        ..ONE
    };
    let all = reviewed("60 of both", sixty).json();
    assert!(
        all["minutes"]["rare_classes"].is_null() && all["consumption"]["rare_finishes"].is_null()
    );
    reviewed(
        "letters",
        Counts {
            letters: 10_000,
            jobs: 300,
            ..ONE
        },
    );
}

#[test]
fn classes_too_rare_to_be_told_apart_are_counted_and_said() {
    let review = reviewed(
        "classes",
        Counts {
            classes: 500,
            months: 6,
            ..ONE
        },
    );
    let json = review.json();
    let minutes = &json["minutes"];
    let counts = coated_by(&review, 3);
    let told_apart = keys(&minutes["typical"]);
    let said = &minutes["rare_classes"];
    rare_are_said(&review, &counts, said, "minutes_rare_classes", &told_apart);
    // Their jobs are left out of the minutes' fit and of nothing else.
    let rare = |of: &Value| {
        let jobs = of["jobs_left_out"].as_array().unwrap();
        jobs.iter().filter(|j| j["why"] == "rare").count() as u64
    };
    assert_eq!(rare(minutes), said["jobs"].as_u64().unwrap());
    assert_eq!(rare(&json["consumption"]), 0);
    let all = counts.values().sum::<u64>();
    assert_eq!(json["consumption"]["jobs_used"], all);
    assert!(minutes["jobs_used"].as_u64().unwrap() + rare(minutes) <= all);
    is_valid(&review);
}

#[test]
fn finishes_too_rare_to_be_told_apart_are_counted_and_said() {
    let review = reviewed(
        "finishes",
        Counts {
            finishes: 1_490,
            months: 6,
            ..ONE
        },
    );
    let json = review.json();
    let used = &json["consumption"];
    let counts = coated_by(&review, 5);
    let told_apart = keys(&used["ml_per_m2"]);
    let said = &used["rare_finishes"];
    rare_are_said(&review, &counts, said, "use_rare_finishes", &told_apart);
    assert_eq!(&json["minutes"]["rare_finishes"], said);
    // Bottles that held what such jobs took make no rows.
    let why = |row: &Value| row["why"].as_str().map(String::from);
    let left = used["bottles_left_out"].as_array().unwrap();
    assert!(left.iter().all(|b| why(b).is_some()));
    is_valid(&review);
}

/// 500 classes that are priced, and more finishes than anybody has.
#[test]
fn a_long_price_list_is_judged_where_it_can_be_and_the_rest_counted() {
    let mut constants = String::from(
        "[[record]]\neffective_on = 2005-01-01\nsource = \"invented\"\nsetup_ml = 1.0\n\
         cost_per_ml = 2.8\nhourly_cost = 22.0\n[record.list_price]\n",
    );
    for class in 0..500 {
        let _ = writeln!(constants, "c{class} = {}", 200 + class % 90);
    }
    constants.push_str("[record.ml_per_m2]\n");
    for finish in 0..2_000 {
        let _ = writeln!(constants, "f{finish} = 1.5");
    }
    // A job a class: too few for the fits, which are not what is tried here.
    let n = Counts {
        jobs: 300,
        classes: 500,
        months: 6,
        letters: 1,
        ..ONE
    };
    let review = reviewed_by("price list", n, &constants);
    let json = review.json();
    let priced = &json["underpriced"];
    // Three finishes are sold, and of the classes 60 are told apart.
    assert_eq!(review.rows("price-list").len(), 180);
    assert_eq!(priced["price_list_others"], 500 * 2_000 - 180);
    assert_eq!(priced["price_list"].as_array().unwrap().len(), 180);
    let html = review.read("review.html");
    assert!(html.contains("999,820 more of the list are of a class or finish too rare"));
    let unproved = unproved(&html);
    assert!(
        !unproved.iter().any(|of| of.starts_with("price-list")),
        "{unproved:?}"
    );
    is_valid(&review);
}

#[test]
fn what_machines_read_does_not_grow_with_the_number_of_people() {
    let review = reviewed(
        "listed",
        Counts {
            jobs: 4_000,
            people: 4_000,
            sellers: 4_000,
            ..ONE
        },
    );
    let json = review.json();
    let cut: BTreeMap<&str, (u64, u64)> = (json["shortened"].as_array().unwrap().iter())
        .map(|x| {
            let n = |key: &str| x[key].as_u64().unwrap();
            (x["list"].as_str().unwrap(), (n("listed"), n("of")))
        })
        .collect();
    // The last row of the tables of sellers: those not written down, everybody.
    for (list, table, totals) in [
        ("pace", "pace_by_person", 0),
        ("attach.sellers", "attach_by_seller", 2),
    ] {
        let whole = review.rows(table).len() as u64 - totals;
        assert_eq!(cut[list], (1_000, whole), "{list}");
    }
    assert_eq!(json["pace"].as_array().unwrap().len(), 1_000);
    is_valid(&review);
}

#[test]
fn many_bottles_products_lots_and_causes() {
    reviewed(
        "bottles",
        Counts {
            bottles: 1_500,
            ..ONE
        },
    );
    reviewed(
        "products",
        Counts {
            products: 750,
            lots: 750,
            bottles: 1_500,
            ..ONE
        },
    );
    reviewed("causes", Counts { causes: 375, ..ONE });
}

#[test]
fn many_years() {
    reviewed(
        "months",
        Counts {
            months: 240,
            jobs: 4_800,
            ..ONE
        },
    );
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("in");
    fs::create_dir(&folder).unwrap();
    // Two jobs, forty years apart: the later is no slip of the pen by a rule
    // that knows two jobs alone, so it is put aside and said.
    let jobs = "job,finished_on,vehicle_class,finish,area,coated,coating_price\n\
                A,1986-10-02,suv,gloss,20,yes,300\n\
                B,2026-10-02,suv,gloss,20,yes,300\n";
    fs::write(folder.join("jobs.csv"), jobs).unwrap();
    done(&review(&folder, &dir.path().join("out")).output().unwrap());
}
