//! Numbers as offices write them: thousands marks, decimal commas, currency
//! signs, percent, trailing minus, accounting brackets.
//!
//! Which mark is the decimal one is decided for a column over all its values
//! ([`Evidence`]), never cell by cell.

mod evidence;
mod number;

pub use evidence::Evidence;
pub use number::Number;

use crate::money::Currency;

/// The decimal mark of a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// 1,234.50
    Point,
    /// 1.234,50
    Comma,
}

/// Which marks fit a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// No mark: both readings agree.
    Plain,
    /// Only with a decimal point.
    Point,
    /// Only with a decimal comma.
    Comma,
    /// `1.234`: one and a bit, or thousands.
    EitherPoint,
    /// `1,234`: likewise.
    EitherComma,
}

/// A number without ornaments, at most 18 digits: the common case, fast.
#[inline]
pub fn plain(cell: &[u8]) -> Option<(Number, Shape)> {
    let (negative, body) = match cell {
        [b'-', rest @ ..] => (true, rest),
        _ => (false, cell),
    };
    if body.is_empty() || body.len() > 19 {
        return None;
    }
    let (mut digits, mut point) = (0_u64, None);
    for (i, b) in body.iter().enumerate() {
        match b {
            b'0'..=b'9' => digits = digits * 10 + u64::from(b - b'0'),
            b'.' if point.is_none() => point = Some(i),
            _ => return None,
        }
    }
    let whole = point.unwrap_or(body.len());
    let scale = body.len() - whole - usize::from(point.is_some());
    if whole + scale == 0 || whole + scale > 18 {
        return None;
    }
    let number = Number {
        negative,
        digits,
        scale: scale as u32,
        long: None,
    };
    let shape = match point {
        None => Shape::Plain,
        Some(_) if scale == 3 && (1..=3).contains(&whole) && body[0] != b'0' => Shape::EitherPoint,
        Some(_) => Shape::Point,
    };
    Some((number, shape))
}

/// What may stand around a number.
#[derive(Debug, Clone, Copy, Default)]
pub struct Around<'a> {
    /// A percent sign.
    pub percent: bool,
    /// Signs of this currency, and its code.
    pub currency: Option<&'a Currency>,
    /// Spellings of the column's unit, in lower case.
    pub units: &'a [&'a str],
    /// A thousands mark of the settings, if any; else any usual one serves.
    pub thousands: Option<char>,
}

/// Why a cell is no number of its column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Refused {
    /// Not a number in that reading.
    NotANumber,
    /// nan, inf and their like.
    NotFinite,
    /// A number, with a unit or currency that is not the column's.
    Unit(String),
}

/// A number with whatever offices put around it.
///
/// # Errors
/// [`Refused`], where it is none, or one of another unit.
pub fn ornate(cell: &str, mark: Mark, around: Around<'_>) -> Result<Number, Refused> {
    let parts = Parts::of(cell)?;
    let negative = parts.sign(around)?;
    let mut number = match parts.core(mark, around.thousands) {
        Some(number) => number,
        None => exponent(parts.core).ok_or(Refused::NotANumber)?,
    };
    number.negative = negative && (number.digits != 0 || number.long.is_some());
    Ok(number)
}

/// Which marks fit a cell with ornaments; `None` where neither does.
pub fn shape(cell: &str, thousands: Option<char>) -> Option<Shape> {
    let parts = Parts::of(cell).ok()?;
    let point = parts.core(Mark::Point, thousands);
    let comma = parts.core(Mark::Comma, thousands);
    match (point, comma) {
        (Some(a), Some(b)) if a == b => Some(Shape::Plain),
        (Some(_), Some(_)) if parts.core.contains('.') => Some(Shape::EitherPoint),
        (Some(_), Some(_)) => Some(Shape::EitherComma),
        (Some(_), None) => Some(Shape::Point),
        (None, Some(_)) => Some(Shape::Comma),
        (None, None) => None,
    }
}

