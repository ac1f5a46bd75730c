//! The files that a pattern stands for. A walk of our own: names need not be
//! text, and what a review left behind is never gone into.

use glob::Pattern;
use std::fs;
use std::path::{Path, PathBuf};

/// What a review leaves behind; never input.
const OUTPUT: &str = "reviews";
/// Marks a folder as a review, wherever `--out` put it.
const MARK: &str = "review.json";

/// One part of a pattern, between slashes.
enum Part {
    /// `**`: any number of folders, none included.
    Any,
    /// A name, or `.` or `..`.
    Plain(String),
    /// With `*`, `?` or `[`.
    Like(Pattern),
}

impl Part {
    fn new(text: &str) -> Result<Self, glob::PatternError> {
        Ok(match text {
            "**" => Self::Any,
            t if t.contains(['*', '?', '[']) => Self::Like(Pattern::new(t)?),
            t => Self::Plain(t.to_string()),
        })
    }
}

/// The files under `folder` that `pattern` stands for, in order of their
/// names. Folders that cannot be looked into hold none, and neither do links
/// to folders under a `**`, which could lead in a circle.
///
/// # Errors
/// A pattern that is none.
pub(super) fn files(folder: &Path, pattern: &str) -> Result<Vec<PathBuf>, glob::PatternError> {
    // The pattern as a whole is checked too: `a**` is none.
    Pattern::new(pattern)?;
    let parts = pattern.split('/').filter(|p| !p.is_empty());
    let parts: Vec<Part> = parts.map(Part::new).collect::<Result<_, _>>()?;
    let mut found = Vec::new();
    gather(folder, folder, &parts, &mut found);
    found.sort();
    found.dedup();
    Ok(found)
}

fn gather(top: &Path, here: &Path, parts: &[Part], to: &mut Vec<PathBuf>) {
    let Some((part, rest)) = parts.split_first() else {
        return;
    };
    let mut step = |path: PathBuf| match rest {
        [] if path.is_file() => to.push(path),
        [] => {}
        _ if path.is_dir() && !is_output(top, &path) => gather(top, &path, rest, to),
        _ => {}
    };
    match part {
        Part::Plain(name) => step(here.join(name)),
        Part::Like(pattern) => {
            for path in inside(here) {
                let name = path.file_name().unwrap_or_default();
                if pattern.matches(&name.to_string_lossy()) {
                    step(path);
                }
            }
        }
        Part::Any => {
            gather(top, here, rest, to);
            for path in inside(here) {
                if path.is_dir() && !path.is_symlink() && !is_output(top, &path) {
                    gather(top, &path, parts, to);
                }
            }
        }
    }
}

fn inside(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    entries.map(|e| e.path()).collect()
}

/// True of a review, of the folder of reviews, and of what a run that was cut
/// off left of either, which begins with a dot.
fn is_output(top: &Path, folder: &Path) -> bool {
    let hidden = |name: &std::ffi::OsStr| {
        let name = name.as_encoded_bytes();
        name.starts_with(b".") && name != b".."
    };
    folder == top.join(OUTPUT)
        || folder.join(MARK).is_file()
        || folder.file_name().is_some_and(hidden)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(names: &[&str], pattern: &str) -> Vec<String> {
        let dir = tempfile::tempdir().unwrap();
        for name in names {
            let path = dir.path().join(name);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, "x").unwrap();
        }
        let within = |p: PathBuf| {
            let name = p.strip_prefix(dir.path()).unwrap();
            name.to_string_lossy().into_owned()
        };
        let found = files(dir.path(), pattern).unwrap();
        found.into_iter().map(within).collect()
    }

    #[test]
    fn stars_stand_for_names_and_double_stars_for_folders() {
        let names = ["b.csv", "a.csv", "in/c.csv", "in/deep/d.csv", "in/e.txt"];
        assert_eq!(found(&names, "*.csv"), ["a.csv", "b.csv"]);
        assert_eq!(found(&names, "in/*"), ["in/c.csv", "in/e.txt"]);
        assert_eq!(
            found(&names, "in/**/[cd].csv"),
            ["in/c.csv", "in/deep/d.csv"]
        );
        assert_eq!(found(&names, "**/*.csv").len(), 4);
        assert_eq!(found(&names, "no/such/*"), [""; 0]);
        assert!(files(Path::new("."), "a[").is_err());
        assert!(files(Path::new("."), "a**").is_err());
    }

    #[test]
    fn what_a_review_left_behind_is_never_input() {
        let names = [
            "a.csv",
            "reviews/2026-10/tables/x.csv",
            "mine/review.json",
            "mine/tables/x.csv",
            ".mine.tallycoat-new-x/tables/x.csv",
            "kept/reviews/y.csv",
        ];
        assert_eq!(found(&names, "**/*.csv"), ["a.csv", "kept/reviews/y.csv"]);
        assert_eq!(found(&names, "*/*/*.csv"), ["kept/reviews/y.csv"]);
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn names_need_not_be_text() {
        use std::ffi::OsStr;
        use std::os::unix::ffi::OsStrExt;
        let dir = tempfile::tempdir().unwrap();
        let shop = dir.path().join(OsStr::from_bytes(b"a shop\xff"));
        fs::create_dir(&shop).unwrap();
        for name in [b"jobs \xfe.csv".as_slice(), b"jobs \xff.csv"] {
            fs::write(shop.join(OsStr::from_bytes(name)), "x").unwrap();
        }
        assert_eq!(files(&shop, "jobs*.csv").unwrap().len(), 2);
    }
}
