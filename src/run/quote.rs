//! A quote: one job to come, from the window's fits and the constants in
//! force.

use super::estimates::{self, Basis, Columns, Time, Use};
use super::find::allow;
use super::made;
use super::money::accounts;
use super::prices::{prices, rates};
use super::read::{self, Folder};
use super::sales;
use super::{Error, Progress};
use crate::findings::Prices;
use crate::findings::floor;
use crate::findings::list_price::Rule;
use crate::findings::money::{Expected, with_tax};
use crate::findings::price_list::rounded_up;
use crate::findings::quote::{Coating, From, Lacks, Minutes, Money, Part, Quote, RANGE, Rests};
use crate::fits::evidence::Evidence;
use crate::measures::{self, CoatedJob, Text};
use crate::money::Minor;
use crate::pages;
use crate::settings::command::{FinishArg, QuoteArgs};
use crate::settings::constants::Record;
use crate::units::{M2_PER_FT2, System};
use std::collections::{BTreeMap, BTreeSet};

/// Quotes a job; returns what to print.
///
/// # Errors
/// Settings and intake's; a class or finish that neither jobs nor constants
/// know; areas that do not add up to a job.
pub fn quote(args: &QuoteArgs, progress: &mut dyn FnMut(Progress)) -> Result<String, Error> {
    let mut folder = read::read(&args.folder, args.month, progress)?;
    let record = folder
        .constants
        .in_force(folder.scope.month.last())
        .cloned();
    known(args, &folder, record.as_ref())?;
    let full_area: BTreeMap<String, f64> = (folder.measured.full_area.iter())
        .map(|f| (f.class.clone(), f.area))
        .collect();
    let listed = record.as_ref().and_then(|r| r.full_area.get(&args.class));
    let full = listed.or_else(|| full_area.get(&args.class)).copied();
    let system = folder.shop.page.system;
    let parts = parts(args, full, system)?;
    let job = job(&mut folder, &args.class, &parts, full);
    let quote = worked_out(&folder, record.as_ref(), &full_area, &job, args, parts)?;
    let format = made::format(&folder.shop);
    if args.json {
        Ok(pages::quote_json(&quote, &format)?)
    } else {
        Ok(pages::quote_text(&quote, &format))
    }
}

/// Refuses a class or finish that nothing is known of.
fn known(args: &QuoteArgs, folder: &Folder, record: Option<&Record>) -> Result<(), Error> {
    let m = &folder.measured;
    let mut classes: BTreeSet<&str> = m.classes.all().iter().map(String::as_str).collect();
    classes.extend(m.full_area.iter().map(|f| f.class.as_str()));
    let mut finishes: BTreeSet<&str> = m.finishes.all().iter().map(String::as_str).collect();
    if let Some(r) = record {
        classes.extend(
            r.minutes
                .keys()
                .chain(r.full_area.keys())
                .map(String::as_str),
        );
        finishes.extend(r.ml_per_m2.keys().map(String::as_str));
    }
    let refuse = |what, found: &str, known: BTreeSet<&str>| Error::Unknown {
        what,
        found: found.to_string(),
        known: known.into_iter().collect::<Vec<_>>().join(", "),
    };
    if !classes.contains(args.class.as_str()) {
        return Err(refuse("--class", &args.class, classes));
    }
    match args
        .finish
        .iter()
        .find(|f| !finishes.contains(f.finish.as_str()))
    {
        Some(f) => Err(refuse("--finish", &f.finish, finishes)),
        None => Ok(()),
    }
}

/// Finishes with their areas in m². One may come without: it takes what the
/// others leave of the class's full area.
fn parts(args: &QuoteArgs, full: Option<f64>, system: System) -> Result<Vec<Part>, Error> {
    let refuse = |what: String| Error::Quote { what };
    let m2 = |x: f64| match system {
        System::Metric => x,
        System::Us => x * M2_PER_FT2,
    };
    let without: Vec<&FinishArg> = args.finish.iter().filter(|f| f.area.is_none()).collect();
    let given: f64 = args.finish.iter().filter_map(|f| f.area).map(m2).sum();
    let rest = match without.as_slice() {
        [] => None,
        [one] => {
            let full = full.ok_or_else(|| refuse(format!(
                "--finish {}: no area is given, and there is no full area of {} (in constants.toml, or from full jobs). Give the area.",
                one.finish, args.class
            )))?;
            if full <= given {
                return Err(refuse(format!(
                    "--finish {}: the other finishes leave nothing of a full {}. Give its area.",
                    one.finish, args.class
                )));
            }
            Some(full - given)
        }
        _ => {
            return Err(refuse(
                "--finish: only one finish may come without an area. Give the others' areas."
                    .into(),
            ));
        }
    };
    let part = |f: &FinishArg| Part {
        finish: f.finish.clone(),
        area: f.area.map(m2).or(rest).unwrap_or(0.0),
    };
    Ok(args.finish.iter().map(part).collect())
}

