//! Tables that the queries gave elsewhere, in place of exports: the same
//! figures, parts that add up to the whole, and what is wrong with a table said
//! with its file, line and column.

use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use tallycoat::measures::cells::{CellFile, Part, read_cells, write_cells};
use tallycoat::measures::{Holds, Measures, QUERIES, SHAPES, STEPS, View, measure};
use tallycoat::settings::command::{CellsArgs, InventArgs, ReviewArgs};
use tallycoat::settings::month::Month;
use tallycoat::settings::shop::Shop;
use tallycoat::{intake, run};

fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/film-shop")
}

fn review(folder: &Path, cells: &[PathBuf], out: &Path) -> Result<Value, String> {
    let args = ReviewArgs {
        folder: folder.to_path_buf(),
        cells: cells.to_vec(),
        out: Some(out.to_path_buf()),
        ..ReviewArgs::default()
    };
    run::review(&args, &mut |_| {}).map_err(|e| e.to_string())?;
    let text = fs::read_to_string(out.join("review.json")).unwrap();
    Ok(serde_json::from_str(&text).unwrap())
}

fn cells_of(folder: &Path, month: Option<Month>, out: &Path) {
    let args = CellsArgs {
        folder: folder.to_path_buf(),
        month,
        out: out.to_path_buf(),
        ..CellsArgs::default()
    };
    run::cells(&args, &mut |_| {}).unwrap();
}

/// The demo's own folder, so that its reviews of earlier months count nowhere.
fn copy_of_demo() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    for entry in fs::read_dir(demo()).unwrap() {
        let path = entry.unwrap().path();
        if path.is_file() {
            fs::copy(&path, dir.path().join(path.file_name().unwrap())).unwrap();
        }
    }
    dir
}

#[test]
fn a_review_of_cells_says_what_the_review_of_their_exports_says() {
    let dir = copy_of_demo();
    let shop = dir.path();
    cells_of(shop, None, &shop.join("cells"));
    let direct = review(shop, &[], &shop.join("direct")).unwrap();
    let by_cells = review(shop, &[shop.join("cells")], &shop.join("by-cells")).unwrap();
    let keys = |v: &Value| v.as_object().unwrap().keys().cloned().collect::<Vec<_>>();
    assert_eq!(keys(&direct), keys(&by_cells));
    for (key, value) in direct.as_object().unwrap() {
        // Lines and files are known where the exports were read, and own
        // questions are asked of the exports.
        if !["lines", "fingerprint"].contains(&key.as_str()) {
            assert_eq!(value, &by_cells[key], "{key}");
        }
    }
    let tables = by_cells["lines"]["tables"].as_array().unwrap();
    assert!(tables.len() > QUERIES.len(), "{tables:?}");
    assert!(by_cells["lines"]["not_enough"].is_object());
    assert!(!shop.join("by-cells/quarantine.csv").exists());
    let page = fs::read_to_string(shop.join("by-cells/review.html")).unwrap();
    assert!(page.contains("lines were counted where the tables behind this page were made"));
    assert!(!page.contains("Every line of the exports was used"));
}

#[test]
fn a_table_may_bear_the_number_of_its_query_and_not_both_names() {
    let dir = copy_of_demo();
    let cells = dir.path().join("cells");
    cells_of(dir.path(), None, &cells);
    fs::rename(cells.join("months.csv"), cells.join("01_months.csv")).unwrap();
    review(
        dir.path(),
        std::slice::from_ref(&cells),
        &dir.path().join("out"),
    )
    .unwrap();
    fs::copy(cells.join("01_months.csv"), cells.join("months.csv")).unwrap();
    let said = review(dir.path(), &[cells], &dir.path().join("out")).unwrap_err();
    assert!(
        said.contains("01_months.csv and months.csv are the same table"),
        "{said}"
    );
}

/// Changes one table of the demo's cells and says what the review says.
fn said_of(table: &str, change: impl Fn(String) -> String) -> String {
    let dir = copy_of_demo();
    let cells = dir.path().join("cells");
    cells_of(dir.path(), None, &cells);
    let place = cells.join(table);
    let text = change(fs::read_to_string(&place).unwrap());
    match text.as_str() {
        "" => fs::remove_file(&place).unwrap(),
        text => fs::write(&place, text).unwrap(),
    }
    let out = dir.path().join("out");
    let said = review(dir.path(), &[cells], &out).unwrap_err();
    assert!(!out.exists(), "{said}");
    said
}

