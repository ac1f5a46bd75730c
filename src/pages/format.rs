//! Numbers to text, in one place.
//!
//! Conventions: `52%`; ranges "40 to 63%"; the minus sign U+2212; money with
//! the sign before the amount, `$1,234`; a no-break space between number and
//! unit; the area unit by the shop's system. Values come in the units of the
//! data contract (m², mL, °C, minutes, minor units) and are converted here.

use crate::money::{Currency, Minor};
use crate::units::{M2_PER_FT2, ML_PER_US_FL_OZ, System};
use chrono::{Datelike, NaiveDate};

/// Minus sign.
const MINUS: char = '\u{2212}';
/// Space at which no line is broken.
const NBSP: char = '\u{a0}';
/// What stands where a number should and none can.
const NONE: &str = "not known";

/// How numbers are written for this shop.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Format {
    /// Units of the page.
    pub system: System,
    /// The shop's currency.
    pub currency: Currency,
    /// Mark before decimals: '.' or ','.
    pub decimal: char,
    /// Mark between thousands: ',' '.' or a space.
    pub group: char,
}

impl Format {
    /// Decimal point and comma between thousands.
    pub fn new(system: System, currency: Currency) -> Self {
        Self {
            system,
            currency,
            decimal: '.',
            group: ',',
        }
    }

    /// `x` with that many decimals, thousands grouped, halves away from zero.
    pub fn number(&self, x: f64, decimals: usize) -> String {
        if !x.is_finite() {
            return NONE.to_string();
        }
        let digits = format!("{:.decimals$}", nudge(x, decimals).abs());
        let (whole, rest) = digits.split_once('.').unwrap_or((&digits, ""));
        let zero = digits.bytes().all(|b| matches!(b, b'0' | b'.'));
        let mut out = String::new();
        if x < 0.0 && !zero {
            out.push(MINUS);
        }
        out.push_str(&self.grouped(whole));
        if !rest.is_empty() {
            out.push(self.decimal);
            out.push_str(rest);
        }
        out
    }

    fn grouped(&self, digits: &str) -> String {
        let mut out = String::new();
        for (i, digit) in digits.chars().enumerate() {
            if i > 0 && (digits.len() - i).is_multiple_of(3) {
                out.push(self.group);
            }
            out.push(digit);
        }
        out
    }

    /// A count: `1,234`.
    pub fn count(&self, n: u64) -> String {
        self.grouped(&n.to_string())
    }

    /// A count with what is counted: `1 job`, `12 jobs`.
    pub fn count_of(&self, n: u64, one: &str, many: &str) -> String {
        let word = if n == 1 { one } else { many };
        format!("{}{NBSP}{word}", self.count(n))
    }

    /// A share of 0 to 1: `52%`.
    pub fn share(&self, share: f64) -> String {
        self.percent(share, 0)
    }

    /// A share to a tenth of a percent: `2.4%`.
    pub fn share_fine(&self, share: f64) -> String {
        self.percent(share, 1)
    }

    fn percent(&self, share: f64, decimals: usize) -> String {
        if !share.is_finite() {
            return NONE.to_string();
        }
        format!("{}%", self.number(100.0 * share, decimals))
    }

    /// A range of shares: `40 to 63%`.
    pub fn share_range(&self, low: f64, high: f64) -> String {
        format!("{} to {}", self.number(100.0 * low, 0), self.share(high))
    }

    /// A change of a share: `+4 points`.
    pub fn points(&self, change: f64) -> String {
        let points = 100.0 * change;
        let word = if nudge(points, 0).abs() == 1.0 {
            "point"
        } else {
            "points"
        };
        format!("{}{NBSP}{word}", self.signed(points, 0))
    }

    /// `x` with a sign, `+` included; a zero has none.
    pub fn signed(&self, x: f64, decimals: usize) -> String {
        let text = self.number(x, decimals);
        let zero = !text.contains(|c: char| ('1'..='9').contains(&c));
        if x > 0.0 && x.is_finite() && !zero {
            return format!("+{text}");
        }
        text
    }

    /// Money in whole major units: `$1,234`, `−$14`.
    pub fn money(&self, amount: Minor) -> String {
        self.amount(self.major(amount), 0)
    }

