//! The index page of several months' reviews: the trend of the four figures,
//! and the way to each month's page.

mod figure;
mod json;

use super::error::PageError;
use super::format::{Format, date, month};
use super::render;
use super::sections::Section;
use super::view::{SectionView, Sentence, sentence};
use crate::disk::File;
use crate::findings::year::{FIGURES, YearMonth};
use crate::settings::month::Month;
use chrono::NaiveDate;

/// The index page's name.
pub const PAGE: &str = "index.html";
/// The same for machines; marks the folder's index as this program's.
pub const MARK: &str = "index.json";
/// What the mark's key `format` says.
pub const FORMAT: &str = "tallycoat-year";

/// What an index is made of.
#[derive(Debug, Clone)]
pub struct Index {
    /// Stands over the title.
    pub shop_name: Option<String>,
    /// Version of the program.
    pub version: &'static str,
    /// The data's last day.
    pub data_until: Option<NaiveDate>,
    /// The data's first month.
    pub data_from: Option<Month>,
    /// The months reviewed, without gaps, oldest first.
    pub months: Vec<IndexMonth>,
}

/// A month of an index.
#[derive(Debug, Clone)]
pub struct IndexMonth {
    /// The month.
    pub month: Month,
    /// The plain sentence on it.
    pub lead: String,
    /// Its four figures.
    pub figures: YearMonth,
}

/// An index page, as the template prints it.
#[derive(Debug, Clone)]
pub struct IndexView {
    /// Title of the document.
    pub title: String,
    /// Line over the heading: the shop.
    pub kicker: String,
    /// The heading.
    pub h1: String,
    /// Under the heading.
    pub cover: Sentence,
    /// The months, newest first.
    pub months: Vec<MonthLink>,
    /// A section for each figure.
    pub sections: Vec<SectionView>,
    /// How to read the page.
    pub how_to_read: Vec<Sentence>,
    /// Last line.
    pub footer: Sentence,
}

/// The way to a month's page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MonthLink {
    /// "October 2026".
    pub name: String,
    /// Its page, from here.
    pub href: String,
    /// What the month says.
    pub lead: String,
}

/// A month's page, from the index.
fn place(month: Month) -> String {
    format!("{month}/review.html")
}

/// The files of an index: the page, and the same for machines.
///
/// # Errors
/// Where a chart cannot be drawn or the template fails.
pub fn files(index: &Index, f: &Format) -> Result<Vec<File>, PageError> {
    let view = view(index, f)?;
    Ok(vec![
        File {
            path: MARK.into(),
            bytes: json::index(index, f)?,
        },
        File {
            path: PAGE.into(),
            bytes: render::index(&view)?.into_bytes(),
        },
    ])
}

fn span(index: &Index) -> String {
    let name = |m: Option<&IndexMonth>| m.map_or_else(String::new, |m| month(m.month.first()));
    match (index.months.first(), index.months.last()) {
        (Some(first), Some(last)) if first.month < last.month => {
            format!("{} to {}", name(Some(first)), name(Some(last)))
        }
        (_, last) => name(last),
    }
}

fn view(index: &Index, f: &Format) -> Result<IndexView, PageError> {
    let span = span(index);
    let sections: Result<Vec<Section>, PageError> = (FIGURES.into_iter().enumerate())
        .map(|(i, of)| figure::section(index, i, of, f))
        .collect();
    let link = |m: &IndexMonth| MonthLink {
        name: month(m.month.first()),
        href: place(m.month),
        lead: m.lead.clone(),
    };
    Ok(IndexView {
        title: format!("Coating reviews, {span}"),
        kicker: index.shop_name.clone().unwrap_or_default(),
        h1: format!("Coating reviews: {span}"),
        cover: cover(index, f),
        months: index.months.iter().rev().map(link).collect(),
        sections: sections?.into_iter().map(|s| s.view).collect(),
        how_to_read: how_to_read(),
        footer: sentence(&format!(
            "Made by tallycoat {}. The page needs no network; its links lead to the months' pages beside it.",
            index.version
        )),
    })
}

fn cover(index: &Index, f: &Format) -> Sentence {
    let months = index.months.len() as u64;
    let silent = index.months.iter().filter(|m| m.figures.finished == 0);
    let without = match silent.count() as u64 {
        0 => String::new(),
        n => format!(
            " In {} no film job was finished.",
            f.count_of(n, "month", "months")
        ),
    };
    let first = index.months.first().map(|m| m.month);
    let begins = match index.data_from {
        Some(from) if Some(from) == first => format!(" The data begin in {}.", month(from.first())),
        _ => String::new(),
    };
    let until =
        (index.data_until).map_or_else(String::new, |d| format!(" Data until {}.", date(d)));
    sentence(&format!(
        "{}.{without}{begins}{until}",
        f.count_of(months, "month", "months")
    ))
}

fn how_to_read() -> Vec<Sentence> {
    [
        "**The months.** Each mark is a month; the stroke through it shows where the true figure likely lies. The gray band shows where the month falls when nothing has changed since the months before it; it is drawn for each month as that month's own page has it, so it moves as the usual does. The first months have few before them, so their band is wide or missing.",
        "**The words.** Real change: outside the band. Probably real: inside, but further from the usual than luck explains well. Could be luck: within ordinary ups and downs. Four figures are looked at each month, and this is allowed for; over a year, about one figure of one month is still called probably real where nothing has changed.",
        "**The same work.** Coating used and hands-on time are compared on the same work: the usual of a month is what its own jobs would have taken in the months before, so a month of large vehicles is no change.",
    ]
    .map(sentence)
    .to_vec()
}
