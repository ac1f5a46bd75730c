//! A place on the disk, with links followed, and the names beside it that this
//! program uses.

use super::error::DiskError;
use super::failed;
use std::ffi::{OsStr, OsString};
use std::fs;
use std::io::{Error, ErrorKind};
use std::path::{Path, PathBuf};

/// Where something is to stand: a name within a folder that is there.
///
/// Links are followed, so what a link leads to is replaced and the link stays.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    folder: PathBuf,
    name: OsString,
}

impl Place {
    /// The place that a path means; folders on the way to it are made.
    ///
    /// # Errors
    /// A path that has no name (`/`), a link that leads nowhere, a folder that
    /// cannot be made.
    pub fn of(path: &Path) -> Result<Self, DiskError> {
        let looking = "looking for the place";
        match fs::canonicalize(path) {
            Ok(real) => Self::named(&real)
                .ok_or_else(|| failed(path, looking)(not_a_name("it is no folder's content"))),
            Err(e) if e.kind() == ErrorKind::NotFound => Self::new(path),
            Err(e) => Err(failed(path, looking)(e)),
        }
    }

    /// A place where nothing stands yet.
    fn new(path: &Path) -> Result<Self, DiskError> {
        let looking = "looking for the place";
        if fs::symlink_metadata(path).is_ok() {
            return Err(failed(path, looking)(not_a_name("a link to nothing")));
        }
        let Some(name) = path.file_name() else {
            return Err(failed(path, looking)(not_a_name("no name is given")));
        };
        let above = match path.parent() {
            Some(p) if !p.as_os_str().is_empty() => p,
            _ => Path::new("."),
        };
        fs::create_dir_all(above).map_err(failed(above, "making the folder"))?;
        Ok(Self {
            folder: fs::canonicalize(above).map_err(failed(above, looking))?,
            name: name.to_os_string(),
        })
    }

    fn named(real: &Path) -> Option<Self> {
        Some(Self {
            folder: real.parent()?.to_path_buf(),
            name: real.file_name()?.to_os_string(),
        })
    }

    /// The content of a folder, which is made where it is not there: the place
    /// of files whose names are not this one's matter.
    ///
    /// # Errors
    /// A folder that cannot be made.
    pub fn within(folder: &Path) -> Result<Self, DiskError> {
        fs::create_dir_all(folder).map_err(failed(folder, "making the folder"))?;
        Ok(Self {
            folder: fs::canonicalize(folder).map_err(failed(folder, "looking for the place"))?,
            name: OsString::new(),
        })
    }

    /// The path, absolute.
    pub fn path(&self) -> PathBuf {
        self.folder.join(&self.name)
    }

    /// The folder that it lies in, absolute.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// A hidden name beside the place. Built of bytes as they are: two names
    /// that are no text must not meet in one.
    fn beside(&self, what: &str) -> OsString {
        let mut name = OsString::from(".");
        name.push(&self.name);
        name.push(what);
        name
    }

    /// How names of new files and folders begin.
    pub(super) fn new_prefix(&self) -> OsString {
        self.beside(".tallycoat-new-")
    }

    /// Where an earlier folder waits while a new one moves in.
    pub(super) fn old(&self) -> PathBuf {
        self.folder.join(self.beside(".tallycoat-old"))
    }

    /// The file that holds the place against other runs.
    pub(super) fn lock(&self) -> PathBuf {
        self.folder.join(self.beside(".tallycoat-lock"))
    }

    /// New files and folders that were left beside the place.
    pub(super) fn left_over(&self) -> Vec<PathBuf> {
        let prefix = self.new_prefix();
        let ours = |name: &OsStr| {
            let (name, prefix) = (name.as_encoded_bytes(), prefix.as_encoded_bytes());
            name.starts_with(prefix)
        };
        let entries = fs::read_dir(&self.folder).into_iter().flatten().flatten();
        let ours = entries.filter(|e| ours(&e.file_name()));
        ours.map(|e| e.path()).collect()
    }
}

fn not_a_name(why: &str) -> Error {
    Error::new(ErrorKind::InvalidInput, why)
}
