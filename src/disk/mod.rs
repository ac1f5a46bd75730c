//! What is put on the disk: whole, or not at all.
//!
//! A file or folder is written beside its place under a name of this
//! program's own, then moved in; a run that is killed, or that finds the disk
//! full, leaves what stood there before. Runs that write to one place wait
//! for one another. What a killed run left beside a place is cleared by the
//! next that writes there.
//!
//! The disk's own cache is not forced out, but for [`Held::replace_file`]: a
//! review that a power cut ruins can be made again, a record of constants
//! cannot.

mod error;
mod folder;
mod hold;
mod place;

pub use error::DiskError;
pub use hold::Held;
pub use place::Place;

use std::path::PathBuf;

/// A file to write: its path within a folder, and its bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct File {
    /// Relative path, with `/`.
    pub path: String,
    /// Content.
    pub bytes: Vec<u8>,
}

/// Says of a path and an errand what the operating system refused.
fn failed(
    path: impl Into<PathBuf>,
    doing: &'static str,
) -> impl FnOnce(std::io::Error) -> DiskError {
    let path = path.into();
    move |source| DiskError {
        path,
        doing,
        source,
    }
}
