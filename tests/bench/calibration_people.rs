//! How often what is said of people, film and bottles holds, over invented
//! shops.
//!
//! ```text
//! cargo bench --bench calibration_people [-- SHOPS]      (default 2,000)
//! ```
//!
//! - Pace: 60 and 500 coated jobs, 4 to 12 people, a true standard deviation
//!   between people of 0.1 (judged: 95 % intervals hold 93 to 97 %), and of
//!   0.03 and 0.2 (printed). Of the people raised as slow, pooled over shops,
//!   at most 10 % are not truly over 10 % slow. Power at 20 % slow is printed
//!   beside what such a shop is told that it could see; the two must agree
//!   within 10 points.
//! - Film: bands of the curve at one year and the hazard ratio, in shops with
//!   30 failures or more (judged: 93 to 97 %).
//! - Bottles: the 90 % quantile of next month's mL holds 87 to 93 %, and its
//!   bottles suffice at least as often.
//!
//! Ends with status 1 where a share with a pass mark lies outside its band.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::print_stdout,
    clippy::exit
)]

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Exp, Normal, Poisson};
use std::time::Instant;
use tallycoat::fits::consumption::{self, Consumption};
use tallycoat::fits::discovery::{Rule, by_chance};
use tallycoat::fits::evidence::Source;
use tallycoat::fits::forecast::{self, Past};
use tallycoat::fits::pace::sight::{self, Imagined};
use tallycoat::fits::pace::{self, People, Sums};
use tallycoat::fits::survival::{Times, cox, km};

const SHOPS: u64 = 2_000;
const CLASSES: usize = 3;
/// Classes, then the logarithm of the covered share.
const COLUMNS: usize = CLASSES + 1;
/// A person is spoken of from so many jobs.
const LEAST_JOBS: u64 = 8;

#[derive(Debug, Clone, Copy, Default)]
struct Share {
    held: u64,
    of: u64,
}

impl Share {
    fn add(&mut self, held: bool) {
        self.held += u64::from(held);
        self.of += 1;
    }

    fn merge(&mut self, o: Self) {
        self.held += o.held;
        self.of += o.of;
    }

    fn value(self) -> f64 {
        self.held as f64 / self.of.max(1) as f64
    }

    fn text(self) -> String {
        let p = self.value();
        let error = (p * (1.0 - p) / self.of.max(1) as f64).sqrt();
        format!("{:.1} ± {:.1} % of {}", 100.0 * p, 100.0 * error, self.of)
    }
}

/// Bands that were missed.
#[derive(Debug, Default)]
struct Verdict(Vec<String>);

impl Verdict {
    fn print(&mut self, what: &str, share: Share, band: Option<(f64, f64)>) {
        let out = band.is_some_and(|(low, high)| !(low..=high).contains(&share.value()));
        println!("{what:<64} {}{}", share.text(), if out { " !" } else { "" });
        if out {
            self.0.push(format!("{what}: {}", share.text()));
        }
    }
}

fn normal(sd: f64, rng: &mut ChaCha8Rng) -> f64 {
    Normal::new(0.0, sd).unwrap().sample(rng)
}

/// A shop's timed jobs, and the truth of its people.
struct Crew {
    people: People,
    /// u less the mean of the people's u.
    truth: Vec<f64>,
}