/// A cell taken apart: what stands before, in and after its digits.
struct Parts<'a> {
    before: &'a str,
    core: &'a str,
    after: &'a str,
}

impl<'a> Parts<'a> {
    fn of(cell: &'a str) -> Result<Self, Refused> {
        let cell = cell.trim();
        let digit = |c: char| c.is_ascii_digit();
        let (Some(first), Some(last)) = (cell.find(digit), cell.rfind(digit)) else {
            let word = cell.trim_matches(['+', '-']).to_lowercase();
            return Err(match word.as_str() {
                "nan" | "inf" | "infinity" | "∞" => Refused::NotFinite,
                _ => Refused::NotANumber,
            });
        };
        // A unit may end in a digit ("21 m2"): the digits end at the first
        // letter after them, unless an exponent follows it.
        let body = &cell[first..=last];
        let end = match body.find(|c: char| c.is_alphabetic()) {
            Some(at) if exponent(body).is_none() => first + body[..at].trim_end().len(),
            _ => last + 1,
        };
        let start = match cell[..first].chars().next_back() {
            Some('.' | ',') => first - 1,
            _ => first,
        };
        Ok(Self {
            before: cell[..start].trim(),
            core: &cell[start..end],
            after: cell[end..].trim_start_matches(['.', ',']).trim(),
        })
    }

    /// The number between the ornaments, in one reading of its marks.
    fn core(&self, mark: Mark, thousands: Option<char>) -> Option<Number> {
        let decimal = match mark {
            Mark::Point => '.',
            Mark::Comma => ',',
        };
        let (whole, part) = match self.core.split_once(decimal) {
            Some((whole, part)) => (whole, part),
            None => (self.core, ""),
        };
        if !part.bytes().all(|b| b.is_ascii_digit()) {
            return None;
        }
        let groups = whole_digits(whole, decimal, thousands)?;
        from_digits(&groups, part)
    }

    /// True where the ornaments make it negative.
    fn sign(&self, around: Around<'_>) -> Result<bool, Refused> {
        let bracket = self.before.starts_with('(') || self.before.ends_with('(');
        if bracket != self.after.contains(')') {
            return Err(Refused::NotANumber);
        }
        let mut minus = u32::from(bracket);
        for side in [self.before, self.after] {
            let signs = side.chars().filter(|c| matches!(c, '-' | '−' | '+'));
            minus += side.chars().filter(|c| matches!(c, '-' | '−')).count() as u32;
            if signs.count() > 1 {
                return Err(Refused::NotANumber);
            }
            let rest = side.trim_matches(['(', ')', '-', '−', '+', ' ', '\u{a0}', '\u{202f}']);
            allowed(rest, around)?;
        }
        if minus > 1 {
            return Err(Refused::NotANumber);
        }
        Ok(minus == 1)
    }
}

/// The digits before the decimal mark, thousands marks taken out; `None`
/// where the groups are not of three.
fn whole_digits(whole: &str, decimal: char, thousands: Option<char>) -> Option<String> {
    let is_mark = |c: char| match thousands {
        Some(t) => c == t,
        None => matches!(c, '.' | ',' | ' ' | '\'' | '’' | '\u{a0}' | '\u{202f}') && c != decimal,
    };
    if whole.chars().all(|c| c.is_ascii_digit()) {
        return Some(whole.to_string());
    }
    let mark = whole.chars().find(|c| !c.is_ascii_digit())?;
    if !is_mark(mark) || whole.starts_with('0') {
        return None;
    }
    let groups: Vec<&str> = whole.split(mark).collect();
    let sound = groups.iter().enumerate().all(|(i, g)| {
        let right = if i == 0 {
            (1..=3).contains(&g.len())
        } else {
            g.len() == 3
        };
        right && g.bytes().all(|b| b.is_ascii_digit())
    });
    sound.then(|| groups.concat())
}

