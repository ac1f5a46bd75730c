//! Where things lie: within the sheet, and no words on words or on marks.
//!
//! Widths come from the table of one of the widest common faces, so what holds
//! here holds in narrower ones; a browser measures the real ones elsewhere.

use super::shapes::{Area, Element, Kind, read};
use super::{SIZES, specs};
use tallycoat::charts::{
    Caterpillar, Control, Floor, Funnel, Survival, Svg, caterpillar, control, floor, funnel,
    survival,
};

/// How far a mark may reach over the edge of the sheet, px: half the width of
/// a line that runs along it.
const EDGE: f64 = 1.0;

fn sheet(svg: &Svg) -> Area {
    Area {
        left: -EDGE,
        top: -EDGE,
        right: f64::from(svg.width()) + EDGE,
        bottom: f64::from(svg.height()) + EDGE,
    }
}

fn words(element: &Element) -> &str {
    match &element.kind {
        Kind::Text(words) => words,
        _ => "",
    }
}

/// True where an element hides what lies under it: no grid, wash or ground.
fn is_solid(element: &Element) -> bool {
    let ground = matches!(element.ink(), "grid" | "paper");
    let wash = element.is_filled() && element.opacity < 0.5;
    !(element.is_text() || ground || wash)
}

/// True where the line from `a` to `b` passes through the area.
fn crosses(area: &Area, a: (f64, f64), b: (f64, f64)) -> bool {
    // Liang and Barsky's clipping, from memory.
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let (mut from, mut to) = (0.0_f64, 1.0_f64);
    let sides = [
        (-dx, a.0 - area.left),
        (dx, area.right - a.0),
        (-dy, a.1 - area.top),
        (dy, area.bottom - a.1),
    ];
    for (run, room) in sides {
        if run == 0.0 {
            if room < 0.0 {
                return false;
            }
        } else if run < 0.0 {
            from = from.max(room / run);
        } else {
            to = to.min(room / run);
        }
    }
    from < to
}

fn covers(element: &Element, area: &Area) -> bool {
    match &element.kind {
        Kind::Path(lines) if !element.class.starts_with("f-") => lines.iter().any(|line| {
            let single = line.len() == 1 && element.areas.iter().any(|a| a.meets(area));
            single || line.windows(2).any(|w| crosses(area, w[0], w[1]))
        }),
        _ => element.areas.iter().any(|a| a.meets(area)),
    }
}

#[test]
fn everything_lies_on_the_sheet() {
    for case in specs::all() {
        for size in SIZES {
            let svg = (case.draw)(size).unwrap();
            for element in read(&svg) {
                for area in &element.areas {
                    let inside = sheet(&svg).holds(area);
                    assert!(inside, "{} {size:?}: {element:?}", case.name);
                }
            }
        }
    }
}

#[test]
fn no_words_lie_on_words() {
    for case in specs::all() {
        for size in SIZES {
            let svg = (case.draw)(size).unwrap();
            assert_eq!(clash(&svg), None, "{} {size:?}", case.name);
        }
    }
}

#[test]
fn no_words_lie_on_marks() {
    for case in specs::all() {
        for size in SIZES {
            let svg = (case.draw)(size).unwrap();
            let all = read(&svg);
            for text in all.iter().filter(|e| e.is_text()) {
                for mark in all.iter().filter(|e| is_solid(e)) {
                    let apart = !covers(mark, &text.areas[0]);
                    let words = words(text);
                    assert!(apart, "{} {size:?}: {words:?} on {mark:?}", case.name);
                }
            }
        }
    }
}

/// A run of numbers from 0 to 1 that is the same everywhere (the multiplier of
/// Knuth's MMIX).
struct Draws(u64);

impl Draws {
    fn next(&mut self) -> f64 {
        let (factor, step) = (6_364_136_223_846_793_005, 1_442_695_040_888_963_407);
        self.0 = self.0.wrapping_mul(factor).wrapping_add(step);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
}

/// A rate over months in which anything can happen.
fn some_months(draws: &mut Draws) -> Control<'static> {
    let mut spec = specs::rate();
    spec.months.truncate(1 + (18.0 * draws.next()) as usize);
    for month in &mut spec.months {
        let (value, half) = (draws.next(), 0.4 * draws.next());
        month.outside = draws.next() < 0.4;
        month.text = format!("{:.1}%", 100.0 * value);
        let known = specs::estimate(value, (value - half).max(0.0), (value + half).min(1.0), 9);
        month.figure = (draws.next() < 0.8).then_some(known);
        if draws.next() < 0.3 {
            month.usual = None;
        }
    }
    spec
}

