//! Predictions of many jobs by one fit: what all jobs share is made once.

use super::blend::Posterior;
use super::design::NewJob;
use super::fit::MinutesFit;
use crate::estimate::Estimate;
use crate::fits::dist::t_margin;
use crate::fits::error::FitError;
use crate::fits::evidence::Source;
use crate::fits::interval::check_level;

/// What one new job is predicted to take [min].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Predicted {
    /// Mean of such jobs.
    pub average: f64,
    /// As that of [`JobMinutes`](super::JobMinutes).
    pub range: Estimate,
}

/// A fit that predicts jobs by one source, with ranges of one level.
#[derive(Debug, Clone)]
pub struct Predictor<'f> {
    fit: &'f MinutesFit,
    source: Source,
    level: f64,
    /// Where jobs and constants are blended.
    blended: Option<Blended<'f>>,
}

/// What blended predictions share.
#[derive(Debug, Clone)]
struct Blended<'f> {
    posterior: &'f Posterior,
    /// tau^2 + sigma^2.
    total: f64,
    /// Half the width of a range in standard errors.
    margin: f64,
    /// By column: it has no figure.
    lacks: Vec<bool>,
    /// By class: its constant makes up for its column.
    constant: Vec<bool>,
}

impl MinutesFit {
    /// To predict many jobs with.
    ///
    /// # Errors
    /// [`FitError::Parameter`] for the level of their ranges.
    pub fn predictor(&self, source: Source, level: f64) -> Result<Predictor<'_>, FitError> {
        check_level(level)?;
        Ok(Predictor {
            fit: self,
            source,
            level,
            blended: self.blended(source, level),
        })
    }

    fn blended(&self, source: Source, level: f64) -> Option<Blended<'_>> {
        let posterior = self.posterior.as_ref();
        let posterior = posterior.filter(|_| source == Source::Blended)?;
        let lacks = |column| self.model.missing(column).is_some();
        let constant = |class| self.has_constant(source, class);
        Some(Blended {
            posterior,
            total: self.total?.value,
            margin: t_margin(level, self.model.fit.as_ref()?.total_variance_df()),
            lacks: (0..self.shape.columns()).map(lacks).collect(),
            constant: (0..self.shape.classes).map(constant).collect(),
        })
    }
}

impl Predictor<'_> {
    /// Average and range of a job as [`MinutesFit::one_job`] gives them.
    ///
    /// # Errors
    /// As [`MinutesFit::one_job`].
    pub fn predict(&self, job: &NewJob) -> Result<Predicted, FitError> {
        match &self.blended {
            Some(blended) => self.by(blended, job),
            None => self.one_by_one(job),
        }
    }

    fn by(&self, blended: &Blended<'_>, job: &NewJob) -> Result<Predicted, FitError> {
        let row = self.fit.shape.carried_by(job)?;
        let lacks = |j: usize| blended.lacks[j] && !(blended.constant[job.class] && j == job.class);
        if row.iter().any(|(j, _)| lacks(*j)) {
            // It says what is missing.
            return self.one_by_one(job);
        }
        let [value, variance] = blended.posterior.moments(&self.fit.model, &row);
        let error = variance.sqrt().hypot(blended.total.sqrt());
        let margin = blended.margin * error;
        let range = Estimate {
            value,
            low: value - margin,
            high: value + margin,
            level: self.level,
            n: self.fit.record.rows_used as u64,
        };
        Ok(Predicted {
            average: (value + blended.total / 2.0).exp(),
            range: range.map(f64::exp),
        })
    }

    fn one_by_one(&self, job: &NewJob) -> Result<Predicted, FitError> {
        let (mean, range) = self.fit.mean_and_range(self.source, job, self.level)?;
        let total = self.fit.total.ok_or_else(|| self.fit.model.too_few())?;
        Ok(Predicted {
            average: (mean.value + total.value / 2.0).exp(),
            range: range.map(f64::exp),
        })
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::fits::minutes::{Jobs, Minutes, Prior, Shape};

    const SHAPE: Shape = Shape {
        classes: 3,
        finishes: 2,
        smoothest: 0,
    };

    /// 60 jobs of two classes by three people; of the third class none.
    pub(in crate::fits::minutes) fn fit(third: Option<f64>) -> MinutesFit {
        let jobs = || 0..60_u32;
        let minutes = |i: u32| 40.0 + f64::from(i % 2 * 9 + i % 3 * 4 + i * 7 % 13);
        let minutes: Vec<f64> = jobs().map(minutes).collect();
        let class: Vec<usize> = jobs().map(|i| (i % 2) as usize).collect();
        let covered: Vec<f64> = jobs().map(|i| 0.5 + f64::from(i % 7) / 10.0).collect();
        let shares = |i: u32| if i % 5 < 2 { [1.0, 0.0] } else { [0.25, 0.75] };
        let shares: Vec<f64> = jobs().flat_map(shares).collect();
        let person: Vec<Option<u64>> = jobs().map(|i| Some(u64::from(i % 3))).collect();
        let jobs = Jobs::new(&minutes, &class, &covered, &shares, &person, SHAPE).unwrap();
        let prior = Prior {
            typical: vec![Some(45.0), None, third],
            jobs: 5.0,
        };
        let task = Minutes::new(jobs).with_prior(&prior).unwrap();
        task.fit().unwrap()
    }

    /// Job by job, by the whole formula.
    #[test]
    fn many_jobs_are_predicted_as_one_is() {
        for fit in [fit(Some(70.0)), fit(None)] {
            for source in [Source::Blended, Source::DataAlone] {
                let many = fit.predictor(source, 0.8).unwrap();
                let mut refused = 0;
                for (class, covered, second) in [
                    (0, 1.0, 0.0),
                    (1, 0.6, 0.5),
                    (2, 1.0, 1.0),
                    (3, 1.0, 1.0),
                    (0, 0.0, 0.0),
                ] {
                    let new = NewJob {
                        class,
                        covered,
                        finish_shares: &[1.0 - second, second],
                    };
                    let slow = fit.one_job(source, &new, 0.8);
                    let slow = slow.map(|j| (j.average.value, j.range));
                    refused += usize::from(slow.is_err());
                    let fast = many.predict(&new).map(|p| (p.average, p.range));
                    assert_eq!(format!("{fast:?}"), format!("{slow:?}"));
                }
                let known =
                    source == Source::Blended && fit.classes[2].blended.typical.known().is_some();
                assert_eq!(refused, if known { 2 } else { 3 });
            }
        }
        assert!(fit(None).predictor(Source::Blended, 1.5).is_err());
    }
}
