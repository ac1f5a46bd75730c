//! One heap for all threads of a few cores, and what it no longer needs: what
//! the command asks of glibc's allocator. Elsewhere nothing is asked.

pub(crate) use asked::{give_back, share};

#[cfg(not(all(target_os = "linux", target_env = "gnu")))]
mod asked {
    use std::path::Path;
    use tallycoat::run::Progress;

    pub(crate) fn share(_folders: &[&Path]) {}

    pub(crate) fn give_back(_begun: &Progress) {}
}

#[cfg(all(target_os = "linux", target_env = "gnu"))]
#[allow(unsafe_code)]
mod asked {
    use std::env;
    use std::fs;
    use std::path::Path;
    use std::sync::atomic::{AtomicBool, Ordering};
    use tallycoat::run::Progress;

    /// Bytes of exports up to which threads keep heaps of their own.
    const FEW: u64 = 20_000_000;
    /// Folders within folders that are looked into; what lies deeper counts as
    /// much.
    const DEEP: u32 = 6;
    /// Bytes that the process holds from which on memory is given back.
    const MUCH: u64 = 2_000_000_000;

    /// The settings of [`give_back`] are not glibc's own.
    static CHANGED: AtomicBool = AtomicBool::new(false);

    /// Lets the threads of up to four cores take memory from one heap, unless
    /// the folders to be read hold little.
    ///
    /// glibc gives each thread one of its own, and what was freed in one serves
    /// no thread of another: a million jobs' worth of what the engine has done
    /// with lies idle while the fits ask for more. With one, threads wait for
    /// one another at times, which a small review feels and a large one was not
    /// seen to. On more cores there is a heap to four of them.
    /// `MALLOC_ARENA_MAX`, where set, holds.
    ///
    /// To be called before there are threads.
    pub(crate) fn share(folders: &[&Path]) {
        if env::var_os("MALLOC_ARENA_MAX").is_some() || hold_little(folders) {
            return;
        }
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        let heaps = i32::try_from(cores.div_ceil(4)).unwrap_or(1);
        // SAFETY: no pointer is handed over, and no other thread is there yet.
        unsafe {
            libc::mallopt(libc::M_ARENA_MAX, heaps);
        }
    }

    /// Whether folders are named and all that they hold is little, earlier
    /// reviews apart.
    pub(super) fn hold_little(folders: &[&Path]) -> bool {
        let mut left = Some(FEW);
        for folder in folders {
            left = left.and_then(|left| left.checked_sub(bytes_in(folder, left, DEEP)));
        }
        !folders.is_empty() && left.is_some()
    }

