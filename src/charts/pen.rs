//! The backend that plotters draws through: SVG that names inks by class.
//!
//! The canvas is ten times the view box, so that whole canvas units carry
//! tenths of a px. A run of equal dots becomes one path of round-capped points.
//! The pen also remembers the room that marks take, so that labels can keep
//! off them.

use super::error::ChartError;
use super::mark::units;
use super::place::Room;
use super::theme::{Ink, SMALL};
use super::words::{Hold, Words};
use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind,
};
use std::cell::RefCell;
use std::fmt::Write;
use std::rc::Rc;

/// Canvas units in a px.
pub(super) const SCALE: f64 = 10.0;
/// Translucent dots of one path do not darken each other, so a run is broken
/// after this many.
const RUN: usize = 50;
/// From the middle of a line to its baseline, in letter heights: digits and
/// capitals of common faces are 0.7 high.
const TO_BASELINE: f64 = 0.35;

/// What has been drawn so far.
#[derive(Debug, Default)]
pub(super) struct Sheet {
    pub(super) body: String,
    pub(super) marks: Vec<Room>,
}

/// Writes marks into a [`Sheet`] as SVG.
#[derive(Debug)]
pub(super) struct Pen {
    sheet: Rc<RefCell<Sheet>>,
    size: (u32, u32),
    depth: usize,
    run: Option<Dots>,
}

/// A run of equal dots not yet written.
#[derive(Debug)]
struct Dots {
    ink: Ink,
    opacity: f64,
    radius: u32,
    path: String,
    count: usize,
}

impl Dots {
    fn takes(&self, ink: Ink, opacity: f64, radius: u32) -> bool {
        let full = opacity < 1.0 && self.count >= RUN;
        !full && self.ink == ink && self.opacity == opacity && self.radius == radius
    }
}

/// A view box this wide or narrower is drawn for a phone, px.
const NO_POINTER: u32 = 360;

type Drawn = Result<(), DrawingErrorKind<ChartError>>;

impl Pen {
    /// A pen for a view box of `width` × `height` px.
    pub(super) fn new(sheet: Rc<RefCell<Sheet>>, width: u32, height: u32) -> Self {
        let scale = SCALE as u32;
        Self {
            sheet,
            size: (width * scale, height * scale),
            depth: 0,
            run: None,
        }
    }

    /// Opens a group; `tip` shows when a reader points at it. Narrow drawings
    /// are for phones, where nothing can be pointed at: their tips would be
    /// bytes that nobody sees.
    pub(super) fn open(&mut self, class: &str, tip: &str) {
        let mut head = String::from("<g");
        if !class.is_empty() {
            let _ = write!(head, " class=\"{class}\"");
        }
        head.push('>');
        if !tip.is_empty() && self.size.0 > NO_POINTER * SCALE as u32 {
            let _ = write!(head, "<title>{}</title>", escape(tip));
        }
        self.put(&head);
        self.depth += 1;
    }

    /// Closes the group opened last.
    pub(super) fn close(&mut self) {
        self.put("</g>");
        self.depth = self.depth.saturating_sub(1);
    }

    /// Remembers that a mark takes this room.
    pub(super) fn occupy(&mut self, room: Room) {
        self.sheet.borrow_mut().marks.push(room);
    }

    /// Writes a closed path of several outlines in one ink.
    pub(super) fn outlines(&mut self, path: &str, ink: Ink, opacity: f64) {
        let opacity = attribute("fill-opacity", opacity);
        self.put(&format!(
            "<path class=\"f-{}\"{opacity} d=\"{path}\"/>",
            ink.name()
        ));
    }

    /// Writes a line of words whose point lies at `at` on the canvas.
    pub(super) fn write(&mut self, words: &Words, (x, y): BackendCoord) {
        if words.text.is_empty() {
            return;
        }
        let anchor = match words.hold {
            Hold::Start => "",
            Hold::Middle => " text-anchor=\"middle\"",
            Hold::End => " text-anchor=\"end\"",
        };
        let size = match words.size {
            SMALL => String::new(),
            other => format!(" font-size=\"{other}\""),
        };
        let weight = if words.bold {
            " font-weight=\"600\""
        } else {
            ""
        };
        let rim = if words.rim { "" } else { " rimless" };
        self.put(&format!(
            "<text class=\"f-{}{rim}\" x=\"{}\" y=\"{}\"{anchor}{size}{weight}>{}</text>",
            words.ink.name(),
            tenths(x),
            tenths(y + units(TO_BASELINE * words.size)),
            escape(&words.text)
        ));
    }

