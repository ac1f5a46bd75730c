//! One table serves the page and the spreadsheet: typed cells, formatted once
//! for readers and once, plainly and safely, for CSV.

use super::format::{Format, month_short};
use super::view::{self, CellView, TableView, sentence};
use super::words;
use crate::estimate::{Figure, NotEnough};
use crate::money::Minor;
use crate::settings::month::Month;

/// One value, with its kind.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Words.
    Text(String),
    /// A count.
    Count(u64),
    /// A share of 1.
    Share(f64),
    /// A small share of 1, with a decimal.
    FineShare(f64),
    /// A change as a share, with its sign.
    Change(f64),
    /// A difference of two shares, in percentage points, with its sign.
    Points(f64),
    /// Money [minor units].
    Money(f64),
    /// Money, whole minor units.
    Exact(Minor),
    /// Coating per area [mL/m²].
    PerArea(f64),
    /// Coating [mL].
    Volume(f64),
    /// Money per mL [minor units per mL].
    PerVolume(f64),
    /// Minutes.
    Minutes(f64),
    /// Area [m²].
    Area(f64),
    /// A difference of temperatures [°C].
    Degrees(f64),
    /// A factor, 1 = no difference.
    Factor(f64),
    /// A month.
    Month(Month),
    /// What could not be said.
    Missing(NotEnough),
    /// Nothing to say.
    Blank,
}

impl Cell {
    /// The value of a figure as `kind` makes it, or what is missing.
    pub fn value(figure: &Figure, kind: fn(f64) -> Self) -> Self {
        match figure {
            Figure::Known(e) => kind(e.value),
            Figure::NotEnough(n) => Self::Missing(n.clone()),
        }
    }

    /// The lower end of a figure's interval.
    pub fn low(figure: &Figure, kind: fn(f64) -> Self) -> Self {
        figure.known().map_or(Self::Blank, |e| kind(e.low))
    }

    /// The upper end of a figure's interval.
    pub fn high(figure: &Figure, kind: fn(f64) -> Self) -> Self {
        figure.known().map_or(Self::Blank, |e| kind(e.high))
    }

    /// What `kind` makes of a number that may be missing.
    pub fn maybe(x: Option<f64>, kind: fn(f64) -> Self) -> Self {
        x.map_or(Self::Blank, kind)
    }

    /// For readers, with what the column is sorted by.
    pub fn shown(&self, f: &Format) -> CellView {
        let about = |x: f64| f.money_about(x);
        match self {
            Self::Text(t) => CellView::words(t),
            Self::Count(n) => CellView::number(f.count(*n), *n as f64),
            Self::Share(x) => CellView::number(f.share(*x), *x),
            Self::Change(x) => CellView::number(format!("{}%", f.signed(100.0 * x, 0)), *x),
            Self::Points(x) => CellView::number(f.points(*x), *x),
            Self::FineShare(x) => CellView::number(f.share_fine(*x), *x),
            Self::Money(x) => CellView::number(about(*x), *x),
            Self::Exact(m) => CellView::number(f.money_exact(*m), m.as_f64()),
            Self::PerArea(x) => CellView::number(f.use_rate_number(*x), *x),
            Self::Volume(x) => CellView::number(f.millilitres(*x), *x),
            Self::PerVolume(x) => CellView::number(f.money_about_exact(*x), *x),
            Self::Minutes(x) => CellView::number(f.minutes(*x), *x),
            Self::Area(x) => CellView::number(f.area(*x), *x),
            Self::Degrees(x) => CellView::number(f.degrees(*x), *x),
            Self::Factor(x) => CellView::number(f.number(*x, 2), *x),
            Self::Month(m) => {
                let number = 12 * m.year() + m.month() as i32;
                CellView::number(month_short(m.first()), f64::from(number))
            }
            Self::Missing(n) => CellView::thin(words::missing_short(n, f)),
            Self::Blank => CellView::thin(""),
        }
    }

