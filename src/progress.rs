//! A progress bar where work is long and there is a terminal to show it on.

use indicatif::{ProgressBar, ProgressStyle};
use std::time::Duration;
use tallycoat::run::Progress;

/// Runs `work` with a bar on standard error, which indicatif hides where that
/// is no terminal.
pub(crate) fn shown<T>(work: impl FnOnce(&mut dyn FnMut(Progress)) -> T) -> T {
    let bar = ProgressBar::no_length();
    if let Ok(style) = ProgressStyle::with_template("{msg} {wide_bar} {bytes}/{total_bytes}") {
        bar.set_style(style);
    }
    bar.enable_steady_tick(Duration::from_millis(200));
    let done = work(&mut |p: Progress| match p {
        Progress::Reading(p) => {
            bar.set_length(p.of);
            bar.set_position(p.done);
            bar.set_message(p.file);
        }
        Progress::Measuring(month) => bar.set_message(format!("{month}: measuring")),
        Progress::Finding(month) => bar.set_message(format!("{month}: working out")),
    });
    bar.finish_and_clear();
    done
}
