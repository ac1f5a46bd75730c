//! Drawings from numbers written by hand, so that no change of a fit can move
//! them. All names and figures are invented.

use tallycoat::charts::{
    Axis, Band, Best, Bridge, Caterpillar, Cell, Centre, ChartError, Control, Cover, Curve,
    CurvePoint, Drop, Floor, Funnel, FunnelLimit, FunnelPoint, Group, Heat, HeatRow, Intervals,
    Job, KeyEntry, Month, Priced, Row, RowFigure, Size, Step, Survival, Svg, Tick, Total, bridge,
    caterpillar, control, curve, floor, funnel, heat, intervals, survival,
};
use tallycoat::estimate::Estimate;

/// A drawing with a name of its own.
pub struct Case {
    pub name: &'static str,
    pub draw: Box<dyn Fn(Size) -> Result<Svg, ChartError>>,
    pub key: Vec<KeyEntry>,
}

macro_rules! case {
    ($name:literal, $draw:ident, $spec:expr) => {
        Case {
            name: $name,
            key: $spec.key(),
            draw: Box::new(|size| $draw(&$spec, size)),
        }
    };
}

/// Every kind of drawing, plain and awkward.
pub fn all() -> Vec<Case> {
    vec![
        case!("control", control, rate()),
        case!("months", control, margin()),
        case!("intervals", intervals, coating_used()),
        case!("minutes", intervals, minutes()),
        case!("caterpillar", caterpillar, pace()),
        case!("bridge", bridge, quoted()),
        case!("bridge-alone", bridge, dwarfed()),
        case!("floor", floor, prices(220)),
        case!("floor-dense", floor, prices(6_000)),
        case!("funnel", funnel, callbacks()),
        case!("survival", survival, sound()),
        case!("heat", heat, price_list()),
        case!("curve", curve, left_per_offer(1.08)),
        case!("curve-edge", curve, left_per_offer(1.4)),
    ]
}

fn percent(v: f64) -> String {
    format!("{:.0}%", 100.0 * v)
}

fn dollars(v: f64) -> String {
    let sign = if v < 0.0 { "\u{2212}" } else { "" };
    format!("{sign}${:.0}", v.abs())
}

fn plain(v: f64) -> String {
    format!("{v:.1}")
}

fn off_list(v: f64) -> String {
    format!("{:+.0}%", 100.0 * (v - 1.0))
}

/// What is left per offer from 0.8 to 1.3 of the list price: a parabola about
/// `peak`, whose range widens towards both ends.
fn left_per_offer(peak: f64) -> Curve<'static> {
    let left = |at: f64| 60.0 - 120.0 * (at - peak).powi(2);
    let point = |i: u32| {
        let at = 0.8 + 0.025 * f64::from(i);
        let half = 6.0 + 40.0 * (at - 1.05).powi(2);
        CurvePoint {
            at,
            figure: Estimate {
                value: left(at),
                low: left(at) - half,
                high: left(at) + half,
                level: 0.95,
                n: 400,
            },
        }
    };
    let best = peak.min(1.3);
    Curve {
        points: (0..=20).map(point).collect(),
        up: open_axis(Tick(&dollars)),
        across: open_axis(Tick(&off_list)),
        named: "price asked against today's list price".into(),
        reference: Some(Centre {
            value: 1.0,
            text: "today's list price".into(),
        }),
        best: Some(Best {
            at: best,
            value: left(best),
            text: "most left: $60".into(),
        }),
        tip: "Left per offer".into(),
    }
}

fn whole(v: f64) -> String {
    format!("{v:.0}")
}

fn share_axis() -> Axis<'static> {
    Axis {
        tick: Tick(&percent),
        from_zero: true,
        limits: Some(Band {
            low: 0.0,
            high: 1.0,
        }),
    }
}

