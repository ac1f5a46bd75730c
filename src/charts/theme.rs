//! Inks, opacities and sizes: every choice of look that a drawing makes.
//!
//! A drawing names inks and never colours. The style sheet gives each ink its
//! colour in the light, dark, print and forced-colours themes; the light
//! colours stand here once more because a plotters backend is handed colours,
//! and maps them back to names. Blue and vermillion are those of Okabe and
//! Ito, "Color Universal Design" (2008), as are the sky blue and orange that
//! stand for them in the dark theme; two hues and greys are all that a drawing
//! may use, and never without a shape, a dash or a sign beside.

use plotters_backend::BackendColor;

/// What a mark is drawn with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Ink {
    /// Words that matter.
    Text,
    /// Words and lines of the second rank.
    Muted,
    /// Axes, edges of bands, connecting lines.
    Axis,
    /// Lines that only guide the eye.
    Grid,
    /// What is as usual, or what was gained.
    Main,
    /// What stands out, or what was lost.
    Warn,
    /// The ground.
    Paper,
}

impl Ink {
    /// Every ink, in the order of the style sheet.
    pub const ALL: [Self; 7] = [
        Self::Text,
        Self::Muted,
        Self::Axis,
        Self::Grid,
        Self::Main,
        Self::Warn,
        Self::Paper,
    ];

    /// Name of the ink in the style sheet: `--main`, `.f-main`, `.s-main`.
    pub fn name(self) -> &'static str {
        match self {
            Self::Text => "text",
            Self::Muted => "muted",
            Self::Axis => "axis",
            Self::Grid => "grid",
            Self::Main => "main",
            Self::Warn => "warn",
            Self::Paper => "paper",
        }
    }

    /// Colour in the light theme, red, green and blue of 255.
    pub fn light(self) -> [u8; 3] {
        match self {
            Self::Text => [0x1c, 0x20, 0x24],
            Self::Muted => [0x56, 0x5f, 0x69],
            Self::Axis => [0x77, 0x80, 0x8a],
            Self::Grid => [0xe4, 0xe7, 0xea],
            Self::Main => [0x00, 0x72, 0xb2],
            Self::Warn => [0xd5, 0x5e, 0x00],
            Self::Paper => [0xff, 0xff, 0xff],
        }
    }

    /// The ink as plotters hands it to a backend.
    pub(super) fn colour(self, opacity: f64) -> BackendColor {
        let [red, green, blue] = self.light();
        BackendColor {
            alpha: opacity,
            rgb: (red, green, blue),
        }
    }

    /// The ink whose light colour this is.
    pub(super) fn of(colour: BackendColor) -> Option<Self> {
        let (red, green, blue) = colour.rgb;
        Self::ALL
            .into_iter()
            .find(|ink| ink.light() == [red, green, blue])
    }
}

/// Opacity of a band: its edge, drawn solid, is what must be seen.
pub(super) const WASH: f64 = 0.16;
/// Opacity of dots that may lie on each other; above 3:1 in both themes.
pub(super) const DENSE: f64 = 0.8;

/// Height of ordinary lettering, px.
pub(super) const SMALL: f64 = 12.0;
/// Height of lettering that names a row or gives a value, px.
pub(super) const PLAIN: f64 = 13.0;
/// Radius of a dot that stands for an estimate, px.
pub(super) const DOT: f64 = 4.5;
/// Radius of a dot that stands for one job, px.
pub(super) const SPECK: f64 = 3.0;
/// Half the diagonal of a diamond, px.
pub(super) const DIAMOND: f64 = 6.5;
/// Width of the edge of a likely range, px.
pub(super) const FINE: f64 = 0.6;
/// Width of a thin line, px.
pub(super) const THIN: f64 = 1.0;
/// Width of a line that carries meaning, px.
pub(super) const STRONG: f64 = 1.5;
/// Width of the bar that stands for an interval in a row, px.
pub(super) const THICK: f64 = 3.0;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_colour_leads_back_to_its_ink_and_an_unnamed_one_to_none() {
        for ink in Ink::ALL {
            assert_eq!(Ink::of(ink.colour(0.3)), Some(ink));
        }
        let stranger = BackendColor {
            alpha: 1.0,
            rgb: (1, 2, 3),
        };
        assert_eq!(Ink::of(stranger), None);
    }
}
