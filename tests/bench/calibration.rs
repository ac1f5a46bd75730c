//! How often the intervals hold the truth, over invented shops.
//!
//! ```text
//! cargo bench --bench calibration [-- SHOPS]      (default 2,000)
//! ```
//!
//! For shops of 20, 60 and 500 coated jobs (30, 60, 200 and 500 where only bottles
//! are known): the share of 95 % intervals of
//! the data alone that hold the true constant, with its Monte Carlo error and
//! the share that said "not enough"; of 80 % ranges for a job by a person of
//! whom nothing is known; of the constants blended with the shop's guess; of emptied bottles
//! alone, no job being measured; with people who do unequal shares of the work;
//! with residuals of Student's t with 5 degrees of freedom. Ends with status 1
//! where a share lies outside its band.
//!
//! Bands: 93 to 97 % at 60 and 500 jobs, 92 to 98 % at 20; ranges of one job
//! within 3 points of 80 %. Of bottle rows 30 jobs, some 8 bottles, are held to the
//! band of 20, more to that of 60. The
//! job predicted is of another shop under the same law: one of the same shop is
//! by a person whose jobs are in the fit, and its range then holds 83 to 85 %
//! (tried). No pass mark: the blend, which depends on how wrong the guess was;
//! the t residuals, which break the model; the spread between people, whose
//! interval covers too much where it is cut at 0. The cost per mL is not among
//! them: what the window's bottles cost is a fact without an interval. The fits
//! are called as the program calls them, far-off jobs left out, as is the
//! default.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::print_stdout,
    clippy::exit
)]

use std::collections::{BTreeMap, HashMap};
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;
use tallycoat::estimate::{Estimate, Figure};
use tallycoat::fits::consumption::{self, Bottle, Bottles, Consumption, ConsumptionFit, Straddle};
use tallycoat::fits::evidence::Source;
use tallycoat::fits::minutes::{self, Minutes, MinutesFit, NewJob, Shape};
use tallycoat::invent::{CLASSES, FINISHES, Invented, Plan, Residual, Tables, invent};

/// Coated jobs of a shop. One of 20 empties some 5 bottles, which is too few; one of
/// 30 some 8.
const SIZES: [u64; 3] = [20, 60, 500];
const BOTTLE_SIZES: [u64; 4] = [30, 60, 200, 500];
const SHOPS: u64 = 2_000;
const THREADS: u64 = 2;
/// Added to a shop's seed for the shop whose job is predicted.
const OTHER: u64 = 1_000_000;

/// How a shop differs from the plain one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Kind {
    Plain,
    Blend,
    BottlesOnly,
    UnevenPeople,
    HeavyTails,
}

impl Kind {
    const fn title(self) -> &'static str {
        match self {
            Self::Plain => "data alone",
            Self::Blend => "with the guess as evidence (no pass mark)",
            Self::BottlesOnly => "emptied bottles alone, no job measured",
            Self::UnevenPeople => "people who do unequal shares of the work",
            Self::HeavyTails => "residuals of Student's t, 5 degrees of freedom (no pass mark)",
        }
    }

    const fn sizes(self) -> &'static [u64] {
        match self {
            Self::BottlesOnly => &BOTTLE_SIZES,
            _ => &SIZES,
        }
    }

    /// Whether shares must lie in their bands.
    fn judged(self) -> bool {
        match self {
            Self::Plain | Self::UnevenPeople | Self::BottlesOnly => true,
            Self::Blend | Self::HeavyTails => false,
        }
    }
}

/// Intervals that held the truth, of those given.
#[derive(Debug, Clone, Copy, Default)]
struct Cover {
    held: u64,
    given: u64,
    missing: u64,
}

impl Cover {
    fn add(&mut self, figure: &Figure, truth: f64) {
        match figure {
            Figure::Known(e) => self.estimate(e, truth),
            Figure::NotEnough(_) => self.missing += 1,
        }
    }

