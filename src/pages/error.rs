//! What keeps a review from being written.

use std::path::PathBuf;

/// Nothing was written, or the earlier review still stands.
#[derive(Debug, thiserror::Error)]
pub enum PageError {
    /// The place is taken by something that is not a review.
    #[error(
        "{}: is not an earlier review ({found}), so it is left alone; expected an absent or empty folder, or one that holds a review.json of this program. Name another place with --out.",
        folder.display()
    )]
    NotAReview {
        /// The folder asked for.
        folder: PathBuf,
        /// What stands there.
        found: String,
    },
    /// An index page that is not this program's.
    #[error(
        "{}: is there already and is not of this program, so it is left alone. Name another place with --out.",
        path.display()
    )]
    NotAnIndex {
        /// The file.
        path: PathBuf,
    },
    /// A file that is not to be overwritten is there.
    #[error("{}: is there already and was left alone. Move it away, or print the new one without --write.", path.display())]
    Exists {
        /// The file.
        path: PathBuf,
    },
    /// The file system refused.
    #[error(transparent)]
    Disk(#[from] crate::disk::DiskError),
    /// A chart could not be drawn.
    #[error("the chart of section {section} could not be drawn: {source}")]
    Chart {
        /// The section.
        section: &'static str,
        /// Why.
        source: crate::charts::ChartError,
    },
    /// The template failed.
    #[error("the page could not be laid out: {0}")]
    Template(#[from] askama::Error),
    /// The next record of constants.toml could not be written.
    #[error(transparent)]
    Constants(#[from] crate::settings::SettingsError),
    /// A table could not be written.
    #[error("a table could not be written: {0}")]
    Csv(#[from] csv::Error),
    /// A figure that JSON cannot hold.
    #[error("review.json could not be written: {0}")]
    Json(#[from] serde_json::Error),
}
