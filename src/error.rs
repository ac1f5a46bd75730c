//! What ends a run, with what to do about it.

use crate::findings::FindError;
use crate::intake::IntakeError;
use crate::invent::InventError;
use crate::measures::MeasureError;
use crate::pages::PageError;
use crate::settings::SettingsError;
use crate::settings::month::Month;

/// Why a command did not do what was asked.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// A setting cannot be used.
    #[error(transparent)]
    Settings(#[from] SettingsError),
    /// The exports cannot be read.
    #[error(transparent)]
    Intake(#[from] IntakeError),
    /// The measures cannot be made: a fault of this program.
    #[error(transparent)]
    Measures(#[from] MeasureError),
    /// The findings cannot be made: a fault of this program.
    #[error(transparent)]
    Findings(#[from] FindError),
    /// The review cannot be written.
    #[error(transparent)]
    Pages(#[from] PageError),
    /// The invented shop cannot be made.
    #[error(transparent)]
    Invent(#[from] InventError),
    /// A class or finish that neither jobs nor constants know.
    #[error("{what} {found}: not known here. There is: {known}.")]
    Unknown {
        /// The flag.
        what: &'static str,
        /// What was asked for.
        found: String,
        /// What there is.
        known: String,
    },
    /// A job that cannot be quoted.
    #[error("{what}")]
    Quote {
        /// What is wrong with it, and what to do.
        what: String,
    },
    /// The month asked for lies outside the data.
    #[error(
        "--month {asked}: the data hold jobs from {first} to {last}. Ask for one of these months, or leave --month out for the latest."
    )]
    NoSuchMonth {
        /// What was asked for.
        asked: Month,
        /// First month with a job.
        first: Month,
        /// Last month with a job.
        last: Month,
    },
}
