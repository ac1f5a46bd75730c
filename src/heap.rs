//! One heap for all threads of a few cores.

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
