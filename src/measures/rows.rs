//! Which coated job each row of a result belongs to.

use std::cmp::Ordering;

/// The keys of the coated jobs with their rows, ascending by key.
#[derive(Debug)]
pub(super) struct Rows {
    keys: Vec<i64>,
    /// The row of each key; empty where that is the key's own place.
    rows: Vec<usize>,
}

/// A row of a result and the coated job that it belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Placed {
    /// Row of the job.
    pub(super) job: usize,
    /// Row of the result.
    pub(super) at: usize,
}

/// For [`Rows::place`], where a job has one row, or the order of its rows says
/// nothing.
pub(super) fn as_they_come(_: usize, _: usize) -> Ordering {
    Ordering::Equal
}

impl Rows {
    /// `keys`: of each row, none twice.
    pub(super) fn of(keys: Vec<i64>) -> Self {
        if keys.is_sorted() {
            return Self {
                keys,
                rows: Vec::new(),
            };
        }
        let mut rows: Vec<usize> = (0..keys.len()).collect();
        rows.sort_by_key(|row| keys[*row]);
        Self {
            keys: rows.iter().map(|row| keys[*row]).collect(),
            rows,
        }
    }

    /// The rows of a result whose keys are `keys`, in the order of the jobs;
    /// those of one job as `compare` orders their places, else as they come.
    /// Those whose key no coated job bears are left out.
    ///
    /// The engine takes longer to sort half a million rows by key and name.
    pub(super) fn place(
        &self,
        keys: &[i64],
        mut compare: impl FnMut(usize, usize) -> Ordering,
    ) -> impl ExactSizeIterator<Item = Placed> {
        let mut find = self.finder(keys.len());
        let found = keys.iter().enumerate();
        let found = found.filter_map(|(at, key)| {
            Some(Pair {
                job: find(*key)? as u32,
                at: at as u32,
            })
        });
        let mut placed = by_job(found.collect(), self.keys.len());
        for own in placed.chunk_by_mut(|a, b| a.job == b.job) {
            if own.len() > 1 {
                own.sort_by(|a, b| compare(a.at as usize, b.at as usize));
            }
        }
        placed.into_iter().map(|p| Placed {
            job: p.job as usize,
            at: p.at as usize,
        })
    }

    /// Finds the row of a key: by a table where the keys lie so close that it is
    /// small beside the `asked` ones, else by halving.
    fn finder(&self, asked: usize) -> impl FnMut(i64) -> Option<usize> {
        let first = self.keys.first().copied().unwrap_or(0);
        let place = move |key: i64| usize::try_from(key.checked_sub(first)?).ok();
        let span = self.keys.last().and_then(|last| place(*last));
        let close = span.filter(|span| *span < 4 * (self.keys.len() + asked));
        let table = close.map(|span| {
            let mut table = vec![NONE; span + 1];
            for (at, key) in self.keys.iter().enumerate() {
                if let Some(cell) = place(*key).and_then(|i| table.get_mut(i)) {
                    *cell = at as u32;
                }
            }
            table
        });
        move |key| {
            let at = match &table {
                Some(table) => *table.get(place(key)?).filter(|at| **at != NONE)? as usize,
                None => self.keys.binary_search(&key).ok()?,
            };
            self.rows.get(at).copied().or(Some(at))
        }
    }
}

/// A [`Placed`], kept small: there are millions. The engine holds fewer rows
/// than a `u32` counts.
#[derive(Debug, Clone, Copy)]
struct Pair {
    job: u32,
    at: u32,
}

/// No row.
const NONE: u32 = u32::MAX;

/// `found` in the order of the jobs, of which there are `jobs`; each job's as
/// they come.
fn by_job(found: Vec<Pair>, jobs: usize) -> Vec<Pair> {
    if found.is_sorted_by_key(|p| p.job) {
        return found;
    }
    let mut next = vec![0_u32; jobs + 1];
    for p in &found {
        next[p.job as usize + 1] += 1;
    }
    for job in 1..next.len() {
        next[job] += next[job - 1];
    }
    let mut placed = found.clone();
    for p in found {
        let next = &mut next[p.job as usize];
        placed[*next as usize] = p;
        *next += 1;
    }
    placed
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Close keys go by a table, far ones by halving.
    #[test]
    fn every_row_is_placed_in_the_order_of_the_jobs() {
        let far = i64::MAX - 5;
        for keys in [vec![2, 3, 5, 9], vec![5, 2, 9, 3], vec![far, -7, 3, 2]] {
            let asked = [9, 2, 2, 3, 4, 9, 5, 1, 10, 3, far, i64::MIN, 3, 5];
            let mut expected = Vec::new();
            for (job, key) in keys.iter().enumerate() {
                let at = asked.iter().enumerate().filter(|(_, k)| *k == key);
                expected.extend(at.map(|(at, _)| Placed { job, at }));
            }
            let rows = Rows::of(keys.clone());
            let found: Vec<Placed> = rows.place(&asked, as_they_come).collect();
            assert_eq!(found, expected, "{keys:?}");
            let backwards: Vec<Placed> = rows.place(&asked, |a, b| b.cmp(&a)).collect();
            expected.sort_by_key(|p| (p.job, std::cmp::Reverse(p.at)));
            assert_eq!(backwards, expected, "{keys:?}");
        }
        let rows = Rows::of(Vec::new());
        assert_eq!(rows.place(&[1], as_they_come).len(), 0);
    }
}
