//! A draft of `shop.toml` out of headings and values alone: for each column
//! the field it seems to be, why, and how sure; units; the shop's words. It
//! guesses, says so, and writes no file.

mod fields;
mod guess;
mod sample;
mod vocabulary;
mod word_vocabulary;
mod words;
mod write;

use super::error::IntakeError;
use crate::settings::constants::Constants;
use crate::settings::contract::Table;
use guess::Served;
use std::collections::BTreeSet;
use std::path::Path;

/// How sure a guess is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sure {
    /// Somewhat: look at it.
    Somewhat,
    /// Fairly.
    Fairly,
    /// Name and values agree.
    Quite,
}

/// A column and the field that it seems to be.
#[derive(Debug, Clone, PartialEq)]
pub struct Guess {
    /// The table.
    pub table: Table,
    /// The field's canonical name.
    pub field: &'static str,
    /// The file.
    pub file: String,
    /// The column's heading.
    pub heading: String,
    /// How sure.
    pub sure: Sure,
    /// Why, in words.
    pub why: String,
    /// Other headings that it may be, best first.
    pub alternatives: Vec<String>,
}

/// A drafted `shop.toml`.
#[derive(Debug, Clone, PartialEq)]
pub struct Draft {
    /// The file's text, guesses explained in comments.
    pub text: String,
    /// The guesses, by table and field.
    pub guesses: Vec<Guess>,
    /// Files that no table was guessed for.
    pub unused: Vec<String>,
}

/// Drafts `shop.toml` for the exports of a folder. The classes of
/// `constants.toml`, where there is one, are what vehicle words are matched
/// to.
///
/// # Errors
/// No folder, or a file that cannot be read.
pub fn draft(folder: &Path) -> Result<Draft, IntakeError> {
    if !folder.is_dir() {
        let folder = folder.to_path_buf();
        return Err(if folder.exists() {
            IntakeError::NotAFolder { folder }
        } else {
            IntakeError::NoFolder { folder }
        });
    }
    let sheets = sample::sheets(folder)?;
    let served: Vec<Served> = guess::served(&sheets);
    Ok(write::draft(&sheets, &served, &classes(folder)))
}

/// Vehicle classes of the constants in force.
fn classes(folder: &Path) -> BTreeSet<String> {
    let constants = Constants::read(folder).unwrap_or_default();
    let last = constants.records.last();
    let keys = last.map(|r| r.minutes.keys().chain(r.full_area.keys()));
    keys.into_iter().flatten().cloned().collect()
}
