//! Random harm to small tables: intake must not panic, and every line must be
//! in exactly one state, on every one.
//!
//! `TALLYCOAT_MUTATIONS` sets how many; the default is what the dev profile
//! does in half a minute on two cores.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use tallycoat::intake::{self, IntakeError};
use tallycoat::settings::contract::TABLES;
use tallycoat::settings::shop::Shop;

const JOBS: &str = "job,finished_on,vehicle_class,coated,finish,area,coating_price,offered\n\
                    1,2026-10-01,suv,yes,gloss,21.5,310.50,yes\n\
                    2,10/22/2026,coupe,no,matte,\"1,021.5\",,\n\
                    3,2026-10-03,\"van, tall\",yes,\"sat\"\"in\",20,$300,no\n\
                    4,2026-10-04,\"two\nlines\",yes,gloss,20,300,\n\
                    5,2026-10-05,caf\u{e9},yes,,20,300,\n\
                    Total,,,,,103,1210.50,\n";
const COATINGS: &str = "job;applied_by;started_at;ended_at;minutes;used;relative_humidity\r\n\
                        1;p1;2026-10-01 09:00;2026-10-01 09:40;40;12,5;65 %\r\n\
                        3;p2;2026-10-03 09:00;2026-10-03 09:50;45;11,25;50\r\n\
                        4;p1;;;35;;\r\n";
const SURFACES: &str = "job,finish,area\n5,gloss,10\n5,matte,10\n";
const PIECES: [&[u8]; 26] = [
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
                let lines: Vec<Vec<u8>> = bytes
                    .split_inclusive(|b| *b == b'\n')
                    .map(<[u8]>::to_vec)
                    .collect();
                let line = lines.get(rng.random_range(0..lines.len().max(1)));
                bytes.extend(line.into_iter().flatten());
            }
            _ => {
                let piece = PIECES[rng.random_range(0..PIECES.len())];
                bytes.splice(at..at, piece.iter().copied());
            }
        }
    }
}

/// Physical lines by the plainest reading: LF, CRLF or CR ends one.
fn plain_lines(bytes: &[u8]) -> u64 {
    let text: Vec<u8> = bytes.to_vec();
    let mut lines = 0;
    let mut open = false;
    let mut i = 0;
    while i < text.len() {
        open = true;
        if text[i] == b'\r' || text[i] == b'\n' {
            i += usize::from(text[i] == b'\r' && text.get(i + 1) == Some(&b'\n'));
            lines += 1;
            open = false;
        }
        i += 1;
    }
    lines + u64::from(open)
}

/// The tables unharmed.
fn sound_tables() -> [(&'static str, Vec<u8>); 3] {
    [
        ("jobs", JOBS.as_bytes().to_vec()),
        ("coatings", COATINGS.as_bytes().to_vec()),
        ("surfaces", SURFACES.as_bytes().to_vec()),
    ]
}

fn write(folder: &Path, tables: &[(&str, Vec<u8>)]) {
    for (name, bytes) in tables {
        std::fs::write(folder.join(format!("{name}.csv")), bytes).unwrap();
    }
}

/// A folder of all tables, and one of each table with the jobs it needs:
/// fewer files, so more harm in the same time.
struct Folders {
    all: tempfile::TempDir,
    few: [tempfile::TempDir; 3],
}

impl Folders {
    fn new() -> Self {
        // In memory where the system has such a place.
        let folder = || {
            let folder = tempfile::tempdir_in("/dev/shm").or_else(|_| tempfile::tempdir());
            folder.unwrap()
        };
        let made = Self {
            all: folder(),
            few: [folder(), folder(), folder()],
        };
        let tables = sound_tables();
        write(made.all.path(), &tables);
        for (i, few) in made.few.iter().enumerate() {
            write(few.path(), &tables[..1]);
            write(few.path(), &tables[i..=i]);
        }
        made
    }
}

fn try_one(folders: &Folders, rng: &mut ChaCha8Rng, shop: &Shop, was_read: &AtomicU64) {
    let mut tables = sound_tables();
    let harmed = rng.random_range(0..3);
    let folder = match rng.random_bool(0.2) {
        true => folders.all.path(),
        false => folders.few[harmed].path(),
    };
    harm(rng, &mut tables[harmed].1);
    write(folder, &tables[harmed..=harmed]);
    let story = || String::from_utf8_lossy(&tables[harmed].1).into_owned();
    match intake::read(folder, shop, &mut |_| {}) {
        Err(e @ (IntakeError::Conservation { .. } | IntakeError::Frame { .. })) => {
            panic!("{e}\n{}", story())
        }
        Err(e) => assert!(!e.to_string().is_empty()),
        Ok(found) => {
            was_read.fetch_add(1, Ordering::Relaxed);
            for file in &found.ledger.files {
                assert!(file.lines.add_up(), "{:?}\n{}", file.lines, story());
                let (_, bytes) = tables
                    .iter()
                    .find(|(n, _)| file.file == format!("{n}.csv"))
                    .unwrap();
                let packed_or_wide =
                    file.encoding.encoding.is_wide() || bytes.starts_with(b"\x1f\x8b");
                if !packed_or_wide {
                    assert_eq!(
                        file.lines.read,
                        plain_lines(&bytes[file.encoding.mark..]),
                        "{}",
                        story()
                    );
                }
                let put_aside: u64 = found
                    .quarantine
                    .iter()
                    .filter(|r| *r.file == file.file)
                    .map(|r| u64::from(r.lines))
                    .sum();
                assert_eq!(put_aside, file.lines.quarantined, "{}", story());
            }
            for table in TABLES {
                let frame = found.frames.of(table);
                assert_eq!(frame.width(), table.fields().len() + 1, "{}", story());
            }
        }
    }
    // The draft and the descriptor look at the same harm, less often.
    if rng.random_bool(0.02) {
        // A file harmed into a broken gzip is an error in words.
        match intake::draft(folder) {
            Ok(draft) => assert!(draft.text.contains("[files]")),
            Err(e) => assert!(e.to_string().contains("cannot be read"), "{e}"),
        }
        if let Ok(found) = intake::descriptor(folder, shop) {
            assert!(found["resources"].is_array());
        }
    }
    write(folder, &sound_tables()[harmed..=harmed]);
}

#[test]
fn random_harm_never_panics_and_loses_no_line() {
    let all: u64 = std::env::var("TALLYCOAT_MUTATIONS")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(40_000);
    let threads = 2;
    let was_read = AtomicU64::new(0);
    std::thread::scope(|scope| {
        for thread in 0..threads {
            let was_read = &was_read;
            scope.spawn(move || {
                let folders = Folders::new();
                let shop = Shop::default();
                let mut rng = ChaCha8Rng::seed_from_u64(1031 + thread);
                for _ in 0..all / threads {
                    try_one(&folders, &mut rng, &shop, was_read);
                }
            });
        }
    });
    let read = was_read.load(Ordering::Relaxed);
    // Most harm is to records and must not stop a file.
    assert!(read * 2 > all, "{read} of {all} were read");
}
