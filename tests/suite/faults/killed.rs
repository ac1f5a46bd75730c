//! A run that ends at any moment leaves the old or the new, whole, and the next
//! run clears what it left.

use super::{Content, Two, content, done, names, program, review, shop};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::fs;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// When a run is ended.
#[derive(Debug, Clone, Copy)]
enum Moment {
    /// So long after it was started.
    After(Duration),
    /// So long after something first stood beside the place.
    Writing(Duration),
}

/// Every other moment is anywhere in a run, every other within its writing,
/// which takes milliseconds and would else be met by chance alone.
fn moment(at: usize, run: Duration, rng: &mut ChaCha8Rng) -> Moment {
    if at.is_multiple_of(2) {
        Moment::After(run.mul_f64(rng.random_range(0.0..1.1)))
    } else {
        Moment::Writing(Duration::from_micros(rng.random_range(0..4_000)))
    }
}

/// Waits for the moment, or for the run's end; `beside` is what is looked at.
fn wait(child: &mut Child, moment: Moment, beside: &Path) {
    let before = names(beside);
    let started = Instant::now();
    let mut writing = None;
    while child.try_wait().unwrap().is_none() {
        match moment {
            Moment::After(time) if started.elapsed() >= time => return,
            Moment::Writing(time) => {
                if writing.is_none() && names(beside) != before {
                    writing = Some(Instant::now());
                }
                if writing.is_some_and(|w| w.elapsed() >= time) {
                    return;
                }
            }
            Moment::After(_) => {}
        }
        std::thread::sleep(Duration::from_micros(50));
    }
}

/// What came of a number of runs that were ended.
#[derive(Debug, Default)]
struct Tally {
    /// Ended before they were through.
    cut: usize,
    /// Left something beside the place.
    littered: usize,
    /// Had the new in place.
    new: usize,
}

impl Tally {
    /// True while more runs are to be ended: so many at least, and on a machine
    /// so busy that no moment within the writing is met, up to six times as
    /// many until one is.
    fn wants_more(&self, ended: usize, runs: usize) -> bool {
        let complete = self.cut >= runs / 4 && self.new >= 1 && self.met_writing(runs);
        ended < runs || (ended < 6 * runs && !complete)
    }

    /// How many are caught while writing depends on the disk and the machine's
    /// load; of many some are, of a few there may be none.
    fn met_writing(&self, runs: usize) -> bool {
        runs < 50 || self.littered >= 1
    }

    /// A test of nothing would pass too.
    fn is_of_something(&self, runs: usize) {
        assert!(self.cut >= runs / 4, "{self:?}");
        assert!(self.met_writing(runs), "{self:?}");
        assert!(self.new >= 1, "{self:?}");
        println!("of {runs} runs or more: {self:?}");
    }
}

fn quiet(command: &mut Command) -> &mut Command {
    command.stdout(Stdio::null()).stderr(Stdio::null())
}

fn timed(run: impl FnOnce()) -> Duration {
    let started = Instant::now();
    run();
    started.elapsed()
}

/// Ends so many reviews at random moments by `end`.
fn reviews_cut_short(runs: usize, seed: u64, end: impl Fn(&mut Child)) {
    let two = Two::new();
    let place = two.place();
    let beside = place.parent().unwrap().to_path_buf();
    let mut run = timed(|| done(&review(&two.shops[0], &place).output().unwrap()));
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut tally = Tally::default();
    let mut old = 0;
    for at in 0.. {
        if !tally.wants_more(at, runs) {
            break;
        }
        let new = 1 - old;
        let mut child = quiet(&mut review(&two.shops[new], &place)).spawn().unwrap();
        wait(&mut child, moment(at, run, &mut rng), &beside);
        end(&mut child);
        tally.cut += usize::from(!child.wait().unwrap().success());
        let there: Content = content(&place);
        let is_new = there == two.reviews[new];
        assert!(is_new || there == two.reviews[old], "run {at}: neither");
        tally.new += usize::from(is_new);
        let littered = names(&beside) != ["r"];
        tally.littered += usize::from(littered);
        if littered {
            // Timed anew: the machine may have become busier.
            run = timed(|| done(&review(&two.shops[new], &place).output().unwrap()));
            two.holds(new);
        }
        if littered || is_new {
            old = new;
        }
    }
    tally.is_of_something(runs);
}

#[test]
fn a_review_killed_at_any_moment_leaves_the_old_one_or_the_new_one_whole() {
    reviews_cut_short(50, 11, |child| child.kill().unwrap());
}

#[cfg(unix)]
#[test]
fn a_review_interrupted_or_told_to_end_leaves_the_old_one_or_the_new_one_whole() {
    let count = std::cell::Cell::new(0);
    reviews_cut_short(16, 12, |child| {
        count.set(count.get() + 1);
        let signal = if count.get() % 2 == 0 {
            "-INT"
        } else {
            "-TERM"
        };
        let _ = quiet(Command::new("kill").args([signal, &child.id().to_string()])).status();
    });
}

#[test]
fn adopting_killed_at_any_moment_leaves_the_old_constants_or_the_new_ones_whole() {
    let dir = tempfile::tempdir().unwrap();
    let at = dir.path().join("shop");
    shop(&at, 3);
    let file = at.join("constants.toml");
    let adopt = || {
        let mut command = program();
        command.arg("recalibrate").arg(&at).arg("--adopt");
        command
    };
    let old = fs::read(&file).unwrap();
    let folder = names(&at);
    let mut run = timed(|| done(&adopt().output().unwrap()));
    let new = fs::read(&file).unwrap();
    assert!(new.len() > old.len() && new.starts_with(&old));
    assert_eq!(names(&at), folder);
    let runs = 50;
    let mut rng = ChaCha8Rng::seed_from_u64(13);
    let mut tally = Tally::default();
    for moment_of in 0.. {
        if !tally.wants_more(moment_of, runs) {
            break;
        }
        fs::write(&file, &old).unwrap();
        let mut child = quiet(&mut adopt()).spawn().unwrap();
        wait(&mut child, moment(moment_of, run, &mut rng), &at);
        child.kill().unwrap();
        tally.cut += usize::from(!child.wait().unwrap().success());
        let there = fs::read(&file).unwrap();
        assert!(there == new || there == old, "run {moment_of}: neither");
        tally.new += usize::from(there == new);
        if names(&at) != folder {
            tally.littered += 1;
            // Where the new is in place, there is nothing left to adopt: that
            // run clears up too.
            run = timed(|| done(&adopt().output().unwrap()));
            assert_eq!(names(&at), folder);
            assert_eq!(fs::read(&file).unwrap(), new);
        }
    }
    tally.is_of_something(runs);
}