/// The job as the fits see one; its class and finishes are put on the lists.
fn job(folder: &mut Folder, class: &str, parts: &[Part], full: Option<f64>) -> CoatedJob {
    let m = &mut folder.measured;
    let area: f64 = parts.iter().map(|p| p.area).sum();
    let mut part = |p: &Part| measures::Part {
        finish: m.finishes.number(&p.finish),
        area: p.area,
    };
    CoatedJob {
        parts: parts.iter().map(&mut part).collect(),
        class: m.classes.number(class),
        shop: Text::default(),
        job: Text::default(),
        month: folder.scope.month,
        full: full.map(|f| area >= f),
        price: None,
        discount: Minor::ZERO,
        priced_on: folder.scope.month.last(),
        people: 0,
        person: None,
        minutes: None,
        used: None,
        reworked: None,
    }
}

fn worked_out(
    folder: &Folder,
    record: Option<&Record>,
    full_area: &BTreeMap<String, f64>,
    job: &CoatedJob,
    args: &QuoteArgs,
    parts: Vec<Part>,
) -> Result<Quote, Error> {
    let (m, shop, scope) = (&folder.measured, &folder.shop, &folder.scope);
    let columns = Columns::of(m);
    let basis = Basis {
        measures: m,
        columns: &columns,
        scope,
        record,
        review: &shop.review,
        full_area,
    };
    let used = allow(estimates::fit_use(&basis, true, |x| scope.in_window(x)))?;
    let time = allow(estimates::fit_time(&basis, |x| scope.in_window(x)))?;
    let (used, time) = (used.ok(), time.ok());
    let prices = prices(m, scope, record, shop);
    let expected = estimates::expected(&basis, used.as_ref(), time.as_ref());
    let rates = rates(&prices);
    let accounts = accounts(m, shop, &expected, &rates);
    let reserve = sales::reserve(m, &accounts, &rates, scope)?;
    let rule = Rule {
        names: m,
        full_area,
        minimum: None,
        currency: &shop.money.currency,
    };
    let floor = floor::Basis {
        rates: rates.as_ref().ok().copied(),
        money: &shop.money,
        constants: &folder.constants,
        rule: &rule,
        reserve: reserve.as_ref().map_or(0.0, |r| r.in_floor),
    };
    let coating = coating(&basis, used.as_ref(), job);
    let minutes = minutes(&basis, time.as_ref(), job);
    let smoothest = basis.smoothest().map(|f| m.finishes.name(f).to_string());
    Ok(Quote {
        money: money(&floor, &coating, &minutes, &prices),
        coating,
        minutes,
        class: args.class.clone(),
        full_area_used: args.finish.iter().any(|f| f.area.is_none()),
        parts,
        covered: basis.covered(job),
        smoothest,
        per_ml: prices.per_ml_used,
        per_ml_from: prices.per_ml_from,
        wage: prices.wage,
        wage_from: prices.wage_from,
        constants_of: record.map(|r| r.effective_on),
        source: record.map(|r| r.source.clone()),
    })
}

fn rests(what: &str, evidence: Evidence, jobs: u64) -> Rests {
    Rests {
        what: what.to_string(),
        from: match evidence {
            Evidence::Jobs => From::Jobs,
            Evidence::JobsAndConstant => From::JobsAndConstant,
            Evidence::ConstantOnly | Evidence::None => From::ConstantOnly,
        },
        jobs,
    }
}