    fn estimate(&mut self, e: &Estimate, truth: f64) {
        self.given += 1;
        self.held += u64::from(e.holds(truth));
    }

    fn merge(&mut self, o: &Self) {
        self.held += o.held;
        self.given += o.given;
        self.missing += o.missing;
    }

    fn share(&self) -> f64 {
        self.held as f64 / self.given as f64
    }

    fn error(&self) -> f64 {
        let p = self.share();
        (p * (1.0 - p) / self.given as f64).sqrt()
    }
}

/// What is counted: kind of shop, size, name.
type Counts = BTreeMap<(Kind, u64, String), Cover>;

/// A coated job as the fits see it.
struct Job {
    areas: Vec<f64>,
    class: usize,
    person: Option<u64>,
    minutes: f64,
    used: Option<f64>,
}

impl Job {
    fn area(&self) -> f64 {
        self.areas.iter().sum()
    }
}

fn plan(kind: Kind, size: u64, seed: u64) -> Plan {
    let mut plan = Plan {
        jobs: size * 2 + 20,
        months: 12,
        seed,
        coated_exactly: Some(size),
        ..Plan::default()
    };
    match kind {
        Kind::BottlesOnly => plan.measured_share = 0.0,
        Kind::UnevenPeople => plan.uneven_use = 1.0,
        Kind::HeavyTails => plan.law.residual = Residual::T5,
        Kind::Plain | Kind::Blend => {}
    }
    plan
}

/// Coated jobs in the order in which they were done.
fn jobs(t: &Tables) -> Vec<Job> {
    let mut pieces: HashMap<u64, Vec<f64>> = HashMap::new();
    for s in &t.surfaces {
        let areas = pieces
            .entry(s.job)
            .or_insert_with(|| vec![0.0; FINISHES.len()]);
        areas[s.finish.place()] += s.area;
    }
    let mut spells: HashMap<u64, Vec<usize>> = HashMap::new();
    for (i, c) in t.coatings.iter().enumerate() {
        spells.entry(c.job).or_default().push(i);
    }
    let mut all: Vec<(usize, Job)> = Vec::new();
    for j in t.jobs.iter().filter(|j| j.coated) {
        let own = &spells[&j.number];
        let areas = pieces.remove(&j.number).unwrap_or_else(|| {
            let mut areas = vec![0.0; FINISHES.len()];
            areas[j.finish.unwrap().place()] = j.area;
            areas
        });
        let work: Vec<_> = own.iter().map(|i| &t.coatings[*i]).collect();
        let clock = |c: &tallycoat::invent::Coating| {
            let span = c.ended_at - c.started_at;
            span.num_seconds() as f64 / 60.0 - f64::from(c.paused_minutes)
        };
        let alone = work.iter().all(|c| c.applied_by == work[0].applied_by);
        let used: Option<Vec<f64>> = work.iter().map(|c| c.used).collect();
        all.push((
            own[0],
            Job {
                areas,
                class: j.class.place(),
                person: alone.then_some(work[0].applied_by),
                minutes: work
                    .iter()
                    .map(|c| c.minutes.unwrap_or_else(|| clock(c)))
                    .sum(),
                used: used.map(|u| u.iter().sum()),
            },
        ));
    }
    all.sort_by_key(|(first, _)| *first);
    all.into_iter().map(|(_, job)| job).collect()
}

