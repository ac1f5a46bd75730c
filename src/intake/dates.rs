//! Days and moments in the forms that offices write, the order of day and
//! month decided for a column over all its values, never cell by cell.

/// Order of day and month in dates like 03/04/2026.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Order {
    /// 10/31/2026
    MonthFirst,
    /// 31/10/2026
    DayFirst,
    /// 26/10/31, only where the settings say so.
    YearFirst,
}

/// Which orders fit a date.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// No order is needed: year first, or a month by name.
    Plain,
    /// Only month first.
    Month,
    /// Only day first.
    Day,
    /// Both, with different days.
    Either,
}

/// First and last year that a date may name.
pub const YEARS: std::ops::RangeInclusive<i32> = 1900..=2199;

/// Days from 1970-01-01 to a day of the Gregorian calendar; `None` where
/// there is no such day or it is outside [`YEARS`]. (H. Hinnant,
/// "chrono-compatible low-level date algorithms", days_from_civil.)
pub fn day(year: i32, month: u32, day: u32) -> Option<i32> {
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let length = match month {
        2 => 28 + u32::from(leap),
        4 | 6 | 9 | 11 => 30,
        1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
        _ => return None,
    };
    if day == 0 || day > length || !YEARS.contains(&year) {
        return None;
    }
    let y = year - i32::from(month <= 2);
    let era = y.div_euclid(400);
    let yoe = y - era * 400;
    let shifted = (month + 9) % 12;
    let doy = (153 * shifted + 2) / 5 + day - 1;
    let doe = yoe * 365 + yoe / 4 - yoe / 100 + doy as i32;
    Some(era * 146_097 + doe - 719_468)
}

/// A day of [`day`] as `2026-10-31`.
pub fn day_text(days: i32) -> String {
    let z = i64::from(days) + 719_468;
    let era = z.div_euclid(146_097);
    let doe = z - era * 146_097;
    let yoe = (doe - doe / 1460 + doe / 36_524 - doe / 146_096) / 365;
    let doy = doe - (365 * yoe + yoe / 4 - yoe / 100);
    let shifted = (5 * doy + 2) / 153;
    let month = if shifted < 10 {
        shifted + 3
    } else {
        shifted - 9
    };
    let year = yoe + era * 400 + i64::from(month <= 2);
    format!(
        "{year:04}-{month:02}-{:02}",
        doy - (153 * shifted + 2) / 5 + 1
    )
}

/// Microseconds in a day.
pub const DAY_MICROS: i64 = 86_400_000_000;

/// A moment of microseconds since 1970 as `2026-10-31 14:05`.
pub fn moment_text(micros: i64) -> String {
    let day = micros.div_euclid(DAY_MICROS);
    let minutes = micros.rem_euclid(DAY_MICROS) / 60_000_000;
    let day = i32::try_from(day).unwrap_or(i32::MAX);
    format!("{} {:02}:{:02}", day_text(day), minutes / 60, minutes % 60)
}

/// A cell read as a date, with a time of day where it has one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reading {
    /// Days since 1970 if the month comes first (or no order is needed).
    pub month_first: Option<i32>,
    /// Days since 1970 if the day comes first (or no order is needed).
    pub day_first: Option<i32>,
    /// Days since 1970 if the year comes first (or no order is needed).
    pub year_first: Option<i32>,
    /// Microseconds since midnight.
    pub time: Option<i64>,
}

impl Reading {
    /// Which orders fit.
    pub fn shape(&self) -> Option<Shape> {
        match (self.month_first, self.day_first) {
            (Some(a), Some(b)) if a == b => Some(Shape::Plain),
            (Some(_), Some(_)) => Some(Shape::Either),
            (Some(_), None) => Some(Shape::Month),
            (None, Some(_)) => Some(Shape::Day),
            (None, None) => None,
        }
    }

    /// The day in one order.
    pub fn day(&self, order: Order) -> Option<i32> {
        match order {
            Order::MonthFirst => self.month_first,
            Order::DayFirst => self.day_first,
            Order::YearFirst => self.year_first,
        }
    }

    /// The moment in one order; `None` without a time of day.
    pub fn moment(&self, order: Order) -> Option<i64> {
        Some(i64::from(self.day(order)?) * DAY_MICROS + self.time?)
    }
}