/// `slow`: the first person is so much slower than the usual, exactly.
fn crew(jobs: u64, people: usize, tau: f64, slow: Option<f64>, rng: &mut ChaCha8Rng) -> Crew {
    let mut u: Vec<f64> = (0..people).map(|_| normal(tau, rng)).collect();
    if let Some(slow) = slow {
        u[0] = 0.0;
        let others: f64 = u.iter().sum();
        let m = people as f64;
        u[0] = (slow.ln_1p() + others / m) * m / (m - 1.0);
    }
    // People do unequal shares of the work.
    let weights: Vec<f64> = (0..people).map(|_| 0.5 + rng.random::<f64>()).collect();
    let whole: f64 = weights.iter().sum();
    let mut sums = vec![Sums::new(COLUMNS); people];
    for _ in 0..jobs {
        let mut at = rng.random::<f64>() * whole;
        let g = weights.iter().position(|w| {
            at -= w;
            at <= 0.0
        });
        let g = g.unwrap_or(people - 1);
        let class = rng.random_range(0..CLASSES);
        let partial = rng.random::<f64>() < 0.2;
        let covered = if partial {
            0.2 + 0.6 * rng.random::<f64>()
        } else {
            0.95 + 0.1 * rng.random::<f64>()
        };
        let mut x = [0.0; COLUMNS];
        x[class] = 1.0;
        x[CLASSES] = f64::ln(covered);
        let y = 3.5 + 0.1 * class as f64 + 0.8 * x[CLASSES] + u[g] + normal(0.15, rng);
        sums[g].add(&x, y).unwrap();
    }
    let seen: Vec<usize> = (0..people).filter(|g| sums[*g].jobs > 0).collect();
    let mean = seen.iter().map(|g| u[*g]).sum::<f64>() / seen.len() as f64;
    let each: Vec<Sums> = seen.iter().map(|g| sums[*g].clone()).collect();
    Crew {
        people: People::new(&each, &Sums::new(COLUMNS)).unwrap(),
        truth: seen.iter().map(|g| u[*g] - mean).collect(),
    }
}

fn raised(paces: &pace::Paces) -> Vec<bool> {
    let chance = |p: &pace::Pace| {
        if p.factor.n >= LEAST_JOBS {
            p.chance_slow
        } else {
            0.0
        }
    };
    let chances: Vec<f64> = paces.people.iter().map(chance).collect();
    by_chance(&chances, Rule::default()).unwrap().raised
}

#[derive(Debug, Clone, Copy, Default)]
struct PaceCount {
    cover: Share,
    wrong: Share,
    power: Share,
    told: f64,
    tellings: u64,
    missing: u64,
}

/// The seed's own number of people, 4 to 12.
fn people_of(seed: u64) -> usize {
    4 + (seed % 9) as usize
}

fn count_pace(jobs: u64, tau: f64, seed: u64, to: &mut PaceCount) {
    let params = pace::Params::default();
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let shop = crew(jobs, people_of(seed), tau, None, &mut rng);
    match pace::fit(&shop.people, params) {
        Err(_) => to.missing += 1,
        Ok(paces) => {
            let flags = raised(&paces);
            for (g, p) in paces.people.iter().enumerate() {
                to.cover.add(p.factor.holds(shop.truth[g].exp()));
                if flags[g] {
                    to.wrong.add(shop.truth[g] <= params.slow.ln_1p());
                }
            }
        }
    }
    let slow = crew(jobs, people_of(seed), tau, Some(0.20), &mut rng);
    let Ok(paces) = pace::fit(&slow.people, params) else {
        return;
    };
    to.power.add(raised(&paces).first() == Some(&true));
    // What this shop would be told, in one of 20 shops: it takes long.
    if seed.is_multiple_of(20) {
        let eligible: Vec<bool> = (0..slow.people.len())
            .map(|g| g == 0 && slow.people.jobs(0) >= LEAST_JOBS)
            .collect();
        let imagined = Imagined {
            between: paces.between.value,
            within: paces.within.value,
            slower: 0.20,
            shops: 40,
            seed,
        };
        let told =
            sight::power(&slow.people, &eligible, imagined, Rule::default(), params).unwrap();
        to.told += told.power.first().copied().unwrap_or(0.0);
        to.tellings += 1;
    }
}

/// Runs `one` for all seeds on two threads.
fn over<T: Default + Send>(
    shops: u64,
    one: impl Fn(u64, &mut T) + Sync,
    merge: impl Fn(&mut T, T),
) -> T {
    let half = |from: u64| {
        let mut count = T::default();
        (from..shops)
            .step_by(2)
            .for_each(|seed| one(seed, &mut count));
        count
    };
    std::thread::scope(|s| {
        let other = s.spawn(|| half(1));
        let mut all = half(0);
        merge(&mut all, other.join().unwrap());
        all
    })
}

