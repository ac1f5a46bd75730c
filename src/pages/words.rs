//! Words for certainty and for what is missing, in one place. How sure a
//! change is was decided in the findings; here it is only said.

use super::format::{Format, list};
use super::view::Piece;
use crate::estimate::NotEnough;
use crate::findings::certainty::{Certainty, Change};
use crate::findings::{Lacking, Missing};
use crate::settings::month::Month;

/// How sure a change is, in a word or two.
pub(super) fn sure_word(certainty: Certainty) -> &'static str {
    match certainty {
        Certainty::Outside => "Real change",
        Certainty::Likely => "Probably real",
        Certainty::Luck => "Could be luck",
        Certainty::TooFew => "Too few jobs to say",
        Certainty::NoUsual => "Nothing to compare with yet",
    }
}

/// The same under a figure of the first screen, with what to do about it.
pub(super) fn certainty_word(certainty: Certainty) -> String {
    let word = sure_word(certainty);
    match certainty {
        Certainty::Outside => format!("{word}: find out why"),
        Certainty::Likely => format!("{word}: watch it"),
        Certainty::Luck => format!("{word}: leave alone"),
        Certainty::TooFew | Certainty::NoUsual => word.into(),
    }
}

/// The sentence that goes with it.
pub(super) fn certainty_sentence(certainty: Certainty) -> &'static str {
    match certainty {
        Certainty::Outside => {
            "That is outside the usual range: a real change, so look for the cause."
        }
        Certainty::Likely => {
            "That is probably real, though within the usual range: the month is held against all earlier ones together, and one month inside its range is seldom reason to act. See whether it holds next month."
        }
        Certainty::Luck => "That could be luck: the month by itself is nothing to act on.",
        Certainty::NoUsual => "There is no earlier month to compare with.",
        Certainty::TooFew => "There are too few jobs this month to say whether it moved.",
    }
}

/// "48% in September", where there is one.
pub(super) fn before(change: &Change, month: Month, say: impl Fn(f64) -> String) -> String {
    let name = super::format::month_name(month.plus(-1).first());
    change
        .before
        .map_or_else(String::new, |x| format!("{} in {name}", say(x)))
}

/// "usual 31%", where there is one.
pub(super) fn usual(change: &Change, say: impl Fn(f64) -> String) -> String {
    change
        .usual
        .map_or_else(String::new, |x| format!("usual {}", say(x)))
}

/// "not enough yet (3 of 10 coated jobs)", "no coated jobs yet".
pub(super) fn missing(n: &NotEnough, f: &Format) -> String {
    let of = counted(&n.of);
    match (n.have, n.need) {
        (0, 1) => format!("no {of} yet"),
        (have, need) => format!(
            "not enough yet ({} of {} {of})",
            f.count(have),
            f.count(need)
        ),
    }
}

/// What is counted, for readers: a fit names it by its own words.
fn counted(of: &str) -> &str {
    match of {
        "columns of the design" | "rows of the design" | "covariates" => "jobs that tell it apart",
        "observations"
        | "new observations"
        | "rows"
        | "trials"
        | "values"
        | "rows with something in them"
        | "rows on either side" => "records",
        "strata" => "kinds of work that tell",
        "strata with offers in both groups" => "kinds of work that were shown both ways",
        "failures before the horizon" => "failures early enough",
        "failures in each group before the horizon" => "failures of each group early enough",
        "jobs at risk at the horizon" => "jobs followed long enough",
        "groups at risk when a job failed" => "groups still followed when a film failed",
        "fits of the coating used" => "finishes whose use is known",
        other => other,
    }
}

/// The same as a sentence.
pub(super) fn sentence_missing(n: &NotEnough, f: &Format) -> String {
    format!("{}.", capital(missing(n, f)))
}

/// With a capital first.
pub(super) fn capital(mut text: String) -> String {
    text.get_mut(..1).map(str::make_ascii_uppercase);
    text
}

/// The same, short, for a cell.
pub(super) fn missing_short(n: &NotEnough, f: &Format) -> String {
    let of = counted(&n.of);
    match (n.have, n.need) {
        (0, 1) => format!("no {of} yet"),
        (0, need) => format!("needs {} {of}", f.count(need)),
        (have, need) if have < need => format!(
            "needs {} more ({} of {} {of})",
            f.count(need - have),
            f.count(have),
            f.count(need)
        ),
        _ => "not enough yet".into(),
    }
}

/// Why a section has nothing to say, as a sentence.
pub(super) fn why_missing(why: &Missing, f: &Format) -> String {
    match why {
        Missing::TooFew(n) => sentence_missing(n, f),
        Missing::NoPrice(Lacking::CoatingCost) => {
            "The price of the coating is not known: add the bottles (volume and cost), or cost_per_ml in constants.toml.".into()
        }
        Missing::NoPrice(Lacking::Wage) => {
            "The cost of an hour is not known: add hourly_cost to the people, or to constants.toml.".into()
        }
        Missing::NoPrice(Lacking::Constants) => {
            "What quotes assume is not known: add constants.toml.".into()
        }
    }
}

/// Shop words in a row, as a piece: they are data, not markup.
pub(super) fn shop_words(words: &[String]) -> Piece {
    Piece::text(list(words))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::money::Currency;
    use crate::units::System;
    use std::path::Path;

    fn sources(folder: &Path, all: &mut Vec<String>) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                sources(&path, all);
            } else if path.extension().is_some_and(|e| e == "rs") {
                all.push(std::fs::read_to_string(path).unwrap());
            }
        }
    }

    /// Whatever is counted anywhere in the program is told in plain words.
    #[test]
    fn what_is_missing_is_told_without_jargon() {
        let f = Format::new(System::Metric, Currency::of("USD").unwrap());
        let mut all = Vec::new();
        sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &mut all);
        let texts = all.iter().flat_map(|s| s.split("NotEnough::new(").skip(1));
        let counted: Vec<&str> = texts
            .filter_map(|t| t.split(");").next()?.split('"').nth(1))
            .collect();
        assert!(counted.len() > 60, "{counted:?}");
        for of in counted {
            let said = missing(&NotEnough::new(1, 2, of), &f);
            for word in [
                "design", "strat", "horizon", "covari", "observ", "rows", "trials", "at risk",
            ] {
                assert!(!said.contains(word), "{said}");
            }
        }
    }

    #[test]
    fn none_of_one_is_none() {
        let f = Format::new(System::Metric, Currency::of("USD").unwrap());
        let none = NotEnough::new(0, 1, "coated jobs");
        assert_eq!(missing(&none, &f), "no coated jobs yet");
        assert_eq!(sentence_missing(&none, &f), "No coated jobs yet.");
        let few = NotEnough::new(3, 10, "coated jobs");
        assert_eq!(missing(&few, &f), "not enough yet (3 of 10 coated jobs)");
    }
}
