//! Whether a file was written to while it was read: an export that another
//! program had not finished gives figures of half a month.

use super::bytes::Origin;
use super::error::IntakeError;
use super::sources::SourceFile;
use std::time::SystemTime;

/// A file's size and time of change, as its folder states them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Stamp {
    bytes: u64,
    changed: Option<SystemTime>,
}

impl Stamp {
    /// `None` of what is in memory, and of a file that cannot be asked: reading
    /// it says so.
    fn of(source: &SourceFile) -> Option<Self> {
        let Origin::Disk(path) = &source.origin else {
            return None;
        };
        let about = std::fs::metadata(path).ok()?;
        Some(Self {
            bytes: about.len(),
            changed: about.modified().ok(),
        })
    }
}

/// How files stood before they were read.
#[derive(Debug)]
pub(super) struct Before(Vec<Option<Stamp>>);

impl Before {
    pub(super) fn of(sources: &[SourceFile]) -> Self {
        Self(sources.iter().map(Stamp::of).collect())
    }

    /// Asks again, once everything is read.
    ///
    /// # Errors
    /// [`IntakeError::Changed`] at the first file that stands otherwise now.
    pub(super) fn still_so(&self, sources: &[SourceFile]) -> Result<(), IntakeError> {
        for (source, before) in sources.iter().zip(&self.0) {
            let now = Stamp::of(source);
            if now != *before {
                return Err(IntakeError::Changed {
                    file: source.name.clone(),
                    before: before.map_or(0, |s| s.bytes),
                    now: now.map(|s| s.bytes),
                });
            }
        }
        Ok(())
    }
}