/// Bottles with the jobs done from each, the last of which goes on with the
/// next: no job of these shops is measured.
fn bottles(shop: &Invented) -> Bottles {
    let t = &shop.tables;
    let jobs = jobs(t);
    let mut order: Vec<u64> = Vec::new();
    let mut first_bottle: HashMap<u64, u64> = HashMap::new();
    for c in &t.coatings {
        first_bottle.entry(c.job).or_insert_with(|| {
            order.push(c.job);
            c.bottle.unwrap()
        });
    }
    let emptied = t.bottles.iter().filter(|b| b.emptied_on.is_some());
    let place: HashMap<u64, usize> = emptied.clone().map(|b| b.number).zip(0..).collect();
    let mut rows: Vec<Bottle> = emptied
        .map(|b| Bottle {
            used: b.volume - b.left_over.unwrap_or(0.0),
            jobs: 0,
            areas: vec![0.0; FINISHES.len()],
        })
        .collect();
    let mut straddles = Vec::new();
    for (i, (job, name)) in jobs.iter().zip(&order).enumerate() {
        let bottle = first_bottle[name];
        let last = order.get(i + 1).is_none_or(|n| first_bottle[n] != bottle);
        let at = place.get(&bottle).copied();
        match (at, last) {
            (Some(at), false) => {
                rows[at].jobs += 1;
                rows[at]
                    .areas
                    .iter_mut()
                    .zip(&job.areas)
                    .for_each(|(s, a)| *s += a);
            }
            (Some(at), true) => straddles.push(Straddle {
                areas: job.areas.clone(),
                from: Some(at),
                into: place.get(&(bottle + 1)).copied(),
            }),
            (None, _) => {}
        }
    }
    Bottles::new(rows, straddles).unwrap()
}

fn fit_use(jobs: &[&Job], shop: &Invented, blend: bool, rows: Option<&Bottles>) -> ConsumptionFit {
    let measured = jobs.iter().filter_map(|j| Some((j.used?, &j.areas)));
    let (used, areas): (Vec<f64>, Vec<&Vec<f64>>) = measured.unzip();
    let areas: Vec<f64> = areas.into_iter().flatten().copied().collect();
    let table = consumption::Jobs::new(&used, &areas, FINISHES.len()).unwrap();
    let guess = &shop.constants.records[1];
    let prior = consumption::Prior {
        setup: Some(guess.setup_ml),
        per_m2: guess.ml_per_m2.iter().map(|x| Some(*x)).collect(),
        jobs: 5.0,
    };
    let mut task = Consumption::new(table);
    if blend {
        task = task.with_prior(&prior).unwrap();
    }
    if let Some(rows) = rows {
        task = task.with_bottles(rows).unwrap();
    }
    task.fit().unwrap()
}

fn shares(job: &Job) -> Vec<f64> {
    job.areas.iter().map(|a| a / job.area()).collect()
}

fn full_area(shop: &Invented, class: usize) -> f64 {
    shop.plan.law.vehicle.full_area[class]
}

fn fit_minutes(jobs: &[&Job], shop: &Invented, blend: bool) -> MinutesFit {
    let minutes: Vec<f64> = jobs.iter().map(|j| j.minutes).collect();
    let class: Vec<usize> = jobs.iter().map(|j| j.class).collect();
    let covered: Vec<f64> = jobs
        .iter()
        .map(|j| j.area() / full_area(shop, j.class))
        .collect();
    let finishes: Vec<f64> = jobs.iter().flat_map(|j| shares(j)).collect();
    let person: Vec<Option<u64>> = jobs.iter().map(|j| j.person).collect();
    let shape = Shape {
        classes: CLASSES.len(),
        finishes: FINISHES.len(),
        smoothest: 0,
    };
    let table = minutes::Jobs::new(&minutes, &class, &covered, &finishes, &person, shape).unwrap();
    let guess = &shop.constants.records[1];
    let prior = minutes::Prior {
        typical: guess.minutes.iter().map(|x| Some(*x)).collect(),
        jobs: 5.0,
    };
    let mut task = Minutes::new(table);
    if blend {
        task = task.with_prior(&prior).unwrap();
    }
    task.fit().unwrap()
}

