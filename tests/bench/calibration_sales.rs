//! Calibration of what is said of sales: how often intervals hold the truth,
//! and how often a price that is raised is truly under its floor.
//!
//! `cargo bench --bench calibration_sales -- SHOPS` (default 2,000; the price
//! list takes a twentieth of that, as each of its shops goes through the whole
//! program twice). Prints a table and fails outside the stated limits.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout)]

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::Value;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use tallycoat::findings::groups::{self, Odds};
use tallycoat::findings::price::{self, Listed, Offered};
use tallycoat::fits::proportion;
use tallycoat::invent::{Plan, invent_into};
use tallycoat::measures::{OfferCount, PricedOffers};
use tallycoat::money::Minor;
use tallycoat::run;
use tallycoat::settings::command::ReviewArgs;
use tallycoat::settings::constants::Constants;

/// Intervals that held the truth, among those given.
#[derive(Debug, Default, Clone, Copy)]
struct Cover {
    held: u32,
    given: u32,
    not_enough: u32,
    /// Of those given, called a difference.
    told: u32,
}

impl Cover {
    fn share(self) -> f64 {
        f64::from(self.held) / f64::from(self.given.max(1))
    }

    fn line(self, what: &str) {
        println!(
            "{what:<52} held {:5.1} %  of {:5}, not enough {:5}, told {:5.1} %",
            100.0 * self.share(),
            self.given,
            self.not_enough,
            100.0 * f64::from(self.told) / f64::from(self.given.max(1)),
        );
    }
}

fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
}

/// Wilson's interval of an attach rate drawn between 15 and 85 %.
fn attach(n: u64, shops: u32, seed: u64) -> Cover {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut cover = Cover::default();
    for _ in 0..shops {
        let p = rng.random_range(0.15..0.85);
        let yes = (0..n).filter(|_| rng.random_bool(p)).count() as u64;
        let e = proportion::wilson(yes, n, 0.95).unwrap();
        cover.given += 1;
        cover.held += u32::from(e.holds(p));
    }
    cover
}

const FINISHES: [&str; 3] = ["gloss", "satin", "matte"];
const SELLERS: [&str; 3] = ["P1", "P2", "P3"];

/// How the two ways of showing it differ.
#[derive(Debug, Clone, Copy)]
enum Effect {
    /// By the same share in every stratum.
    Points(f64),
    /// By the same log odds in every stratum.
    LogOdds(f64),
}

/// A shop's offers: nine strata of unequal rates; sellers show the whole pair
/// unequally often.
fn offers(n: u64, effect: Effect, rng: &mut ChaCha8Rng) -> Vec<OfferCount> {
    let finish: Vec<f64> = FINISHES
        .iter()
        .map(|_| rng.random_range(-0.4..0.4))
        .collect();
    let seller: Vec<f64> = SELLERS
        .iter()
        .map(|_| rng.random_range(-0.4..0.4))
        .collect();
    let shows: Vec<f64> = SELLERS.iter().map(|_| rng.random_range(0.3..0.7)).collect();
    let one = |_| {
        let (f, s) = (
            rng.random_range(0..FINISHES.len()),
            rng.random_range(0..SELLERS.len()),
        );
        let pair = rng.random_bool(shows[s]);
        let base = finish[f] + seller[s] - 0.2;
        let p = match effect {
            Effect::Points(d) => logistic(base) + if pair { d } else { 0.0 },
            Effect::LogOdds(d) => logistic(base + if pair { d } else { 0.0 }),
        };
        let yes = u64::from(rng.random_bool(p.clamp(0.0, 1.0)));
        OfferCount {
            finish: FINISHES[f].into(),
            seller: SELLERS[s].into(),
            sample: if pair { "full_pair" } else { "half_and_half" }.into(),
            eligible: 1,
            offered: 1,
            coated: yes,
            coated_offered: yes,
            ..OfferCount::default()
        }
    };
    (0..n).map(one).collect()
}

fn sample(n: u64, effect: Effect, shops: u32, seed: u64) -> Cover {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut cover = Cover::default();
    for _ in 0..shops {
        let found = groups::find(&offers(n, effect, &mut rng)).unwrap();
        let Some(c) = found.samples.first() else {
            cover.not_enough += 1;
            continue;
        };
        let known = match effect {
            Effect::Points(d) => c.difference.known().map(|e| e.holds(d)),
            Effect::LogOdds(d) => match &c.odds_ratio {
                Odds::Known(e) => Some(e.holds(d.exp())),
                _ => None,
            },
        };
        let Some(holds) = known else {
            cover.not_enough += 1;
            continue;
        };
        cover.given += 1;
        cover.held += u32::from(holds);
        cover.told += u32::from(c.tells());
    }
    cover
}

