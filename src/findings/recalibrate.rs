//! Which constants to change, decided once: a constant is proposed where the
//! data's interval excludes the one in force and the refit predicted better
//! over the last months; else it is kept, or there is not enough to say.

use super::backtest::{Backtest, Compared};
use crate::estimate::{Estimate, Figure, NotEnough};
use crate::settings::constants::Record;
use crate::settings::month::Month;
use chrono::NaiveDate;
use serde::Serialize;
use std::collections::BTreeMap;

/// An error of this share of a typical job is worth finding; an interval that
/// could not see it says "not enough". Common practice, no published source.
pub const MATTERS: f64 = 0.10;
/// Predicted jobs (or bottles) that it takes to call one set of constants the
/// better predictor.
pub const LEAST_PREDICTED: u64 = 5;
/// Half width of a 95 % interval, in standard errors, with many observations.
const NORMAL: f64 = 1.96;
/// Significant digits of a proposed constant.
const DIGITS: i32 = 3;

/// A kind of constant, by its name in constants.toml.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Constant {
    /// mL a job.
    SetupMl,
    /// mL/m², by finish.
    MlPerM2,
    /// Typical minutes of a full job on the smoothest finish, by class.
    Minutes,
    /// Major units per mL.
    CostPerMl,
    /// Major units per hour, before loading.
    HourlyCost,
}

impl Constant {
    /// Its name in constants.toml.
    pub fn name(self) -> &'static str {
        match self {
            Self::SetupMl => "setup_ml",
            Self::MlPerM2 => "ml_per_m2",
            Self::Minutes => "minutes",
            Self::CostPerMl => "cost_per_ml",
            Self::HourlyCost => "hourly_cost",
        }
    }

    /// The constant of a record.
    pub fn of(self, record: &Record, key: &str) -> Option<f64> {
        match self {
            Self::SetupMl => record.setup_ml,
            Self::MlPerM2 => record.ml_per_m2.get(key).copied(),
            Self::Minutes => record.minutes.get(key).copied(),
            Self::CostPerMl => record.cost_per_ml,
            Self::HourlyCost => record.hourly_cost,
        }
    }

    /// Puts it into a record.
    fn put(self, record: &mut Record, key: &str, value: f64) {
        match self {
            Self::SetupMl => record.setup_ml = Some(value),
            Self::MlPerM2 => drop(record.ml_per_m2.insert(key.into(), value)),
            Self::Minutes => drop(record.minutes.insert(key.into(), value)),
            Self::CostPerMl => record.cost_per_ml = Some(value),
            Self::HourlyCost => record.hourly_cost = Some(value),
        }
    }
}

/// What to do with a constant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Change it.
    Adopt,
    /// Leave it.
    Keep,
    /// Not enough to say.
    NotEnough,
}

/// Why.
#[derive(Debug, Clone, PartialEq)]
pub enum Why {
    /// The interval excludes the constant and the refit predicted better.
    PredictsBetter(Compared),
    /// None is in force.
    NoneInForce,
    /// The interval holds the constant and is narrow enough to have seen an
    /// error that matters.
    Agrees,
    /// The interval excludes it, but the refit did not predict better.
    PredictsNoBetter(Compared),
    /// The new one is the old one, to the digits in which constants are kept.
    SameDigits,
    /// No figure from the data.
    NoFigure(NotEnough),
    /// The interval is too wide to tell: so many more observations would.
    TooWide {
        /// More of them.
        more: u64,
        /// The least of the two aims was to exclude the constant, if the
        /// estimate stays; else to see an error that matters.
        to_exclude: bool,
    },
    /// The interval holds the constant and is too wide to tell, but people
    /// differ by more than any number of jobs would narrow.
    PeopleDiffer,
    /// The interval excludes it, but too little could be predicted to prove
    /// the new one.
    Unproven(NotEnough),
}

/// One constant.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Which.
    pub constant: Constant,
    /// Finish or class; empty where it has none.
    pub key: String,
    /// What is counted by `n`: "jobs", "bottles".
    pub of: &'static str,
    /// The constant in force.
    pub in_force: Option<f64>,
    /// By the data alone.
    pub data_alone: Figure,
    /// With the constants in force as evidence.
    pub blended: Figure,
    /// Both on the jobs that rest on it.
    pub proof: Option<Compared>,
    /// What was predicted for it: "jobs", "bottles".
    pub proof_of: &'static str,
    /// What to do.
    pub verdict: Verdict,
    /// Why.
    pub why: Why,
    /// The value to adopt.
    pub proposed: Option<f64>,
}

