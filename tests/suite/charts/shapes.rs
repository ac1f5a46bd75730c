//! Reads a drawing back: its elements, where they lie, what they are made of.

use tallycoat::charts::{Svg, text_width};

/// A rectangle, px.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Area {
    fn around(points: &[(f64, f64)], by: f64) -> Self {
        let fold = |of: fn(&(f64, f64)) -> f64, pick: fn(f64, f64) -> f64, start: f64| {
            points.iter().map(of).fold(start, pick)
        };
        Self {
            left: fold(|p| p.0, f64::min, f64::INFINITY) - by,
            top: fold(|p| p.1, f64::min, f64::INFINITY) - by,
            right: fold(|p| p.0, f64::max, f64::NEG_INFINITY) + by,
            bottom: fold(|p| p.1, f64::max, f64::NEG_INFINITY) + by,
        }
    }

    pub fn meets(&self, other: &Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    pub fn holds(&self, other: &Self) -> bool {
        self.left <= other.left
            && self.top <= other.top
            && other.right <= self.right
            && other.bottom <= self.bottom
    }
}

/// What an element is.
#[derive(Debug, Clone)]
pub enum Kind {
    Circle,
    /// Outlines or lines, one list of corners each.
    Path(Vec<Vec<(f64, f64)>>),
    Text(String),
}

/// An element of a drawing.
#[derive(Debug, Clone)]
pub struct Element {
    pub kind: Kind,
    /// Its first class: `f-main`.
    pub class: String,
    /// Dashed, by its own class or its group's.
    pub dashed: bool,
    pub opacity: f64,
    /// Rooms that it takes: one, or one for each outline or point.
    pub areas: Vec<Area>,
}

impl Element {
    pub fn is_filled(&self) -> bool {
        self.class.starts_with("f-") && !self.is_text()
    }

    pub fn is_text(&self) -> bool {
        matches!(self.kind, Kind::Text(_))
    }

    pub fn is_round(&self) -> bool {
        matches!(self.kind, Kind::Circle)
    }

    pub fn ink(&self) -> &str {
        self.class.get(2..).unwrap_or("")
    }
}

fn attribute<'a>(line: &'a str, name: &str) -> Option<&'a str> {
    let start = line.find(&format!(" {name}=\""))? + name.len() + 3;
    line.get(start..)?.split('"').next()
}

fn number(line: &str, name: &str, otherwise: f64) -> f64 {
    attribute(line, name).map_or(otherwise, |v| v.parse().unwrap())
}

/// The elements of a drawing, in the order drawn.
pub fn read(svg: &Svg) -> Vec<Element> {
    let mut dashed = false;
    let mut out = Vec::new();
    for line in svg.body().lines() {
        if line.starts_with("<g") {
            dashed = attribute(line, "class") == Some("dash");
        } else if line == "</g>" {
            dashed = false;
        } else {
            out.push(element(line, dashed));
        }
    }
    out
}

fn element(line: &str, in_dashed: bool) -> Element {
    let classes: Vec<&str> = attribute(line, "class").unwrap().split(' ').collect();
    let (kind, areas) = if line.starts_with("<text") {
        text(line)
    } else if line.starts_with("<circle") {
        circle(line)
    } else if line.starts_with("<path") {
        path(line, classes[0])
    } else {
        panic!("an element that no drawing should hold: {line}");
    };
    Element {
        kind,
        class: classes[0].to_string(),
        dashed: in_dashed || classes.contains(&"dash"),
        opacity: number(line, "fill-opacity", number(line, "stroke-opacity", 1.0)),
        areas,
    }
}

fn circle(line: &str) -> (Kind, Vec<Area>) {
    let at = (number(line, "cx", 0.0), number(line, "cy", 0.0));
    (
        Kind::Circle,
        vec![Area::around(&[at], number(line, "r", 0.0))],
    )
}

/// The room of the letters: from the top of the capitals to a little below the
/// baseline.
fn text(line: &str) -> (Kind, Vec<Area>) {
    let words = line.split('>').nth(1).unwrap().trim_end_matches("</text");
    let plain = words
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&#39;", "'")
        .replace("&amp;", "&");
    let size = number(line, "font-size", 12.0);
    let bold = attribute(line, "font-weight").is_some();
    let width = text_width(&plain, size, bold);
    let (x, y) = (number(line, "x", 0.0), number(line, "y", 0.0));
    let left = match attribute(line, "text-anchor") {
        Some("middle") => x - width / 2.0,
        Some("end") => x - width,
        _ => x,
    };
    let area = Area {
        left,
        top: y - 0.74 * size,
        right: left + width,
        bottom: y + 0.12 * size,
    };
    (Kind::Text(plain), vec![area])
}

fn path(line: &str, class: &str) -> (Kind, Vec<Area>) {
    let outlines = corners(attribute(line, "d").unwrap());
    let half = match &class[..2] {
        "f-" => 0.0,
        _ => number(line, "stroke-width", 1.0) / 2.0,
    };
    let areas = outlines.iter().map(|o| Area::around(o, half)).collect();
    (Kind::Path(outlines), areas)
}

/// Corners of path data made of M, L, H, V, l, h, v and z.
fn corners(data: &str) -> Vec<Vec<(f64, f64)>> {
    let mut outlines: Vec<Vec<(f64, f64)>> = Vec::new();
    let (mut x, mut y) = (0.0, 0.0);
    for leg in legs(data) {
        let (command, rest) = leg.split_at(1);
        let numbers: Vec<f64> = rest.split(' ').filter_map(|n| n.parse().ok()).collect();
        match (command, numbers.as_slice()) {
            ("M", [a, b]) => {
                (x, y) = (*a, *b);
                outlines.push(Vec::new());
            }
            ("L", [a, b]) => (x, y) = (*a, *b),
            ("H", [a]) => x = *a,
            ("V", [b]) => y = *b,
            ("l", [a, b]) => (x, y) = (x + a, y + b),
            ("h", [a]) => x += a,
            ("v", [b]) => y += b,
            ("z", []) => continue,
            _ => panic!("path data that no drawing should hold: {leg}"),
        }
        let outline = outlines.last_mut().unwrap();
        if outline.last() != Some(&(x, y)) {
            outline.push((x, y));
        }
    }
    outlines
}

fn legs(data: &str) -> Vec<&str> {
    let mut starts: Vec<usize> = data
        .char_indices()
        .filter(|(_, c)| c.is_ascii_alphabetic())
        .map(|(i, _)| i)
        .collect();
    starts.push(data.len());
    starts.windows(2).map(|w| &data[w[0]..w[1]]).collect()
}
