//! Of many rows, words are numbers of a vocabulary; everything that is made of
//! them is what text gives.

use crate::cells::facts;
use polars::prelude::{BooleanChunked, DataFrame, DataType};
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use tallycoat::measures::{CoatedJob, Measures, View, measure, span};
use tallycoat::settings::command::{InventArgs, ReviewArgs};
use tallycoat::settings::month::Month;
use tallycoat::settings::shop::Shop;
use tallycoat::{intake, run};

/// So many that their rows, over 50,000, have numbers for words.
const JOBS: u64 = 26_000;

fn invented(folder: &Path) {
    let args = InventArgs {
        folder: folder.to_path_buf(),
        jobs: Some(JOBS),
        months: Some(14),
        shops: Some(3),
        people: Some(30),
        seed: Some(5),
        measured_share: Some(0.6),
        bottle_ml: None,
    };
    run::invent(&args).unwrap();
}

fn tables(folder: &Path) -> BTreeMap<&'static str, DataFrame> {
    let read = intake::read(folder, &Shop::default(), &mut |_| {}).unwrap();
    let tables = read.frames.into_inner().into_iter();
    tables.map(|(table, frame)| (table.name(), frame)).collect()
}

fn as_text(tables: &BTreeMap<&'static str, DataFrame>) -> BTreeMap<&'static str, DataFrame> {
    let text =
        |(name, frame): (&&'static str, &DataFrame)| (*name, intake::text_of(frame).unwrap());
    tables.iter().map(text).collect()
}

/// Columns that hold numbers of words.
fn numbered(tables: &BTreeMap<&'static str, DataFrame>) -> Vec<String> {
    let all = tables.iter().flat_map(|(table, frame)| {
        let own = frame.columns().iter().filter(|c| c.dtype().is_enum());
        own.map(move |c| format!("{table}.{}", c.name()))
    });
    all.collect()
}

#[test]
fn numbers_of_words_measure_as_words_do() {
    let dir = tempfile::tempdir().unwrap();
    invented(dir.path());
    let coded = tables(dir.path());
    let text = as_text(&coded);
    let found = numbered(&coded);
    for column in [
        "jobs.shop",
        "jobs.finish",
        "jobs.sold_by",
        "surfaces.finish",
        "callbacks.cause",
    ] {
        assert!(
            found.iter().any(|c| c == column),
            "{column} not in {found:?}"
        );
    }
    assert!(numbered(&text).is_empty());
    let until = Month::of(span(&coded["jobs"]).unwrap().unwrap().last);
    let view = View {
        month: until,
        window_from: until.plus(-11),
    };
    measure_alike([coded, text], view);
}

fn measure_alike(tables: [BTreeMap<&'static str, DataFrame>; 2], view: View) {
    let [a, b] = tables.map(|tables| measure(tables, view, view.month.plus(-23)).unwrap());
    for (a, b) in [(a.0, b.0), (a.1, b.1)] {
        assert!(!a.coated.is_empty());
        assert!(a.coated == b.coated && a.people == b.people);
        assert!(a.draws == b.draws && a.poured == b.poured && a.spells == b.spells);
        assert_eq!(facts(&a), facts(&b));
    }
}

/// The rows of one shop; of a table that names none, all.
fn of_shop(frame: &DataFrame, shop: &str) -> DataFrame {
    let Ok(column) = frame.column("shop") else {
        return frame.clone();
    };
    let text = column.cast(&DataType::String).unwrap();
    let own: BooleanChunked = (text.str().unwrap().iter())
        .map(|s| Some(s == Some(shop)))
        .collect();
    frame.filter(&own).unwrap()
}

/// What is measured of a shop's coated jobs, those of other shops apart.
fn coated_of(m: &Measures, shop: &str) -> Vec<String> {
    let own = m.coated.iter().filter(|j| j.shop == shop);
    let row = |j: &CoatedJob| {
        let finishes: Vec<_> = (j.parts.iter())
            .map(|p| (m.finishes.name(p.finish), p.area))
            .collect();
        let person = j.person.map(|p| m.people[p as usize].person.clone());
        format!(
            "{} {} {finishes:?} {person:?} {:?} {:?} {:?} {:?} {:?} {:?}",
            j.job,
            m.classes.name(j.class),
            j.month,
            j.price,
            j.people,
            j.minutes,
            j.used,
            j.reworked
        )
    };
    own.map(row).collect()
}

/// The queries of three shops together are shared out among the engine's
/// threads; those of one of them are few rows and stay on one.
#[test]
fn a_shop_alone_measures_as_among_others() {
    let dir = tempfile::tempdir().unwrap();
    invented(dir.path());
    let all = as_text(&tables(dir.path()));
    let rows = |t: &BTreeMap<_, DataFrame>| t.values().map(DataFrame::height).sum::<usize>();
    assert!(rows(&all) > 50_000);
    let until = Month::of(span(&all["jobs"]).unwrap().unwrap().last);
    let view = View {
        month: until,
        window_from: until.plus(-5),
    };
    let measured = |tables| measure(tables, view, until.plus(-11)).unwrap();
    let whole = measured(all.clone());
    let mut shops: Vec<&str> = whole.0.months.iter().map(|m| m.shop.as_str()).collect();
    shops.dedup();
    assert_eq!(shops.len(), 3);
    for shop in shops {
        let own: BTreeMap<_, _> = (all.iter())
            .map(|(name, frame)| (*name, of_shop(frame, shop)))
            .collect();
        assert!(rows(&own) <= 50_000);
        let alone = measured(own);
        for (whole, alone) in [(&whole.0, &alone.0), (&whole.1, &alone.1)] {
            let months = whole.months.iter().filter(|m| m.shop == shop);
            assert!(months.eq(&alone.months));
            let jobs = coated_of(alone, shop);
            assert!(!jobs.is_empty() && jobs == coated_of(whole, shop));
        }
        let priced = whole.0.priced.iter().filter(|p| p.shop == shop);
        assert!(priced.eq(&alone.0.priced));
    }
}

/// Jobs alone, without a shop, a film or a coverage; `seller` of each.
fn jobs_alone(folder: &Path, rows: u32, seller: impl Fn(u32) -> String) {
    let job = |i: u32| {
        let (day, seller) = (1 + i % 28, seller(i));
        format!("J{i},2026-10-{day:02},suv,gloss,20,yes,{seller},yes,30000\n")
    };
    let head = "job,finished_on,vehicle_class,finish,area,offered,sold_by,coated,coating_price\n";
    let jobs: String = (0..rows).map(job).collect();
    fs::write(folder.join("jobs.csv"), format!("{head}{jobs}")).unwrap();
}

fn october() -> View {
    let month = Month::new(2026, 10).unwrap();
    View {
        month,
        window_from: month,
    }
}

/// Tables that are not there, columns that are not there, and words that no
/// export holds but a query names.
#[test]
fn what_is_not_there_has_the_same_words() {
    let dir = tempfile::tempdir().unwrap();
    jobs_alone(dir.path(), 51_000, |i| format!("S{}", i % 9));
    let coded = tables(dir.path());
    let found = numbered(&coded);
    for column in ["inspections.condition", "jobs.shop", "jobs.coverage"] {
        assert!(found.iter().any(|c| c == column), "{column}: {found:?}");
    }
    let text = as_text(&coded);
    measure_alike([coded, text], october());
}

/// Nearly every job has a seller of its own: that field stays text, beside
/// others whose words are numbers.
#[test]
fn a_field_of_too_many_words_stays_text() {
    let dir = tempfile::tempdir().unwrap();
    jobs_alone(dir.path(), 66_000, |i| format!("S{i}"));
    let coded = tables(dir.path());
    let found = numbered(&coded);
    assert!(found.contains(&"jobs.finish".to_string()), "{found:?}");
    assert!(!found.contains(&"jobs.sold_by".to_string()), "{found:?}");
    let text = as_text(&coded);
    measure_alike([coded, text], october());
}

/// Own questions see text, and one shop of many rows stands by itself.
#[test]
fn questions_and_single_shops_see_text() {
    let dir = tempfile::tempdir().unwrap();
    invented(dir.path());
    fs::create_dir(dir.path().join("queries")).unwrap();
    let question = "-- Film jobs of one kind\nSELECT UPPER(finish) AS finish, COUNT(*) AS jobs FROM jobs WHERE finish LIKE '%s%' GROUP BY UPPER(finish)\n";
    fs::write(dir.path().join("queries/kind.sql"), question).unwrap();
    let names = shops(dir.path());
    for shop in [None, names.first().cloned()] {
        let out = dir.path().join("out");
        let args = ReviewArgs {
            folder: dir.path().to_path_buf(),
            shop: shop.clone(),
            out: Some(out.clone()),
            ..ReviewArgs::default()
        };
        run::review(&args, &mut |_| {}).unwrap();
        let answer = fs::read_to_string(out.join("tables/own-kind.csv")).unwrap();
        assert!(answer.contains("GLOSS"), "{shop:?}: {answer}");
    }
}

fn shops(folder: &Path) -> Vec<String> {
    let tables = tables(folder);
    let shops = tables["jobs"].column("shop").unwrap();
    let shops = shops.cast(&DataType::String).unwrap();
    let all: std::collections::BTreeSet<String> = shops
        .str()
        .unwrap()
        .iter()
        .flatten()
        .map(str::to_string)
        .collect();
    all.into_iter().collect()
}
