//! Callbacks of coating work: how many, for what, on which finish.

mod json;
mod this_month;

pub(in crate::pages) use json::json;
pub(in crate::pages) use this_month::line as of_month;

use super::{Context, Section, drawn, say};
use crate::charts::{Axis, Band, Centre, Control, Month, Tick, control, figure_of};
use crate::estimate::Figure;
use crate::findings::Missing;
use crate::findings::callbacks::{Advice, Callbacks, Cause, Count, MonthRate, Split, Standing};
use crate::pages::error::PageError;
use crate::pages::format::{Format, month, month_short};
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{FigureView, SectionView, Sentence, words as plain};

pub(in crate::pages) const ID: &str = "callbacks";
const HEADING: &str = "Callbacks of coating work";
/// People on the page, at most; everybody is in the CSV file.
const PEOPLE_ON_PAGE: usize = 30;

/// The section.
pub(in crate::pages) fn section(
    found: &Result<Callbacks, Missing>,
    c: Context<'_>,
) -> Result<Section, PageError> {
    Section::of(found, ID, HEADING, c, |x| shown(x, c))
}

fn shown(x: &Callbacks, c: Context<'_>) -> Result<Section, PageError> {
    let f = c.format;
    let sentence = sentence_of(x, c);
    let view = SectionView {
        id: ID.into(),
        heading: HEADING.into(),
        figures: drawing(x, &sentence, f)?,
        sentence,
        how_to_read: say(
            "A job stands in the month in which it was finished, whenever it came back. So the latest month may still rise: not every fault shows at once.",
        ),
        notes: notes(x, f),
        more: more(x, f),
        ..SectionView::default()
    };
    let tables = tables(x);
    let busiest = busiest(x);
    let shown = tables.iter().map(|t| match t.name {
        "callbacks_by_person" => t.part(|row| busiest.contains(&row)),
        _ => t.clone(),
    });
    let mut section = Section::new(view, shown.collect(), f);
    section.tables = tables;
    Ok(section)
}

