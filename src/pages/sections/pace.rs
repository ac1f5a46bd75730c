//! People: pace, spread, learning, coating used and callbacks. Never ranks.

mod drawings;
mod on_page;
mod tables;

use super::{Context, Section, say};
use crate::estimate::{Estimate, Figure};
use crate::findings::Missing;
use crate::findings::pace::{Drift, Kind, LEAST_JOBS, LOOKED_FOR, PacePeople, PersonPace};
use crate::pages::error::PageError;
use crate::pages::format::Format;
use crate::pages::view::{Piece, SectionView, Sentence};
use crate::pages::words;
use drawings::{beyond_chance, by_jobs, ranges};
use on_page::on_page;
use serde_json::{Value, json};
use tables::{beside, by_person, whole};

pub(in crate::pages) const ID: &str = "pace";
const HEADING: &str = "Hands-on time by person";

/// The section.
pub(in crate::pages) fn section(
    found: &Result<PacePeople, Missing>,
    c: Context<'_>,
) -> Result<Section, PageError> {
    Section::of(found, ID, HEADING, c, |x| shown(x, c))
}

fn shown(x: &PacePeople, c: Context<'_>) -> Result<Section, PageError> {
    let f = c.format;
    let page = on_page(x);
    let sentence = sentence_of(&page, x, f);
    let mut figures = ranges(&page, &sentence, f)?;
    figures.extend(by_jobs(&page, &sentence, f)?);
    let view = SectionView {
        id: ID.into(),
        heading: HEADING.into(),
        figures,
        sentence,
        how_to_read: say(
            "This is not a league table: people stand by code, and small differences are luck. The dot is the best guess of a person's pace on the same work; the ring is the plain average, which few jobs can throw far off. In the second chart, people within the gray band differ by no more than luck makes of so many jobs.",
        ),
        notes: notes(&page, x, f),
        more: vec![say(sight(x, f))],
        ..SectionView::default()
    };
    let tables = |people: &PacePeople| {
        let whole = whole(x, page.people.len());
        vec![by_person(people, f), beside(people), whole]
    };
    let mut section = Section::new(view, tables(&page), f);
    section.tables = tables(x);
    Ok(section)
}

pub(in crate::pages) fn name(p: &PersonPace) -> String {
    if p.fit.shop.is_empty() {
        p.fit.person.clone()
    } else {
        format!("{} {}", p.fit.shop, p.fit.person)
    }
}

/// Everybody with something to be said, in the order of the table.
fn pointed(x: &PacePeople) -> impl Iterator<Item = &PersonPace> {
    let quiet = [Kind::None, Kind::NotEnough];
    x.people.iter().filter(move |p| !quiet.contains(&p.finding))
}

fn spoken(x: &PacePeople) -> impl Iterator<Item = &PersonPace> {
    x.people.iter().filter(|p| p.fit.jobs >= LEAST_JOBS)
}

/// `page`: those on the page, of all in `x`.
fn sentence_of(page: &PacePeople, x: &PacePeople, f: &Format) -> Sentence {
    let mut all = match pointed(x).count() {
        0 => say(format!(
            "**Nobody stands out** among {} with enough jobs to speak of. ",
            f.count_of(spoken(x).count() as u64, "person", "people")
        )),
        _ => Sentence::new(),
    };
    for p in pointed(page) {
        all.push(Piece::strong(name(p)));
        all.extend(say(format!(" {} ", said(p, f))));
    }
    if let Some(Piece::Text(last)) = all.last_mut() {
        last.truncate(last.trim_end().len());
    }
    all
}

/// What is said of a person, after the code.
fn said(p: &PersonPace, f: &Format) -> String {
    let range = |e: &Estimate| {
        format!(
            "{}, likely {} to {}",
            f.pace(e.value),
            percent(e.low, f),
            percent(e.high, f)
        )
    };
    let pace = p.fit.pace.known().map_or_else(String::new, range);
    match p.finding {
        Kind::Slow => format!("takes longer than the shop's usual on the same work ({pace})."),
        Kind::Rushing => format!("is quick ({pace}), and more of the jobs come back."),
        Kind::Erratic => {
            let ratio = p.fit.spread_ratio.unwrap_or(1.0);
            format!(
                "has times that vary {} times as much as other people's.",
                f.number(ratio, 2)
            )
        }
        Kind::Learning => match (&p.fit.learning, p.fit.count) {
            (Figure::Known(e), Some(n)) => format!(
                "is new and getting quicker: {} less time on the same work each time the number of jobs doubles ({} so far).",
                f.share(1.0 - e.value),
                f.count_of(n, "job", "jobs")
            ),
            _ => "is new and getting quicker.".into(),
        },
        Kind::Overuse => match &p.fit.used {
            Figure::Known(e) => format!(
                "uses {} times the coating that the work needs (likely {} to {}).",
                f.number(e.value, 2),
                f.number(e.low, 2),
                f.number(e.high, 2)
            ),
            Figure::NotEnough(_) => "uses more coating than the work needs.".into(),
        },
        Kind::None | Kind::NotEnough => String::new(),
    }
}

fn percent(pace: f64, f: &Format) -> String {
    format!("{}%", f.signed(100.0 * (pace - 1.0), 0))
}

/// What a shop of this size could have seen.
fn sight(x: &PacePeople, f: &Format) -> String {
    match &x.sight {
        Some(s) => format!(
            "Somebody truly {} slower would be noticed here, after {}, about {} of the time.",
            f.share(LOOKED_FOR),
            f.count_of(s.jobs, "job", "jobs"),
            f.share(s.noticed)
        ),
        None => "So few jobs a person tell of nobody.".into(),
    }
}

