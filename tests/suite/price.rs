//! Price against answer, and what is odd about prices and offers, through the
//! whole program; and what must not move when lines are turned about, shops
//! split or the currency scaled.

use serde_json::Value;
use std::fs;
use std::path::Path;
use tallycoat::invent::{Plan, invent_into};
use tallycoat::run;
use tallycoat::settings::command::ReviewArgs;

/// Review of a folder: its JSON and its page.
fn review(folder: &Path) -> (Value, String) {
    let out = tempfile::tempdir().unwrap();
    let args = ReviewArgs {
        folder: folder.to_path_buf(),
        out: Some(out.path().join("r")),
        ..ReviewArgs::default()
    };
    run::review(&args, &mut |_| {}).unwrap();
    let read = |name: &str| fs::read_to_string(out.path().join("r").join(name)).unwrap();
    (
        serde_json::from_str(&read("review.json")).unwrap(),
        read("review.html"),
    )
}

fn number(v: &Value) -> f64 {
    v.as_f64().unwrap_or_else(|| panic!("{v} is no number"))
}

fn holds(e: &Value, truth: f64) -> bool {
    number(&e["low"]) <= truth && truth <= number(&e["high"])
}

/// A shop that tries prices about its list and keeps those of declined offers,
/// or not.
fn invented(keeps_declined: bool) -> tempfile::TempDir {
    let mut plan = Plan {
        jobs: 2_400,
        months: 12,
        seed: 5,
        price_on_declined: keeps_declined,
        ..Plan::default()
    }
    .staffed();
    plan.law.sale.price_spread = 0.15;
    plan.law.sale.price_slope = -2.0;
    let dir = tempfile::tempdir().unwrap();
    invent_into(&plan, dir.path()).unwrap();
    dir
}

#[test]
fn the_slope_that_was_planted_is_found_within_what_was_tried() {
    let dir = invented(true);
    let (r, page) = review(dir.path());
    let p = &r["price"];
    assert!(holds(&p["slope"], -2.0), "{}", p["slope"]);
    assert_eq!(p["effect"], "fewer_when_dearer");
    let curve = p["curve"].as_array().unwrap();
    let at = |c: &Value| number(&c["of_list"]);
    assert!(curve.windows(2).all(|w| at(&w[0]) < at(&w[1])));
    let (low, high) = (at(&curve[0]), at(curve.last().unwrap()));
    assert!(
        0.5 < low && low < 0.9 && 1.1 < high && high < 2.0,
        "{low} {high}"
    );
    let found = &p["peak"];
    let best = found["tried"]
        .as_f64()
        .or(found["of_list"]["value"].as_f64());
    assert!((low..=high).contains(&best.unwrap()), "{found}");
    let r = &p["recorded"];
    assert_eq!(r["declined"], r["declined_priced"]);
    for words in [
        "Does the price change who says yes?",
        "Dearer offers were declined more often",
        "not a trial",
        "Nothing is said of prices that were not tried",
    ] {
        assert!(page.contains(words), "{words}");
    }
}

