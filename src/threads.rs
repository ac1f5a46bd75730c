//! Two things at once: the machines that this runs on have two cores at least.

use std::thread::{self, ScopedJoinHandle};

/// What two closures make, `there` on a thread of its own. A panic in either
/// goes on here.
pub(crate) fn both<A: Send, B>(
    there: impl FnOnce() -> A + Send,
    here: impl FnOnce() -> B,
) -> (A, B) {
    thread::scope(|threads| {
        let there = threads.spawn(there);
        let here = here();
        (joined(there), here)
    })
}

/// As [`both`] where that is worth a thread, else one after the other.
pub(crate) fn both_where<A: Send, B>(
    worth: bool,
    there: impl FnOnce() -> A + Send,
    here: impl FnOnce() -> B,
) -> (A, B) {
    if worth {
        both(there, here)
    } else {
        (there(), here())
    }
}

/// What a thread made; a panic in it goes on here.
pub(crate) fn joined<T>(thread: ScopedJoinHandle<'_, T>) -> T {
    match thread.join() {
        Ok(made) => made,
        Err(panic) => std::panic::resume_unwind(panic),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_are_made_in_their_places_and_a_panic_is_not_swallowed() {
        assert_eq!(both(|| "there", || 2), ("there", 2));
        assert_eq!(both_where(false, || "there", || 2), ("there", 2));
        let panics = std::panic::catch_unwind(|| both(|| panic!("in a thread"), || 2));
        let message = panics.map(|((), n)| n).unwrap_err();
        assert_eq!(message.downcast_ref::<&str>(), Some(&"in a thread"));
    }
}