fn from_digits(whole: &str, part: &str) -> Option<Number> {
    // No shop counts to a million million millions.
    if (whole.is_empty() && part.is_empty()) || whole.len() > 18 {
        return None;
    }
    if whole.len() + part.len() <= 18 {
        let digits = format!("{whole}{part}").parse().ok()?;
        return Some(Number {
            negative: false,
            digits,
            scale: part.len() as u32,
            long: None,
        });
    }
    let value: f64 = format!("{whole}.{part}").parse().ok()?;
    value.is_finite().then_some(Number {
        negative: false,
        digits: 0,
        scale: 0,
        long: Some(value),
    })
}

/// `1.5e-3`, as some tools write small numbers.
fn exponent(core: &str) -> Option<Number> {
    let (body, power) = core.split_once(['e', 'E'])?;
    let digits = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    let power = power.trim_start_matches(['+', '-']);
    if !digits(body) || !digits(power) || power.len() > 3 {
        return None;
    }
    let value: f64 = core.parse().ok()?;
    value.is_finite().then_some(Number {
        negative: false,
        digits: 0,
        scale: 0,
        long: Some(value),
    })
}

/// Whether a word beside a number is its column's.
fn allowed(word: &str, around: Around<'_>) -> Result<(), Refused> {
    let lower = word.to_lowercase();
    let own_currency = || around.currency.is_some_and(|c| is_of(word, &lower, c));
    let known = word.is_empty()
        || (word == "%" && around.percent)
        || around.units.contains(&lower.as_str())
        || own_currency();
    if known {
        Ok(())
    } else if word
        .chars()
        .all(|c| c.is_alphanumeric() || " .²°%$€£¥₹/".contains(c))
    {
        Err(Refused::Unit(word.to_string()))
    } else {
        Err(Refused::NotANumber)
    }
}

/// Codes whose money is written with a dollar sign (from memory).
const DOLLARS: [&str; 10] = [
    "USD", "CAD", "AUD", "NZD", "SGD", "HKD", "MXN", "TWD", "CLP", "COP",
];

