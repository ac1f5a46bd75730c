//! The truth of invented shops, found again by the whole program: how many
//! true constants lie in their 95 % intervals over 50 seeds.

use serde_json::Value;
use std::fs;
use tallycoat::invent::{Plan, invent_into};
use tallycoat::run;
use tallycoat::settings::command::ReviewArgs;

/// Hits among intervals that were given.
#[derive(Debug, Default, Clone, Copy)]
struct Cover {
    held: u64,
    given: u64,
    not_enough: u64,
}

impl Cover {
    fn add(&mut self, figure: &Value, truth: f64) {
        match (figure["low"].as_f64(), figure["high"].as_f64()) {
            (Some(low), Some(high)) => {
                self.given += 1;
                self.held += u64::from(low <= truth && truth <= high);
            }
            _ => self.not_enough += 1,
        }
    }

    fn merge(&mut self, o: Self) {
        self.held += o.held;
        self.given += o.given;
        self.not_enough += o.not_enough;
    }

    fn share(&self) -> f64 {
        self.held as f64 / self.given as f64
    }
}

/// Use and minutes of one invented shop, reviewed over its whole history.
fn covers(seed: u64) -> (Cover, Cover) {
    let dir = tempfile::tempdir().unwrap();
    let plan = Plan {
        seed,
        ..Plan::default()
    };
    invent_into(&plan, dir.path()).unwrap();
    let settings = "[review]\nwindow_months = \"all\"\noutliers = \"keep\"\n";
    fs::write(dir.path().join("shop.toml"), settings).unwrap();
    let args = ReviewArgs {
        folder: dir.path().to_path_buf(),
        month: None,
        out: Some(dir.path().join("out")),
        strict: false,
        ..ReviewArgs::default()
    };
    run::review(&args, &mut |_| {}).unwrap();
    let json = |path| -> Value {
        serde_json::from_str(&fs::read_to_string(dir.path().join(path)).unwrap()).unwrap()
    };
    let (review, truth) = (json("out/review.json"), json("truth.json"));
    let mut used = Cover::default();
    let coating = &truth["coating"];
    used.add(
        &review["consumption"]["setup_ml"],
        coating["setup_ml"].as_f64().unwrap(),
    );
    for (finish, rate) in coating["ml_per_m2"].as_object().unwrap() {
        let found = &review["consumption"]["data_alone"][finish];
        used.add(found, rate.as_f64().unwrap());
    }
    let mut minutes = Cover::default();
    for (class, typical) in truth["minutes"]["typical"].as_object().unwrap() {
        minutes.add(
            &review["minutes"]["typical"][class],
            typical.as_f64().unwrap(),
        );
    }
    (used, minutes)
}

/// Covers of some seeds, on two threads.
fn of_seeds(seeds: std::ops::RangeInclusive<u64>) -> (Cover, Cover) {
    let seeds: Vec<u64> = seeds.collect();
    let parts: Vec<(Cover, Cover)> = std::thread::scope(|s| {
        let halves = seeds.chunks(seeds.len().div_ceil(2));
        let threads: Vec<_> = halves
            .map(|half| s.spawn(|| half.iter().map(|seed| covers(*seed)).collect::<Vec<_>>()))
            .collect();
        threads
            .into_iter()
            .flat_map(|t| t.join().unwrap())
            .collect()
    });
    let (mut used, mut minutes) = (Cover::default(), Cover::default());
    for (u, m) in parts {
        used.merge(u);
        minutes.merge(m);
    }
    (used, minutes)
}

fn say(seeds: &str, what: &str, c: Cover) {
    println!(
        "seeds {seeds}, {what}: {} of {} held ({:.1} %), {} not enough",
        c.held,
        c.given,
        100.0 * c.share(),
        c.not_enough
    );
}

/// The coating's constants are independent enough to be held to 92 to 98 % at
/// 50 shops. The six typical minutes of a shop are not: they share the error
/// of its people's mean, so 50 shops are some 50 draws, of which intervals
/// that hold 95 % of the time leave the band by luck one time in three. In
/// seeds 1 to 50 the drawn people alone (a t-interval on the six true effects)
/// miss 4 of 50. So the minutes by themselves are held to the band at 200
/// shops, and together with the coating's at 50.
#[test]
fn true_constants_lie_in_their_intervals_as_often_as_promised() {
    let (used, first) = of_seeds(1..=50);
    say("1 to 50", "mL per m2 and set-up", used);
    say("1 to 50", "typical minutes", first);
    let mut together = used;
    together.merge(first);
    say("1 to 50", "both together", together);
    let (more_used, mut minutes) = of_seeds(51..=200);
    minutes.merge(first);
    let mut all_used = used;
    all_used.merge(more_used);
    say("1 to 200", "mL per m2 and set-up", all_used);
    say("1 to 200", "typical minutes", minutes);
    assert!(used.given >= 240 && minutes.given >= 1100);
    for cover in [used, together, all_used, minutes] {
        assert!((0.92..=0.98).contains(&cover.share()), "{cover:?}");
    }
}
