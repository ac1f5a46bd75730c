//! Words for certainty and for what is missing, in one place. How sure a
//! change is was decided in the findings; here it is only said.

use super::format::{Format, list};
use super::view::Piece;
use crate::estimate::NotEnough;
use crate::findings::certainty::{Certainty, Change};
use crate::findings::{Lacking, Missing};
use crate::settings::month::Month;

/// The word under a figure of the first screen.
pub(super) fn certainty_word(certainty: Certainty) -> &'static str {
    match certainty {
        Certainty::Outside => "Real change",
        Certainty::Likely => "Probably real",
        Certainty::Luck => "Could be luck",
        Certainty::TooFew => "Too few jobs to say",
        Certainty::NoUsual => "Nothing to compare with yet",
    }
}

/// The sentence that goes with it.
pub(super) fn certainty_sentence(certainty: Certainty) -> &'static str {
    match certainty {
        Certainty::Outside => {
            "That is outside the usual range: treat it as a real change and look for the cause."
        }
        Certainty::Likely => {
            "That is probably a real change, though still within the usual range: see whether it holds next month."
        }
        Certainty::Luck => {
            "That could be luck: it is within ordinary ups and downs, so there is nothing to act on."
        }
        Certainty::NoUsual => "There is no earlier month in the window to compare with.",
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

/// "3 of 10 coated jobs needed".
pub(super) fn missing(n: &NotEnough, f: &Format) -> String {
    format!(
        "not enough yet: {} of the {} {} needed",
        f.count(n.have),
        f.count(n.need),
        n.of
    )
}

/// The same, short, for a cell.
pub(super) fn missing_short(n: &NotEnough, f: &Format) -> String {
    format!("{} of {} needed", f.count(n.have), f.count(n.need))
}

/// Why a section has nothing to say, as a sentence.
pub(super) fn why_missing(why: &Missing, f: &Format) -> String {
    match why {
        Missing::TooFew(n) => {
            let mut text = missing(n, f);
            text.replace_range(..1, "N");
            format!("{text}.")
        }
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
