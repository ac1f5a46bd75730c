//! What ends a run, with what to do about it.

use crate::findings::FindError;
use crate::intake::IntakeError;
use crate::invent::InventError;
use crate::measures::MeasureError;
use crate::measures::cells::CellsError;
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
    /// Tables that were made elsewhere cannot be used.
    #[error(transparent)]
    Cells(#[from] CellsError),
    /// They were made for a month that is not the one asked for.
    #[error(
        "--month {asked}: the tables were made for {made_for}. Leave --month out, or run the queries for {asked}."
    )]
    CellsOfOtherMonth {
        /// What was asked for.
        asked: Month,
        /// The last month of their window.
        made_for: Month,
    },
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
    /// The year asked for lies outside the data.
    #[error(
        "--year {asked}: the data hold jobs from {first} to {last}. Ask for a year among these."
    )]
    NoSuchYear {
        /// What was asked for.
        asked: i32,
        /// First month with a job.
        first: Month,
        /// Last month with a job.
        last: Month,
    },
    /// A person of whom no page can be made.
    #[error("--person {asked}: {why}")]
    NoPerson {
        /// What was asked for.
        asked: String,
        /// What is wrong with it, and who is there.
        why: String,
    },
    /// Folders of one chain that count differently.
    #[error(
        "{what} of {first} and of {second} differ. One review counts by one rule: make them the same, or review each folder by itself."
    )]
    ChainSettings {
        /// What differs.
        what: &'static str,
        /// One folder.
        first: String,
        /// The other.
        second: String,
    },
    /// A shop that the exports do not have.
    #[error("--shop {asked}: no job is of that shop. {known}.")]
    NoShop {
        /// What was asked for.
        asked: String,
        /// What there is.
        known: String,
    },
    /// The review of one shop has no place of its own.
    #[error("--shop: --out says where the shop's own review goes")]
    ShopOut,
    /// The review of several folders has no place of its own.
    #[error("several folders: --out says where their review goes")]
    ChainOut,
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
