//! Which jobs a review rests on, and the rules of the workspace.

use super::super::date_of;
use super::super::error::{SettingsError, Source};
use super::super::raw::{RawReview, RawWindow, RawWorkspace};
use chrono::NaiveDate;

/// Which jobs the fits use, and how.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Review {
    /// Months up to the end of the month reviewed; `None` = all there are.
    pub window_months: Option<u32>,
    /// The data's last day, where the shop says so.
    pub data_until: Option<NaiveDate>,
    /// Leave far-off jobs out of the fits (never out of counts or money).
    pub leave_out: bool,
    /// The constants in force count as this many typical jobs per finish.
    pub evidence_jobs: f64,
    /// How far people are taken to differ before their jobs say so: scale of
    /// the prior of the spread between them, log scale.
    pub pace_prior_scale: f64,
}

impl Default for Review {
    fn default() -> Self {
        Self {
            window_months: Some(12),
            data_until: None,
            leave_out: true,
            evidence_jobs: 5.0,
            pace_prior_scale: 0.2,
        }
    }
}

/// Rules of the workspace: common practice, no published source.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Workspace {
    /// Air is to be above this [°C].
    pub air_min_c: f64,
    /// Relative humidity is to be under this [%].
    pub humidity_max: f64,
    /// The surface is to be this far above the dew point [°C].
    pub dew_point_margin_c: f64,
    /// Hours between the end of the work and the release.
    pub release_hours: f64,
}

impl Default for Workspace {
    fn default() -> Self {
        Self {
            air_min_c: 10.0,
            humidity_max: 70.0,
            dew_point_margin_c: 3.0,
            release_hours: 1.0,
        }
    }
}

pub(super) fn review(source: &Source, raw: RawReview) -> Result<Review, SettingsError> {
    let usual = Review::default();
    let window_months = match raw.window_months {
        None => usual.window_months,
        Some(RawWindow::Months(n)) if (1..=1200).contains(&n) => Some(n),
        Some(RawWindow::Word(w)) if w == "all" => None,
        Some(other) => {
            let found = match other {
                RawWindow::Months(n) => n.to_string(),
                RawWindow::Word(w) => format!("{w:?}"),
            };
            return Err(source.value(
                "review",
                "window_months",
                found,
                "a number of months from 1, or \"all\"",
            ));
        }
    };
    let leave_out = match raw.outliers.as_deref() {
        None | Some("leave_out") => true,
        Some("keep") => false,
        Some(other) => {
            return Err(source.value(
                "review",
                "outliers",
                format!("{other:?}"),
                "\"leave_out\" or \"keep\"",
            ));
        }
    };
    let evidence_jobs = raw.evidence_jobs.unwrap_or(usual.evidence_jobs);
    if !(0.0..=1000.0).contains(&evidence_jobs) {
        return Err(source.value("review", "evidence_jobs", evidence_jobs, "0 to 1000 jobs"));
    }
    let pace_prior_scale = raw.pace_prior_scale.unwrap_or(usual.pace_prior_scale);
    if !(0.01..=2.0).contains(&pace_prior_scale) {
        let expected = "0.01 to 2";
        return Err(source.value("review", "pace_prior_scale", pace_prior_scale, expected));
    }
    let data_until = raw
        .data_until
        .map(|d| {
            date_of(&d)
                .ok_or_else(|| source.value("review", "data_until", d, "a day, as 2026-10-31"))
        })
        .transpose()?;
    Ok(Review {
        window_months,
        data_until,
        leave_out,
        evidence_jobs,
        pace_prior_scale,
    })
}

/// Rules of the workspace, each within what weather and shops allow.
pub(super) fn workspace(source: &Source, raw: RawWorkspace) -> Result<Workspace, SettingsError> {
    let usual = Workspace::default();
    let within = |key: &str, given: Option<f64>, usual: f64, low: f64, high: f64| {
        let x = given.unwrap_or(usual);
        if (low..=high).contains(&x) {
            return Ok(x);
        }
        let expected = format!("a number from {low} to {high}");
        Err(source.value("workspace", key, x, expected))
    };
    Ok(Workspace {
        air_min_c: within("air_min_c", raw.air_min_c, usual.air_min_c, -90.0, 100.0)?,
        humidity_max: within(
            "humidity_max",
            raw.humidity_max,
            usual.humidity_max,
            0.0,
            100.0,
        )?,
        dew_point_margin_c: within(
            "dew_point_margin_c",
            raw.dew_point_margin_c,
            usual.dew_point_margin_c,
            0.0,
            100.0,
        )?,
        release_hours: within(
            "release_hours",
            raw.release_hours,
            usual.release_hours,
            0.0,
            24.0 * 365.0,
        )?,
    })
}
