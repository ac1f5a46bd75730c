//! The invented shops: that they keep the rules of a real one, that their law
//! can be found again by plain means that share no code with the fits, and
//! that the demo folders are what the code writes.
//!
//! `TALLYCOAT_WRITE_DEMO=1 cargo test --test suite demo` writes the demo
//! folders afresh instead of comparing them.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use tallycoat::invent::{
    BottleRecord, CLASSES, Class, Coverage, FILES, FINISHES, Finish, InventError, Invented, Job,
    Plan, PlanError, Residual, invent, invent_into, messy, write, write_messy,
};
use tallycoat::settings::constants::Constants;
use tallycoat::settings::contract::TABLES;
use tallycoat::settings::shop::Shop;

const M2_PER_FT2: f64 = 0.09290304;
const ML_PER_FL_OZ: f64 = 29.5735295625;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn film_shop() -> Invented {
    invent(&Plan::film_shop()).unwrap()
}

/// Files of a folder, by name; folders within (reviews) are left out.
fn files_of(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    fs::read_dir(folder)
        .unwrap_or_else(|e| panic!("{}: {e}", folder.display()))
        .map(|entry| entry.unwrap())
        .filter(|entry| entry.file_type().unwrap().is_file())
        .map(|entry| {
            let name = entry.file_name().into_string().unwrap();
            (name, fs::read(entry.path()).unwrap())
        })
        .collect()
}

/// Area of a job by finish.
fn areas(shop: &Invented) -> BTreeMap<u64, [f64; 4]> {
    let two_tone = |job: &&Job| job.finish.is_none();
    let mut areas: BTreeMap<u64, [f64; 4]> = BTreeMap::new();
    for job in &shop.tables.jobs {
        let by_finish = areas.entry(job.number).or_default();
        if let Some(finish) = job.finish {
            by_finish[finish.place()] = job.area;
        }
    }
    let two: BTreeSet<u64> = shop
        .tables
        .jobs
        .iter()
        .filter(two_tone)
        .map(|j| j.number)
        .collect();
    for s in shop.tables.surfaces.iter().filter(|s| two.contains(&s.job)) {
        areas.get_mut(&s.job).unwrap()[s.finish.place()] += s.area;
    }
    areas
}

// ---------------------------------------------------------------- the demo

fn same_or_write(folder: &str, made: &Path) {
    let kept = root().join("demo-data").join(folder);
    if std::env::var_os("TALLYCOAT_WRITE_DEMO").is_some() {
        fs::create_dir_all(&kept).unwrap();
        for (name, bytes) in files_of(made) {
            fs::write(kept.join(name), bytes).unwrap();
        }
        return;
    }
    let (made, kept) = (files_of(made), files_of(&kept));
    let names = |files: &BTreeMap<String, Vec<u8>>| files.keys().cloned().collect::<Vec<_>>();
    assert_eq!(names(&made), names(&kept), "files of {folder}");
    for (name, bytes) in &made {
        assert!(
            bytes == &kept[name],
            "{folder}/{name} is not what `invent` writes"
        );
    }
}

#[test]
fn the_demo_folder_is_what_invent_writes() {
    let folder = tempfile::tempdir().unwrap();
    invent_into(&Plan::film_shop(), folder.path()).unwrap();
    let size: usize = files_of(folder.path()).values().map(Vec::len).sum();
    assert!(size < 1_000_000, "{size} bytes");
    same_or_write("film-shop", folder.path());
}

#[test]
fn the_messy_demo_folder_is_what_invent_writes() {
    let folder = tempfile::tempdir().unwrap();
    let export = messy(&film_shop()).unwrap();
    write_messy(&export, folder.path()).unwrap();
    same_or_write("messy-export", folder.path());
    let list = root().join("tests/suite/fixtures/messy-broken.json");
    if std::env::var_os("TALLYCOAT_WRITE_DEMO").is_some() {
        fs::write(&list, export.broken_json()).unwrap();
    }
    assert_eq!(export.broken_json(), fs::read_to_string(&list).unwrap());
}

#[test]
fn the_demo_is_of_the_size_that_was_asked_for() {
    let shop = film_shop();
    let jobs = &shop.tables.jobs;
    let share = |of: &dyn Fn(&Job) -> bool| {
        jobs.iter().filter(|j| of(j)).count() as f64 / jobs.len() as f64
    };
    assert_eq!(jobs.len(), 1_200);
    assert_eq!(jobs.last().unwrap().finished_on.to_string(), "2026-10-31");
    assert!((0.47..0.53).contains(&share(&|j| j.coated)));
    assert!((0.13..0.20).contains(&share(&|j| j.finish.is_none())));
    assert!((0.16..0.24).contains(&share(&|j| j.coverage == Coverage::Partial)));
    assert!((0.04..0.10).contains(&share(&|j| j.offered.is_none())));
    let spells = &shop.tables.coatings;
    let unmeasured = spells.iter().filter(|s| s.used.is_none()).count() as f64;
    assert!((0.06..0.14).contains(&(unmeasured / spells.len() as f64)));
    assert!(shop.tables.callbacks.len() > 50 && shop.tables.inspections.len() > 50);
}