fn is_of(word: &str, lower: &str, currency: &Currency) -> bool {
    let code = currency.code.as_str();
    match word {
        "$" | "US$" => DOLLARS.contains(&code),
        "€" => code == "EUR",
        "£" => code == "GBP",
        "¥" => matches!(code, "JPY" | "CNY"),
        "₹" => code == "INR",
        "kr" | "kr." => matches!(code, "SEK" | "NOK" | "DKK" | "ISK"),
        _ => lower == code.to_lowercase() || word == currency.sign.trim(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dollars() -> Currency {
        Currency::of("USD").unwrap()
    }

    fn value(cell: &str, mark: Mark) -> Option<f64> {
        let currency = dollars();
        let around = Around {
            percent: true,
            currency: Some(&currency),
            units: &["m2", "min"],
            thousands: None,
        };
        ornate(cell, mark, around).ok().map(Number::value)
    }

    #[test]
    fn office_numbers_are_read() {
        use Mark::{Comma, Point};
        for (cell, mark, expected) in [
            ("1,234.50", Point, 1234.5),
            ("1.234,50", Comma, 1234.5),
            ("1 234,5", Comma, 1234.5),
            ("1\u{202f}234\u{202f}567", Point, 1_234_567.0),
            ("1'234.5", Point, 1234.5),
            ("$1,234.50", Point, 1234.5),
            ("1.234,50 $", Comma, 1234.5),
            ("USD 12", Point, 12.0),
            ("-$20.00", Point, -20.0),
            ("$-20.00", Point, -20.0),
            ("20.00-", Point, -20.0),
            ("(20.00)", Point, -20.0),
            ("($1,020.00)", Point, -1020.0),
            ("$(20.00)", Point, -20.0),
            ("−3", Point, -3.0),
            ("+3", Point, 3.0),
            ("65 %", Point, 65.0),
            ("65%", Point, 65.0),
            ("21.5 m2", Point, 21.5),
            (".5", Point, 0.5),
            ("1.5e-3", Point, 0.0015),
            ("0.10000000000000000555", Point, 0.1),
        ] {
            assert_eq!(value(cell, mark), Some(expected), "{cell}");
        }
    }

    #[test]
    fn what_is_no_number_is_refused() {
        use Mark::{Comma, Point};
        for (cell, mark) in [
            ("", Point),
            ("abc", Point),
            ("1.2.3", Point),
            ("12,34", Point),
            ("1,23,456", Point),
            ("0,123", Point),
            ("1.234,50", Point),
            ("1,234.50", Comma),
            ("(20", Point),
            ("20)", Point),
            ("--20", Point),
            ("-(20)", Point),
            ("-20-", Point),
            ("12-31", Point),
            ("1:05", Point),
            ("3 oz", Point),
            ("€3", Point),
            ("1 2", Point),
            ("99999999999999999999", Point),
        ] {
            assert_eq!(value(cell, mark), None, "{cell}");
        }
        let plain = Around::default();
        assert_eq!(ornate("nan", Mark::Point, plain), Err(Refused::NotFinite));
        assert_eq!(ornate("-inf", Mark::Point, plain), Err(Refused::NotFinite));
        assert_eq!(
            ornate("3 oz", Mark::Point, plain),
            Err(Refused::Unit("oz".into()))
        );
    }

    #[test]
    fn the_fast_way_agrees_with_the_slow_one() {
        for cell in [
            "0",
            "-12",
            "21.375",
            "0.5",
            "1234.5",
            "99999999999999999.9",
            "-.25",
        ] {
            let (fast, fast_shape) = plain(cell.as_bytes()).unwrap();
            let slow = ornate(cell, Mark::Point, Around::default()).unwrap();
            assert_eq!(fast.value(), slow.value(), "{cell}");
            assert_eq!(fast.value(), cell.parse::<f64>().unwrap(), "{cell}");
            assert_eq!(Some(fast_shape), shape(cell, None), "{cell}");
        }
        assert_eq!(plain(b""), None);
        assert_eq!(plain(b"-"), None);
        assert_eq!(plain(b"."), None);
        assert_eq!(plain(b"1,5"), None);
    }

    #[test]
    fn money_is_exact_and_rounds_halves_away_from_zero() {
        let minor = |cell: &str| plain(cell.as_bytes()).unwrap().0.minor(2);
        assert_eq!(minor("310"), Some(31000));
        assert_eq!(minor("0.29"), Some(29));
        assert_eq!(minor("1.005"), Some(101));
        assert_eq!(minor("-1.005"), Some(-101));
        assert_eq!(minor("999999999999999999"), None);
    }

    fn evidence(cells: &[&str]) -> Evidence {
        let mut found = Evidence::default();
        for cell in cells {
            if let Some(s) = shape(cell, None) {
                found.note(s);
            }
        }
        found
    }

    #[test]
    fn the_mark_is_decided_over_the_whole_column() {
        use Mark::{Comma, Point};
        assert_eq!(evidence(&["12", "1,234", "7.5"]).verdict(None), Some(Point));
        assert_eq!(evidence(&["12", "1.234", "7,5"]).verdict(None), Some(Comma));
        assert_eq!(evidence(&["21.375", "1.234"]).verdict(None), Some(Point));
        assert_eq!(evidence(&["21.375"]).verdict(Some(Comma)), Some(Comma));
        assert_eq!(evidence(&["1,234", "2,500"]).verdict(None), None);
        assert_eq!(
            evidence(&["1,234", "2,500"]).verdict(Some(Point)),
            Some(Point)
        );
        assert_eq!(evidence(&["7.5", "7,5"]).verdict(None), None);
        assert_eq!(evidence(&["1.234.567"]).verdict(None), Some(Comma));
    }
}
