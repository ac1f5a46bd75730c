//! The posterior of the common rate μ and the spread r on a grid.
//!
//! μ = sin²(πw/2) and r = s tan(v atan(1/s)) bring both priors to uniform on
//! the unit square of (w, v). The rectangle that carries the posterior is
//! found in a few rounds, each on the one before; the last round's cells are
//! the grid.

use super::Count;
use super::rising::Tally;
use crate::estimate::Estimate;
use std::collections::BTreeSet;
use std::f64::consts::FRAC_PI_2;

/// Cells on each side of the rectangle.
const CELLS: usize = 28;
/// The same for the rates of single people from [`MANY`] people on.
const CELLS_OF_MANY: usize = 10;
/// People from which on the posterior of μ and r is near enough to a normal
/// that sums over cells 1.2 standard deviations wide hold to the sixth digit
/// (a sum over steps of h standard deviations is out by some
/// 2 exp(−2π²/h²) of the whole).
pub(super) const MANY: usize = 200;
/// How near a person's mean and standard deviation from fewer points must come
/// to those from all, in standard deviations. Interval ends and chances were then
/// within 0.007 (of the interval's width) of those from all points for 200 people
/// of 3 jobs each, within 0.002 from 20 jobs each on, at shares of 0.5 to 50 %.
const AGREE: f64 = 1e-3;
/// Rounds of narrowing before the last.
const ROUNDS: usize = 4;
/// Logarithm of the share of the highest density below which a cell is not
/// kept in the rectangle.
const NOTHING: f64 = 14.0;
/// Share of the whole below which a point is left out.
const NO_WEIGHT: f64 = 1e-6;

/// One point of the grid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Point {
    /// Share of the posterior.
    pub(super) weight: f64,
    pub(super) mu: f64,
    /// 1 − μ, kept apart so that it does not round to 0.
    pub(super) other: f64,
    pub(super) r: f64,
}

impl Point {
    /// Shapes of the beta that people's rates come from.
    pub(super) fn shapes(&self) -> [f64; 2] {
        let phi = 1.0 / (self.r * self.r) - 1.0;
        [self.mu * phi, self.other * phi]
    }
}

/// The points that carry weight.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Common {
    pub(super) points: Vec<Point>,
    /// Fewer points, which serve as well for one of many people.
    pub(super) for_one: Vec<Point>,
    /// There are many people.
    pub(super) many: bool,
}

/// A rectangle in (w, v): from and to of each.
type Rectangle = [[f64; 2]; 2];

impl Common {
    pub(super) fn new(counts: &[Count], scale: f64) -> Self {
        let likelihood = Likelihood::new(counts);
        let mut rectangle = [[0.0, 1.0], [0.0, 1.0]];
        for _ in 0..ROUNDS {
            rectangle = narrowed(&likelihood, scale, rectangle);
        }
        let points = weighted(heights(&likelihood, scale, rectangle, CELLS));
        let few = (likelihood.people >= MANY)
            .then(|| weighted(heights(&likelihood, scale, rectangle, CELLS_OF_MANY)))
            .filter(|few| agree(few, &points, counts));
        Self {
            many: few.is_some(),
            for_one: few.unwrap_or_else(|| points.clone()),
            points,
        }
    }

    /// Mean and percentiles of a function of μ and r.
    pub(super) fn estimate(&self, of: impl Fn(&Point) -> f64, level: f64, n: u64) -> Estimate {
        let mut values: Vec<[f64; 2]> = self.points.iter().map(|p| [of(p), p.weight]).collect();
        values.sort_unstable_by(|a, b| a[0].total_cmp(&b[0]));
        let tail = (1.0 - level) / 2.0;
        let at = |share: f64| {
            let mut sum = 0.0;
            let reached = |v: &&[f64; 2]| {
                sum += v[1];
                sum >= share
            };
            let found = values.iter().find(reached).or(values.last());
            found.map_or(0.0, |v| v[0])
        };
        Estimate {
            value: values.iter().map(|v| v[0] * v[1]).sum(),
            low: at(tail),
            high: at(1.0 - tail),
            level,
            n,
        }
    }
}

/// The cells that carry weight.
fn weighted(cells: Vec<Cell>) -> Vec<Point> {
    let top = highest(&cells);
    let mut points: Vec<Point> = cells.into_iter().map(|c| c.at(top)).collect();
    let whole: f64 = points.iter().map(|p| p.weight).sum();
    points.retain(|p| p.weight > NO_WEIGHT * whole);
    let kept: f64 = points.iter().map(|p| p.weight).sum();
    points.iter_mut().for_each(|p| p.weight /= kept);
    points
}

