//! Which row of the coated jobs bears a key.

/// The keys of the coated jobs with their rows, ascending by key.
#[derive(Debug)]
pub(super) struct Rows {
    keys: Vec<i64>,
    /// The row of each key; empty where that is the key's own place.
    rows: Vec<usize>,
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

    /// From the first key on.
    pub(super) fn walk(&self) -> Walk<'_> {
        Walk { of: self, at: 0 }
    }
}

/// Finds keys one after another: those that ascend, as the queries' results
/// do, at a step each; any other by halving.
pub(super) struct Walk<'a> {
    of: &'a Rows,
    /// Where the last key was found.
    at: usize,
}

impl Walk<'_> {
    /// The row of a key; `None` where no coated job bears it.
    pub(super) fn find(&mut self, key: i64) -> Option<usize> {
        let keys = &self.of.keys;
        let near = |at: &usize| keys.get(*at) == Some(&key);
        let at = match [self.at, self.at + 1].iter().find(|at| near(at)) {
            Some(at) => *at,
            None => keys.binary_search(&key).ok()?,
        };
        self.at = at;
        match self.of.rows.as_slice() {
            [] => Some(at),
            rows => Some(rows[at]),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_is_found_in_any_order() {
        for keys in [vec![2, 3, 5, 9], vec![5, 2, 9, 3]] {
            let rows = Rows::of(keys.clone());
            let asked = [2, 2, 3, 4, 9, 5, 1, 10, 3, 3, 5];
            let mut walk = rows.walk();
            for key in asked {
                let expected = keys.iter().position(|k| *k == key);
                assert_eq!(walk.find(key), expected, "{key} of {keys:?}");
            }
        }
        assert_eq!(Rows::of(Vec::new()).walk().find(1), None);
    }
}