/// What was found for one constant.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// Which.
    pub constant: Constant,
    /// Finish or class; empty where it has none.
    pub key: String,
    /// What is counted.
    pub of: &'static str,
    /// By the data alone.
    pub data_alone: Figure,
    /// With the constants in force.
    pub blended: Figure,
    /// An error of this size matters; `None`: [`MATTERS`] of the constant.
    pub matters: Option<f64>,
    /// Residual standard deviation of one observation, where more of them
    /// narrow only that part of the interval; `None`: they narrow all of it.
    pub residual: Option<f64>,
}

/// All constants, and what is proposed.
#[derive(Debug, Clone, PartialEq)]
pub struct Recalibration {
    /// One a constant, in the order of constants.toml.
    pub lines: Vec<Line>,
    /// Rolling origin over the last months.
    pub backtest: Backtest,
    /// The next record, where anything is to be adopted.
    pub proposed: Option<Record>,
    /// First day of a record that starts after the month.
    pub later: Option<NaiveDate>,
}

impl Recalibration {
    /// Lines of some kinds.
    pub fn of<'a>(&'a self, kinds: &'a [Constant]) -> impl Iterator<Item = &'a Line> {
        self.lines.iter().filter(|l| kinds.contains(&l.constant))
    }

    /// The value to adopt for a constant, where one is proposed.
    pub fn to_adopt(&self, constant: Constant, key: &str) -> Option<f64> {
        let mut lines = self.lines.iter();
        lines
            .find(|l| l.constant == constant && l.key == key)?
            .proposed
    }
}

/// Decides every constant. `record`: those in force at the end of `month`;
/// `later`: when the next record after it starts.
pub fn find(
    found: Vec<Found>,
    backtest: Backtest,
    record: Option<&Record>,
    later: Option<NaiveDate>,
    month: Month,
) -> Recalibration {
    let lines: Vec<Line> = (found.into_iter())
        .map(|f| line(f, record, &backtest))
        .collect();
    Recalibration {
        proposed: proposed(&lines, record, month),
        lines,
        backtest,
        later,
    }
}

/// First day of the record that a review of `month` proposes.
pub fn effective_on(month: Month) -> NaiveDate {
    month.plus(1).first()
}

fn proposed(lines: &[Line], record: Option<&Record>, month: Month) -> Option<Record> {
    let mut next = record.cloned().unwrap_or(Record {
        effective_on: effective_on(month),
        source: String::new(),
        setup_ml: None,
        cost_per_ml: None,
        hourly_cost: None,
        ml_per_m2: BTreeMap::new(),
        minutes: BTreeMap::new(),
        full_area: BTreeMap::new(),
        list_price: BTreeMap::new(),
    });
    next.effective_on = effective_on(month);
    next.source = format!("recalibrated from review {month}");
    let mut any = false;
    for line in lines {
        if let Some(value) = line.proposed {
            line.constant.put(&mut next, &line.key, value);
            any = true;
        }
    }
    any.then_some(next)
}

fn line(f: Found, record: Option<&Record>, backtest: &Backtest) -> Line {
    let in_force = record.and_then(|r| f.constant.of(r, &f.key));
    let proof = backtest
        .by_constant
        .get(&(f.constant, f.key.clone()))
        .copied();
    let of_use = matches!(f.constant, Constant::SetupMl | Constant::MlPerM2);
    let bottles = of_use && backtest.use_by_bottles;
    let proof_of = if bottles { "bottles" } else { f.of };
    let (verdict, why) = decide(&f, in_force, proof, proof_of);
    let value = f.blended.value().map(to_digits);
    Line {
        proposed: value.filter(|_| verdict == Verdict::Adopt),
        constant: f.constant,
        key: f.key,
        of: f.of,
        in_force,
        data_alone: f.data_alone,
        blended: f.blended,
        proof,
        proof_of,
        verdict,
        why,
    }
}

