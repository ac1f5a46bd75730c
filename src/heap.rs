//! One heap for all threads.

/// Lets all threads take memory from one heap.
///
/// glibc gives each thread one of its own, and what was freed in one serves no
/// thread of another: a million jobs' worth of what the engine has done with
/// lies idle while the fits ask for more. With one, threads wait for one
/// another at times, which is not seen to cost anything here.
///
/// Elsewhere it does nothing.
#[allow(unsafe_code)]
pub(crate) fn share() {
    // SAFETY: no pointer is handed over, and no other thread is there yet.
    #[cfg(all(target_os = "linux", target_env = "gnu"))]
    unsafe {
        libc::mallopt(libc::M_ARENA_MAX, 1);
    }
}