    /// Money to the last minor unit: `$12.50`.
    pub fn money_exact(&self, amount: Minor) -> String {
        self.amount(self.major(amount), self.currency.decimals as usize)
    }

    /// Whole major units with a sign: `+$9`, `−$14`, `$0`.
    pub fn money_signed(&self, amount: Minor) -> String {
        self.with_sign(self.money(amount), amount.0)
    }

    /// To the last minor unit, with a sign: `+$9.20`.
    pub fn money_exact_signed(&self, amount: Minor) -> String {
        self.with_sign(self.money_exact(amount), amount.0)
    }

    fn with_sign(&self, text: String, amount: i64) -> String {
        let zero = !text.contains(|c: char| ('1'..='9').contains(&c));
        if amount > 0 && !zero {
            format!("+{text}")
        } else {
            text
        }
    }

    /// An estimate of money, in minor units, as whole major ones.
    pub fn money_about(&self, minor: f64) -> String {
        self.amount(minor / self.currency.scale() as f64, 0)
    }

    /// A range of money, in minor units: `$101 to $115`.
    pub fn money_range(&self, low: f64, high: f64) -> String {
        format!("{} to {}", self.money_about(low), self.money_about(high))
    }

    /// An estimate of money, in minor units, to the last minor unit.
    pub fn money_about_exact(&self, minor: f64) -> String {
        let major = minor / self.currency.scale() as f64;
        self.amount(major, self.currency.decimals as usize)
    }

    /// A tick of a money axis, in major units: decimals only where it has some.
    pub fn money_tick(&self, major: f64) -> String {
        let whole = (major - major.round()).abs() < 1e-9;
        let decimals = if whole { 0 } else { self.currency.decimals };
        self.amount(major, decimals as usize)
    }

    fn amount(&self, major: f64, decimals: usize) -> String {
        if !major.is_finite() {
            return NONE.to_string();
        }
        let text = self.number(major, decimals);
        match text.strip_prefix(MINUS) {
            Some(rest) => format!("{MINUS}{}{rest}", self.currency.sign),
            None => format!("{}{text}", self.currency.sign),
        }
    }

    /// Minor units as major ones, for axes.
    pub fn major(&self, amount: Minor) -> f64 {
        amount.as_f64() / self.currency.scale() as f64
    }