fn decide(
    f: &Found,
    in_force: Option<f64>,
    proof: Option<Compared>,
    proof_of: &str,
) -> (Verdict, Why) {
    let estimate = match &f.data_alone {
        Figure::Known(e) => *e,
        Figure::NotEnough(n) => return (Verdict::NotEnough, Why::NoFigure(n.clone())),
    };
    let proposed = f.blended.value().map_or(estimate.value, to_digits);
    let Some(constant) = in_force else {
        // A constant of 0 is none: constants.toml refuses it too, set-up apart.
        return if proposed > 0.0 {
            (Verdict::Adopt, Why::NoneInForce)
        } else {
            (Verdict::Keep, Why::SameDigits)
        };
    };
    if estimate.holds(constant) {
        let matters = f.matters.unwrap_or(MATTERS * constant);
        return agrees_or_wide(&estimate, constant, matters, f.residual);
    }
    if proposed == to_digits(constant) || proposed <= 0.0 {
        return (Verdict::Keep, Why::SameDigits);
    }
    match proof {
        Some(p) if p.jobs >= LEAST_PREDICTED => {
            if p.refit.mean_absolute_error < p.in_force.mean_absolute_error {
                (Verdict::Adopt, Why::PredictsBetter(p))
            } else {
                (Verdict::Keep, Why::PredictsNoBetter(p))
            }
        }
        p => {
            let have = p.map_or(0, |p| p.jobs);
            let of = format!("{proof_of} predicted beforehand");
            let n = NotEnough::new(have, LEAST_PREDICTED, of);
            (Verdict::NotEnough, Why::Unproven(n))
        }
    }
}

/// An interval that holds the constant agrees where it could have seen an
/// error that matters; else the number of observations grows until it could,
/// or until it would exclude the constant. The part of the squared half width
/// that is residual falls with 1/n, and the rest stays.
fn agrees_or_wide(
    e: &Estimate,
    constant: f64,
    matters: f64,
    residual: Option<f64>,
) -> (Verdict, Why) {
    let half = (e.high - e.low) / 2.0;
    if half <= matters {
        return (Verdict::Keep, Why::Agrees);
    }
    let off = (e.value - constant).abs();
    let to_exclude = off > matters;
    let aim = off.max(matters);
    let n = e.n as f64;
    let one = residual.map_or(half * n.sqrt(), |sd| (NORMAL * sd).min(half * n.sqrt()));
    let stays = half * half - one * one / n;
    let room = aim * aim - stays;
    if room <= 0.0 {
        return (Verdict::Keep, Why::PeopleDiffer);
    }
    let more = ((one * one / room).ceil() - n).clamp(1.0, 1e9) as u64;
    (Verdict::NotEnough, Why::TooWide { more, to_exclude })
}

