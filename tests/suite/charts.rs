//! Drawings and the page's look, from specs written by hand.

mod contrast;
mod geometry;
mod hostile;
mod markup;
mod page;
mod shapes;
mod specs;

use shapes::{Area, Kind};
use std::path::PathBuf;
use tallycoat::charts::{
    Floor, Priced, Size, Svg, Tick, bridge, control, floor, intervals, survival,
};

const SIZES: [Size; 2] = [Size::Wide, Size::Narrow];

/// Set to rewrite the golden drawings; read the changes before keeping them.
const REWRITE: &str = "TALLYCOAT_REWRITE_GOLDEN";

fn golden(name: &str, size: Size) -> PathBuf {
    let size = match size {
        Size::Wide => "wide",
        Size::Narrow => "narrow",
    };
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("tests/suite/golden")
        .join(format!("{name}-{size}.svg"))
}

/// A drawing as a file that an SVG viewer opens (black, without style sheet).
fn file_text(svg: &Svg) -> String {
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {} {}\" font-size=\"12\">\n{}</svg>\n",
        svg.width(),
        svg.height(),
        svg.body()
    )
}

#[test]
fn drawings_are_what_they_were() {
    let rewrite = std::env::var_os(REWRITE).is_some();
    let mut changed = Vec::new();
    for case in specs::all() {
        for size in SIZES {
            let drawn = file_text(&(case.draw)(size).unwrap());
            let path = golden(case.name, size);
            if rewrite {
                std::fs::write(&path, &drawn).unwrap();
            }
            if std::fs::read_to_string(&path).ok().as_deref() != Some(&drawn) {
                changed.push(path);
            }
        }
    }
    assert!(
        changed.is_empty(),
        "these drawings changed: {changed:#?}\nset {REWRITE}=1 to keep the new ones"
    );
}

#[test]
fn the_same_spec_gives_the_same_bytes() {
    for (one, other) in specs::all().iter().zip(specs::all()) {
        for size in SIZES {
            assert_eq!((one.draw)(size).unwrap(), (other.draw)(size).unwrap());
        }
    }
}

/// Measured when written: 2.5 to 8.3 kB, and 24 kB for the dense scatter.
#[test]
fn drawings_are_small() {
    for case in specs::all() {
        let most = if case.name == "floor-dense" {
            26_000
        } else {
            9_000
        };
        for size in SIZES {
            let bytes = (case.draw)(size).unwrap().body().len();
            assert!(bytes <= most, "{} takes {bytes} bytes", case.name);
        }
    }
}

#[test]
fn a_million_jobs_fit_in_a_scatter() {
    let job = |i: usize| {
        let floor = 150.0 + (i * 7_919 % 30_011) as f64 / 100.0;
        let price = floor - 40.0 + (i * 104_729 % 20_011) as f64 / 100.0;
        Priced { floor, price }
    };
    let (covered, more_below): (Vec<Priced>, Vec<Priced>) =
        (0..1_000_000).map(job).partition(|j| j.price >= j.floor);
    let spec = Floor {
        covered,
        below: Vec::new(),
        more_below,
        tick: Tick(&|v| format!("${v:.0}")),
        up: "price charged".into(),
        across: "floor price".into(),
    };
    for size in SIZES {
        let bytes = floor(&spec, size).unwrap().body().len();
        assert!(bytes < 60_000, "{bytes} bytes");
    }
}

/// Rooms of the bars of one ink.
fn bars(svg: &Svg, class: &str) -> Vec<Area> {
    let all = shapes::read(svg);
    let of_class = all.iter().filter(|e| e.class == class && e.is_filled());
    of_class.flat_map(|e| e.areas.clone()).collect()
}

/// Where the middle of those words lies, from the left.
fn middle_of(svg: &Svg, wanted: &str) -> f64 {
    let all = shapes::read(svg);
    let found = all
        .iter()
        .find(|e| matches!(&e.kind, Kind::Text(words) if words == wanted));
    let area = found.unwrap().areas[0];
    (area.left + area.right) / 2.0
}

