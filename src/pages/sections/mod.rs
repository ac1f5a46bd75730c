//! One file a section: findings in, sentence, drawing and table out. All three
//! come from the same struct, so they cannot disagree.

pub(super) mod attach;
pub(super) mod bottles;
pub(super) mod bridge;
pub(super) mod callbacks;
mod changed;
pub(super) mod consumption;
pub(super) mod discounts;
pub(super) mod durability;
pub(super) mod floor;
mod groups;
pub(super) mod margin;
pub(super) mod minutes;
mod of_bottles;
mod of_constants;
pub(super) mod own;
pub(super) mod pace;
pub(super) mod planning;
pub(super) mod price;
pub(super) mod price_list;
mod rare;
pub(super) mod restated;
pub(super) mod shops;
pub(super) mod short;
pub(super) mod workspace;

pub(super) use groups::shown as shown_as;

use super::error::PageError;
use super::format::Format;
use super::table::Table;
use super::view::{FigureView, SectionView, Sentence, sentence};
use super::words;
use crate::charts::{ChartError, Drawing, KeyEntry};
use crate::findings::headline::{Action, Moved};
use crate::findings::{Missing, Scope};
use crate::money::Minor;
use crate::settings::shop::Money;

/// What every section needs beside its findings.
#[derive(Debug, Clone, Copy)]
pub(super) struct Context<'a> {
    /// How numbers are written.
    pub(super) format: &'a Format,
    /// The months spoken of.
    pub(super) scope: &'a Scope,
    /// What the first screen asks for.
    pub(super) actions: &'a [Action],
    /// Money settings.
    pub(super) money: &'a Money,
}

impl Context<'_> {
    /// What costs that the settings leave at nothing do to a section's figures.
    fn not_set(&self, they: &str) -> Option<Sentence> {
        not_set(self.money).map(|which| say(format!("{which} not set, so {they}.")))
    }

    /// Which margins floor and target stand for, and where they are set.
    fn margins(&self) -> Sentence {
        let (f, m) = (self.format, self.money);
        say(format!(
            "A floor price leaves {} over, a target price {}: floor_margin and target_margin in shop.toml set them.",
            f.share(m.floor_margin),
            f.share(m.target_margin)
        ))
    }

    /// The same for a table.
    fn margin_rows(&self) -> [(&'static str, f64); 2] {
        [
            ("Left over of a floor price", self.money.floor_margin),
            ("Left over of a target price", self.money.target_margin),
        ]
    }

    /// What a change of a figure is worth this month, where the first screen
    /// says so; the section then shows it too.
    fn worth(&self, of: Moved) -> Option<Minor> {
        self.actions.iter().find_map(|a| match a {
            Action::LookInto(x) if x.figure == of => x.worth,
            _ => None,
        })
    }
}

/// "Card fees are": costs that the settings leave at nothing. They make every
/// job look better than it was.
pub(super) fn not_set(money: &Money) -> Option<&'static str> {
    match (money.consumables == 0.0, money.card_fee_share == 0.0) {
        (true, true) => Some("Consumables and card fees are"),
        (true, false) => Some("Consumables are"),
        (false, true) => Some("Card fees are"),
        (false, false) => None,
    }
}

/// A section with the tables behind it.
#[derive(Debug, Clone)]
pub(super) struct Section {
    pub(super) view: SectionView,
    pub(super) tables: Vec<Table>,
}

impl Section {
    /// Puts the tables into the view.
    pub(super) fn new(mut view: SectionView, tables: Vec<Table>, f: &Format) -> Self {
        // A table without a row tells a reader nothing; its CSV says as much.
        let filled = tables.iter().filter(|t| !t.rows.is_empty());
        view.tables = filled.map(|t| t.on_page().shown(f)).collect();
        Self { view, tables }
    }

    /// A table more.
    pub(super) fn add(&mut self, table: Table, f: &Format) {
        self.view.tables.push(table.on_page().shown(f));
        self.tables.push(table);
    }

    /// What was found as `shown` shows it, or a section that says what it lacks.
    fn of<T>(
        found: &Result<T, Missing>,
        id: &str,
        heading: &str,
        c: Context<'_>,
        shown: impl FnOnce(&T) -> Result<Self, PageError>,
    ) -> Result<Self, PageError> {
        match found {
            Ok(found) => shown(found),
            Err(why) => Ok(Self::missing(id, heading, why, c.format)),
        }
    }

    /// A section that says what it lacks.
    fn missing(id: &str, heading: &str, why: &Missing, f: &Format) -> Self {
        let view = SectionView {
            id: id.into(),
            heading: heading.into(),
            sentence: vec![words::why_missing(why, f).into()],
            ..SectionView::default()
        };
        Self {
            view,
            tables: Vec::new(),
        }
    }
}

/// A drawing with its unit line, or nothing where there is nothing to draw.
pub(super) fn drawn(
    section: &'static str,
    unit_line: String,
    key: Vec<KeyEntry>,
    drawing: Result<Drawing, ChartError>,
) -> Result<Vec<FigureView>, PageError> {
    match drawing {
        Ok(drawing) => Ok(vec![FigureView {
            unit_line,
            drawing,
            key,
        }]),
        // Nothing to draw, or figures that no axis can hold: the sentence and
        // the table stand without a drawing.
        Err(
            ChartError::Empty { .. }
            | ChartError::OffScale { .. }
            | ChartError::Backwards { .. }
            | ChartError::TooMany { .. },
        ) => Ok(Vec::new()),
        Err(source) => Err(PageError::Chart { section, source }),
    }
}

/// A sentence of our own words.
fn say(text: impl AsRef<str>) -> Sentence {
    sentence(text.as_ref())
}
