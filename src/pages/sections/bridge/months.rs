//! The month before to this one, per coated job.

use super::{Context, Drawn, less_or_more, less_or_more_about, lower, mostly, name};
use crate::charts::Step as Bar;
use crate::findings::bridge::{Bridge, Moved, Term};
use crate::money::Minor;
use crate::pages::format::{Format, month};
use crate::pages::sections::say;
use crate::pages::view::Sentence;

/// The month before to this one, per coated job of each: how many jobs there
/// were is no step of it.
pub(super) struct PerJob<'a> {
    whole: &'a Bridge,
    /// Minor units.
    pub(super) from: f64,
    pub(super) to: f64,
    /// What moved it.
    steps: Vec<(Term, f64)>,
}

impl<'a> PerJob<'a> {
    pub(super) fn of(moved: &'a Moved) -> Option<Self> {
        let whole = moved.months.as_ref()?;
        let jobs = moved.jobs.len() as f64;
        let steps = whole.terms.iter().filter(|s| s.term != Term::Volume);
        let steps: Vec<(Term, f64)> = steps.map(|s| (s.term, s.amount.as_f64() / jobs)).collect();
        let to = whole.to.as_f64() / jobs;
        Some(Self {
            whole,
            // The month before's, to the rounding of the steps.
            from: to - steps.iter().map(|(_, x)| x).sum::<f64>(),
            to,
            steps,
        })
    }

    pub(super) fn step(&self, term: Term) -> Option<f64> {
        self.steps.iter().find(|(t, _)| *t == term).map(|(_, x)| *x)
    }

    fn largest(&self) -> Option<(Term, f64)> {
        let by_size = |a: &&(Term, f64), b: &&(Term, f64)| a.1.abs().total_cmp(&b.1.abs());
        let shown = self.steps.iter().filter(|(_, x)| x.abs() >= 0.5);
        shown.rev().max_by(by_size).copied()
    }

    pub(super) fn drawn(&self, c: Context<'_>) -> Drawn {
        let f = c.format;
        let major = |minor: f64| minor / f.currency.scale() as f64;
        let bar = |(term, x): &(Term, f64)| Bar {
            label: name(*term).into(),
            change: major(*x),
            text: f.money_exact_signed(cents(*x)),
            tip: format!("{}: {} a job", name(*term), f.money_exact_signed(cents(*x))),
        };
        Drawn {
            from: (major(self.from), f.money_exact(cents(self.from))),
            steps: self.steps.iter().map(bar).collect(),
            to: (major(self.to), f.money_exact(cents(self.to))),
        }
    }
}

/// To the minor unit; nothing that a shop earns per job lies outside.
pub(super) fn cents(minor: f64) -> Minor {
    Minor::nearest(minor).unwrap_or_default()
}

pub(super) fn month_sentence(m: &PerJob<'_>, c: Context<'_>) -> Sentence {
    let f = c.format;
    let largest = m.largest().map_or_else(String::new, |(term, x)| {
        format!(
            " The largest step: {}, {} a job.",
            lower(name(term)),
            f.money_exact_signed(cents(x))
        )
    });
    say(format!(
        "Per coated job {} was left over, {} in {}.{largest} All coated jobs together: {} than then.",
        f.money_exact(cents(m.to)),
        f.money_exact(cents(m.from)),
        month(c.scope.month.plus(-1).first()),
        match m.whole.difference() {
            Minor(0) => "no more".to_string(),
            x => less_or_more(x, f),
        },
    ))
}

/// "A job left $3 less over than in September, mostly other vehicles and
/// finishes ($2)."; nothing where no month stands before.
pub(in crate::pages) fn line(moved: &Moved, before: &str, f: &Format) -> Option<String> {
    let months = PerJob::of(moved)?;
    let by = cents(months.to - months.from);
    let Some(size) = less_or_more_about(by, f) else {
        return Some(format!("A job left about as much over as in {before}."));
    };
    let steps = months.steps.iter().map(|(term, x)| (*term, cents(*x)));
    let mostly = mostly(steps, by, f);
    Some(format!("A job left {size} over than in {before}{mostly}."))
}