/// All start at zero, and length over amount is the same for every bar.
#[test]
fn bars_are_as_long_as_what_they_stand_for() {
    let spec = specs::dwarfed();
    assert!(spec.stands_alone());
    for size in SIZES {
        let svg = bridge(&spec, size).unwrap();
        let (gained, lost) = (bars(&svg, "f-main"), bars(&svg, "f-warn"));
        let zero = middle_of(&svg, "$0");
        let gained = gained.iter().map(|bar| (bar.left, bar.right - bar.left));
        let lost = lost.iter().map(|bar| (bar.right, bar.right - bar.left));
        let starts_and_widths: Vec<(f64, f64)> = gained.chain(lost).collect();
        let amounts = [9.0, 6.0, 4.0, 14.0, 7.0];
        assert_eq!(starts_and_widths.len(), amounts.len());
        let per_dollar = starts_and_widths[0].1 / amounts[0];
        for ((start, width), amount) in starts_and_widths.iter().zip(amounts) {
            assert!((start - zero).abs() < 0.1, "{start} and not {zero}");
            // Ends lie on tenths of a px; the largest bar is 14/9 of the first.
            assert!(
                (width - per_dollar * amount).abs() <= 0.3,
                "{width} for {amount}"
            );
        }
    }
}

#[test]
fn a_bridge_whose_changes_can_be_seen_shows_its_totals_as_bars() {
    let spec = specs::quoted();
    assert!(!spec.stands_alone());
    let totals = bars(&bridge(&spec, Size::Wide).unwrap(), "f-axis");
    let [from, to] = totals[..] else {
        panic!("{totals:?}")
    };
    assert_eq!(from.left, to.left);
    let share = (to.right - to.left) / (from.right - from.left);
    // Ends lie on tenths of a px of bars some 500 px long.
    assert!((share - 72.0 / 118.0).abs() < 0.001, "{share}");
}

#[test]
fn a_cut_scale_says_so() {
    let says = |svg: Svg| svg.body().contains("scale starts at");
    assert!(says(control(&specs::margin(), Size::Wide).unwrap()));
    assert!(!says(control(&specs::rate(), Size::Wide).unwrap()));
    assert!(!says(intervals(&specs::minutes(), Size::Wide).unwrap()));
}

#[test]
fn what_stands_out_differs_in_shape_and_not_in_hue_alone() {
    let spec = specs::rate();
    let svg = control(&spec, Size::Wide).unwrap();
    let shapes = shapes::read(&svg);
    let of = |class: &str, round: bool| {
        let all = shapes.iter().filter(|e| e.class == class);
        all.filter(|e| e.is_filled() && e.is_round() == round)
            .count()
    };
    let outside = spec.months.iter().filter(|m| m.outside).count();
    let inside = spec
        .months
        .iter()
        .filter(|m| m.figure.is_some() && !m.outside)
        .count();
    assert_eq!((of("f-warn", false), of("f-warn", true)), (outside, 0));
    assert_eq!((of("f-main", false), of("f-main", true)), (0, inside));
}

#[test]
fn the_second_group_is_dashed_and_the_first_is_not() {
    let svg = survival(&specs::sound(), Size::Wide).unwrap();
    let shapes = shapes::read(&svg);
    let dashes = |class: &str| {
        let lines = shapes.iter().filter(|e| e.class == class);
        lines.filter(|e| e.dashed).count()
    };
    assert_eq!((dashes("s-main"), dashes("s-warn")), (0, 1));
}

#[test]
fn a_row_without_an_estimate_has_words_and_no_mark() {
    let mut spec = specs::coating_used();
    spec.rows.truncate(1);
    spec.rows.push(specs::coating_used().rows.remove(4));
    spec.rows[1].second = None;
    let svg = intervals(&spec, Size::Wide).unwrap();
    assert!(svg.body().contains("2 of 10 jobs needed"));
    let dots = shapes::read(&svg).iter().filter(|e| e.is_round()).count();
    assert_eq!(dots, 1);
}