fn open_axis(tick: Tick<'static>) -> Axis<'static> {
    Axis {
        tick,
        from_zero: false,
        limits: None,
    }
}

pub fn estimate(value: f64, low: f64, high: f64, n: u64) -> Estimate {
    Estimate {
        value,
        low,
        high,
        level: 0.95,
        n,
    }
}

const MONTHS: [&str; 18] = [
    "May 25", "Jun 25", "Jul 25", "Aug 25", "Sep 25", "Oct 25", "Nov 25", "Dec 25", "Jan 26",
    "Feb 26", "Mar 26", "Apr 26", "May 26", "Jun 26", "Jul 26", "Aug 26", "Sep 26", "Oct 26",
];

/// Attach rate over 18 months: January has too few jobs, October is outside.
pub fn rate() -> Control<'static> {
    let coated: [u64; 18] = [
        19, 25, 23, 20, 21, 17, 15, 8, 1, 12, 17, 22, 21, 26, 27, 24, 26, 34,
    ];
    let jobs: [u64; 18] = [
        61, 72, 75, 70, 64, 58, 44, 31, 3, 40, 58, 66, 71, 77, 80, 74, 69, 66,
    ];
    let months = MONTHS
        .iter()
        .zip(coated.iter().zip(&jobs))
        .map(|(label, (k, n))| {
            let (k, n) = (*k as f64, *n as f64);
            let (p, half) = (k / n, 0.95 / n.sqrt());
            let few = n < 5.0;
            Month {
                label: label.to_string(),
                figure: (!few)
                    .then(|| estimate(p, (p - half).max(0.0), (p + half).min(1.0), n as u64)),
                text: percent(p),
                usual: (!few).then(|| Band {
                    low: (0.31 - 1.4 / n.sqrt()).max(0.0),
                    high: 0.31 + 1.4 / n.sqrt(),
                }),
                outside: *label == "Oct 26",
                tip: format!("{label}: {k} of {n} jobs"),
            }
        });
    Control {
        months: months.collect(),
        centre: Some(Centre {
            value: 0.31,
            text: "usual 31%".into(),
        }),
        axis: share_axis(),
    }
}

/// Margin per coated job over a year: no band, a cut scale.
pub fn margin() -> Control<'static> {
    let values = [
        118.0, 121.5, 116.0, 124.0, 119.0, 122.0, 117.5, 120.0, 123.0, 119.5, 118.0, 108.0,
    ];
    let months = MONTHS[6..].iter().zip(values).map(|(label, v)| Month {
        label: label.to_string(),
        figure: Some(estimate(v, v - 7.0, v + 7.0, 24)),
        text: dollars(v),
        usual: None,
        outside: false,
        tip: format!("{label}: {} a job", dollars(v)),
    });
    Control {
        months: months.collect(),
        centre: None,
        axis: open_axis(Tick(&dollars)),
    }
}

fn known(label: &str, jobs: u64, at: Estimate, second: f64, stands_out: bool) -> Row {
    Row {
        label: label.into(),
        note: format!("{jobs} jobs"),
        figure: RowFigure::Known {
            estimate: at,
            text: plain(at.value),
        },
        second: Some(second),
        stands_out,
        tip: format!("{label}: {} likely {} to {}", at.value, at.low, at.high),
    }
}

fn thin(label: &str, jobs: u64, second: Option<f64>) -> Row {
    Row {
        label: label.into(),
        note: format!("{jobs} jobs"),
        figure: RowFigure::Thin {
            text: format!("{jobs} of 10 jobs needed"),
        },
        second,
        stands_out: false,
        tip: format!("{label}: {jobs} of 10 jobs needed"),
    }
}

/// mL per m² by finish: one departs, one runs off the scale, one is thin.
pub fn coating_used() -> Intervals<'static> {
    Intervals {
        rows: vec![
            known("Gloss", 148, estimate(1.49, 1.44, 1.54, 148), 1.5, false),
            known("Satin", 61, estimate(1.82, 1.75, 1.89, 61), 1.6, true),
            known("Matte", 22, estimate(2.05, 1.9, 2.2, 22), 2.0, false),
            known("Textured", 4, estimate(2.4, -3.0, 9.0, 4), 2.3, false),
            thin("Brushed metal, long name", 2, Some(1.9)),
        ],
        axis: open_axis(Tick(&plain)),
        reference: None,
    }
}