/// Mended entries of a shop that tried prices: what is left with the takers that
/// the curve of the same file expects, by a plain sum. What the entry would have
/// brought at the same sales tells how many full jobs it sold, parts by their
/// share; within a tenth, as the least price of a part is not in the file.
#[test]
fn a_mended_price_is_also_judged_with_the_takers_that_it_would_keep() {
    let dir = invented(true);
    let constants = dir.path().join("constants.toml");
    let text = fs::read_to_string(&constants).unwrap();
    // A list that is a third too cheap for every class.
    let mut cheap = String::new();
    let mut in_list = false;
    for line in text.lines() {
        in_list = if line.starts_with('[') {
            line.contains("list_price")
        } else {
            in_list
        };
        match line.split_once('=').filter(|_| in_list) {
            Some((key, price)) => {
                let price: f64 = price.trim().parse().unwrap();
                cheap.push_str(&format!("{key}= {:.2}\n", price * 0.75));
            }
            None => cheap.push_str(&format!("{line}\n")),
        }
    }
    fs::write(&constants, cheap).unwrap();
    let (r, _) = review(dir.path());
    let curve = r["price"]["curve"].as_array().unwrap();
    let accepted = |x: f64| {
        let at = |i: usize| {
            (
                number(&curve[i]["of_list"]),
                number(&curve[i]["acceptance"]["value"]),
            )
        };
        let i = (1..curve.len()).find(|i| x <= at(*i).0)?;
        let ((x0, y0), (x1, y1)) = (at(i - 1), at(i));
        (x0 <= x).then_some(y0 + (y1 - y0) * (x - x0) / (x1 - x0))
    };
    let mut judged = 0;
    for e in r["underpriced"]["price_list"].as_array().unwrap() {
        let (list, mend) = (number(&e["list"]), number(&e["mend_to"]));
        if mend <= list || e["sold"] == 0 {
            continue;
        }
        let Some(at_new) = accepted(mend / list) else {
            assert!(e["would_leave"]["not_enough"].is_object(), "{e}");
            continue;
        };
        let (same, left) = (number(&e["would_bring"]), number(&e["would_leave"]));
        // What the lost takers would have left, of full jobs and parts alike.
        let lost = 1.0 - at_new / accepted(1.0).unwrap();
        let a_full_job = mend - number(&e["cost"]["value"]);
        let full_jobs = same / (mend - list);
        let wanted = same - lost * a_full_job * full_jobs;
        let room = 0.1 * lost.abs() * a_full_job * number(&e["sold"]);
        assert!((left - wanted).abs() <= room, "{left} {wanted} {room}: {e}");
        judged += 1;
    }
    assert!(judged >= 3, "{judged} entries judged");
}

#[test]
fn without_the_prices_of_declined_offers_it_says_what_to_write_down() {
    let dir = invented(false);
    let (r, page) = review(dir.path());
    let p = &r["price"];
    assert_eq!(p["not_enough"]["of"], "declined offers with a price");
    assert_eq!(p["recorded"]["declined_priced"], 0);
    assert!(number(&p["recorded"]["declined"]) > 500.0);
    assert!(p.get("slope").is_none() && p.get("curve").is_none());
    assert!(page.contains("Write the price asked on every offer"));
}

const HEAD: &str = "job,shop,finished_on,vehicle_class,finish,area,coverage,offered,sample,sold_by,coated,coating_price,coating_discount\n";

/// A job of the shop, by its number: twenty a month from July to October.
struct Made {
    job: String,
    work: String,
}

fn made(i: u32, shop: &str, scale: u32) -> Made {
    let (month, day) = (7 + i % 4, 1 + i % 28);
    let coated = !i.is_multiple_of(3);
    let area = 17 + i % 7;
    let (price, discount) = (scale * (290 + i % 40), scale * (i % 5) * 4);
    let money = if coated {
        format!("{price},{discount}")
    } else {
        ",".into()
    };
    let finish = ["gloss", "matte"][(i % 2) as usize];
    let sample = ["full_pair", "none"][(i / 2 % 2) as usize];
    let yes = if coated { "yes" } else { "no" };
    let job = format!(
        "J{i},{shop},2026-{month:02}-{day:02},suv,{finish},{area},full,yes,{sample},P{},{yes},{money}\n",
        i % 2
    );
    let used = 2 + 3 * area / 2 + i % 3;
    let work = format!("J{i},{shop},W{},{},{used}\n", i % 3, 36 + i % 9);
    Made {
        job,
        work: if coated { work } else { String::new() },
    }
}

