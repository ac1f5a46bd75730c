//! The shops of a chain beside each other, and one of them by itself. Truth
//! comes from `invent`, which shares no code with the fits.

use super::chain::{SHOPS, chain, review};
use super::page;
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use tallycoat::invent::{Plan, invent_into};
use tallycoat::run;
use tallycoat::settings::command::{CellsArgs, Cli, ReviewArgs};
use tallycoat::settings::month::Month;

/// A chain of shops invented one by one, each of which takes so many times as
/// much coating as the first; the same constants everywhere.
fn using(dir: &Path, factors: &[f64]) -> Vec<PathBuf> {
    let folders: Vec<PathBuf> = (0..factors.len())
        .map(|i| dir.join(["north", "south", "west"][i]))
        .collect();
    for (i, (folder, factor)) in folders.iter().zip(factors).enumerate() {
        let mut plan = Plan {
            jobs: 360,
            months: 12,
            seed: 40 + i as u64,
            ..Plan::default()
        };
        plan.law.coating.setup_ml *= factor;
        plan.law.coating.ml_per_m2 = plan.law.coating.ml_per_m2.map(|c| c * factor);
        invent_into(&plan, folder).unwrap();
        fs::copy(
            folders[0].join("constants.toml"),
            folder.join("constants.toml.new"),
        )
        .unwrap();
        fs::rename(
            folder.join("constants.toml.new"),
            folder.join("constants.toml"),
        )
        .unwrap();
    }
    folders
}

fn number(x: &Value, path: &str) -> f64 {
    let found = x.pointer(path).and_then(Value::as_f64);
    found.unwrap_or_else(|| panic!("no number at {path} of {x:#}"))
}

fn said(shop: &Value) -> Vec<&str> {
    let all = shop["said"].as_array().unwrap();
    all.iter().map(|s| s.as_str().unwrap()).collect()
}

/// True where the range of a figure holds `truth`.
fn holds(shop: &Value, figure: &str, truth: f64) -> bool {
    let low = number(shop, &format!("{figure}/low"));
    low <= truth && truth <= number(shop, &format!("{figure}/high"))
}

#[test]
fn the_shop_that_takes_a_quarter_more_coating_is_found_and_no_other() {
    let dir = tempfile::tempdir().unwrap();
    let folders = using(dir.path(), &[1.0, 1.0, 1.25]);
    let out = dir.path().join("out");
    let found = review(&folders, &out).unwrap();
    let shops = found["shops"]["shops"].as_array().unwrap();
    let names: Vec<&str> = shops.iter().map(|s| s["shop"].as_str().unwrap()).collect();
    assert_eq!(names, ["north", "south", "west"]);
    assert!(said(&shops[2]).contains(&"uses_more"), "{shops:#?}");
    for other in &shops[..2] {
        assert!(!said(other).contains(&"uses_more"), "{other:#}");
    }
    // Against the plain mean of the three.
    let usual = (1.0 + 1.0 + 1.25) / 3.0;
    let law = Plan::default().law.coating;
    for (shop, factor) in shops.iter().zip([1.0, 1.0, 1.25]) {
        assert!(holds(shop, "/use", factor / usual), "{shop:#}");
        let truth = law.ml_per_m2[0] * factor;
        assert!(holds(shop, "/ml_per_m2/gloss", truth), "{truth} {shop:#}");
    }
    // What the page says of it stands in its tables.
    let html = fs::read_to_string(out.join("review.html")).unwrap();
    let missing = page::unproved(&html);
    let own: Vec<&String> = missing.iter().filter(|m| m.starts_with("shops:")).collect();
    assert!(own.is_empty(), "{own:?}");
    let wrong = html.replacen(
        "would notice a shop truly 20%",
        "would notice a shop truly 93.7%",
        1,
    );
    let caught = page::unproved(&wrong);
    assert!(
        caught.iter().any(|m| m.starts_with("shops: 93.7")),
        "{caught:?}"
    );
    assert!(html.contains("not a league table"));
    let table = fs::read_to_string(out.join("tables/shops.csv")).unwrap();
    assert!(table.contains("west,") && table.contains("uses more coating"));
}