fn pace_of(shops: u64, verdict: &mut Verdict) {
    for jobs in [60, 500] {
        for tau in [0.03, 0.1, 0.2] {
            let c: PaceCount = over(
                shops,
                |seed, to| count_pace(jobs, tau, seed, to),
                |a, b| {
                    a.cover.merge(b.cover);
                    a.wrong.merge(b.wrong);
                    a.power.merge(b.power);
                    a.told += b.told;
                    a.tellings += b.tellings;
                    a.missing += b.missing;
                },
            );
            let title = |what: &str| format!("{what}, {jobs} jobs, sd {tau}");
            let judged = tau == 0.1;
            verdict.print(&title("pace held"), c.cover, judged.then_some((0.93, 0.97)));
            // So few are raised that the share may miss by luck: its own
            // standard error is allowed for twice.
            let p = c.wrong.value();
            let slack = 2.0 * (p * (1.0 - p) / c.wrong.of.max(1) as f64).sqrt();
            verdict.print(
                &title("false among raised"),
                c.wrong,
                judged.then_some((0.0, 0.10 + slack)),
            );
            verdict.print(&title("power at 20 % slow"), c.power, None);
            let told = c.told / c.tellings.max(1) as f64;
            println!(
                "{:<64} {:.1} % in {} shops; not enough: {}",
                title("  told"),
                100.0 * told,
                c.tellings,
                c.missing
            );
            if judged && c.tellings >= 50 && (told - c.power.value()).abs() > 0.10 {
                verdict.0.push(title("told and true power differ"));
            }
        }
    }
}

#[derive(Debug, Clone, Copy, Default)]
struct FilmCount {
    band: Share,
    ratio: Share,
    few: u64,
}

fn count_film(jobs: usize, seed: u64, to: &mut FilmCount) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let (mut time, mut failed, mut coated, mut strata) = (vec![], vec![], vec![], vec![]);
    let (yearly, ratio) = (0.15, 0.6);
    let kinds = [1.0, 0.5, 1.8];
    for _ in 0..jobs {
        let kind = rng.random_range(0..kinds.len());
        let is_coated = rng.random::<f64>() < 0.5;
        let hazard = yearly * kinds[kind] * if is_coated { ratio } else { 1.0 };
        let fails: f64 = 365.25 * Exp::new(hazard).unwrap().sample(&mut rng);
        let until = 730.0 * rng.random::<f64>();
        // Days are whole, as they are recorded: failures tie.
        time.push(fails.min(until).ceil());
        failed.push(fails <= until);
        coated.push(f64::from(u8::from(is_coated)));
        strata.push(kind);
    }
    if failed.iter().filter(|f| **f).count() < 30 {
        to.few += 1;
        return;
    }
    let times = Times {
        time: &time,
        failed: &failed,
        jobs: None,
    };
    let task = cox::Jobs {
        times,
        covariates: &coated,
        columns: 1,
        strata: Some(&strata),
    };
    if let Ok(cox::Outcome::Fitted(fit)) = cox::fit(&task, cox::Params::default()) {
        to.ratio
            .add(fit.hazard_ratio(0, 0.95).unwrap().holds(ratio));
    }
    let curve = km::curve(times, 0.95).unwrap();
    let truth: f64 = [1.0, ratio]
        .iter()
        .flat_map(|r| kinds.iter().map(move |k| (-yearly * k * r).exp() / 6.0))
        .sum();
    if let Some(band) = curve.step_at(365.0).and_then(|s| s.band) {
        to.band.add(band.low <= truth && truth <= band.high);
    }
}

fn film(shops: u64, verdict: &mut Verdict) {
    for jobs in [500, 1_200] {
        let c: FilmCount = over(
            shops,
            |seed, to| count_film(jobs, seed, to),
            |a, b| {
                a.band.merge(b.band);
                a.ratio.merge(b.ratio);
                a.few += b.few;
            },
        );
        verdict.print(
            &format!("band at one year, {jobs} jobs"),
            c.band,
            Some((0.93, 0.97)),
        );
        verdict.print(
            &format!("hazard ratio, {jobs} jobs"),
            c.ratio,
            Some((0.93, 0.97)),
        );
        println!("  with fewer than 30 failures, left out: {}", c.few);
    }
}