/// `2026-10-31`: the common case, fast.
#[inline]
pub fn iso(cell: &[u8]) -> Option<i32> {
    let [a, b, c, d, b'-', e, f, b'-', g, h] = cell else {
        return None;
    };
    let all = [a, b, c, d, e, f, g, h];
    if !all.iter().all(|x| x.is_ascii_digit()) {
        return None;
    }
    let n = |x: &u8| u32::from(x - b'0');
    let year = n(a) * 1000 + n(b) * 100 + n(c) * 10 + n(d);
    day(year as i32, n(e) * 10 + n(f), n(g) * 10 + n(h))
}

/// `2026-10-31 14:05`, `2026-10-31T14:05:00`: the common cases, fast.
#[inline]
pub fn iso_moment(cell: &[u8]) -> Option<i64> {
    let (date, rest) = cell.split_at_checked(10)?;
    let n = |a: &u8, b: &u8| {
        let digits = a.is_ascii_digit() && b.is_ascii_digit();
        digits.then(|| i64::from(a - b'0') * 10 + i64::from(b - b'0'))
    };
    let (hour, minute, second) = match rest {
        [b' ' | b'T', a, b, b':', c, d] => (n(a, b)?, n(c, d)?, 0),
        [b' ' | b'T', a, b, b':', c, d, b':', e, f] => (n(a, b)?, n(c, d)?, n(e, f)?),
        _ => return None,
    };
    let time = clock(hour, minute, second)?;
    Some(i64::from(iso(date)?) * DAY_MICROS + time)
}

fn clock(hour: i64, minute: i64, second: i64) -> Option<i64> {
    let sound = (0..24).contains(&hour) && (0..60).contains(&minute) && (0..60).contains(&second);
    sound.then_some((hour * 3600 + minute * 60 + second) * 1_000_000)
}

/// A cell in any of the forms; `None` where it is in none of them.
pub fn read(cell: &str) -> Option<Reading> {
    let cell = cell.trim();
    let (date, time) = split_time(cell);
    let time = match time {
        "" => None,
        text => Some(time_of_day(text)?),
    };
    let mut reading = date_forms(date)?;
    reading.time = time;
    reading
        .shape()
        .or(reading.year_first.map(|_| Shape::Plain))?;
    Some(reading)
}

/// The date and what follows it.
fn split_time(cell: &str) -> (&str, &str) {
    let colon = cell.find(':');
    let Some(colon) = colon else {
        return (cell, "");
    };
    let digits = cell[..colon].trim_end_matches(|c: char| c.is_ascii_digit());
    let date = digits.trim_end();
    let date = date.strip_suffix(['T', ',']).unwrap_or(date).trim_end();
    (date, cell[digits.len()..].trim())
}

/// `9:05`, `14:05:30.250`, `2:05 PM`, `2:05 p.m.`
fn time_of_day(text: &str) -> Option<i64> {
    let end = text.find(|c: char| !(c.is_ascii_digit() || c == ':' || c == '.'));
    let (numbers, half) = text.split_at(end.unwrap_or(text.len()));
    let half: String = half
        .to_lowercase()
        .chars()
        .filter(|c| !matches!(c, '.' | ' '))
        .collect();
    let (whole, fraction) = numbers.split_once('.').unwrap_or((numbers, ""));
    if !fraction.bytes().all(|b| b.is_ascii_digit()) || text.ends_with('.') && half.is_empty() {
        return None;
    }
    let mut parts = whole.split(':').map(|p| match p.len() {
        1 | 2 => p.parse::<i64>().ok(),
        _ => None,
    });
    let hour = parts.next()??;
    let minute = parts.next()??;
    let second = parts.next().unwrap_or(Some(0))?;
    if parts.next().is_some() {
        return None;
    }
    let hour = match half.as_str() {
        "" => hour,
        "am" if (1..=12).contains(&hour) => hour % 12,
        "pm" if (1..=12).contains(&hour) => hour % 12 + 12,
        _ => return None,
    };
    let micros = format!("{fraction:0<6}");
    let micros: i64 = micros.get(..6)?.parse().ok()?;
    Some(clock(hour, minute, second)? + micros)
}

