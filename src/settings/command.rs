//! The command line, from raw flags to checked values.

use super::error::SettingsError;
use super::month::Month;
use clap::{Args, Parser, Subcommand};
use std::path::PathBuf;

/// Monthly review of coating add-on jobs, from a shop's CSV exports.
#[derive(Debug, Parser)]
#[command(name = "tallycoat", version, about, max_term_width = 90)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Read a folder of exports and write the month's review
    Review(ReviewArgs),
    /// Read a folder of exports and account for every line, writing nothing
    Check(CheckArgs),
    /// Make an invented shop with a known truth, for trials and tests
    Invent(InventArgs),
}

/// Flags of `review`.
#[derive(Debug, Clone, Args)]
pub struct ReviewArgs {
    /// Folder that holds the exports
    pub folder: PathBuf,
    /// Month to review, as 2026-10 [default: the latest in the data]
    #[arg(long, value_name = "YYYY-MM", value_parser = parse_month)]
    pub month: Option<Month>,
    /// Where to put the review [default: FOLDER/reviews/YYYY-MM]
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Exit with status 3 where any line was put aside
    #[arg(long)]
    pub strict: bool,
}

/// Flags of `check`.
#[derive(Debug, Clone, Args)]
pub struct CheckArgs {
    /// Folder that holds the exports
    pub folder: PathBuf,
    /// Print JSON for machines
    #[arg(long)]
    pub json: bool,
    /// Exit with status 3 where any line was put aside
    #[arg(long)]
    pub strict: bool,
}

/// Flags of `invent`; what is left out is as in demo-data/film-shop.
#[derive(Debug, Clone, Args)]
pub struct InventArgs {
    /// Folder to make, or one that was invented before
    pub folder: PathBuf,
    /// Film jobs in all [default: 1200]
    #[arg(long, value_name = "N")]
    pub jobs: Option<u64>,
    /// Months that they span [default: 24]
    #[arg(long, value_name = "N")]
    pub months: Option<u32>,
    /// Shops [default: 1]
    #[arg(long, value_name = "N")]
    pub shops: Option<u32>,
    /// People of a shop who apply the coating
    #[arg(long, value_name = "N")]
    pub people: Option<u32>,
    /// Same seed and plan, same bytes
    #[arg(long, value_name = "N")]
    pub seed: Option<u64>,
    /// Share of coated jobs whose use is written down [default: 0.9]
    #[arg(long, value_name = "SHARE")]
    pub measured_share: Option<f64>,
    /// What a bottle holds, in mL
    #[arg(long, value_name = "ML")]
    pub bottle_ml: Option<f64>,
}

fn parse_month(text: &str) -> Result<Month, String> {
    Month::parse(text)
        .ok_or_else(|| SettingsError::Month { found: text.into() })
        .map_err(|e| e.to_string())
}
