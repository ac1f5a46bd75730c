//! The only place where stages meet: settings, intake, measures, fits,
//! findings and pages, in that order.

mod backtest;
mod bottle_rows;
mod bottles;
mod cells;
mod chain;
mod constants;
mod earlier;
mod estimates;
mod find;
mod look_back;
mod made;
mod money;
mod own;
mod pace;
mod person;
mod price;
mod price_list;
mod prices;
mod quote;
mod read;
mod recalibrate;
mod sales;
mod same_work;
mod shops;
mod use_change;
mod workmanship;
mod year;

pub use crate::error::Error;

pub use cells::cells;
pub use quote::quote;
pub use recalibrate::recalibrate;

use crate::findings::Scope;
use crate::intake;
use crate::invent::{Plan, invent_into};
use crate::measures::Span;
use crate::pages;
use crate::settings::command::{CheckArgs, InventArgs, MapArgs, ReviewArgs};
use crate::settings::constants::Constants;
use crate::settings::month::Month;
use crate::settings::shop::Shop;
use made::Made;
use read::Exports;
use sha2::{Digest, Sha256};
use std::path::{Path, PathBuf};

/// How far a run is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Progress {
    /// It reads a file.
    Reading(intake::Progress),
    /// All is read; what a month's review, quote or tables need is measured.
    Measuring(Month),
    /// All is measured; what was asked of that month is worked out.
    Finding(Month),
}

/// A review that was written.
#[derive(Debug, Clone)]
pub struct Reviewed {
    /// Where it is.
    pub place: PathBuf,
    /// Lines for the terminal.
    pub summary: Vec<String>,
    /// Physical lines that were put aside.
    pub quarantined: u64,
}

/// Reads a folder and writes the review of a month, or of several with an index.
///
/// # Errors
/// Everything that [`Error`] names; what stood at the place before then still
/// stands.
pub fn review(args: &ReviewArgs, progress: &mut dyn FnMut(Progress)) -> Result<Reviewed, Error> {
    if args.months.is_some() || args.year.is_some() {
        return year::review(args, progress);
    }
    if args.cells.is_empty() {
        let chain::Asked { read, from } = chain::asked(args, progress)?;
        let month = scope(args.month, read.span, &read.shop)?.month;
        let place = match &args.out {
            Some(out) => out.clone(),
            None => home(args)?.join(month.to_string()),
        };
        let made = month_of(args, read, &from, month, &place, progress)?;
        return written(made, &place);
    }
    let folder = cells::read(&args.folder, &args.cells, args.month)?;
    let month = folder.scope.month;
    let place = match &args.out {
        Some(out) => out.clone(),
        None => home(args)?.join(month.to_string()),
    };
    let own = own::none(&args.folder);
    let before = earlier::read(&args.folder, month.plus(-1));
    let asked = made::Asked {
        own: &own,
        people: &args.person,
        before,
        within: None,
    };
    written(made::made(folder, asked, &place)?, &place)
}

/// The review of one month, to stand at `place`.
fn month_of(
    args: &ReviewArgs,
    read: Exports,
    from: &chain::Origin,
    month: Month,
    place: &Path,
    progress: &mut dyn FnMut(Progress),
) -> Result<Made, Error> {
    progress(Progress::Measuring(month));
    let scope = scope(Some(month), read.span, &read.shop)?;
    let own = own::all(&from.folder, &read.tables, &scope);
    // What one shop's earlier review said is not what the chain's did.
    let is_the_folders = args.more.is_empty() && args.shop.is_none();
    let before = is_the_folders.then(|| earlier::read(&args.folder, month.plus(-1)));
    let people: Vec<String> = args.person.iter().map(|p| within_shop(p, args)).collect();
    let asked = made::Asked {
        own: &own,
        people: &people,
        before: before.flatten(),
        within: from.standing(month)?,
    };
    made::made(read::measured(read, scope, progress)?, asked, place)
}

/// A person of the one shop asked for, whose own review names no shop.
fn within_shop(person: &str, args: &ReviewArgs) -> String {
    let shop = args.shop.as_deref();
    let code = shop.and_then(|s| person.strip_prefix(s)?.strip_prefix('/'));
    code.unwrap_or(person).to_string()
}

/// Where reviews go that --out does not place.
fn home(args: &ReviewArgs) -> Result<PathBuf, Error> {
    if args.more.is_empty() {
        Ok(args.folder.join("reviews"))
    } else {
        Err(Error::ChainOut)
    }
}

