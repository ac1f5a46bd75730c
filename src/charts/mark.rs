//! What is drawn: marks made of shapes at data coordinates.

use super::error::ChartError;
use super::pen::{Pen, SCALE, tenths};
use super::place::{Room, along};
use super::theme::{Ink, STRONG};
use plotters::element::{Drawable, PointCollection};
use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, DrawingBackend, DrawingErrorKind,
};

/// A point in the data's coordinates, x first.
pub(super) type At = (f64, f64);

/// One shape of a mark. Points are data coordinates, sizes px.
#[derive(Debug, Clone)]
pub(super) enum Shape {
    /// A line through points.
    Line {
        points: Vec<At>,
        ink: Ink,
        width: f64,
    },
    /// A filled outline.
    Area {
        points: Vec<At>,
        ink: Ink,
        opacity: f64,
    },
    /// A filled circle.
    Dot {
        at: At,
        ink: Ink,
        opacity: f64,
        radius: f64,
    },
    /// A circle with a paper-coloured inside.
    Ring { at: At, ink: Ink, radius: f64 },
    /// A square on its corner.
    Diamond { at: At, ink: Ink, half: f64 },
    /// The same with a paper-coloured inside.
    Open { at: At, ink: Ink, half: f64 },
    /// A short upright stroke.
    Post { at: At, ink: Ink, half: f64 },
    /// A triangle that points along x: the line goes on beyond the frame.
    Onward { at: At, ink: Ink, step: f64 },
    /// A triangle that points up (`step` below 0) or down.
    Beyond { at: At, ink: Ink, step: f64 },
}

impl Shape {
    fn points(&self) -> &[At] {
        match self {
            Self::Line { points, .. } | Self::Area { points, .. } => points,
            Self::Dot { at, .. }
            | Self::Ring { at, .. }
            | Self::Diamond { at, .. }
            | Self::Open { at, .. }
            | Self::Post { at, .. }
            | Self::Onward { at, .. }
            | Self::Beyond { at, .. } => std::slice::from_ref(at),
        }
    }

    fn draw(&self, at: &[BackendCoord], pen: &mut Pen) -> Drawn {
        match *self {
            Self::Line { ink, width, .. } => line(at, ink, width, pen),
            Self::Area { ink, opacity, .. } => area(at, ink, opacity, pen),
            _ => match at.first() {
                Some(&centre) => self.draw_at(centre, pen),
                None => Ok(()),
            },
        }
    }

    fn draw_at(&self, (x, y): BackendCoord, pen: &mut Pen) -> Drawn {
        let (px, py) = (f64::from(x) / SCALE, f64::from(y) / SCALE);
        match *self {
            Self::Dot {
                ink,
                opacity,
                radius,
                ..
            } => {
                pen.occupy(Room::around(px, py, radius));
                pen.draw_circle((x, y), units(radius) as u32, &ink.colour(opacity), true)
            }
            Self::Ring { ink, radius, .. } => {
                pen.occupy(Room::around(px, py, radius));
                let r = units(radius) as u32;
                pen.draw_circle((x, y), r, &Ink::Paper.colour(1.0), true)?;
                pen.draw_circle((x, y), r, &Stroke::new(ink, STRONG), false)
            }
            Self::Diamond { ink, half, .. } => {
                pen.occupy(Room::around(px, py, half));
                let r = units(half);
                let corners = [(x, y - r), (x + r, y), (x, y + r), (x - r, y)];
                pen.fill_polygon(corners, &ink.colour(1.0))
            }
            Self::Open { ink, half, .. } => {
                pen.occupy(Room::around(px, py, half));
                let r = units(half);
                let corners = [(x, y - r), (x + r, y), (x, y + r), (x - r, y)];
                pen.fill_polygon(corners, &Ink::Paper.colour(1.0))?;
                let rim = [0, 1, 2, 3, 0, 1].map(|i: usize| corners[i]);
                line(&rim, ink, STRONG, pen)
            }
            Self::Post { ink, half, .. } => {
                let r = units(half);
                line(&[(x, y - r), (x, y + r)], ink, 2.0, pen)
            }
            Self::Onward { ink, step, .. } => {
                let (r, tip) = (units(step.abs() * 0.7), x + units(step));
                pen.fill_polygon([(x, y - r), (tip, y), (x, y + r)], &ink.colour(1.0))
            }
            Self::Beyond { ink, step, .. } => {
                let (r, tip) = (units(step.abs() * 0.7), y + units(step));
                pen.fill_polygon([(x - r, y), (x, tip), (x + r, y)], &ink.colour(1.0))
            }
            Self::Line { .. } | Self::Area { .. } => Ok(()),
        }
    }
}

fn line(at: &[BackendCoord], ink: Ink, width: f64, pen: &mut Pen) -> Drawn {
    if ink != Ink::Grid {
        for pair in at.windows(2) {
            if let [a, b] = pair {
                for room in along(to_px(*a), to_px(*b), width / 2.0) {
                    pen.occupy(room);
                }
            }
        }
    }
    pen.draw_path(at.iter().copied(), &Stroke::new(ink, width))
}