/// Minutes by class, from zero.
pub fn minutes() -> Intervals<'static> {
    let classes = [
        ("Coupe", 33.0, 31.0, 40),
        ("Hatchback", 34.5, 36.0, 51),
        ("Sedan", 37.0, 38.0, 88),
        ("Wagon", 40.0, 40.0, 22),
        ("SUV", 44.0, 42.0, 97),
        ("Van, long wheelbase", 58.0, 50.0, 14),
    ];
    let rows = classes.map(|(label, value, in_force, n)| {
        let half = 14.0 / f64::from(n).sqrt();
        let at = estimate(value, value - half, value + half, n as u64);
        known(label, n as u64, at, in_force, label.starts_with("Van"))
    });
    Intervals {
        rows: rows.to_vec(),
        axis: Axis {
            from_zero: true,
            ..open_axis(Tick(&whole))
        },
        reference: None,
    }
}

/// Pace of eight people: one stands apart, one has too few jobs.
pub fn pace() -> Caterpillar<'static> {
    let people = [
        ("P08", 4, 0.0),
        ("P01", 41, 76.0),
        ("P02", 35, 82.0),
        ("P03", 28, 83.0),
        ("P04", 33, 88.0),
        ("P05", 22, 90.0),
        ("P06", 18, 95.0),
        ("P07", 29, 104.0),
    ];
    let rows = people.map(|(label, n, value)| {
        if n < 8 {
            return thin(label, n, None);
        }
        let half = 60.0 / (n as f64).sqrt();
        let at = estimate(value, value - half, value + half, n);
        known(label, n, at, 86.0 + 1.3 * (value - 86.0), label == "P07")
    });
    Caterpillar {
        rows: rows.to_vec(),
        axis: open_axis(Tick(&whole)),
        reference: Centre {
            value: 86.0,
            text: "shop\u{2019}s usual 86 min".into(),
        },
    }
}

fn step(label: &str, change: f64) -> Step {
    let sign = if change < 0.0 { "\u{2212}" } else { "+" };
    let text = format!("{sign}${:.0}", change.abs());
    Step {
        label: label.into(),
        change,
        tip: format!("{label}: {text} a coated job"),
        text,
    }
}

fn total(label: &str, value: f64) -> Total {
    Total {
        label: label.into(),
        value,
        text: dollars(value),
    }
}

/// Changes large enough to be seen beside the totals.
pub fn quoted() -> Bridge<'static> {
    Bridge {
        from: total("Quoted", 118.0),
        steps: vec![
            step("List price to charged", -31.0),
            step("Discount", -18.0),
            step("Coating price", 4.0),
            step("Coating used", -14.0),
            step("Labour rate", 0.0),
            step("Hands-on time", 22.0),
            step("Consumables and fees", -2.0),
            step("Callbacks", -7.0),
        ],
        to: total("Happened", 72.0),
        tick: Tick(&dollars),
    }
}

/// Totals that dwarf the changes.
pub fn dwarfed() -> Bridge<'static> {
    Bridge {
        from: total("September", 118.0),
        steps: vec![
            step("Volume and mix", -4.0),
            step("Price charged", 9.0),
            step("Coating used", -14.0),
            step("Hands-on time", 6.0),
            step("Callbacks", -7.0),
        ],
        to: total("October", 108.0),
        tick: Tick(&dollars),
    }
}

/// Numbers that look drawn at random and are the same everywhere.
struct Draws(u64);

impl Draws {
    /// The next number from 0 to 1 (the multiplier of Knuth's MMIX).
    fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
}

/// `jobs` prices of which one in fourteen lies under its floor.
pub fn prices(jobs: usize) -> Floor<'static> {
    let mut draws = Draws(7);
    let (mut covered, mut below) = (Vec::new(), Vec::new());
    for i in 0..jobs {
        let floor = 180.0 + 240.0 * (draws.next() + draws.next()) / 2.0;
        if i % 14 == 3 {
            let price = (floor - 8.0 - 60.0 * draws.next()).round();
            let label = format!("job {}", 4100 + i);
            let tip = format!("{label}: {price} charged, floor {floor:.0}");
            let at = Priced { floor, price };
            below.push(Job { at, label, tip });
        } else {
            let price = (floor + 4.0 + 130.0 * draws.next() * draws.next()).round();
            covered.push(Priced { floor, price });
        }
    }
    below.sort_by(|a, b| {
        let short = |job: &Job| job.at.floor - job.at.price;
        short(b).total_cmp(&short(a))
    });
    let rest = below.split_off(below.len().min(40));
    Floor {
        covered,
        below,
        more_below: rest.into_iter().map(|job| job.at).collect(),
        tick: Tick(&dollars),
        up: "price charged".into(),
        across: "floor price".into(),
    }
}

