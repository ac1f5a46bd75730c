//! How long the film lasts, through the whole program: a published trial
//! mapped as jobs, bad input, and the demo's own truth.

use serde_json::Value;
use std::fs;
use std::path::Path;
use tallycoat::run;
use tallycoat::settings::command::{CheckArgs, ReviewArgs};

fn review(files: &[(&str, &str)]) -> Value {
    let dir = tempfile::tempdir().unwrap();
    for (name, text) in files {
        fs::write(dir.path().join(name), text).unwrap();
    }
    json(dir.path(), &dir.path().join("out"))
}

fn json(folder: &Path, out: &Path) -> Value {
    let args = ReviewArgs {
        folder: folder.to_path_buf(),
        month: None,
        out: Some(out.to_path_buf()),
        strict: false,
        ..ReviewArgs::default()
    };
    run::review(&args, &mut |_| {}).unwrap();
    serde_json::from_str(&fs::read_to_string(out.join("review.json")).unwrap()).unwrap()
}

fn close(what: &str, found: &Value, expected: f64) {
    let found = found.as_f64().unwrap_or_else(|| panic!("{what}: {found}"));
    assert!(
        (found - expected).abs() <= 1e-8 * expected.abs(),
        "{what}: {found}, not {expected}"
    );
}

const JOBS: &str = "job,finished_on,vehicle_class,film,finish,area,coated\n";
const CALLBACKS: &str = "job,reported_on,cause\n";
const INSPECTIONS: &str = "job,seen_on,condition\n";

fn day(after: i64) -> String {
    let start = chrono::NaiveDate::from_ymd_opt(2026, 3, 2).unwrap();
    (start + chrono::TimeDelta::days(after)).to_string()
}

/// Freireich et al., Blood 1963;21:699-716 (6-MP against placebo, weeks of
/// remission), as in `tests/reference/freireich_gehan.csv`: a patient is a
/// job, a week a day, 6-MP the coating, relapse a film failure, censoring a
/// last look. Values by R 4.2.2, survival 3.5-3 (log-rank 16.79 is printed by
/// most texts); 1e-8 relative, as both work in double precision.
#[test]
fn a_published_trial_mapped_as_jobs_gives_its_published_curves_and_ratio() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/freireich_gehan.csv");
    let mut reader = csv::Reader::from_path(path).unwrap();
    let (mut jobs, mut calls, mut looks) = (
        JOBS.to_string(),
        CALLBACKS.to_string(),
        INSPECTIONS.to_string(),
    );
    for (i, row) in reader.records().map(Result::unwrap).enumerate() {
        let (weeks, failed): (i64, bool) = (row[1].parse().unwrap(), &row[2] == "1");
        let coated = if &row[3] == "6-MP" { "yes" } else { "no" };
        jobs.push_str(&format!("{i},{},suv,printed,gloss,20,{coated}\n", day(0)));
        if failed {
            calls.push_str(&format!("{i},{},film_failure\n", day(weeks)));
        } else {
            looks.push_str(&format!("{i},{},sound\n", day(weeks)));
        }
    }
    let files = [
        ("jobs.csv", jobs.as_str()),
        ("callbacks.csv", &calls),
        ("inspections.csv", &looks),
    ];
    let d = &review(&files)["durability"];
    close("log-rank", &d["logrank"]["chi2"], 16.792_940_989_216_5);
    assert_eq!(d["logrank"]["df"], 1);
    close("ratio", &d["hazard_ratio"]["value"], 0.207_603_524_841_537);
    close(
        "ratio, low",
        &d["hazard_ratio"]["low"],
        0.092_512_837_262_003_2,
    );
    close(
        "ratio, high",
        &d["hazard_ratio"]["high"],
        0.465_872_897_234_471,
    );
    let at = |group: &str, days: f64| {
        let km = d[group]["km"].as_array().unwrap();
        km.iter().find(|p| p[0] == days).unwrap().clone()
    };
    let ten = at("coated", 10.0);
    close("KM 10", &ten[1], 0.752_941_176_470_588);
    close("KM 10, low", &ten[2], 0.503_199_510_799_957);
    close("KM 10, high", &ten[3], 0.889_361_835_169_265);
    assert_eq!(ten[4], 15);
    close("KM control 15", &at("bare", 15.0)[1], 0.142_857_142_857_143);
    // The formula gives no range where none is left; the one before holds.
    let last = d["bare"]["km"].as_array().unwrap().last().unwrap();
    assert_eq!(
        (last[0].as_f64(), last[1].as_f64()),
        (Some(23.0), Some(0.0))
    );
    assert!(last[3].as_f64().unwrap() > 0.0);
}

