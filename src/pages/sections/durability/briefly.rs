//! Coated against bare film in one plain line.

use super::super::say;
use crate::estimate::{Estimate, Figure};
use crate::findings::durability::{Durability, Verdict};
use crate::pages::format::Format;
use crate::pages::view::Sentence;

/// How often as a part, in words: each holds up to halfway, by ratio, to the
/// next.
const PARTS: [(f64, &str); 5] = [
    (0.29, "a quarter"),
    (0.41, "a third"),
    (0.58, "half"),
    (0.71, "two thirds"),
    (0.87, "three quarters"),
];
/// Under this it is less than a quarter.
const LEAST: f64 = 0.22;
/// From here up to its inverse it is as often.
const AS_OFTEN: f64 = 0.975;

/// "half", to stand before "as often"; true where it is a rounded part.
fn part(ratio: f64, f: &Format) -> (String, bool) {
    let part = PARTS.iter().find(|(up_to, _)| ratio <= *up_to);
    match part {
        Some(_) if ratio < LEAST => ("less than a quarter".into(), false),
        Some((_, words)) => ((*words).into(), true),
        None if ratio < AS_OFTEN => ("nearly".into(), false),
        None if ratio <= 1.0 / AS_OFTEN => ("just".into(), false),
        None => (format!("{} times", f.number(ratio, 1)), false),
    }
}

/// "failed about half as often as bare (likely a third to nearly as often)",
/// and what would settle it.
fn compared(e: &Estimate, x: &Durability, f: &Format) -> String {
    let (value, rounded) = part(e.value, f);
    let about = if rounded { "about " } else { "" };
    let [low, high] = [e.low, e.high].map(|r| part(r, f).0);
    let range = match low == high {
        true => format!("likely {low} as often"),
        false => format!("likely {low} to {high} as often"),
    };
    let found = format!("failed {about}{value} as often as bare ({range})");
    match x.verdict {
        Verdict::Longer => format!(
            "{found}. Do not promise it: customers who take it may also care for it better. Coated and bare panels on one vehicle would settle it."
        ),
        Verdict::Shorter => format!("{found}. Look at what went wrong on those vehicles."),
        Verdict::Luck | Verdict::NotEnough => {
            format!("{found}, which could be luck. {}", to_tell(x, f))
        }
    }
}

/// The line of the list of sections.
pub(in crate::pages) fn compared_briefly(e: &Estimate, x: &Durability, f: &Format) -> Sentence {
    say(format!("coated film {}", compared(e, x, f)))
}

/// How many failures would tell.
fn to_tell(x: &Durability, f: &Format) -> String {
    let have = x.failures();
    match x.failures_that_tell() {
        Some(need) if need > have => format!(
            "If coated film failed half as often, about {} would show it; there are {} so far.",
            f.count_of(need, "failure in all", "failures in all"),
            f.count(have)
        ),
        Some(_) => "If it failed half as often, that would most likely have shown by now.".into(),
        None => "It takes coated and bare vehicles to tell.".into(),
    }
}

/// The line of the first screen; nothing where nothing can be said.
pub(in crate::pages) fn line(x: &Durability, f: &Format) -> Option<Sentence> {
    let e = x.hazard_ratio.known()?;
    Some(say(compared(e, x, f)))
}

/// What is still lacking where nothing can be said of it.
pub(in crate::pages) fn lacking(x: &Durability, f: &Format) -> Option<String> {
    matches!(x.hazard_ratio, Figure::NotEnough(_)).then(|| to_tell(x, f))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::money::Currency;
    use crate::units::System;

    /// Bounds by hand: the root of the product of two neighbours, as
    /// √(1/3 × 1/2) = 0.41.
    #[test]
    fn a_ratio_is_the_nearest_part_in_words() {
        let f = Format::new(System::Metric, Currency::of("USD").unwrap());
        for (ratio, words) in [
            (0.1, "less than a quarter"),
            (0.32, "a third"),
            (0.40, "a third"),
            (0.42, "half"),
            (0.55, "half"),
            (0.65, "two thirds"),
            (0.95, "nearly"),
            (1.0, "just"),
            (2.14, "2.1 times"),
        ] {
            assert_eq!(part(ratio, &f).0, words, "{ratio}");
        }
    }
}