fn written(made: Made, place: &Path) -> Result<Reviewed, Error> {
    pages::write::replace(place, &made.files)?;
    Ok(made.reviewed)
}

/// The month reviewed and its window.
fn scope(asked: Option<Month>, span: Option<Span>, shop: &Shop) -> Result<Scope, Error> {
    let (first, last) = match span {
        Some(s) => (Month::of(s.first), Month::of(s.last)),
        // Intake refuses a folder without a job, so this is not reached by one.
        None => (
            Month::of(chrono::NaiveDate::MIN),
            Month::of(chrono::NaiveDate::MIN),
        ),
    };
    let month = asked.unwrap_or(last);
    if month < first || month > last {
        return Err(Error::NoSuchMonth {
            asked: month,
            first,
            last,
        });
    }
    let back = |n: u32| month.plus(1 - i32::try_from(n).unwrap_or(i32::MAX));
    Ok(Scope {
        month,
        window_from: shop.review.window_months.map_or(first, back).max(first),
    })
}

/// One fingerprint over those of all files, in their order.
fn fingerprint<'a>(files: impl Iterator<Item = &'a str>) -> String {
    let mut all = Sha256::new();
    for file in files {
        all.update(file.as_bytes());
    }
    let digest = all.finalize();
    digest.iter().take(6).map(|b| format!("{b:02x}")).collect()
}

/// A folder's lines, accounted for.
#[derive(Debug, Clone)]
pub struct Checked {
    /// What to print.
    pub text: String,
    /// Physical lines that were put aside.
    pub quarantined: u64,
}

/// Reads a folder and accounts for every line, writing nothing.
///
/// # Errors
/// Settings and intake's.
pub fn check(args: &CheckArgs, progress: &mut dyn FnMut(Progress)) -> Result<Checked, Error> {
    let shop = Shop::read(&args.folder)?;
    if args.descriptor {
        return descriptor(&args.folder, &shop);
    }
    // Constants are no export, but a fault in them would stop the review.
    Constants::read(&args.folder)?;
    let read = intake::account(&args.folder, &shop, &mut |p| {
        progress(Progress::Reading(p));
    })?;
    let text = if args.json {
        pages::account_json(&read.ledger, &read.odd)?
    } else {
        pages::account_text(&read.ledger, &read.odd)
    };
    Ok(Checked {
        text,
        quarantined: read.ledger.lines().quarantined,
    })
}

/// Invents a shop with a known truth; returns lines for the terminal.
///
/// # Errors
/// A plan that cannot be carried out, or a folder that cannot be written.
pub fn invent(args: &InventArgs) -> Result<Vec<String>, Error> {
    let demo = Plan::film_shop();
    let plan = Plan {
        jobs: args.jobs.unwrap_or(demo.jobs),
        months: args.months.unwrap_or(demo.months),
        shops: args.shops.unwrap_or(demo.shops),
        people: args.people.unwrap_or(demo.people),
        seed: args.seed.unwrap_or(demo.seed),
        measured_share: args.measured_share.unwrap_or(demo.measured_share),
        bottle_ml: args.bottle_ml.unwrap_or(demo.bottle_ml),
        ..demo
    };
    // Shops of another size need other numbers of people.
    let plan = if args.people.is_none() {
        plan.staffed()
    } else {
        plan
    };
    invent_into(&plan, &args.folder)?;
    Ok(vec![
        format!(
            "Invented {} film jobs of {} shop(s) over {} months, seed {}.",
            plan.jobs, plan.shops, plan.months, plan.seed
        ),
        format!(
            "What is true of them: {}",
            args.folder.join("truth.json").display()
        ),
    ])
}

/// The Data Package of a folder's exports.
fn descriptor(folder: &Path, shop: &Shop) -> Result<Checked, Error> {
    let package = intake::descriptor(folder, shop)?;
    Ok(Checked {
        text: format!("{package:#}\n"),
        quarantined: 0,
    })
}

/// Drafts `shop.toml`; returns what to print. With `--write` the draft goes
/// into the folder, never over a file that is there.
///
/// # Errors
/// A folder that cannot be read; a `shop.toml` that is there already.
pub fn map(args: &MapArgs) -> Result<String, Error> {
    let draft = intake::draft(&args.folder)?;
    if !args.write {
        return Ok(draft.text);
    }
    let place = args.folder.join("shop.toml");
    pages::write::new_file(&place, draft.text.as_bytes())?;
    Ok(format!(
        "Drafted {}. Read its comments, mend what is wrong, then run `check`.\n",
        place.display()
    ))
}