    /// For spreadsheets: canonical units, a decimal point, money in major
    /// units, text that no spreadsheet takes for a formula.
    pub fn plain(&self, scale: i64) -> String {
        let money = |x: f64| number(x / scale as f64);
        match self {
            Self::Text(t) => defused(t),
            Self::Count(n) => n.to_string(),
            Self::Share(x) | Self::FineShare(x) | Self::Change(x) => number(*x),
            Self::Points(x) | Self::Factor(x) => number(*x),
            Self::PerArea(x) | Self::Volume(x) | Self::Minutes(x) => number(*x),
            Self::Area(x) | Self::Degrees(x) => number(*x),
            Self::Money(x) | Self::PerVolume(x) => money(*x),
            Self::Exact(m) => money(m.as_f64()),
            Self::Month(m) => m.to_string(),
            Self::Missing(_) | Self::Blank => String::new(),
        }
    }
}

/// The same for numbers of any size that is finite.
pub(super) fn plain_number(x: f64) -> String {
    if x.abs() < 1e15 {
        number(x)
    } else {
        x.to_string()
    }
}

/// Shortest text that reads back within 1e-6 of the number.
fn number(x: f64) -> String {
    let rounded = (x * 1e6).round() / 1e6;
    // Adding zero turns -0 into 0.
    (rounded + 0.0).to_string()
}

/// Text that opens as text: OWASP's advice on CSV injection, which names the
/// first characters = + - @ tab and carriage return.
pub fn defused(text: &str) -> String {
    let risky = text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']);
    if risky {
        format!("'{text}")
    } else {
        text.to_string()
    }
}

/// A column: its name for machines and its heading for readers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Stable name, with the unit where one is not plain.
    pub key: &'static str,
    /// Heading on the page.
    pub title: String,
    /// Holds words.
    pub words: bool,
}

/// A column of words.
pub fn words_column(key: &'static str, title: impl Into<String>) -> Column {
    Column {
        key,
        title: title.into(),
        words: true,
    }
}

/// A column of numbers.
pub fn numbers_column(key: &'static str, title: impl Into<String>) -> Column {
    Column {
        key,
        title: title.into(),
        words: false,
    }
}

/// A table of a section.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Stable name, which is also the CSV file's stem.
    pub name: &'static str,
    /// What is written on the fold.
    pub fold: &'static str,
    /// What it shows.
    pub caption: String,
    /// Columns.
    pub columns: Vec<Column>,
    /// Rows, each as long as `columns`.
    pub rows: Vec<Vec<Cell>>,
    /// How its figures are defined.
    pub definition: String,
}

/// Rows of a table on the page, at most.
const MOST_ON_PAGE: usize = 200;

impl Table {
    /// What the page shows of it: all, or the first rows and the last two,
    /// which may be totals.
    pub fn on_page(&self) -> Self {
        let n = self.rows.len();
        if n <= MOST_ON_PAGE {
            return self.clone();
        }
        let first = MOST_ON_PAGE - 2;
        self.part(|row| row < first || row + 2 >= n)
    }

    /// Without the column of that key where no row says anything in it: the
    /// shop, where there is one.
    pub fn without_blank(mut self, key: &str) -> Self {
        let Some(at) = self.columns.iter().position(|c| c.key == key) else {
            return self;
        };
        let blank = |cell: Option<&Cell>| match cell {
            None | Some(Cell::Blank) => true,
            Some(Cell::Text(text)) => text.is_empty(),
            Some(_) => false,
        };
        if self.rows.iter().all(|row| blank(row.get(at))) {
            self.columns.remove(at);
            for row in self.rows.iter_mut().filter(|row| at < row.len()) {
                row.remove(at);
            }
        }
        self
    }

