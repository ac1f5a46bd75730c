//! Holding a place against other runs, and writing there.

use super::error::DiskError;
use super::folder;
use super::place::Place;
use super::{File, failed};
use std::fs::{self, TryLockError};
use std::io::{self, ErrorKind, Write};
use std::path::Path;
use std::time::{Duration, Instant};
use tempfile::NamedTempFile;

/// How long another run is waited for. Writing a review takes milliseconds.
const PATIENCE: Duration = Duration::from_secs(60);
/// Between two looks at whether the other run has ended.
const PAUSE: Duration = Duration::from_millis(5);

/// A place that no other run writes to until this is dropped.
#[derive(Debug)]
pub struct Held {
    place: Place,
    // Named for its end: the file is removed, then closed, which unlocks it.
    _lock: Lock,
}

impl Place {
    /// Waits until no other run writes here, then clears what killed runs left.
    ///
    /// # Errors
    /// A folder that cannot be written to; another run that does not end.
    pub fn hold(self) -> Result<Held, DiskError> {
        let lock = Lock::take(&self)?;
        let held = Held {
            place: self,
            _lock: lock,
        };
        held.mend()?;
        Ok(held)
    }
}

impl Held {
    /// The path, absolute.
    pub fn path(&self) -> std::path::PathBuf {
        self.place.path()
    }

    /// Undoes what a run that was cut off left behind. What cannot be cleared
    /// is in nobody's way and is tried again next time.
    fn mend(&self) -> Result<(), DiskError> {
        let (path, old) = (self.place.path(), self.place.old());
        if old.is_dir() {
            if path.exists() {
                let _ = fs::remove_dir_all(&old);
            } else {
                fs::rename(&old, &path).map_err(failed(&old, "moving the earlier review back"))?;
            }
        }
        for left in self.place.left_over() {
            let _ = match left.is_dir() {
                true => fs::remove_dir_all(&left),
                false => fs::remove_file(&left),
            };
        }
        Ok(())
    }

    /// Puts a folder of `files` at the place, instead of the folder there. A
    /// reader finds the earlier folder or the new one, whole.
    ///
    /// # Errors
    /// Where the file system refuses; the earlier folder then still stands.
    pub fn replace_folder(&self, files: &[File]) -> Result<(), DiskError> {
        folder::replace(&self.place, files, folder::exchange)
    }

    /// Puts a file at the place, instead of the one there, whose permissions it
    /// takes, and has it on the disk before it moves in.
    ///
    /// # Errors
    /// Where the file system refuses; the earlier file then still stands.
    pub fn replace_file(&self, bytes: &[u8]) -> Result<(), DiskError> {
        let path = self.place.path();
        let new = self.written(&path, bytes)?;
        let writing = "writing the new file";
        new.as_file().sync_all().map_err(failed(&path, writing))?;
        if let Ok(earlier) = fs::metadata(&path) {
            fs::set_permissions(new.path(), earlier.permissions())
                .map_err(failed(&path, writing))?;
        }
        moved_in(new, &path)
    }

    /// Puts a file at the place; `false` where one is there, which stays.
    ///
    /// # Errors
    /// Where the file system refuses.
    pub fn new_file(&self, bytes: &[u8]) -> Result<bool, DiskError> {
        let path = self.place.path();
        match self.written(&path, bytes)?.persist_noclobber(&path) {
            Ok(_) => Ok(true),
            Err(e) if e.error.kind() == ErrorKind::AlreadyExists => Ok(false),
            Err(e) => Err(failed(path, "moving the new file in")(e.error)),
        }
    }

    /// Writes files into the held folder ([`Place::within`]): each replaces
    /// one of its own name, and none is touched before all are written.
    ///
    /// # Errors
    /// Where the file system refuses.
    pub fn write_files(&self, files: &[File]) -> Result<(), DiskError> {
        let mut new = Vec::with_capacity(files.len());
        for file in files {
            let path = self.place.folder().join(&file.path);
            new.push((self.written(&path, &file.bytes)?, path));
        }
        new.into_iter()
            .try_for_each(|(new, path)| moved_in(new, &path))
    }

    /// A new file beside the place with these bytes.
    fn written(&self, path: &Path, bytes: &[u8]) -> Result<NamedTempFile, DiskError> {
        let mut making = tempfile::Builder::new();
        let prefix = self.place.new_prefix();
        making.prefix(&prefix);
        // As any program's new file: what the user's mask leaves of it.
        #[cfg(unix)]
        making.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
        let mut new = making
            .tempfile_in(self.place.folder())
            .map_err(failed(self.place.folder(), "making a file there"))?;
        new.write_all(bytes)
            .map_err(failed(path, "writing the new file"))?;
        Ok(new)
    }
}