    /// Unit of [`Self::use_rate`].
    pub fn use_rate_unit(&self) -> &'static str {
        match self.system {
            System::Metric => "mL/m\u{b2}",
            System::Us => "mL per 100\u{a0}ft\u{b2}",
        }
    }

    /// mL per m² as the number of the page's unit. In the US system it is per
    /// 100 ft², since per single square foot only hundredths would differ.
    pub fn use_rate(&self, ml_per_m2: f64) -> f64 {
        match self.system {
            System::Metric => ml_per_m2,
            System::Us => ml_per_m2 * M2_PER_FT2 * 100.0,
        }
    }

    /// Coating used per area, number alone: `1.55`, or `14.4` per 100 ft².
    pub fn use_rate_number(&self, ml_per_m2: f64) -> String {
        let decimals = match self.system {
            System::Metric => 2,
            System::Us => 1,
        };
        self.number(self.use_rate(ml_per_m2), decimals)
    }

    /// Coating used per area with its unit: `1.55 mL/m²`.
    pub fn use_rate_text(&self, ml_per_m2: f64) -> String {
        let number = self.use_rate_number(ml_per_m2);
        format!("{number}{NBSP}{}", self.use_rate_unit())
    }

    /// A range of coating used per area: `1.48 to 1.62`.
    pub fn use_rate_range(&self, low: f64, high: f64) -> String {
        let [low, high] = [low, high].map(|x| self.use_rate_number(x));
        format!("{low} to {high}")
    }

    /// A film area: `21.0 m²`, `226 ft²`.
    pub fn area(&self, m2: f64) -> String {
        match self.system {
            System::Metric => format!("{}{NBSP}m\u{b2}", self.number(m2, 1)),
            System::Us => format!("{}{NBSP}ft\u{b2}", self.number(m2 / M2_PER_FT2, 0)),
        }
    }

    /// A volume of coating on a job: `34.1 mL`, in both systems.
    pub fn millilitres(&self, ml: f64) -> String {
        format!("{}{NBSP}mL", self.number(ml, 1))
    }

    /// A volume of bottles: `1,500 mL`, `50.7 US fl oz`.
    pub fn bottle_volume(&self, ml: f64) -> String {
        match self.system {
            System::Metric => format!("{}{NBSP}mL", self.number(ml, 0)),
            System::Us => {
                let ounces = self.number(ml / ML_PER_US_FL_OZ, 1);
                format!("{ounces}{NBSP}US{NBSP}fl{NBSP}oz")
            }
        }
    }

    /// A temperature: `12 °C`, `54 °F`.
    pub fn temperature(&self, celsius: f64) -> String {
        match self.system {
            System::Metric => format!("{}{NBSP}\u{b0}C", self.number(celsius, 0)),
            System::Us => format!("{}{NBSP}\u{b0}F", self.number(celsius * 1.8 + 32.0, 0)),
        }
    }

    /// A difference of temperatures: `2.1 °C`, `3.8 °F`.
    pub fn degrees(&self, celsius: f64) -> String {
        let (unit, scale) = match self.system {
            System::Metric => ("\u{b0}C", 1.0),
            System::Us => ("\u{b0}F", 1.8),
        };
        format!("{}{NBSP}{unit}", self.number(celsius * scale, 1))
    }

    /// Hands-on minutes: `86 min`.
    pub fn minutes(&self, minutes: f64) -> String {
        format!("{}{NBSP}min", self.number(minutes, 0))
    }

    /// A range of minutes: `80 to 93 min`.
    pub fn minutes_range(&self, low: f64, high: f64) -> String {
        format!("{} to {}", self.number(low, 0), self.minutes(high))
    }

    /// A pace against the usual, 1.12 being `12% slower`.
    pub fn pace(&self, pace: f64) -> String {
        let percent = 100.0 * (pace - 1.0);
        match nudge(percent, 0) {
            p if !p.is_finite() => NONE.to_string(),
            p if p > 0.0 => format!("{}% slower", self.number(p, 0)),
            p if p < 0.0 => format!("{}% quicker", self.number(-p, 0)),
            _ => "as quick as usual".to_string(),
        }
    }
}

/// `x` rounded to that many decimals, halves away from zero. Rust's own
/// formatting takes halves to even, and 0.145 for a little less than it is.
fn nudge(x: f64, decimals: usize) -> f64 {
    let scale = 10_f64.powi(decimals as i32);
    let scaled = x * scale;
    if !scaled.is_finite() {
        return x;
    }
    (scaled * (1.0 + 4.0 * f64::EPSILON)).round() / scale
}

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

fn month_word(date: NaiveDate) -> &'static str {
    MONTHS.get(date.month0() as usize).copied().unwrap_or(NONE)
}

/// The month of a date: "October 2026".
pub fn month(date: NaiveDate) -> String {
    format!("{} {}", month_word(date), date.year())
}

/// The month of a date without its year: "October".
pub fn month_name(date: NaiveDate) -> &'static str {
    month_word(date)
}

/// The month of a date, short: "Oct 26".
pub fn month_short(date: NaiveDate) -> String {
    let word: String = month_word(date).chars().take(3).collect();
    format!("{word}{NBSP}{:02}", date.year().rem_euclid(100))
}

/// A date that reads the same everywhere: "31 October 2026".
pub fn date(date: NaiveDate) -> String {
    format!("{}{NBSP}{} {}", date.day(), month_word(date), date.year())
}

