//! Where the margin moved: from what quotes assumed to what happened, and from
//! the month before to this one.

use super::{Context, Section, drawn, say};
use crate::charts::{Bridge as Chart, Step as Bar, Tick, Total, bridge as draw, figure_of};
use crate::findings::Missing;
use crate::findings::bridge::{Bridge, JobBridge, Moved, STEPS, Term};
use crate::money::Minor;
use crate::pages::error::PageError;
use crate::pages::format::{Format, month, month_name};
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{FigureView, SectionView, Sentence};

pub(in crate::pages) const ID: &str = "moved";
const HEADING: &str = "Where the margin moved";
/// Jobs that the page lists; the CSV has all.
const LISTED: usize = 12;

/// The section.
pub(in crate::pages) fn section(
    found: &Result<Moved, Missing>,
    c: Context<'_>,
) -> Result<Section, PageError> {
    Section::of(found, ID, HEADING, c, |moved| shown(moved, c))
}

fn shown(moved: &Moved, c: Context<'_>) -> Result<Section, PageError> {
    let f = c.format;
    if moved.jobs.is_empty() {
        let mut section = Section::missing(ID, HEADING, &no_job(), f);
        section.view.notes = left_out(moved, f);
        return Ok(section);
    }
    let mut figures = figure("moved-quoted", &moved.quoted, ends(c, true), c)?;
    let mut notes = Vec::new();
    if let Some(months) = &moved.months {
        figures.extend(figure("moved-months", months, ends(c, false), c)?);
        notes.push(month_sentence(months, c));
    }
    notes.extend(left_out(moved, f));
    let view = SectionView {
        id: ID.into(),
        heading: HEADING.into(),
        sentence: sentence_of(moved, c),
        figures,
        how_to_read: say(
            "Read from the top down: what the quotes assumed would be left, then one thing changed at a time, down to what was left. A step to the right added money, one to the left took it away. The steps of every job add up to the cent. Both totals stand as text: drawn as bars from zero they would leave the steps too small to see, and a bar that does not start at zero misleads.",
        ),
        notes,
        ..SectionView::default()
    };
    let steps = steps_table(moved, c);
    let mut section = Section::new(view, vec![steps.clone(), jobs_table(moved, c, LISTED)], f);
    section.tables = vec![to_the_cent(steps), jobs_table(moved, c, usize::MAX)];
    Ok(section)
}

fn no_job() -> Missing {
    let of = "coated jobs whose money and quote are known";
    Missing::TooFew(crate::estimate::NotEnough::new(0, 1, of))
}

/// What a step is called.
fn name(term: Term) -> &'static str {
    match term {
        Term::Volume => "Number of coated jobs",
        Term::Mix => "Other vehicles and finishes",
        Term::NewConstants => "Newer constants in quotes",
        Term::ListPrice => "Charged against list price",
        Term::Discount => "Discount",
        Term::CoatingPrice => "Cost of the coating",
        Term::CoatingUsage => "Amount of coating used",
        Term::LabourRate => "Cost of an hour",
        Term::LabourEfficiency => "Minutes taken",
        Term::ConsumablesAndFees => "Consumables and card fees",
        Term::Callbacks => "Coating callbacks",
    }
}

/// What stands at both ends of a bridge.
struct Ends {
    from: String,
    to: String,
    unit: String,
}

fn ends(c: Context<'_>, quoted: bool) -> Ends {
    let now = month_name(c.scope.month.first());
    let before = month_name(c.scope.month.plus(-1).first());
    let code = &c.format.currency.code;
    if quoted {
        Ends {
            from: "Quotes assumed".into(),
            to: "Was left".into(),
            unit: format!("Left after all costs, all coated jobs of {now}, {code}"),
        }
    } else {
        Ends {
            from: before.into(),
            to: now.into(),
            unit: format!("Left after all costs, {before} to {now}, {code}"),
        }
    }
}

fn figure(id: &str, b: &Bridge, ends: Ends, c: Context<'_>) -> Result<Vec<FigureView>, PageError> {
    let f = c.format;
    let tick = |v: f64| f.money_tick(v);
    let total = |label: &str, m: Minor| Total {
        label: label.into(),
        value: f.major(m),
        text: f.money(m),
    };
    let bar = |s: &crate::findings::bridge::Step| Bar {
        label: name(s.term).into(),
        change: f.major(s.amount),
        text: f.money_signed(s.amount),
        tip: format!("{}: {}", name(s.term), f.money_exact_signed(s.amount)),
    };
    let spec = Chart {
        from: total(&ends.from, b.from),
        steps: b.terms.iter().map(bar).collect(),
        to: total(&ends.to, b.to),
        tick: Tick(&tick),
    };
    let desc = format!(
        "{}: {}. {}: {}. The steps between are in the table.",
        ends.from,
        f.money(b.from),
        ends.to,
        f.money(b.to)
    );
    let drawing = figure_of(id, &ends.unit, &desc, |s| draw(&spec, s));
    drawn(ID, ends.unit, spec.key(), drawing)
}

