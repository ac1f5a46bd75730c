//! Coating used per area.

use super::of_bottles::{bottle_notes, bottles_left_out, costs};
use super::of_constants::{
    Beside, Written, figure, left_out, left_out_note, to_change, verdict, verdict_cell,
};
use super::{Context, Section, changed, rare, say};
use crate::estimate::Figure;
use crate::findings::Findings;
use crate::findings::consumption::{Consumption, FinishUse};
use crate::findings::headline::{Moved, month_cost};
use crate::findings::recalibrate::{Constant, Recalibration};
use crate::money::Minor;
use crate::pages::constants::{self, Tested};
use crate::pages::error::PageError;
use crate::pages::format::{Format, month};
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::{SectionView, Sentence};
use crate::pages::words;

pub(in crate::pages) const ID: &str = "used";
const HEADING: &str = "Coating used per area";

/// The section.
pub(in crate::pages) fn section(all: &Findings, c: Context<'_>) -> Result<Section, PageError> {
    Section::of(&all.consumption, ID, HEADING, c, |x| shown(x, all, c))
}

fn shown(x: &Consumption, all: &Findings, c: Context<'_>) -> Result<Section, PageError> {
    let f = c.format;
    let r = &all.constants;
    let written = Written {
        format: f,
        counted: ["record of use", "records of use"],
        text: &|v| f.use_rate_text(v),
        number: &|v| f.use_rate_number(v),
        range: &|low, high| f.use_rate_range(low, high),
        drawn: &|v| f.use_rate(v),
        tick: &|v| f.number(v, usize::from(v.fract() != 0.0)),
    };
    let finishes: Vec<Beside<'_>> = x.finishes.iter().map(|u| beside(u, r)).collect();
    let mut sentence = moved(x, c);
    sentence.extend(say(" "));
    sentence.extend(to_change(&finishes, r, &KINDS, &written));
    let mut more = more(x, f);
    more.extend(all.use_change.as_ref().map(changed::sentence));
    let unit = format!(
        "Coating used by finish, {}, jobs of the months looked at",
        f.use_rate_unit()
    );
    let view = SectionView {
        id: ID.into(),
        heading: HEADING.into(),
        figures: figure([ID, HEADING], unit, &finishes, &sentence, &written)?,
        sentence,
        how_to_read: say(
            "The dot is what the shop's own jobs say, the bar the likely range, the upright mark the planning figure that quotes use. The verdict in the table says whether a mark outside the bar is enough to change it.",
        ),
        notes: adopted_beside(r).into_iter().collect(),
        more,
        ..SectionView::default()
    };
    Ok(Section::new(view, tables(x, all, c), f))
}

fn tables(x: &Consumption, all: &Findings, c: Context<'_>) -> Vec<Table> {
    let r = &all.constants;
    let figures = "Planning figures of use and cost";
    let mut tables = vec![
        by_finish(x, r),
        constants::table("use_constants", figures, r.of(&KINDS), c.format),
        backtest(r),
        this_month(x, coating_price(all), c),
        left_out(
            "use_left_out",
            "Measured jobs left out of the figures",
            &x.left_out,
        ),
    ];
    tables.extend(all.use_change.as_ref().map(changed::table));
    if !x.bottles.left_out.is_empty() {
        tables.push(bottles_left_out(&x.bottles.left_out));
    }
    let rare = x.rare.iter();
    tables.extend(rare.map(|r| rare::table("use_rare_finishes", r, RARE)));
    tables.extend(costs(&all.coating_cost));
    tables
}

/// How finishes too rare to be told apart are spoken of.
const RARE: rare::Told = rare::Told {
    of: "finishes",
    figures: "figures",
};

/// What the price of the coating cost this month against the quotes, where it
/// is to change.
fn coating_price(all: &Findings) -> Option<Minor> {
    let line = all.constants.line(Constant::CostPerMl, "")?;
    line.proposed?;
    month_cost(line, all)
}

/// Constants that this section decides.
const KINDS: [Constant; 3] = [Constant::SetupMl, Constant::MlPerM2, Constant::CostPerMl];

fn backtest(r: &Recalibration) -> Table {
    let b = &r.backtest;
    let tested = [
        Tested {
            what: "coating",
            kind: Cell::Volume,
            found: b.use_ml.as_ref(),
        },
        Tested {
            what: "coating and labor",
            kind: Cell::PerVolume,
            found: b.money.as_ref(),
        },
    ];
    constants::backtest_table("use_backtest", b, &tested)
}

fn beside<'a>(u: &'a FinishUse, r: &Recalibration) -> Beside<'a> {
    Beside {
        name: &u.fit.finish,
        jobs: u.fit.jobs,
        figure: &u.fit.data_alone,
        in_force: u.in_force,
        verdict: verdict(r, Constant::MlPerM2, &u.fit.finish),
    }
}

fn moved(x: &Consumption, c: Context<'_>) -> Sentence {
    let f = c.format;
    let Some((now, usual)) = x.now.zip(x.change.usual) else {
        return say("Too few measured jobs this month to say whether use moved.");
    };
    say(format!(
        "{}: {} on {}, where the same work usually takes {}. {}",
        month(c.scope.month.first()),
        f.use_rate_text(now),
        f.count_of(x.now_jobs, "measured job", "measured jobs"),
        f.use_rate_number(usual),
        words::certainty_sentence(x.change.certainty)
    ))
}