/// What `check` lists as odd: kind, file, line and job of each.
fn listed(folder: &Path) -> Vec<String> {
    let args = CheckArgs {
        folder: folder.to_path_buf(),
        json: true,
        descriptor: false,
        strict: false,
    };
    let text = run::check(&args, &mut |_| {}).unwrap().text;
    let account: Value = serde_json::from_str(&text).unwrap();
    let all = account["listed"]["listed"].as_array();
    let line = |l: &Value| {
        let word = |k: &str| l[k].as_str().unwrap().to_string();
        format!(
            "{} {}:{} {}: {}",
            word("oddity"),
            word("file"),
            l["line"],
            word("subject"),
            word("found")
        )
    };
    all.unwrap_or_else(|| panic!("{account:#}"))
        .iter()
        .map(line)
        .collect()
}

/// Bad days are left out, counted and listed, never guessed at.
#[test]
fn failures_without_a_day_and_looks_out_of_order_are_not_guessed_at() {
    let mut jobs = JOBS.to_string();
    for i in 0..6 {
        jobs.push_str(&format!(
            "{i},{},suv,printed,gloss,20,{}\n",
            day(0),
            if i % 2 == 0 { "yes" } else { "no" }
        ));
    }
    jobs.push_str(&format!("6,{},suv,printed,gloss,20,no\n", day(300)));
    // 0: a failure without a day; 1: one before the work was finished;
    // 2: a look before it was finished; 3: seen sound after it had failed.
    let calls = format!(
        "{CALLBACKS}0,,film_failure\n1,{},film_failure\n3,{},film_failure\n",
        day(-4),
        day(50)
    );
    let looks = format!("{INSPECTIONS}2,{},sound\n3,{},sound\n", day(-9), day(90));
    let dir = tempfile::tempdir().unwrap();
    for (name, text) in [
        ("jobs.csv", &jobs),
        ("callbacks.csv", &calls),
        ("inspections.csv", &looks),
    ] {
        fs::write(dir.path().join(name), text).unwrap();
    }
    let out = dir.path().join("out");
    let r = json(dir.path(), &out);
    let d = &r["durability"];
    // Every line is accepted; 0 and 1 are in no curve, and that is counted.
    assert_eq!(r["lines"]["quarantined"], 0);
    assert_eq!(d["jobs_left_out"], 2);
    let followed = |group: &str| (d[group]["jobs"].as_u64(), d[group]["failures"].as_u64());
    assert_eq!(followed("coated"), (Some(2), Some(0)), "jobs 2 and 4");
    assert_eq!(followed("bare"), (Some(3), Some(1)), "jobs 3, 5 and 6");
    // 3 failed on day 50, whatever was seen later; 2 is followed no day.
    assert_eq!(d["bare"]["km"][1][0], 50.0);
    assert_eq!(d["coated"]["km"].as_array().unwrap().len(), 1);
    let table = fs::read_to_string(out.join("tables/film_life_compared.csv")).unwrap();
    assert!(table.contains("\nJobs left out,2,,"), "{table}");
    let page = fs::read_to_string(out.join("review.html")).unwrap();
    let words = page.replace('\u{a0}', " ");
    assert!(
        words.contains("2 jobs are left out"),
        "the page counts them"
    );
    // And each odd record is listed by file, line and job.
    let finished = day(0);
    let odd = [
        format!(
            "before-the-work callbacks.csv:3 1: reported_on {}, film work finished on {finished}",
            day(-4)
        ),
        format!(
            "before-the-work inspections.csv:2 2: seen_on {}, film work finished on {finished}",
            day(-9)
        ),
        format!(
            "sound-after-failure inspections.csv:3 3: seen sound on {}, failed on {}",
            day(90),
            day(50)
        ),
    ];
    assert_eq!(listed(dir.path()), odd);
    let counts = &r["noticed"]["listed"];
    assert_eq!(
        (&counts["before-the-work"], &counts["sound-after-failure"]),
        (&2.into(), &1.into())
    );
    assert!(page.contains("Film seen sound after it had failed"));
    assert!(
        d["hazard_ratio"]["not_enough"].is_object(),
        "no failure in one group: no ratio"
    );
}

