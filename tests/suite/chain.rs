//! Several folders in one review: the same figures as one folder that holds
//! their lines under a `shop` column, and what cannot be counted together is
//! refused.

use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use tallycoat::run;
use tallycoat::settings::command::{InventArgs, ReviewArgs};

pub fn review(folders: &[PathBuf], out: &Path) -> Result<Value, String> {
    let args = ReviewArgs {
        folder: folders[0].clone(),
        more: folders[1..].to_vec(),
        out: Some(out.to_path_buf()),
        ..ReviewArgs::default()
    };
    run::review(&args, &mut |_| {}).map_err(|e| e.to_string())?;
    let text = fs::read_to_string(out.join("review.json")).unwrap();
    Ok(serde_json::from_str(&text).unwrap())
}

/// A CSV file's cells, the heading first.
type Rows = Vec<csv::StringRecord>;

fn rows(file: &Path) -> Rows {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_path(file)
        .unwrap();
    reader.records().map(Result::unwrap).collect()
}

fn write<'a>(file: &Path, rows: impl Iterator<Item = Vec<&'a str>>) {
    let mut writer = csv::Writer::from_path(file).unwrap();
    rows.for_each(|r| writer.write_record(r).unwrap());
    writer.flush().unwrap();
}

pub const SHOPS: [&str; 3] = ["S01", "S02", "S03"];

/// An invented chain: one folder whose files hold the shops one behind the
/// other, and a folder of each shop's lines, named as the shop, without its
/// column.
pub fn chain(dir: &Path) -> (PathBuf, Vec<PathBuf>) {
    let mixed = dir.join("mixed");
    let args = InventArgs {
        folder: mixed.clone(),
        jobs: Some(900),
        months: Some(18),
        shops: Some(3),
        people: None,
        seed: Some(17),
        measured_share: None,
        bottle_ml: None,
    };
    run::invent(&args).unwrap();
    let whole = dir.join("whole");
    let parts: Vec<PathBuf> = SHOPS.iter().map(|s| dir.join(s)).collect();
    for folder in parts.iter().chain([&whole]) {
        fs::create_dir(folder).unwrap();
        fs::copy(mixed.join("constants.toml"), folder.join("constants.toml")).unwrap();
    }
    for entry in fs::read_dir(&mixed).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|e| e != "csv") {
            continue;
        }
        let name = path.file_name().unwrap();
        let all = rows(&path);
        let at = all[0].iter().position(|h| h == "shop").unwrap();
        let of = |shop: &'static str| all[1..].iter().filter(move |r| &r[at] == shop);
        let in_order = SHOPS.iter().flat_map(|s| of(s));
        let heading = [&all[0]].into_iter();
        write(
            &whole.join(name),
            heading.chain(in_order).map(|r| r.iter().collect()),
        );
        for (shop, folder) in SHOPS.iter().zip(&parts) {
            let without = |r: &'_ csv::StringRecord| -> Vec<String> {
                let cells = r.iter().enumerate().filter(|(i, _)| *i != at);
                cells.map(|(_, c)| c.to_string()).collect()
            };
            let own: Vec<Vec<String>> =
                [&all[0]].into_iter().chain(of(shop)).map(without).collect();
            write(
                &folder.join(name),
                own.iter().map(|r| r.iter().map(String::as_str).collect()),
            );
        }
    }
    (whole, parts)
}

