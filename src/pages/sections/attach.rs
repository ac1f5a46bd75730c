//! How often the coating is sold.

use super::{Context, Section, drawn, groups, say};
use crate::charts::{Axis, Band, Centre, Control, Month, Tick, control, figure_of};
use crate::findings::attach::{Attach, AttachMonth, Since};
use crate::findings::groups::Groups;
use crate::findings::headline::Moved;
use crate::pages::error::PageError;
use crate::pages::format::{Format, month, month_short};
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{SectionView, Sentence, words as plain};
use crate::pages::words;

pub(in crate::pages) const ID: &str = "sold";
const HEADING: &str = "How often the coating is sold";

/// The section.
pub(in crate::pages) fn section(
    a: &Attach,
    groups: &Groups,
    c: Context<'_>,
) -> Result<Section, PageError> {
    let f = c.format;
    let (told, looks_alike) = groups::notes(groups, f);
    let mut notes: Vec<Sentence> = suits(a, f).into_iter().collect();
    if let Some(unasked) = not_offered(a, f) {
        let mut note = say("Not offered: ");
        note.extend(unasked);
        notes.push(note);
    }
    notes.extend(told);
    let mut more = vec![offers(a, f)];
    more.extend(last_year(a, f));
    more.extend(looks_alike);
    let mut tables = vec![by_month(a), this_month(a, groups, c)];
    tables.extend(groups::tables(groups, c));
    let sentence = sentence_of(a, c);
    let spec = Control {
        months: a.months.iter().map(|m| mark(m, f)).collect(),
        centre: a.change.usual.map(|u| Centre {
            value: u,
            text: format!("usual {}", f.share(u)),
        }),
        axis: Axis {
            tick: Tick(&|v| f.share(v)),
            from_zero: true,
            limits: Some(Band {
                low: 0.0,
                high: 1.0,
            }),
        },
    };
    let drawing = figure_of(ID, HEADING, &described(&sentence, a, f), |s| {
        control(&spec, s)
    });
    let view = SectionView {
        id: ID.into(),
        heading: HEADING.into(),
        figures: drawn(
            ID,
            "Share of film jobs that took the coating, by month".into(),
            spec.key(),
            drawing,
        )?,
        sentence,
        how_to_read: say(
            "Each mark is a month, the stroke through it the likely range. The gray band shows where months of that many jobs fall when nothing has changed: a month inside it is seldom a reason to act.",
        ),
        notes,
        more,
        ..SectionView::default()
    };
    Ok(Section::new(view, tables, f))
}

fn outside(a: &Attach) -> u64 {
    a.months.iter().filter(|m| m.is_outside()).count() as u64
}

fn described(sentence: &Sentence, a: &Attach, f: &Format) -> String {
    format!(
        "{} {} shown; outside the usual range: {}.",
        plain(sentence),
        f.count_of(a.months.len() as u64, "month is", "months are"),
        f.count(outside(a))
    )
}

fn sentence_of(a: &Attach, c: Context<'_>) -> Sentence {
    let f = c.format;
    let name = month(c.scope.month.first());
    if a.eligible == 0 {
        return say(format!(
            "{name} has no film job that the coating suits, so there is no share to speak of."
        ));
    }
    let counted = format!(
        "{} of {}",
        f.count(a.coated),
        f.count_of(
            a.eligible,
            "film job that it suits",
            "film jobs that it suits"
        )
    );
    let Some(rate) = a.rate.known() else {
        return say(format!(
            "{name}: **{counted}** took the coating. {}",
            words::certainty_sentence(a.change.certainty)
        ));
    };
    let usual = a
        .change
        .usual
        .map_or_else(String::new, |u| format!(" Usual is {}.", f.share(u)));
    say(format!(
        "{name}: **{counted} ({})** took the coating (likely {}).{usual} {}",
        f.share(rate.value),
        f.share_range(rate.low, rate.high),
        words::certainty_sentence(a.change.certainty)
    ))
}