/// One shop's intervals against its truth.
fn count(kind: Kind, size: u64, seed: u64, to: &mut Counts) {
    let shop = invent(&plan(kind, size, seed)).unwrap();
    let all = jobs(&shop.tables);
    let mut add = |name: String, figure: &Figure, truth: f64| {
        to.entry((kind, size, name)).or_default().add(figure, truth);
    };
    let law = &shop.plan.law;
    if kind == Kind::BottlesOnly {
        let rows = bottles(&shop);
        let fit = fit_use(&[], &shop, false, Some(&rows));
        use_constants(&fit, Source::DataAlone, &shop, &mut add);
        return;
    }
    let kept: Vec<&Job> = all.iter().collect();
    let blend = kind == Kind::Blend;
    let source = if blend {
        Source::Blended
    } else {
        Source::DataAlone
    };
    let used = fit_use(&kept, &shop, blend, None);
    let time = fit_minutes(&kept, &shop, blend);
    use_constants(&used, source, &shop, &mut add);
    for (c, class) in CLASSES.iter().enumerate() {
        let levels = match source {
            Source::DataAlone => &time.classes[c].data_alone,
            Source::Blended => &time.classes[c].blended,
        };
        let m = &law.minutes;
        let sd2 = m.person_sd.powi(2) + m.sd.powi(2);
        let typical = m.typical[c];
        // 80th percentile of the standard normal, from tables.
        let plan_for = typical * (0.841_621_233_572_914_3 * sd2.sqrt()).exp();
        add(
            format!("minutes, typical {}", class.word()),
            &levels.typical,
            typical,
        );
        add(
            format!("minutes, average {}", class.word()),
            &levels.average,
            typical * (sd2 / 2.0).exp(),
        );
        add(
            format!("minutes, plan for {}", class.word()),
            &levels.plan_for,
            plan_for,
        );
    }
    if blend {
        return;
    }
    add(
        "minutes, covered share".into(),
        &time.covered_share_exponent,
        law.minutes.exponent,
    );
    for (f, finish) in FINISHES.iter().enumerate().skip(1) {
        let truth = law.minutes.finish_factor[f];
        add(
            format!("minutes, factor {}", finish.word()),
            &time.finish_factors[f],
            truth,
        );
    }
    add(
        "minutes, job to job sd".into(),
        &time.residual_sd,
        law.minutes.sd,
    );
    add(
        "minutes, between people sd (no pass mark)".into(),
        &time.person_sd,
        law.minutes.person_sd,
    );
    let other = invent(&plan(kind, 4, seed + OTHER)).unwrap();
    if let Some(job) = jobs(&other.tables).first() {
        new_job(kind, size, job, &used, &time, &shop, to);
    }
}

fn use_constants(
    fit: &ConsumptionFit,
    source: Source,
    shop: &Invented,
    add: &mut impl FnMut(String, &Figure, f64),
) {
    let figure = |c: &consumption::Coefficient| match source {
        Source::DataAlone => c.data_alone.clone(),
        Source::Blended => c.blended.clone(),
    };
    let law = &shop.plan.law.coating;
    add("set-up mL".into(), &figure(&fit.setup), law.setup_ml);
    for (f, finish) in FINISHES.iter().enumerate() {
        add(
            format!("mL/m2 {}", finish.word()),
            &figure(&fit.finishes[f]),
            law.ml_per_m2[f],
        );
    }
}

fn new_job(
    kind: Kind,
    size: u64,
    job: &Job,
    used: &ConsumptionFit,
    time: &MinutesFit,
    shop: &Invented,
    to: &mut Counts,
) {
    let mut range = |name: &str, found: Option<Estimate>, actual: Option<f64>| {
        let cover = to.entry((kind, size, name.to_string())).or_default();
        match (found, actual) {
            (Some(e), Some(x)) => cover.estimate(&e, x),
            (None, Some(_)) => cover.missing += 1,
            (_, None) => {}
        }
    };
    let ml = used.one_job(Source::DataAlone, &job.areas, 0.8).ok();
    range("one job's mL (80 %)", ml, job.used);
    let new = NewJob {
        class: job.class,
        covered: job.area() / full_area(shop, job.class),
        finish_shares: &shares(job),
    };
    let minutes = time.one_job(Source::DataAlone, &new, 0.8).ok();
    range(
        "one job's minutes (80 %)",
        minutes.map(|m| m.range),
        Some(job.minutes),
    );
}

