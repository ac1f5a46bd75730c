//! Keeps the engine's panics off the terminal while a question is asked: they
//! are caught and said on the page.

use std::panic;
use std::sync::Once;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Name of the thread that asks.
pub(super) const ASKER: &str = "question";
/// How the engine names its threads.
const ENGINE: &str = "polars";

static ASKING: AtomicUsize = AtomicUsize::new(0);
static HOOK: Once = Once::new();

/// While one of these lives, panics are silent on the thread that asks and on
/// the engine's.
pub(super) struct Quiet(());

/// Begins to be quiet. The hook is put in once and hands on to the one before
/// it whenever no question is being asked, so that two reviews at once cannot
/// leave each other's hook behind.
pub(super) fn begin() -> Quiet {
    HOOK.call_once(|| {
        let before = panic::take_hook();
        panic::set_hook(Box::new(move |panic| {
            let thread = std::thread::current();
            let name = thread.name().unwrap_or_default();
            let asked = name == ASKER || name.starts_with(ENGINE);
            if !asked || ASKING.load(Ordering::SeqCst) == 0 {
                before(panic);
            }
        }));
    });
    ASKING.fetch_add(1, Ordering::SeqCst);
    Quiet(())
}

impl Drop for Quiet {
    fn drop(&mut self) {
        ASKING.fetch_sub(1, Ordering::SeqCst);
    }
}
