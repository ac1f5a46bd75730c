//! Where the margin moved: from what quotes assumed to what happened, and from
//! the month before to this one.

use super::{Context, Section, drawn, say};
use crate::charts::{Bridge as Chart, Step as Bar, Tick, Total, bridge as draw, figure_of};
use crate::findings::bridge::{Bridge, JobBridge, Moved, STEPS, Term};
use crate::findings::chances::{self, Discounts, SellerDiscounts};
use crate::findings::{Findings, Missing};
use crate::money::Minor;
use crate::pages::do_next::prices;
use crate::pages::error::PageError;
use crate::pages::format::{Format, month, month_name};
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{FigureView, Piece, SectionView, Sentence};

pub(in crate::pages) const ID: &str = "moved";
const HEADING: &str = "Where the margin moved";
/// Jobs that the page lists; the CSV has all.
const LISTED: usize = 12;

/// The section.
pub(in crate::pages) fn section(all: &Findings, c: Context<'_>) -> Result<Section, PageError> {
    let given = chances::discounts(all);
    Section::of(&all.moved, ID, HEADING, c, |moved| {
        shown(moved, given.as_ref(), c)
    })
}

fn shown(moved: &Moved, given: Option<&Discounts>, c: Context<'_>) -> Result<Section, PageError> {
    let f = c.format;
    if moved.jobs.is_empty() {
        let mut section = Section::missing(ID, HEADING, &no_job(), f);
        section.view.notes = left_out(moved, f);
        return Ok(section);
    }
    let mut figures = figure("moved-quoted", &moved.quoted, ends(c, true), c)?;
    let mut more = Vec::new();
    if let Some(months) = &moved.months {
        figures.extend(figure("moved-months", months, ends(c, false), c)?);
        more.push(month_sentence(months, c));
    }
    let notes = given.and_then(|x| asked(x, f)).into_iter().collect();
    more.extend(left_out(moved, f));
    let view = SectionView {
        id: ID.into(),
        heading: HEADING.into(),
        sentence: sentence_of(moved, c),
        figures,
        how_to_read: say(
            "Read from the top down: what quotes assumed would be left, one change at a time, down to what was left. A step to the right added money, one to the left took it away. Where a total has no bar it stands as text: a bar from zero would leave the steps too small to see.",
        ),
        notes,
        more,
        ..SectionView::default()
    };
    let tables = |at_most| {
        let mut all = vec![steps_table(moved, c), jobs_table(moved, c, at_most)];
        all.extend(given.map(|x| by_seller(x, c, at_most == LISTED)));
        all
    };
    let mut section = Section::new(view, tables(LISTED), f);
    section.tables = tables(usize::MAX);
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
        Term::NewConstants => "Newer planning figures in quotes",
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

/// "$120 less", "as much".
fn less_or_more(m: Minor, f: &Format) -> String {
    match m.0 {
        0 => "as much".into(),
        n if n < 0 => format!("{} less", f.money_exact(-m)),
        _ => format!("{} more", f.money_exact(m)),
    }
}

/// ", most of all discount ($175.00)"; nothing where no step moved it.
pub(in crate::pages) fn most_by(b: &Bridge, f: &Format) -> String {
    b.largest().map_or_else(String::new, |s| {
        format!(
            ", most of all {} ({})",
            lower(name(s.term)),
            f.money_exact(Minor(s.amount.0.abs()))
        )
    })
}

fn largest(b: &Bridge, f: &Format) -> String {
    b.largest().map_or_else(String::new, |s| {
        format!(
            " The largest step: {}, {}.",
            lower(name(s.term)),
            f.money_exact_signed(s.amount)
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
        f.money_exact(b.from),
        f.money_exact(b.to),
        less_or_more(b.difference(), f),
        largest(b, f)
    ))
}

fn month_sentence(b: &Bridge, c: Context<'_>) -> Sentence {
    let f = c.format;
    say(format!(
        "Against {}: {}.{}",
        month(c.scope.month.plus(-1).first()),
        less_or_more(b.difference(), f),
        largest(b, f)
    ))
}

/// Whom to ask about discounts.
fn asked(x: &Discounts, f: &Format) -> Option<Sentence> {
    let mut all = say("Ask ");
    all.push(Piece::text(prices::whom(x)?));
    all.extend(say(format!(
        " what the discounts of {} on {} were for. Some may have brought the sale.",
        f.money_exact(x.given),
        f.count_of(x.jobs, "job", "jobs")
    )));
    Some(all)
}

/// Discounts by who sold the jobs; on the page of a single shop without the
/// shop's column.
fn by_seller(x: &Discounts, c: Context<'_>, on_page: bool) -> Table {
    let row = |s: &SellerDiscounts| {
        let name = if s.seller.is_empty() {
            "not written down"
        } else {
            &s.seller
        };
        let cells = [
            Cell::Text(s.shop.clone()),
            Cell::Text(name.into()),
            Cell::Count(s.jobs),
            Cell::Exact(s.given),
        ];
        Vec::from(cells)
    };
    let all = [
        Cell::Text(String::new()),
        Cell::Text("all".into()),
        Cell::Count(x.jobs),
        Cell::Exact(x.given),
    ];
    let mut table = Table {
        name: "discounts",
        fold: "Discounts, and who gave them",
        caption: format!("Discounts by seller, {}", month(c.scope.month.first())),
        columns: vec![
            words_column("shop", "Shop"),
            words_column("sold_by", "Sold by"),
            numbers_column("jobs", "Coated jobs with a discount"),
            numbers_column("given", "Discounts, without tax"),
        ],
        rows: x.sellers.iter().map(row).chain([Vec::from(all)]).collect(),
        definition: "In order of names; not a league table. Coated jobs whose quote is known."
            .into(),
    };
    if on_page && x.sellers.iter().all(|s| s.shop.is_empty()) {
        table.columns.remove(0);
        table.rows.iter_mut().for_each(|row| {
            row.remove(0);
        });
    }
    table
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

fn steps_table(m: &Moved, c: Context<'_>) -> Table {
    let n = m.jobs.len().max(1) as f64;
    let exact = |x: Option<Minor>| x.map_or(Cell::Blank, Cell::Exact);
    let row = |what: &str, quoted: Option<Minor>, months: Option<Minor>| {
        vec![
            Cell::Text(what.into()),
            exact(quoted),
            Cell::maybe(quoted.map(|x| x.as_f64() / n), Cell::PerVolume),
            exact(months),
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
    let months_difference = months.map(Bridge::difference);
    rows.push(row("Difference", Some(b.difference()), months_difference));
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
            numbers_column("quoted", "Quoted to happened"),
            numbers_column("quoted_per_job", "Per coated job"),
            numbers_column("months", "Month before to this one"),
        ],
        rows,
        definition: format!(
            "{} this month, {} the month before. Quoted: the planning figures in use on the day of the quote; a partial job by its share of a full one; a two-tone job by the dearer of its finishes. Money added is above 0. Number of coated jobs: at the mean quote of the month before.",
            c.format
                .count_of(m.jobs.len() as u64, "coated job", "coated jobs"),
            c.format.count(m.jobs_before)
        ),
    }
}

fn counts(what: &str, jobs: u64, before: Option<u64>) -> Vec<Cell> {
    let mut cells = vec![Cell::Text(what.into()), Cell::Count(jobs)];
    cells.extend([Cell::Blank, before.map_or(Cell::Blank, Cell::Count)]);
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