    /// Bytes of the files below a folder, links followed; as soon as they are
    /// over `most`, some number over it. What cannot be read will be complained
    /// of, and counts nothing.
    fn bytes_in(folder: &Path, most: u64, deep: u32) -> u64 {
        if deep == 0 {
            return most.saturating_add(1);
        }
        let mut bytes = 0_u64;
        for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
            let path = entry.path();
            let Ok(found) = fs::metadata(&path) else {
                continue;
            };
            let more = if !found.is_dir() {
                let packed = path.extension().is_some_and(|e| e == "gz");
                // Text is packed to a tenth or so.
                found.len().saturating_mul(if packed { 10 } else { 1 })
            } else if entry.file_name() == "reviews" {
                0
            } else {
                bytes_in(&path, most - bytes, deep - 1)
            };
            bytes = bytes.saturating_add(more);
            if bytes > most {
                break;
            }
        }
        bytes
    }

    /// Gives memory that was freed back to the system where the process holds
    /// more than 2 GB: between two stages of a run, of which the one does not
    /// need what the other leaves in pieces. Below that it would cost time for
    /// little.
    ///
    /// There, too, columns of over 32 MB, which glibc takes fresh from the system
    /// each time, come from the heap that threads share while jobs are measured, which
    /// makes most of them: at ten million jobs the system spent a quarter of all time
    /// on clearing their pages. Where the user has set any of this, it holds.
    pub(crate) fn give_back(begun: &Progress) {
        if matches!(begun, Progress::Reading(_)) {
            return;
        }
        let much = held().is_some_and(|bytes| bytes > MUCH);
        match begun {
            Progress::Measuring(_) if much && !is_set_by_user() => {
                CHANGED.store(true, Ordering::Relaxed);
                set(0, 1_000_000_000);
            }
            // What glibc starts with, and comes to where vectors are large.
            Progress::Finding(_) if CHANGED.swap(false, Ordering::Relaxed) => {
                set(65_536, 64 << 20);
            }
            _ => {}
        }
        if much {
            // SAFETY: no pointer is handed over; malloc_trim may be called beside
            // other threads.
            unsafe {
                libc::malloc_trim(0);
            }
        }
    }

    /// How many vectors are mapped apart, and from how many free bytes at the
    /// heap's end these go back to the system. From which size on they are mapped
    /// stays where glibc had come to by then: with its highest, 32 MiB, ten
    /// million jobs take half a gigabyte more.
    fn set(mapped: i32, kept: i32) {
        // SAFETY: no pointer is handed over. Other threads may read one of the
        // two numbers while it is written: they are single words, and either
        // value serves.
        unsafe {
            libc::mallopt(libc::M_MMAP_MAX, mapped);
            libc::mallopt(libc::M_TRIM_THRESHOLD, kept);
        }
    }

    fn is_set_by_user() -> bool {
        let names = [
            "MALLOC_MMAP_MAX_",
            "MALLOC_MMAP_THRESHOLD_",
            "MALLOC_TRIM_THRESHOLD_",
            "GLIBC_TUNABLES",
        ];
        names.iter().any(|name| env::var_os(name).is_some())
    }

    /// Bytes of memory that the process holds; `None` where the system does not
    /// say.
    fn held() -> Option<u64> {
        let statm = fs::read_to_string("/proc/self/statm").ok()?;
        let pages: u64 = statm.split(' ').nth(1)?.parse().ok()?;
        // Pages are of 4 KiB at least: larger ones are given back later.
        Some(pages * 4096)
    }

    #[cfg(test)]
    mod tests {
        use super::*;

        #[test]
        fn exports_are_found_below_by_link_and_packed_and_reviews_are_none() {
            let dir = tempfile::tempdir().unwrap();
            let large = vec![b'x'; FEW as usize + 1];
            let at = |name: &str| dir.path().join(name);
            let is_little = || hold_little(&[dir.path()]);
            assert!(!hold_little(&[]), "nothing is known of no folder");
            assert!(is_little());
            fs::create_dir_all(at("reviews/2026-10")).unwrap();
            fs::write(at("reviews/2026-10/review.json"), &large).unwrap();
            fs::write(at("jobs.csv"), &large[..FEW as usize]).unwrap();
            assert!(is_little());
            let twice = hold_little(&[dir.path(), dir.path()]);
            assert!(!twice, "all folders count together");
            fs::create_dir(at("exports")).unwrap();
            fs::write(at("exports/more.csv"), b"x").unwrap();
            assert!(!is_little());
            fs::remove_dir_all(at("exports")).unwrap();
            fs::write(at("jobs.csv"), b"").unwrap();
            fs::write(at("jobs.csv.gz"), &large[..FEW as usize / 10 + 1]).unwrap();
            assert!(!is_little());
            fs::remove_file(at("jobs.csv.gz")).unwrap();
            let link = at("reviews/2026-10/review.json");
            std::os::unix::fs::symlink(link, at("linked.csv")).unwrap();
            assert!(!is_little());
            fs::remove_file(at("linked.csv")).unwrap();
            std::os::unix::fs::symlink(dir.path(), at("itself")).unwrap();
            assert!(!is_little(), "no end is not little");
        }
    }
}