    fn put(&mut self, element: &str) {
        self.flush();
        let mut sheet = self.sheet.borrow_mut();
        sheet.body.push_str(element);
        sheet.body.push('\n');
    }

    fn flush(&mut self) {
        let Some(run) = self.run.take() else { return };
        let mut sheet = self.sheet.borrow_mut();
        let _ = writeln!(
            sheet.body,
            "<path class=\"d-{}\" stroke-width=\"{}\"{} d=\"{}\"/>",
            run.ink.name(),
            tenths(2 * run.radius as i32),
            attribute("stroke-opacity", run.opacity),
            run.path
        );
    }

    fn dot(&mut self, at: BackendCoord, ink: Ink, opacity: f64, radius: u32) {
        if !matches!(&self.run, Some(run) if run.takes(ink, opacity, radius)) {
            self.flush();
        }
        let run = self.run.get_or_insert_with(|| Dots {
            ink,
            opacity,
            radius,
            path: String::new(),
            count: 0,
        });
        let _ = write!(run.path, "M{} {}h0", tenths(at.0), tenths(at.1));
        run.count += 1;
    }
}

/// The ink of a colour, or the error that names it.
fn ink_of(colour: BackendColor) -> Result<Ink, DrawingErrorKind<ChartError>> {
    let (red, green, blue) = colour.rgb;
    Ink::of(colour).ok_or(DrawingErrorKind::DrawingError(ChartError::UnnamedInk {
        red,
        green,
        blue,
    }))
}

impl DrawingBackend for Pen {
    type ErrorType = ChartError;

    fn get_size(&self) -> (u32, u32) {
        self.size
    }

    fn ensure_prepared(&mut self) -> Drawn {
        Ok(())
    }

    fn present(&mut self) -> Drawn {
        self.flush();
        Ok(())
    }

    /// A drawing has no pixels; nothing here asks for one.
    fn draw_pixel(&mut self, _: BackendCoord, _: BackendColor) -> Drawn {
        Ok(())
    }

    fn draw_line<S: BackendStyle>(
        &mut self,
        from: BackendCoord,
        to: BackendCoord,
        style: &S,
    ) -> Drawn {
        self.draw_path([from, to], style)
    }

    fn draw_rect<S: BackendStyle>(
        &mut self,
        from: BackendCoord,
        to: BackendCoord,
        style: &S,
        fill: bool,
    ) -> Drawn {
        let corners = [from, (to.0, from.1), to, (from.0, to.1)];
        if fill {
            self.fill_polygon(corners, style)
        } else {
            self.draw_path(corners.into_iter().chain([from]), style)
        }
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        path: I,
        style: &S,
    ) -> Drawn {
        let colour = style.color();
        let line = format!(
            "<path class=\"s-{}\"{}{} d=\"{}\"/>",
            ink_of(colour)?.name(),
            stroke(style.stroke_width()),
            attribute("stroke-opacity", colour.alpha),
            path_data(path)
        );
        self.put(&line);
        Ok(())
    }

    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        path: I,
        style: &S,
    ) -> Drawn {
        let colour = style.color();
        let outline = format!("{}z", path_data(path));
        self.outlines(&outline, ink_of(colour)?, colour.alpha);
        Ok(())
    }

    fn draw_circle<S: BackendStyle>(
        &mut self,
        centre: BackendCoord,
        radius: u32,
        style: &S,
        fill: bool,
    ) -> Drawn {
        let colour = style.color();
        let ink = ink_of(colour)?;
        if fill && self.depth == 0 {
            self.dot(centre, ink, colour.alpha, radius);
            return Ok(());
        }
        let (kind, look) = if fill {
            ("f", attribute("fill-opacity", colour.alpha))
        } else {
            ("s", stroke(style.stroke_width()))
        };
        self.put(&format!(
            "<circle class=\"{kind}-{}\" cx=\"{}\" cy=\"{}\" r=\"{}\"{look}/>",
            ink.name(),
            tenths(centre.0),
            tenths(centre.1),
            tenths(radius as i32)
        ));
        Ok(())
    }

    /// Words go through [`Pen::write`], which knows more about them.
    fn draw_text<T: BackendTextStyle>(&mut self, text: &str, _: &T, _: BackendCoord) -> Drawn {
        Err(DrawingErrorKind::DrawingError(ChartError::Refused {
            reason: format!("\"{text}\" was to be written past the pen"),
        }))
    }
}

