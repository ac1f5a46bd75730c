//! `review --person`: a page to show to one person. Own figures and what to
//! try, no other person's code or figure, file names that lead nowhere else,
//! names by a setting alone.

use crate::page::unproved;
use std::fs;
use std::path::Path;
use tallycoat::run;
use tallycoat::settings::command::ReviewArgs;

fn args(folder: &Path, out: &Path, people: &[&str]) -> ReviewArgs {
    ReviewArgs {
        folder: folder.to_path_buf(),
        out: Some(out.to_path_buf()),
        person: people.iter().map(|p| (*p).to_string()).collect(),
        ..ReviewArgs::default()
    }
}

fn demo() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/film-shop")
}

/// Jobs of some people, each with the minutes over what such work takes.
fn shop(people: &[(&str, f64)], jobs: usize) -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    let mut sheet = "job,finished_on,vehicle_class,film,finish,area,coverage,coated\n".to_string();
    let mut work = "job,applied_by,minutes,used,paused_minutes\n".to_string();
    for i in 0..jobs * people.len() {
        let (person, factor) = people[i % people.len()];
        let (month, day) = (8 + i % 3, 1 + i % 28);
        let area = 16 + (i * 7) % 9;
        sheet.push_str(&format!(
            "J{i},2026-{month:02}-{day:02},suv,printed,gloss,{area},full,yes\n"
        ));
        let wobble = 1.0 + 0.04 * (((i * 37) % 11) as f64 - 5.0) / 5.0;
        let minutes = 2.0 * area as f64 * wobble * factor;
        let used = 1.0 + 1.5 * area as f64 + ((i * 13) % 7) as f64 / 5.0;
        // Every fourth job runs over a long pause.
        let paused = if (i / people.len()).is_multiple_of(4) {
            45
        } else {
            0
        };
        let code = format!("\"{}\"", person.replace('"', "\"\""));
        work.push_str(&format!("J{i},{code},{minutes:.1},{used:.1},{paused}\n"));
    }
    fs::write(dir.path().join("jobs.csv"), sheet).unwrap();
    fs::write(dir.path().join("coatings.csv"), work).unwrap();
    dir
}

fn page(folder: &Path, person: &str, file: &str) -> String {
    let out = tempfile::tempdir().unwrap();
    run::review(&args(folder, &out.path().join("r"), &[person]), &mut |_| {})
        .unwrap_or_else(|e| panic!("{e}"));
    fs::read_to_string(out.path().join("r").join(file)).unwrap_or_else(|e| panic!("{file}: {e}"))
}

#[test]
fn every_number_on_the_page_is_shown_in_the_section_it_speaks_of() {
    // An old hand, one who left, one new.
    for person in ["P001", "P004", "P005"] {
        let html = page(&demo(), person, &format!("person-{person}.html"));
        let missing = unproved(&html);
        assert!(missing.is_empty(), "{person}:\n{}", missing.join("\n"));
        assert!(html.contains(&format!("<h1>Coating work: {person}</h1>")));
        assert!(html.contains("no ground for discipline"));
    }
}

#[test]
fn nobody_else_stands_on_the_page() {
    let html = page(&demo(), "P003", "person-P003.html");
    assert!(html.contains("P003"));
    for other in [
        "P001", "P002", "P004", "P005", "P006", "P007", "P008", "P009",
    ] {
        assert!(!html.contains(other), "{other} is named");
    }
    // Nor do pages of others lie beside it, nor does the review name the file.
    let out = tempfile::tempdir().unwrap();
    let place = out.path().join("r");
    run::review(
        &args(&demo(), &place, &["P003", "P005", "P003"]),
        &mut |_| {},
    )
    .unwrap();
    let mut names: Vec<String> = fs::read_dir(&place)
        .unwrap()
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
        .filter(|n| n.starts_with("person"))
        .collect();
    names.sort();
    assert_eq!(names, ["person-P003.html", "person-P005.html"]);
    let review = fs::read_to_string(place.join("review.html")).unwrap();
    assert!(!review.contains("person-P003"));
}

/// With two people the mean of the two would tell the other's figure: a page
/// of either stays the same whatever the other takes.
#[test]
fn with_two_people_nothing_is_compared() {
    let even = shop(&[("A1", 1.0), ("B2", 1.0)], 30);
    let html = page(even.path(), "A1", "person-A1.html");
    assert!(html.contains("not compared: too few people"), "{html}");
    assert!(!html.contains("against the shop's usual: <strong>"));
    let three = shop(&[("A1", 1.0), ("B2", 1.0), ("C3", 1.0)], 30);
    let html = page(three.path(), "A1", "person-A1.html");
    assert!(
        html.contains("against the shop&#39;s usual") || html.contains("against the shop's usual")
    );
    assert!(!html.contains("not compared"));
}