/// `x` to [`DIGITS`] significant digits.
fn to_digits(x: f64) -> f64 {
    if x == 0.0 || !x.is_finite() {
        return x;
    }
    let places = DIGITS - 1 - x.abs().log10().floor() as i32;
    if places >= 0 {
        let scale = 10_f64.powi(places);
        (x * scale).round() / scale
    } else {
        let scale = 10_f64.powi(-places);
        (x / scale).round() * scale
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::backtest::Score;

    fn known(value: f64, half: f64) -> Figure {
        Figure::Known(Estimate {
            value,
            low: value - half,
            high: value + half,
            level: 0.95,
            n: 40,
        })
    }

    fn found(figure: Figure) -> Found {
        Found {
            constant: Constant::MlPerM2,
            key: "matte".into(),
            of: "jobs",
            blended: figure.clone(),
            data_alone: figure,
            matters: None,
            residual: None,
        }
    }

    fn proof(in_force: f64, refit: f64, jobs: u64) -> Option<Compared> {
        let score = |mean_absolute_error| Score {
            bias: 0.0,
            mean_absolute_error,
            cover: 0.8,
        };
        Some(Compared {
            jobs,
            in_force: score(in_force),
            refit: score(refit),
        })
    }

    #[test]
    fn adopted_only_where_excluded_and_predicting_better() {
        let f = found(known(1.8, 0.1));
        let verdict = |c, p| decide(&f, Some(c), p, "jobs").0;
        assert_eq!(verdict(1.5, proof(3.0, 2.0, 20)), Verdict::Adopt);
        assert_eq!(verdict(1.5, proof(2.0, 2.0, 20)), Verdict::Keep);
        assert_eq!(verdict(1.5, proof(3.0, 2.0, 4)), Verdict::NotEnough);
        assert_eq!(verdict(1.5, None), Verdict::NotEnough);
        assert_eq!(verdict(1.75, proof(3.0, 2.0, 20)), Verdict::Keep);
        assert_eq!(
            decide(&f, None, None, "jobs"),
            (Verdict::Adopt, Why::NoneInForce)
        );
    }

    /// By hand: 40 observations, half width 0.4. To see 0.18 (a tenth of 1.8)
    /// it takes 40 (0.4/0.18)^2 = 197.5; off by 0.3, it takes 40 (0.4/0.3)^2 =
    /// 71.1 to exclude.
    #[test]
    fn how_many_more_by_hand() {
        let wide =
            |value, constant| decide(&found(known(value, 0.4)), Some(constant), None, "jobs").1;
        let more = |more, to_exclude| Why::TooWide { more, to_exclude };
        assert_eq!(wide(1.8, 1.8), more(158, false));
        assert_eq!(wide(2.1, 1.8), more(32, true));
        // With a residual of 0.5 only (1.96 x 0.5)^2/40 = 0.024 of 0.16
        // shrinks, and 0.136 is over 0.18^2: no number of jobs will do. With
        // one of 1.25 0.150 shrinks and 0.00994 stays: 6.0025/(0.0324 -
        // 0.00994) = 267.2.
        let with = |residual| {
            let f = Found {
                residual: Some(residual),
                ..found(known(1.8, 0.4))
            };
            decide(&f, Some(1.8), None, "jobs")
        };
        assert_eq!(with(0.5), (Verdict::Keep, Why::PeopleDiffer));
        assert_eq!(with(1.25).1, more(228, false));
    }

    #[test]
    fn the_next_record_changes_what_is_adopted_and_carries_the_rest() {
        let month = Month::parse("2026-10").unwrap();
        let old = Record {
            effective_on: month.plus(-5).first(),
            source: "set by hand".into(),
            setup_ml: Some(1.2),
            cost_per_ml: Some(2.9),
            hourly_cost: None,
            ml_per_m2: BTreeMap::from([("gloss".into(), 1.5), ("matte".into(), 1.5)]),
            minutes: BTreeMap::from([("suv".into(), 42.0)]),
            full_area: BTreeMap::from([("suv".into(), 21.0)]),
            list_price: BTreeMap::from([("suv".into(), 310.0)]),
        };
        let mut backtest = Backtest {
            from: month,
            until: month,
            months: 1,
            use_ml: None,
            minutes: None,
            money: None,
            use_by_bottles: false,
            by_constant: BTreeMap::new(),
        };
        let none = find(
            vec![found(known(1.52, 0.1))],
            backtest.clone(),
            Some(&old),
            None,
            month,
        );
        assert_eq!(none.proposed, None);
        let key = (Constant::MlPerM2, "matte".to_string());
        backtest
            .by_constant
            .extend(proof(3.0, 2.0, 20).map(|p| (key, p)));
        let some = find(
            vec![found(known(1.8036, 0.1))],
            backtest,
            Some(&old),
            None,
            month,
        );
        let next = some.proposed.unwrap();
        assert_eq!(next.effective_on.to_string(), "2026-11-01");
        assert_eq!(next.source, "recalibrated from review 2026-10");
        assert_eq!(next.ml_per_m2["matte"], 1.8);
        let carried = Record {
            effective_on: old.effective_on,
            source: old.source.clone(),
            ml_per_m2: old.ml_per_m2.clone(),
            ..next
        };
        assert_eq!(carried, old);
    }

    #[test]
    fn three_digits() {
        assert_eq!(to_digits(1.8036), 1.8);
        assert_eq!(to_digits(42.349), 42.3);
        assert_eq!(to_digits(1234.0), 1230.0);
        assert_eq!(to_digits(0.028_449), 0.0284);
        assert_eq!(to_digits(0.0), 0.0);
    }
}