/// Common practice, no published source: a typical full vehicle takes one
/// person 30 to 45 minutes (the largest class may take longer), product for it
/// costs 80 to 120 dollars, matte and textured take more than gloss, 20 to 30
/// drops load a dry applicator; air mostly above 10 °C and under 70 %
/// humidity; most coating work is done by preppers.
#[test]
fn the_demo_keeps_to_common_practice() {
    let shop = film_shop();
    let truth = &shop.truth;
    for class in CLASSES.iter().filter(|c| **c != Class::Van) {
        assert!(
            (30.0..=45.0).contains(&truth.minutes.typical[class.word()]),
            "{class:?}"
        );
    }
    assert!((20.0..=30.0).contains(&truth.coating.setup_drops));
    let c = &truth.coating.ml_per_m2;
    assert!(c["matte"] > c["gloss"] && c["textured"] > c["gloss"]);
    let areas = areas(&shop);
    let full: Vec<&Job> = shop
        .tables
        .jobs
        .iter()
        .filter(|j| j.coated && j.coverage == Coverage::Full)
        .collect();
    for class in CLASSES {
        let of: Vec<f64> = full
            .iter()
            .filter(|j| j.class == class)
            .map(|j| {
                let used = c.values().count();
                assert_eq!(used, 4);
                let by_finish = FINISHES
                    .iter()
                    .map(|f| c[f.word()] * areas[&j.number][f.place()]);
                (truth.coating.setup_ml + by_finish.sum::<f64>()) * truth.coating.cost_per_ml_last
            })
            .collect();
        let mean = of.iter().sum::<f64>() / of.len() as f64;
        assert!(
            (80.0..=120.0).contains(&mean),
            "{class:?}: {mean:.1} of {}",
            of.len()
        );
    }
    let air: Vec<f64> = shop
        .tables
        .coatings
        .iter()
        .filter_map(|s| s.air_temperature)
        .collect();
    let cold = air.iter().filter(|t| **t <= 10.0).count() as f64 / air.len() as f64;
    assert!(cold > 0.0 && cold < 0.1, "{cold}");
    let damp = shop
        .tables
        .coatings
        .iter()
        .filter(|s| s.relative_humidity >= Some(70.0))
        .count();
    assert!(damp > 0 && damp * 10 < air.len(), "{damp}");
    let preppers: BTreeSet<u64> = shop
        .tables
        .people
        .iter()
        .filter(|p| p.role.word() == "prepper")
        .map(|p| p.number)
        .collect();
    let theirs = shop
        .tables
        .coatings
        .iter()
        .filter(|s| preppers.contains(&s.applied_by))
        .count();
    assert!(theirs * 3 > shop.tables.coatings.len() * 2);
}

#[test]
fn the_demo_s_last_month_has_something_to_say_and_the_law_says_why() {
    let shop = film_shop();
    let months = &shop.truth.attach.months;
    let (last, usual) = months.split_last().unwrap();
    let usual_rate = |from: usize| {
        let some = &usual[from..];
        let coated: u64 = some.iter().map(|m| m.coated).sum();
        coated as f64 / some.iter().map(|m| m.eligible).sum::<u64>() as f64
    };
    let rate = last.coated as f64 / last.eligible as f64;
    assert!(rate > usual_rate(usual.len() - 11) + 0.1);
    assert!(last.expected_rate > usual[usual.len() - 1].expected_rate + 0.1);
    // Satin takes more than the constants say; a van's list price does not
    // carry matte or textured film at a floor margin of 0.35.
    let day = shop.plan.ends;
    let record = shop.constants.in_force(day);
    let satin = Finish::Satin;
    assert!(record.ml_per_m2[satin.place()] < 0.95 * shop.truth.coating.ml_per_m2["satin"]);
    for (finish, under) in [
        (Finish::Gloss, false),
        (Finish::Matte, true),
        (Finish::Textured, true),
    ] {
        let list = record.list(Class::Van, finish).as_f64() / 100.0;
        let minutes =
            shop.truth.minutes.average["van"] * shop.truth.minutes.finish_factor[finish.word()];
        let cost = shop.truth.product_cost["van"][finish.word()] + minutes / 60.0 * 21.0 * 1.42;
        assert_eq!(
            list < cost / 0.65,
            under,
            "{finish:?}: list {list}, cost {cost:.2}"
        );
    }
}

// ------------------------------------------------------------- as a shop is

