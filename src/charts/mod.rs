//! Drawings: points, bands and finished labels in, SVG text out.
//!
//! A drawing computes no statistic and writes no file. It takes a spec whose
//! numbers place marks and whose texts are already formatted, and yields the
//! inside of an SVG in two sizes, one for a desk or paper and one for a phone.
//! [`figure`] wraps both for a page. plotters gives scales and coordinates;
//! its backend is our own [`pen`].
//!
//! Same spec, same bytes.

mod axis;
mod bridge;
mod caterpillar;
mod control;
mod curve;
mod error;
mod floor;
mod frame;
mod funnel;
mod heat;
mod intervals;
mod key;
mod lettering;
mod mark;
mod pen;
mod place;
mod rows;
mod survival;
pub mod theme;
mod words;

pub use axis::{Axis, Band, Tick};
pub use bridge::{Bridge, Step, Total, bridge};
pub use caterpillar::{Caterpillar, caterpillar};
pub use control::{Centre, Control, Month, control};
pub use curve::{Best, Curve, CurvePoint, curve};
pub use error::ChartError;
pub use floor::{Floor, Job, Priced, floor};
pub use funnel::{Funnel, FunnelLimit, FunnelPoint, funnel};
pub use heat::{Cell, Cover, Heat, HeatRow, heat};
pub use intervals::{Intervals, intervals};
pub use key::{KeyEntry, Swatch, swatch};
pub use rows::{Row, RowFigure};
pub use survival::{Drop, Group, Survival, survival};

use std::fmt;

/// The two widths in which every drawing is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Size {
    /// 720 px: desk and paper.
    Wide,
    /// 360 px: phone.
    Narrow,
}

impl Size {
    /// Width of the view box, px.
    pub fn width(self) -> u32 {
        match self {
            Self::Wide => 720,
            Self::Narrow => 360,
        }
    }
}

/// The inside of one drawing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Svg {
    width: u32,
    height: u32,
    body: String,
}

impl Svg {
    /// Width of the view box, px.
    pub fn width(&self) -> u32 {
        self.width
    }

    /// Height of the view box, px.
    pub fn height(&self) -> u32 {
        self.height
    }

    /// The elements, without the `svg` element around them.
    pub fn body(&self) -> &str {
        &self.body
    }
}

/// Markup that this module alone can make, so that a page may print it as it
/// is: all text within is escaped.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Drawing(String);

impl Drawing {
    /// The markup.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Drawing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Both sizes of a drawing as one figure's markup. `id` must be unique on the
/// page; `title` and `desc` are what a screen reader says in the drawing's
/// place. The style sheet shows one size at a time.
pub fn figure(id: &str, title: &str, desc: &str, wide: &Svg, narrow: &Svg) -> Drawing {
    let words = Words { id, title, desc };
    let (wide, narrow) = (words.with(wide, "wide"), words.beside(narrow, "narrow"));
    Drawing(format!("{wide}\n{narrow}"))
}

/// [`figure`] of what `draw` makes in both sizes.
///
/// # Errors
/// Those of `draw`.
pub fn figure_of(
    id: &str,
    title: &str,
    desc: &str,
    draw: impl Fn(Size) -> Result<Svg, ChartError>,
) -> Result<Drawing, ChartError> {
    let wide = draw(Size::Wide)?;
    let narrow = draw(Size::Narrow)?;
    Ok(figure(id, title, desc, &wide, &narrow))
}

/// What a screen reader says in a drawing's place.
struct Words<'a> {
    id: &'a str,
    title: &'a str,
    desc: &'a str,
}

impl Words<'_> {
    /// A drawing that carries the words.
    fn with(&self, svg: &Svg, class: &str) -> String {
        let (id, title, desc) = (
            pen::escape(self.id),
            pen::escape(self.title),
            pen::escape(self.desc),
        );
        self.wrapped(
            svg,
            class,
            &format!("<title id=\"{id}-t\">{title}</title><desc id=\"{id}-d\">{desc}</desc>"),
        )
    }

    /// The same figure in another size: it points at the words, which are
    /// found there even while that drawing is not shown.
    fn beside(&self, svg: &Svg, class: &str) -> String {
        self.wrapped(svg, class, "")
    }

    /// The inner group is hidden from screen readers: they hear title and
    /// description, and read the table, instead of dozens of marks.
    fn wrapped(&self, svg: &Svg, class: &str, words: &str) -> String {
        let id = pen::escape(self.id);
        format!(
            "<svg class=\"{class}\" viewBox=\"0 0 {} {}\" role=\"img\" aria-labelledby=\"{id}-t {id}-d\">\
             {words}<g aria-hidden=\"true\" font-size=\"{}\">\n{}</g></svg>",
            svg.width,
            svg.height,
            theme::SMALL,
            svg.body
        )
    }
}

/// Room that a line of text takes, px, in the widest face that a reader is
/// likely to have, at a letter height of `size` px.
pub fn text_width(text: &str, size: f64, bold: bool) -> f64 {
    lettering::width(text, size, bold)
}
