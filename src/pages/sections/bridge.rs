//! Where the margin moved: from what quotes assumed to what happened, and from
//! the month before to this one.

mod months;
mod tables;

pub(in crate::pages) use months::line as of_months;

use super::{Context, Section, discounts, drawn, say};
use crate::charts::{Bridge as Chart, Step as Bar, Tick, Total, bridge as draw, figure_of};
use crate::findings::bridge::{Bridge, Moved, Step, Term};
use crate::findings::chances::{self, Discounts};
use crate::findings::{Findings, Missing};
use crate::money::Minor;
use crate::pages::error::PageError;
use crate::pages::format::{Format, list, month, month_name};
use crate::pages::view::{FigureView, SectionView, Sentence};
use months::{PerJob, month_sentence};
use tables::{jobs_table, steps_table};

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
    let mut figures = figure("moved-quoted", together(&moved.quoted, c), ends(c, true), c)?;
    let mut notes = Vec::new();
    if let Some(months) = &PerJob::of(moved) {
        figures.extend(figure("moved-months", months.drawn(c), ends(c, false), c)?);
        notes.push(month_sentence(months, c));
    }
    notes.extend(given.map(|x| discounts::sentence(x, f)));
    let view = SectionView {
        id: ID.into(),
        heading: HEADING.into(),
        sentence: sentence_of(moved, c),
        figures,
        how_to_read: say(
            "Read from the top down: what quotes assumed would be left, one change at a time, down to what was left. A step to the right added money, one to the left took it away. Where a total has no bar it stands as text: a bar from zero would leave the steps too small to see.",
        ),
        notes,
        more: left_out(moved, f),
        ..SectionView::default()
    };
    let tables = |at_most| {
        let mut all = vec![steps_table(moved, c), jobs_table(moved, c, at_most)];
        all.extend(given.map(|x| discounts::by_seller(x, c, at_most == LISTED)));
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
            unit: format!("Left over per coated job, {before} to {now}, {code}"),
        }
    }
}

/// A bridge as it is drawn: amounts in major units, and as text.
struct Drawn {
    from: (f64, String),
    steps: Vec<Bar>,
    to: (f64, String),
}

/// The month's coated jobs together, from quoted to happened.
fn together(b: &Bridge, c: Context<'_>) -> Drawn {
    let f = c.format;
    let bar = |s: &Step| Bar {
        label: name(s.term).into(),
        change: f.major(s.amount),
        text: f.money_signed(s.amount),
        tip: format!("{}: {}", name(s.term), f.money_exact_signed(s.amount)),
    };
    Drawn {
        from: (f.major(b.from), f.money(b.from)),
        steps: b.terms.iter().map(bar).collect(),
        to: (f.major(b.to), f.money(b.to)),
    }
}

fn figure(id: &str, b: Drawn, ends: Ends, c: Context<'_>) -> Result<Vec<FigureView>, PageError> {
    let tick = |v: f64| c.format.money_tick(v);
    let total = |label: &str, (value, text): (f64, String)| Total {
        label: label.into(),
        value,
        text,
    };
    let desc = format!(
        "{}: {}. {}: {}. The steps between are in the table.",
        ends.from, b.from.1, ends.to, b.to.1
    );
    let spec = Chart {
        from: total(&ends.from, b.from),
        steps: b.steps,
        to: total(&ends.to, b.to),
        tick: Tick(&tick),
    };
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

/// "$120 less" in whole major units; `None` where that is none of them.
pub(super) fn less_or_more_about(m: Minor, f: &Format) -> Option<String> {
    let size = f.money(Minor(m.0.abs()));
    let side = if m.0 < 0 { "less" } else { "more" };
    size.contains(|c: char| ('1'..='9').contains(&c))
        .then(|| format!("{size} {side}"))
}

/// ", mostly cost of the coating ($177) and discounts ($175)": the two largest
/// steps of the side on which the whole moved, those apart that come to nothing
/// in whole major units.
pub(super) fn mostly(
    steps: impl Iterator<Item = (Term, Minor)>,
    difference: Minor,
    f: &Format,
) -> String {
    let down = difference.0 < 0;
    let mut steps: Vec<(Term, Minor)> = steps
        .filter(|(_, m)| m.0 != 0 && (m.0 < 0) == down)
        .collect();
    steps.sort_by_key(|(_, m)| std::cmp::Reverse(m.0.abs()));
    let each = steps.into_iter().take(2).filter_map(|(term, m)| {
        less_or_more_about(m, f)?;
        let name = match term {
            Term::Discount => "discounts".into(),
            term => lower(name(term)),
        };
        Some(format!("{name} ({})", f.money(Minor(m.0.abs()))))
    });
    let each: Vec<String> = each.collect();
    match each.is_empty() {
        true => String::new(),
        false => format!(", mostly {}", list(&each)),
    }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::money::Currency;
    use crate::units::System;

    fn format(currency: &str) -> Format {
        Format::new(System::Metric, Currency::of(currency).unwrap())
    }

    /// 49 cents are nothing in whole dollars, 49 yen are something.
    #[test]
    fn what_comes_to_nothing_is_not_said() {
        let (usd, jpy) = (format("USD"), format("JPY"));
        assert_eq!(less_or_more_about(Minor(49), &usd), None);
        let said = |m, f| less_or_more_about(Minor(m), f).unwrap();
        assert_eq!(said(-290, &usd), "$3 less");
        assert!(said(49, &jpy).ends_with("49 more"));
    }

    /// Two at most, of the side on which the whole moved, the larger first.
    #[test]
    fn what_mostly_moved_it() {
        let steps = [
            (Term::Discount, Minor(-224)),
            (Term::CoatingUsage, Minor(900)),
            (Term::Mix, Minor(-232)),
            (Term::ListPrice, Minor(-55)),
        ];
        let said = |difference| mostly(steps.into_iter(), Minor(difference), &format("USD"));
        assert_eq!(
            said(-292),
            ", mostly other vehicles and finishes ($2) and discounts ($2)"
        );
        assert_eq!(said(100), ", mostly amount of coating used ($9)");
        let small = [(Term::Mix, Minor(30))].into_iter();
        assert_eq!(mostly(small, Minor(30), &format("USD")), "");
    }
}
