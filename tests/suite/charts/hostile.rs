//! Specs that no sound stage would hand over: an error with a name or an
//! honest drawing, never a panic and never a number that is none.

use super::shapes::read;
use super::{SIZES, specs};
use tallycoat::charts::{
    Band, Bridge, ChartError, Control, Drop, Floor, Funnel, Heat, Intervals, Priced, RowFigure,
    Size, Survival, bridge, caterpillar, control, floor, funnel, heat, intervals, survival,
};

const AWKWARD: [f64; 10] = [
    f64::NAN,
    f64::INFINITY,
    f64::NEG_INFINITY,
    0.0,
    -0.0,
    1e-300,
    1e11,
    -1e11,
    1e300,
    5.0,
];

#[test]
fn nothing_to_draw_is_an_error_that_says_so() {
    let empty = |got: Result<_, ChartError>| matches!(got, Err(ChartError::Empty { .. }));
    for size in SIZES {
        let mut rate = specs::rate();
        rate.months.clear();
        assert!(empty(control(&rate, size)));
        let rows = Vec::new();
        assert!(empty(intervals(
            &Intervals {
                rows,
                ..specs::minutes()
            },
            size
        )));
        let mut pace = specs::pace();
        pace.rows.clear();
        assert!(empty(caterpillar(&pace, size)));
        let mut prices = specs::prices(0);
        prices.below.clear();
        assert!(empty(floor(&prices, size)));
        let points = Vec::new();
        assert!(empty(funnel(
            &Funnel {
                points,
                ..specs::callbacks()
            },
            size
        )));
        let groups = Vec::new();
        assert!(empty(survival(
            &Survival {
                groups,
                ..specs::sound()
            },
            size
        )));
        let columns = Vec::new();
        assert!(empty(heat(
            &Heat {
                columns,
                rows: Vec::new()
            },
            size
        )));
        let mut quoted = specs::quoted();
        quoted.steps.clear();
        quoted.to.value = quoted.from.value;
        assert!(empty(bridge(&quoted, size)));
    }
}

#[test]
fn months_that_all_lack_a_figure_are_an_error() {
    let mut spec = specs::margin();
    for month in &mut spec.months {
        month.figure = None;
    }
    assert!(matches!(
        control(&spec, Size::Wide),
        Err(ChartError::Empty { .. })
    ));
}

#[test]
fn a_range_that_runs_backwards_is_named() {
    let mut spec = specs::rate();
    spec.months[2].usual = Some(Band {
        low: 0.5,
        high: 0.2,
    });
    let Err(ChartError::Backwards { mark, what }) = control(&spec, Size::Wide) else {
        panic!("a band upside down was drawn");
    };
    assert_eq!((mark.as_str(), what), ("Jul 25", "usual range"));
}

#[test]
fn a_bridge_that_does_not_add_up_is_refused() {
    let mut spec = specs::quoted();
    spec.to.value += 0.01;
    let refused = bridge(&spec, Size::Wide);
    assert!(matches!(refused, Err(ChartError::DoesNotAddUp { .. })));
}

#[test]
fn shapes_that_do_not_match_are_refused() {
    let mut list = specs::price_list();
    list.rows[1].cells.pop();
    assert!(matches!(
        heat(&list, Size::Wide),
        Err(ChartError::Ragged { .. })
    ));
    let mut sound = specs::sound();
    sound.groups[0].followed.pop();
    assert!(matches!(
        survival(&sound, Size::Wide),
        Err(ChartError::Ragged { .. })
    ));
    let mut three = specs::sound();
    three.groups.push(three.groups[0].clone());
    assert!(matches!(
        survival(&three, Size::Wide),
        Err(ChartError::TooMany { .. })
    ));
    let mut back = specs::sound();
    back.groups[0].drops.swap(1, 5);
    assert!(matches!(
        survival(&back, Size::Wide),
        Err(ChartError::Backwards { .. })
    ));
}

#[test]
fn one_point_and_equal_points_are_drawn() {
    let mut one = specs::margin();
    one.months.truncate(1);
    let mut equal = specs::margin();
    for month in &mut equal.months {
        month.figure = Some(specs::estimate(118.0, 118.0, 118.0, 4));
    }
    let price = Priced {
        floor: 200.0,
        price: 200.0,
    };
    let lone = Floor {
        covered: vec![price],
        ..specs::prices(0)
    };
    for size in SIZES {
        for spec in [&one, &equal] {
            control(spec, size).unwrap();
        }
        floor(&lone, size).unwrap();
        let mut row = specs::minutes();
        row.rows.truncate(1);
        intervals(&row, size).unwrap();
        let mut nothing = specs::dwarfed();
        for step in &mut nothing.steps {
            step.change = 0.0;
        }
        nothing.to.value = nothing.from.value;
        bridge(&nothing, size).unwrap();
        let mut never = specs::sound();
        for group in &mut never.groups {
            group.drops.clear();
        }
        survival(&never, size).unwrap();
    }
}