/// Words in a row: "gloss, satin and matte".
pub fn list(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [all @ .., last] => format!("{} and {last}", all.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn us() -> Format {
        Format::new(System::Us, Currency::of("USD").unwrap())
    }

    fn metric() -> Format {
        Format::new(System::Metric, Currency::of("EUR").unwrap())
    }

    #[test]
    fn numbers_are_grouped_and_halves_go_away_from_zero() {
        let f = us();
        let got = [
            f.number(1234567.891, 2),
            f.number(0.145, 2),
            f.number(-0.5, 0),
            f.number(2.5, 0),
            f.number(-0.004, 2),
            f.number(f64::NAN, 2),
            f.number(f64::INFINITY, 0),
            f.number(999.999, 2),
        ];
        let want = [
            "1,234,567.89",
            "0.15",
            "\u{2212}1",
            "3",
            "0.00",
            NONE,
            NONE,
            "1,000.00",
        ];
        assert_eq!(got, want);
        assert_eq!(f.count(1_000_000), "1,000,000");
        assert_eq!(f.count_of(1, "job", "jobs"), "1\u{a0}job");
    }

    #[test]
    fn another_shop_writes_a_comma_before_decimals() {
        let f = Format {
            decimal: ',',
            group: '.',
            ..metric()
        };
        assert_eq!(f.money_exact(Minor(123_456)), "\u{20ac}1.234,56");
        assert_eq!(f.share_fine(0.0245), "2,5%");
    }

    #[test]
    fn shares_and_their_ranges() {
        let f = us();
        assert_eq!(f.share(0.515), "52%");
        assert_eq!(f.share_range(0.401, 0.629), "40 to 63%");
        assert_eq!(f.points(-0.04), "\u{2212}4\u{a0}points");
        assert_eq!(f.points(0.01), "+1\u{a0}point");
        assert_eq!(f.points(0.0), "0\u{a0}points");
        assert_eq!(f.share(f64::NAN), NONE);
    }

    #[test]
    fn money_carries_its_sign_before_the_currency() {
        let f = us();
        assert_eq!(f.money(Minor(123_456)), "$1,235");
        assert_eq!(f.money(Minor(-1_400)), "\u{2212}$14");
        assert_eq!(f.money_exact(Minor(1_250)), "$12.50");
        assert_eq!(f.money_signed(Minor(900)), "+$9");
        assert_eq!(f.money_signed(Minor(0)), "$0");
        assert_eq!(f.money_signed(Minor(20)), "$0");
        assert_eq!(f.money_exact_signed(Minor(20)), "+$0.20");
        assert_eq!(f.money_range(10_100.0, 11_499.6), "$101 to $115");
        assert_eq!(f.money_about(f64::NAN), NONE);
        assert_eq!(f.money_tick(12.5), "$12.50");
        assert_eq!(f.money_tick(-20.0), "\u{2212}$20");
        let yen = Format::new(System::Metric, Currency::of("JPY").unwrap());
        assert_eq!(yen.money_exact(Minor(31_000)), "JPY\u{a0}31,000");
    }

    #[test]
    fn units_follow_the_system() {
        assert_eq!(metric().use_rate_text(1.549), "1.55\u{a0}mL/m\u{b2}");
        assert_eq!(
            us().use_rate_text(1.549),
            "14.4\u{a0}mL per 100\u{a0}ft\u{b2}"
        );
        assert_eq!(metric().area(21.0), "21.0\u{a0}m\u{b2}");
        assert_eq!(us().area(21.0), "226\u{a0}ft\u{b2}");
        assert_eq!(us().bottle_volume(1500.0), "50.7\u{a0}US\u{a0}fl\u{a0}oz");
        assert_eq!(us().temperature(10.0), "50\u{a0}\u{b0}F");
        assert_eq!(metric().temperature(10.0), "10\u{a0}\u{b0}C");
        assert_eq!(us().degrees(2.1), "3.8\u{a0}\u{b0}F");
        assert_eq!(metric().degrees(-2.14), "\u{2212}2.1\u{a0}\u{b0}C");
        assert_eq!(us().minutes_range(79.6, 93.2), "80 to 93\u{a0}min");
    }

    #[test]
    fn pace_is_said_in_words() {
        let f = us();
        assert_eq!(f.pace(1.12), "12% slower");
        assert_eq!(f.pace(0.93), "7% quicker");
        assert_eq!(f.pace(1.001), "as quick as usual");
    }

    #[test]
    fn months_and_dates_are_words() {
        let day = NaiveDate::from_ymd_opt(2026, 10, 31).unwrap();
        assert_eq!(month(day), "October 2026");
        assert_eq!(month_short(day), "Oct\u{a0}26");
        assert_eq!(date(day), "31\u{a0}October 2026");
        assert_eq!(month_name(day), "October");
    }

    #[test]
    fn words_in_a_row() {
        let words = ["gloss", "satin", "matte"].map(String::from);
        assert_eq!(list(&words), "gloss, satin and matte");
        assert_eq!(list(&words[..1]), "gloss");
        assert_eq!(list(&[]), "");
    }
}
