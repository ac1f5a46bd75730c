//! What is said of a cell that cannot be used: what was found, what was
//! expected, and where it helps, what to do.

use super::dates::Order;
use super::numbers::Refused;
use super::plan::Claim;
use super::reason::{Fault, Reason};
use super::units::Unit;
use crate::settings::contract::Kind;

/// A cell for people: in one line, and not without end.
pub(super) fn shown(text: &str) -> String {
    const MOST: usize = 60;
    let line: String = text
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .take(MOST + 1)
        .collect();
    match line.char_indices().nth(MOST) {
        Some((at, _)) => format!("{}…", &line[..at]),
        None => line,
    }
}

pub(super) fn fault(
    claim: &Claim,
    reason: Reason,
    text: &str,
    expected: impl Into<String>,
) -> Fault {
    Fault {
        column: Some(claim.heading.clone()),
        reason,
        found: format!("\"{}\"", shown(text)),
        expected: expected.into(),
    }
}

/// A required cell that is empty.
pub(super) fn empty_cell(claim: &Claim) -> Fault {
    Fault {
        column: Some(claim.heading.clone()),
        reason: Reason::ConstraintError,
        found: "nothing".to_string(),
        expected: format!("{}, which every record needs", kind_name(claim.field.kind)),
    }
}

fn kind_name(kind: Kind) -> &'static str {
    match kind {
        Kind::Key => "a key",
        Kind::Text | Kind::Word(_) => "a word",
        Kind::Date => "a date",
        Kind::Moment => "a date and time of day",
        Kind::Money => "an amount of money",
        Kind::YesNo => "yes or no",
        _ => "a number",
    }
}

pub(super) fn unknown_word(claim: &Claim, text: &str) -> Fault {
    let (allowed, map) = match claim.field.kind {
        Kind::Word(list) => (list.join(", "), claim.field.name),
        _ => ("yes or no".to_string(), claim.field.name),
    };
    let expected = format!(
        "{allowed}; say what \"{}\" means under [words.{map}] in shop.toml",
        shown(text)
    );
    fault(claim, Reason::TypeError, text, expected)
}

pub(super) fn no_date(claim: &Claim, order: Order, text: &str, moment: bool) -> Fault {
    let time = if moment { " 14:05" } else { "" };
    let example = match order {
        Order::MonthFirst => format!("as 2026-10-31{time} or 10/31/2026{time}"),
        Order::DayFirst => format!("as 2026-10-31{time} or 31/10/2026{time}"),
        Order::YearFirst => format!("as 2026-10-31{time}"),
    };
    let what = if moment {
        "a date and local time of day"
    } else {
        "a date"
    };
    fault(claim, Reason::TypeError, text, format!("{what}, {example}"))
}

pub(super) fn no_number(claim: &Claim, unit: Unit, text: &str, refused: Refused) -> Fault {
    let kind = claim.field.kind;
    let what = kind_name(kind);
    let name = unit.name(kind);
    let in_unit = if name.is_empty() {
        String::new()
    } else {
        format!(" in {name}")
    };
    match refused {
        Refused::NotANumber | Refused::NotFinite => {
            fault(claim, Reason::TypeError, text, format!("{what}{in_unit}"))
        }
        Refused::Unit(_) if kind == Kind::Money => fault(
            claim,
            Reason::UnitError,
            text,
            format!("{what} in the shop's currency"),
        ),
        Refused::Unit(_) => fault(claim, Reason::UnitError, text, format!("{what}{in_unit}")),
    }
}

/// Money from which an amount is a slip of the pen in any currency, in major
/// units. (A shop's year of sales is under it in the smallest units.)
pub(super) const MOST_MONEY: i64 = 1_000_000_000;

/// What the contract allows of a number, where `x` is not. The upper bounds of
/// areas and volumes are a hundred times what the largest vehicle takes and
/// more (from memory: a coach has 150 m² of outside): what is merely odd is for
/// the fits to leave out, not for intake.
pub(super) fn out_of_range(kind: Kind, x: f64) -> Option<&'static str> {
    let (sound, expected) = match kind {
        Kind::Area => (
            x > 0.0 && x <= 20_000.0,
            "an area above 0 and up to 20,000 m²",
        ),
        Kind::Minutes => ((0.0..=1440.0).contains(&x), "0 to 1,440 minutes (a day)"),
        Kind::Used => ((0.0..=100_000.0).contains(&x), "0 to 100,000 mL"),
        Kind::Volume => ((0.0..=1_000_000.0).contains(&x), "0 to 1,000,000 mL"),
        Kind::Humidity => ((0.0..=100.0).contains(&x), "0 to 100 %"),
        // Wider than any weather on record; -999 and its like stand for "none".
        Kind::Temperature => ((-90.0..=100.0).contains(&x), "-90 to 100 °C"),
        _ => (true, ""),
    };
    (!(sound && x.is_finite())).then_some(expected)
}
