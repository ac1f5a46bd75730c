//! The predictions' errors, over all and by constant.

use super::{JobErrors, Past, Predicted};
use crate::findings::backtest::{Backtest, Compared, Errors};
use crate::findings::recalibrate::{Constant, LEAST_PREDICTED};
use crate::settings::month::Month;
use std::collections::BTreeMap;

pub(super) fn scored(past: &Past<'_>, from: Month, until: Month, all: &[Predicted]) -> Backtest {
    let (classes, finishes) = (&past.columns.classes, &past.columns.finishes);
    let mut jobs = JobErrors::default();
    all.iter().for_each(|p| jobs.merge(&p.jobs));
    let something =
        |p: &&Predicted| p.jobs.use_ml.jobs > 0 || p.jobs.minutes.jobs > 0 || !p.bottles.is_empty();
    let mut by_constant = BTreeMap::new();
    let mut put = |constant, key: &str, found: Option<Compared>| {
        by_constant.extend(found.map(|c| ((constant, key.to_string()), c)));
    };
    let use_by_bottles = jobs.use_ml.jobs < LEAST_PREDICTED;
    let bottles = || all.iter().flat_map(|p| &p.bottles);
    put(
        Constant::SetupMl,
        "",
        match use_by_bottles {
            true => Compared::of(bottles().map(|(_, pair)| pair)),
            false => jobs.use_ml.compared(),
        },
    );
    let names = finishes.names(&past.measures.finishes);
    for (name, number) in names.zip(finishes.numbers()) {
        let on = bottles().filter(|(on, _)| on.contains(number));
        let of = match use_by_bottles {
            true => Compared::of(on.map(|(_, pair)| pair)),
            false => of(&jobs.by_finish, *number),
        };
        put(Constant::MlPerM2, name, of);
    }
    for &class in classes.numbers() {
        let name = past.measures.classes.name(class);
        put(Constant::Minutes, name, of(&jobs.by_class, class));
    }
    let prices = all.iter().flat_map(|p| &p.prices);
    put(Constant::CostPerMl, "", Compared::of(prices));
    put(Constant::HourlyCost, "", jobs.wage.compared());
    Backtest {
        from,
        until,
        months: all.iter().filter(something).count() as u64,
        use_ml: jobs.use_ml.compared(),
        minutes: jobs.minutes.compared(),
        money: jobs.money.compared(),
        use_by_bottles,
        by_constant,
    }
}

fn of(errors: &BTreeMap<u32, Errors>, number: u32) -> Option<Compared> {
    errors.get(&number)?.compared()
}