#[test]
fn without_a_failure_nothing_is_claimed() {
    let jobs = format!(
        "{JOBS}1,{},suv,printed,gloss,20,yes\n2,{},suv,printed,gloss,20,no\n",
        day(0),
        day(5)
    );
    let d = &review(&[("jobs.csv", &jobs)])["durability"];
    assert_eq!(d["not_enough"]["need"], 1, "{d}");
}

/// Level and upright panels: those at risk are the vehicles whose surfaces
/// name them; failures on others stand apart. The rate is failures over the
/// vehicle-years, with exact limits (F. Garwood, Biometrika 1936;28:437-442): the
/// means at which so many events or more, or so many or fewer, have a chance of
/// 2.5 %, here by adding up the Poisson terms themselves.
fn poisson_limits(events: u32) -> [f64; 2] {
    // Chance of `upto` events or fewer at a mean.
    let chance = |upto: u32, mean: f64| {
        let mut term = (-mean).exp();
        let mut sum = term;
        for i in 1..=upto {
            term *= mean / f64::from(i);
            sum += term;
        }
        sum
    };
    let halved = |too_low: &dyn Fn(f64) -> bool| {
        let (mut low, mut high) = (0.0_f64, 100.0_f64);
        for _ in 0..200 {
            let middle = f64::midpoint(low, high);
            if too_low(middle) {
                low = middle;
            } else {
                high = middle;
            }
        }
        low
    };
    let or_more = |mean: f64| match events {
        0 => 1.0,
        n => 1.0 - chance(n - 1, mean),
    };
    [
        if events == 0 {
            0.0
        } else {
            halved(&|mean| or_more(mean) < 0.025)
        },
        halved(&|mean| chance(events, mean) > 0.025),
    ]
}

/// One event: the lower limit is -ln 0.975 by hand.
#[test]
fn poisson_limits_by_plain_sums_agree_with_the_closed_form() {
    let [low, high] = poisson_limits(1);
    assert!((low + 0.975_f64.ln()).abs() < 1e-12, "{low}");
    assert!(((1.0 + high) * (-high).exp() - 0.025).abs() < 1e-12);
    assert_eq!(poisson_limits(0)[0], 0.0);
    assert!((poisson_limits(0)[1] + 0.025_f64.ln()).abs() < 1e-12);
}