#[test]
fn what_is_wrong_with_a_table_is_said_with_its_place() {
    let gone = said_of("wages.csv", |_| String::new());
    assert!(gone.contains("no 08_wages.csv or wages.csv"), "{gone}");
    let column = said_of("wages.csv", |t| t.replacen("hourly_cost", "wage", 1));
    assert!(
        column.contains("wages.csv: column wage is none of this table's"),
        "{column}"
    );
    let cell = said_of("look_back/draws.csv", |t| {
        t.replacen("\n", "\n?,B1,2026-13-01,,\n", 1)
    });
    assert!(
        cell.contains("draws.csv, line 2, column day: found \"2026-13-01\""),
        "{cell}"
    );
    let orphan = said_of("practice.csv", |t| t + "no-such-job,P1,1\n");
    assert!(
        orphan.contains("job_key no-such-job does not stand in"),
        "{orphan}"
    );
    let twice = said_of("coated.csv", |t| {
        let second = t.lines().nth(1).unwrap().to_string();
        format!("{t}{second}\n")
    });
    assert!(
        twice.contains("a second row with the same job_key"),
        "{twice}"
    );
    let text = said_of("hired.csv", |_| {
        "shop,person,started_on\n\u{fffd}".replace('\u{fffd}', "x\n")
    });
    assert!(text.contains("Expected CSV in UTF-8"), "{text}");
}

#[test]
fn months_that_do_not_fit_the_review_are_refused() {
    let short = said_of("window_months.csv", |t| {
        let mut lines: Vec<&str> = t.lines().collect();
        lines.remove(1);
        lines.join("\n") + "\n"
    });
    assert!(
        short.contains("window_months holds the months 2025-12 to 2026-10; this review needs 2025-11 to 2026-10"),
        "{short}"
    );
    let none = said_of("window_months.csv", |_| "month_no\n".into());
    assert!(none.contains("holds the months none"), "{none}");
    let back = said_of("look_back/spans.csv", |t| t + "24400\n");
    assert!(back.contains("look_back/spans holds the months"), "{back}");

    let dir = copy_of_demo();
    let cells = dir.path().join("cells");
    cells_of(dir.path(), Month::parse("2026-08"), &cells);
    let args = ReviewArgs {
        folder: dir.path().to_path_buf(),
        cells: vec![cells],
        month: Month::parse("2026-09"),
        ..ReviewArgs::default()
    };
    let said = run::review(&args, &mut |_| {}).unwrap_err().to_string();
    assert!(said.contains("the tables were made for 2026-08"), "{said}");
}

/// The tables of an invented chain, and of the part of it with these shops.
fn frames(folder: &Path, shops: &[&str]) -> BTreeMap<&'static str, polars::prelude::DataFrame> {
    let part = tempfile::tempdir().unwrap();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|e| e != "csv") {
            continue;
        }
        let mut reader = csv::Reader::from_path(&path).unwrap();
        let heading = reader.headers().unwrap().clone();
        let at = heading.iter().position(|h| h == "shop").unwrap();
        let to = part.path().join(path.file_name().unwrap());
        let mut writer = csv::Writer::from_path(to).unwrap();
        writer.write_record(&heading).unwrap();
        let records = reader.records().map(Result::unwrap);
        for record in records.filter(|r| shops.contains(&&r[at])) {
            writer.write_record(&record).unwrap();
        }
        writer.flush().unwrap();
    }
    let read = intake::read(part.path(), &Shop::default(), &mut |_| {}).unwrap();
    let frames = read.frames.into_inner().into_iter();
    frames.map(|(table, frame)| (table.name(), frame)).collect()
}

