//! One heap for all threads of a few cores, and what it no longer needs.

use std::path::Path;

/// Bytes of exports up to which threads keep heaps of their own.
const FEW: u64 = 20_000_000;

/// Lets the threads of up to four cores take memory from one heap, where the
/// folders to be read hold much.
///
/// glibc gives each thread one of its own, and what was freed in one serves no
/// thread of another: a million jobs' worth of what the engine has done with
/// lies idle while the fits ask for more. With one, threads wait for one
/// another at times: that is a twelfth of a small review's time and not seen in
/// a large one. On more cores there is a heap to four of them.
/// `MALLOC_ARENA_MAX`, where set, holds.
///
/// To be called before there are threads. Elsewhere it does nothing.
#[allow(unsafe_code)]
pub(crate) fn share(folders: &[&Path]) {
    #[cfg(not(all(target_os = "linux", target_env = "gnu")))]
    let _ = folders;
    #[cfg(all(target_os = "linux", target_env = "gnu"))]
    if std::env::var_os("MALLOC_ARENA_MAX").is_none() && bytes_in(folders) > FEW {
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        let heaps = i32::try_from(cores.div_ceil(4)).unwrap_or(1);
        // SAFETY: no pointer is handed over, and no other thread is there yet.
        unsafe {
            libc::mallopt(libc::M_ARENA_MAX, heaps);
        }
    }
}

/// Bytes of the files that stand in the folders; what cannot be read counts 0.
#[cfg(all(target_os = "linux", target_env = "gnu"))]
fn bytes_in(folders: &[&Path]) -> u64 {
    let entries = folders.iter().filter_map(|f| std::fs::read_dir(f).ok());
    let files = entries.flatten().filter_map(|e| e.ok()?.metadata().ok());
    files.filter(|m| m.is_file()).map(|m| m.len()).sum()
}

/// What a stage of a run does with memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Stage {
    /// The engine makes and drops columns time and again.
    Columns,
    /// Little is dropped before the end.
    Other,
}

/// Gives memory that was freed back to the system where the process holds more
/// than 2 GB: between two stages of a run, of which the one does not need what
/// the other leaves in pieces. Below that it would cost time for little.
///
/// There, too, columns of over 32 MB, which glibc would take fresh from the
/// system each time, come from the heap in the stage that makes most of them:
/// at ten million jobs the system spent a quarter of all time on clearing their
/// pages.
///
/// Elsewhere it does nothing.
#[allow(unsafe_code)]
pub(crate) fn give_back(before: Stage) {
    #[cfg(not(all(target_os = "linux", target_env = "gnu")))]
    let _ = before;
    #[cfg(all(target_os = "linux", target_env = "gnu"))]
    if held().is_some_and(|bytes| bytes > 2_000_000_000) {
        let (mapped, kept) = match before {
            Stage::Columns => (0, 1_000_000_000),
            // What glibc starts with, and comes to where vectors are large.
            Stage::Other => (65_536, 64 * 1024 * 1024),
        };
        // SAFETY: no pointer is handed over; glibc takes its own locks.
        unsafe {
            libc::mallopt(libc::M_MMAP_MAX, mapped);
            libc::mallopt(libc::M_TRIM_THRESHOLD, kept);
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