const MONTHS: [&str; 12] = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
];

fn month_named(word: &str) -> Option<u32> {
    let word = word.to_lowercase();
    let at = MONTHS.iter().position(|m| {
        word.len() >= 3 && (m.starts_with(&word) || (*m == "september" && word == "sept"))
    })?;
    Some(at as u32 + 1)
}

/// A part of a date: a number and how many digits it was written with.
#[derive(Clone, Copy)]
struct Part {
    value: u32,
    digits: usize,
}

impl Part {
    fn of(text: &str) -> Option<Self> {
        let sound = (1..=8).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_digit());
        let value = sound.then(|| text.parse().ok())??;
        Some(Self {
            value,
            digits: text.len(),
        })
    }

    fn is_year(self) -> bool {
        self.digits == 4
    }

    /// A year of two digits is of this century.
    fn year(self) -> Option<i32> {
        match self.digits {
            2 => Some(2000 + self.value as i32),
            4 => Some(self.value as i32),
            _ => None,
        }
    }
}

/// The date in each order that its form allows.
fn date_forms(date: &str) -> Option<Reading> {
    let separators = |c: char| matches!(c, '-' | '/' | '.' | ' ' | ',');
    let words: Vec<&str> = date.split(separators).filter(|w| !w.is_empty()).collect();
    let fixed = |d: Option<i32>| {
        Some(Reading {
            month_first: d,
            day_first: d,
            year_first: d,
            time: None,
        })
    };
    match words.as_slice() {
        [one] if one.len() == 8 => {
            let all = Part::of(one)?.value;
            fixed(day((all / 10_000) as i32, all / 100 % 100, all % 100))
        }
        [a, b, c] => match (Part::of(a), Part::of(b), Part::of(c)) {
            (Some(y), Some(m), Some(d)) if y.is_year() && d.digits <= 2 => {
                fixed(day(y.year()?, m.value, d.value))
            }
            (Some(a), Some(b), Some(c)) if a.digits <= 2 && b.digits <= 2 => Some(Reading {
                month_first: c.year().and_then(|y| day(y, a.value, b.value)),
                day_first: c.year().and_then(|y| day(y, b.value, a.value)),
                year_first: a
                    .year()
                    .filter(|_| c.digits <= 2)
                    .and_then(|y| day(y, b.value, c.value)),
                time: None,
            }),
            (Some(d), None, Some(y)) => fixed(day(y.year()?, month_named(b)?, d.value)),
            (None, Some(d), Some(y)) => fixed(day(y.year()?, month_named(a)?, d.value)),
            _ => None,
        },
        _ => None,
    }
}

/// What a column's cells say about the order of day and month.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Evidence {
    /// Cells that only month-first fits.
    pub month: u64,
    /// Cells that only day-first fits.
    pub day: u64,
    /// Cells that both fit, with different days.
    pub either: u64,
    /// One of those.
    pub example: Option<String>,
}

impl Evidence {
    /// Adds a cell.
    pub fn note(&mut self, shape: Shape, cell: &str) {
        match shape {
            Shape::Plain => {}
            Shape::Month => self.month += 1,
            Shape::Day => self.day += 1,
            Shape::Either => {
                self.either += 1;
                if self.example.is_none() {
                    self.example = Some(cell.to_string());
                }
            }
        }
    }

    /// Adds another chunk's.
    pub fn add(&mut self, other: Self) {
        self.month += other.month;
        self.day += other.day;
        self.either += other.either;
        self.example = self.example.take().or(other.example);
    }

