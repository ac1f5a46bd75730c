//! The key under a drawing: small pictures of its marks, made of the same
//! classes as the marks themselves.

use super::Drawing;

/// A small picture of a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Swatch {
    /// A value as usual.
    Dot,
    /// One job.
    Speck,
    /// A value that stands out.
    Diamond,
    /// A value outside its limits of which nothing is said.
    Open,
    /// A plain average.
    Ring,
    /// A constant in force.
    Post,
    /// A likely range in a row.
    Interval,
    /// A likely range in a month.
    Whisker,
    /// A usual range.
    Band,
    /// A likely range along a curve.
    Likely,
    /// A level.
    Line,
    /// The line of the first group.
    First,
    /// The line of the second group.
    Second,
    /// A range that goes on past the scale.
    Onward,
    /// A month without a figure.
    Gap,
    /// A bar that added.
    Gained,
    /// A bar that took away.
    Lost,
    /// A bar that is a total.
    Total,
    /// Squares: the larger, the more jobs.
    Cells,
    /// A price under its floor.
    Under,
    /// A price likely under its floor.
    LikelyUnder,
    /// A cell without enough jobs.
    Unknown,
}

/// A picture and what it means.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyEntry {
    /// The picture.
    pub swatch: Swatch,
    /// What it means.
    pub text: String,
}

impl KeyEntry {
    /// `swatch` stands for `text`.
    pub fn new(swatch: Swatch, text: impl Into<String>) -> Self {
        Self {
            swatch,
            text: text.into(),
        }
    }

    /// Those of the entries whose mark occurs.
    pub(super) fn those<const N: usize>(entries: [(bool, Swatch, &str); N]) -> Vec<Self> {
        entries
            .into_iter()
            .filter(|(occurs, _, _)| *occurs)
            .map(|(_, swatch, text)| Self::new(swatch, text))
            .collect()
    }

    /// The picture's markup.
    pub fn picture(&self) -> Drawing {
        swatch(self.swatch)
    }
}

/// The markup of a picture, 20 by 14 px.
pub fn swatch(swatch: Swatch) -> Drawing {
    let inside = match swatch {
        Swatch::Dot => "<circle class=\"f-main\" cx=\"10\" cy=\"7\" r=\"4.5\"/>",
        Swatch::Speck => "<circle class=\"f-main\" cx=\"10\" cy=\"7\" r=\"3\"/>",
        Swatch::Diamond | Swatch::Under => {
            "<path class=\"f-warn\" d=\"M10 .5L16.5 7L10 13.5L3.5 7z\"/>"
        }
        Swatch::Open => {
            "<path class=\"s-main\" stroke-width=\"1.5\" d=\"M10 1.5L15.5 7L10 12.5L4.5 7z\"/>"
        }
        Swatch::LikelyUnder => {
            "<path class=\"s-warn\" stroke-width=\"2\" d=\"M10 2L15 7L10 12L5 7z\"/>"
        }
        Swatch::Ring => {
            "<circle class=\"s-axis\" stroke-width=\"1.5\" cx=\"10\" cy=\"7\" r=\"3.5\"/>"
        }
        Swatch::Post => "<path class=\"s-text\" stroke-width=\"2\" d=\"M10 0V14\"/>",
        Swatch::Interval => "<path class=\"s-main\" stroke-width=\"3\" d=\"M1 7H19\"/>",
        Swatch::Whisker => "<path class=\"s-main\" stroke-width=\"1.5\" d=\"M10 0V14\"/>",
        Swatch::Band => {
            "<rect class=\"f-axis\" fill-opacity=\"0.16\" y=\"1\" width=\"20\" height=\"12\"/>\
             <path class=\"s-axis dash\" d=\"M0 1H20M0 13H20\"/>"
        }
        Swatch::Likely => {
            "<rect class=\"f-main\" fill-opacity=\"0.16\" y=\"1\" width=\"20\" height=\"12\"/>\
             <path class=\"s-main\" stroke-width=\".6\" d=\"M0 1H20M0 13H20\"/>"
        }
        Swatch::Line => "<path class=\"s-muted\" stroke-width=\"1.5\" d=\"M0 7H20\"/>",
        Swatch::First => "<path class=\"s-main\" stroke-width=\"2\" d=\"M0 7H20\"/>",
        Swatch::Second => "<path class=\"s-warn dash\" stroke-width=\"2\" d=\"M0 7H20\"/>",
        Swatch::Onward => {
            "<path class=\"s-main\" stroke-width=\"3\" d=\"M1 7H12\"/>\
             <path class=\"f-main\" d=\"M12 2L19 7L12 12z\"/>"
        }
        Swatch::Gap => "<path class=\"s-axis dash\" d=\"M10 0V14\"/>",
        Swatch::Gained => "<rect class=\"f-main\" y=\"1\" width=\"20\" height=\"12\"/>",
        Swatch::Lost => "<rect class=\"f-warn\" y=\"1\" width=\"20\" height=\"12\"/>",
        Swatch::Total => "<rect class=\"f-axis\" y=\"1\" width=\"20\" height=\"12\"/>",
        Swatch::Cells => "<path class=\"f-main\" d=\"M1 6H3V8H1zM6 5H10V9H6zM12 3H19V11H12z\"/>",
        Swatch::Unknown => "<path class=\"s-axis dash\" d=\"M1 1H19V13H1z\"/>",
    };
    Drawing(format!(
        "<svg class=\"k\" viewBox=\"0 0 20 14\" aria-hidden=\"true\">{inside}</svg>"
    ))
}