/// The difference of both ends as they are shown, so that a reader who
/// subtracts finds it.
fn difference_shown(b: &Bridge, f: &Format) -> Minor {
    let scale = f.currency.scale();
    let whole = |m: Minor| Minor::nearest(f.major(m).round() * scale as f64).unwrap_or(m);
    whole(b.to) - whole(b.from)
}

/// "$120 less", "as much".
fn less_or_more(m: Minor, f: &Format) -> String {
    match m.0 {
        0 => "as much".into(),
        n if n < 0 => format!("{} less", f.money(-m)),
        _ => format!("{} more", f.money(m)),
    }
}

fn largest(b: &Bridge, f: &Format) -> String {
    b.largest().map_or_else(String::new, |s| {
        format!(
            " The largest step is {}: {}.",
            lower(name(s.term)),
            f.money_signed(s.amount)
        )
    })
}

fn lower(name: &str) -> String {
    let mut text = name.to_string();
    text.get_mut(..1).map(str::make_ascii_lowercase);
    text
}

fn sentence_of(m: &Moved, c: Context<'_>) -> Sentence {
    let f = c.format;
    let b = &m.quoted;
    say(format!(
        "{}: on {} quotes assumed {} would be left; **{} was left, {}**.{}",
        month(c.scope.month.first()),
        f.count_of(m.jobs.len() as u64, "coated job", "coated jobs"),
        f.money(b.from),
        f.money(b.to),
        less_or_more(difference_shown(b, f), f),
        largest(b, f)
    ))
}

fn month_sentence(b: &Bridge, c: Context<'_>) -> Sentence {
    let f = c.format;
    say(format!(
        "Against {}: {}.{}",
        month(c.scope.month.plus(-1).first()),
        less_or_more(difference_shown(b, f), f),
        largest(b, f)
    ))
}

fn left_out(m: &Moved, f: &Format) -> Vec<Sentence> {
    if m.without_money + m.without_standard == 0 {
        return Vec::new();
    }
    vec![say(format!(
        "Not in it: {} whose money is not known, and {} whose class or finish constants.toml does not price.",
        f.count_of(m.without_money, "coated job", "coated jobs"),
        f.count(m.without_standard)
    ))]
}

/// The steps for spreadsheets, which need no rounded columns.
fn to_the_cent(mut t: Table) -> Table {
    let about = |i: usize| t.columns.get(i).is_some_and(|c| c.key.ends_with("_about"));
    let keep: Vec<bool> = (0..t.columns.len()).map(|i| !about(i)).collect();
    let kept = |i: &usize| keep.get(*i).copied().unwrap_or(true);
    t.rows = (t.rows.into_iter())
        .map(|row| {
            (0..)
                .zip(row)
                .filter(|(i, _)| kept(i))
                .map(|(_, cell)| cell)
                .collect()
        })
        .collect();
    t.columns = (0..)
        .zip(t.columns)
        .filter(|(i, _)| kept(i))
        .map(|(_, c)| c)
        .collect();
    t
}

/// Places of the columns that are rounded to whole units.
const ABOUT: usize = 1;
const MONTHS_ABOUT: usize = 4;

