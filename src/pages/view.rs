//! What a page shows, as text: the structs that the template prints.
//!
//! Every string here is plain text. The template escapes all of it; markup
//! comes from the template itself and from [`Drawing`]s, which escape their
//! own. A link leads to a place on the same page and nowhere else.

mod headings;

use crate::charts::{Drawing, KeyEntry};
pub use headings::Headings;

/// A page: a review, or what one person is shown.
#[derive(Debug, Clone, Default)]
pub struct PageView {
    /// What stands over its parts.
    pub headings: Headings,
    /// Title of the document: "Coating review, October 2026".
    pub title: String,
    /// Line over the heading: the shop.
    pub kicker: String,
    /// The heading: "October 2026".
    pub h1: String,
    /// Under the heading: jobs counted, lines left out and why, the data's end.
    pub cover: Sentence,
    /// The plain verdict on the month.
    pub lead: Sentence,
    /// The four figures.
    pub tiles: Vec<Tile>,
    /// What makes them look better than they are; may be empty.
    pub beware: Sentence,
    /// What to do next, at most three.
    pub do_next: Vec<Action>,
    /// What else the month brought, a line each.
    pub glance: Vec<Glance>,
    /// What cannot be said yet, and when it can.
    pub cannot_say: Vec<Sentence>,
    /// The evidence, in the order that a manager asks.
    pub sections: Vec<SectionView>,
    /// Sections left out, and what would unlock each.
    pub left_out: Vec<Sentence>,
    /// How to read the page.
    pub how_to_read: Vec<Sentence>,
    /// What the numbers rest on.
    pub rests_on: Vec<RestsOn>,
    /// Last line: program, version, fingerprint.
    pub footer: Sentence,
}

/// A run of text.
pub type Sentence = Vec<Piece>;

/// A piece of a sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Piece {
    /// Plain text.
    Text(String),
    /// Text that matters: the figures of the sentence.
    Strong(String),
    /// A link to a place on this page.
    Link {
        /// What is written.
        text: String,
        /// Id of the place, without the number sign.
        to: String,
    },
}

impl Piece {
    /// Plain text.
    pub fn text(text: impl Into<String>) -> Self {
        Self::Text(text.into())
    }

    /// Text that matters.
    pub fn strong(text: impl Into<String>) -> Self {
        Self::Strong(text.into())
    }

    /// A link to the place with that id.
    pub fn link(text: impl Into<String>, to: impl Into<String>) -> Self {
        Self::Link {
            text: text.into(),
            to: to.into(),
        }
    }

    /// The words, without their look.
    pub fn words(&self) -> &str {
        match self {
            Self::Text(text) | Self::Strong(text) | Self::Link { text, .. } => text,
        }
    }
}

impl From<&str> for Piece {
    fn from(text: &str) -> Self {
        Self::text(text)
    }
}

impl From<String> for Piece {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}

/// A sentence from text in which `**` begins and ends what matters. What
/// stands between comes from formatting, never from a shop's data: put that in
/// pieces of its own.
pub fn sentence(marked: &str) -> Sentence {
    let piece = |(i, part): (usize, &str)| match i % 2 {
        0 => Piece::text(part),
        _ => Piece::strong(part),
    };
    let parts = marked.split("**").enumerate();
    parts
        .filter(|(_, part)| !part.is_empty())
        .map(piece)
        .collect()
}

/// The words of a sentence in one string.
pub fn words(sentence: &[Piece]) -> String {
    sentence.iter().map(Piece::words).collect()
}

/// One of the four figures.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tile {
    /// What it is: "Coating sold on".
    pub label: String,
    /// The figure, or why there is none.
    pub figure: TileFigure,
    /// "48% in September"; may be empty.
    pub before: String,
    /// "usual 31%"; may be empty.
    pub usual: String,
    /// How sure: "Real change", "Could be luck"; may be empty.
    pub certainty: String,
    /// Id of the section that proves it; may be empty.
    pub proof: String,
}

/// The large number of a tile.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum TileFigure {
    /// It is known.
    Known {
        /// "52%".
        value: String,
        /// "mL/m²"; may be empty.
        unit: String,
    },
    /// Too little data: "3 of 10 jobs needed".
    Thin {
        /// What is missing.
        text: String,
    },
}

/// Something to do next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Action {
    /// What to do.
    pub what: String,
    /// Why, with the money behind it.
    pub why: Sentence,
    /// What is written on the link to the proof: "See the list".
    pub proof: String,
    /// Id of the section that proves it.
    pub to: String,
}

/// A line of the first screen beside what to do next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Glance {
    /// What it is on: "Callbacks".
    pub label: String,
    /// Id of the section that proves it; empty where links stand in the line.
    pub to: String,
    /// What it says.
    pub said: Sentence,
}

