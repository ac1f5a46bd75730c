//! reports/sample holds the demo month as this program writes it. Written again
//! with
//!
//!     TALLYCOAT_REWRITE_GOLDEN=1 cargo test --test suite sample::

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use tallycoat::run;
use tallycoat::settings::command::ReviewArgs;

/// Pictures of the sample, which no test makes.
const PICTURE: &str = "png";

fn files(at: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut all = BTreeMap::new();
    let mut folders = vec![at.to_path_buf()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_none_or(|e| e != PICTURE) {
                let bytes = fs::read(&path).unwrap();
                all.insert(path.strip_prefix(at).unwrap().to_path_buf(), bytes);
            }
        }
    }
    all
}

/// The review of the demo's last month, from a copy of its exports: a review
/// of the month before that lies about there would be an input.
fn fresh(at: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let top = Path::new(env!("CARGO_MANIFEST_DIR"));
    let shop = at.join("shop");
    fs::create_dir(&shop).unwrap();
    for entry in fs::read_dir(top.join("demo-data/film-shop")).unwrap() {
        let path = entry.unwrap().path();
        if path.is_file() {
            fs::copy(&path, shop.join(path.file_name().unwrap())).unwrap();
        }
    }
    let args = ReviewArgs {
        folder: shop,
        out: Some(at.join("review")),
        ..ReviewArgs::default()
    };
    run::review(&args, &mut |_| {}).unwrap();
    files(&at.join("review"))
}

fn rewrite(sample: &Path, fresh: &BTreeMap<PathBuf, Vec<u8>>) {
    for old in files(sample).keys().filter(|p| !fresh.contains_key(*p)) {
        fs::remove_file(sample.join(old)).unwrap();
    }
    for (path, bytes) in fresh {
        let place = sample.join(path);
        fs::create_dir_all(place.parent().unwrap()).unwrap();
        fs::write(place, bytes).unwrap();
    }
}

#[test]
fn the_sample_is_what_the_demo_month_gives() {
    let at = tempfile::tempdir().unwrap();
    let fresh = fresh(at.path());
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("reports/sample");
    if std::env::var_os("TALLYCOAT_REWRITE_GOLDEN").is_some() {
        rewrite(&sample, &fresh);
    }
    let kept = files(&sample);
    assert_eq!(
        kept.keys().collect::<Vec<_>>(),
        fresh.keys().collect::<Vec<_>>(),
        "write the sample again: see the head of this file"
    );
    for (path, bytes) in &fresh {
        if kept[path] == *bytes {
            continue;
        }
        let [was, is] = [&kept[path], bytes].map(|b| String::from_utf8_lossy(b).into_owned());
        let line = was.lines().zip(is.lines()).position(|(a, b)| a != b);
        panic!(
            "{} differs from line {} on; if that is meant, write the sample again: see the head of this file",
            path.display(),
            line.map_or_else(|| "the last".into(), |i| (i + 1).to_string())
        );
    }
}