fn steps_table(m: &Moved, c: Context<'_>) -> Table {
    let n = m.jobs.len().max(1) as f64;
    let money = |x: Option<Minor>| Cell::maybe(x.map(Minor::as_f64), Cell::Money);
    let row = |what: &str, quoted: Option<Minor>, months: Option<Minor>| {
        vec![
            Cell::Text(what.into()),
            money(quoted),
            quoted.map_or(Cell::Blank, Cell::Exact),
            Cell::maybe(quoted.map(|x| x.as_f64() / n), Cell::Money),
            money(months),
            months.map_or(Cell::Blank, Cell::Exact),
        ]
    };
    let b = &m.quoted;
    let months = m.months.as_ref();
    let amount = |b: &Bridge, term: Term| b.terms.iter().find(|s| s.term == term).map(|s| s.amount);
    let only_months = [Term::Volume, Term::Mix, Term::NewConstants];
    let terms = only_months
        .into_iter()
        .filter(|_| months.is_some())
        .chain(STEPS);
    let mut rows = vec![row("Starts from", Some(b.from), months.map(|x| x.from))];
    rows.extend(terms.map(|t| row(name(t), amount(b, t), months.and_then(|x| amount(x, t)))));
    rows.push(row("Ends at", Some(b.to), months.map(|x| x.to)));
    let mut difference = row(
        "Difference",
        Some(b.difference()),
        months.map(Bridge::difference),
    );
    difference[ABOUT] = money(Some(difference_shown(b, c.format)));
    difference[MONTHS_ABOUT] = money(months.map(|x| difference_shown(x, c.format)));
    rows.push(difference);
    let before = months.map(|_| m.jobs_before);
    rows.push(counts("Coated jobs in it", m.jobs.len() as u64, before));
    rows.push(counts("Not in it: money not known", m.without_money, None));
    rows.push(counts(
        "Not in it: quote not known",
        m.without_standard,
        None,
    ));
    Table {
        name: "bridge",
        fold: "The steps",
        caption: format!("From quoted to happened, {}", month(c.scope.month.first())),
        columns: vec![
            words_column("step", "Step"),
            numbers_column("quoted_about", "Quoted to happened"),
            numbers_column("quoted", "The same, to the cent"),
            numbers_column("quoted_per_job", "Per coated job"),
            numbers_column("months_about", "Month before to this one"),
            numbers_column("months", "The same, to the cent"),
        ],
        rows,
        definition: format!(
            "{} this month, {} the month before. Quoted: the constants in force on the day of the quote; a partial job by its share of a full one; a two-tone job by the dearer of its finishes. Money added is above 0. Number of coated jobs: at the mean quote of the month before.",
            c.format
                .count_of(m.jobs.len() as u64, "coated job", "coated jobs"),
            c.format.count(m.jobs_before)
        ),
    }
}

fn counts(what: &str, jobs: u64, before: Option<u64>) -> Vec<Cell> {
    let mut cells = vec![Cell::Text(what.into()), Cell::Count(jobs)];
    cells.extend([Cell::Count(jobs), Cell::Blank]);
    let before = before.map_or(Cell::Blank, Cell::Count);
    cells.extend([before.clone(), before]);
    cells
}

/// The month's jobs, those that lost most against their quote first.
fn jobs_table(m: &Moved, c: Context<'_>, at_most: usize) -> Table {
    let mut jobs: Vec<&JobBridge> = m.jobs.iter().collect();
    jobs.sort_by_key(|j| j.to - j.from);
    let row = |j: &&JobBridge| {
        let mut cells = vec![
            Cell::Text(j.job.clone()),
            Cell::Text(j.shop.clone()),
            Cell::Exact(j.from),
        ];
        cells.extend(j.steps.iter().map(|s| Cell::Exact(*s)));
        cells.extend([Cell::Exact(j.to), Cell::Exact(j.to - j.from)]);
        cells
    };
    let keys = [
        "list_price",
        "discount",
        "coating_price",
        "coating_usage",
        "labour_rate",
        "labour_efficiency",
        "consumables_and_fees",
        "callbacks",
    ];
    let mut columns = vec![
        words_column("job", "Job"),
        words_column("shop", "Shop"),
        numbers_column("quoted", "Quoted"),
    ];
    let steps = keys.iter().zip(STEPS);
    columns.extend(steps.map(|(key, term)| numbers_column(key, name(term))));
    columns.push(numbers_column("left", "Left"));
    columns.push(numbers_column("difference", "Difference"));
    let mut table = Table {
        name: "bridge_jobs",
        fold: "Job by job",
        caption: format!(
            "From quoted to happened by job, {}",
            month(c.scope.month.first())
        ),
        columns,
        rows: jobs.iter().take(at_most).map(row).collect(),
        definition: format!(
            "Those that fell furthest below their quote first{}. Coating and minutes that were not recorded are the expected ones.",
            if m.jobs.len() > at_most {
                "; tables/bridge_jobs.csv has all"
            } else {
                ""
            }
        ),
    };
    if at_most == LISTED && m.jobs.iter().all(|j| j.shop.is_empty()) {
        table.columns.remove(1);
        table.rows.iter_mut().for_each(|row| {
            row.remove(1);
        });
    }
    table
}