/// The share that came back, by month.
fn drawing(x: &Callbacks, sentence: &Sentence, f: &Format) -> Result<Vec<FigureView>, PageError> {
    let spec = Control {
        months: x.months.iter().map(|m| mark(m, f)).collect(),
        centre: x.rate.value().map(|u| Centre {
            value: u,
            text: format!("all months {}", f.share_fine(u)),
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
    let drawn_up = figure_of(ID, HEADING, &plain(sentence), |s| control(&spec, s));
    let unit = "Share of coated jobs that came back for coating work, by the month in which they were finished";
    drawn(ID, unit.into(), spec.key(), drawn_up)
}

fn tables(x: &Callbacks) -> Vec<Table> {
    vec![
        this_month::table(x),
        by_cause(x),
        by_month(x),
        split(
            "callbacks_by_finish",
            "By finish",
            "Callbacks by finish",
            "Finish",
            x.finishes.iter(),
        ),
        split(
            "callbacks_by_person",
            "By person: not a league table",
            "Callbacks by person, ordered by code",
            "Person",
            x.people.iter().map(|p| &p.split),
        ),
        split(
            "callbacks_by_workspace",
            "Inside and outside the rules",
            "Callbacks by workspace",
            "Workspace",
            x.workspace.iter(),
        ),
        this_month::alone(x),
    ]
}

/// Places of the people with most coated jobs.
fn busiest(x: &Callbacks) -> Vec<usize> {
    let mut places: Vec<usize> = (0..x.people.len()).collect();
    places.sort_by_key(|i| std::cmp::Reverse(x.people[*i].split.count.of));
    places.truncate(PEOPLE_ON_PAGE);
    places
}

fn sentence_of(x: &Callbacks, c: Context<'_>) -> Sentence {
    let f = c.format;
    let mut all = match x.months.last() {
        None => Sentence::new(),
        Some(m) => {
            let mut now = say(format!(
                "{}: **{} of {}** came back for coating work so far",
                month(m.month.first()),
                f.count(m.count.yes),
                f.count_of(m.count.of, "coated job", "coated jobs")
            ));
            now.extend(this_month::jobs(x));
            now.extend(say(" "));
            now
        }
    };
    let window = match &x.rate {
        Figure::Known(e) => format!(
            "Of all {1} of the months looked at {0} did, {2} (likely {3}). ",
            f.count(x.window.yes),
            f.count_of(x.window.of, "coated job", "coated jobs"),
            f.share_fine(e.value),
            f.share_range(e.low, e.high)
        ),
        Figure::NotEnough(_) => String::new(),
    };
    all.extend(say(format!("{window}{}", judged(x))));
    all
}

fn judged(x: &Callbacks) -> &'static str {
    match x.standing() {
        Standing::Above => {
            "More came back than the usual range allows: treat it as a real change and look for the cause."
        }
        Standing::Below => {
            "Fewer came back than the usual range allows: treat it as a real change, and see what went well."
        }
        Standing::Within => "The month is within its usual range: nothing to act on.",
        Standing::TooFew => "There are too few jobs to say whether the month stands out.",
    }
}

fn notes(x: &Callbacks, f: &Format) -> Vec<Sentence> {
    let times = |n: u64| f.count_of(n, "callback", "callbacks");
    let first = match x.advice {
        Advice::TooFew => "Too few callbacks to point at a cause.".to_string(),
        Advice::Removal => format!(
            "Most frequent are high spots and lines ({} of {}), which come from wiping off too late: a reminder, not an alarm. Coat smaller sections, level each before it sets, go over it a second time for residue under a raking light, and finish a section before a break.",
            f.count(x.removal),
            times(x.callbacks)
        ),
        Advice::Missed => format!(
            "Most frequent are missed areas ({} of {}), a reminder: go round handles, recesses, edges and mirror feet by a fixed list before release.",
            f.count(x.missed),
            times(x.callbacks)
        ),
        Advice::Other => format!(
            "High spots and lines make {} of {}, missed areas {}; another cause leads, see the table.",
            f.count(x.removal),
            times(x.callbacks),
            f.count(x.missed)
        ),
    };
    let mut all = vec![say(first)];
    all.extend(x.most.as_ref().map(|p| this_month::most(p, f)));
    all
}

fn more(x: &Callbacks, f: &Format) -> Vec<Sentence> {
    let mut all = Vec::new();
    if let Some(cost) = x.cost {
        all.push(say(format!(
            "Putting coating work right cost {} over the months looked at: work with its loading, coating and what else was booked.",
            f.money_exact(cost)
        )));
    }
    all.push(say(
        "Film failures, lifting edges and other causes are listed but not charged to the coating.",
    ));
    all
}

fn mark(m: &MonthRate, f: &Format) -> Month {
    let label = month_short(m.month.first());
    let known = m.rate.known();
    let counted = format!(
        "{} of {} came back",
        f.count(m.count.yes),
        f.count_of(m.count.of, "coated job", "coated jobs")
    );
    Month {
        figure: known.copied(),
        text: known.map_or_else(String::new, |e| f.share_fine(e.value)),
        usual: (m.usual_low.zip(m.usual_high)).map(|(low, high)| Band { low, high }),
        outside: m.is_outside(),
        tip: known.map_or_else(
            || format!("{label}: {counted}, too few for a rate"),
            |e| {
                format!(
                    "{label}: {counted}; likely {}",
                    f.share_range(e.low, e.high)
                )
            },
        ),
        label,
    }
}

fn counted(c: Count) -> [Cell; 2] {
    [Cell::Count(c.of), Cell::Count(c.yes)]
}

fn figure(x: &Figure) -> [Cell; 3] {
    [
        Cell::value(x, Cell::FineShare),
        Cell::low(x, Cell::Share),
        Cell::high(x, Cell::Share),
    ]
}

fn by_cause(x: &Callbacks) -> Table {
    Table {
        name: "callbacks_by_cause",
        fold: "By cause",
        caption: "Callbacks of coated jobs by cause, jobs of the months looked at".into(),
        columns: vec![
            words_column("cause", "Cause"),
            words_column("charged_to", "Charged to"),
            numbers_column("callbacks", "Callbacks"),
            numbers_column("jobs", "Jobs"),
            numbers_column("of", "Of coated jobs"),
            numbers_column("rate", "Share of coated jobs"),
            numbers_column("rate_low", "Likely from"),
            numbers_column("rate_high", "Likely to"),
            numbers_column("cost", "Cost"),
        ],
        rows: cause_rows(x),
        definition: "Share: jobs that came back for this cause among the coated jobs of the months looked at. A job may come back for several causes.".into(),
    }
}

fn cause_rows(x: &Callbacks) -> Vec<Vec<Cell>> {
    let row = |cause: &Cause| {
        let name = if cause.cause.is_empty() {
            "not recorded"
        } else {
            &cause.cause
        };
        let mut all = vec![
            Cell::Text(name.replace('_', " ")),
            Cell::Text(
                if cause.of_coating {
                    "coating"
                } else {
                    "film or other"
                }
                .into(),
            ),
            Cell::Count(cause.callbacks),
            Cell::Count(cause.count.yes),
            Cell::Count(cause.count.of),
        ];
        all.extend(figure(&cause.rate));
        all.push(cause.cost.map_or(Cell::Blank, Cell::Exact));
        all
    };
    let mut rows: Vec<Vec<Cell>> = x.causes.iter().map(row).collect();
    let sum = |name: &str, n: u64| {
        let mut all = vec![
            Cell::Text(name.into()),
            Cell::Text("coating".into()),
            Cell::Count(n),
        ];
        all.extend(std::iter::repeat_n(Cell::Blank, 6));
        all
    };
    rows.push(sum("high spots and lines together", x.removal));
    rows.push(sum("missed areas together", x.missed));
    let mut total = vec![
        Cell::Text("all coating work".into()),
        Cell::Text("coating".into()),
        Cell::Count(x.callbacks),
        Cell::Count(x.window.yes),
        Cell::Count(x.window.of),
    ];
    total.extend(figure(&x.rate));
    total.push(x.cost.map_or(Cell::Blank, Cell::Exact));
    rows.push(total);
    rows
}

fn by_month(x: &Callbacks) -> Table {
    let row = |m: &MonthRate| {
        let mut all = vec![Cell::Month(m.month)];
        all.extend(counted(m.count));
        all.extend(figure(&m.rate));
        all.push(Cell::maybe(m.usual_low, Cell::Share));
        all.push(Cell::maybe(m.usual_high, Cell::Share));
        all
    };
    Table {
        name: "callbacks_by_month",
        fold: "The numbers, month by month",
        caption: "Callbacks of coating work, by the month of the job".into(),
        columns: vec![
            numbers_column("month", "Month"),
            numbers_column("jobs", "Coated jobs"),
            numbers_column("came_back", "Came back"),
            numbers_column("rate", "Share"),
            numbers_column("rate_low", "Likely from"),
            numbers_column("rate_high", "Likely to"),
            numbers_column("usual_low", "Usual from"),
            numbers_column("usual_high", "Usual to"),
        ],
        rows: x.months.iter().rev().map(row).collect(),
        definition: "Usual: where months of that many jobs fall at the rate of the months looked at without the month reviewed. A month with fewer than 5 coated jobs has no share.".into(),
    }
}

fn split<'a>(
    name: &'static str,
    fold: &'static str,
    caption: &str,
    what: &str,
    rows: impl Iterator<Item = &'a Split>,
) -> Table {
    let row = |s: &Split| {
        let mut all = vec![Cell::Text(s.name.clone())];
        all.extend(counted(s.count));
        all.extend(figure(&s.exact));
        all.extend(figure(&s.shrunk));
        all
    };
    Table {
        name,
        fold,
        caption: caption.into(),
        columns: vec![
            words_column("what", what),
            numbers_column("jobs", "Coated jobs"),
            numbers_column("came_back", "Came back"),
            numbers_column("rate", "Own share"),
            numbers_column("rate_low", "Own, likely from"),
            numbers_column("rate_high", "Own, likely to"),
            numbers_column("drawn_in", "Drawn to the common share"),
            numbers_column("drawn_in_low", "Drawn, likely from"),
            numbers_column("drawn_in_high", "Drawn, likely to"),
        ],
        rows: rows.map(row).collect(),
        definition: "Own share: as counted. Drawn to the common share: what few jobs say is mixed with what all jobs say, which is the better guess for rows with few jobs.".into(),
    }
}
