//! The order of what to do next, on findings made by hand.

use super::super::attach::Attach;
use super::super::backtest::Backtest;
use super::super::floor::{Floor, Underpriced};
use super::super::groups::Groups;
use super::super::margin::Margin;
use super::super::money::JobMoney;
use super::super::price::{Price, Recorded, Unsaid};
use super::super::price_list::Judged;
use super::super::recalibrate::{Recalibration, Verdict as OfFigure, Why};
use super::super::{Missing, Prices, Scope, Source};
use super::*;
use crate::estimate::{Estimate, Figure, NotEnough};
use crate::settings::month::Month;
use std::collections::BTreeMap;

fn few() -> NotEnough {
    NotEnough::new(0, 1, "jobs")
}

fn missing<T>() -> Result<T, Missing> {
    Err(Missing::TooFew(few()))
}

fn sure(value: f64) -> Estimate {
    Estimate {
        value,
        low: value,
        high: value,
        level: 0.95,
        n: 30,
    }
}

fn change(certainty: Certainty, difference: f64) -> Change {
    Change {
        before: None,
        usual: None,
        difference: Some(sure(difference)),
        now: None,
        range: None,
        certainty,
    }
}

fn attach() -> Attach {
    Attach {
        eligible: 50,
        offered: 50,
        offer_unknown: 0,
        coated: 30,
        excluded: 0,
        rate: few().into(),
        acceptance: few().into(),
        months: Vec::new(),
        change: change(Certainty::Luck, 0.0),
        widened_by: 1.0,
        last_year: None,
    }
}

/// 30 coated jobs that left 8.00 less each, outside the limits.
fn margin() -> Margin {
    Margin {
        coated_jobs: 30,
        without_price: 0,
        without_cost: 0,
        use_estimated: 0,
        minutes_estimated: 0,
        total: JobMoney::default(),
        contribution: Minor::ZERO,
        rate: few().into(),
        per_job: few().into(),
        per_hands_on_hour: few().into(),
        per_bay_hour: few().into(),
        months: Vec::new(),
        change: change(Certainty::Outside, -800.0),
        discounts: Vec::new(),
    }
}

/// One job, 200.00 short.
fn floor() -> Floor {
    let job = Underpriced {
        shop: String::new(),
        job: "J1".into(),
        class: "van".into(),
        finish: "matte".into(),
        finishes: 1,
        seller: "P1".into(),
        price: Minor(10_000),
        floor: Minor(30_000),
        short: Minor(20_000),
        reasons: Vec::new(),
    };
    Floor {
        checked: 30,
        not_checked: 0,
        short_total: job.short,
        jobs: vec![job],
        causes: Vec::new(),
        points: Vec::new(),
    }
}

/// An entry whose mending would have brought 600.00 in a year at the same
/// sales.
fn price_list(would_leave: Result<Minor, NotEnough>) -> PriceList {
    let judged = Judged {
        cost: sure(15_000.0),
        floor: Minor(24_000),
        chance_under: 0.99,
        mend_to: Minor(24_000),
        would_bring: Minor(60_000),
        would_leave,
    };
    PriceList {
        entries: vec![Entry {
            class: "van".into(),
            finish: "matte".into(),
            list: Minor(22_000),
            sold: 30,
            judged: Ok(judged),
            verdict: Verdict::Under,
        }],
        others: 0,
        months: 12,
    }
}

/// Set-up takes `beyond` more than its figure [mL a job].
fn constants(beyond: f64) -> Recalibration {
    let line = Line {
        constant: Constant::SetupMl,
        key: String::new(),
        of: "jobs",
        in_force: Some(1.0),
        data_alone: Figure::Known(sure(1.0 + beyond)),
        blended: few().into(),
        exact: false,
        proof: None,
        proof_of: "jobs",
        verdict: OfFigure::Adopt,
        why: Why::NoneInForce,
        proposed: Some(1.0 + beyond),
    };
    let month = Month::new(2026, 10).unwrap();
    Recalibration {
        lines: vec![line],
        backtest: Backtest {
            from: month,
            until: month,
            months: 0,
            use_ml: None,
            minutes: None,
            money: None,
            use_by_bottles: false,
            by_constant: BTreeMap::new(),
        },
        proposed: None,
        later: None,
    }
}