fn moved_in(new: NamedTempFile, path: &Path) -> Result<(), DiskError> {
    match new.persist(path) {
        Ok(_) => Ok(()),
        Err(e) => Err(failed(path, "moving the new file in")(e.error)),
    }
}

/// The file whose lock holds a place. A file system without locks holds
/// nothing: then the last run to write wins, still with whole files.
#[derive(Debug)]
struct Lock {
    path: std::path::PathBuf,
    _file: fs::File,
}

impl Drop for Lock {
    fn drop(&mut self) {
        // While it is still locked: who waits for it sees that it is gone.
        let _ = fs::remove_file(&self.path);
    }
}

impl Lock {
    fn take(place: &Place) -> Result<Self, DiskError> {
        let path = place.lock();
        let refused = || failed(place.folder(), "writing to the folder");
        let until = Instant::now() + PATIENCE;
        loop {
            let file = open(&path).map_err(refused())?;
            match file.try_lock() {
                Err(TryLockError::WouldBlock) if Instant::now() < until => {
                    std::thread::sleep(PAUSE);
                    continue;
                }
                Err(TryLockError::WouldBlock) => {
                    let doing = "waiting for another run that writes there";
                    return Err(failed(place.path(), doing)(ErrorKind::WouldBlock.into()));
                }
                Ok(()) | Err(TryLockError::Error(_)) => {}
            }
            if still_there(&file, &path).map_err(refused())? {
                return Ok(Self { path, _file: file });
            }
        }
    }
}

/// Opens the lock file, which another user may have made.
fn open(path: &Path) -> io::Result<fs::File> {
    let made = fs::File::options()
        .read(true)
        .write(true)
        .create(true)
        .truncate(false)
        .open(path);
    match made {
        Err(e) if e.kind() == ErrorKind::PermissionDenied => fs::File::open(path).map_err(|_| e),
        made => made,
    }
}

/// False where the run that held it has meanwhile removed it.
#[cfg(unix)]
fn still_there(file: &fs::File, path: &Path) -> io::Result<bool> {
    use std::os::unix::fs::MetadataExt;
    let now = match fs::metadata(path) {
        Ok(now) => now,
        Err(e) if e.kind() == ErrorKind::NotFound => return Ok(false),
        Err(e) => return Err(e),
    };
    let held = file.metadata()?;
    Ok((held.dev(), held.ino()) == (now.dev(), now.ino()))
}

/// Where files have no number of their own, an open one cannot be removed.
#[cfg(not(unix))]
fn still_there(_: &fs::File, path: &Path) -> io::Result<bool> {
    Ok(path.exists())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn listing(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).unwrap();
        let names = entries.map(|e| e.unwrap().file_name().to_string_lossy().into_owned());
        let mut names: Vec<String> = names.collect();
        names.sort();
        names
    }

    #[test]
    fn one_run_at_a_time_and_no_lock_left() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("counter");
        fs::write(&path, "0").unwrap();
        std::thread::scope(|s| {
            for _ in 0..4 {
                s.spawn(|| {
                    for _ in 0..25 {
                        let held = Place::of(&path).unwrap().hold().unwrap();
                        let n: u32 = fs::read_to_string(&path).unwrap().parse().unwrap();
                        held.replace_file((n + 1).to_string().as_bytes()).unwrap();
                    }
                });
            }
        });
        assert_eq!(fs::read_to_string(&path).unwrap(), "100");
        assert_eq!(listing(dir.path()), ["counter"]);
    }

    #[test]
    fn several_files_go_in_together_and_litter_goes_out() {
        let dir = tempfile::tempdir().unwrap();
        fs::write(dir.path().join("a"), "old").unwrap();
        fs::write(dir.path().join("..tallycoat-new-x1"), "cut off").unwrap();
        let file = |path: &str, text: &str| File {
            path: path.into(),
            bytes: text.into(),
        };
        let held = Place::within(dir.path()).unwrap().hold().unwrap();
        let blocked = [file("a", "new"), file("no/such/folder", "x")];
        assert!(held.write_files(&blocked).is_err());
        held.write_files(&[file("a", "newer"), file("b", "x")])
            .unwrap();
        drop(held);
        assert_eq!(fs::read_to_string(dir.path().join("a")).unwrap(), "newer");
        assert_eq!(listing(dir.path()), ["a", "b"]);
    }

    #[test]
    fn a_new_file_never_takes_the_place_of_another() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("shop.toml");
        let write = |text: &str| {
            let held = Place::of(&path).unwrap().hold().unwrap();
            held.new_file(text.as_bytes()).unwrap()
        };
        assert!(write("mine"));
        assert!(!write("yours"));
        assert_eq!(fs::read_to_string(&path).unwrap(), "mine");
        assert_eq!(listing(dir.path()), ["shop.toml"]);
    }
}
