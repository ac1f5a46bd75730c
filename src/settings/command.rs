//! The command line, from raw flags to checked values.

use super::error::SettingsError;
use super::month::Month;
use clap::{Args, Parser, Subcommand};
use std::path::{Path, PathBuf};

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
    /// Draft shop.toml from the headings and values of a folder of exports
    Map(MapArgs),
    /// Hold every planning figure against the records, and adopt the better ones
    Recalibrate(RecalibrateArgs),
    /// What a job to come takes and costs, and where each number comes from
    Quote(QuoteArgs),
    /// Write what the queries give as CSV, for a review with --cells
    Cells(CellsArgs),
    /// Make an invented shop with a known truth, for trials and tests
    Invent(InventArgs),
}

impl Command {
    /// The folders that it reads.
    pub fn folders(&self) -> Vec<&Path> {
        let (folder, more): (_, [&[PathBuf]; 2]) = match self {
            Self::Review(args) => (&args.folder, [&args.more, &args.cells]),
            Self::Cells(args) => (&args.folder, [&args.more, &[]]),
            Self::Check(args) => (&args.folder, [&[], &[]]),
            Self::Map(args) => (&args.folder, [&[], &[]]),
            Self::Recalibrate(args) => (&args.folder, [&[], &[]]),
            Self::Quote(args) => (&args.folder, [&[], &[]]),
            Self::Invent(_) => return Vec::new(),
        };
        let all = std::iter::once(folder).chain(more.into_iter().flatten());
        all.map(PathBuf::as_path).collect()
    }
}

/// The most months that one run reviews: ten years.
const MOST_MONTHS: i64 = 120;

/// Flags of `review`.
#[derive(Debug, Clone, Default, Args)]
pub struct ReviewArgs {
    /// Folder that holds the exports
    pub folder: PathBuf,
    /// Further folders, each of other shops of one chain: one review of all of them, in --out. A shop
    /// that its exports do not name bears its folder's name
    #[arg(value_name = "FOLDER", requires = "out", conflicts_with = "cells")]
    pub more: Vec<PathBuf>,
    /// Month to review, as 2026-10 [default: the latest in the data]
    #[arg(long, value_name = "YYYY-MM", value_parser = parse_month)]
    pub month: Option<Month>,
    /// Review that many months, up to --month, and write an index page of them
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=MOST_MONTHS))]
    pub months: Option<u16>,
    /// Review every month of a year, and write an index page of them
    #[arg(long, value_name = "YYYY", conflicts_with_all = ["month", "months"],
          value_parser = clap::value_parser!(i32).range(1..=9999))]
    pub year: Option<i32>,
    /// Where to put the review, or with --months and --year the folder that holds one for each
    /// month [default: FOLDER/reviews/YYYY-MM]
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Review tables that the queries gave elsewhere, in place of FOLDER's exports; again for each
    /// part of a chain. FOLDER then holds the settings alone
    #[arg(long, value_name = "DIR", conflicts_with_all = ["months", "year"])]
    pub cells: Vec<PathBuf>,
    /// Also write a page to show to this person, person-CODE.html beside review.html; again for
    /// others. Where there are several shops: SHOP/CODE
    #[arg(long, value_name = "CODE", conflicts_with_all = ["months", "year"])]
    pub person: Vec<String>,
    /// Review this shop alone, in --out, with a line on how it stands within its chain
    #[arg(long, value_name = "NAME", requires = "out", conflicts_with = "cells")]
    pub shop: Option<String>,
    /// Exit with status 3 where any line was put aside
    #[arg(long)]
    pub strict: bool,
}

/// Flags of `cells`.
#[derive(Debug, Clone, Default, Args)]
pub struct CellsArgs {
    /// Folder that holds the exports
    pub folder: PathBuf,
    /// Further folders, each of other shops of one chain
    #[arg(value_name = "FOLDER")]
    pub more: Vec<PathBuf>,
    /// Month of the review to come, as 2026-10 [default: the latest in the data]
    #[arg(long, value_name = "YYYY-MM", value_parser = parse_month)]
    pub month: Option<Month>,
    /// Where to put the tables
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
}