fn some_points(draws: &mut Draws) -> Funnel<'static> {
    let mut spec = specs::callbacks();
    for point in &mut spec.points {
        point.jobs = (50.0 * draws.next()).ceil();
        point.value = draws.next() * draws.next();
        point.outside = draws.next() < 0.3;
    }
    spec.centre.value = draws.next();
    spec
}

fn some_prices(draws: &mut Draws) -> Floor<'static> {
    let mut spec = specs::prices((300.0 * draws.next()) as usize + 5);
    for job in &mut spec.below {
        job.at.floor = 100.0 + 400.0 * draws.next();
        job.at.price = job.at.floor * draws.next();
    }
    spec
}

fn some_rows(draws: &mut Draws) -> Caterpillar<'static> {
    let mut spec = specs::pace();
    spec.reference.value = 60.0 + 60.0 * draws.next();
    for row in &mut spec.rows {
        row.second = Some(60.0 + 60.0 * draws.next());
        row.stands_out = draws.next() < 0.3;
    }
    spec
}

fn some_curves(draws: &mut Draws) -> Survival<'static> {
    let mut spec = specs::sound();
    for group in &mut spec.groups {
        let keep = (12.0 * draws.next()) as usize;
        group.drops.truncate(keep);
        let fall = draws.next();
        for drop in &mut group.drops {
            drop.share *= fall;
            drop.likely.low *= fall;
        }
    }
    spec
}

/// Words of 300 drawings with figures drawn at random keep apart.
#[test]
fn words_keep_apart_whatever_the_figures() {
    let mut draws = Draws(11);
    for round in 0..30 {
        let months = some_months(&mut draws);
        let points = some_points(&mut draws);
        let prices = some_prices(&mut draws);
        let rows = some_rows(&mut draws);
        let curves = some_curves(&mut draws);
        for size in SIZES {
            let drawn = [
                // Months that all lack a figure are refused; the centre saves these.
                control(&months, size),
                funnel(&points, size),
                floor(&prices, size),
                caterpillar(&rows, size),
                survival(&curves, size),
            ];
            for (kind, svg) in drawn.into_iter().enumerate() {
                let clash = clash(&svg.unwrap());
                assert_eq!(clash, None, "round {round}, drawing {kind}, {size:?}");
            }
        }
    }
}

/// The first two texts of a drawing that lie on each other.
fn clash(svg: &Svg) -> Option<(String, String)> {
    let all = read(svg);
    let texts: Vec<&Element> = all.iter().filter(|e| e.is_text()).collect();
    let pairs = texts.iter().enumerate().flat_map(|(i, one)| {
        let others = &texts[i + 1..];
        others.iter().map(move |other| (*one, *other))
    });
    let found = |(one, other): &(&Element, &Element)| one.areas[0].meets(&other.areas[0]);
    let (one, other) = pairs.into_iter().find(found)?;
    Some((words(one).to_string(), words(other).to_string()))
}

/// The three checks above must be able to fail.
#[test]
fn the_checks_see_what_they_look_for() {
    let area = Area {
        left: 10.0,
        top: 10.0,
        right: 50.0,
        bottom: 20.0,
    };
    assert!(crosses(&area, (0.0, 0.0), (60.0, 30.0)));
    assert!(crosses(&area, (30.0, 0.0), (30.0, 100.0)));
    assert!(!crosses(&area, (0.0, 0.0), (60.0, 0.0)));
    assert!(!crosses(&area, (0.0, 30.0), (5.0, 0.0)));
    let all = read(&(specs::all()[0].draw)(SIZES[0]).unwrap());
    assert!(all.iter().filter(|e| is_solid(e)).count() > 40);
    assert!(all.iter().filter(|e| e.is_text()).count() > 15);
}