    /// The rows whose places are wanted; its definition says where all are.
    pub fn part(&self, wanted: impl Fn(usize) -> bool) -> Self {
        let rows = self.rows.iter().enumerate();
        let rows: Vec<Vec<Cell>> = rows
            .filter(|(place, _)| wanted(*place))
            .map(|(_, row)| row.clone())
            .collect();
        let definition = if rows.len() < self.rows.len() {
            format!(
                "{} of {} rows are shown here; tables/{}.csv has all. {}",
                rows.len(),
                self.rows.len(),
                self.name,
                self.definition
            )
        } else {
            self.definition.clone()
        };
        Self {
            name: self.name,
            fold: self.fold,
            caption: self.caption.clone(),
            columns: self.columns.clone(),
            rows,
            definition,
        }
    }

    /// For readers.
    pub fn shown(&self, f: &Format) -> TableView {
        let column = |c: &Column| {
            if c.words {
                view::Column::words(&c.title)
            } else {
                view::Column::numbers(&c.title)
            }
        };
        TableView {
            fold: self.fold.to_string(),
            caption: self.caption.clone(),
            columns: self.columns.iter().map(column).collect(),
            rows: self
                .rows
                .iter()
                .map(|row| row.iter().map(|c| c.shown(f)).collect())
                .collect(),
            definition: sentence(&self.definition),
            sortable: self.rows.len() > 2 && !self.is_of_facts(),
            comma: f.decimal == ',',
        }
    }

    /// A list of facts, each in a unit of its own: no order but its own says
    /// anything.
    fn is_of_facts(&self) -> bool {
        self.columns.first().is_some_and(|c| c.key == "what")
    }

    /// The table as CSV (RFC 4180, CRLF).
    ///
    /// # Errors
    /// None in practice: it is written to memory.
    pub fn csv(&self, scale: i64) -> Result<Vec<u8>, csv::Error> {
        let mut out = csv::WriterBuilder::new()
            .terminator(csv::Terminator::CRLF)
            .from_writer(Vec::new());
        out.write_record(self.columns.iter().map(|c| c.key))?;
        for row in &self.rows {
            out.write_record(row.iter().map(|c| c.plain(scale)))?;
        }
        out.into_inner()
            .map_err(|e| csv::Error::from(e.into_error()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_are_defused_and_numbers_left_alone() {
        for risky in ["=1+1", "+1", "-1", "@x", "\tx", "\rx"] {
            assert_eq!(defused(risky), format!("'{risky}"));
        }
        assert_eq!(defused("gloss"), "gloss");
        assert_eq!(Cell::Money(-1250.0).plain(100), "-12.5");
        assert_eq!(Cell::Share(-0.0).plain(100), "0");
        assert_eq!(
            Cell::Text("=cmd|' /C calc'!A0".into()).plain(100),
            "'=cmd|' /C calc'!A0"
        );
    }

    #[test]
    fn a_long_table_is_cut_on_the_page_and_says_so() {
        let table = |n: u64| Table {
            name: "long",
            fold: "",
            caption: String::new(),
            columns: vec![numbers_column("n", "N")],
            rows: (0..n).map(|i| vec![Cell::Count(i)]).collect(),
            definition: "Counts.".into(),
        };
        assert_eq!(table(200).on_page(), table(200));
        let cut = table(1_000).on_page();
        assert_eq!(cut.rows.len(), 200);
        let last = [197, 998, 999].map(|n| vec![Cell::Count(n)]);
        assert_eq!(cut.rows[197..], last);
        assert_eq!(
            cut.definition,
            "200 of 1000 rows are shown here; tables/long.csv has all. Counts."
        );
    }

    #[test]
    fn a_table_becomes_csv_with_its_keys_as_headings() {
        let table = Table {
            name: "t",
            fold: "",
            caption: String::new(),
            columns: vec![
                words_column("finish", "Finish"),
                numbers_column("ml_per_m2", "mL per m²"),
            ],
            rows: vec![vec![Cell::Text("a, \"b\"".into()), Cell::PerArea(1.5)]],
            definition: String::new(),
        };
        let csv = String::from_utf8(table.csv(100).unwrap()).unwrap();
        assert_eq!(csv, "finish,ml_per_m2\r\n\"a, \"\"b\"\"\",1.5\r\n");
    }
}