/// `page`: those on the page, of all in `x`.
// Long because it is a list: a note after the other.
fn notes(page: &PacePeople, x: &PacePeople, f: &Format) -> Vec<Sentence> {
    let mut all: Vec<Sentence> = Vec::new();
    if page.people.len() < x.people.len() {
        all.push(say(format!(
            "{} are shown here: those pointed at, then those with most jobs. tables/pace_by_person.csv and tables/pace_beside.csv have all {}.",
            f.count_of(page.people.len() as u64, "person", "people"),
            f.count(x.people.len() as u64)
        )));
    }
    for kind in [
        Kind::Slow,
        Kind::Rushing,
        Kind::Erratic,
        Kind::Learning,
        Kind::Overuse,
    ] {
        if x.people
            .iter()
            .any(|p| p.finding == kind || p.also.contains(&kind))
        {
            all.push(say(try_this(kind)));
        }
    }
    for (drift, text) in [
        (
            Drift::Slower,
            "took longer this month than their own past would suggest: ask what changed, the work, the film or the day.",
        ),
        (
            Drift::Quicker,
            "took less time this month than their own past would suggest: see whether something was left out, or found.",
        ),
    ] {
        let those: Vec<String> = page
            .people
            .iter()
            .filter(|p| p.fit.drift == drift)
            .map(name)
            .collect();
        if !those.is_empty() {
            let mut note = vec![words::shop_words(&those)];
            note.extend(say(format!(" {text}")));
            all.push(note);
        }
    }
    all.extend(quiet(page));
    let thin = x
        .people
        .iter()
        .filter(|p| p.finding == Kind::NotEnough)
        .count() as u64;
    if thin > 0 {
        all.push(say(format!(
            "{} fewer than eight timed jobs in the months looked at and {} not spoken of.",
            f.count_of(thin, "person has", "people have"),
            if thin == 1 { "is" } else { "are" }
        )));
    }
    all.push(say("A figure here starts a conversation, about the standard as much as about the person. It is no ground for discipline, and it does not say who is better."));
    all
}

/// People who differ by more than chance and of whom there is nothing to say.
fn quiet(page: &PacePeople) -> Option<Sentence> {
    let of = |slower: bool| -> Vec<String> {
        let still = page.people.iter().filter(|p| p.finding == Kind::None);
        let side = |p: &&PersonPace| p.fit.plain.is_some_and(|v| (v > 1.0) == slower);
        let apart = still.filter(|p| beyond_chance(p)).filter(side);
        apart.map(name).collect()
    };
    let mut note = Sentence::new();
    for (names, side) in [(of(false), "quicker"), (of(true), "slower")] {
        if !names.is_empty() {
            note.extend((!note.is_empty()).then(|| Piece::text(", ")));
            note.push(words::shop_words(&names));
            let are = if names.len() == 1 { "is" } else { "are" };
            note.push(Piece::text(format!(" {are} {side} than the usual")));
        }
    }
    (!note.is_empty()).then(|| {
        note.extend(say(
            " by more than chance alone makes, but not by enough, or not surely enough, to act on: nothing follows from it.",
        ));
        note
    })
}

/// What to try, in the trade's terms: common practice, no published source.
fn try_this(kind: Kind) -> &'static str {
    match kind {
        Kind::Slow => {
            "**Longer on the same work.** Do a job together: sections small enough to level before they set, the applicator reloaded with five to ten drops for each, supplies within reach, and no break before a section is finished. Then ask whether the planned minutes are right."
        }
        Kind::Rushing => {
            "**Quick, and more comes back.** Smaller sections, and a second pass for residue under a raking light before the vehicle leaves."
        }
        Kind::Erratic => {
            "**Times that vary.** Lay out supplies before the start, go round the vehicle in one fixed order, and finish a section before a break."
        }
        Kind::Learning => {
            "**Still learning.** The time falls with practice: leave their pace alone. The chart counts their first jobs too; the table has where they stand now. On film that is new to them let them work beside somebody."
        }
        Kind::Overuse => {
            "**More coating than the work needs.** Prime the applicator once, reload with five to ten drops, and carry each reload to the end of its section before taking more."
        }
        Kind::None | Kind::NotEnough => "",
    }
}

/// For machines: a row a person, by code.
pub(in crate::pages) fn json(x: &PacePeople) -> Value {
    let person = |p: &PersonPace| {
        let mut row = json!({
            "person": p.fit.person,
            "jobs": p.fit.jobs,
            "pace": p.fit.pace,
            "spread": p.fit.spread,
            "learning": p.fit.learning,
            "use": p.fit.used,
            "callbacks": p.fit.callbacks,
            "finding": p.finding,
            "also": p.also,
            "drift": p.fit.drift,
            "long_pauses": p.fit.long_pauses,
        });
        if !p.fit.shop.is_empty() {
            row["shop"] = json!(p.fit.shop);
        }
        if let Some(e) = p.fit.expected_now {
            row["expected_now"] = json!(e);
        }
        if let Some(n) = p.fit.count {
            row["jobs_so_far"] = json!(n);
        }
        row
    };
    Value::Array(x.people.iter().map(person).collect())
}

/// For machines: the shop as a whole.
pub(in crate::pages) fn shop_json(x: &PacePeople) -> Value {
    let mut all = json!({
        "between_sd": x.between,
        "within_sd": x.within,
        "mean_error": x.mean_error,
        "shared_jobs": x.shared_jobs,
    });
    if let Some(s) = x.sight {
        all["would_notice"] =
            json!({"slower": LOOKED_FOR, "jobs": s.jobs, "share": s.noticed, "simulated": s.shops});
    }
    all
}
