//! Several months in one run: each month as by itself, and the index.

use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use tallycoat::run::{self, Progress, Reviewed};
use tallycoat::settings::command::ReviewArgs;
use tallycoat::settings::month::Month;

fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/film-shop")
}

fn args(folder: &Path, out: &Path) -> ReviewArgs {
    ReviewArgs {
        folder: folder.to_path_buf(),
        out: Some(out.to_path_buf()),
        ..ReviewArgs::default()
    }
}

fn review(args: &ReviewArgs) -> Result<Reviewed, String> {
    run::review(args, &mut |_| {}).map_err(|e| e.to_string())
}

fn month(text: &str) -> Option<Month> {
    Some(Month::parse(text).unwrap())
}

/// All is read before a month is measured, and each month measured before it is
/// found.
#[test]
fn a_run_says_how_far_it_is() {
    let out = tempfile::tempdir().unwrap();
    let asked = ReviewArgs {
        months: Some(2),
        ..args(&demo(), &out.path().join("reviews"))
    };
    let (mut read, mut stages) = (0, Vec::new());
    run::review(&asked, &mut |p| match p {
        Progress::Reading(_) if stages.is_empty() => read += 1,
        p => stages.push(p),
    })
    .unwrap();
    assert!(read > 0);
    let months = [month("2026-09").unwrap(), month("2026-10").unwrap()];
    let each = months.map(|m| [Progress::Measuring(m), Progress::Finding(m)]);
    assert_eq!(stages, each.concat());
}

/// Every file below a folder, by its path.
fn files(at: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut all = BTreeMap::new();
    let mut folders = vec![at.to_path_buf()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let bytes = fs::read(&path).unwrap();
                all.insert(path.strip_prefix(at).unwrap().to_path_buf(), bytes);
            }
        }
    }
    all
}