/// Jobs written down as not offered it.
fn unasked(a: &Attach) -> u64 {
    a.eligible.saturating_sub(a.offered + a.offer_unknown)
}

/// "7 of the 54 jobs that it suits; asking costs nothing."; nothing where all
/// were, or nobody wrote it down.
pub(in crate::pages) fn not_offered(a: &Attach, f: &Format) -> Option<Sentence> {
    let n = unasked(a);
    (n > 0 && a.offered > 0).then(|| {
        say(format!(
            "{} of the {} that it suits; asking costs nothing.",
            f.count(n),
            f.count_of(a.eligible, "film job", "film jobs")
        ))
    })
}

/// Which film jobs stand in no share.
fn suits(a: &Attach, f: &Format) -> Option<Sentence> {
    (a.excluded > 0).then(|| {
        say(format!(
            "It suits every film job that the export does not mark as excluded; {} so this month and {} in no share.",
            is_or_are_marked(a.excluded, f),
            if a.excluded == 1 { "stands" } else { "stand" }
        ))
    })
}

fn is_or_are_marked(n: u64, f: &Format) -> String {
    let is = if n == 1 { "is" } else { "are" };
    format!("{} {is} marked", f.count(n))
}

fn offers(a: &Attach, f: &Format) -> Sentence {
    let asked = match a.acceptance.known() {
        Some(e) => format!(
            "Of {} known to have been offered it, {} said yes (likely {}).",
            f.count_of(a.offered, "customer", "customers"),
            f.share(e.value),
            f.share_range(e.low, e.high)
        ),
        None => format!(
            "{} known to have been offered it: too few for a share that said yes.",
            f.count_of(a.offered, "customer is", "customers are")
        ),
    };
    let unknown = if a.offer_unknown == 0 {
        "Whether it was offered is written down for every job.".to_string()
    } else {
        format!(
            "For {} nobody wrote down whether it was offered; that is not counted as a no.",
            f.count_of(a.offer_unknown, "job", "jobs")
        )
    };
    say(format!("{asked} {unknown}"))
}

fn last_year(a: &Attach, f: &Format) -> Option<Sentence> {
    let then = a.last_year.as_ref()?;
    let verdict = match then.since {
        Since::Luck => "the change could be luck".to_string(),
        Since::More | Since::Fewer => format!(
            "since then it probably changed by {}",
            f.points(then.difference.value)
        ),
    };
    Some(say(format!(
        "A year before, in {}, it was {} of {} ({}): {verdict}.",
        month(then.month.first()),
        f.count(then.coated),
        f.count_of(then.eligible, "film job", "film jobs"),
        f.share(then.rate.value)
    )))
}

fn mark(m: &AttachMonth, f: &Format) -> Month {
    let label = month_short(m.month.first());
    let known = m.rate.known();
    let text = known.map_or_else(String::new, |e| f.share(e.value));
    let tip = match known {
        Some(e) => format!(
            "{label}: sold on {} of {} ({}), likely {}",
            f.count(m.coated),
            f.count_of(m.eligible, "job", "jobs"),
            f.share(e.value),
            f.share_range(e.low, e.high)
        ),
        None => format!(
            "{label}: sold on {} of {}, too few for a rate",
            f.count(m.coated),
            f.count_of(m.eligible, "job", "jobs")
        ),
    };
    Month {
        label,
        figure: known.copied(),
        text,
        usual: m
            .usual_low
            .zip(m.usual_high)
            .map(|(low, high)| Band { low, high }),
        outside: m.is_outside(),
        tip,
    }
}