fn findings(would_leave: Result<Minor, NotEnough>, beyond: f64) -> Findings {
    let month = Month::new(2026, 10).unwrap();
    Findings {
        scope: Scope {
            month,
            window_from: month.plus(-11),
        },
        data_until: month.plus(1).first(),
        unfinished: false,
        record: None,
        prices: Prices {
            bought: None,
            per_ml_used: Some(300.0),
            per_ml_from: Source::Constants,
            per_ml_in_force: Some(300.0),
            wage: None,
            wage_from: Source::Nowhere,
        },
        attach: attach(),
        groups: groups(),
        noticed: Default::default(),
        price: Price {
            recorded: Recorded::default(),
            said: Err(Unsaid::NotWritten),
        },
        margin: Ok(margin()),
        margin_groups: Default::default(),
        floor: Ok(floor()),
        price_list: Ok(price_list(would_leave)),
        reserve: missing(),
        moved: missing(),
        use_change: None,
        consumption: missing(),
        minutes: missing(),
        constants: constants(beyond),
        coating_cost: Default::default(),
        pace: missing(),
        shops: None,
        bottles: missing(),
        callbacks: missing(),
        workspace: missing(),
        durability: missing(),
        earned_before: None,
        restated: None,
    }
}

fn groups() -> Groups {
    Groups {
        shop: Vec::new(),
        film: Vec::new(),
        finish: Vec::new(),
        class: Vec::new(),
        sample: Vec::new(),
        sellers: Vec::new(),
        common: few().into(),
        samples: Vec::new(),
        coated_refused: 0,
        without_seller: 0,
        without_sample: 0,
    }
}

fn order(f: &Findings) -> Vec<(&'static str, i64)> {
    let name = |a: &Action| match a {
        Action::Replan(_) => "figures",
        Action::RaiseList(_) => "list",
        Action::LookInto(_) => "margin",
        Action::MendPrices(_) => "floor",
        Action::LeaveAlone(_) => "leave alone",
        _ => "other",
    };
    actions(f).iter().map(|a| (name(a), a.a_year().0)).collect()
}

/// By hand, a year: set-up 0.5 mL x 30 jobs x 3.00 x 12 = 540.00; the list
/// 600.00 at the same sales, by half 300.00; the month's margin 30 x 8.00 =
/// 240.00, once; the job under its floor 200.00, which finds no place.
#[test]
fn three_things_in_the_order_of_the_money_that_can_be_counted_on() {
    let f = findings(Err(few()), 0.5);
    assert_eq!(
        order(&f),
        [("figures", 54_000), ("list", 30_000), ("margin", 24_000)]
    );
}

/// Fewer takers would leave 900.00 more: it comes first. They would leave less:
/// it has no place.
#[test]
fn a_list_price_stands_where_fewer_takers_put_it() {
    assert_eq!(
        order(&findings(Ok(Minor(90_000)), 0.5)),
        [("list", 90_000), ("figures", 54_000), ("margin", 24_000)]
    );
    assert_eq!(
        order(&findings(Ok(Minor(-5_000)), 0.5)),
        [("figures", 54_000), ("margin", 24_000), ("floor", 20_000)]
    );
}

/// Set-up that takes less than its figure brings nothing by being written down.
#[test]
fn a_figure_that_cost_less_than_quoted_is_no_money() {
    assert_eq!(
        order(&findings(Err(few()), -0.5)),
        [("list", 30_000), ("margin", 24_000), ("floor", 20_000)]
    );
}