/// A canvas unit as px, in the shortest decimal.
pub(super) fn tenths(units: i32) -> String {
    let (whole, rest) = (units / 10, (units % 10).abs());
    match rest {
        0 => whole.to_string(),
        _ if units < 0 && whole == 0 => format!("-.{rest}"),
        _ if whole == 0 => format!(".{rest}"),
        _ => format!("{whole}.{rest}"),
    }
}

/// Text with the characters that SVG gives a meaning written out.
pub(super) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            other => out.push(other),
        }
    }
    out
}

/// An opacity as an attribute; none where the ink is solid.
fn attribute(name: &str, opacity: f64) -> String {
    if opacity >= 1.0 {
        return String::new();
    }
    let hundredths = (opacity * 100.0).round() / 100.0;
    format!(" {name}=\"{hundredths}\"")
}

/// A stroke width as an attribute; none where it is one px.
fn stroke(width: u32) -> String {
    match width as i32 {
        w if f64::from(w) == SCALE => String::new(),
        w => format!(" stroke-width=\"{}\"", tenths(w)),
    }
}

/// Path data through the points, level and upright legs written short.
fn path_data<I: IntoIterator<Item = BackendCoord>>(points: I) -> String {
    let mut data = String::new();
    let mut last: Option<BackendCoord> = None;
    for (x, y) in points {
        let leg = match last {
            None => format!("M{} {}", tenths(x), tenths(y)),
            Some(before) if before == (x, y) => String::new(),
            Some((_, level)) if level == y => format!("H{}", tenths(x)),
            Some((upright, _)) if upright == x => format!("V{}", tenths(y)),
            Some(_) => format!("L{} {}", tenths(x), tenths(y)),
        };
        data.push_str(&leg);
        last = Some((x, y));
    }
    data
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tenths_are_written_short() {
        let written: Vec<String> = [0, 5, -5, 10, 123, -123].map(tenths).into();
        assert_eq!(written, ["0", ".5", "-.5", "1", "12.3", "-12.3"]);
    }

    #[test]
    fn equal_dots_share_a_path_until_it_would_hide_how_many_they_are() {
        let sheet = Rc::new(RefCell::new(Sheet::default()));
        let mut pen = Pen::new(sheet.clone(), 100, 100);
        for i in 0..120 {
            pen.draw_circle((i, 5), 30, &Ink::Main.colour(0.8), true)
                .unwrap();
        }
        pen.present().unwrap();
        let body = &sheet.borrow().body;
        assert_eq!(body.lines().count(), 3, "{body}");
        assert_eq!(body.matches("h0").count(), 120);
    }

    #[test]
    fn an_unnamed_colour_is_an_error() {
        let sheet = Rc::new(RefCell::new(Sheet::default()));
        let mut pen = Pen::new(sheet, 100, 100);
        let stranger = BackendColor {
            alpha: 1.0,
            rgb: (1, 2, 3),
        };
        let refused = pen.draw_path([(0, 0), (1, 1)], &stranger);
        assert!(matches!(
            refused,
            Err(DrawingErrorKind::DrawingError(
                ChartError::UnnamedInk { .. }
            ))
        ));
    }

    #[test]
    fn text_cannot_break_out() {
        assert_eq!(
            escape("<script>alert('1')</script> & \""),
            "&lt;script&gt;alert(&#39;1&#39;)&lt;/script&gt; &amp; &quot;"
        );
    }
}
