//! Puts a review in its place, and refuses to put it over anything else.

use super::error::PageError;
use super::year;
use crate::disk::{File, Place};
use std::fs;
use std::path::Path;

/// The file that marks a folder as a review.
const MARK: &str = "review.json";
/// What its key `format` says.
const FORMAT: &str = "tallycoat-review";

/// Writes `files` as the review at `place`.
///
/// # Errors
/// [`PageError::NotAReview`] where something else stands there;
/// [`PageError::Disk`] where the file system refuses. In both cases what stood
/// there before still stands.
pub fn replace(place: &Path, files: &[File]) -> Result<(), PageError> {
    let held = Place::of(place)?.hold()?;
    refuse_what_is_no_review(place)?;
    Ok(held.replace_folder(files)?)
}

/// Writes a file that must not be there yet, whole or not at all.
///
/// # Errors
/// [`PageError::Exists`] where there is one; [`PageError::Disk`].
pub fn new_file(place: &Path, bytes: &[u8]) -> Result<(), PageError> {
    if Place::of(place)?.hold()?.new_file(bytes)? {
        return Ok(());
    }
    Err(PageError::Exists {
        path: place.to_path_buf(),
    })
}

/// Writes `files` into a folder, which is made where it is not there; each
/// replaces one of its own name, whole, and nothing else is touched.
///
/// # Errors
/// [`PageError::Disk`]; where writing failed, no file was touched.
pub fn into(folder: &Path, files: &[File]) -> Result<(), PageError> {
    Ok(Place::within(folder)?.hold()?.write_files(files)?)
}

/// Refuses a place where [`replace`] would not put a review.
///
/// # Errors
/// [`PageError::NotAReview`].
pub fn free(place: &Path) -> Result<(), PageError> {
    refuse_what_is_no_review(place)
}

/// Refuses a folder whose index page is not this program's, by the mark beside
/// it.
///
/// # Errors
/// [`PageError::NotAReview`] where there is no folder but a file, or a single
/// review; [`PageError::NotAnIndex`].
pub fn free_for_index(folder: &Path) -> Result<(), PageError> {
    let refuse = |found: &str| {
        Err(PageError::NotAReview {
            folder: folder.to_path_buf(),
            found: found.to_string(),
        })
    };
    if folder.is_file() {
        return refuse("a file");
    }
    if folder.join(MARK).exists() {
        return refuse("it is the review of a single month, where a folder of months is to be");
    }
    let [page, mark] = [year::PAGE, year::MARK].map(|name| folder.join(name));
    let ours =
        || fs::read_to_string(&mark).is_ok_and(|t| format_of(&t).as_deref() == Some(year::FORMAT));
    match [&page, &mark].into_iter().find(|p| p.exists()) {
        Some(path) if !ours() => Err(PageError::NotAnIndex { path: path.clone() }),
        _ => Ok(()),
    }
}

fn refuse_what_is_no_review(place: &Path) -> Result<(), PageError> {
    let refuse = |found: String| {
        Err(PageError::NotAReview {
            folder: place.to_path_buf(),
            found,
        })
    };
    let Ok(about) = fs::metadata(place) else {
        return Ok(());
    };
    if !about.is_dir() {
        return refuse("a file".into());
    }
    match fs::read_dir(place).map(|mut entries| entries.next().is_none()) {
        Err(e) => return refuse(format!("it cannot be looked into: {e}")),
        Ok(true) => return Ok(()),
        Ok(false) => {}
    }
    match fs::read_to_string(place.join(MARK)) {
        Err(_) => refuse("it holds other things and no review.json".into()),
        Ok(text) if is_ours(&text) => Ok(()),
        Ok(_) => refuse("its review.json is not of this program".into()),
    }
}

/// True where the text is JSON whose `format` is this program's.
fn is_ours(text: &str) -> bool {
    format_of(text).as_deref() == Some(FORMAT)
}

/// The key `format` of a JSON text.
fn format_of(text: &str) -> Option<String> {
    #[derive(serde::Deserialize)]
    struct Mark {
        format: String,
    }
    Some(serde_json::from_str::<Mark>(text).ok()?.format)
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
        assert_eq!(listing(dir.path()), ["paper.txt", "papers"]);
    }
}
