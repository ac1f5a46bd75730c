//! A folder that takes the place of another.

use super::error::DiskError;
use super::place::Place;
use super::{File, failed};
use std::collections::BTreeSet;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// Writes `files` into a new folder beside the place and moves it in;
/// `exchange` swaps two folders in one step, or says that it cannot.
pub(super) fn replace(
    place: &Place,
    files: &[File],
    exchange: impl Fn(&Path, &Path) -> io::Result<bool>,
) -> Result<(), DiskError> {
    let new = made(place)?;
    let mut folders = BTreeSet::new();
    for file in files {
        write(new.path(), &place.path(), file, &mut folders)?;
    }
    let to = place.path();
    let Ok(earlier) = fs::metadata(&to) else {
        return fs::rename(new.path(), &to).map_err(failed(&to, "moving the new folder in"));
    };
    fs::set_permissions(new.path(), earlier.permissions())
        .map_err(failed(&to, "keeping the permissions"))?;
    if exchange(new.path(), &to).map_err(failed(&to, "moving the new folder in"))? {
        // The new name now holds the earlier folder. It is in nobody's way:
        // where it cannot be cleared, the next run tries again.
        let _ = new.close();
        return Ok(());
    }
    in_two_steps(place, &new)
}

/// A new folder, open to whom the user's mask leaves it.
fn made(place: &Place) -> Result<TempDir, DiskError> {
    let mut making = tempfile::Builder::new();
    let prefix = place.new_prefix();
    making.prefix(&prefix);
    #[cfg(unix)]
    making.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o777));
    making
        .tempdir_in(place.folder())
        .map_err(failed(place.folder(), "making a folder there"))
}

/// Writes a file below `folder`; `folders` are those that are there for it.
fn write(
    folder: &Path,
    place: &Path,
    file: &File,
    folders: &mut BTreeSet<PathBuf>,
) -> Result<(), DiskError> {
    let path = folder.join(&file.path);
    // Said of the file as it would stand, not of its passing name.
    let writing = || failed(place.join(&file.path), "writing");
    if let Some(above) = path.parent().filter(|above| !folders.contains(*above)) {
        fs::create_dir_all(above).map_err(writing())?;
        folders.insert(above.to_path_buf());
    }
    fs::write(&path, &file.bytes).map_err(writing())
}

/// Moves the earlier folder aside and the new one in; a run that is cut off
/// between the two is mended by the next.
fn in_two_steps(place: &Place, new: &TempDir) -> Result<(), DiskError> {
    let (to, old) = (place.path(), place.old());
    fs::rename(&to, &old).map_err(failed(&to, "moving the earlier folder aside"))?;
    if let Err(source) = fs::rename(new.path(), &to) {
        fs::rename(&old, &to).map_err(failed(&old, "moving the earlier folder back"))?;
        return Err(failed(to, "moving the new folder in")(source));
    }
    let _ = fs::remove_dir_all(&old);
    Ok(())
}

/// Swaps two names in one step; `false` where the file system cannot.
#[cfg(target_os = "linux")]
pub(super) fn exchange(a: &Path, b: &Path) -> io::Result<bool> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    use rustix::io::Errno;
    match renameat_with(CWD, a, CWD, b, RenameFlags::EXCHANGE) {
        Ok(()) => Ok(true),
        // Not in this kernel, or not on this file system.
        Err(Errno::NOSYS | Errno::INVAL | Errno::NOTSUP) => Ok(false),
        Err(e) => Err(e.into()),
    }
}

#[cfg(not(target_os = "linux"))]
pub(super) fn exchange(_: &Path, _: &Path) -> io::Result<bool> {
    Ok(false)
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

    fn listing(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).unwrap();
        let names = entries.map(|e| e.unwrap().file_name().to_string_lossy().into_owned());
        let mut names: Vec<String> = names.collect();
        names.sort();
        names
    }

    /// In one step, and in two where that cannot be.
    #[test]
    fn a_folder_takes_the_place_of_another_whole() {
        for one_step in [true, false] {
            let dir = tempfile::tempdir().unwrap();
            let place = Place::of(&dir.path().join("r")).unwrap();
            let swap = |a: &Path, b: &Path| if one_step { exchange(a, b) } else { Ok(false) };
            let first = [file("a/b", "one"), file("gone", "x")];
            replace(&place, &first, swap).unwrap();
            replace(&place, &[file("a/b", "two")], swap).unwrap();
            let read = fs::read_to_string(place.path().join("a/b")).unwrap();
            assert_eq!(read, "two");
            assert_eq!(listing(&place.path()), ["a"]);
            assert_eq!(listing(dir.path()), ["r"], "one step: {one_step}");
        }
    }

    /// Whether this runs in one step here at all.
    #[cfg(target_os = "linux")]
    #[test]
    fn two_folders_change_names_in_one_step() {
        let dir = tempfile::tempdir().unwrap();
        let (a, b) = (dir.path().join("a"), dir.path().join("b"));
        fs::create_dir(&a).unwrap();
        fs::create_dir(&b).unwrap();
        fs::write(a.join("of a"), "").unwrap();
        if !exchange(&a, &b).unwrap() {
            eprintln!("skipped: this file system swaps no names");
            return;
        }
        assert_eq!(listing(&b), ["of a"]);
        assert!(listing(&a).is_empty());
    }

    #[test]
    fn a_run_cut_off_between_two_steps_is_mended_by_the_next() {
        let dir = tempfile::tempdir().unwrap();
        let place = || Place::of(&dir.path().join("r")).unwrap();
        let one = [file("a", "one")];
        place().hold().unwrap().replace_folder(&one).unwrap();
        fs::rename(place().path(), place().old()).unwrap();
        fs::create_dir(dir.path().join(".r.tallycoat-new-abc")).unwrap();
        fs::write(dir.path().join(".r.tallycoat-lock"), "").unwrap();
        drop(place().hold().unwrap());
        assert_eq!(fs::read_to_string(dir.path().join("r/a")).unwrap(), "one");
        assert_eq!(listing(dir.path()), ["r"]);
    }

    #[test]
    fn a_link_stays_and_what_it_leads_to_is_replaced() {
        #[cfg(unix)]
        {
            let dir = tempfile::tempdir().unwrap();
            let (real, link) = (dir.path().join("real"), dir.path().join("link"));
            fs::create_dir(&real).unwrap();
            std::os::unix::fs::symlink(&real, &link).unwrap();
            let place = Place::of(&link).unwrap();
            replace(&place, &[file("a", "x")], exchange).unwrap();
            assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
            assert_eq!(listing(&real), ["a"]);
            fs::remove_dir_all(&real).unwrap();
            let said = Place::of(&link).unwrap_err().to_string();
            assert!(said.contains("a link to nothing"), "{said}");
        }
    }
}
