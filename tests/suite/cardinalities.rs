//! Many of everything: what grows with one column's number of words must end,
//! in time, and give a page that a browser opens. Larger folders of the same
//! kinds are too slow to be tested each time.

use super::faults::{done, review};
use std::fmt::Write;
use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

/// What a page may weigh, bytes.
const PAGE: u64 = 1_000_000;
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

/// Reviews a folder of these counts within time and size.
fn reviewed(what: &str, n: Counts) {
    let dir = tempfile::tempdir().unwrap();
    let (folder, place) = (dir.path().join("in"), dir.path().join("out"));
    write(&folder, n);
    let started = Instant::now();
    done(&review(&folder, &place).output().unwrap());
    let took = started.elapsed();
    let page = fs::metadata(place.join("review.html")).unwrap().len();
    println!(
        "{what}: {:.1} s, page {} kB",
        took.as_secs_f64(),
        page / 1000
    );
    assert!(page < PAGE, "{what}: the page has {page} bytes");
    assert!(took < PATIENCE, "{what}: {took:?}");
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
    reviewed("classes", Counts { classes: 60, ..ONE });
    reviewed(
        "finishes",
        Counts {
            finishes: 60,
            ..ONE
        },
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
