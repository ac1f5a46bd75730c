//! Jobs in blocks (months, say), each gone through once: fits over runs of
//! blocks then start from sums, whatever the number of jobs.

use super::Minutes;
use super::design::{Jobs, Logs};
use super::gathered::Gathered;
use crate::fits::error::FitError;
use std::ops::Range;

/// Timed jobs in blocks that follow one another.
#[derive(Debug, Clone)]
pub struct Blocks<'a> {
    jobs: Jobs<'a>,
    logs: Vec<Logs>,
    /// First job of each block, and the number of jobs.
    starts: Vec<usize>,
    gathered: Vec<Gathered>,
}

impl<'a> Blocks<'a> {
    /// `ends`: one past the last job of each block, ascending.
    ///
    /// # Errors
    /// [`FitError::Shape`] where the last end is not the number of jobs, or an
    /// end is less than the one before.
    pub fn new(jobs: Jobs<'a>, ends: &[usize]) -> Result<Self, FitError> {
        let starts: Vec<usize> = std::iter::once(0).chain(ends.iter().copied()).collect();
        let found = starts.last().copied().unwrap_or(0);
        if !starts.is_sorted() || found != jobs.count() {
            return Err(FitError::Shape {
                what: "jobs in blocks",
                expected: jobs.count(),
                found,
            });
        }
        let logs = jobs.take_logs();
        let all = jobs.with_logs(&logs);
        let gather = |block: &[usize]| {
            let part = all.part(block[0], block[1]).with_columns_of(&all);
            part.gather(&part.empty())
        };
        Ok(Self {
            gathered: starts.windows(2).map(gather).collect(),
            jobs,
            logs,
            starts,
        })
    }

