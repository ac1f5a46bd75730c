//! What the shop's words stand for.

use super::fields::words as split;
use super::sample::Column;
use super::word_vocabulary::{BODIES, LARGE, NO, YES, words};
use crate::settings::contract::{Field, Kind};
use std::collections::BTreeSet;

/// A word of the shop, how often it stands there, and what it seems to be.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct WordGuess {
    pub(super) theirs: String,
    pub(super) count: u64,
    /// `None`: to be assigned by hand.
    pub(super) ours: Option<String>,
}

/// Different words of a column that are listed at most.
const LISTED: usize = 40;

/// The words of a column that are not the contract's already.
pub(super) fn guesses(
    field: &Field,
    column: &Column,
    opposite: bool,
    classes: &BTreeSet<String>,
) -> Vec<WordGuess> {
    let Some(values) = column.few(LISTED) else {
        return Vec::new();
    };
    let classes_here = field.name == "vehicle_class" && !classes.is_empty();
    if words(field.name).is_empty() && field.kind != Kind::YesNo && !classes_here {
        return Vec::new();
    }
    let mut out = Vec::new();
    for (theirs, count) in values {
        let ours = match field.kind {
            _ if classes_here => class(theirs, classes),
            Kind::YesNo => yes_no(field.name, theirs, opposite),
            _ => listed(field.name, theirs),
        };
        let already = match &ours {
            Some(word) => *word == theirs.to_lowercase(),
            // The shop's own finish or film is a word like any other.
            None => field.kind == Kind::Text,
        };
        if !already {
            out.push(WordGuess {
                theirs: theirs.clone(),
                count: *count,
                ours,
            });
        }
    }
    out
}

fn yes_no(field: &str, theirs: &str, opposite: bool) -> Option<String> {
    let lower = theirs.to_lowercase();
    let plain = if YES.contains(&lower.as_str()) {
        Some("yes")
    } else if NO.contains(&lower.as_str()) {
        Some("no")
    } else {
        None
    };
    match plain {
        Some("yes") if opposite => Some("no".to_string()),
        Some(_) if opposite => Some("yes".to_string()),
        Some(word) => Some(word.to_string()),
        None => listed(field, theirs),
    }
}

/// The canonical word whose own words come closest; `None` where none or
/// several do.
fn listed(field: &str, theirs: &str) -> Option<String> {
    let scores = words(field).iter().map(|(ours, theirs_too)| {
        let best = theirs_too.iter().map(|w| alike(theirs, w));
        (
            best.fold(alike(theirs, &ours.replace('_', " ")), f64::max),
            *ours,
        )
    });
    only_best(scores)
}

fn only_best<'a>(scores: impl Iterator<Item = (f64, &'a str)>) -> Option<String> {
    let mut scores: Vec<(f64, &str)> = scores.filter(|(s, _)| *s > 0.25).collect();
    scores.sort_by(|a, b| b.0.total_cmp(&a.0));
    match scores.as_slice() {
        [] => None,
        [(_, word)] => Some((*word).to_string()),
        [(first, word), (second, _), ..] => (first > second).then(|| (*word).to_string()),
    }
}

/// How alike a shop's word and a known one are: the same, one within the
/// other, or an abbreviation.
fn alike(theirs: &str, known: &str) -> f64 {
    let lower = theirs.to_lowercase();
    if lower == known {
        return 1.0;
    }
    let (a, b) = (split(theirs), split(known));
    if a.is_empty() || b.is_empty() {
        return 0.0;
    }
    if a == b {
        return 0.98;
    }
    if b.iter().all(|w| a.contains(w)) {
        return 0.5 + 0.4 * b.len() as f64 / a.len() as f64;
    }
    match (a.as_slice(), b.as_slice()) {
        ([short], [long]) if abbreviates(short, long) => 0.4,
        _ => 0.0,
    }
}

/// `gls` for gloss: two to four letters, in order, from the first.
fn abbreviates(short: &str, long: &str) -> bool {
    let mut rest = long.chars();
    (2..=4).contains(&short.chars().count())
        && short.chars().next() == long.chars().next()
        && short.chars().all(|c| rest.any(|r| r == c))
}

/// The class of the constants that a vehicle word is.
fn class(theirs: &str, classes: &BTreeSet<String>) -> Option<String> {
    if let Some(same) = classes.iter().find(|c| split(c) == split(theirs)) {
        return Some(same.clone());
    }
    let (body, large) = body_of(theirs)?;
    let of_body = |c: &&String| body_of(c).is_some_and(|(b, _)| b == body);
    let of_size = |c: &&String| body_of(c).is_some_and(|(_, l)| l == large);
    let bodies: Vec<&String> = classes.iter().filter(of_body).collect();
    match bodies.as_slice() {
        [one] => Some((*one).clone()),
        several => {
            let mut sized = several.iter().filter(|c| of_size(c));
            let first = sized.next()?;
            sized.next().is_none().then(|| (**first).clone())
        }
    }
}

/// The body that a vehicle word names, and whether the larger size of it.
fn body_of(word: &str) -> Option<(&'static str, bool)> {
    let here = split(word);
    let holds = |phrase: &str| {
        let phrase = split(phrase);
        here.windows(phrase.len().max(1)).any(|w| w == phrase)
    };
    let body = BODIES
        .iter()
        .find(|(_, words)| words.iter().any(|w| holds(w)))?;
    Some((body.0, LARGE.iter().any(|w| holds(w))))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_matched_by_meaning_part_or_abbreviation() {
        for (field, theirs, ours) in [
            ("finish", "GLS", Some("gloss")),
            ("finish", "Matt", Some("matte")),
            ("finish", "Chrome", None),
            ("film", "Clear bra", Some("paint_protection")),
            ("sample", "Half-coated panel", Some("half_and_half")),
            ("cause", "Spot too thick", Some("high_spot")),
            ("condition", "Gone", Some("failed")),
        ] {
            assert_eq!(listed(field, theirs).as_deref(), ours, "{theirs}");
        }
    }

    #[test]
    fn yes_and_no_turn_round_under_an_opposite_heading() {
        assert_eq!(yes_no("excluded", "Yes", true).as_deref(), Some("no"));
        assert_eq!(yes_no("excluded", "Ja", false).as_deref(), Some("yes"));
        assert_eq!(yes_no("coated", "Bare", false).as_deref(), Some("no"));
        assert_eq!(yes_no("coated", "Purple", false), None);
    }

    #[test]
    fn vehicle_words_find_the_classes_of_the_constants() {
        let classes: BTreeSet<String> = ["suv", "suv_long", "pickup", "van"]
            .map(String::from)
            .into();
        let of = |word: &str| class(word, &classes);
        assert_eq!(of("SUV full size").as_deref(), Some("suv_long"));
        assert_eq!(of("SUV mid").as_deref(), Some("suv"));
        assert_eq!(of("Crew cab truck").as_deref(), Some("pickup"));
        assert_eq!(of("4-door"), None);
    }
}
