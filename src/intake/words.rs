//! A shop's own words for yes, no and the words of the contract.

use crate::settings::contract::{COATING_CAUSES, Field, Kind, Table};
use crate::settings::shop::Shop;
use std::collections::BTreeMap;

/// Words that read as yes or no without a setting.
const YES: [&str; 4] = ["yes", "y", "true", "1"];
const NO: [&str; 4] = ["no", "n", "false", "0"];

/// Usual causes of callbacks: those of coating work, then those of film.
const CAUSES: [&str; 8] = [
    COATING_CAUSES[0],
    COATING_CAUSES[1],
    COATING_CAUSES[2],
    COATING_CAUSES[3],
    COATING_CAUSES[4],
    "film_failure",
    "edge_lift",
    "other",
];

/// Usual words of fields that also take the shop's own.
pub(super) fn usual(field: &str) -> &'static [&'static str] {
    match field {
        "film" => &["colour_change", "printed", "paint_protection"],
        "finish" => &["gloss", "satin", "matte", "textured"],
        "cause" => &CAUSES,
        _ => &[],
    }
}

/// The words of one field: the shop's (lower case) and what they stand for.
#[derive(Debug, Clone, Default)]
pub struct Words {
    theirs: BTreeMap<String, String>,
}

/// What a word stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Meaning<'a> {
    /// Not recorded.
    Nothing,
    /// This word.
    Word(&'a str),
    /// A word outside the list.
    Unknown,
}

impl Words {
    /// The words of a field by the settings: those of "table.field" before
    /// those of the field, and those before `yes_no`.
    pub fn of(shop: &Shop, table: Table, field: &Field) -> Self {
        let mut theirs = BTreeMap::new();
        let yes_no = (field.kind == Kind::YesNo).then_some("yes_no");
        let qualified = format!("{table}.{}", field.name);
        for name in yes_no.into_iter().chain([field.name, &qualified]) {
            if let Some(map) = shop.words.get(name) {
                theirs.extend(map.iter().map(|(k, v)| (k.clone(), v.clone())));
            }
        }
        Self { theirs }
    }

    /// True where the settings name no word.
    pub fn is_empty(&self) -> bool {
        self.theirs.is_empty()
    }

    fn mapped<'a>(&'a self, cell: &str) -> Option<&'a str> {
        if self.theirs.is_empty() {
            return None;
        }
        self.theirs
            .get(&cell.trim().to_lowercase())
            .map(String::as_str)
    }

    /// Yes or no.
    pub fn yes_no(&self, cell: &str) -> Meaning<'static> {
        let word = self.mapped(cell).unwrap_or(cell);
        let is = |list: &[&str]| list.iter().any(|w| w.eq_ignore_ascii_case(word));
        if word.is_empty() {
            Meaning::Nothing
        } else if is(&YES) {
            Meaning::Word("yes")
        } else if is(&NO) {
            Meaning::Word("no")
        } else {
            Meaning::Unknown
        }
    }

    /// A word of a closed list.
    pub fn listed(&self, cell: &str, list: &'static [&'static str]) -> Meaning<'static> {
        let word = self.mapped(cell).unwrap_or(cell);
        if word.is_empty() {
            return Meaning::Nothing;
        }
        match list.iter().find(|w| same_word(w, word)) {
            Some(word) => Meaning::Word(word),
            None => Meaning::Unknown,
        }
    }

    /// A word of an open list: what the settings say, else the usual word
    /// that it spells, else itself.
    pub fn open<'a>(&'a self, cell: &'a str, field: &str) -> Meaning<'a> {
        let word = self.mapped(cell).unwrap_or(cell);
        if word.is_empty() {
            return Meaning::Nothing;
        }
        let usual = usual(field).iter().find(|w| same_word(w, word));
        Meaning::Word(usual.copied().unwrap_or(word))
    }
}

/// True where `word` spells `canonical` in any case, with blanks or hyphens
/// for underscores.
fn same_word(canonical: &str, word: &str) -> bool {
    canonical.len() == word.len()
        && canonical
            .bytes()
            .zip(word.bytes())
            .all(|(c, w)| c == w.to_ascii_lowercase() || (c == b'_' && matches!(w, b' ' | b'-')))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::contract::SAMPLE;

    fn words(pairs: &[(&str, &str)]) -> Words {
        Words {
            theirs: pairs
                .iter()
                .map(|(a, b)| (a.to_string(), b.to_string()))
                .collect(),
        }
    }

    #[test]
    fn yes_and_no_in_the_shops_own_words() {
        let own = words(&[("oui", "yes"), ("-", "")]);
        assert_eq!(own.yes_no("OUI"), Meaning::Word("yes"));
        assert_eq!(own.yes_no("-"), Meaning::Nothing);
        assert_eq!(own.yes_no("No"), Meaning::Word("no"));
        assert_eq!(own.yes_no("maybe"), Meaning::Unknown);
    }

    #[test]
    fn closed_lists_refuse_and_open_ones_keep_other_words() {
        let none = words(&[]);
        assert_eq!(none.listed("Full pair", SAMPLE), Meaning::Word("full_pair"));
        assert_eq!(none.listed("pair", SAMPLE), Meaning::Unknown);
        assert_eq!(none.open("Gloss", "finish"), Meaning::Word("gloss"));
        assert_eq!(none.open("Chrome", "finish"), Meaning::Word("Chrome"));
        assert_eq!(
            none.open("Colour change", "film"),
            Meaning::Word("colour_change")
        );
        let own = words(&[("gls", "gloss")]);
        assert_eq!(own.open("GLS", "finish"), Meaning::Word("gloss"));
    }
}