fn keeps_the_rules_of_a_shop(shop: &Invented) {
    let t = &shop.tables;
    let people: BTreeMap<(u32, u64), _> =
        t.people.iter().map(|p| ((p.shop, p.number), p)).collect();
    let jobs: BTreeMap<(u32, u64), _> = t.jobs.iter().map(|j| ((j.shop, j.number), j)).collect();
    assert_eq!(jobs.len(), t.jobs.len(), "keys of jobs are unique");
    let mut busy: BTreeMap<(u32, u64), Vec<_>> = BTreeMap::new();
    let mut coated = BTreeSet::new();
    for s in &t.coatings {
        let person = people[&(s.shop, s.applied_by)];
        let day = s.started_at.date();
        assert!(person.started_on <= day, "{s:?} before {person:?}");
        assert!(
            person.ended_on.is_none_or(|last| day <= last),
            "{s:?} after {person:?}"
        );
        let job = jobs[&(s.shop, s.job)];
        assert!(job.coated && job.finished_on <= day, "{s:?}");
        let clock = (s.ended_at - s.started_at).num_minutes() - i64::from(s.paused_minutes);
        let minutes = s.minutes.unwrap_or(clock as f64);
        // By the clock to the whole minute, and at least one.
        assert!(
            (minutes - clock as f64).abs() <= 0.5 || (clock == 1 && minutes < 1.0),
            "{s:?}"
        );
        assert!(s.released_at.is_none_or(|r| r > s.ended_at), "{s:?}");
        busy.entry((s.shop, s.applied_by))
            .or_default()
            .push((s.started_at, s.ended_at));
        coated.insert((s.shop, s.job));
    }
    for (person, spells) in &mut busy {
        spells.sort();
        assert!(
            spells.windows(2).all(|w| w[0].1 <= w[1].0),
            "{person:?} on two jobs at once"
        );
    }
    let said: BTreeSet<_> = jobs
        .iter()
        .filter(|(_, j)| j.coated)
        .map(|(k, _)| *k)
        .collect();
    assert_eq!(coated, said);
    for j in &t.jobs {
        assert_eq!(j.coated, j.coating_discount.is_some());
        assert!(
            !(j.coated && (j.excluded || j.offered == Some(false))),
            "{j:?}"
        );
        assert!(j.quoted_on.is_none_or(|q| q <= j.finished_on));
    }
    for c in &t.callbacks {
        assert!(c.reported_on > jobs[&(c.shop, c.job)].finished_on, "{c:?}");
        assert!(c.reported_on <= shop.plan.ends, "{c:?}");
    }
    let failed: BTreeMap<_, _> = t
        .callbacks
        .iter()
        .filter(|c| c.cause.word() == "film_failure")
        .map(|c| ((c.shop, c.job), c.reported_on))
        .collect();
    for i in &t.inspections {
        assert!(i.seen_on > jobs[&(i.shop, i.job)].finished_on && i.seen_on <= shop.plan.ends);
        let failed = failed.get(&(i.shop, i.job));
        let sound = i.condition.word() == "sound";
        assert!(
            failed.is_none_or(|day| i.seen_on < *day || (!sound && i.seen_on == *day)),
            "{i:?}"
        );
    }
    // Of an inspected job nothing is heard after its last look.
    let mut last_look = BTreeMap::new();
    for i in &t.inspections {
        let last = last_look.entry((i.shop, i.job)).or_insert(i.seen_on);
        *last = i.seen_on.max(*last);
    }
    for (key, day) in &failed {
        assert!(last_look.get(key).is_none_or(|last| day <= last), "{key:?}");
    }
    let eligible = t.jobs.iter().filter(|j| !j.excluded).count() as u64;
    let told: u64 = shop.truth.attach.months.iter().map(|m| m.eligible).sum();
    assert_eq!(eligible, told);
    let sums = areas_by_surface(shop);
    for (key, sum) in sums {
        assert!((sum - jobs[&key].area).abs() < 1e-9);
    }
}

fn areas_by_surface(shop: &Invented) -> BTreeMap<(u32, u64), f64> {
    let mut sums = BTreeMap::new();
    for s in &shop.tables.surfaces {
        *sums.entry((s.shop, s.job)).or_insert(0.0) += s.area;
    }
    sums
}

#[test]
fn nobody_works_before_the_hire_date_or_on_two_jobs_at_once() {
    keeps_the_rules_of_a_shop(&film_shop());
    for seed in 1..=5 {
        let chain = Plan {
            jobs: 6_000,
            months: 9,
            shops: 3,
            people: 5,
            seed,
            keys_per_shop: seed % 2 == 0,
            ..Plan::film_shop()
        };
        keeps_the_rules_of_a_shop(&invent(&chain).unwrap());
    }
}

#[test]
fn people_s_effects_are_drawn_and_not_centred() {
    let plan = Plan {
        jobs: 200,
        people: 200,
        sellers: 1,
        ..Plan::default()
    };
    let shop = invent(&plan).unwrap();
    let u: Vec<f64> = shop.truth.people.iter().map(|p| p.log_minutes).collect();
    let mean = u.iter().sum::<f64>() / u.len() as f64;
    let sd = (u.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (u.len() - 1) as f64).sqrt();
    assert!(mean.abs() > 1e-6, "centred");
    assert!(
        mean.abs() < 4.0 * 0.1 / (200.0_f64).sqrt() && (sd - 0.1).abs() < 0.02,
        "{mean} {sd}"
    );
}

#[test]
fn bottles_give_what_the_jobs_took() {
    let plan = Plan {
        jobs: 2_000,
        measured_share: 1.0,
        bottle_ml: 30.0,
        ..Plan::default()
    };
    let shop = invent(&plan).unwrap();
    let bottles = &shop.tables.bottles;
    let (open, emptied): (Vec<_>, Vec<_>) = bottles.iter().partition(|b| b.emptied_on.is_none());
    let given: f64 = emptied
        .iter()
        .map(|b| b.volume - b.left_over.unwrap())
        .sum();
    let taken: f64 = shop.tables.coatings.iter().filter_map(|s| s.used).sum();
    assert!(open.len() <= 1);
    assert!(
        given <= taken + 1e-6 && taken < given + 30.0,
        "given {given}, taken {taken}"
    );
    // One after another, and each spell names the one that was open.
    let opened: BTreeMap<u64, _> = bottles.iter().map(|b| (b.number, b)).collect();
    assert!(
        bottles
            .windows(2)
            .all(|w| w[0].emptied_on.unwrap() <= w[1].opened_on)
    );
    for s in &shop.tables.coatings {
        let bottle = opened[&s.bottle.unwrap()];
        let day = s.started_at.date();
        assert!(bottle.opened_on <= day && bottle.emptied_on.is_none_or(|e| day <= e));
    }
    let dates = Plan {
        bottles: BottleRecord::DatesOnly,
        measured_share: 0.0,
        ..plan
    };
    let dates = invent(&dates).unwrap();
    assert!(
        dates
            .tables
            .coatings
            .iter()
            .all(|s| s.bottle.is_none() && s.used.is_none())
    );
    assert_eq!(dates.tables.bottles, shop.tables.bottles);
}

