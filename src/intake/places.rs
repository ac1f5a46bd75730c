//! On which physical line each record of a chunk begins, in little memory:
//! most chunks hold nothing but records of one line.

/// First lines of records, counted from the chunk's first line.
#[derive(Debug)]
pub(super) enum Places {
    /// One record a line, from this line on.
    Running { first: u32, len: u32 },
    /// One line a record.
    Listed(Vec<u32>),
}

impl Places {
    /// Of lines in order.
    pub(super) fn of(lines: impl ExactSizeIterator<Item = u32> + Clone) -> Self {
        let first = lines.clone().next().unwrap_or(0);
        let running = lines.clone().zip(first..).all(|(line, n)| line == n);
        if running {
            let len = lines.len() as u32;
            return Self::Running { first, len };
        }
        Self::Listed(lines.collect())
    }

    pub(super) fn len(&self) -> usize {
        match self {
            Self::Running { len, .. } => *len as usize,
            Self::Listed(lines) => lines.len(),
        }
    }

    /// The line of a record.
    pub(super) fn line(&self, record: usize) -> u32 {
        match self {
            Self::Running { first, .. } => first + record as u32,
            Self::Listed(lines) => lines.get(record).copied().unwrap_or(0),
        }
    }

    /// The line of the last record.
    pub(super) fn last(&self) -> Option<u32> {
        self.len().checked_sub(1).map(|last| self.line(last))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_forms_give_the_same_lines() {
        for lines in [vec![], vec![3, 4, 5], vec![0, 2, 3]] {
            let places = Places::of(lines.iter().copied());
            assert_eq!(places.len(), lines.len());
            assert_eq!(places.last(), lines.last().copied());
            let back: Vec<u32> = (0..places.len()).map(|i| places.line(i)).collect();
            assert_eq!(back, lines);
        }
        assert!(matches!(
            Places::of([3, 4].into_iter()),
            Places::Running { .. }
        ));
        assert!(matches!(Places::of([3, 5].into_iter()), Places::Listed(_)));
    }
}
