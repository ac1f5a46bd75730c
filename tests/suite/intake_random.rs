//! Random harm to small tables, in memory: whatever it does, what
//! `intake_properties` says must hold.
//!
//! `TALLYCOAT_MUTATIONS` sets how many.

use crate::intake_properties as properties;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::sync::atomic::{AtomicU64, Ordering};
use tallycoat::intake;
use tallycoat::settings::shop::Shop;

const MUTATIONS: u64 = 100_000;

/// Sound exports, by the setup that reads them.
const SOUND: [(usize, &str); 10] = [
    (
        0,
        "job,finished_on,vehicle_class,coated,finish,area,coating_price,offered\n\
         1,2026-10-01,suv,yes,gloss,21.5,310.50,yes\n\
         2,10/22/2026,coupe,no,matte,\"1,021.5\",,\n\
         3,2026-10-03,\"van, tall\",yes,\"sat\"\"in\",20,$300,no\n\
         4,2026-10-04,\"two\nlines\",yes,gloss,20,300,\n\
         5,2026-10-05,caf\u{e9},yes,,20,300,\n\
         Total,,,,,103,1210.50,\n",
    ),
    (1, "job,finish,area\n1,gloss,10\n1,matte,10\n"),
    (
        2,
        "job;applied_by;started_at;ended_at;minutes;used;relative_humidity\r\n\
         1;p1;2026-10-01 09:00;2026-10-01 09:40;40;12,5;65 %\r\n\
         3;p2;2026-10-03 09:00;2026-10-03 09:50;45;11,25;50\r\n\
         1;p1;;;35;;\r\n",
    ),
    (
        3,
        "bottle\tproduct\tvolume\tleft_over\tcost\nb1\tX\t100\t2.5\t$278.04\nb2\tX\t1,000\t0\t1,278.04\n",
    ),
    (
        4,
        "sep=;\njob;reported_on;cause;minutes\n1;2026-10-09;haze;20\n3;9.10.2026;line;\n",
    ),
    (
        5,
        "person,role,hourly_cost,started_on\np1,installer,27.50,2020-01-01\np2,installer,(27),\n",
    ),
    (
        6,
        "job,seen_on,condition\n1,2026-11-01,sound\n3,2026-11-01,failed\n",
    ),
    (
        7,
        "Ticket,finished_on,Type,coated,finish,Area (sq ft),By,Used (fl oz)\n\
         1,2026-10-01,suv,yes,gloss,215,ann,1\n1,2026-10-01,suv,yes,gloss,215,bob,2\n2,2026-10-01,suv,no,gloss,200,,\n",
    ),
    (
        8,
        "job;finished_on;vehicle_class;coated;finish;area;coating_price\n\
         1;31/10/2026;suv;ja;gloss;1.021,5;310,50 \u{20ac}\n2;01/02/2026;\"a \\\"b\\\"\";nein;matte;20;\n3;01/02/2026;c;-;matte;20;\n",
    ),
    (
        9,
        "1,2026-10-01,suv,yes,gloss,21.5\n2,2026-10-02,suv,no,matte,20\n",
    ),
];

const PIECES: [&[u8]; 30] = [
    b"\"",
    b",",
    b";",
    b"\n",
    b"\r",
    b"\r\n",
    b"\0",
    b"\xe9",
    b"\xff\xfe",
    b"\xef\xbb\xbf",
    b"\x1a",
    b"\\",
    b"'",
    b"\t",
    b"|",
    b" ",
    b"nan",
    b"-",
    b"9999999999999999999999",
    b"1.234,5",
    b"31/12/2026",
    b"Total",
    b"job",
    b"sep=;\n",
    b"\"\"",
    b"\x1f\x8b",
    b"\x1e",
    b"1e9",
    b"\xc2\xa0",
    b"0",
];