/// Everything that was measured, one line a fact, with names in place of
/// numbers: in no order, as parts come in another than the whole.
pub(crate) fn facts(m: &Measures) -> Vec<String> {
    let mut all = Vec::new();
    let person = |n: Option<u32>| n.map(|p| &m.people[p as usize]);
    for ((j, sale), nth) in m.coated.iter().zip(&m.sales.jobs).zip(&m.nth) {
        let mut parts: Vec<_> = (j.parts.iter())
            .map(|p| (m.finishes.name(p.finish), p.area))
            .collect();
        parts.sort_by(|a, b| a.0.cmp(b.0));
        all.push(format!(
            "coated {} {} {:?} {} {:?} {parts:?} {:?} {:?} {} {} {:?} {:?} {:?} {:?} {} {} {nth:?}",
            j.shop,
            j.job,
            j.month,
            m.classes.name(j.class),
            j.full,
            j.price,
            j.discount,
            j.priced_on,
            j.people,
            person(j.person),
            j.minutes,
            j.used,
            j.reworked,
            m.sales.films.name(sale.film),
            m.sales.sellers.name(sale.seller),
        ));
    }
    let key = |job: usize| format!("{} {}", m.coated[job].shop, m.coated[job].job);
    all.extend(m.draws.iter().map(|d| {
        let bottle = match d.bottle {
            tallycoat::measures::Named::Bottle(i) => m.bottle_spans[i as usize].bottle.to_string(),
            other => format!("{other:?}"),
        };
        let job = key(d.job as usize);
        format!("draw {job} {bottle} {} {:?} {:?}", d.day, d.minute, d.used)
    }));
    all.extend(m.poured.iter().map(|p| {
        let job = key(p.job);
        format!(
            "poured {job} {} {} {} {}",
            p.bottle, p.product, p.unmeasured, p.used
        )
    }));
    all.extend(m.spells.iter().map(|s| {
        let mut own = *s;
        own.job = 0;
        format!("spell {} {own:?}", key(s.job))
    }));
    all.extend(m.came_back.iter().map(|c| {
        let job = key(c.job);
        format!(
            "came back {job} {} {} {} {} {:?}",
            c.cause, c.callbacks, c.minutes, c.used, c.cost
        )
    }));
    all.extend(m.months.iter().map(|x| format!("month {x:?}")));
    all.extend(m.offers.iter().map(|x| format!("offer {x:?}")));
    all.extend(m.film_lives.iter().map(|x| format!("life {x:?}")));
    all.extend(m.film_faces.iter().map(|x| format!("face {x:?}")));
    all.extend(m.bottles.iter().map(|x| format!("bottle {x:?}")));
    all.extend(m.bottle_spans.iter().map(|x| format!("bottle span {x:?}")));
    all.extend(m.bought.iter().map(|x| format!("bought {x:?}")));
    all.extend(m.waiting.iter().map(|x| format!("waiting {x:?}")));
    all.extend(m.priced.iter().map(|x| format!("priced {x:?}")));
    all.extend(m.wages.iter().map(|x| format!("wage {x:?}")));
    all.extend(m.hired.iter().map(|x| format!("hired {x:?}")));
    all.sort();
    all
}

fn chain() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    let args = InventArgs {
        folder: dir.path().join("chain"),
        jobs: Some(700),
        months: Some(20),
        shops: Some(3),
        people: None,
        seed: Some(11),
        measured_share: Some(0.7),
        bottle_ml: None,
    };
    run::invent(&args).unwrap();
    dir
}

const LAST: (i32, u32) = (2026, 10);

fn view() -> View {
    let month = Month::new(LAST.0, LAST.1).unwrap();
    View {
        month,
        window_from: month.plus(-11),
    }
}

fn back() -> Month {
    view().month.plus(-19)
}

fn part(name: &str, folder: &Path, shops: &[&str]) -> Part {
    Part {
        name: name.into(),
        ..write_cells(frames(folder, shops), view(), back()).unwrap()
    }
}

/// Parts are whole shops. Everything that is measured of the parts together is
/// what is measured of the whole, exactly; but for the median area of a full
/// job, which lies between the parts' medians.
#[test]
fn cells_of_the_parts_of_a_chain_add_up_to_those_of_the_whole() {
    let dir = chain();
    let folder = dir.path().join("chain");
    let shops = ["S01", "S02", "S03"];
    let (whole, _) = measure(frames(&folder, &shops), view(), view().window_from).unwrap();
    let north = part("north", &folder, &["S01"]);
    let south = part("south", &folder, &["S02", "S03"]);
    let empty = |p: &CellFile| CellFile {
        place: p.place.clone(),
        bytes: String::from_utf8_lossy(&p.bytes)
            .lines()
            .take(1)
            .map(|l| format!("{l}\n"))
            .collect::<String>()
            .into(),
    };
    let mut nobody = Part {
        name: "nobody".into(),
        ..north.clone()
    };
    for (name, file) in nobody.now.iter_mut().chain(&mut nobody.look_back) {
        if !["spans", "window_months"].contains(name) {
            *file = empty(file);
        }
    }
    let parts = [south.clone(), nobody, north.clone()];
    let added = read_cells(&parts).unwrap();
    let (expected, found) = (facts(&whole), facts(&added.measured));
    assert!(expected.len() > 1_000, "{}", expected.len());
    for (e, f) in expected.iter().zip(&found) {
        assert_eq!(e, f);
    }
    assert_eq!(expected.len(), found.len());

    let areas = |m: &Measures| -> BTreeMap<String, (u64, f64)> {
        m.full_area
            .iter()
            .map(|f| (f.class.clone(), (f.jobs, f.area)))
            .collect()
    };
    let of_part = |p: Part| areas(&read_cells(&[p]).unwrap().measured);
    let (a, b, both) = (of_part(north), of_part(south), areas(&added.measured));
    for (class, (jobs, _)) in areas(&whole) {
        let medians = [a.get(&class), b.get(&class)].into_iter().flatten();
        let (low, high) = medians.fold((f64::MAX, f64::MIN), |(l, h), x| (l.min(x.1), h.max(x.1)));
        assert_eq!(both[&class].0, jobs, "{class}");
        assert!((low..=high).contains(&both[&class].1), "{class}: {both:?}");
    }
}

