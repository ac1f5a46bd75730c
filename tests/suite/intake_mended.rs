//! What was put aside, mended: a line is broken, a review is written, its raw
//! file is mended and put back, and a second review accepts it.

use clap::Parser;
use std::path::Path;
use tallycoat::intake::mend::mended_name;
use tallycoat::intake::{self, Intake};
use tallycoat::run;
use tallycoat::settings::command::{Cli, Command};
use tallycoat::settings::contract::Table;
use tallycoat::settings::shop::Shop;

const JOBS: &str = "job,finished_on,vehicle_class,coated,finish,area,coating_price,Customer";
const SPELLS: &str = "job,applied_by,started_at,ended_at,minutes,used";

fn read(folder: &Path) -> Intake {
    intake::read(folder, &Shop::read(folder).unwrap(), &mut |_| {}).unwrap()
}

fn review(folder: &Path) {
    let words = [
        "tallycoat".into(),
        "review".into(),
        folder.as_os_str().to_owned(),
    ];
    let Command::Review(args) = Cli::parse_from(words).command else {
        panic!("not a review");
    };
    run::review(&args, &mut |_| {}).unwrap();
}

/// Lines put aside, in all, and superseded.
fn counts(found: &Intake) -> (u64, u64) {
    let lines = found.ledger.lines();
    assert!(found.ledger.files.iter().all(|f| f.lines.add_up()));
    (lines.quarantined, lines.superseded)
}

fn wide(text: &str) -> Vec<u8> {
    let units = std::iter::once(0xfeff).chain(text.encode_utf16());
    units.flat_map(u16::to_le_bytes).collect()
}

fn old(text: &str) -> Vec<u8> {
    encoding_rs::WINDOWS_1252.encode(text).0.into_owned()
}

fn packed(text: &[u8]) -> Vec<u8> {
    let mut out = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    std::io::Write::write_all(&mut out, text).unwrap();
    out.finish().unwrap()
}

/// Replaces bytes in a file.
fn mend(file: &Path, from: &[u8], to: &[u8]) -> Vec<u8> {
    let bytes = std::fs::read(file).unwrap();
    let at = bytes.windows(from.len()).position(|w| w == from);
    let at = at.unwrap_or_else(|| panic!("{from:?} in {bytes:?}"));
    [&bytes[..at], to, &bytes[at + from.len()..]].concat()
}

#[test]
fn a_mended_line_put_back_is_accepted_in_every_encoding() {
    let text = format!(
        "Shop report\r\n{JOBS}\r\n1,2026-10-01,suv,yes,gloss,20,300,Zoë\r\n\
         2,2026-10-02,café,yes,gloss,twenty,300,Zoë\r\n3,2026-10-03,suv,no,gloss,20,,Zoë\r\n"
    );
    let utf8 = |t: &str| t.as_bytes().to_vec();
    let marked = |t: &str| [b"\xef\xbb\xbf", t.as_bytes()].concat();
    type Encode = fn(&str) -> Vec<u8>;
    let encodings: [(&str, Encode); 4] = [
        ("utf-8", utf8),
        ("utf-8 with a mark", marked),
        ("utf-16", wide),
        ("windows-1252", old),
    ];
    for (what, encode) in encodings {
        for gzip in [false, true] {
            let at = tempfile::tempdir().unwrap();
            let name = if gzip { "jobs.csv.gz" } else { "jobs.csv" };
            let bytes = encode(&text);
            let bytes = if gzip { packed(&bytes) } else { bytes };
            std::fs::write(at.path().join(name), bytes).unwrap();
            assert_eq!(counts(&read(at.path())), (1, 0), "{what}");
            review(at.path());
            let raw = at.path().join("reviews/2026-10/quarantine/jobs.mended.csv");
            let expected =
                format!("Shop report\r\n{JOBS}\r\n2,2026-10-02,café,yes,gloss,twenty,300,Zoë\r\n");
            assert_eq!(std::fs::read(&raw).unwrap(), encode(&expected), "{what}");
            let cell = |t: &str| match what {
                "utf-16" => t.encode_utf16().flat_map(u16::to_le_bytes).collect(),
                _ => t.as_bytes().to_vec(),
            };
            let mended = mend(&raw, &cell("twenty"), &cell("20"));
            std::fs::write(at.path().join(mended_name(name)), mended).unwrap();
            let found = read(at.path());
            assert_eq!(counts(&found), (0, 1), "{what}");
            let classes = found
                .frames
                .of(Table::Jobs)
                .column("vehicle_class")
                .unwrap();
            let classes: Vec<_> = classes.str().unwrap().iter().flatten().collect();
            assert_eq!(classes, ["suv", "suv", "café"], "{what}");
        }
    }
}