/// A section of the evidence.
#[derive(Debug, Clone, Default)]
pub struct SectionView {
    /// Its id: letters, digits, hyphens.
    pub id: String,
    /// Its heading.
    pub heading: String,
    /// The question that it answers, in the list of sections; empty: its
    /// heading stands there.
    pub question: &'static str,
    /// What stands beside it in the list of sections; may be empty.
    pub short: Sentence,
    /// What it says.
    pub sentence: Sentence,
    /// Its drawings, in order.
    pub figures: Vec<FigureView>,
    /// How to read the drawings; may be empty.
    pub how_to_read: Sentence,
    /// Notes that ask for something, each a paragraph.
    pub notes: Vec<Sentence>,
    /// Notes for those who look closer, folded.
    pub more: Vec<Sentence>,
    /// Its tables, folded.
    pub tables: Vec<TableView>,
}

/// A drawing with what stands around it.
#[derive(Debug, Clone)]
pub struct FigureView {
    /// Unit line over the drawing: what, in which unit, over which time.
    pub unit_line: String,
    /// The drawing.
    pub drawing: Drawing,
    /// Its key.
    pub key: Vec<KeyEntry>,
}

/// A folded table.
#[derive(Debug, Clone, Default)]
pub struct TableView {
    /// What is written on the fold: "The numbers, month by month".
    pub fold: String,
    /// Its caption; unique on the page, as it names the table to a screen reader.
    pub caption: String,
    /// Its columns; the first names the row.
    pub columns: Vec<Column>,
    /// Its rows, one cell a column, in the order shown without a script.
    pub rows: Vec<Vec<CellView>>,
    /// How many, and how each column is defined; may be empty.
    pub definition: Sentence,
    /// Columns can be sorted by.
    pub sortable: bool,
    /// Decimals of its numbers follow a comma.
    pub comma: bool,
}

impl TableView {
    /// Of each column: its cells carry what they are sorted by. All of a column
    /// do that have it, or none: none where each shows a number, as the script
    /// reads those.
    pub fn keyed(&self) -> Vec<bool> {
        let keyed = |(i, column): (usize, &Column)| {
            let cells = self.rows.iter().filter_map(|row| row.get(i));
            let mut valued = cells.filter(|c| c.sort.is_some());
            let decimal = if self.comma { ',' } else { '.' };
            let shows = |c: &CellView| number_shown(&c.text, decimal).is_some();
            self.sortable && valued.any(|c| !(column.numeric && shows(c)))
        };
        self.columns.iter().enumerate().map(keyed).collect()
    }
}

/// A column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Its heading, unit included.
    pub title: String,
    /// It holds numbers: set to the right.
    pub numeric: bool,
}

impl Column {
    /// A column of words.
    pub fn words(title: impl Into<String>) -> Self {
        Self {
            title: title.into(),
            numeric: false,
        }
    }

    /// A column of numbers.
    pub fn numbers(title: impl Into<String>) -> Self {
        Self {
            title: title.into(),
            numeric: true,
        }
    }
}

/// A cell.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CellView {
    /// What it says.
    pub text: String,
    /// What it is sorted by; none: by its words, or last in a column of numbers.
    pub sort: Option<f64>,
    /// It says that too little is known: grey.
    pub thin: bool,
}

impl CellView {
    /// A cell of words.
    pub fn words(text: impl Into<String>) -> Self {
        Self {
            text: text.into(),
            ..Self::default()
        }
    }

    /// A cell that shows `text` and is sorted by `value`.
    pub fn number(text: impl Into<String>, value: f64) -> Self {
        Self {
            text: text.into(),
            sort: value.is_finite().then_some(value),
            thin: false,
        }
    }

    /// A grey cell that says why there is no figure.
    pub fn thin(text: impl Into<String>) -> Self {
        Self {
            text: text.into(),
            sort: None,
            thin: true,
        }
    }

    /// The sort key as the template prints it, to six digits, which is more
    /// than any cell shows; empty without one.
    pub fn key(&self) -> String {
        const DIGITS: i32 = 6;
        let short = |v: f64| {
            let size = v.abs().log10().floor();
            if !size.is_finite() {
                return format!("{v}");
            }
            let places = DIGITS - 1 - size as i32;
            format!("{:.*}", places.clamp(0, 12) as usize, v)
                .trim_end_matches(|c| c == '0' && places > 0)
                .trim_end_matches('.')
                .to_string()
        };
        self.sort.map_or_else(String::new, short)
    }
}