#[test]
fn shops_alike_are_not_pointed_at_and_one_alone_stands_beside_none() {
    let dir = tempfile::tempdir().unwrap();
    let folders = using(dir.path(), &[1.0, 1.0, 1.0]);
    let found = review(&folders, &dir.path().join("out")).unwrap();
    for shop in found["shops"]["shops"].as_array().unwrap() {
        let said = said(shop);
        let work = ["uses_more", "uses_less", "comes_back_more"];
        assert!(!said.iter().any(|s| work.contains(s)), "{shop:#}");
        assert!(holds(shop, "/use", 1.0), "{shop:#}");
    }
    let one = review(&folders[..1], &dir.path().join("one")).unwrap();
    assert!(one.get("shops").is_none());
    let html = fs::read_to_string(dir.path().join("one/review.html")).unwrap();
    assert!(!html.contains("id=\"shops\""));
    assert!(!dir.path().join("one/tables/shops.csv").exists());
}

fn of_shop(folders: &[PathBuf], name: &str, out: &Path) -> Result<Value, String> {
    let args = ReviewArgs {
        folder: folders[0].clone(),
        more: folders[1..].to_vec(),
        shop: Some(name.into()),
        out: Some(out.to_path_buf()),
        ..ReviewArgs::default()
    };
    run::review(&args, &mut |_| {}).map_err(|e| e.to_string())?;
    let text = fs::read_to_string(out.join("review.json")).unwrap();
    Ok(serde_json::from_str(&text).unwrap())
}

/// The tables that a review leaves behind, by name, those of the shops apart.
fn tables(out: &Path) -> BTreeMap<String, String> {
    let entries = fs::read_dir(out.join("tables")).unwrap();
    let named = entries.map(|e| {
        let path = e.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        (name, fs::read_to_string(path).unwrap())
    });
    let own = |name: &str| !name.starts_with("shops") && name.ends_with(".csv");
    named.filter(|(name, _)| own(name)).collect()
}

#[test]
fn the_review_of_one_shop_is_that_of_its_own_folder() {
    let dir = tempfile::tempdir().unwrap();
    let (whole, parts) = chain(dir.path());
    let place = |name: &str| dir.path().join(name);
    let alone = review(&parts[1..2], &place("alone")).unwrap();
    let all = review(std::slice::from_ref(&whole), &place("all")).unwrap();
    for (from, out) in [(vec![whole.clone()], "of_one"), (parts.clone(), "of_many")] {
        let one = of_shop(&from, SHOPS[1], &place(out)).unwrap();
        let apart = ["lines", "fingerprint", "shops", "definitions"];
        for (key, value) in alone.as_object().unwrap() {
            if !apart.contains(&key.as_str()) {
                assert_eq!(value, &one[key], "{out}: {key}");
            }
        }
        assert_eq!(tables(&place("alone")), tables(&place(out)), "{out}");
        // It stands within its chain as the chain's review says, alone.
        let own = one["shops"]["shops"].as_array().unwrap();
        assert_eq!(own.len(), 1, "{out}");
        assert_eq!(own[0], all["shops"]["shops"][1], "{out}");
        assert_eq!(one["shops"]["count"], 3);
        let html = fs::read_to_string(place(out).join("review.html")).unwrap();
        assert!(html.contains("Within its chain of"), "{out}");
        let other = html.contains("S01") || html.contains("S03");
        // Files of a folder are named by it; no other shop's are read here.
        assert!(!other, "{out}: another shop stands on the page");
        assert!(
            page::unproved(&html).is_empty(),
            "{:?}",
            page::unproved(&html)
        );
    }
}

#[test]
fn a_shop_that_is_not_there_is_named_with_those_that_are() {
    let dir = tempfile::tempdir().unwrap();
    let (whole, parts) = chain(dir.path());
    let out = dir.path().join("out");
    let from = vec![whole.clone()];
    let text = of_shop(&from, "S3", &out).unwrap_err();
    assert!(text.contains("--shop S3: no job is of that shop"), "{text}");
    let at = |name: &str| text.find(name).unwrap();
    assert!(at("S03") < at("S01") && at("S01") < at("S02"), "{text}");
    let unnamed = of_shop(&parts[..1], "S01", &out).unwrap_err();
    assert!(unnamed.contains("name no shop"), "{unnamed}");
    assert!(!out.exists());
    let args = ReviewArgs {
        folder: whole,
        shop: Some("S01".into()),
        ..ReviewArgs::default()
    };
    let place = run::review(&args, &mut |_| {}).unwrap_err().to_string();
    assert!(place.contains("--out"), "{place}");
    use clap::Parser;
    let parse = |flags: &[&str]| {
        let all = ["tallycoat", "review", "x"].iter().chain(flags);
        Cli::try_parse_from(all).map_err(|e| e.to_string())
    };
    assert!(parse(&["y", "--out", "o", "--months", "3", "--shop", "S"]).is_ok());
    assert!(parse(&["--shop", "S"]).unwrap_err().contains("--out"));
    let cells = parse(&["--shop", "S", "--out", "o", "--cells", "c"]).unwrap_err();
    assert!(cells.contains("cannot be used with"), "{cells}");
}