    /// The order that fits, or fits nine in ten of the cells that only one
    /// fits; `None` where the cells do not decide.
    pub fn verdict(&self) -> Option<Order> {
        match (self.month, self.day) {
            (0, 0) if self.either > 0 => None,
            (m, d) if m >= 9 * d => Some(Order::MonthFirst),
            (m, d) if d >= 9 * m => Some(Order::DayFirst),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn days(cell: &str, order: Order) -> Option<String> {
        read(cell)?.day(order).map(day_text)
    }

    #[test]
    fn days_agree_with_the_calendar_of_chrono() {
        let epoch = chrono::NaiveDate::from_ymd_opt(1970, 1, 1).unwrap();
        let mut date = chrono::NaiveDate::from_ymd_opt(1900, 1, 1).unwrap();
        while date.format("%Y").to_string() != "2200" {
            let text = date.format("%Y-%m-%d").to_string();
            let days = (date - epoch).num_days() as i32;
            assert_eq!(iso(text.as_bytes()), Some(days));
            assert_eq!(day_text(days), text);
            date = date.succ_opt().unwrap();
        }
        assert_eq!(iso(b"2026-02-29"), None);
        assert_eq!(iso(b"2026-13-01"), None);
        assert_eq!(iso(b"1899-12-31"), None);
    }

    #[test]
    fn office_dates_are_read() {
        use Order::{DayFirst, MonthFirst, YearFirst};
        let expected = Some("2026-10-31".to_string());
        for (cell, order) in [
            ("2026-10-31", MonthFirst),
            ("2026/10/31", DayFirst),
            ("2026.10.31", DayFirst),
            ("20261031", DayFirst),
            ("10/31/2026", MonthFirst),
            ("10-31-26", MonthFirst),
            ("31.10.2026", DayFirst),
            ("31/10/26", DayFirst),
            ("26-10-31", YearFirst),
            ("31 Oct 2026", MonthFirst),
            ("31-Oct-26", DayFirst),
            ("October 31, 2026", DayFirst),
            ("2026-10-31 00:00:00", DayFirst),
            ("10/31/2026 12:00 AM", MonthFirst),
        ] {
            assert_eq!(days(cell, order), expected, "{cell}");
        }
        for cell in [
            "",
            "31",
            "2026-10",
            "32/32/2026",
            "2026-10-31Z",
            "10/31/026",
            "Oct 2026",
        ] {
            assert_eq!(read(cell), None, "{cell}");
        }
        assert_eq!(days("10/31/2026", DayFirst), None);
    }

    #[test]
    fn times_of_day_are_read_and_zones_refused() {
        let at = |cell: &str| read(cell)?.moment(Order::MonthFirst).map(moment_text);
        let expected = Some("2026-10-31 14:05".to_string());
        for cell in [
            "2026-10-31 14:05",
            "2026-10-31T14:05:59",
            "2026-10-31T14:05:59.25",
            "10/31/2026 2:05 PM",
            "10/31/2026, 2:05pm",
            "31 Oct 2026 2:05 p.m.",
        ] {
            assert_eq!(at(cell), expected, "{cell}");
        }
        for cell in [
            "2026-10-31",
            "2026-10-31T14:05Z",
            "2026-10-31T14:05+02:00",
            "2026-10-31 25:00",
            "2026-10-31 14:60",
            "2026-10-31 13:05 PM",
            "2026-10-31 14:",
        ] {
            assert_eq!(at(cell), None, "{cell}");
        }
        let iso = iso_moment(b"2026-10-31 14:05:00");
        assert_eq!(
            iso,
            read("2026-10-31 14:05").unwrap().moment(Order::DayFirst)
        );
        assert_eq!(iso_moment(b"2026-10-31 1:05"), None);
    }

    fn evidence(cells: &[&str]) -> Evidence {
        let mut found = Evidence::default();
        for cell in cells {
            if let Some(s) = read(cell).and_then(|r| r.shape()) {
                found.note(s, cell);
            }
        }
        found
    }

    #[test]
    fn the_order_is_decided_over_the_whole_column_or_refused() {
        let verdict = |cells: &[&str]| evidence(cells).verdict();
        assert_eq!(
            verdict(&["03/04/2026", "04/25/2026"]),
            Some(Order::MonthFirst)
        );
        assert_eq!(
            verdict(&["03/04/2026", "25/04/2026"]),
            Some(Order::DayFirst)
        );
        assert_eq!(verdict(&["03/04/2026", "05/06/2026"]), None);
        assert_eq!(verdict(&["13/04/2026", "04/25/2026"]), None);
        assert_eq!(verdict(&["04/04/2026"]), Some(Order::MonthFirst));
        assert_eq!(
            evidence(&["03/04/2026"]).example.as_deref(),
            Some("03/04/2026")
        );
    }
}