/// Counts all shops of a kind and size, on two threads.
fn counted(kind: Kind, size: u64, shops: u64) -> Counts {
    let next = AtomicU64::new(0);
    let work = || {
        let mut counts = Counts::new();
        loop {
            let i = next.fetch_add(1, Ordering::Relaxed);
            if i >= shops {
                return counts;
            }
            count(kind, size, 1 + i, &mut counts);
        }
    };
    let parts: Vec<Counts> = std::thread::scope(|s| {
        let threads: Vec<_> = (0..THREADS).map(|_| s.spawn(work)).collect();
        threads.into_iter().map(|t| t.join().unwrap()).collect()
    });
    let mut all = Counts::new();
    for (key, cover) in parts.into_iter().flatten() {
        all.entry(key).or_default().merge(&cover);
    }
    all
}

/// The band of a share, in percent; `None` without a pass mark.
fn band(kind: Kind, size: u64, name: &str) -> Option<(f64, f64)> {
    match name {
        _ if !kind.judged() || name.contains("no pass mark") => None,
        _ if name.contains("80 %") => Some((77.0, 83.0)),
        _ if size < 60 => Some((92.0, 98.0)),
        _ => Some((93.0, 97.0)),
    }
}

/// Prints one kind of shop; returns what lies outside its band by more than
/// luck explains (two Monte Carlo errors).
fn print(kind: Kind, counts: &Counts) -> Vec<String> {
    println!("\n{}", kind.title());
    print!("{:<44}", "");
    kind.sizes()
        .iter()
        .for_each(|n| print!("{:>26}", format!("{n} coated jobs")));
    println!();
    let mut names: Vec<&str> = Vec::new();
    for (_, _, name) in counts.keys() {
        if !names.contains(&name.as_str()) {
            names.push(name);
        }
    }
    let mut outside = Vec::new();
    for name in names {
        print!("{name:<44}");
        for &size in kind.sizes() {
            let Some(c) = counts
                .get(&(kind, size, name.to_string()))
                .filter(|c| c.given > 0)
            else {
                print!("{:>26}", "-");
                continue;
            };
            let (share, error) = (100.0 * c.share(), 100.0 * c.error());
            let missing = 100.0 * c.missing as f64 / (c.missing + c.given) as f64;
            let out = band(kind, size, name)
                .is_some_and(|(low, high)| share + 2.0 * error < low || share - 2.0 * error > high);
            let mark = if out { '!' } else { ' ' };
            print!(
                "{:>26}",
                format!("{share:.1} ± {error:.1} ({missing:.0} % n.e.){mark}")
            );
            if out {
                outside.push(format!(
                    "{}, {size} jobs, {name}: {share:.1} ± {error:.1} %",
                    kind.title()
                ));
            }
        }
        println!();
    }
    outside
}

fn main() {
    // Cargo hands `--bench` to the binary.
    let asked = std::env::args().skip(1).find_map(|a| a.parse().ok());
    let shops: u64 = asked.unwrap_or(SHOPS);
    println!(
        "Share [%] of intervals that hold the truth, over {shops} invented shops each; ± Monte Carlo error; n.e.: not enough to say"
    );
    let started = Instant::now();
    let kinds = [
        Kind::Plain,
        Kind::Blend,
        Kind::BottlesOnly,
        Kind::UnevenPeople,
        Kind::HeavyTails,
    ];
    let mut outside = Vec::new();
    for kind in kinds {
        let mut counts = Counts::new();
        for &size in kind.sizes() {
            counts.extend(counted(kind, size, shops));
        }
        outside.extend(print(kind, &counts));
    }
    println!("\n{:.0} s", started.elapsed().as_secs_f64());
    if outside.is_empty() {
        println!("Every share with a pass mark lies in its band.");
        return;
    }
    println!("Outside their bands:");
    outside.iter().for_each(|o| println!("  {o}"));
    std::process::exit(1);
}