/// Flags of `recalibrate`.
#[derive(Debug, Clone, Args)]
pub struct RecalibrateArgs {
    /// Folder that holds the exports
    pub folder: PathBuf,
    /// Month up to which to look, as 2026-10 [default: the latest in the data]
    #[arg(long, value_name = "YYYY-MM", value_parser = parse_month)]
    pub month: Option<Month>,
    /// Add the new record to constants.toml
    #[arg(long)]
    pub adopt: bool,
    /// Print JSON for machines
    #[arg(long)]
    pub json: bool,
    /// Write constants-proposed.toml, constants.csv and constants.json there
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
}

/// Flags of `quote`.
#[derive(Debug, Clone, Args)]
pub struct QuoteArgs {
    /// Folder that holds the exports
    pub folder: PathBuf,
    /// Vehicle class
    #[arg(long)]
    pub class: String,
    /// Finish and its film area, in m2, or in ft2 where the page's units are us; again for two-tone
    /// work. One may come without an area and takes what is left of the class's full area
    #[arg(long, value_name = "FINISH[=AREA]", required = true, value_parser = parse_finish)]
    pub finish: Vec<FinishArg>,
    /// Month up to which to look, as 2026-10 [default: the latest in the data]
    #[arg(long, value_name = "YYYY-MM", value_parser = parse_month)]
    pub month: Option<Month>,
    /// Print JSON for machines
    #[arg(long)]
    pub json: bool,
}

/// A finish of the job to quote.
#[derive(Debug, Clone, PartialEq)]
pub struct FinishArg {
    /// The finish.
    pub finish: String,
    /// Its film area, in the unit of the page.
    pub area: Option<f64>,
}

fn parse_finish(text: &str) -> Result<FinishArg, String> {
    let Some((finish, area)) = text.rsplit_once('=') else {
        return Ok(FinishArg {
            finish: text.to_string(),
            area: None,
        });
    };
    let number: Option<f64> = area.trim().parse().ok();
    match number.filter(|x| x.is_finite() && *x > 0.0 && *x < 1.0e6) {
        Some(x) => Ok(FinishArg {
            finish: finish.trim().to_string(),
            area: Some(x),
        }),
        None => Err(format!(
            "the area is {area:?}; expected a number above 0, as in matte=14.5"
        )),
    }
}

/// Flags of `check`.
#[derive(Debug, Clone, Args)]
pub struct CheckArgs {
    /// Folder that holds the exports
    pub folder: PathBuf,
    /// Print JSON for machines
    #[arg(long)]
    pub json: bool,
    /// Print a Data Package (version 2) with Table Schemas of the files
    #[arg(long, conflicts_with = "json")]
    pub descriptor: bool,
    /// Exit with status 3 where any line was put aside
    #[arg(long)]
    pub strict: bool,
}

/// Flags of `map`.
#[derive(Debug, Clone, Args)]
pub struct MapArgs {
    /// Folder that holds the exports
    pub folder: PathBuf,
    /// Write the draft as FOLDER/shop.toml, where there is none yet
    #[arg(long)]
    pub write: bool,
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_folder_that_a_command_reads_is_among_its_folders() {
        let read = |line: &str| {
            let cli = Cli::try_parse_from(line.split(' ')).unwrap();
            let folders = cli.command.folders();
            folders
                .iter()
                .map(|f| f.to_string_lossy())
                .collect::<Vec<_>>()
                .join(" ")
        };
        assert_eq!(read("tallycoat review a b c --out d"), "a b c");
        assert_eq!(read("tallycoat review a --cells b --cells c"), "a b c");
        assert_eq!(read("tallycoat cells a b --out c"), "a b");
        for command in ["review", "check", "map", "recalibrate", "quote"] {
            let more = if command == "quote" {
                " --class van --finish gloss"
            } else {
                ""
            };
            assert_eq!(read(&format!("tallycoat {command} a{more}")), "a");
        }
        assert_eq!(read("tallycoat invent a"), "", "it only writes there");
    }
}