#[test]
fn one_part_read_back_is_what_was_measured() {
    let dir = chain();
    let folder = dir.path().join("chain");
    let shops = ["S01", "S02", "S03"];
    let (whole, history) = measure(frames(&folder, &shops), view(), back()).unwrap();
    let read = read_cells(&[part("all", &folder, &shops)]).unwrap();
    assert_eq!(facts(&whole), facts(&read.measured));
    // The program asks once for what both runs of the queries share; cells are
    // written by two runs apart.
    assert!(history.coated.len() > whole.coated.len());
    assert_eq!(history.coated, read.history.coated);
    assert_eq!(history.people, read.history.people);
    assert_eq!(history.draws, read.history.draws);
    assert_eq!(whole.full_area, read.measured.full_area);
    let days = whole.film_lives.iter().map(|l| l.finished_on);
    assert_eq!(days.max(), Some(read.span.last));
}

#[test]
fn a_shop_belongs_to_one_part_and_all_parts_to_one_month() {
    let dir = chain();
    let folder = dir.path().join("chain");
    let a = part("a", &folder, &["S01", "S02"]);
    let b = part("b", &folder, &["S02"]);
    let said = read_cells(&[a.clone(), b]).unwrap_err().to_string();
    assert!(
        said.contains("shop \"S02\" is both in a and in b"),
        "{said}"
    );
    let mut c = part("c", &folder, &["S03"]);
    let months = c.now.get_mut("window_months").unwrap();
    months.bytes = "month_no\n24310\n".into();
    let said = read_cells(&[a, c]).unwrap_err().to_string();
    assert!(said.contains("a ends with 2026-10 and c with"), "{said}");
}

/// Where a folder's tables name no shop, several folders' shops bear the
/// folders' names.
#[test]
fn shops_without_a_name_bear_that_of_their_folder() {
    let dir = copy_of_demo();
    let folder = dir.path();
    for name in ["east", "west"] {
        cells_of(folder, None, &folder.join(name));
    }
    let both = [folder.join("east"), folder.join("west")];
    let found = review(folder, &both, &folder.join("both")).unwrap();
    let one = review(folder, &both[..1], &folder.join("one")).unwrap();
    let coated = |r: &Value| r["margin"]["coated_jobs"].as_u64().unwrap();
    assert_eq!(coated(&found), 2 * coated(&one));
    let again = [folder.join("east"), folder.join("east")];
    let said = review(folder, &again, &folder.join("again")).unwrap_err();
    assert!(
        said.contains("shop \"east\" is both in east and in east"),
        "{said}"
    );
}

/// Columns and kinds of every shape, held to the expected tables of its query.
#[test]
fn every_query_has_the_shape_that_its_expected_tables_have() {
    let names: Vec<&str> = SHAPES.iter().map(|s| s.name).collect();
    let handed_over = || QUERIES.iter().filter(|q| !STEPS.contains(&q.name));
    for query in handed_over() {
        assert!(names.contains(&query.name), "{} has no shape", query.name);
    }
    assert_eq!(names.len(), handed_over().count());
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/expected");
    for query in handed_over() {
        let shape = SHAPES.iter().find(|s| s.name == query.name).unwrap();
        let file = query.file.replace(".sql", ".txt");
        let text = fs::read_to_string(folder.join(file)).unwrap();
        for case in text.split("\n=\n").skip(1) {
            let mut lines = case.lines().take_while(|l| !l.starts_with("## "));
            let cells = |l: &str| {
                l.split('|')
                    .map(|c| c.trim().to_string())
                    .collect::<Vec<_>>()
            };
            let heading = cells(lines.next().unwrap());
            let expected: Vec<&str> = heading
                .iter()
                .map(|h| h.split(':').next().unwrap())
                .collect();
            let columns: Vec<&str> = shape.columns.iter().map(|c| c.name).collect();
            assert_eq!(columns, expected, "{}", query.name);
            let rows: Vec<Vec<String>> = lines.filter(|l| l.contains('|')).map(cells).collect();
            for (i, (column, head)) in shape.columns.iter().zip(&heading).enumerate() {
                let kind = head.split(':').nth(1).unwrap();
                let empty = rows.iter().any(|r| r[i].is_empty());
                let every = rows.iter().all(|r| r[i].is_empty());
                let of_kind: &[Holds] = match kind {
                    "i" => &[Holds::Integer, Holds::JobKey],
                    "f" => &[Holds::Number],
                    // A case may know its moments to the day.
                    "d" => &[Holds::Day, Holds::Moment],
                    "t" => &[Holds::Moment],
                    _ => &[Holds::Text],
                };
                let place = format!("{} {}", query.name, column.name);
                assert!(every || of_kind.contains(&column.holds), "{place}: {kind}");
                assert!(!empty || column.optional, "{place} may be empty");
            }
        }
    }
}
