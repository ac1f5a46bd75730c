use super::decide::{decide, to_digits};
use super::*;
use crate::estimate::Estimate;
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
        exact: false,
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
    let wide = |value, constant| decide(&found(known(value, 0.4)), Some(constant), None, "jobs").1;
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

/// Set-up of 0.5 with an interval of 0.5 +- 1.2 cut at 0: it is as wide as its
/// upper half, 1.2, so an error of 1 could not have been seen.
#[test]
fn an_interval_cut_at_0_is_as_wide_as_its_other_side() {
    let cut = Figure::Known(Estimate {
        value: 0.5,
        low: 0.0,
        high: 1.7,
        level: 0.95,
        n: 40,
    });
    let f = Found {
        matters: Some(1.0),
        ..found(cut)
    };
    // 40 (1.2/1)^2 = 57.6.
    let wide = Why::TooWide {
        more: 18,
        to_exclude: false,
    };
    let got = decide(&f, Some(0.6), None, "jobs");
    assert_eq!(got, (Verdict::NotEnough, wide));
}

#[test]
fn a_fact_is_adopted_where_it_is_off_by_more_than_lots_are_and_predicted_better() {
    let f = Found {
        constant: Constant::CostPerMl,
        key: String::new(),
        of: "bottles",
        exact: true,
        ..found(known(2.9, 0.0))
    };
    let got = |constant, p| decide(&f, Some(constant), p, "bottles").0;
    assert_eq!(
        got(2.85, proof(3.0, 2.0, 20)),
        Verdict::Keep,
        "2.9 is 1.8 % more"
    );
    assert_eq!(decide(&f, Some(2.85), None, "bottles").1, Why::Close);
    assert_eq!(got(2.8, proof(3.0, 2.0, 20)), Verdict::Adopt);
    assert_eq!(got(2.8, proof(2.0, 2.0, 20)), Verdict::Keep);
    assert_eq!(got(2.8, proof(3.0, 2.0, 4)), Verdict::NotEnough);
}