fn area(at: &[BackendCoord], ink: Ink, opacity: f64, pen: &mut Pen) -> Drawn {
    if opacity >= 1.0 && ink != Ink::Paper {
        let empty = Room {
            left: f64::INFINITY,
            top: f64::INFINITY,
            right: f64::NEG_INFINITY,
            bottom: f64::NEG_INFINITY,
        };
        pen.occupy(
            at.iter()
                .map(|&p| to_px(p))
                .fold(empty, |room, (x, y)| Room {
                    left: room.left.min(x),
                    top: room.top.min(y),
                    right: room.right.max(x),
                    bottom: room.bottom.max(y),
                }),
        );
    }
    pen.fill_polygon(at.iter().copied(), &ink.colour(opacity))
}

/// px as whole canvas units.
pub(super) fn units(px: f64) -> i32 {
    (px * SCALE).round() as i32
}

/// A canvas point in px.
pub(super) fn to_px((x, y): BackendCoord) -> (f64, f64) {
    (f64::from(x) / SCALE, f64::from(y) / SCALE)
}

/// A solid stroke.
#[derive(Debug)]
struct Stroke {
    ink: Ink,
    width: f64,
}

impl Stroke {
    fn new(ink: Ink, width: f64) -> Self {
        Self { ink, width }
    }
}

impl BackendStyle for Stroke {
    fn color(&self) -> BackendColor {
        self.ink.colour(1.0)
    }

    fn stroke_width(&self) -> u32 {
        units(self.width).max(1) as u32
    }
}

/// Shapes that belong together and share one tip.
#[derive(Debug, Clone, Default)]
pub(super) struct Mark {
    shapes: Vec<Shape>,
    class: &'static str,
    tip: String,
}

impl Mark {
    pub(super) fn new() -> Self {
        Self::default()
    }

    /// The mark with dashed lines.
    pub(super) fn dashed(mut self) -> Self {
        self.class = "dash";
        self
    }

    /// The mark with a tip that shows when a reader points at it.
    pub(super) fn tip(mut self, tip: &str) -> Self {
        if !tip.is_empty() {
            self.class = "pt";
            self.tip = tip.to_string();
        }
        self
    }

    /// The mark with one more shape.
    pub(super) fn with(mut self, shape: Shape) -> Self {
        self.shapes.push(shape);
        self
    }

    /// The mark with a line through `points`.
    pub(super) fn line(self, points: Vec<At>, ink: Ink, width: f64) -> Self {
        self.with(Shape::Line { points, ink, width })
    }

    /// The mark with a filled outline.
    pub(super) fn area(self, points: Vec<At>, ink: Ink, opacity: f64) -> Self {
        self.with(Shape::Area {
            points,
            ink,
            opacity,
        })
    }

    fn grouped(&self) -> bool {
        !self.class.is_empty()
    }
}

type Drawn = Result<(), DrawingErrorKind<ChartError>>;

impl<'a> PointCollection<'a, At> for &'a Mark {
    type Point = &'a At;
    type IntoIter =
        std::iter::FlatMap<std::slice::Iter<'a, Shape>, &'a [At], fn(&'a Shape) -> &'a [At]>;

    fn point_iter(self) -> Self::IntoIter {
        let points: fn(&'a Shape) -> &'a [At] = |shape| shape.points();
        self.shapes.iter().flat_map(points)
    }
}

impl Drawable<Pen> for Mark {
    fn draw<I: Iterator<Item = BackendCoord>>(
        &self,
        mut at: I,
        pen: &mut Pen,
        _: (u32, u32),
    ) -> Drawn {
        if self.grouped() {
            pen.open(self.class, &self.tip);
        }
        for shape in &self.shapes {
            let own: Vec<BackendCoord> = at.by_ref().take(shape.points().len()).collect();
            shape.draw(&own, pen)?;
        }
        if self.grouped() {
            pen.close();
        }
        Ok(())
    }
}

/// Squares that stand for many jobs, all of one size, written as one path.
#[derive(Debug)]
pub(super) struct Cells {
    /// Middle of each, canvas units.
    pub(super) at: Vec<BackendCoord>,
    /// Half the side, px.
    pub(super) half: f64,
    /// Turned on the corner.
    pub(super) turned: bool,
    pub(super) ink: Ink,
}

impl Cells {
    /// Relative legs: a third shorter than absolute ones.
    fn outline(&self, (x, y): BackendCoord) -> String {
        let half = units(self.half);
        let (r, side) = (tenths(half), tenths(2 * half));
        if self.turned {
            let start = format!("M{} {}", tenths(x), tenths(y - half));
            return format!("{start}l{r} {r}l-{r} {r}l-{r} -{r}z");
        }
        let start = format!("M{} {}", tenths(x - half), tenths(y - half));
        format!("{start}h{side}v{side}h-{side}z")
    }
}

impl<'a> PointCollection<'a, BackendCoord> for &'a Cells {
    type Point = &'a BackendCoord;
    type IntoIter = std::slice::Iter<'a, BackendCoord>;

    fn point_iter(self) -> Self::IntoIter {
        self.at.iter()
    }
}

impl Drawable<Pen> for Cells {
    fn draw<I: Iterator<Item = BackendCoord>>(&self, at: I, pen: &mut Pen, _: (u32, u32)) -> Drawn {
        let mut path = String::new();
        for centre in at {
            let (x, y) = to_px(centre);
            pen.occupy(Room::around(x, y, self.half));
            path.push_str(&self.outline(centre));
        }
        pen.outlines(&path, self.ink, 1.0);
        Ok(())
    }
}