fn coating(b: &Basis<'_>, used: Option<&Use>, job: &CoatedJob) -> Result<Coating, Lacks> {
    let names = &b.measures.finishes;
    let bottle_ml = usual_bottle(b);
    let range = used.and_then(|u| u.one_job(b, job, RANGE));
    if let (Some(used), Some(range)) = (used, range) {
        let fit = &used.fit;
        let mut all = vec![rests("set-up", fit.setup.evidence, fit.setup.jobs)];
        for part in &job.parts {
            if let Some(c) = used.finish(b, part.finish) {
                all.push(rests(names.name(part.finish), c.evidence, c.jobs));
            }
        }
        return Ok(Coating {
            value: range.value,
            range: Some(range),
            bottle_ml,
            rests: all,
        });
    }
    let value = estimates::use_by_constants(b, b.record, job).ok_or_else(|| {
        let finishes = job.parts.iter().map(|p| names.name(p.finish).to_string());
        Lacks::Use(finishes.collect())
    })?;
    let only = |what: &str| rests(what, Evidence::ConstantOnly, 0);
    let finishes = job.parts.iter().map(|p| only(names.name(p.finish)));
    Ok(Coating {
        value,
        range: None,
        bottle_ml,
        rests: std::iter::once(only("set-up")).chain(finishes).collect(),
    })
}

/// Median volume of the window's bottles [mL].
fn usual_bottle(b: &Basis<'_>) -> Option<f64> {
    let bottles = b
        .measures
        .bottles
        .iter()
        .filter(|x| b.scope.in_window(x.month));
    let mut volumes: Vec<f64> = bottles.map(|x| x.volume).filter(|v| *v > 0.0).collect();
    volumes.sort_by(f64::total_cmp);
    volumes.get(volumes.len() / 2).copied()
}

fn minutes(b: &Basis<'_>, time: Option<&Time>, job: &CoatedJob) -> Result<Minutes, Lacks> {
    let class = b.measures.classes.name(job.class);
    if let Some(time) = time
        && let Some(levels) = time.class(b, job.class)
        && let Some(one) = time.one_job(b, job, RANGE)
        && let Some(multiple) = time.multiple(b, job)
    {
        let plan_for = levels.blended.plan_for.value();
        return Ok(Minutes {
            typical: one.typical.value,
            average: one.average.value,
            plan_for: plan_for.map(|m| m * multiple),
            range: Some(one.range),
            rests: vec![rests(class, levels.evidence, levels.jobs)],
        });
    }
    let constant = b.record.and_then(|r| r.minutes.get(class)).copied();
    let full = constant.ok_or_else(|| Lacks::Minutes(class.to_string()))?;
    let smoothest = b.smoothest();
    let plain = job.parts.iter().all(|p| Some(p.finish) == smoothest);
    if !plain || job.full != Some(true) {
        return Err(Lacks::Scaling);
    }
    Ok(Minutes {
        typical: full,
        average: full,
        plan_for: None,
        range: None,
        rests: vec![rests(class, Evidence::ConstantOnly, 0)],
    })
}

fn money(
    floor: &floor::Basis<'_>,
    coating: &Result<Coating, Lacks>,
    minutes: &Result<Minutes, Lacks>,
    prices: &Prices,
) -> Result<Money, Lacks> {
    let (Ok(coating), Ok(minutes)) = (coating, minutes) else {
        return Err(Lacks::Parts);
    };
    let per_ml = prices.per_ml_used.ok_or(Lacks::CoatingCost)?;
    let wage = prices.wage.ok_or(Lacks::Wage)?;
    let expected = Expected {
        use_ml: Some(coating.value),
        minutes: Some(minutes.average),
    };
    let settings = floor.money;
    let priced = || {
        let cost = floor.cost(expected)?;
        let price = |margin: f64| {
            let net = floor.price_for(cost, margin)?;
            rounded_up(with_tax(net, settings), floor)
        };
        Some(Money {
            coating: Minor::nearest(coating.value * per_ml)?,
            labour: Minor::nearest(minutes.average * wage * settings.labour_loading / 60.0)?,
            consumables: settings.currency.minor(settings.consumables)?,
            reserve: Minor::nearest(floor.reserve)?,
            cost: Minor::nearest(cost)?,
            floor: price(settings.floor_margin)?,
            target: price(settings.target_margin)?,
            floor_margin: settings.floor_margin,
            target_margin: settings.target_margin,
        })
    };
    priced().ok_or(Lacks::Margin)
}
