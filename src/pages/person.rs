//! A page for one person: own figures, what to try, and nothing of anybody
//! else. In the frame of the review.

mod file_name;
mod sections;
mod tries;

use super::error::PageError;
use super::format::{Format, date, month};
use super::view::{Headings, PageView, RestsOn, Sentence, Tile, TileFigure, sentence};
use super::{File, Material, render};
use crate::estimate::{Estimate, Figure};
use crate::findings::Scope;
use crate::findings::pace::Kind;
use crate::findings::person::{LEAST_PEOPLE, OwnPage, Side};
use file_name::FileNames;
use std::collections::BTreeMap;

fn say(text: impl AsRef<str>) -> Sentence {
    sentence(text.as_ref())
}

/// What one page is made from.
#[derive(Debug, Clone, Copy)]
struct Own<'a> {
    page: &'a OwnPage,
    format: &'a Format,
    scope: &'a Scope,
}

/// A file for each of these people. `names`: what a person is called, by code
/// or by "shop/code"; others are called by their code.
///
/// # Errors
/// Where a chart cannot be drawn or the template fails.
pub(super) fn files(
    m: &Material<'_>,
    people: &[OwnPage],
    names: &BTreeMap<String, String>,
) -> Result<Vec<File>, PageError> {
    let mut paths = FileNames::default();
    let file = |page: &OwnPage| {
        let view = view(m, page, names)?;
        Ok(File {
            path: paths.of(&page.key),
            bytes: render::page(&view)?.into_bytes(),
        })
    };
    people.iter().map(file).collect()
}

/// The person's name where the shop gave one, else the code.
fn called(page: &OwnPage, names: &BTreeMap<String, String>) -> String {
    let key = &page.key;
    let with_shop = format!("{}/{}", key.shop, key.person);
    let name = names.get(&with_shop).or_else(|| names.get(&key.person));
    let code = if page.several_shops {
        format!("{} {}", key.shop, key.person)
    } else {
        key.person.clone()
    };
    match name {
        Some(name) if !name.trim().is_empty() => format!("{name} ({code})"),
        _ => code,
    }
}

fn view(
    m: &Material<'_>,
    page: &OwnPage,
    names: &BTreeMap<String, String>,
) -> Result<PageView, PageError> {
    let own = Own {
        page,
        format: m.format,
        scope: &m.findings.scope,
    };
    let (who, until) = (called(page, names), month(own.scope.month.first()));
    Ok(PageView {
        headings: Headings {
            skip: "Skip to your work",
            first: "Your work in one minute",
            next: "What to try",
            also: "",
            evidence: "Your figures",
        },
        title: format!("Coating work of {who}, up to {until}"),
        kicker: m.about.shop_name.clone().unwrap_or_default(),
        h1: format!("Coating work: {who}"),
        cover: cover(own, m),
        lead: lead(own),
        tiles: tiles(own),
        beware: Sentence::new(),
        do_next: tries::actions(page, m.format),
        glance: Vec::new(),
        cannot_say: cannot_say(own),
        sections: sections::all(own)?,
        left_out: Vec::new(),
        how_to_read: how_to_read(),
        rests_on: vec![rests_on(own)],
        footer: say(format!(
            "Made by tallycoat {} from files with fingerprint {}. The page needs no network.",
            m.about.version, m.about.fingerprint
        )),
    })
}

fn cover(own: Own<'_>, m: &Material<'_>) -> Sentence {
    let scope = own.scope;
    say(format!(
        "{} that you did alone, from {} to {}. Data until {}.",
        own.format
            .count_of(own.page.jobs, "timed job", "timed jobs"),
        month(scope.window_from.first()),
        month(scope.month.first()),
        date(m.findings.data_until)
    ))
}

/// The range of a pace in percent: "likely −13% to −4%".
fn likely(e: &Estimate, f: &Format) -> String {
    let percent = |x: f64| format!("{}%", f.signed(100.0 * (x - 1.0), 0));
    format!("likely {} to {}", percent(e.low), percent(e.high))
}

/// The pace where it may be laid beside the usual.
fn pace(page: &OwnPage) -> Option<&Estimate> {
    page.beside.as_ref().and_then(|b| b.pace.known())
}

fn lead(own: Own<'_>) -> Sentence {
    if own.page.kinds.contains(&Kind::Learning) {
        return say("You are new and getting quicker with practice, as one should.");
    }
    let first = match own.page.beside.as_ref().map(|b| b.side) {
        Some(Side::Longer) => "On the same work you took longer than the shop's usual.",
        Some(Side::Quicker) => "On the same work you were quicker than the shop's usual.",
        Some(Side::Usual) => "On the same work your time is about the shop's usual.",
        Some(Side::NotEnough) => "There are too few timed jobs yet to say much of your time.",
        None => "Your own course is on this page; with so few people it compares with nobody.",
    };
    let next = match own.page.tries.is_empty() {
        true => "Nothing asks for a change.",
        false => "Below is what to try.",
    };
    say(format!("{first} {next}"))
}