/// Offers with a price: three classes, three finishes and three sellers that
/// differ, prices about the list by a tenth and a half, log odds of a yes by
/// `slope` per log price.
fn priced_offers(n: u64, slope: f64, rng: &mut ChaCha8Rng) -> Vec<(PricedOffers, i64)> {
    let mut effects =
        |k: usize| -> Vec<f64> { (0..k).map(|_| rng.random_range(-0.4..0.4)).collect() };
    let (class, finish, seller) = (effects(3), effects(3), effects(3));
    let one = |_| {
        let (c, f, s) = (
            rng.random_range(0..3),
            rng.random_range(0..FINISHES.len()),
            rng.random_range(0..SELLERS.len()),
        );
        let pair = rng.random_bool(0.5);
        let list = [20_000.0, 24_000.0, 30_000.0][c] * [1.0, 1.05, 1.2][f];
        let list = f64::round(list / 500.0) * 500.0;
        let asked = list * (0.15 * normal(rng)).exp();
        let price = (asked / 500.0).round() * 500.0;
        let eta = -0.2 + class[c] + finish[f] + seller[s] + if pair { 0.7 } else { 0.0 };
        let yes = rng.random_bool(logistic(eta + slope * (price / list).ln()));
        let offers = PricedOffers {
            class: ["coupe", "suv", "van"][c].into(),
            full: Some(true),
            finish: FINISHES[f].into(),
            seller: SELLERS[s].into(),
            sample: if pair { "full_pair" } else { "none" }.into(),
            price: Some(Minor(price as i64)),
            offers: 1,
            accepted: u64::from(yes),
            area: Some(20.0),
            ..PricedOffers::default()
        };
        (offers, list as i64)
    };
    (0..n).map(one).collect()
}