#[test]
fn several_folders_are_reviewed_as_one_with_a_shop_column() {
    let dir = tempfile::tempdir().unwrap();
    let (whole, parts) = chain(dir.path());
    let one = review(&[whole], &dir.path().join("one")).unwrap();
    let several = review(&parts, &dir.path().join("several")).unwrap();
    let eligible = one["attach"]["eligible"].as_u64().unwrap();
    assert!(eligible > 30, "{eligible}");
    for (key, value) in one.as_object().unwrap() {
        if !["lines", "fingerprint", "restated"].contains(&key.as_str()) {
            assert_eq!(value, &several[key], "{key}");
        }
    }
    // Side by side, in order of names, each with its own likely range.
    let sold = one["attach"]["groups"]["shop"].as_array().unwrap();
    let names: Vec<&str> = sold.iter().map(|s| s["name"].as_str().unwrap()).collect();
    assert_eq!(names, SHOPS);
    let coated: u64 = sold.iter().map(|s| s["coated"].as_u64().unwrap()).sum();
    let classes = one["attach"]["groups"]["class"].as_array().unwrap();
    let by_class: u64 = classes.iter().map(|c| c["coated"].as_u64().unwrap()).sum();
    assert_eq!(coated, by_class);
    assert!(
        sold.iter().all(|s| s["rate"]["low"].is_number()),
        "{sold:?}"
    );
    assert_eq!(one["margin"]["groups"]["shop"].as_array().unwrap().len(), 3);
    // Six headings more in each further folder, and as many files.
    let (a, b) = (&one["lines"], &several["lines"]);
    let files = a["files"].as_array().unwrap().len() as u64;
    assert_eq!(b["files"].as_array().unwrap().len() as u64, 3 * files);
    assert_eq!(b["accepted"], a["accepted"]);
    assert_eq!(b["structure"].as_u64(), Some(3 * files));
    let names: Vec<&str> = (b["files"].as_array().unwrap().iter())
        .map(|f| f["file"].as_str().unwrap())
        .collect();
    assert!(names.contains(&"S02/jobs.csv"), "{names:?}");
}

/// Key = shop and job: the same shop twice under other names is twice as much
/// of everything that is counted.
#[test]
fn jobs_people_and_bottles_of_two_shops_may_share_their_keys() {
    let dir = tempfile::tempdir().unwrap();
    let (_, parts) = chain(dir.path());
    let twin = dir.path().join("twin");
    fs::create_dir(&twin).unwrap();
    for entry in fs::read_dir(&parts[0]).unwrap() {
        let path = entry.unwrap().path();
        fs::copy(&path, twin.join(path.file_name().unwrap())).unwrap();
    }
    let one = review(&parts[..1], &dir.path().join("one")).unwrap();
    let both = review(&[parts[0].clone(), twin], &dir.path().join("both")).unwrap();
    for path in [
        "/attach/eligible",
        "/attach/coated",
        "/margin/coated_jobs",
        "/margin/net_price",
        "/consumption/jobs_used",
    ] {
        let count = |r: &Value| r.pointer(path).and_then(Value::as_i64).expect(path);
        assert!(count(&one) > 0, "{path}");
        assert_eq!(count(&both), 2 * count(&one), "{path}");
    }
    assert!(one["attach"]["groups"].get("shop").is_none());
    assert!(one["margin"]["groups"].get("shop").is_none());
    let people = |r: &Value| r["pace"].as_array().unwrap().len();
    assert_eq!(people(&both), 2 * people(&one));
}

#[test]
fn folders_that_count_differently_are_refused() {
    let dir = tempfile::tempdir().unwrap();
    let (_, parts) = chain(dir.path());
    let out = dir.path().join("out");
    let said = |folders: &[PathBuf]| review(folders, &out).unwrap_err();
    fs::write(
        parts[1].join("shop.toml"),
        "[money]\nlabour_loading = 1.6\n",
    )
    .unwrap();
    let money = said(&parts);
    assert!(money.contains("[money] in shop.toml of"), "{money}");
    assert!(money.contains("S01") && money.contains("S02"), "{money}");
    fs::write(
        parts[1].join("shop.toml"),
        "[page]\nshop_name = \"South\"\n",
    )
    .unwrap();
    let constants = parts[2].join("constants.toml");
    let text = fs::read_to_string(&constants).unwrap();
    fs::write(&constants, text.replacen("setup_ml = ", "setup_ml = 1", 1)).unwrap();
    let other = said(&parts);
    assert!(
        other.contains("constants.toml of") && other.contains("S03"),
        "{other}"
    );
    // A folder without constants goes by the others'.
    fs::remove_file(&constants).unwrap();
    review(&parts, &out).unwrap();
    let twice = said(&[parts[0].clone(), parts[0].clone()]);
    assert!(twice.contains("shop \"S01\" is both in"), "{twice}");
}

#[test]
fn a_review_of_several_folders_needs_a_place() {
    let dir = tempfile::tempdir().unwrap();
    let (_, parts) = chain(dir.path());
    let args = ReviewArgs {
        folder: parts[0].clone(),
        more: parts[1..].to_vec(),
        ..ReviewArgs::default()
    };
    let said = run::review(&args, &mut |_| {}).unwrap_err().to_string();
    assert!(said.contains("--out"), "{said}");
    assert!(!parts[0].join("reviews").exists());
}