/// One to four small harms.
fn harm(rng: &mut ChaCha8Rng, bytes: &mut Vec<u8>) {
    for _ in 0..rng.random_range(1..5) {
        let at = rng.random_range(0..=bytes.len());
        let end = (at + rng.random_range(0..24)).min(bytes.len());
        match rng.random_range(0..7) {
            0 => bytes.truncate(at),
            1 => drop(bytes.drain(at..end)),
            2 => {
                let copy = bytes[at..end].to_vec();
                let to = rng.random_range(0..=bytes.len());
                bytes.splice(to..to, copy);
            }
            3 if at < bytes.len() => bytes[at] = rng.random(),
            4 => {
                let lines = properties::plain_lines(bytes);
                let line = lines.get(rng.random_range(0..lines.len().max(1)));
                let line = line.copied().unwrap_or_default().to_vec();
                bytes.extend(line);
            }
            _ => {
                let piece = PIECES[rng.random_range(0..PIECES.len())];
                bytes.splice(at..at, piece.iter().copied());
            }
        }
    }
}

/// A case, told where it fails.
pub(crate) struct Told<'a>(pub(crate) &'a [u8]);

impl Drop for Told<'_> {
    fn drop(&mut self) {
        if std::thread::panicking() {
            eprintln!("with {:?}", String::from_utf8_lossy(self.0));
        }
    }
}

/// True where the case was read.
fn try_one(setups: &[properties::Setup], rng: &mut ChaCha8Rng) -> bool {
    let (pick, sound) = SOUND[rng.random_range(0..SOUND.len())];
    let mut bytes = sound.as_bytes().to_vec();
    if rng.random_bool(0.1) {
        bytes.push(0x1e);
        bytes.extend(sound.as_bytes());
    }
    harm(rng, &mut bytes);
    let _told = Told(&bytes);
    let setup = &setups[pick];
    let files = properties::files(setup, &bytes);
    let read = properties::accounted(&files, &setup.shop).is_some();
    if read && rng.random_bool(0.1) {
        properties::read_again(&files, &setup.shop);
    }
    read
}

#[test]
fn random_harm_never_panics_and_loses_no_line() {
    let all = std::env::var("TALLYCOAT_MUTATIONS").ok();
    let all: u64 = all.and_then(|n| n.parse().ok()).unwrap_or(MUTATIONS);
    let threads = 2;
    let was_read = AtomicU64::new(0);
    std::thread::scope(|scope| {
        for thread in 0..threads {
            let was_read = &was_read;
            scope.spawn(move || {
                let setups = properties::setups();
                let mut rng = ChaCha8Rng::seed_from_u64(1031 + thread);
                for _ in 0..all / threads {
                    let read = try_one(&setups, &mut rng);
                    was_read.fetch_add(u64::from(read), Ordering::Relaxed);
                }
            });
        }
    });
    let read = was_read.load(Ordering::Relaxed);
    // Most harm is to records and must not stop a file.
    assert!(read * 2 > all, "{read} of {all} were read");
}

/// The draft and the descriptor look at folders: fewer of them.
#[test]
fn random_harm_is_drafted_and_described_without_a_panic() {
    let folder = tempfile::tempdir().unwrap();
    let mut rng = ChaCha8Rng::seed_from_u64(77);
    for _ in 0..1000 {
        let mut bytes = SOUND[0].1.as_bytes().to_vec();
        harm(&mut rng, &mut bytes);
        let _told = Told(&bytes);
        std::fs::write(folder.path().join("jobs.csv"), &bytes).unwrap();
        // A file harmed into a broken gzip is an error in words.
        match intake::draft(folder.path()) {
            Ok(draft) => assert!(draft.text.contains("[files]")),
            Err(e) => assert!(e.to_string().contains("cannot be read"), "{e}"),
        }
        if let Ok(found) = intake::descriptor(folder.path(), &Shop::default()) {
            assert!(found["resources"].is_array());
        }
    }
}

/// What the coverage-guided fuzzing of `tests/fuzz` found, and the most
/// telling of what it tried.
#[test]
fn what_fuzzing_found_holds() {
    let at = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/suite/fixtures/fuzz");
    let setups = properties::setups();
    let mut cases = 0;
    for entry in std::fs::read_dir(at).unwrap() {
        let bytes = std::fs::read(entry.unwrap().path()).unwrap();
        let _told = Told(&bytes);
        properties::hold(&setups, &bytes);
        cases += 1;
    }
    assert!(cases >= 20, "{cases}");
}