fn folders(at: &Path) -> Vec<String> {
    let entries = fs::read_dir(at).unwrap().map(Result::unwrap);
    let mut names: Vec<String> = entries
        .filter(|e| e.path().is_dir())
        .map(|e| e.file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

#[test]
fn each_month_is_as_by_itself_and_the_index_shows_the_same_figures() {
    let at = tempfile::tempdir().unwrap();
    let home = at.path().join("year");
    let three = ReviewArgs {
        months: Some(3),
        month: month("2026-09"),
        ..args(&demo(), &home)
    };
    let done = review(&three).unwrap();
    assert_eq!(folders(&home), ["2026-07", "2026-08", "2026-09"]);
    assert_eq!(done.summary.len(), 4);
    let index = fs::read_to_string(home.join("index.html")).unwrap();
    let json: Value = serde_json::from_slice(&fs::read(home.join("index.json")).unwrap()).unwrap();
    assert_eq!(json["format"], "tallycoat-year");
    for (i, name) in folders(&home).iter().enumerate() {
        let alone = at.path().join(name);
        let one = ReviewArgs {
            month: month(name),
            ..args(&demo(), &alone)
        };
        review(&one).unwrap();
        assert_eq!(files(&alone), files(&home.join(name)), "{name}");
        let r: Value =
            serde_json::from_slice(&fs::read(alone.join("review.json")).unwrap()).unwrap();
        let of = &json["months"][i];
        assert_eq!(of["month"], *name);
        assert_eq!(of["page"], format!("{name}/review.html"));
        assert!(index.contains(&format!("<a href=\"{name}/review.html\">")));
        let pairs = [
            (&of["attach"]["value"], &r["attach"]["rate"]["value"]),
            (&of["attach"]["low"], &r["attach"]["rate"]["low"]),
            (&of["attach"]["usual"], &r["attach"]["change"]["usual"]),
            (
                &of["attach"]["certainty"],
                &r["attach"]["change"]["certainty"],
            ),
            (
                &of["margin_per_job"]["value"],
                &r["margin"]["per_job"]["value"],
            ),
            (
                &of["margin_per_job"]["usual_low"],
                &r["margin"]["change"]["usual_low"],
            ),
            (
                &of["use_ml_per_m2"]["value"],
                &r["consumption"]["month"]["per_m2"],
            ),
            (
                &of["use_ml_per_m2"]["usual"],
                &r["consumption"]["month"]["change"]["usual"],
            ),
            (
                &of["minutes"]["value"],
                &r["minutes"]["month"]["mean_minutes"],
            ),
            (
                &of["minutes"]["certainty"],
                &r["minutes"]["month"]["change"]["certainty"],
            ),
        ];
        for (a, b) in pairs {
            assert!(!a.is_null());
            match (a.as_f64(), b.as_f64()) {
                // Passed through a ratio on the way.
                (Some(a), Some(b)) => assert!((a - b).abs() <= 1e-12 * b.abs(), "{a} {b}"),
                _ => assert_eq!(a, b),
            }
        }
    }
    for chart in ["sold", "earned", "used", "took"] {
        let drawn = format!("role=\"img\" aria-labelledby=\"{chart}-t {chart}-d\"");
        assert_eq!(index.matches(&drawn).count(), 2, "{chart}: wide and narrow");
    }
    assert!(!index.contains("NaN") && !index.contains("http://"));
    // The same again: the same bytes, and nothing left beside them.
    let before = files(&home);
    review(&three).unwrap();
    assert_eq!(before, files(&home));
}

#[test]
fn a_year_is_cut_to_the_data_and_a_month_without_a_job_says_so() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = "job,finished_on,vehicle_class,finish,coated\n1,2025-11-02,suv,gloss,yes\n2,2026-01-03,van,matte,no\n";
    fs::write(dir.path().join("jobs.csv"), jobs).unwrap();
    let home = dir.path().join("reviews");
    let year = |y| ReviewArgs {
        folder: dir.path().to_path_buf(),
        year: Some(y),
        ..ReviewArgs::default()
    };
    review(&year(2025)).unwrap();
    assert_eq!(folders(&home), ["2025-11", "2025-12"]);
    let months = ReviewArgs {
        folder: dir.path().to_path_buf(),
        months: Some(120),
        ..ReviewArgs::default()
    };
    let done = review(&months).unwrap();
    assert_eq!(folders(&home), ["2025-11", "2025-12", "2026-01"]);
    assert!(
        done.summary[1].contains("2025-12: No film job was finished this month"),
        "{:?}",
        done.summary
    );
    let index = fs::read_to_string(home.join("index.html")).unwrap();
    for said in [
        "In 1\u{a0}month no film job was finished.",
        "The data begin in November 2025.",
        "No month has enough data for this figure yet.",
        "<a href=\"2025-12/review.html\">December 2025</a>: No film job was finished this month",
    ] {
        assert!(index.contains(said), "{said}");
    }
    assert_eq!(
        review(&year(2031)).unwrap_err(),
        "--year 2031: the data hold jobs from 2025-11 to 2026-01. Ask for a year among these."
    );
    let late = ReviewArgs {
        month: month("2026-05"),
        ..months
    };
    assert!(
        review(&late)
            .unwrap_err()
            .starts_with("--month 2026-05: the data hold jobs from")
    );
}

#[test]
fn what_is_not_ours_is_left_alone_and_then_nothing_is_written() {
    let at = tempfile::tempdir().unwrap();
    let home = at.path().join("papers");
    let two = ReviewArgs {
        months: Some(2),
        ..args(&demo(), &home)
    };
    let refused = |said: &str| {
        let found = review(&two).unwrap_err();
        assert!(found.contains(said), "{found}");
    };
    fs::create_dir_all(home.join("2026-10")).unwrap();
    fs::write(home.join("2026-10/letter.txt"), "mine").unwrap();
    refused("is not an earlier review");
    assert_eq!(files(&home).len(), 1, "not even the month before");
    fs::remove_dir_all(home.join("2026-10")).unwrap();
    fs::write(home.join("index.html"), "mine").unwrap();
    refused("index.html: is there already and is not of this program");
    fs::remove_file(home.join("index.html")).unwrap();
    fs::write(home.join("index.json"), "{\"format\": \"other\"}").unwrap();
    refused("index.json: is there already");
    fs::remove_file(home.join("index.json")).unwrap();
    fs::write(home.join("review.json"), "{}").unwrap();
    refused("it is the review of a single month");
    fs::remove_file(home.join("review.json")).unwrap();
    fs::write(home.join("notes.txt"), "mine").unwrap();
    review(&two).unwrap();
    assert_eq!(fs::read_to_string(home.join("notes.txt")).unwrap(), "mine");
}

#[test]
fn flags_that_contradict_each_other_are_refused() {
    use clap::Parser;
    use tallycoat::settings::command::Cli;
    let parse = |flags: &[&str]| {
        let all = ["tallycoat", "review", "x"].iter().chain(flags);
        Cli::try_parse_from(all).map_err(|e| e.to_string())
    };
    assert!(parse(&["--months", "12", "--month", "2026-10"]).is_ok());
    for (flags, said) in [
        (
            vec!["--year", "2026", "--months", "3"],
            "cannot be used with",
        ),
        (
            vec!["--year", "2026", "--month", "2026-10"],
            "cannot be used with",
        ),
        (vec!["--months", "0"], "1..=120"),
        (vec!["--months", "many"], "invalid value"),
        (vec!["--year", "0"], "1..=9999"),
    ] {
        let found = parse(&flags).unwrap_err();
        assert!(found.contains(said), "{flags:?}: {found}");
    }
}