// ------------------------------------------------- the law, found by plain means

/// Least squares by normal equations and elimination: coefficients and the
/// inverse of X'X. A slow, obvious twin, good for tame designs only.
struct Plain {
    beta: Vec<f64>,
    inverse: Vec<Vec<f64>>,
    variance: f64,
}

fn least_squares(x: &[Vec<f64>], y: &[f64]) -> Plain {
    let p = x[0].len();
    let mut a = vec![vec![0.0; 2 * p]; p];
    let mut b = vec![0.0; p];
    for (row, y) in x.iter().zip(y) {
        for i in 0..p {
            b[i] += row[i] * y;
            for j in 0..p {
                a[i][j] += row[i] * row[j];
            }
        }
    }
    for i in 0..p {
        a[i][p + i] = 1.0;
    }
    for i in 0..p {
        let pivot = a[i][i];
        a[i].iter_mut().for_each(|v| *v /= pivot);
        for k in (0..p).filter(|k| *k != i) {
            let (factor, row) = (a[k][i], a[i].clone());
            a[k].iter_mut().zip(row).for_each(|(v, r)| *v -= factor * r);
        }
    }
    let inverse: Vec<Vec<f64>> = a.iter().map(|row| row[p..].to_vec()).collect();
    let dot = |u: &[f64], v: &[f64]| u.iter().zip(v).map(|(a, b)| a * b).sum::<f64>();
    let beta: Vec<f64> = inverse.iter().map(|row| dot(row, &b)).collect();
    let rss: f64 = x
        .iter()
        .zip(y)
        .map(|(row, y)| (y - dot(row, &beta)).powi(2))
        .sum();
    Plain {
        beta,
        inverse,
        variance: rss / (y.len() - p) as f64,
    }
}

impl Plain {
    /// How many standard errors a coefficient is from the truth.
    fn off(&self, i: usize, truth: f64) -> f64 {
        (self.beta[i] - truth) / (self.variance * self.inverse[i][i]).sqrt()
    }
}

/// Measured use against areas by finish, weighted by 1 / area.
fn use_fit(shop: &Invented) -> Plain {
    let areas = areas(shop);
    let mut used: BTreeMap<u64, Option<f64>> = BTreeMap::new();
    for s in &shop.tables.coatings {
        let sum = used.entry(s.job).or_insert(Some(0.0));
        *sum = sum.zip(s.used).map(|(a, b)| a + b);
    }
    let (mut x, mut y) = (Vec::new(), Vec::new());
    for (job, used) in used.into_iter().filter_map(|(j, u)| Some((j, u?))) {
        let a = areas[&job];
        let root = a.iter().sum::<f64>().sqrt();
        x.push(std::iter::once(1.0).chain(a).map(|v| v / root).collect());
        y.push(used / root);
    }
    least_squares(&x, &y)
}

#[test]
fn the_law_of_use_is_found_again() {
    for residual in [Residual::Normal, Residual::T5] {
        let mut plan = Plan {
            jobs: 16_000,
            people: 12,
            seed: 3,
            ..Plan::default()
        };
        plan.law.residual = residual;
        let shop = invent(&plan).unwrap();
        let fit = use_fit(&shop);
        let law = &plan.law.coating;
        let truth = std::iter::once(law.setup_ml).chain(law.ml_per_m2);
        for (i, truth) in truth.enumerate() {
            // 4 standard errors: 1 in 3,000 by chance for ten checks at one
            // seed that does not change.
            assert!(
                fit.off(i, truth).abs() < 4.0,
                "{residual:?} {i}: {} se",
                fit.off(i, truth)
            );
        }
        // The sd is within 4 %: its standard error at 6,500 jobs is 0.9 %
        // (normal) and 1.8 % (t5, kurtosis 9); rounding to 0.1 mL adds
        // 0.01 %.
        assert!(
            (fit.variance.sqrt() / law.sd - 1.0).abs() < 0.03,
            "{}",
            fit.variance.sqrt()
        );
    }
}

#[test]
fn nineteen_in_twenty_plain_intervals_hold_the_law_of_use() {
    let (mut held, mut all) = (0, 0);
    for seed in 1..=200 {
        let plan = Plan {
            jobs: 150,
            months: 12,
            seed,
            coated_exactly: Some(70),
            measured_share: 1.0,
            ..Plan::default()
        };
        let shop = invent(&plan).unwrap();
        assert_eq!(shop.tables.jobs.iter().filter(|j| j.coated).count(), 70);
        let fit = use_fit(&shop);
        let law = &plan.law.coating;
        for (i, truth) in std::iter::once(law.setup_ml)
            .chain(law.ml_per_m2)
            .enumerate()
        {
            // Student's t, 65 degrees of freedom, 97.5 %: 1.997.
            held += u32::from(fit.off(i, truth).abs() < 1.997);
            all += 1;
        }
    }
    let share = f64::from(held) / f64::from(all);
    // 1,000 intervals, five a shop and so not independent: sd of the share at
    // most 0.015, by far less in practice.
    assert!((0.92..0.98).contains(&share), "{held} of {all}");
}

