//! What the file system refused, and what to do about it.

use std::io::{Error, ErrorKind};
use std::path::PathBuf;

/// The file system refused. What stood at the place before still stands.
#[derive(Debug, thiserror::Error)]
#[error(
    "{}: {doing} failed ({source}). What stood there before still stands. {}",
    path.display(), advice(source.kind())
)]
pub struct DiskError {
    /// Where.
    pub path: PathBuf,
    /// What was being done.
    pub doing: &'static str,
    /// The operating system's word.
    pub source: Error,
}

/// What a person can do about it.
fn advice(kind: ErrorKind) -> &'static str {
    match kind {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => {
            "Make room there, or name a place on another disk, and run again."
        }
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            "Name a place that you may write to, or have this one opened to you, and run again."
        }
        ErrorKind::ResourceBusy => {
            "Another program or the system holds it: name a folder inside it, and run again."
        }
        ErrorKind::WouldBlock => "Wait until the other run has ended, and run again.",
        _ => "Mend that, or name another place, and run again.",
    }
}
