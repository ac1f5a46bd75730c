//! Puts a review in its place: whole, or not at all.
//!
//! Everything is written to a new folder beside the place. An earlier review
//! is then moved aside and the new one moved in; a run that was cut off
//! between the two is mended by the next.

use super::error::PageError;
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// A file of a review: its path within the folder, and its bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct File {
    /// Relative path, with `/`.
    pub path: String,
    /// Content.
    pub bytes: Vec<u8>,
}

/// The file that marks a folder as a review.
const MARK: &str = "review.json";
/// What its key `format` says.
const FORMAT: &str = "tallycoat-review";

fn io_error<'a>(path: &'a Path, doing: &'static str) -> impl Fn(io::Error) -> PageError + use<'a> {
    move |source| PageError::Io {
        path: path.to_path_buf(),
        doing,
        source,
    }
}

/// Writes a file that must not be there yet, whole or not at all.
///
/// # Errors
/// [`PageError::Exists`] where there is one; [`PageError::Io`].
pub fn new_file(place: &Path, bytes: &[u8]) -> Result<(), PageError> {
    let folder = Beside::of(place).folder;
    let mut new = tempfile::NamedTempFile::new_in(&folder)
        .map_err(io_error(&folder, "making a temporary file"))?;
    io::Write::write_all(&mut new, bytes).map_err(io_error(place, "writing"))?;
    match new.persist_noclobber(place) {
        Ok(_) => Ok(()),
        Err(e) if e.error.kind() == io::ErrorKind::AlreadyExists => Err(PageError::Exists {
            path: place.to_path_buf(),
        }),
        Err(e) => Err(io_error(place, "moving the new file in")(e.error)),
    }
}

/// Names beside the place that this module uses.
struct Beside {
    folder: PathBuf,
    name: String,
}

impl Beside {
    fn of(place: &Path) -> Self {
        let name = place.file_name().map_or_else(
            || "review".to_string(),
            |n| n.to_string_lossy().into_owned(),
        );
        let folder = match place.parent() {
            Some(p) if p.as_os_str().is_empty() => PathBuf::from("."),
            Some(p) => p.to_path_buf(),
            None => PathBuf::from("."),
        };
        Self { folder, name }
    }

    fn new_prefix(&self) -> String {
        format!(".{}.new-", self.name)
    }

    fn old(&self) -> PathBuf {
        self.folder.join(format!(".{}.old", self.name))
    }
}

/// Writes `files` as the review at `place`.
///
/// # Errors
/// [`PageError::NotAReview`] where something else stands there;
/// [`PageError::Io`] where the file system refuses. In both cases what stood
/// there before still stands.
pub fn replace(place: &Path, files: &[File]) -> Result<(), PageError> {
    let beside = Beside::of(place);
    fs::create_dir_all(&beside.folder).map_err(io_error(&beside.folder, "making the folder"))?;
    mend(place, &beside)?;
    refuse_what_is_no_review(place)?;
    let new = tempfile::Builder::new()
        .prefix(&beside.new_prefix())
        .tempdir_in(&beside.folder)
        .map_err(io_error(&beside.folder, "making a temporary folder"))?;
    for file in files {
        write(new.path(), file)?;
    }
    readable(new.path())?;
    move_in(place, &beside, new)
}

/// Temporary folders are made for their owner alone; a review is for anyone
/// who may read the folder that it lies in.
#[cfg(unix)]
fn readable(folder: &Path) -> Result<(), PageError> {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(folder, fs::Permissions::from_mode(0o755))
        .map_err(io_error(folder, "opening the folder to readers"))
}

#[cfg(not(unix))]
fn readable(_: &Path) -> Result<(), PageError> {
    Ok(())
}

/// Writes `files` into a folder, which is made where it is not there; each
/// replaces one of its own name, whole, and nothing else is touched.
///
/// # Errors
/// [`PageError::Io`].
pub fn into(folder: &Path, files: &[File]) -> Result<(), PageError> {
    fs::create_dir_all(folder).map_err(io_error(folder, "making the folder"))?;
    for file in files {
        let path = folder.join(&file.path);
        let failed = io_error(&path, "writing");
        let mut new = tempfile::NamedTempFile::new_in(folder).map_err(&failed)?;
        new.write_all(&file.bytes).map_err(&failed)?;
        readable_file(new.path()).map_err(&failed)?;
        new.persist(&path).map_err(|e| failed(e.error))?;
    }
    Ok(())
}

#[cfg(unix)]
fn readable_file(file: &Path) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(file, fs::Permissions::from_mode(0o644))
}

#[cfg(not(unix))]
fn readable_file(_: &Path) -> io::Result<()> {
    Ok(())
}

fn write(folder: &Path, file: &File) -> Result<(), PageError> {
    let path = folder.join(&file.path);
    if let Some(parent) = path.parent() {
        fs::create_dir_all(parent).map_err(io_error(parent, "making a folder"))?;
    }
    fs::write(&path, &file.bytes).map_err(io_error(&path, "writing"))
}