#[test]
fn months_of_a_chain_and_of_one_shop_are_as_by_themselves() {
    let dir = tempfile::tempdir().unwrap();
    let (_, parts) = chain(dir.path());
    let run_of = |args: &ReviewArgs| run::review(args, &mut |_| {}).unwrap();
    let month = Month::parse("2026-09");
    let read = |at: PathBuf| fs::read(at).unwrap();
    for shop in [None, Some(SHOPS[0].to_string())] {
        let args = |out: &str| ReviewArgs {
            folder: parts[0].clone(),
            more: parts[1..].to_vec(),
            shop: shop.clone(),
            out: Some(dir.path().join(out)),
            ..ReviewArgs::default()
        };
        let name = shop.as_deref().unwrap_or("chain");
        let both = ReviewArgs {
            months: Some(2),
            ..args(&format!("{name}-months"))
        };
        run_of(&both);
        let one = ReviewArgs {
            month,
            ..args(&format!("{name}-one"))
        };
        run_of(&one);
        let home = dir.path().join(format!("{name}-months"));
        assert!(home.join("index.html").exists());
        for file in ["review.html", "review.json"] {
            let alone = read(dir.path().join(format!("{name}-one")).join(file));
            assert_eq!(
                read(home.join("2026-09").join(file)),
                alone,
                "{name} {file}"
            );
        }
    }
}

#[test]
fn cells_of_several_folders_are_reviewed_as_the_folders() {
    let dir = tempfile::tempdir().unwrap();
    let (_, parts) = chain(dir.path());
    let made = dir.path().join("made");
    let cells = CellsArgs {
        folder: parts[0].clone(),
        more: parts[1..].to_vec(),
        out: made.clone(),
        ..CellsArgs::default()
    };
    run::cells(&cells, &mut |_| {}).unwrap();
    let several = review(&parts, &dir.path().join("several")).unwrap();
    let args = ReviewArgs {
        folder: parts[0].clone(),
        cells: vec![made],
        out: Some(dir.path().join("of_cells")),
        ..ReviewArgs::default()
    };
    run::review(&args, &mut |_| {}).unwrap();
    let text = fs::read_to_string(dir.path().join("of_cells/review.json")).unwrap();
    let of_cells: Value = serde_json::from_str(&text).unwrap();
    for key in [
        "attach",
        "consumption",
        "minutes",
        "shops",
        "margin",
        "pace",
    ] {
        assert_eq!(of_cells[key], several[key], "{key}");
    }
}

/// Multiplies the first measured use of a folder by 30.
fn far_off(folder: &Path) {
    let file = folder.join("coatings.csv");
    let mut reader = csv::Reader::from_path(&file).unwrap();
    let heads = reader.headers().unwrap().clone();
    let at = |name: &str| heads.iter().position(|h| h == name).unwrap();
    // Late rows, so that they are among the months looked at.
    let mut rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    let used = at("used");
    let row = (rows.iter().rposition(|r| r[used].parse::<f64>().is_ok())).unwrap();
    let changed = rows[row].iter().enumerate().map(|(i, cell)| {
        if i == used {
            (30.0 * cell.parse::<f64>().unwrap()).to_string()
        } else {
            cell.to_string()
        }
    });
    rows[row] = changed.collect();
    let mut writer = csv::Writer::from_path(&file).unwrap();
    writer.write_record(&heads).unwrap();
    rows.iter().for_each(|r| writer.write_record(r).unwrap());
    writer.flush().unwrap();
}

#[test]
fn lists_of_jobs_name_the_shop_where_there_are_several() {
    let dir = tempfile::tempdir().unwrap();
    let (_, parts) = chain(dir.path());
    far_off(&parts[2]);
    let heading = |out: &Path, table: &str| -> String {
        let text = fs::read_to_string(out.join("tables").join(table)).unwrap();
        text.lines().next().unwrap().to_string()
    };
    let several = dir.path().join("several");
    let found = review(&parts, &several).unwrap();
    assert_eq!(heading(&several, "use_left_out.csv"), "job,shop,why,score");
    let out = found["consumption"]["jobs_left_out"].as_array().unwrap();
    assert!(!out.is_empty());
    assert!(out.iter().all(|j| j["shop"].is_string()), "{out:?}");
    assert!(out.iter().any(|j| j["shop"] == "S03"), "{out:?}");
    let one = dir.path().join("one");
    let alone = review(&parts[2..], &one).unwrap();
    assert_eq!(heading(&one, "use_left_out.csv"), "job,why,score");
    let out = alone["consumption"]["jobs_left_out"].as_array().unwrap();
    assert!(!out.is_empty() && out.iter().all(|j| j.get("shop").is_none()));
}