#[test]
fn the_law_of_minutes_is_found_again_once_people_s_effects_are_taken_off() {
    let plan = Plan {
        jobs: 16_000,
        people: 12,
        seed: 4,
        shared_share: 0.0,
        clock_only_share: 0.0,
        ..Plan::default()
    };
    let shop = invent(&plan).unwrap();
    let law = &plan.law.minutes;
    let areas = areas(&shop);
    let pace: BTreeMap<String, f64> = shop
        .truth
        .people
        .iter()
        .map(|p| (p.person.clone(), p.log_minutes))
        .collect();
    let mut work: BTreeMap<u64, (f64, u64)> = BTreeMap::new();
    for s in &shop.tables.coatings {
        let job = work.entry(s.job).or_insert((0.0, s.applied_by));
        job.0 += s.minutes.unwrap();
    }
    let (mut x, mut y) = (Vec::new(), Vec::new());
    for job in shop.tables.jobs.iter().filter(|j| j.coated) {
        let (minutes, who) = work[&job.number];
        let a = areas[&job.number];
        let mut row = vec![0.0; 10];
        row[job.class.place()] = 1.0;
        row[6] = (job.area / plan.law.vehicle.full_area[job.class.place()]).ln();
        row[7..].copy_from_slice(&[1, 2, 3].map(|f| a[f] / job.area));
        x.push(row);
        y.push(minutes.ln() - pace[&format!("P{who:03}")]);
    }
    let fit = least_squares(&x, &y);
    let truth = law.typical.iter().map(|m| m.ln()).chain([law.exponent]);
    let truth = truth.chain(law.finish_factor[1..].iter().map(|f| f.ln()));
    for (i, truth) in truth.enumerate() {
        assert!(
            fit.off(i, truth).abs() < 4.0,
            "{i}: {} se",
            fit.off(i, truth)
        );
    }
    // Rounding to 0.1 minute adds nothing that shows; se of the sd is 0.9 %.
    assert!((fit.variance.sqrt() / law.sd - 1.0).abs() < 0.035);
}

#[test]
fn sales_come_as_often_as_the_law_expects() {
    let plan = Plan {
        jobs: 30_000,
        people: 20,
        ..Plan::film_shop()
    };
    let shop = invent(&plan).unwrap();
    let (mut expected, mut coated, mut variance) = (0.0, 0.0, 0.0);
    for m in &shop.truth.attach.months {
        let p = m.expected_rate;
        expected += p * m.eligible as f64;
        coated += m.coated as f64;
        variance += p * (1.0 - p) * m.eligible as f64;
    }
    assert!(
        (coated - expected).abs() < 4.0 * variance.sqrt(),
        "{coated} against {expected:.0}"
    );
}

#[test]
fn the_odds_of_a_sample_are_found_again() {
    let mut plan = Plan {
        jobs: 30_000,
        people: 20,
        ..Plan::default()
    };
    plan.law.sale.price_slope = 0.0;
    let shop = invent(&plan).unwrap();
    // Mantel-Haenszel over sellers and finishes, the plain formula.
    let mut strata: BTreeMap<(u64, Option<Finish>), [f64; 4]> = BTreeMap::new();
    for j in shop.tables.jobs.iter().filter(|j| j.finish.is_some()) {
        let cell = match j.sample.map(|s| s.word()) {
            Some("full_pair") => 0,
            Some("none") => 2,
            _ => continue,
        };
        strata.entry((j.sold_by, j.finish)).or_default()[cell + usize::from(!j.coated)] += 1.0;
    }
    let sum = |f: fn(&[f64; 4]) -> f64| {
        strata
            .values()
            .map(|s| f(s) / s.iter().sum::<f64>())
            .sum::<f64>()
    };
    let log_odds = (sum(|s| s[0] * s[3]) / sum(|s| s[1] * s[2])).ln();
    // About 6,000 jobs each way: the standard error is near 0.04.
    let truth = plan.law.sale.sample_effect[2];
    assert!(
        (log_odds - truth).abs() < 0.12,
        "{log_odds} against {truth}"
    );
}

#[test]
fn the_hazard_of_film_is_found_again() {
    let plan = Plan {
        jobs: 24_000,
        people: 30,
        months: 36,
        seed: 8,
        ..Plan::default()
    };
    let shop = invent(&plan).unwrap();
    let mut until: BTreeMap<u64, _> = BTreeMap::new();
    for i in &shop.tables.inspections {
        let last = until.entry(i.job).or_insert(i.seen_on);
        *last = i.seen_on.max(*last);
    }
    let failed: BTreeMap<u64, _> = shop
        .tables
        .callbacks
        .iter()
        .filter(|c| c.cause.word() == "film_failure")
        .map(|c| (c.job, c.reported_on))
        .collect();
    // Failures per year of follow-up, coated and bare, colour change only.
    let mut events = [0.0; 2];
    let mut years = [0.0; 2];
    for j in shop
        .tables
        .jobs
        .iter()
        .filter(|j| j.film.word() == "colour_change")
    {
        let group = usize::from(j.coated);
        let end = failed
            .get(&j.number)
            .or(until.get(&j.number))
            .unwrap_or(&plan.ends);
        events[group] += f64::from(u8::from(failed.contains_key(&j.number)));
        years[group] += (*end - j.finished_on).num_days() as f64 / 365.25;
    }
    let rate = events[0] / years[0];
    let ratio = (events[1] / years[1]) / rate;
    let law = &plan.law.after;
    let se = |n: f64| 4.0 / n.sqrt();
    assert!(
        (rate / law.failures_a_year - 1.0).abs() < se(events[0]),
        "{rate}"
    );
    let both = se(events[0]).hypot(se(events[1]));
    assert!(
        (ratio / law.hazard_ratio).ln().abs() < both,
        "{ratio} of {events:?}"
    );
}