#[test]
fn lines_without_a_key_of_their_own_are_mended_by_their_job() {
    let at = tempfile::tempdir().unwrap();
    let put = |name: &str, bytes: &[u8]| std::fs::write(at.path().join(name), bytes).unwrap();
    put(
        "jobs.csv",
        format!(
            "{JOBS}\n1,2026-10-01,suv,yes,gloss,20,300,\n2,2026-10-02,suv,perhaps,gloss,20,300,\n"
        )
        .as_bytes(),
    );
    put(
        "coatings.csv",
        format!(
            "{SPELLS}\n1,p,2026-10-01 09:00,2026-10-01 09:30,30,10\n\
             1,p,2026-10-01 11:00,2026-10-01 10:30,30,10\n\
             1,q,2026-10-01 12:00,2026-10-01 12:30,30,ten\n\
             2,p,2026-10-02 09:00,2026-10-02 09:40,40,12\n"
        )
        .as_bytes(),
    );
    // The job that says "perhaps", its spell, and two spells of their own fault.
    assert_eq!(counts(&read(at.path())), (4, 0));
    review(at.path());
    let raw = at.path().join("reviews/2026-10/quarantine");
    put(
        "jobs.mended.csv",
        &mend(&raw.join("jobs.mended.csv"), b"perhaps", b"yes"),
    );
    // The mended job brings its spell back; nothing counts twice.
    let found = read(at.path());
    assert_eq!(counts(&found), (2, 1));
    assert_eq!(found.frames.of(Table::Coatings).height(), 2);
    // Of two lines of one job only the second is mended: one is still named.
    put(
        "coatings.mended.csv",
        &mend(&raw.join("coatings.mended.csv"), b"ten", b"10"),
    );
    let found = read(at.path());
    assert_eq!(found.frames.of(Table::Coatings).height(), 3);
    let named: Vec<String> = found
        .quarantine
        .iter()
        .map(|r| format!("{}:{}", r.file, r.line))
        .collect();
    assert_eq!(named, ["coatings.csv:4", "coatings.mended.csv:2"]);
    // What is still wrong in the mended file is mended by the next.
    review(at.path());
    let next = raw.join("coatings.mended-2.csv");
    put("coatings.mended-2.csv", &mend(&next, b"10:30", b"11:30"));
    let found = read(at.path());
    assert_eq!(found.frames.of(Table::Coatings).height(), 4);
    assert_eq!(counts(&found).0, 0);
}

#[test]
fn a_row_put_aside_for_its_date_is_superseded_by_its_mending() {
    let at = tempfile::tempdir().unwrap();
    let put = |name: &str, text: String| std::fs::write(at.path().join(name), text).unwrap();
    put(
        "jobs.csv",
        format!("{JOBS}\n1,2026-10-01,suv,yes,gloss,20,300,\n2,2062-10-02,suv,yes,gloss,20,300,\n"),
    );
    put("coatings.csv", format!("{SPELLS}\n2,p,,,40,12\n"));
    assert_eq!(counts(&read(at.path())), (2, 0));
    put(
        "jobs.mended.csv",
        format!("{JOBS}\n2,2026-10-02,suv,yes,gloss,20,300,\n"),
    );
    let found = read(at.path());
    assert_eq!(counts(&found), (0, 1));
    assert_eq!(found.frames.of(Table::Coatings).height(), 1);
}

#[test]
fn a_review_says_where_the_raw_lines_are_and_what_they_hold() {
    let at = tempfile::tempdir().unwrap();
    let place = at.path().join("reviews/2026-10");
    let sound = format!("{JOBS}\n1,2026-10-01,suv,yes,gloss,20,300,Zo\n");
    std::fs::write(at.path().join("jobs.csv"), &sound).unwrap();
    review(at.path());
    assert!(!place.join("quarantine").exists());
    std::fs::write(
        at.path().join("jobs.csv"),
        format!("{sound}2,x,suv,yes,gloss,20,300,Zo\n"),
    )
    .unwrap();
    review(at.path());
    let said = std::fs::read_to_string(place.join("quarantine/READ-ME.txt")).unwrap();
    assert!(said.contains("hold every column of the export"), "{said}");
    let csv = std::fs::read_to_string(place.join("quarantine.csv")).unwrap();
    assert!(
        csv.lines()
            .next()
            .unwrap()
            .contains("columns that the review does not use"),
        "{csv}"
    );
}
