//! One heap for all threads of a few cores, and what it no longer needs.

/// Lets the threads of up to four cores take memory from one heap.
///
/// glibc gives each thread one of its own, and what was freed in one serves no
/// thread of another: a million jobs' worth of what the engine has done with
/// lies idle while the fits ask for more. With one, threads wait for one
/// another at times; on two cores that was not seen to cost anything, and on
/// more there is a heap to four of them. `MALLOC_ARENA_MAX`, where set, holds.
///
/// Elsewhere it does nothing.
#[allow(unsafe_code)]
pub(crate) fn share() {
    #[cfg(all(target_os = "linux", target_env = "gnu"))]
    if std::env::var_os("MALLOC_ARENA_MAX").is_none() {
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        let heaps = i32::try_from(cores.div_ceil(4)).unwrap_or(1);
        // SAFETY: no pointer is handed over, and no other thread is there yet.
        unsafe {
            libc::mallopt(libc::M_ARENA_MAX, heaps);
        }
    }
}

/// Gives memory that was freed back to the system where the process holds more
/// than 2 GB: between two stages of a run, of which the one does not need what
/// the other leaves in pieces. Below that it would cost time for little.
///
/// Elsewhere it does nothing.
#[allow(unsafe_code)]
pub(crate) fn give_back() {
    #[cfg(all(target_os = "linux", target_env = "gnu"))]
    if held().is_some_and(|bytes| bytes > 2_000_000_000) {
        // SAFETY: no pointer is handed over; glibc takes its own locks.
        unsafe {
            libc::malloc_trim(0);
        }
    }
}

/// Bytes of memory that the process holds; `None` where the system does not
/// say.
#[cfg(all(target_os = "linux", target_env = "gnu"))]
fn held() -> Option<u64> {
    let statm = std::fs::read_to_string("/proc/self/statm").ok()?;
    let pages: u64 = statm.split(' ').nth(1)?.parse().ok()?;
    // Pages are of 4 KiB at least: larger ones are given back later.
    Some(pages * 4096)
}