// ---------------------------------------------------------------- same bytes

#[test]
fn same_seed_same_bytes_and_in_memory_or_not() {
    let plan = Plan {
        jobs: 900,
        months: 7,
        shops: 4,
        seed: 5,
        ..Plan::film_shop()
    };
    let folders = [(); 3].map(|()| tempfile::tempdir().unwrap());
    invent_into(&plan, folders[0].path()).unwrap();
    write(&invent(&plan).unwrap(), folders[1].path()).unwrap();
    let other = Plan { seed: 6, ..plan };
    invent_into(&other, folders[2].path()).unwrap();
    let [a, b, c] = folders.each_ref().map(|f| files_of(f.path()));
    assert_eq!(a.len(), FILES.len() + 2);
    assert!(a == b, "streamed and in memory differ");
    assert!(
        FILES.iter().all(|name| a[*name] != c[*name]),
        "another seed, the same file"
    );
    assert!(String::from_utf8_lossy(&a["jobs.csv"]).starts_with("job,shop,finished_on,"));
}

#[test]
fn more_of_one_thing_leaves_the_others_as_they_were() {
    let plain = invent(&Plan::default()).unwrap();
    let unmeasured = invent(&Plan {
        measured_share: 0.0,
        ..Plan::default()
    });
    let unmeasured = unmeasured.unwrap();
    assert_eq!(plain.tables.jobs, unmeasured.tables.jobs);
    assert_eq!(plain.tables.callbacks, unmeasured.tables.callbacks);
    let minutes = |s: &Invented| {
        s.tables
            .coatings
            .iter()
            .map(|c| c.minutes)
            .collect::<Vec<_>>()
    };
    assert_eq!(minutes(&plain), minutes(&unmeasured));
}

#[test]
fn the_constants_are_dated_and_somewhat_wrong() {
    let shop = film_shop();
    let toml: toml::Table = shop.constants.toml().parse().unwrap();
    let records = toml["record"].as_array().unwrap();
    assert_eq!(records.len(), 2);
    let last = records[1].as_table().unwrap();
    let number = |table: &str, key: &str| last[table][key].as_float().unwrap();
    assert!(number("ml_per_m2", "satin") < shop.truth.coating.ml_per_m2["satin"]);
    assert!(number("minutes", "pickup") < 0.9 * shop.truth.minutes.typical["pickup"]);
    assert!(last["cost_per_ml"].as_float().unwrap() < shop.truth.coating.cost_per_ml_last);
    assert!(last["setup_ml"].as_float().unwrap() > shop.truth.coating.setup_ml);
    assert!(
        last["list_price"]
            .as_table()
            .unwrap()
            .contains_key("suv/matte")
    );
}

// ---------------------------------------------------------------- bad plans

#[test]
fn a_plan_that_cannot_work_is_refused_in_words() {
    let said = |plan: Plan| invent(&plan).unwrap_err().to_string();
    let plan = Plan::default;
    assert_eq!(
        said(Plan { jobs: 0, ..plan() }),
        "jobs is 0; expected 1 to 1000000000"
    );
    assert_eq!(
        said(Plan {
            months: 0,
            ..plan()
        }),
        "months is 0; expected 1 to 1200"
    );
    assert_eq!(
        said(Plan { shops: 0, ..plan() }),
        "shops is 0; expected 1 to 9999"
    );
    assert_eq!(
        said(Plan {
            people: 0,
            ..plan()
        }),
        "people is 0; expected 1 to 10000"
    );
    let nan = said(Plan {
        measured_share: f64::NAN,
        ..plan()
    });
    assert_eq!(nan, "measured share is NaN; expected 0 to 1");
    let bottle = said(Plan {
        bottle_ml: 0.0,
        ..plan()
    });
    assert_eq!(bottle, "bottle size is 0; expected 1 to 1,000,000 mL");
    let busy = Plan {
        jobs: 100_000,
        months: 2,
        ..plan()
    };
    assert!(matches!(
        invent(&busy),
        Err(InventError::Plan(PlanError::TooMuchWork { people: 6, .. }))
    ));
    let staffed = busy.staffed();
    assert!(staffed.people > 100 && staffed.check().is_ok());
    assert_eq!(Plan::film_shop().staffed(), Plan::film_shop());
    let old = Plan {
        months: 1_200,
        ends: chrono::NaiveDate::from_ymd_opt(1950, 1, 1).unwrap(),
        ..plan()
    };
    assert!(matches!(
        invent(&old),
        Err(InventError::Plan(PlanError::Dates { .. }))
    ));
}

#[test]
fn small_plans_work() {
    for (jobs, months, people) in [(1, 1, 1), (3, 24, 2), (10, 1, 3), (40, 2, 1)] {
        let plan = Plan {
            jobs,
            months,
            people,
            sellers: 1,
            ..Plan::film_shop()
        };
        let shop = invent(&plan).unwrap();
        assert_eq!(shop.tables.jobs.len() as u64, jobs);
        keeps_the_rules_of_a_shop(&shop);
        let export = messy(&shop).unwrap();
        assert_eq!(export.files.len(), 8);
    }
}

