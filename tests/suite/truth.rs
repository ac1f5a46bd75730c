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
    };
    run::review(&args, &mut |_| {}).unwrap();
    let json = |path| -> Value {
        serde_json::from_str(&fs::read_to_string(dir.path().join(path)).unwrap()).unwrap()
    };
    let (review, truth) = (json("out/review.json"), json("truth.json"));
    let mut used = Cover::default();
    let coating = &truth["coating"];
    used.add(&review["consumption"]["setup_ml"], coating["setup_ml"].as_f64().unwrap());
    for (finish, rate) in coating["ml_per_m2"].as_object().unwrap() {
        let found = &review["consumption"]["data_alone"][finish];
        used.add(found, rate.as_f64().unwrap());
    }
    let mut minutes = Cover::default();
    for (class, typical) in truth["minutes"]["typical"].as_object().unwrap() {
        minutes.add(&review["minutes"]["typical"][class], typical.as_f64().unwrap());
    }
    (used, minutes)
}

#[test]
fn true_constants_lie_in_their_intervals_as_often_as_promised() {
    let seeds: Vec<u64> = (1..=50).collect();
    let halves: Vec<&[u64]> = seeds.chunks(25).collect();
    let parts: Vec<(Cover, Cover)> = std::thread::scope(|s| {
        let threads: Vec<_> = halves
            .iter()
            .map(|half| s.spawn(|| half.iter().map(|seed| covers(*seed)).collect::<Vec<_>>()))
            .collect();
        threads.into_iter().flat_map(|t| t.join().unwrap()).collect()
    });
    let (mut used, mut minutes) = (Cover::default(), Cover::default());
    for (u, m) in parts {
        used.merge(u);
        minutes.merge(m);
    }
    println!("mL per m2 and set-up: {} of {} held ({:.1} %), {} not enough", used.held, used.given, 100.0 * used.share(), used.not_enough);
    println!("typical minutes: {} of {} held ({:.1} %), {} not enough", minutes.held, minutes.given, 100.0 * minutes.share(), minutes.not_enough);
    for cover in [used, minutes] {
        assert!(cover.given >= 240, "{cover:?}");
        assert!((0.92..=0.98).contains(&cover.share()), "{cover:?}");
    }
}