/// Every input of the money is measured and every price stands in
/// constants.toml, so that nothing of one shop rests on another's.
fn folder(made: &[Made], scale: u32) -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    let put = |name: &str, text: String| fs::write(dir.path().join(name), text).unwrap();
    let join = |head: &str, of: fn(&Made) -> &str| {
        let lines: String = made.iter().map(of).collect();
        format!("{head}{lines}")
    };
    put("jobs.csv", join(HEAD, |m| &m.job));
    put(
        "coatings.csv",
        join("job,shop,applied_by,minutes,used\n", |m| &m.work),
    );
    let s = f64::from(scale);
    put(
        "constants.toml",
        format!(
            "[[record]]\neffective_on = 2026-01-01\nsetup_ml = 1.2\ncost_per_ml = {:?}\nhourly_cost = {:?}\n\
             [record.ml_per_m2]\ngloss = 1.5\nmatte = 1.7\n[record.minutes]\nsuv = 40.0\n\
             [record.full_area]\nsuv = 20.0\n[record.list_price]\nsuv = {:?}\n\"suv/matte\" = {:?}\n",
            2.9 * s,
            27.0 * s,
            305.0 * s,
            320.0 * s
        ),
    );
    dir
}

const JOBS: u32 = 80;

/// Whole amounts of a review: money and counts, which must not move at all.
fn amounts(r: &Value) -> Vec<(String, i64)> {
    let mut all = Vec::new();
    for key in [
        "net_price",
        "coating",
        "labour",
        "consumables",
        "fees",
        "callbacks",
        "contribution",
    ] {
        all.push((key.to_string(), r["margin"][key].as_i64().unwrap()));
    }
    for bridge in ["bridge", "bridge_months"] {
        let b = &r[bridge];
        all.push((format!("{bridge} from"), b["from"].as_i64().unwrap()));
        all.push((format!("{bridge} to"), b["to"].as_i64().unwrap()));
        for t in b["terms"].as_array().unwrap() {
            all.push((
                format!("{bridge} {}", t["term"]),
                t["amount"].as_i64().unwrap(),
            ));
        }
    }
    all
}

/// from and the terms add up to `to`, in both bridges.
fn adds_up(r: &Value) {
    for bridge in ["bridge", "bridge_months"] {
        let b = &r[bridge];
        let terms = b["terms"].as_array().unwrap().iter();
        let sum: i64 = terms.map(|t| t["amount"].as_i64().unwrap()).sum();
        assert_eq!(
            b["from"].as_i64().unwrap() + sum,
            b["to"].as_i64().unwrap(),
            "{bridge}"
        );
    }
    assert_eq!(r["bridge"]["to"], r["margin"]["contribution"]);
}

#[test]
fn lines_turned_about_leave_every_amount_as_it_was() {
    let straight: Vec<Made> = (0..JOBS).map(|i| made(i, "", 1)).collect();
    let (a, _) = review(folder(&straight, 1).path());
    adds_up(&a);
    // 37 has no divisor in common with 80, so this visits every job once.
    let turned: Vec<Made> = (0..JOBS).map(|i| made(i * 37 % JOBS, "", 1)).collect();
    let (b, _) = review(folder(&turned, 1).path());
    assert_eq!(amounts(&a), amounts(&b));
    for key in [
        "eligible",
        "offered",
        "coated",
        "rate",
        "acceptance",
        "sellers",
        "groups",
        "sample",
    ] {
        assert_eq!(a["attach"][key], b["attach"][key], "{key}");
    }
    assert_eq!(a["price"], b["price"]);
    let worst = |r: &Value| r["underpriced"]["jobs"].as_array().unwrap().len();
    assert_eq!(worst(&a), worst(&b));
}

#[test]
fn shops_split_and_put_together_add_up_to_the_cent() {
    let shop = |i: u32| if i % 5 < 2 { "north" } else { "south" };
    let whole: Vec<Made> = (0..JOBS).map(|i| made(i, shop(i), 1)).collect();
    let (r, _) = review(folder(&whole, 1).path());
    adds_up(&r);
    let part = |name: &str| {
        let jobs: Vec<Made> = (0..JOBS)
            .filter(|i| shop(*i) == name)
            .map(|i| made(i, name, 1))
            .collect();
        let (r, _) = review(folder(&jobs, 1).path());
        adds_up(&r);
        r
    };
    let (north, south) = (part("north"), part("south"));
    // What rests on one month's mean (volume, mix) is no sum of parts; the
    // ends, and every step from quoted to happened, are.
    let of = |r: &Value| -> Vec<(String, i64)> {
        let steps = |(k, _): &(String, i64)| !k.starts_with("bridge_months \"");
        amounts(r).into_iter().filter(steps).collect()
    };
    for ((w, n), s) in of(&r).iter().zip(of(&north)).zip(of(&south)) {
        assert_eq!((&w.0, w.1), (&n.0, n.1 + s.1), "{}", w.0);
    }
    for key in ["eligible", "offered", "coated"] {
        let count = |r: &Value| r["attach"][key].as_u64().unwrap();
        assert_eq!(count(&r), count(&north) + count(&south), "{key}");
    }
}