/// Callbacks per job of seven people.
pub fn callbacks() -> Funnel<'static> {
    let people = [
        ("P01", 41.0, 0.05),
        ("P02", 35.0, 0.03),
        ("P03", 28.0, 0.07),
        ("P04", 33.0, 0.06),
        ("P05", 22.0, 0.0),
        ("P06", 18.0, 0.11),
        ("P07", 9.0, 0.44),
    ];
    let points = people.map(|(label, jobs, value)| FunnelPoint {
        label: label.into(),
        jobs,
        value,
        outside: ["P07", "P03"].contains(&label),
        stands_out: label == "P07",
        tip: format!("{label}: {} of {jobs} jobs", percent(value)),
    });
    let limits = (1..=10).map(|i| {
        let jobs = 5.0 * f64::from(i);
        let half = 0.72 / jobs.sqrt();
        FunnelLimit {
            jobs,
            usual: Band {
                low: (0.06 - half).max(0.0),
                high: 0.06 + half,
            },
        }
    });
    Funnel {
        points: points.to_vec(),
        limits: limits.collect(),
        centre: Centre {
            value: 0.06,
            text: "usual 6%".into(),
        },
        axis: share_axis(),
        across: "coated jobs".into(),
    }
}

/// Two groups over three years.
pub fn sound() -> Survival<'static> {
    let group = |label: &str, fall: f64, n: f64| {
        let drops = (1..=12).map(|i| {
            let share = 1.0 - fall * f64::from(i) - 0.0006 * f64::from(i * i);
            let half = 0.35 * f64::from(i).sqrt() / n.sqrt();
            Drop {
                at: 3.0 * f64::from(i) - 1.0,
                share,
                likely: Band {
                    low: (share - half).max(0.0),
                    high: (share + half).min(1.0),
                },
            }
        });
        Group {
            label: label.into(),
            drops: drops.collect(),
            until: 36.0,
            followed: (0..=6).map(|i| (n * 0.78_f64.powi(i)) as u64).collect(),
            tip: format!("{label}: share still sound"),
        }
    };
    Survival {
        groups: vec![
            group("Coated", 0.009, 160.0),
            group("Not coated", 0.02, 90.0),
        ],
        axis: Axis {
            from_zero: false,
            ..share_axis()
        },
        times: (0..=6).map(|i| 6.0 * f64::from(i)).collect(),
        time: Tick(&whole),
        at_risk: "Vehicles still followed, by months since the film work".into(),
    }
}

/// Six classes by four finishes.
pub fn price_list() -> Heat {
    let classes = [
        "Coupe",
        "Hatchback",
        "Sedan",
        "Wagon",
        "SUV",
        "Van, long wheelbase",
    ];
    let columns = ["Gloss", "Satin", "Matte", "Textured"];
    let cell = |r: usize, c: usize| {
        let price = 240 + 30 * r + 10 * c;
        let cover = match (r, c) {
            (5, 2 | 3) => Cover::Under,
            (4, 2) | (3, 3) => Cover::LikelyUnder,
            (0, 3) | (1, 3) => Cover::Unknown,
            _ => Cover::Covers,
        };
        let note = match cover {
            Cover::Under | Cover::LikelyUnder => format!("to ${}", price + 25),
            Cover::Unknown => "too few".to_string(),
            Cover::Covers => String::new(),
        };
        Cell {
            text: format!("${price}"),
            note,
            cover,
            tip: format!("{} {}: ${price}", classes[r], columns[c]),
        }
    };
    Heat {
        columns: columns.map(String::from).to_vec(),
        rows: (0..classes.len())
            .map(|r| HeatRow {
                label: classes[r].to_string(),
                cells: (0..columns.len()).map(|c| cell(r, c)).collect(),
            })
            .collect(),
    }
}
