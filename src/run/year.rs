//! Several months in one run: the exports are read once, each month is
//! measured and written as by itself, and an index page shows the trend.

use super::made::{self, Made};
use super::read::Exports;
use super::{Error, Progress, Reviewed, chain, home, month_of, scope};
use crate::pages::year::{Index, IndexMonth};
use crate::pages::{self, write};
use crate::settings::command::ReviewArgs;
use crate::settings::month::Month;
use std::path::Path;

/// Writes the review of every month asked for, and the index.
///
/// All of them are made before the first is written, so a month that cannot be
/// made leaves everything as it was. What the months' earlier reviews said is
/// read before that too: this run's own are not among them.
pub(super) fn review(
    args: &ReviewArgs,
    progress: &mut dyn FnMut(Progress),
) -> Result<Reviewed, Error> {
    let chain::Asked { read, from: source } = chain::asked(args, progress)?;
    let read = &read;
    let (from, until) = months(args, read)?;
    let home = match &args.out {
        Some(out) => out.clone(),
        None => home(args)?,
    };
    let mut all = Vec::new();
    let mut month = from;
    while month <= until {
        let place = home.join(month.to_string());
        all.push(month_of(
            args,
            read.clone(),
            &source,
            month,
            &place,
            progress,
        )?);
        month = month.plus(1);
    }
    let index = pages::year::files(&index(&all, read), &made::format(&read.shop))?;
    write::free_for_index(&home)?;
    for made in &all {
        write::free(&made.reviewed.place)?;
    }
    for made in &all {
        write::replace(&made.reviewed.place, &made.files)?;
    }
    write::into(&home, &index)?;
    Ok(reviewed(&all, &home))
}

/// First and last month to review: those asked for, as far as the data go.
fn months(args: &ReviewArgs, read: &Exports) -> Result<(Month, Month), Error> {
    let latest = scope(None, read.span, &read.shop)?.month;
    let first = read.span.map_or(latest, |s| Month::of(s.first));
    if let Some(year) = args.year {
        let none = Error::NoSuchYear {
            asked: year,
            first,
            last: latest,
        };
        let (from, until) = match (Month::new(year, 1), Month::new(year, 12)) {
            (Some(from), Some(until)) => (from.max(first), until.min(latest)),
            _ => return Err(none),
        };
        return if from <= until {
            Ok((from, until))
        } else {
            Err(none)
        };
    }
    let until = scope(args.month, read.span, &read.shop)?.month;
    let back = i32::from(args.months.unwrap_or(1)) - 1;
    Ok((until.plus(-back).max(first), until))
}

fn index(all: &[Made], read: &Exports) -> Index {
    let month = |m: &Made| IndexMonth {
        month: m.month,
        lead: m.lead.clone(),
        figures: m.figures.clone(),
    };
    Index {
        shop_name: read.shop.page.shop_name.clone(),
        version: env!("CARGO_PKG_VERSION"),
        data_until: (read.shop.review.data_until).or(read.span.map(|s| s.last)),
        data_from: read.span.map(|s| Month::of(s.first)),
        months: all.iter().map(month).collect(),
    }
}

fn reviewed(all: &[Made], home: &Path) -> Reviewed {
    let page = home.join(pages::year::PAGE);
    let mut summary: Vec<String> = all
        .iter()
        .map(|m| format!("{}: {}", m.month, m.lead))
        .collect();
    summary.push(format!("Page: {}", page.display()));
    Reviewed {
        summary,
        quarantined: all.last().map_or(0, |m| m.reviewed.quarantined),
        place: home.to_path_buf(),
    }
}