#[test]
fn what_to_try_is_said_in_the_trade_s_terms() {
    let dir = shop(&[("A1", 1.0), ("B2", 1.0), ("C3", 1.35)], 30);
    let slow = page(dir.path(), "C3", "person-C3.html");
    assert!(slow.contains("Work in smaller sections."), "{slow}");
    assert!(slow.contains("supplies within reach"));
    assert!(slow.contains("Finish a section before a break."));
    assert!(unproved(&slow).is_empty(), "{:?}", unproved(&slow));
    let level = page(dir.path(), "A1", "person-A1.html");
    assert!(!level.contains("Work in smaller sections."));
}

#[test]
fn an_unknown_person_is_named_with_those_there_are_and_nothing_is_written() {
    let out = tempfile::tempdir().unwrap();
    let place = out.path().join("r");
    let said = run::review(&args(&demo(), &place, &["P003", "GHOST"]), &mut |_| {})
        .unwrap_err()
        .to_string();
    for word in ["--person GHOST", "P001, P002, P003"] {
        assert!(said.contains(word), "{said}");
    }
    assert!(!place.exists(), "nothing is written");
    let alone = shop(&[("A1", 1.0)], 20);
    let said = run::review(&args(alone.path(), &place, &["A1"]), &mut |_| {}).unwrap_err();
    assert!(said.to_string().contains("1 of the 2"), "{said}");
}

/// Codes of any characters: markup is escaped, and no file leaves the folder.
#[test]
fn a_code_of_any_characters_stays_in_the_folder_and_is_escaped() {
    let evil = "../../<script>alert(1)</script>";
    let dir = shop(&[(evil, 1.0), ("B2", 1.0), ("C3", 1.0)], 20);
    let out = tempfile::tempdir().unwrap();
    let place = out.path().join("a/b/r");
    run::review(&args(dir.path(), &place, &[evil]), &mut |_| {}).unwrap();
    let names: Vec<String> = fs::read_dir(&place)
        .unwrap()
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
        .filter(|n| n.starts_with("person"))
        .collect();
    assert_eq!(names.len(), 1, "{names:?}");
    assert!(!names[0].contains(['/', '\\', '<']), "{names:?}");
    let html = fs::read_to_string(place.join(&names[0])).unwrap();
    assert!(!html.contains("<script>alert"), "escaped");
    assert!(html.contains("alert(1)"), "the code stands on its own page");
    assert_eq!(fs::read_dir(out.path()).unwrap().count(), 1);
}

#[test]
fn names_are_printed_by_a_setting_alone_and_on_that_page_alone() {
    let dir = shop(&[("A1", 1.0), ("B2", 1.0), ("C3", 1.0)], 20);
    let before = page(dir.path(), "A1", "person-A1.html");
    assert!(before.contains("<h1>Coating work: A1</h1>"));
    fs::write(
        dir.path().join("shop.toml"),
        "[page.names]\nA1 = \"Robin & Co\"\nB2 = \"Kim\"\n",
    )
    .unwrap();
    let out = tempfile::tempdir().unwrap();
    let place = out.path().join("r");
    run::review(&args(dir.path(), &place, &["A1"]), &mut |_| {}).unwrap();
    let html = fs::read_to_string(place.join("person-A1.html")).unwrap();
    assert!(html.contains("Robin &#38; Co (A1)") || html.contains("Robin &amp; Co (A1)"));
    assert!(!html.contains("Kim"));
    let review = fs::read_to_string(place.join("review.html")).unwrap();
    assert!(!review.contains("Robin") && !review.contains("Kim"));
}

/// A code that two shops have is asked for with its shop.
#[test]
fn of_several_shops_the_one_meant_is_asked_for() {
    let dir = tempfile::tempdir().unwrap();
    let mut sheet =
        "shop,job,finished_on,vehicle_class,film,finish,area,coverage,coated\n".to_string();
    let mut work = "shop,job,applied_by,minutes\n".to_string();
    for i in 0..80 {
        let (shop, person) = (["N", "S"][i % 2], ["P1", "P2"][(i / 2) % 2]);
        let area = 16 + (i * 7) % 9;
        let day = 1 + i % 28;
        sheet.push_str(&format!(
            "{shop},J{i},2026-10-{day:02},suv,printed,gloss,{area},full,yes\n"
        ));
        let minutes = 2.0 * area as f64 * (1.0 + 0.01 * ((i * 37) % 11) as f64);
        work.push_str(&format!("{shop},J{i},{person},{minutes:.1}\n"));
    }
    fs::write(dir.path().join("jobs.csv"), sheet).unwrap();
    fs::write(dir.path().join("coatings.csv"), work).unwrap();
    let out = tempfile::tempdir().unwrap();
    let place = out.path().join("r");
    let said = run::review(&args(dir.path(), &place, &["P1"]), &mut |_| {}).unwrap_err();
    assert!(said.to_string().contains("N/P1, S/P1"), "{said}");
    let html = page(dir.path(), "S/P1", "person-S.P1.html");
    assert!(html.contains("Coating work: S P1"));
    assert!(!html.contains("P2") && !html.contains("N P1"));
}