#[test]
fn panels_at_risk_come_from_the_surfaces() {
    let mut jobs = JOBS.to_string();
    let mut surfaces = "job,surface,finish,area,orientation\n".to_string();
    for i in 0..10 {
        jobs.push_str(&format!("{i},{},suv,printed,,20,yes\n", day(0)));
        surfaces.push_str(&format!("{i},sides,gloss,14,vertical\n{i},roof,gloss,6,"));
        surfaces.push_str(if i < 5 { "horizontal\n" } else { "\n" });
    }
    let mut looks = "job,seen_on,condition,orientation\n".to_string();
    for i in 0..10 {
        looks.push_str(&format!("{i},{},sound,\n", day(100)));
    }
    // One roof whose surface is recorded, and one whose is not.
    looks.push_str(&format!("0,{},failed,horizontal\n", day(200)));
    looks.push_str(&format!("7,{},failed,horizontal\n", day(300)));
    let files = [
        ("jobs.csv", jobs.as_str()),
        ("surfaces.csv", &surfaces),
        ("inspections.csv", &looks),
    ];
    let d = &review(&files)["durability"];
    let of = |orientation: &str| {
        let all = d["by_orientation"].as_array().unwrap().iter();
        let mut same = all.filter(|f| f["orientation"] == orientation);
        same.next().unwrap().clone()
    };
    let level = of("horizontal");
    let counts = |f: &Value| {
        ["vehicles", "failed", "failed_panels_not_recorded"].map(|k| f[k].as_u64().unwrap())
    };
    assert_eq!(counts(&level), [5, 1, 1], "{level}");
    let years = (200.0 + 4.0 * 100.0) / 365.25;
    close("years", &level["years"], years);
    close("rate", &level["per_year"]["value"], 1.0 / years);
    let [low, high] = poisson_limits(1);
    close("rate, low", &level["per_year"]["low"], low / years);
    close("rate, high", &level["per_year"]["high"], high / years);
    // Upright panels of a vehicle whose roof failed are followed up to then;
    // none of them failed, which still leaves an upper limit.
    let upright = of("vertical");
    let upright_years = (200.0 + 300.0 + 8.0 * 100.0) / 365.25;
    assert_eq!(upright["per_year"]["low"], 0.0);
    close(
        "none failed, high",
        &upright["per_year"]["high"],
        poisson_limits(0)[1] / upright_years,
    );
    assert_eq!(counts(&upright), [10, 0, 0], "{upright}");
    close(
        "years",
        &upright["years"],
        (200.0 + 300.0 + 8.0 * 100.0) / 365.25,
    );
    // The finish that stands in the surfaces alone makes the strata.
    assert_eq!(d["strata"], 1);
}

/// The demo was invented with a ratio of 0.6.
#[test]
fn the_demo_s_true_ratio_lies_in_its_interval() {
    let out = tempfile::tempdir().unwrap();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/film-shop");
    let truth: Value =
        serde_json::from_str(&fs::read_to_string(folder.join("truth.json")).unwrap()).unwrap();
    let d = &json(&folder, &out.path().join("r"))["durability"];
    let ratio = &d["hazard_ratio"];
    let true_ratio = truth["durability"]["hazard_ratio"].as_f64().unwrap();
    assert!(
        ratio["low"].as_f64().unwrap() <= true_ratio
            && true_ratio <= ratio["high"].as_f64().unwrap(),
        "{ratio}"
    );
    let jobs = fs::read_to_string(folder.join("jobs.csv")).unwrap();
    let mut lines = jobs.lines().map(|l| l.split(',').collect::<Vec<_>>());
    let head = lines.next().unwrap();
    let excluded = head.iter().position(|h| *h == "excluded").unwrap();
    let suited = lines.filter(|l| l[excluded] != "yes").count();
    let followed = d["coated"]["jobs"].as_u64().unwrap() + d["bare"]["jobs"].as_u64().unwrap();
    assert_eq!(
        followed as usize, suited,
        "every job that it suits is followed"
    );
}

/// The section says who is compared, promises nothing, and gives those still
/// followed under its chart and by month in its table.
#[test]
fn the_demo_s_section_names_selection_and_gives_those_followed() {
    let out = tempfile::tempdir().unwrap();
    let place = out.path().join("r");
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/film-shop");
    json(&folder, &place);
    let page = fs::read_to_string(place.join("review.html")).unwrap();
    let section = page.split("id=\"durability\"").nth(1).unwrap();
    let section = section.split("</section>").next().unwrap();
    for words in [
        "customers as much as coatings",
        "No promise of a lifetime",
        "still followed",
    ] {
        assert!(section.contains(words), "{words}");
    }
    let mut table = csv::Reader::from_path(place.join("tables/film_life_by_months.csv")).unwrap();
    let drawing = section.split("</svg>").next().unwrap();
    assert!(drawing.contains("still followed"), "under the chart");
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    assert!(rows.len() >= 4);
    for row in &rows {
        for followed in [&row[4], &row[8]] {
            assert!(
                drawing.contains(&format!(">{followed}<")),
                "{followed} vehicles under the chart, month {}",
                &row[0]
            );
        }
    }
    // By where the panels face, with the years that the rates are over.
    let faces = fs::read_to_string(place.join("tables/film_life_by_face.csv")).unwrap();
    assert_eq!(faces.lines().count(), 5, "{faces}");
}
