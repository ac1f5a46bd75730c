//! What the fits say of every constant, beside what is in force.

use super::estimates::{Basis, Kinds, Time, Use};
use super::read::Folder;
use crate::estimate::{Figure, NotEnough};
use crate::findings::FindError;
use crate::findings::backtest::Backtest;
use crate::findings::coating_cost::Bought;
use crate::findings::margin::LEVEL;
use crate::findings::money::Expected;
use crate::findings::recalibrate::{self, Constant, Found, MATTERS, Recalibration};
use crate::findings::{Missing, Prices};
use crate::fits::error::FitError;
use crate::fits::mean::Sample;
use crate::measures::Names;
use crate::settings::constants::Record;

/// What the jobs say.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fitted<'a> {
    pub(super) used: Result<&'a Use, &'a Missing>,
    pub(super) time: Result<&'a Time, &'a Missing>,
    /// Of every coated job.
    pub(super) expected: &'a [Expected],
}

/// Decides every constant of the month.
pub(super) fn recalibration(
    b: &Basis<'_>,
    fitted: Fitted<'_>,
    prices: &Prices,
    backtest: Backtest,
    folder: &Folder,
) -> Result<Recalibration, FindError> {
    let scale = folder.shop.money.currency.scale() as f64;
    let mut found = of_use(b, fitted);
    found.extend(of_minutes(b, fitted.time));
    let per_ml = Bought::figure(prices.bought.as_ref()).map(|x| x / scale);
    found.push(Found {
        exact: true,
        ..single(Constant::CostPerMl, "bottles", per_ml)
    });
    let wage = wage(b)?.map(|x| x / scale);
    found.push(single(Constant::HourlyCost, "jobs", wage));
    let end = b.scope.month.last();
    let mut days = folder.constants.records.iter().map(|r| r.effective_on);
    let later = days.find(|d| *d > end && b.record.is_some_and(|r| r.effective_on < *d));
    Ok(recalibrate::find(
        found,
        backtest,
        b.record,
        later,
        b.scope.month,
    ))
}

fn single(constant: Constant, of: &'static str, figure: Figure) -> Found {
    Found {
        constant,
        key: String::new(),
        of,
        blended: figure.clone(),
        data_alone: figure,
        matters: None,
        exact: false,
        residual: None,
    }
}

/// Names of the data that are told apart, then others that the record has.
fn keys<'a>(names: &[&'a str], record: Option<&'a Record>, constant: Constant) -> Vec<&'a str> {
    let of = |r: &'a Record| match constant {
        Constant::Minutes => &r.minutes,
        _ => &r.ml_per_m2,
    };
    let listed = record.into_iter().flat_map(|r| of(r).keys());
    let more = listed.map(String::as_str).filter(|k| !names.contains(k));
    names.iter().copied().chain(more).collect()
}

/// The figure of a kind that is too rare to be told apart.
fn rare(kinds: &Kinds, names: &Names, key: &str) -> Option<Figure> {
    let number = names.find(key)?;
    (kinds.column(number).is_none()).then(|| kinds.too_rare(number).into())
}

/// A missing fit's figure.
fn lacking(why: Option<&Missing>, of: &str) -> Figure {
    match why {
        Some(Missing::TooFew(n)) => n.clone().into(),
        _ => NotEnough::new(0, 2, of).into(),
    }
}

fn of_use(b: &Basis<'_>, fitted: Fitted<'_>) -> Vec<Found> {
    let used = fitted.used;
    let none = || lacking(used.err(), "jobs with known use that carry it");
    let setup = used.ok().map(|u| &u.fit.setup);
    let mut all = vec![Found {
        constant: Constant::SetupMl,
        key: String::new(),
        of: "jobs",
        data_alone: setup.map_or_else(none, |c| c.data_alone.clone()),
        blended: setup.map_or_else(none, |c| c.blended.clone()),
        matters: typical_use(b, fitted.expected).map(|ml| MATTERS * ml),
        exact: false,
        residual: None,
    }];
    let finishes = &b.columns.finishes;
    let names: Vec<&str> = finishes.names(&b.measures.finishes).collect();
    for (i, key) in keys(&names, b.record, Constant::MlPerM2)
        .into_iter()
        .enumerate()
    {
        let fit = used.ok().and_then(|u| u.fit.finishes.get(i));
        let none = || rare(finishes, &b.measures.finishes, key).unwrap_or_else(none);
        all.push(Found {
            constant: Constant::MlPerM2,
            key: key.to_string(),
            of: "jobs",
            data_alone: fit.map_or_else(none, |c| c.data_alone.clone()),
            blended: fit.map_or_else(none, |c| c.blended.clone()),
            matters: None,
            exact: false,
            residual: None,
        });
    }
    all
}

/// What the window's coated jobs take on average [mL].
fn typical_use(b: &Basis<'_>, expected: &[Expected]) -> Option<f64> {
    let jobs = b.measures.coated.iter().zip(expected);
    let jobs = jobs.filter(|(j, _)| b.scope.in_window(j.month));
    let each: Vec<f64> = jobs.filter_map(|(_, expected)| expected.use_ml).collect();
    (!each.is_empty()).then(|| each.iter().sum::<f64>() / each.len() as f64)
}

fn of_minutes(b: &Basis<'_>, time: Result<&Time, &Missing>) -> Vec<Found> {
    let none = || lacking(time.err(), "timed jobs that carry it");
    let classes = &b.columns.classes;
    let names: Vec<&str> = classes.names(&b.measures.classes).collect();
    let found = |(i, key): (usize, &str)| {
        let none = || rare(classes, &b.measures.classes, key).unwrap_or_else(none);
        let fit = time.ok().and_then(|t| t.fit.classes.get(i));
        // A small share of the minutes is about the same on the log scale.
        let sd = time.ok().and_then(|t| t.fit.residual_sd.value());
        let typical = fit.and_then(|c| c.data_alone.typical.value());
        Found {
            residual: sd.zip(typical).map(|(sd, typical)| sd * typical),
            constant: Constant::Minutes,
            key: key.to_string(),
            of: "jobs",
            data_alone: fit.map_or_else(none, |c| c.data_alone.typical.clone()),
            blended: fit.map_or_else(none, |c| c.blended.typical.clone()),
            matters: None,
            exact: false,
        }
    };
    let keys = keys(&names, b.record, Constant::Minutes);
    keys.into_iter().enumerate().map(found).collect()
}

/// Wage before loading of those who did the window's jobs, job by job [minor
/// units per hour].
fn wage(b: &Basis<'_>) -> Result<Figure, FitError> {
    let jobs = b.measures.coated.iter();
    let jobs = jobs.filter(|j| b.scope.in_window(j.month));
    let wages = jobs.filter_map(|j| *b.columns.wages.get(j.person? as usize)?);
    match Sample::of(wages)?.estimate(LEVEL) {
        Ok(e) => Ok(e.into()),
        Err(FitError::NotEnough(n)) => {
            Ok(NotEnough::new(n.have, n.need, "jobs whose person has a wage on the list").into())
        }
        Err(other) => Err(other),
    }
}