    /// The jobs of some blocks, to be fitted as [`Minutes::new`] would fit
    /// them: to the last digits of sums made in another order.
    ///
    /// # Errors
    /// [`FitError::Shape`] for a block that is not there.
    pub fn over(&self, blocks: Range<usize>) -> Result<Minutes<'_>, FitError> {
        let missing = || FitError::Shape {
            what: "blocks of jobs",
            expected: self.gathered.len(),
            found: blocks.end,
        };
        let own = self.gathered.get(blocks.clone()).ok_or_else(missing)?;
        let all = self.jobs.with_logs(&self.logs);
        let jobs = all.part(self.starts[blocks.start], self.starts[blocks.end]);
        let mut sums: Option<Gathered> = None;
        if jobs.same_columns(&self.jobs) {
            for block in own {
                match &mut sums {
                    None => sums = Some(block.clone()),
                    Some(sums) => sums.merge(block)?,
                }
            }
        }
        Ok(Minutes {
            gathered: sums,
            ..Minutes::new(jobs)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fits::evidence::Source;
    use crate::fits::minutes::Prior;
    use crate::fits::minutes::{MinutesFit, NewJob, Shape};
    use crate::fits::robust::Outliers;

    const SHAPE: Shape = Shape {
        classes: 2,
        finishes: 2,
        smoothest: 0,
    };

    struct Shop {
        minutes: Vec<f64>,
        class: Vec<usize>,
        covered: Vec<f64>,
        shares: Vec<f64>,
        person: Vec<Option<u64>>,
    }

    /// 400 jobs of 5 people, one in seven shared, one in a hundred far off.
    fn shop() -> Shop {
        let jobs = || 0..400_u32;
        let part = |i: u32, by: u32, of: u32| f64::from((i * by) % of) / f64::from(of);
        let minutes = |i: u32| {
            let log =
                3.5 + 0.3 * f64::from(i % 2) + 0.1 * part(i % 5, 3, 5) + 0.3 * part(i, 7919, 997);
            let odd = if i % 100 == 42 { 2.5 } else { 0.0 };
            (log + odd).exp()
        };
        let share = |i: u32| {
            let second = f64::from(u8::from(i.is_multiple_of(3)));
            [1.0 - second, second]
        };
        Shop {
            minutes: jobs().map(minutes).collect(),
            class: jobs().map(|i| (i % 2) as usize).collect(),
            covered: jobs().map(|i| 0.5 + part(i, 13, 29)).collect(),
            shares: jobs().flat_map(share).collect(),
            person: jobs()
                .map(|i| (i % 7 != 0).then_some(u64::from(i % 5)))
                .collect(),
        }
    }

    impl Shop {
        fn jobs(&self) -> Jobs<'_> {
            let Self {
                minutes,
                class,
                covered,
                shares,
                person,
            } = self;
            Jobs::new(minutes, class, covered, shares, person, SHAPE).unwrap()
        }
    }

    /// The slow twin: the same jobs, gone through anew.
    #[test]
    fn a_run_of_blocks_is_fitted_as_its_jobs_are() {
        let shop = shop();
        let blocks = Blocks::new(shop.jobs(), &[90, 90, 200, 310, 400]).unwrap();
        for (run, [from, to]) in [(0..5, [0, 400]), (1..4, [90, 310]), (2..3, [90, 200])] {
            let fast = blocks.over(run).unwrap().fit().unwrap();
            let slow = Minutes::new(shop.jobs().part(from, to)).fit().unwrap();
            assert!(!slow.record.left_out.is_empty());
            let out = |fit: &MinutesFit| -> Vec<usize> {
                fit.record.left_out.iter().map(|l| l.row).collect()
            };
            assert_eq!(out(&fast), out(&slow));
            assert_eq!(fast.record.rows_used, slow.record.rows_used);
            let job = NewJob {
                class: 1,
                covered: 0.8,
                finish_shares: &[0.4, 0.6],
            };
            let range = |fit: &MinutesFit| {
                let found = fit.one_job(Source::DataAlone, &job, 0.8).unwrap();
                [found.range.low, found.range.high, found.average.high]
            };
            for (a, b) in range(&fast).into_iter().zip(range(&slow)) {
                assert!((a / b - 1.0).abs() < 1e-9, "{a} {b}");
            }
        }
    }

    /// The slow twin: the jobs left out were never handed in.
    #[test]
    fn jobs_taken_off_leave_the_fit_of_the_others() {
        let shop = shop();
        let fast = Minutes::new(shop.jobs()).fit().unwrap();
        let out = |row: &usize| fast.record.left_out.iter().any(|l| l.row == *row);
        let rows: Vec<usize> = (0..400).filter(|row| !out(row)).collect();
        assert!(rows.len() < 400);
        let others = Shop {
            minutes: rows.iter().map(|i| shop.minutes[*i]).collect(),
            class: rows.iter().map(|i| shop.class[*i]).collect(),
            covered: rows.iter().map(|i| shop.covered[*i]).collect(),
            shares: (rows.iter().flat_map(|i| &shop.shares[2 * i..2 * i + 2]))
                .copied()
                .collect(),
            person: rows.iter().map(|i| shop.person[*i]).collect(),
        };
        let slow = Minutes::new(others.jobs()).with_outliers(Outliers::Keep);
        let slow = slow.fit().unwrap();
        let figures = |fit: &MinutesFit| {
            let mixed = fit.mixed().unwrap();
            let mut all = vec![mixed.group_variance, mixed.residual_variance];
            all.extend(mixed.effects.iter().map(|e| e.value));
            all.extend(&mixed.coefficients);
            all
        };
        for (a, b) in figures(&fast).into_iter().zip(figures(&slow)) {
            assert!((a - b).abs() < 1e-10, "{a} {b}");
        }
    }

    /// Without intervals that nobody reads, a prediction is the same to the bit.
    #[test]
    fn a_fit_to_predict_with_predicts_what_the_whole_fit_does() {
        let shop = shop();
        let prior = Prior {
            typical: vec![Some(40.0), None],
            jobs: 5.0,
        };
        let task = Minutes::new(shop.jobs()).with_prior(&prior).unwrap();
        let whole = task.fit().unwrap();
        let quick = task.clone().for_prediction().fit().unwrap();
        for (source, class) in [(Source::DataAlone, 1), (Source::Blended, 0)] {
            let job = NewJob {
                class,
                covered: 0.8,
                finish_shares: &[0.4, 0.6],
            };
            let full = whole.one_job(source, &job, 0.8).unwrap();
            for fit in [&whole, &quick] {
                let found = fit.predictor(source, 0.8).unwrap();
                let found = found.predict(&job).unwrap();
                assert_eq!(found.range, full.range);
                assert_eq!(found.average, full.average.value);
            }
        }
        let spread = |fit: &MinutesFit| fit.person_sd.known().copied().unwrap();
        assert!(spread(&whole).low < spread(&whole).high);
        assert_eq!(spread(&quick).low, spread(&quick).high);
        assert_eq!(spread(&quick).value, spread(&whole).value);
    }

    #[test]
    fn blocks_that_do_not_fit_the_jobs_are_refused() {
        let shop = shop();
        for ends in [&[90, 399][..], &[200, 100, 400], &[]] {
            assert!(Blocks::new(shop.jobs(), ends).is_err(), "{ends:?}");
        }
        let blocks = Blocks::new(shop.jobs(), &[400]).unwrap();
        assert!(blocks.over(0..2).is_err());
        assert!(blocks.over(0..0).unwrap().fit().is_ok());
    }
}