/// True where a few points tell the same of everybody as many do, by mean and
/// standard deviation of each one's rate. Not so where hardly anybody has more
/// than one job (which tells nothing of r) or a yes (then μ lies next to 0).
fn agree(few: &[Point], many: &[Point], counts: &[Count]) -> bool {
    let different: BTreeSet<[u64; 2]> = counts.iter().map(|c| [c.yes, c.of]).collect();
    different.iter().all(|count| {
        let [a, b] = [few, many].map(|points| of_one(points, count.map(|n| n as f64)));
        (0..2).all(|i| (a[i] - b[i]).abs() < AGREE * b[1])
    })
}

/// Mean and standard deviation of the rate of somebody with `yes` of `of`.
fn of_one(points: &[Point], [yes, of]: [f64; 2]) -> [f64; 2] {
    let mean_of = |p: &Point| {
        let [a, b] = p.shapes();
        [(a + yes) / (a + b + of), a + b + of + 1.0]
    };
    let mean: f64 = points.iter().map(|p| p.weight * mean_of(p)[0]).sum();
    let square = |p: &Point| {
        let [own, all] = mean_of(p);
        p.weight * (own * (1.0 - own) / all + (own - mean).powi(2))
    };
    [mean, points.iter().map(square).sum::<f64>().sqrt()]
}

/// A cell with its log density.
#[derive(Debug, Clone, Copy)]
struct Cell {
    row: usize,
    column: usize,
    height: f64,
    /// Its middle; the weight is still to be set.
    point: Point,
}

impl Cell {
    /// The point with a weight relative to `top`.
    fn at(&self, top: f64) -> Point {
        Point {
            weight: (self.height - top).exp(),
            ..self.point
        }
    }
}

fn highest(cells: &[Cell]) -> f64 {
    cells
        .iter()
        .map(|c| c.height)
        .fold(f64::NEG_INFINITY, f64::max)
}

/// Middle of cell `i` of `cells` between `from` and `to`.
fn middle([from, to]: [f64; 2], i: usize, cells: usize) -> f64 {
    from + (to - from) * (i as f64 + 0.5) / cells as f64
}

fn heights(likelihood: &Likelihood, scale: f64, [w, v]: Rectangle, cells: usize) -> Vec<Cell> {
    let spread = |column: usize| {
        let r = scale * (middle(v, column, cells) * (1.0 / scale).atan()).tan();
        (r, likelihood.of_spread(r))
    };
    let spreads: Vec<(f64, f64)> = (0..cells).map(spread).collect();
    let cell = |k: usize| {
        let (row, column) = (k / cells, k % cells);
        let (r, of_spread) = spreads[column];
        let angle = FRAC_PI_2 * middle(w, row, cells);
        let point = Point {
            weight: 0.0,
            mu: angle.sin().powi(2),
            other: angle.cos().powi(2),
            r,
        };
        Cell {
            row,
            column,
            height: likelihood.at(&point, of_spread),
            point,
        }
    };
    (0..cells * cells).map(cell).collect()
}

/// The part of the rectangle that carries the posterior, a cell more on
/// each side.
fn narrowed(likelihood: &Likelihood, scale: f64, rectangle: Rectangle) -> Rectangle {
    let cells = heights(likelihood, scale, rectangle, CELLS);
    let top = highest(&cells);
    let kept: Vec<&Cell> = cells.iter().filter(|c| c.height > top - NOTHING).collect();
    let span = |of: fn(&Cell) -> usize, [from, to]: [f64; 2]| {
        let first = kept.iter().map(|c| of(c)).min().unwrap_or(0);
        let last = kept.iter().map(|c| of(c)).max().unwrap_or(CELLS - 1);
        let edge = |i: usize| from + (to - from) * i as f64 / CELLS as f64;
        [edge(first.saturating_sub(1)), edge((last + 2).min(CELLS))]
    };
    let [w, v] = rectangle;
    [span(|c| c.row, w), span(|c| c.column, v)]
}

/// The beta-binomial chances of all counts, by what enters them: how many
/// people have so many yes, so many no, so many jobs.
struct Likelihood {
    yes: Tally,
    no: Tally,
    of: Tally,
    people: usize,
}

impl Likelihood {
    fn new(counts: &[Count]) -> Self {
        Self {
            yes: Tally::of(counts.iter().map(|c| c.yes)),
            no: Tally::of(counts.iter().map(|c| c.of - c.yes)),
            of: Tally::of(counts.iter().map(|c| c.of)),
            people: counts.iter().filter(|c| c.of > 0).count(),
        }
    }

    /// The part of the chances that r alone decides: −Σ ln Γ(φ + n) − ln Γ(φ).
    fn of_spread(&self, r: f64) -> f64 {
        -self.of.rising(1.0 / (r * r) - 1.0)
    }

    /// Σ ln of the chances, less the binomial coefficients: ln B(a + x, b + n
    /// − x) − ln B(a, b), term by term; the last of them as `of_spread` says.
    fn at(&self, point: &Point, of_spread: f64) -> f64 {
        let [a, b] = point.shapes();
        self.yes.rising(a) + self.no.rising(b) + of_spread
    }
}
