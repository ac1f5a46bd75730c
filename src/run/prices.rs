//! What a mL and an hour cost, from bottles and wages or the constants.

use crate::findings::coating_cost::Bought;
use crate::findings::money::Rates;
use crate::findings::{Lacking, Missing, Prices, Scope, Source};
use crate::measures::{CoatedJob, Measures};
use crate::settings::constants::Record;
use crate::settings::shop::Shop;

pub(super) fn prices(m: &Measures, scope: &Scope, record: Option<&Record>, shop: &Shop) -> Prices {
    let opened = m.bottles.iter().filter(|b| scope.in_window(b.month));
    let bought = Bought::of(opened);
    let from_bottles = bought.map(|b| b.per_ml);
    let scale = shop.money.currency.scale() as f64;
    let in_force = record.and_then(|r| r.cost_per_ml).map(|x| x * scale);
    let on_list = mean_wage(m, scope);
    let wage_in_force = record.and_then(|r| r.hourly_cost).map(|x| x * scale);
    Prices {
        bought,
        per_ml_used: from_bottles.or(in_force),
        per_ml_from: source(from_bottles, in_force),
        per_ml_in_force: in_force,
        wage: on_list.or(wage_in_force),
        wage_from: source(on_list, wage_in_force),
    }
}

fn source(data: Option<f64>, constants: Option<f64>) -> Source {
    match (data, constants) {
        (Some(_), _) => Source::Data,
        (None, Some(_)) => Source::Constants,
        (None, None) => Source::Nowhere,
    }
}

/// Mean wage of those who applied the coating, by jobs; of everyone on the
/// list where no job names its person.
fn mean_wage(m: &Measures, scope: &Scope) -> Option<f64> {
    let wages = m.wage_of_each();
    let of_job = |j: &CoatedJob| *wages.get(j.person? as usize)?;
    let window = m.coated.iter().filter(|j| scope.in_window(j.month));
    let by_jobs: Vec<f64> = window.filter_map(of_job).collect();
    let listed: Vec<f64> = m.wages.values().map(|w| w.as_f64()).collect();
    let mean = |x: &[f64]| (!x.is_empty()).then(|| x.iter().sum::<f64>() / x.len() as f64);
    mean(&by_jobs).or_else(|| mean(&listed))
}

pub(super) fn rates(p: &Prices) -> Result<Rates, Missing> {
    let per_ml = p
        .per_ml_used
        .ok_or(Missing::NoPrice(Lacking::CoatingCost))?;
    let wage = p.wage.ok_or(Missing::NoPrice(Lacking::Wage))?;
    Ok(Rates { per_ml, wage })
}