/// Prices, wages and costs in a currency of a hundred times the units: shares
/// and areas stay, and each amount is a hundred times itself but for the half
/// a unit at which each component of each job was rounded.
#[test]
fn another_currency_scales_the_money_and_leaves_the_rest() {
    let of = |scale| {
        let jobs: Vec<Made> = (0..JOBS).map(|i| made(i, "", scale)).collect();
        review(folder(&jobs, scale).path()).0
    };
    let (a, b) = (of(1), of(100));
    adds_up(&b);
    let jobs = a["margin"]["coated_jobs"].as_i64().unwrap();
    for (x, y) in amounts(&a).iter().zip(amounts(&b)) {
        // Up to four rounded parts stand in one step, each a half off.
        let off = 100 * 4 * jobs / 2;
        assert!((100 * x.1 - y.1).abs() <= off, "{} {} {}", x.0, x.1, y.1);
    }
    for key in ["net_price", "fees"] {
        assert_eq!(
            100 * a["margin"][key].as_i64().unwrap(),
            b["margin"][key].as_i64().unwrap()
        );
    }
    assert_eq!(a["attach"], b["attach"]);
    let rate = |r: &Value| number(&r["margin"]["rate"]["value"]);
    assert!((rate(&a) - rate(&b)).abs() < 1e-3);
    let paces = |r: &Value| r["pace"].clone();
    assert_eq!(paces(&a), paces(&b));
}

/// Eighty sound jobs and these lines.
fn with(extra: &[&str]) -> (Value, String) {
    let mut jobs: Vec<Made> = (0..JOBS).map(|i| made(i, "", 1)).collect();
    jobs.extend(extra.iter().map(|line| Made {
        job: format!("{line}\n"),
        work: String::new(),
    }));
    review(folder(&jobs, 1).path())
}

/// Cells of the row of the page that starts with these words.
fn row<'a>(page: &'a str, starts: &str) -> Vec<&'a str> {
    let rest = page
        .split("<tr>")
        .find(|r| r.contains(&format!(">{starts}<")))
        .unwrap_or_else(|| panic!("no row {starts:?}"));
    let row = rest.split("</tr>").next().unwrap();
    let cells = row.split('>').map(|c| c.split('<').next().unwrap().trim());
    cells.filter(|c| !c.is_empty()).collect()
}

#[test]
fn nothing_odd_is_said_where_nothing_is() {
    let (r, page) = with(&[]);
    assert!(
        !page.contains("Lines and values we noticed"),
        "{}",
        r["noticed"]
    );
}

#[test]
fn a_price_without_coating_and_a_discount_over_the_price_are_counted_on_the_page() {
    let (r, page) = with(&[
        "X1,,2026-10-20,suv,gloss,20,full,yes,none,P1,no,300,",
        "X2,,2026-10-21,suv,gloss,20,full,yes,none,P1,no,310,",
        "Y,,2026-10-22,suv,gloss,20,full,yes,none,P1,yes,300,320",
    ]);
    assert!(page.contains("Lines and values we noticed"));
    assert_eq!(r["noticed"]["listed"]["price-without-coating"], 2);
    assert_eq!(
        row(&page, "A coating price on a job without coating").last(),
        Some(&"2")
    );
    assert_eq!(r["noticed"]["below_nothing"], 1);
    let words = "Coated jobs of the months looked at with a discount over the price";
    assert_eq!(row(&page, words).last(), Some(&"1"));
}