fn move_in(place: &Path, beside: &Beside, new: tempfile::TempDir) -> Result<(), PageError> {
    let old = beside.old();
    let earlier = place.exists();
    if earlier {
        fs::rename(place, &old).map_err(io_error(place, "moving the earlier review aside"))?;
    }
    // From here the folder is the review's, no longer a temporary one.
    let made = new.keep();
    if let Err(source) = fs::rename(&made, place) {
        if earlier {
            fs::rename(&old, place).map_err(io_error(&old, "moving the earlier review back"))?;
        }
        fs::remove_dir_all(&made).map_err(io_error(&made, "clearing up"))?;
        return Err(io_error(place, "moving the new review in")(source));
    }
    if earlier {
        fs::remove_dir_all(&old).map_err(io_error(&old, "clearing the earlier review"))?;
    }
    Ok(())
}

/// Undoes what a run that was cut off left behind.
fn mend(place: &Path, beside: &Beside) -> Result<(), PageError> {
    let old = beside.old();
    if old.exists() {
        if place.exists() {
            fs::remove_dir_all(&old).map_err(io_error(&old, "clearing the earlier review"))?;
        } else {
            fs::rename(&old, place).map_err(io_error(&old, "moving the earlier review back"))?;
        }
    }
    let prefix = beside.new_prefix();
    let entries = fs::read_dir(&beside.folder)
        .map_err(io_error(&beside.folder, "looking into the folder"))?;
    for entry in entries.flatten() {
        if entry.file_name().to_string_lossy().starts_with(&prefix) {
            let path = entry.path();
            fs::remove_dir_all(&path).map_err(io_error(&path, "clearing up"))?;
        }
    }
    Ok(())
}

fn refuse_what_is_no_review(place: &Path) -> Result<(), PageError> {
    let refuse = |found: &str| {
        Err(PageError::NotAReview {
            folder: place.to_path_buf(),
            found: found.to_string(),
        })
    };
    let Ok(about) = fs::metadata(place) else {
        return Ok(());
    };
    if !about.is_dir() {
        return refuse("a file");
    }
    let mut entries = fs::read_dir(place).map_err(io_error(place, "looking into the folder"))?;
    if entries.next().is_none() {
        return Ok(());
    }
    match fs::read_to_string(place.join(MARK)) {
        Err(_) => refuse("it holds other things and no review.json"),
        Ok(text) if is_ours(&text) => Ok(()),
        Ok(_) => refuse("its review.json is not of this program"),
    }
}

/// True where the text is JSON whose `format` is this program's.
fn is_ours(text: &str) -> bool {
    #[derive(serde::Deserialize)]
    struct Mark {
        format: String,
    }
    serde_json::from_str::<Mark>(text).is_ok_and(|m| m.format == FORMAT)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(path: &str, text: &str) -> File {
        File {
            path: path.into(),
            bytes: text.into(),
        }
    }

    fn review(text: &str) -> Vec<File> {
        let mark = format!("{{\"attach\": 1, \"format\": \"{FORMAT}\"}}");
        vec![file(MARK, &mark), file("tables/a.csv", text)]
    }

    fn listing(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(folder)
            .unwrap()
            .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn a_review_replaces_an_earlier_one_whole_and_leaves_no_litter() {
        let dir = tempfile::tempdir().unwrap();
        let place = dir.path().join("reviews/2026-10");
        let mut first = review("one");
        first.push(file("gone.txt", "x"));
        replace(&place, &first).unwrap();
        replace(&place, &review("two")).unwrap();
        assert_eq!(
            fs::read_to_string(place.join("tables/a.csv")).unwrap(),
            "two"
        );
        assert!(!place.join("gone.txt").exists());
        assert_eq!(listing(&dir.path().join("reviews")), ["2026-10"]);
    }

    #[test]
    fn what_is_no_review_is_left_alone() {
        let dir = tempfile::tempdir().unwrap();
        let place = dir.path().join("papers");
        fs::create_dir(&place).unwrap();
        replace(&place, &review("in an empty folder")).unwrap();
        fs::write(place.join(MARK), "{\"format\": \"other\"}").unwrap();
        let said = replace(&place, &review("x")).unwrap_err().to_string();
        assert!(said.contains("is not of this program"), "{said}");
        fs::remove_file(place.join(MARK)).unwrap();
        let said = replace(&place, &review("x")).unwrap_err().to_string();
        assert!(said.contains("no review.json"), "{said}");
        assert_eq!(listing(&place), ["tables"]);
        let paper = dir.path().join("paper.txt");
        fs::write(&paper, "mine").unwrap();
        assert!(replace(&paper, &review("x")).is_err());
        assert_eq!(fs::read_to_string(&paper).unwrap(), "mine");
    }

    #[test]
    fn a_run_cut_off_between_the_two_moves_is_mended_by_the_next() {
        let dir = tempfile::tempdir().unwrap();
        let place = dir.path().join("r");
        replace(&place, &review("one")).unwrap();
        fs::rename(&place, dir.path().join(".r.old")).unwrap();
        fs::create_dir(dir.path().join(".r.new-abc")).unwrap();
        mend(&place, &Beside::of(&place)).unwrap();
        assert_eq!(
            fs::read_to_string(place.join("tables/a.csv")).unwrap(),
            "one"
        );
        replace(&place, &review("two")).unwrap();
        assert_eq!(listing(dir.path()), ["r"]);
    }
}