fn tiles(own: Own<'_>) -> Vec<Tile> {
    vec![time(own), spread(own), coating(own), back(own)]
}

fn tile(label: &str, value: Option<String>, range: String, missing: String, proof: &str) -> Tile {
    Tile {
        label: label.into(),
        figure: match value {
            Some(value) => TileFigure::Known {
                value,
                unit: String::new(),
            },
            None => TileFigure::Thin { text: missing },
        },
        before: String::new(),
        usual: range,
        certainty: String::new(),
        proof: proof.into(),
    }
}

/// What is missing of a figure, in words; empty where it is known.
fn lacking(figure: &Figure, f: &Format) -> String {
    match figure {
        Figure::Known(_) => String::new(),
        Figure::NotEnough(n) => super::words::missing(n, f),
    }
}

fn time(own: Own<'_>) -> Tile {
    let (page, f) = (own.page, own.format);
    let missing = page.beside.as_ref().map_or_else(
        || "not compared: too few people".to_string(),
        |b| lacking(&b.pace, f),
    );
    let known = pace(page);
    tile(
        "Time on the same work",
        known.map(|e| f.pace(e.value)),
        known.map_or_else(String::new, |e| likely(e, f)),
        missing,
        sections::TIME,
    )
}

/// Two in three jobs lie within so large a share of the own usual.
fn within(sd: f64) -> f64 {
    sd.exp_m1()
}

fn spread(own: Own<'_>) -> Tile {
    let f = own.format;
    let known = own.page.spread.known();
    tile(
        "Two in three jobs within",
        known.map(|e| f.share(within(e.value))),
        known.map_or_else(String::new, |_| "of your usual time".into()),
        lacking(&own.page.spread, f),
        sections::TIME,
    )
}

fn coating(own: Own<'_>) -> Tile {
    let f = own.format;
    let known = own.page.used.known();
    tile(
        "Coating used, over what the work needs",
        known.map(|e| f.number(e.value, 2)),
        known.map_or_else(String::new, |e| {
            format!("likely {} to {}", f.number(e.low, 2), f.number(e.high, 2))
        }),
        lacking(&own.page.used, f),
        sections::COATING,
    )
}

fn back(own: Own<'_>) -> Tile {
    let f = own.format;
    let counted = own.page.callbacks.as_ref().map(|b| b.split.count);
    tile(
        "Came back for coating work",
        counted.map(|c| format!("{} of {}", f.count(c.yes), f.count(c.of))),
        counted.map_or_else(String::new, |_| "jobs done alone".into()),
        "no callbacks are recorded".into(),
        sections::CALLBACKS,
    )
}

fn cannot_say(own: Own<'_>) -> Vec<Sentence> {
    let mut all = Vec::new();
    if own.page.beside.is_none() {
        all.push(say(format!(
            "**Your time against the shop's usual**: it is shown from {} on, since with fewer the usual would tell a colleague's figure.",
            own.format.count_of(LEAST_PEOPLE as u64, "person", "people")
        )));
    }
    for (what, figure) in [
        ("Your time", own.page.beside.as_ref().map(|b| &b.pace)),
        ("Coating used", Some(&own.page.used)),
    ] {
        if let Some(n) = figure.and_then(Figure::not_enough) {
            let missing = super::words::missing(n, own.format);
            all.push(say(format!("**{what}**: {missing}.")));
        }
    }
    all
}

fn how_to_read() -> Vec<Sentence> {
    vec![
        say(
            "**Likely range.** Luck moves every figure. A likely range is made so that it holds the true figure about 19 times in 20, provided that the records are right.",
        ),
        say(
            "**The same work.** Vehicle class, film area and finish are taken into account. What the records do not know, an awkward vehicle or a bad day, is not.",
        ),
        say(
            "**What this is not.** It is no rank, no judgment of you and no ground for discipline. It starts a conversation, about the standard as much as about the person: if something here looks wrong to you, it may be.",
        ),
        say(
            "**Care at work.** Shop rule: gloves, and ventilation or an organic-vapor respirator. The product's safety data sheet (section 8) and local law decide which. Never buy speed by working outside the rules of the workspace.",
        ),
    ]
}

fn rests_on(own: Own<'_>) -> RestsOn {
    RestsOn {
        heading: "Jobs counted".into(),
        paragraphs: vec![
            say(format!(
                "Coated jobs that you did alone, from {} to {}. Jobs shared with others count for nobody's time. Jobs without minutes, area or class, and times far from all others, are left out of the time, not of the counts.",
                month(own.scope.window_from.first()),
                month(own.scope.month.first())
            )),
            say(
                "Time on the same work: mixed model on the logarithm of minutes; against the plain mean of all people's effects, the spread between people integrated out. Ranges at 95%.",
            ),
        ],
        tables: Vec::new(),
    }
}