/// Leaves the heading of a folder's file alone.
fn emptied(file: &Path) {
    let text = fs::read_to_string(file).unwrap();
    let heading = text.lines().next().unwrap();
    fs::write(file, format!("{heading}\n")).unwrap();
}

#[test]
fn a_shop_that_writes_no_callback_down_has_no_share_and_is_in_no_usual() {
    let dir = tempfile::tempdir().unwrap();
    let (_, parts) = chain(dir.path());
    let all = review(&parts, &dir.path().join("all")).unwrap();
    emptied(&parts[1].join("callbacks.csv"));
    let out = dir.path().join("out");
    let found = review(&parts, &out).unwrap();
    let shops = found["shops"]["shops"].as_array().unwrap();
    assert_eq!(shops[1]["callbacks"]["not_enough"]["have"], 0, "{shops:#?}");
    assert_eq!(shops[1]["callbacks"]["not_enough"]["need"], 1);
    let own = [0, 2].map(|i| number(&shops[i], "/callbacks/value"));
    let usual = number(&found, "/shops/callbacks_usual/value");
    assert!(
        (usual - (own[0] + own[1]) / 2.0).abs() < 1e-6,
        "{own:?} {usual}"
    );
    let before = &all["shops"]["shops"][1];
    assert!(number(before, "/came_back") > 0.0, "{before:#}");
    let html = fs::read_to_string(out.join("review.html")).unwrap();
    let missing = page::unproved(&html);
    let own: Vec<&String> = missing.iter().filter(|m| m.starts_with("shops:")).collect();
    assert!(own.is_empty(), "{own:?}");
}

#[test]
fn a_shop_is_asked_the_questions_of_its_own_folder() {
    let dir = tempfile::tempdir().unwrap();
    let (_, parts) = chain(dir.path());
    for (folder, shop) in parts.iter().zip(SHOPS) {
        let place = folder.join("queries");
        fs::create_dir(&place).unwrap();
        let text = format!("-- Asked at {shop}\nSELECT COUNT(*) AS n FROM jobs\n");
        fs::write(place.join("n.sql"), text).unwrap();
    }
    for shop in &SHOPS[..2] {
        let out = dir.path().join(format!("of_{shop}"));
        of_shop(&parts[..2], shop, &out).unwrap();
        let html = fs::read_to_string(out.join("review.html")).unwrap();
        for name in SHOPS {
            let there = html.contains(&format!("Asked at {name}"));
            assert_eq!(there, name == *shop, "{shop}: {name}");
        }
    }
}

/// A shop of a chain with more oddities of a kind than are listed one by one.
#[test]
fn what_is_odd_about_one_shop_is_counted_whole() {
    let dir = tempfile::tempdir().unwrap();
    let heading = "shop,job,finished_on,vehicle_class,finish,area,offered,coated,coating_price\n";
    let rows = |shop: &str, n: u64| -> String {
        let row = |i| format!("{shop},{i},2026-10-05,suv,gloss,20,yes,no,300\n");
        (0..n).map(row).collect()
    };
    let one = dir.path().join("one");
    let other = dir.path().join("other");
    for folder in [&one, &other] {
        fs::create_dir(folder).unwrap();
    }
    let text = [heading, &rows("A", 1_100), &rows("B", 70)].concat();
    fs::write(one.join("jobs.csv"), text).unwrap();
    fs::write(other.join("jobs.csv"), [heading, &rows("C", 30)].concat()).unwrap();
    for (shop, odd) in [("A", 1_100), ("B", 70), ("C", 30)] {
        for (n, folders) in [vec![one.clone()], vec![one.clone(), other.clone()]]
            .into_iter()
            .enumerate()
        {
            if shop == "C" && n == 0 {
                continue;
            }
            let out = dir.path().join(format!("out_{shop}_{n}"));
            let found = of_shop(&folders, shop, &out).unwrap();
            let listed = &found["noticed"]["listed"]["price-without-coating"];
            assert_eq!(listed, odd, "{shop} {n}: {:#}", found["noticed"]);
        }
    }
}