#[derive(Debug, Clone, Copy, Default)]
struct NeedCount {
    ml: Share,
    bottles: Share,
    missing: u64,
}

/// One job: its areas on two finishes, and what it takes.
fn job(rng: &mut ChaCha8Rng) -> ([f64; 2], f64) {
    let area = 16.0 + 8.0 * rng.random::<f64>();
    let matte = if rng.random::<f64>() < 0.3 { area } else { 0.0 };
    let areas = [area - matte, matte];
    let used = 1.0 + 1.5 * areas[0] + 1.75 * areas[1] + normal(0.55 * area.sqrt(), rng);
    (areas, used.max(0.1))
}

fn count_need(rate: f64, seed: u64, to: &mut NeedCount) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let demand = Poisson::new(rate).unwrap();
    let months: Vec<u64> = (0..12).map(|_| demand.sample(&mut rng) as u64).collect();
    let past: Vec<([f64; 2], f64)> = (0..months.iter().sum()).map(|_| job(&mut rng)).collect();
    let areas: Vec<f64> = past.iter().flat_map(|p| p.0).collect();
    let used: Vec<f64> = past.iter().map(|p| p.1).collect();
    let table = consumption::Jobs::new(&used, &areas, 2).unwrap();
    let fit = Consumption::new(table).fit().unwrap();
    let law = (
        fit.unconstrained(),
        fit.covariance(Source::DataAlone),
        fit.residual_variance(),
    );
    let (Some(mean), Some(covariance), Some(variance)) = law else {
        to.missing += 1;
        return;
    };
    let rows: Vec<f64> = covariance.iter().copied().collect();
    let basis = Past {
        jobs_per_month: &months,
        areas: &areas,
        finishes: 2,
        uses: forecast::Use {
            mean,
            covariance: &rows,
            df: fit.degrees_of_freedom().unwrap() as f64,
            variance_per_area: variance,
        },
    };
    let usable_ml = 99.0;
    let params = forecast::Params {
        months: 1,
        usable_ml,
        draws: 1_000,
        seed,
    };
    let Ok(need) = forecast::need(&basis, params) else {
        to.missing += 1;
        return;
    };
    let next: f64 = (0..demand.sample(&mut rng) as u64)
        .map(|_| job(&mut rng).1)
        .sum();
    to.ml.add(next <= need.ml.nine_tenths);
    to.bottles
        .add(next <= need.bottles_nine_tenths as f64 * usable_ml);
}

fn bottles(shops: u64, verdict: &mut Verdict) {
    for rate in [5.0, 40.0] {
        let c: NeedCount = over(
            shops,
            |seed, to| count_need(rate, seed, to),
            |a, b| {
                a.ml.merge(b.ml);
                a.bottles.merge(b.bottles);
                a.missing += b.missing;
            },
        );
        verdict.print(
            &format!("90 % quantile of mL, {rate} jobs a month"),
            c.ml,
            Some((0.87, 0.93)),
        );
        verdict.print(
            &format!("its bottles suffice, {rate} jobs a month"),
            c.bottles,
            Some((c.ml.value(), 1.0)),
        );
        println!("  not enough: {}", c.missing);
    }
}

fn main() {
    // Cargo hands `--bench` to the binary.
    let asked = std::env::args().skip(1).find_map(|a| a.parse().ok());
    let shops: u64 = asked.unwrap_or(SHOPS);
    println!("Over {shops} invented shops each; ± Monte Carlo error; ! outside its band");
    let started = Instant::now();
    let mut verdict = Verdict::default();
    film(shops, &mut verdict);
    bottles(shops, &mut verdict);
    pace_of(shops, &mut verdict);
    println!("\n{:.0} s", started.elapsed().as_secs_f64());
    if verdict.0.is_empty() {
        println!("Every share with a pass mark lies in its band.");
        return;
    }
    println!("Outside their bands:");
    verdict.0.iter().for_each(|o| println!("  {o}"));
    std::process::exit(1);
}