#[test]
fn a_shop_s_own_folder_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("jobs.csv"), "job\n1\n").unwrap();
    let refused = invent_into(&Plan::default(), folder.path());
    assert!(matches!(refused, Err(InventError::NotInvented { .. })));
    assert_eq!(
        fs::read(folder.path().join("jobs.csv")).unwrap(),
        b"job\n1\n"
    );
}

// ------------------------------------------------------------- the messy export

/// A sheet of the export as rows of cells by heading, broken lines and
/// structure left out; read by the csv crate and encoding_rs, not by intake.
struct Sheet {
    headings: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Sheet {
    fn read(name: &str, delimiter: u8, heading_line: usize) -> Self {
        let export = messy(&film_shop()).unwrap();
        let file = export.files.iter().find(|f| f.name == name).unwrap();
        let broken: BTreeSet<u64> = export
            .broken
            .iter()
            .filter(|b| b.file == name)
            .map(|b| b.line)
            .collect();
        let mut sound = Vec::new();
        for (place, line) in file.bytes.split_inclusive(|b| *b == b'\n').enumerate() {
            let number = place as u64 + 1;
            if place + 1 >= heading_line && !broken.contains(&number) {
                sound.extend_from_slice(line);
            }
        }
        let text = match std::str::from_utf8(&sound) {
            Ok(text) => text.to_string(),
            Err(_) => encoding_rs::WINDOWS_1252.decode(&sound).0.into_owned(),
        };
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(delimiter)
            .from_reader(text.trim_start_matches('\u{feff}').as_bytes());
        let headings: Vec<String> = reader.headers().unwrap().iter().map(String::from).collect();
        let rows = reader
            .records()
            .map(|r| r.unwrap().iter().map(String::from).collect::<Vec<_>>())
            .filter(|r| r[0] != headings[0] && r[0] != "Total")
            .collect();
        Self { headings, rows }
    }

    fn get<'a>(&self, row: &'a [String], heading: &str) -> &'a str {
        &row[self.headings.iter().position(|h| h == heading).unwrap()]
    }
}

fn number(text: &str) -> Option<f64> {
    let plain: String = text.chars().filter(|c| !matches!(c, '$' | ',')).collect();
    (!plain.is_empty()).then(|| plain.parse().unwrap())
}

/// `us` within `tolerance` of `canonical`, or both missing.
fn close(us: Option<f64>, canonical: Option<f64>, tolerance: f64) {
    match (us, canonical) {
        (None, None) => {}
        (Some(a), Some(b)) => assert!((a - b).abs() <= tolerance, "{a} against {b}"),
        other => panic!("{other:?}"),
    }
}

/// What printing to three decimals of a square foot may cost [m²], and to five
/// of a US fluid ounce [mL]; a hair more for the float.
const AREA_COST: f64 = 0.0005 * M2_PER_FT2 + 1e-9;
const USE_COST: f64 = 0.000005 * ML_PER_FL_OZ + 1e-9;

#[test]
fn the_messy_sheet_holds_the_same_jobs_and_coatings() {
    let shop = film_shop();
    let sheet = Sheet::read("front-desk-export.csv", b';', 5);
    let jobs: BTreeMap<String, &Job> = shop
        .tables
        .jobs
        .iter()
        .map(|j| (format!("J{:05}", j.number), j))
        .collect();
    let mut spells: BTreeMap<u64, Vec<_>> = BTreeMap::new();
    for s in &shop.tables.coatings {
        spells.entry(s.job).or_default().push(s);
    }
    let mut seen: BTreeMap<u64, usize> = BTreeMap::new();
    let mut first: BTreeMap<u64, Vec<String>> = BTreeMap::new();
    for row in &sheet.rows {
        let get = |heading| sheet.get(row, heading);
        let job = jobs[get("Ticket #")];
        close(
            number(get("Area (ft²)")).map(|x| x * M2_PER_FT2),
            Some(job.area),
            AREA_COST,
        );
        close(
            number(get("Film price")),
            Some(job.film_price.as_f64() / 100.0),
            1e-9,
        );
        close(
            number(get("Coating price")),
            job.coating_price.map(|p| p.as_f64() / 100.0),
            1e-9,
        );
        let day = job.finished_on.format("%-m/%-d/%Y").to_string();
        assert_eq!(get("Completed"), day);
        assert_eq!(get("Left as") == "Coated", job.coated);
        assert_eq!(get("Finish").is_empty(), job.finish.is_none());
        let place = seen.entry(job.number).or_insert(0);
        let repeated = first
            .entry(job.number)
            .or_insert_with(|| row[..18].to_vec());
        assert_eq!(
            repeated,
            &row[..18],
            "job columns are repeated as they were"
        );
        let Some(done) = spells.get(&job.number) else {
            assert!(row[18..].iter().all(String::is_empty));
            continue;
        };
        let spell = done[*place];
        *place += 1;
        close(
            number(get("Coating used (US fl oz)")).map(|x| x * ML_PER_FL_OZ),
            spell.used,
            USE_COST,
        );
        let celsius = |h| number(get(h)).map(|f| (f - 32.0) / 1.8);
        close(celsius("Shop temp (°F)"), spell.air_temperature, 1e-9);
        close(celsius("Panel temp (°F)"), spell.surface_temperature, 1e-9);
        close(number(get("Hands-on min")), spell.minutes, 1e-9);
        let start = spell.started_at.format("%-m/%-d/%Y %-I:%M %p").to_string();
        assert_eq!(get("Coating start"), start);
        assert_eq!(get("Coated by"), format!("P{:03}", spell.applied_by));
    }
    assert_eq!(first.len(), shop.tables.jobs.len());
    let spells_seen: usize = seen.values().sum();
    assert_eq!(spells_seen, shop.tables.coatings.len());
    // Each job once, and once more for each further spell.
    let further = shop.tables.coatings.len() - spells.len();
    assert_eq!(sheet.rows.len(), shop.tables.jobs.len() + further);
}