fn more(x: &Consumption, f: &Format) -> Vec<Sentence> {
    let mut all = Vec::new();
    if let Figure::Known(e) = &x.setup {
        let in_force = x.setup_in_force.map_or_else(String::new, |s| {
            format!("; quotes assume {}", f.millilitres(s))
        });
        all.push(say(format!(
            "Set-up: before it gives any, the applicator takes {} a job (likely {} to {}{in_force}).",
            f.millilitres(e.value),
            f.number(e.low, 1),
            f.millilitres(e.high)
        )));
    }
    all.extend(x.rare.iter().map(|r| rare::note(r, RARE, f)));
    all.extend(bottle_notes(&x.bottles, f));
    all.extend(left_out_note(
        &x.left_out,
        "measured job is",
        "measured jobs are",
        f,
    ));
    all
}

/// Set-up and cost per mL, where they are to change.
fn adopted_beside(r: &Recalibration) -> Option<Sentence> {
    let adopt = |c| r.to_adopt(c, "").is_some();
    let words = match (adopt(Constant::SetupMl), adopt(Constant::CostPerMl)) {
        (true, true) => "set-up and the cost per mL are",
        (true, false) => "set-up is",
        (false, true) => "the cost per mL is",
        (false, false) => return None,
    };
    Some(say(format!(
        "By the same rule {words} to be changed: see the planning figures."
    )))
}

fn by_finish(x: &Consumption, r: &Recalibration) -> Table {
    let row = |u: &FinishUse| {
        vec![
            Cell::Text(u.fit.finish.clone()),
            Cell::Count(u.fit.jobs),
            Cell::value(&u.fit.data_alone, Cell::PerArea),
            Cell::low(&u.fit.data_alone, Cell::PerArea),
            Cell::high(&u.fit.data_alone, Cell::PerArea),
            Cell::maybe(u.in_force, Cell::PerArea),
            Cell::value(&u.fit.blended, Cell::PerArea),
            u.month_cost.map_or(Cell::Blank, Cell::Exact),
            verdict_cell(verdict(r, Constant::MlPerM2, &u.fit.finish)),
        ]
    };
    let setup = vec![
        Cell::Text("set-up, mL a job".into()),
        (r.line(Constant::SetupMl, "")).map_or(Cell::Count(x.jobs_used), |l| {
            Cell::Count(constants::observations(l))
        }),
        Cell::value(&x.setup, Cell::Volume),
        Cell::low(&x.setup, Cell::Volume),
        Cell::high(&x.setup, Cell::Volume),
        Cell::maybe(x.setup_in_force, Cell::Volume),
        Cell::Blank,
        Cell::Blank,
        verdict_cell(verdict(r, Constant::SetupMl, "")),
    ];
    Table {
        name: "use_by_finish",
        fold: "The numbers, finish by finish",
        caption: "Coating used by finish, against the planning figures in use".into(),
        columns: vec![
            words_column("finish", "Finish"),
            numbers_column("jobs", "Records: jobs, bottles"),
            numbers_column("ml_per_m2", "Jobs say"),
            numbers_column("ml_per_m2_low", "Likely from"),
            numbers_column("ml_per_m2_high", "Likely to"),
            numbers_column("in_force", "In use"),
            numbers_column("with_constants", "Both together"),
            numbers_column("month_cost", "Cost of the difference this month"),
            words_column("verdict", "Verdict"),
        ],
        rows: x.finishes.iter().map(row).chain([setup]).collect(),
        definition: "Use of a job = set-up + area of each finish times what that finish takes, found from all measured jobs and emptied bottles of the months looked at together. Records: measured jobs, and bottles that tell of jobs without a measure. A two-tone job counts for both finishes in the share that they carry.".into(),
    }
}

/// `cost`: of the coating's price against quotes.
fn this_month(x: &Consumption, cost: Option<Minor>, c: Context<'_>) -> Table {
    let row = |what: &str, cell: Cell| vec![Cell::Text(what.into()), cell];
    let mut rows = vec![
        row("Measured jobs", Cell::Count(x.now_jobs)),
        row("Coating used per area", Cell::maybe(x.now, Cell::PerArea)),
        row(
            "Usual for the same work",
            Cell::maybe(x.change.usual, Cell::PerArea),
        ),
        row(
            "The month before",
            Cell::maybe(x.change.before, Cell::PerArea),
        ),
        row(
            "Change against the usual",
            Cell::maybe(x.change.difference.map(|d| d.value), Cell::Share),
        ),
        row(
            "Change, likely from",
            Cell::maybe(x.change.difference.map(|d| d.low), Cell::Share),
        ),
        row(
            "Change, likely to",
            Cell::maybe(x.change.difference.map(|d| d.high), Cell::Share),
        ),
        row(
            "What the change is worth this month",
            c.worth(Moved::Use).map_or(Cell::Blank, Cell::Exact),
        ),
        row(
            "Cost of the coating's price against quotes this month",
            cost.map_or(Cell::Blank, Cell::Exact),
        ),
        row("Jobs that the figures rest on", Cell::Count(x.jobs_used)),
        row(
            "Jobs left out of the figures",
            Cell::Count(x.left_out.len() as u64),
        ),
        row(
            "Emptied bottles that the figures rest on",
            Cell::Count(x.bottles.used),
        ),
        row(
            "Bottles left out of the figures",
            Cell::Count(x.bottles.left_out.len() as u64),
        ),
    ];
    rows.extend(x.rare.iter().flat_map(|r| rare::rows(r, RARE)));
    rows.retain(|r| r[1] != Cell::Blank);
    Table {
        name: "use_this_month",
        fold: "This month against the usual",
        caption: format!("Coating used, {}", month(c.scope.month.first())),
        columns: vec![words_column("what", "What"), numbers_column("value", "Value")],
        rows,
        definition: "Usual: what the rest of the months looked at says this month's jobs take, so that a month of large vehicles or rough film is no change. The likely range of the change is wider than others, as four figures are watched together.".into(),
    }
}