fn by_month(a: &Attach) -> Table {
    let row = |m: &AttachMonth| {
        vec![
            Cell::Month(m.month),
            Cell::Count(m.eligible),
            Cell::Count(m.coated),
            Cell::value(&m.rate, Cell::Share),
            Cell::low(&m.rate, Cell::Share),
            Cell::high(&m.rate, Cell::Share),
            Cell::maybe(m.usual_low, Cell::Share),
            Cell::maybe(m.usual_high, Cell::Share),
        ]
    };
    Table {
        name: "attach_by_month",
        fold: "The numbers, month by month",
        caption: "Coating sold, by month".into(),
        columns: vec![
            numbers_column("month", "Month"),
            numbers_column("eligible", "Film jobs it suits"),
            numbers_column("coated", "Coated"),
            numbers_column("rate", "Share"),
            numbers_column("rate_low", "Likely from"),
            numbers_column("rate_high", "Likely to"),
            numbers_column("usual_low", "Usual from"),
            numbers_column("usual_high", "Usual to"),
        ],
        rows: a.months.iter().rev().map(row).collect(),
        definition: "Share: coated jobs among finished film jobs that the coating suits. Usual from, to: where months of that many jobs fall at the usual rate of the months looked at without the month reviewed, wider where the other months differ by more than chance; a month with fewer than 5 such jobs has no share.".into(),
    }
}

/// A factor that widens nothing is not spoken of.
fn widened(by: f64) -> Cell {
    match by >= 1.005 {
        true => Cell::Factor(by),
        false => Cell::Blank,
    }
}

// Long because it is a list: a row a line.
fn this_month(a: &Attach, groups: &Groups, c: Context<'_>) -> Table {
    let then = a.last_year.as_ref();
    let row = |what: &str, cell: Cell| vec![Cell::Text(what.into()), cell];
    let mut rows = vec![
        row("Film jobs that the coating suits", Cell::Count(a.eligible)),
        row("Film jobs that it does not suit", Cell::Count(a.excluded)),
        row("Known to have been offered it", Cell::Count(a.offered)),
        row("Offer not written down", Cell::Count(a.offer_unknown)),
        row("Written down as not offered it", Cell::Count(unasked(a))),
        row("Coated", Cell::Count(a.coated)),
        row("Months shown", Cell::Count(a.months.len() as u64)),
        row("Months outside the usual range", Cell::Count(outside(a))),
        row("Share coated", Cell::value(&a.rate, Cell::Share)),
        row("Usual share", Cell::maybe(a.change.usual, Cell::Share)),
        row(
            "Share the month before",
            Cell::maybe(a.change.before, Cell::Share),
        ),
        row(
            "Share a year before",
            Cell::maybe(then.map(|y| y.rate.value), Cell::Share),
        ),
        row(
            "Film jobs a year before",
            then.map_or(Cell::Blank, |y| Cell::Count(y.eligible)),
        ),
        row(
            "Coated a year before",
            then.map_or(Cell::Blank, |y| Cell::Count(y.coated)),
        ),
        row(
            "Change against a year before",
            Cell::maybe(then.map(|y| y.difference.value), Cell::Points),
        ),
        row(
            "The same, likely from",
            Cell::maybe(then.map(|y| y.difference.low), Cell::Points),
        ),
        row(
            "The same, likely to",
            Cell::maybe(then.map(|y| y.difference.high), Cell::Points),
        ),
        row("Usual range widened by", widened(a.widened_by)),
        row(
            "Coated though written down as not offered, in the months looked at",
            Cell::Count(groups.coated_refused),
        ),
        row(
            "What the change is worth this month",
            c.worth(Moved::Attach).map_or(Cell::Blank, Cell::Exact),
        ),
        row(
            "Said yes among offered",
            Cell::value(&a.acceptance, Cell::Share),
        ),
        row(
            "Said yes, likely from",
            Cell::low(&a.acceptance, Cell::Share),
        ),
        row(
            "Said yes, likely to",
            Cell::high(&a.acceptance, Cell::Share),
        ),
    ];
    rows.retain(|r| r[1] != Cell::Blank);
    Table {
        name: "attach_this_month",
        fold: "This month's count",
        caption: format!("Offers and coated jobs, {}", month(c.scope.month.first())),
        columns: vec![
            words_column("what", "What"),
            numbers_column("value", "Value"),
        ],
        rows,
        definition: "Usual: the months looked at without the month reviewed. Change against a year before: a point is one of a hundred jobs; its likely range is wider than others, as four figures are watched together.".into(),
    }
}
