//! A full disk, a folder that may not be written to, a reader that is gone, a
//! file that changes while it is read.

use super::{
    Content, Two, content, done, names, not_done, program, review, skipped, system, words,
};
use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use tallycoat::run::{self, Progress};
use tallycoat::settings::command::ReviewArgs;

/// A mount that ends with the test.
struct Mounted(PathBuf);

impl Mounted {
    /// Mounts by these arguments at a folder; `None` without the right to.
    fn new(at: &Path, args: &[&str]) -> Option<Self> {
        fs::create_dir_all(at).unwrap();
        let mut all: Vec<&OsStr> = args.iter().map(OsStr::new).collect();
        all.push(at.as_os_str());
        system("mount", &all).then(|| Self(at.to_path_buf()))
    }
}

impl Drop for Mounted {
    fn drop(&mut self) {
        if !system("umount", &[self.0.as_os_str()]) {
            eprintln!("{} is still mounted", self.0.display());
        }
    }
}

fn size(review: &Content) -> usize {
    review.values().map(Vec::len).sum()
}

/// Where, what, what still stands, and what to do.
fn says_all(said: &str, place: &Path, what: &str, advice: &str) {
    for part in [
        &*place.to_string_lossy(),
        what,
        "What stood there before still stands",
        advice,
    ] {
        assert!(said.contains(part), "{part:?} is not in {said}");
    }
}

#[test]
fn on_a_full_disk_the_old_review_stands_and_the_message_says_what_to_do() {
    let two = Two::new();
    // Room for one review and a half.
    let room = format!("size={}k", size(&two.reviews[0]) * 3 / 2 / 1024);
    let out = two.place().parent().unwrap().to_path_buf();
    let Some(_disk) = Mounted::new(&out, &["-t", "tmpfs", "-o", &room, "tmpfs"]) else {
        skipped("a full disk: no right to mount one");
        return;
    };
    done(&review(&two.shops[0], &two.place()).output().unwrap());
    let said = not_done(&review(&two.shops[1], &two.place()).output().unwrap());
    says_all(
        &said,
        &two.place(),
        "No space left on device",
        "Make room there",
    );
    two.holds(0);
}

/// As on a full disk, by a limit on a file's size that needs no rights.
#[cfg(unix)]
#[test]
fn a_file_that_may_not_grow_is_as_a_full_disk() {
    let two = Two::new();
    done(&review(&two.shops[0], &two.place()).output().unwrap());
    // Blocks of 512 bytes; without the trap the signal would end the run.
    let limited = |rest: &str| {
        let mut command = Command::new("sh");
        let line = format!("trap '' XFSZ; ulimit -f 16; exec \"$@\" {rest}");
        command.args(["-c", &line, "sh"]);
        command.arg(env!("CARGO_BIN_EXE_tallycoat"));
        command
    };
    let args = |mut c: Command| {
        c.arg("review").arg(&two.shops[1]);
        c.arg("--out").arg(two.place());
        c.output().unwrap()
    };
    let said = not_done(&args(limited("")));
    says_all(&said, &two.place(), "File too large", "Make room there");
    two.holds(0);
    let shop = &two.shops[1];
    let before = content(shop);
    let grown = before[Path::new("constants.toml")].len();
    // Its own constants fit, those with a record more do not.
    let padding = "#".repeat(16 * 512 - grown - 1) + "\n";
    let mut padded = padding.into_bytes();
    padded.extend_from_slice(&before[Path::new("constants.toml")]);
    fs::write(shop.join("constants.toml"), &padded).unwrap();
    let mut command = limited("");
    let adopt = command.arg("recalibrate").arg(shop).arg("--adopt");
    let said = not_done(&adopt.output().unwrap());
    says_all(
        &said,
        &shop.join("constants.toml"),
        "File too large",
        "Make room there",
    );
    assert_eq!(fs::read(shop.join("constants.toml")).unwrap(), padded);
    assert_eq!(content(shop).len(), before.len(), "{:?}", names(shop));
}

