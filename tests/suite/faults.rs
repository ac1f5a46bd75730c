//! Runs that are killed, and disks, folders and readers that refuse: the whole
//! program as a process.
//!
//! What stood at the place before is compared byte by byte. Where this machine
//! cannot make a fault (no rights to mount, no `/dev/full`), its test says so
//! on standard error and passes.

mod killed;
mod places;
mod refused;
mod together;

use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use tallycoat::invent::{Plan, invent_into};

/// The program.
pub fn program() -> Command {
    Command::new(env!("CARGO_BIN_EXE_tallycoat"))
}

/// Files below a folder, by relative path.
pub type Content = BTreeMap<PathBuf, Vec<u8>>;

/// Every file below `folder`; empty where there is no folder.
pub fn content(folder: &Path) -> Content {
    let mut all = Content::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(at) = folders.pop() {
        for entry in fs::read_dir(&at).into_iter().flatten() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().to_path_buf();
                all.insert(name, fs::read(&path).unwrap());
            }
        }
    }
    all
}

/// Names in a folder, in order.
pub fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let name = |e: std::io::Result<fs::DirEntry>| {
        let name = e.unwrap().file_name();
        name.to_string_lossy().into_owned()
    };
    let mut all: Vec<String> = entries.map(name).collect();
    all.sort();
    all
}

/// A small invented shop; another seed, another shop.
pub fn shop(folder: &Path, seed: u64) {
    let plan = Plan {
        jobs: 60,
        months: 6,
        people: 2,
        seed,
        ..Plan::film_shop()
    };
    invent_into(&plan, folder).unwrap();
}

/// A folder to work in, two shops, and what the review of each is.
pub struct Two {
    pub dir: tempfile::TempDir,
    pub shops: [PathBuf; 2],
    pub reviews: [Content; 2],
}

impl Two {
    pub fn new() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let shops = [1, 2].map(|seed| {
            let at = dir.path().join(format!("shop {seed}"));
            shop(&at, seed);
            at
        });
        let reviews = shops.each_ref().map(|shop| {
            let place = dir.path().join("known");
            let _ = fs::remove_dir_all(&place);
            done(&review(shop, &place).output().unwrap());
            content(&place)
        });
        fs::remove_dir_all(dir.path().join("known")).unwrap();
        assert!(reviews[0].len() > 10 && reviews[0] != reviews[1]);
        Self {
            dir,
            shops,
            reviews,
        }
    }

    /// Where reviews go: a folder of its own, so that litter shows.
    pub fn place(&self) -> PathBuf {
        self.dir.path().join("out").join("r")
    }

    /// Asserts that the place holds this shop's review, whole, and that
    /// nothing lies beside it.
    pub fn holds(&self, which: usize) {
        let place = self.place();
        assert!(content(&place) == self.reviews[which], "not review {which}");
        assert_eq!(names(place.parent().unwrap()), ["r"]);
    }
}

/// `review SHOP --out PLACE`.
pub fn review(shop: &Path, place: &Path) -> Command {
    let mut command = program();
    command.arg("review").arg(shop).arg("--out").arg(place);
    command
}

/// Asserts that a run did what was asked.
pub fn done(output: &Output) {
    assert!(output.status.success(), "{}", words(output));
}

/// Asserts that a run ended with a message and exit code 1; the message.
pub fn not_done(output: &Output) -> String {
    assert_eq!(output.status.code(), Some(1), "{}", words(output));
    let said = words(output);
    assert!(!said.contains("panicked"), "{said}");
    said
}

/// What a run said, on both ways out.
pub fn words(output: &Output) -> String {
    let out = String::from_utf8_lossy(&output.stdout);
    let err = String::from_utf8_lossy(&output.stderr);
    format!("{}: {out}{err}", output.status)
}

/// Runs a command of the system; whether it could and did.
pub fn system(command: &str, args: &[&OsStr]) -> bool {
    let quiet = Command::new(command).args(args).output();
    quiet.is_ok_and(|o| o.status.success())
}

/// Says that this machine cannot make a fault.
pub fn skipped(what: &str) {
    eprintln!("SKIPPED: {what}");
}