#[test]
fn a_coating_without_a_price_and_one_for_nothing_are_counted_on_the_page() {
    let (r, page) = with(&[
        "X,,2026-10-20,suv,gloss,20,full,yes,none,P1,yes,,",
        "Z,,2026-10-22,suv,gloss,20,full,yes,none,P1,yes,0,",
    ]);
    assert_eq!(r["margin"]["without_price"], 1);
    assert!(page.contains("without a price"));
    assert_eq!(r["noticed"]["for_nothing"], 1);
    let words = "Coated jobs of the months looked at with nothing left to pay";
    assert_eq!(row(&page, words).last(), Some(&"1"));
}

#[test]
fn a_negative_price_and_another_currency_are_put_aside_by_column_on_the_page() {
    let (r, page) = with(&[
        "X,,2026-10-20,suv,gloss,20,full,yes,none,P1,yes,-300,",
        "Y1,,2026-10-21,suv,gloss,20,full,yes,none,P1,yes,\u{20ac}300,",
        "Y2,,2026-10-21,suv,gloss,20,full,yes,none,P1,yes,\u{20ac}310,",
    ]);
    assert_eq!(r["lines"]["quarantined"], 3);
    let currency: Vec<&str> = page
        .split("<tr>")
        .filter(|r| r.contains("coating_price") && r.contains("unit-error"))
        .collect();
    assert_eq!(currency.len(), 1, "both in one row");
    assert!(currency[0].contains(">2<") && currency[0].contains("in the shop&#39;s currency"));
    let below: Vec<&str> = page
        .split("<tr>")
        .filter(|r| r.contains("coating_price") && r.contains("-300"))
        .collect();
    assert_eq!(below.len(), 1);
    assert!(below[0].contains(">1<"));
}

#[test]
fn coated_after_a_no_a_lone_offer_and_a_finish_nobody_bought_are_counted_on_the_page() {
    let (r, page) = with(&[
        "X,,2026-10-20,suv,gloss,20,full,no,,P1,yes,310,",
        "Y,,2026-10-21,suv,gloss,20,full,yes,none,P9,yes,310,",
        "Z,,2026-10-22,suv,textured,20,full,yes,none,P1,no,,",
    ]);
    let n = &r["noticed"];
    assert_eq!(
        (&n["coated_refused"], &n["lone_sellers"]),
        (&1.into(), &1.into())
    );
    assert_eq!(n["unbought"], serde_json::json!(["textured"]));
    for words in [
        "Jobs of the months looked at coated though written down as not offered",
        "Sellers of the months looked at with one offer",
        "Finishes of the months looked at that nobody bought it on",
    ] {
        assert_eq!(row(&page, words).last(), Some(&"1"), "{words}");
    }
    assert!(
        page.contains(
            "Finishes that nobody bought the coating on in the months looked at: textured."
        )
    );
}

/// Jobs below the floor name their seller and why.
#[test]
fn jobs_below_the_floor_say_whom_to_ask_and_about_what() {
    let mut jobs: Vec<Made> = (0..JOBS).map(|i| made(i, "", 1)).collect();
    let mut add = |job: &str, price: &str, discount: &str, seller: &str| {
        jobs.push(Made {
            job: format!(
                "{job},,2026-10-20,suv,gloss,20,full,yes,none,{seller},yes,{price},{discount}\n"
            ),
            work: format!("{job},,W1,40,31\n"),
        });
    };
    add("D1", "310", "200", "P7");
    add("D2", "310", "190", "P3");
    add("L", "90", "0", "P5");
    let (r, page) = review(folder(&jobs, 1).path());
    let under = r["underpriced"]["jobs"].as_array().unwrap();
    let of = |job: &str| under.iter().find(|j| j["job"] == job).unwrap();
    assert_eq!(of("D1")["sold_by"], "P7");
    assert_eq!(of("L")["sold_by"], "P5");
    assert!(
        page.contains("discount; sold by P3 and P7."),
        "whom and why"
    );
    assert!(page.contains("charged less than the list price; sold by P5."));
}