/// A standard normal number, by Box and Muller.
fn normal(rng: &mut ChaCha8Rng) -> f64 {
    let (u, v): (f64, f64) = (rng.random_range(1e-12..1.0), rng.random_range(0.0..1.0));
    (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
}

/// The slope's interval, and how often the price is called to have told.
fn price(n: u64, slope: f64, shops: u32, seed: u64) -> Cover {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut cover = Cover::default();
    for _ in 0..shops {
        let all = priced_offers(n, slope, &mut rng);
        let offered: Vec<Offered<'_>> = all
            .iter()
            .map(|(offers, list)| Offered {
                offers,
                listed: Some(Listed {
                    price: Minor(*list),
                    full: Minor(*list),
                    finish: offers.finish.to_string(),
                }),
                cost: Some(10_000.0),
            })
            .collect();
        match price::find(&offered, 0.97).unwrap().said {
            Ok(a) => {
                cover.given += 1;
                cover.held += u32::from(a.slope.holds(slope));
                cover.told += u32::from(a.effect != price::Effect::NotTold);
            }
            Err(_) => cover.not_enough += 1,
        }
    }
    cover
}

/// Wage that every invented person is given, so that the true cost is known.
const WAGE: f64 = 27.0;
/// The settings' default loading and floor margin.
const LOADING: f64 = 1.42;
const FLOOR_MARGIN: f64 = 0.35;

fn json(path: &Path) -> Value {
    serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap()
}

fn review(folder: &Path) -> Value {
    let args = ReviewArgs {
        folder: folder.to_path_buf(),
        month: None,
        out: Some(folder.join("out")),
        strict: false,
        ..ReviewArgs::default()
    };
    run::review(&args, &mut |_| {}).unwrap();
    json(&folder.join("out/review.json"))
}

fn same_wage(folder: &Path) {
    let path = folder.join("people.csv");
    let mut reader = csv::Reader::from_path(&path).unwrap();
    let heads = reader.headers().unwrap().clone();
    let wage = heads.iter().position(|h| h == "hourly_cost").unwrap();
    let mut out = csv::Writer::from_writer(Vec::new());
    out.write_record(&heads).unwrap();
    for row in reader.records().map(Result::unwrap) {
        let cell = |(i, c): (usize, &str)| {
            if i == wage {
                WAGE.to_string()
            } else {
                c.to_string()
            }
        };
        let cells: Vec<String> = row.iter().enumerate().map(cell).collect();
        out.write_record(&cells).unwrap();
    }
    fs::write(path, out.into_inner().unwrap()).unwrap();
}

/// Entries raised as under, those of them that are, and all that are.
#[derive(Debug, Default, Clone, Copy)]
struct Raised {
    entries: u32,
    raised: u32,
    rightly: u32,
    under: u32,
}

/// One invented shop whose list prices are drawn about the true floors.
///
/// The truth: set-up and mL/m² of the law on a full area, mean minutes of the
/// law with its finish factor; the cost per mL of the bottles as bought, the
/// wage and the reserve as the program has them.
fn price_list(seed: u64, to: &mut Raised) {
    let dir = tempfile::tempdir().unwrap();
    let plan = Plan {
        seed,
        ..Plan::default()
    };
    invent_into(&plan, dir.path()).unwrap();
    same_wage(dir.path());
    let first = review(dir.path());
    let truth = json(&dir.path().join("truth.json"));
    let number = |v: &Value| v.as_f64().unwrap();
    let per_ml = number(&first["cost_per_ml"]["value"]);
    let reserve = number(&first["reserve"]["in_floor"]);
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let records = Constants::read(dir.path()).unwrap().records;
    let last = records.last().unwrap();
    let mut text = fs::read_to_string(dir.path().join("constants.toml")).unwrap();
    let month = first["month"].as_str().unwrap();
    write!(
        text,
        "\n[[record]]\neffective_on = {month}-01\nsource = \"bench\"\n"
    )
    .unwrap();
    let scalars = [
        ("setup_ml", last.setup_ml),
        ("cost_per_ml", last.cost_per_ml),
        ("hourly_cost", last.hourly_cost),
    ];
    for (key, value) in scalars {
        writeln!(text, "{key} = {:?}", value.unwrap()).unwrap();
    }
    for (name, map) in [
        ("ml_per_m2", &last.ml_per_m2),
        ("minutes", &last.minutes),
        ("full_area", &last.full_area),
    ] {
        writeln!(text, "[record.{name}]").unwrap();
        for (key, value) in map {
            writeln!(text, "{key} = {value:?}").unwrap();
        }
    }
    text.push_str("[record.list_price]\n");
    let mut floors = std::collections::BTreeMap::new();
    for (class, area) in &last.full_area {
        for (finish, rate) in truth["coating"]["ml_per_m2"].as_object().unwrap() {
            let ml = number(&truth["coating"]["setup_ml"]) + number(rate) * area;
            let minutes = number(&truth["minutes"]["average"][class])
                * number(&truth["minutes"]["finish_factor"][finish]);
            let cost = ml * per_ml + minutes * WAGE * 100.0 * LOADING / 60.0 + reserve;
            let floor = cost / (1.0 - FLOOR_MARGIN);
            let list = (floor * rng.random_range(0.9..1.1)).round();
            writeln!(text, "\"{class}/{finish}\" = {:?}", list / 100.0).unwrap();
            floors.insert((class.clone(), finish.clone()), floor > list);
        }
    }
    fs::write(dir.path().join("constants.toml"), text).unwrap();
    let second = review(dir.path());
    for e in second["underpriced"]["price_list"].as_array().unwrap() {
        let word = |k: &str| e[k].as_str().unwrap().to_string();
        let Some(under) = floors.get(&(word("class"), word("finish"))) else {
            continue;
        };
        let raised = e["verdict"] == "under";
        to.entries += 1;
        to.raised += u32::from(raised);
        to.rightly += u32::from(raised && *under);
        to.under += u32::from(*under);
    }
}

fn main() {
    let shops = std::env::args()
        .find_map(|a| a.parse::<u32>().ok())
        .unwrap_or(2_000);
    let mut bad = Vec::new();
    // The Monte-Carlo error of a share of 0.95 over the shops asked for.
    let error = 3.0 * (0.95 * 0.05 / f64::from(shops)).sqrt();
    for n in [20, 60, 200, 500] {
        let effects = [
            Effect::Points(0.0),
            Effect::Points(0.15),
            Effect::LogOdds(0.0),
            Effect::LogOdds(0.7),
        ];
        let mut all = vec![(format!("attach rate, {n} jobs"), attach(n, shops, n))];
        for (i, effect) in (0..).zip(effects) {
            let cover = sample(n, effect, shops, 1_000 * n + i);
            all.push((format!("sample, {n} offers, {effect:?}"), cover));
        }
        for (what, cover) in all {
            cover.line(&what);
            if n >= 60 && !(0.93 - error..=0.97 + error).contains(&cover.share()) {
                bad.push(what);
            }
        }
    }
    // Each shop draws its curve a thousand times, so a quarter of the shops.
    let quarter = shops.div_ceil(4);
    let wide = 3.0 * (0.95 * 0.05 / f64::from(quarter)).sqrt();
    for n in [60, 200, 500, 2_000] {
        for slope in [0.0, -2.0] {
            let cover = price(n, slope, quarter, 7_000 * n + u64::from(slope != 0.0));
            let what = format!("price slope {slope}, {n} offers");
            cover.line(&what);
            if n >= 500 && !(0.93 - wide..=0.97 + wide).contains(&cover.share()) {
                bad.push(what);
            }
        }
    }
    let mut raised = Raised::default();
    for seed in 1..=u64::from(shops.div_ceil(20)) {
        price_list(seed, &mut raised);
    }
    let share = |a: u32, b: u32| 100.0 * f64::from(a) / f64::from(b.max(1));
    println!(
        "price list: {} entries, {} truly under; raised {}, of which truly under {:.1} %; found {:.1} % of those under",
        raised.entries,
        raised.under,
        raised.raised,
        share(raised.rightly, raised.raised),
        share(raised.rightly, raised.under)
    );
    if raised.raised > 0 && share(raised.rightly, raised.raised) < 90.0 {
        bad.push("price list".into());
    }
    assert!(bad.is_empty(), "outside the limits: {bad:?}");
}