/// One number with what stands around it, after this mark its decimals: a sign,
/// no letter before the digits, no digit after them. `reports/sort.js` reads
/// cells in the same way.
fn number_shown(text: &str, decimal: char) -> Option<f64> {
    let unsigned = text.strip_prefix(['\u{2212}', '+', '-']).unwrap_or(text);
    let from = unsigned.find(|c: char| c.is_ascii_digit() || c.is_alphabetic())?;
    let digits = unsigned.get(from..)?;
    let is_digit = |c: char| c.is_ascii_digit();
    let is_group = |c: char| c != decimal && (matches!(c, ',' | '.' | '\'') || c.is_whitespace());
    let rest = digits.trim_start_matches(|c| is_digit(c) || is_group(c));
    let whole = digits.strip_suffix(rest)?;
    let (fraction, rest) = match rest.strip_prefix(decimal) {
        Some(after) if whole.ends_with(is_digit) => {
            let rest = after.trim_start_matches(is_digit);
            (after.strip_suffix(rest)?, rest)
        }
        _ => ("", rest),
    };
    if rest.contains(is_digit) {
        return None;
    }
    let whole: String = whole.chars().filter(|c| is_digit(*c)).collect();
    let size: f64 = format!("{whole}.{fraction}").parse().ok()?;
    let under = text.starts_with(['\u{2212}', '-']);
    Some(if under { -size } else { size })
}

/// A part of what the numbers rest on.
#[derive(Debug, Clone, Default)]
pub struct RestsOn {
    /// Its heading: "Constants in force".
    pub heading: String,
    /// What it says, a paragraph each.
    pub paragraphs: Vec<Sentence>,
    /// Its tables, folded.
    pub tables: Vec<TableView>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn asterisks_mark_what_matters() {
        let got = sentence("October: **34 of 66 jobs (52%)**. More than usual.");
        let wanted = vec![
            Piece::text("October: "),
            Piece::strong("34 of 66 jobs (52%)"),
            Piece::text(". More than usual."),
        ];
        assert_eq!(got, wanted);
        assert_eq!(
            words(&got),
            "October: 34 of 66 jobs (52%). More than usual."
        );
        assert!(sentence("").is_empty());
    }

    #[test]
    fn a_cell_that_is_no_number_has_no_key() {
        assert_eq!(CellView::number("x", f64::NAN).key(), "");
        assert_eq!(CellView::number("52%", 0.52).key(), "0.52");
        assert_eq!(CellView::number("72%", 13.0 / 18.0).key(), "0.722222");
        assert_eq!(CellView::number("", 1_234_567.0).key(), "1234567");
        assert_eq!(CellView::number("", 100.0).key(), "100");
        assert_eq!(CellView::number("", -20.5).key(), "-20.5");
        assert_eq!(CellView::number("", 0.0).key(), "0");
        assert_eq!(CellView::thin("3 of 10").key(), "");
    }

    #[test]
    fn the_number_that_a_cell_shows_is_that_of_the_script() {
        // With a decimal point, and with a decimal comma.
        let shown = [
            ("39", Some(39.0), Some(39.0)),
            ("1,039", Some(1039.0), Some(1.039)),
            ("52%", Some(52.0), Some(52.0)),
            ("\u{2212}$2.30", Some(-2.3), Some(-230.0)),
            ("+16\u{a0}points", Some(16.0), Some(16.0)),
            ("1,062.4\u{a0}mL", Some(1062.4), None),
            ("1.062,4\u{a0}mL", None, Some(1062.4)),
            ("12,5", Some(125.0), Some(12.5)),
            ("1\u{a0}062,4", Some(10624.0), Some(1062.4)),
            ("1'062'000", Some(1_062_000.0), Some(1_062_000.0)),
            ("5.", Some(5.0), Some(5.0)),
            ("Oct 26", None, None),
            ("kr 12.50", None, None),
            ("2026-10-05", None, None),
            ("3 of 10", None, None),
            ("\u{2014}", None, None),
            ("", None, None),
        ];
        for (text, point, comma) in shown {
            assert_eq!(number_shown(text, '.'), point, "{text}");
            assert_eq!(number_shown(text, ','), comma, "{text}");
        }
    }

    /// A sortable table of one column of numbers.
    fn column(cells: &[(&str, f64)]) -> TableView {
        let row = |(text, value): &(&str, f64)| vec![CellView::number(*text, *value)];
        TableView {
            columns: vec![Column::numbers("x")],
            rows: cells.iter().map(row).collect(),
            sortable: true,
            ..TableView::default()
        }
    }

    #[test]
    fn all_cells_of_a_column_have_keys_or_none() {
        let shown = [("\u{2212}$2.30", -230.0), ("$1,039", 103_900.0)];
        let mut table = column(&shown);
        table.rows.push(vec![CellView::thin("3 of 10")]);
        assert_eq!(table.keyed(), [false]);
        // One that shows no number, and all are sorted by their keys.
        table.rows.push(vec![CellView::number("Oct 26", 24_322.0)]);
        assert_eq!(table.keyed(), [true]);
        table.sortable = false;
        assert_eq!(table.keyed(), [false]);
        let mut comma = column(&[("1.062,4", 1062.4), ("9,75", 9.75)]);
        assert_eq!(comma.keyed(), [true]);
        comma.comma = true;
        assert_eq!(comma.keyed(), [false]);
        let mut words = column(&[("2026", 2026.0)]);
        words.columns = vec![Column::words("x")];
        assert_eq!(words.keyed(), [true]);
    }
}