fn check(what: &str, drawn: Result<tallycoat::charts::Svg, ChartError>) -> bool {
    let Ok(svg) = drawn else { return false };
    assert!(
        !svg.body().contains("NaN") && !svg.body().contains("inf"),
        "{what}"
    );
    for element in read(&svg) {
        for area in element.areas {
            let finite = [area.left, area.top, area.right, area.bottom].map(f64::is_finite);
            assert_eq!(finite, [true; 4], "{what}");
        }
    }
    true
}

/// Every number of a spec in turn becomes awkward; those that no axis holds
/// must be refused by name.
#[test]
fn awkward_numbers_never_panic() {
    let mut drawn = 0;
    for bad in AWKWARD {
        for size in SIZES {
            let specs: [(&str, Result<_, ChartError>); 9] = [
                ("value", control(&with_value(bad), size)),
                ("interval", control(&with_interval(bad), size)),
                ("second", intervals(&with_second(bad), size)),
                ("row", intervals(&with_row(bad), size)),
                ("step", bridge(&with_step(bad), size)),
                ("price", floor(&with_price(bad), size)),
                ("jobs", funnel(&with_jobs(bad), size)),
                ("drop", survival(&with_drop(bad), size)),
                ("until", survival(&with_until(bad), size)),
            ];
            for (what, result) in specs {
                let refused = !bad.is_finite() || bad.abs() > 1e12;
                if refused {
                    assert!(
                        matches!(result, Err(ChartError::OffScale { .. })),
                        "{what} {bad}"
                    );
                }
                drawn += usize::from(check(what, result));
            }
        }
    }
    assert!(drawn > 40, "only {drawn} were drawn");
}

fn with_value(bad: f64) -> Control<'static> {
    let mut spec = specs::rate();
    let e = spec.months[3].figure.as_mut().unwrap();
    e.value = bad;
    spec
}

fn with_interval(bad: f64) -> Control<'static> {
    let mut spec = specs::rate();
    let e = spec.months[3].figure.as_mut().unwrap();
    (e.low, e.high) = (bad, bad);
    spec
}

fn with_second(bad: f64) -> Intervals<'static> {
    let mut spec = specs::coating_used();
    spec.rows[0].second = Some(bad);
    spec
}

fn with_row(bad: f64) -> Intervals<'static> {
    let mut spec = specs::coating_used();
    if let RowFigure::Known { estimate, .. } = &mut spec.rows[0].figure {
        (estimate.low, estimate.high) = (bad, bad);
    }
    spec
}

fn with_step(bad: f64) -> Bridge<'static> {
    let mut spec = specs::quoted();
    spec.steps[4].change = bad;
    spec.to.value = 72.0 + bad;
    spec
}

fn with_price(bad: f64) -> Floor<'static> {
    let mut spec = specs::prices(40);
    spec.covered[3].price = bad;
    spec.covered[4].floor = bad;
    spec
}

fn with_jobs(bad: f64) -> Funnel<'static> {
    let mut spec = specs::callbacks();
    spec.points[0].jobs = bad;
    spec
}

fn with_drop(bad: f64) -> Survival<'static> {
    let mut spec = specs::sound();
    spec.groups[0].drops = vec![Drop {
        at: 3.0,
        share: bad,
        likely: Band {
            low: bad,
            high: bad,
        },
    }];
    spec
}

fn with_until(bad: f64) -> Survival<'static> {
    let mut spec = specs::sound();
    spec.groups[1].until = bad;
    spec
}

#[test]
fn labels_of_any_length_and_sign_stay_text_on_the_sheet() {
    let long = "<b onclick='x()'>&\"\u{202e} a label longer than any column of the page is wide "
        .repeat(3);
    for size in SIZES {
        let mut rows = specs::coating_used();
        let mut list = specs::price_list();
        let mut months = specs::rate();
        for row in &mut rows.rows {
            row.label = long.clone();
            row.note = long.clone();
            row.tip = long.clone();
        }
        for row in &mut list.rows {
            row.label = long.clone();
        }
        list.columns[0] = long.clone();
        for month in &mut months.months {
            month.label = long.clone();
        }
        for drawn in [
            intervals(&rows, size).unwrap(),
            heat(&list, size).unwrap(),
            control(&months, size).unwrap(),
        ] {
            assert!(!drawn.body().contains("<b"), "markup got through");
            for element in read(&drawn) {
                let right = f64::from(drawn.width()) + 1.0;
                let inside = element
                    .areas
                    .iter()
                    .all(|a| a.left >= -1.0 && a.right <= right);
                assert!(inside, "{element:?}");
            }
        }
    }
}