#[test]
fn the_messy_small_files_hold_the_same_rows() {
    let shop = film_shop();
    let t = &shop.tables;
    let panels = Sheet::read("panels.txt", b'\t', 1);
    assert_eq!(panels.rows.len(), t.surfaces.len());
    for (row, s) in panels.rows.iter().zip(&t.surfaces) {
        let area = number(panels.get(row, "Sq ft")).map(|x| x * M2_PER_FT2);
        close(area, Some(s.area), AREA_COST);
    }
    let bottles = Sheet::read("bottle-log.csv", b',', 2);
    assert_eq!(bottles.rows.len(), t.bottles.len());
    for (row, b) in bottles.rows.iter().zip(&t.bottles) {
        let ml = |heading| number(bottles.get(row, heading)).map(|x| x * ML_PER_FL_OZ);
        close(ml("Size (US fl oz)"), Some(b.volume), USE_COST);
        close(ml("Tossed (US fl oz)"), b.left_over, USE_COST);
        close(
            number(bottles.get(row, "Landed cost")),
            Some(b.cost.as_f64() / 100.0),
            1e-9,
        );
        assert_eq!(bottles.get(row, "Lot"), format!("{:04}", b.lot));
    }
    let callbacks = Sheet::read("come-backs.csv", b';', 1);
    assert_eq!(callbacks.rows.len(), t.callbacks.len());
    for (row, c) in callbacks.rows.iter().zip(&t.callbacks) {
        let used = number(callbacks.get(row, "Coating (US fl oz)")).map(|x| x * ML_PER_FL_OZ);
        close(used, c.used, USE_COST);
        close(number(callbacks.get(row, "Rework min")), c.minutes, 1e-9);
    }
    assert_eq!(Sheet::read("staff.csv", b',', 1).rows.len(), t.people.len());
    assert_eq!(
        Sheet::read("second-looks.csv", b'|', 1).rows.len(),
        t.inspections.len()
    );
}

#[test]
fn twenty_five_lines_are_broken_in_every_way_that_the_contract_names() {
    let export = messy(&film_shop()).unwrap();
    assert_eq!(export.broken.len(), 25);
    let kinds: BTreeSet<_> = export.broken.iter().map(|b| b.reason).collect();
    assert_eq!(kinds.len(), 11, "{kinds:?}");
    let places: BTreeSet<_> = export.broken.iter().map(|b| (b.file, b.line)).collect();
    assert_eq!(places.len(), 25);
    for b in &export.broken {
        let file = export.files.iter().find(|f| f.name == b.file).unwrap();
        let mut lines = file.bytes.split(|byte| *byte == b'\n');
        let line = lines.nth(b.line as usize - 1).unwrap();
        let text = String::from_utf8_lossy(line);
        let broken = match b.reason {
            "nul-byte" => line.contains(&0),
            "encoding-error" => std::str::from_utf8(line).is_err(),
            "quote-error" => line.iter().filter(|c| **c == b'"').count() % 2 == 1,
            "foreign-key-error" => text.starts_with("J9"),
            "unique-error" => text.contains(";77.000;"),
            _ => ["J9", "B9"].iter().any(|k| text.starts_with(k)) || !b.file.starts_with("front"),
        };
        assert!(broken, "{b:?}: {text}");
    }
}

/// The settings and constants that go with the demos are ones that the
/// settings stage takes.
#[test]
fn the_demo_s_settings_are_taken() {
    let folder = |name: &str| root().join("demo-data").join(name);
    let shop = Shop::read(&folder("messy-export")).unwrap();
    assert!(shop.given);
    assert_eq!(shop.files.len(), TABLES.len());
    for table in TABLES {
        let mapped = &shop.columns[&table];
        let unmapped = table
            .fields()
            .iter()
            .filter(|f| !mapped.contains_key(f.name));
        let unmapped: Vec<&str> = unmapped.map(|f| f.name).collect();
        assert_eq!(unmapped, ["shop"], "{table}");
    }
    for name in ["film-shop", "messy-export"] {
        let constants = Constants::read(&folder(name)).unwrap();
        assert_eq!(constants.records.len(), 2, "{name}");
        let last = constants.in_force(Plan::film_shop().ends).unwrap();
        assert_eq!(
            last.list_price_of("van", "matte"),
            last.list_price_of("van", "gloss")
        );
        assert!(last.list_price_of("suv", "matte") > last.list_price_of("suv", "gloss"));
    }
}

#[test]
fn a_messy_export_is_one_shop_s() {
    let chain = Plan {
        shops: 2,
        ..Plan::film_shop()
    };
    let refused = messy(&invent(&chain).unwrap());
    assert!(matches!(
        refused,
        Err(InventError::OneShopOnly { shops: 2 })
    ));
}