#[test]
fn in_a_folder_that_may_not_be_written_to_the_old_review_stands() {
    let two = Two::new();
    done(&review(&two.shops[0], &two.place()).output().unwrap());
    let out = two.place().parent().unwrap().to_path_buf();
    let from = out.to_string_lossy().into_owned();
    let Some(mount) = Mounted::new(&out, &["--bind", &from]) else {
        skipped("a folder that may not be written to: no right to mount one");
        return;
    };
    let read_only = ["-o", "remount,ro,bind"].map(OsStr::new);
    assert!(system(
        "mount",
        &[&read_only[..], &[out.as_os_str()]].concat()
    ));
    let said = not_done(&review(&two.shops[1], &two.place()).output().unwrap());
    says_all(
        &said,
        &out,
        "Read-only file system",
        "that you may write to",
    );
    drop(mount);
    two.holds(0);
}

/// A program that goes on writing to an export while it is read.
#[test]
fn a_file_that_changes_while_it_is_read_gives_no_review() {
    let two = Two::new();
    let place = two.place();
    done(&review(&two.shops[0], &place).output().unwrap());
    let args = ReviewArgs {
        folder: two.shops[1].clone(),
        out: Some(place.clone()),
        ..args_of_a_review()
    };
    let jobs = two.shops[1].join("jobs.csv");
    let whole = fs::read(&jobs).unwrap();
    let longer = [whole.as_slice(), b"\n"].concat();
    // Grown; the same size at another time; gone.
    let changes: [&dyn Fn(); 3] = [
        &|| fs::write(&jobs, &longer).unwrap(),
        &|| {
            let file = fs::File::options().write(true).open(&jobs).unwrap();
            let long_ago = std::time::SystemTime::UNIX_EPOCH;
            file.set_modified(long_ago).unwrap();
        },
        &|| fs::remove_file(&jobs).unwrap(),
    ];
    for (at, change) in changes.into_iter().enumerate() {
        fs::write(&jobs, &whole).unwrap();
        let mut changed = false;
        let error = run::review(&args, &mut |p| {
            // At the last file, when jobs are long read.
            if matches!(&p, Progress::Reading(p) if p.file == "inspections.csv") && !changed {
                changed = true;
                change();
            }
        });
        let said = error.map(|_| ()).unwrap_err().to_string();
        assert!(changed);
        let found = said.contains("jobs.csv: changed while it was read")
            && said.contains("an earlier review still stands");
        assert!(found, "change {at}: {said}");
        two.holds(0);
    }
}

fn args_of_a_review() -> ReviewArgs {
    use clap::Parser;
    use tallycoat::settings::command::{Cli, Command};
    match Cli::parse_from(["tallycoat", "review", "x"]).command {
        Command::Review(args) => args,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_reader_that_has_seen_enough_is_no_error() {
    let two = Two::new();
    for command in ["check", "quote", "map"] {
        let mut child = program();
        child.arg(command).arg(&two.shops[0]);
        if command == "quote" {
            child.args(["--class", "suv", "--finish", "gloss"]);
        }
        let mut child = child
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        assert!(output.status.success(), "{command}: {}", words(&output));
        assert!(output.stderr.is_empty(), "{command}: {}", words(&output));
    }
}

#[test]
fn an_output_that_cannot_be_written_to_is_said() {
    let Ok(full) = fs::File::options().write(true).open("/dev/full") else {
        skipped("an output that is full: there is no /dev/full");
        return;
    };
    let two = Two::new();
    let mut command = program();
    command.arg("check").arg(&two.shops[0]);
    let output = command.stdout(full.try_clone().unwrap()).output().unwrap();
    let said = not_done(&output);
    assert!(
        said.contains("standard output: cannot be written to"),
        "{said}"
    );
    // The review itself is in place.
    let mut command = review(&two.shops[0], &two.place());
    not_done(&command.stdout(full.try_clone().unwrap()).output().unwrap());
    two.holds(0);
    // Nobody to complain to: the exit code still says it, not a panic's.
    let mut command = review(&two.dir.path().join("absent"), &two.place());
    let output = command.stderr(full).output().unwrap();
    assert_eq!(output.status.code(), Some(1));
}
