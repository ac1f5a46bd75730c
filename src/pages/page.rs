//! The whole page from the findings: what stands where, and in which words.

use super::do_next;
use super::error::PageError;
use super::first_screen;
use super::format::{date, month};
use super::glance;
use super::methods;
use super::rests_on;
use super::sections::{self, Context, Section};
use super::view::{Headings, PageView, Sentence, sentence};
use super::{About, Material};

/// A page and the tables behind it.
#[derive(Debug, Clone)]
pub(super) struct Page {
    pub(super) view: PageView,
    pub(super) sections: Vec<Section>,
}

fn say(text: impl AsRef<str>) -> Sentence {
    sentence(text.as_ref())
}

/// Lays out the page.
// Long because it is a list: a section a line.
pub(super) fn page(m: &Material<'_>) -> Result<Page, PageError> {
    let f = m.findings;
    let context = Context {
        format: m.format,
        scope: &f.scope,
        actions: m.actions,
        money: m.money,
    };
    let mut sections = vec![
        sections::attach::section(&f.attach, &f.groups, context)?,
        sections::price::section(&f.price, context)?,
        sections::margin::section(f, context)?,
        sections::bridge::section(f, context)?,
        sections::floor::section(&f.floor, context)?,
        sections::price_list::section(&f.price_list, context)?,
        sections::consumption::section(f, context)?,
        sections::minutes::section(f, context)?,
        sections::planning::section(f, context),
        sections::pace::section(&f.pace, context)?,
        sections::callbacks::section(&f.callbacks, context)?,
        sections::workspace::section(&f.workspace, context)?,
        sections::bottles::section(f, context),
        sections::durability::section(&f.durability, context)?,
    ];
    if let Some(shops) = sections::shops::section(f.shops.as_ref(), context) {
        let after = sections
            .iter()
            .position(|s| s.view.id == sections::pace::ID);
        sections.insert(after.map_or(sections.len(), |i| i + 1), shops?);
    }
    for (id, table) in m.actions.iter().filter_map(do_next::behind) {
        if let Some(section) = sections.iter_mut().find(|s| s.view.id == id) {
            section.add(table, m.format);
        }
    }
    in_short(&mut sections, m);
    sections.extend(sections::own::section(m.own, context));
    let since = f.restated.as_ref();
    sections.extend(since.map(|r| sections::restated::section(r, context)));
    let name = month(f.scope.month.first());
    let headed = |s: &Section| (s.view.id.clone(), s.view.heading.clone());
    let headed: Vec<(String, String)> = sections.iter().map(headed).collect();
    let mut rests_on = rests_on::parts(m);
    rests_on.push(methods::part(&headed, m.format));
    let view = PageView {
        headings: Headings::default(),
        title: format!("Coating review, {name}"),
        kicker: m.about.shop_name.clone().unwrap_or_default(),
        h1: format!("Coating review: {name}"),
        cover: cover(m),
        lead: first_screen::lead(m),
        tiles: first_screen::tiles(m),
        beware: first_screen::beware(m),
        do_next: do_next::do_next(m),
        glance: glance::lines(m),
        cannot_say: first_screen::cannot_say(m),
        sections: sections.iter().map(|s| s.view.clone()).collect(),
        left_out: m.about.locked.iter().map(say).collect(),
        how_to_read: how_to_read(),
        rests_on,
        footer: footer(m.about),
    };
    Ok(Page { view, sections })
}

/// Gives each section its line in the list of sections.
fn in_short(sections: &mut [Section], m: &Material<'_>) {
    for section in sections {
        let short = sections::short::of(&section.view.id, m.findings, m.format);
        section.view.short = short.unwrap_or_default();
        section.view.question = sections::short::question(&section.view.id);
    }
}

fn cover(m: &Material<'_>) -> Sentence {
    let f = m.format;
    let a = &m.findings.attach;
    let lines = m.ledger.lines();
    let finished = f.count_of(
        a.eligible + a.excluded,
        "film job finished",
        "film jobs finished",
    );
    let aside = match lines.quarantined {
        0 if m.about.elsewhere.is_some() => {
            "The exports' lines were counted where the tables behind this page were made."
                .to_string()
        }
        0 => "Every line of the exports was used or is accounted for.".to_string(),
        n => format!(
            "{} of {} lines in the exports could not be used; quarantine.csv lists them.",
            f.count(n),
            f.count(lines.read)
        ),
    };
    let unfinished = if m.findings.unfinished {
        " The month may be unfinished: the records end before its last week."
    } else {
        ""
    };
    let coated = match a.excluded {
        0 => format!(", {} with coating", f.count(a.coated)),
        _ => format!(
            "; the coating suits {} of them, and {} took it",
            f.count(a.eligible),
            f.count(a.coated)
        ),
    };
    say(format!(
        "{finished}{coated}. {aside} Data until {}.{unfinished}",
        date(m.findings.data_until)
    ))
}

fn how_to_read() -> Vec<Sentence> {
    vec![
        say(
            "**Likely range.** Luck moves every figure of a month. A likely range is made so that it holds the true figure about 19 times in 20, provided that the records are right.",
        ),
        say(
            "**Real change, probably real, could be luck.** A real change lies outside the range in which months fall when nothing has changed. Probably real: still inside, but the change from the usual is larger than luck explains well. Could be luck: within ordinary ups and downs; acting on it would be acting on noise.",
        ),
        say(
            "**Usual.** The months looked at, without this month; the settings say how many. **Quotes assume**: the planning figures in use, those of constants.toml.",
        ),
        say(
            "**What this is not.** It measures past jobs. It promises no lifetime of a film or coating, judges no person, and does not assess anyone's exposure to vapors.",
        ),
        say(
            "**Care at work.** Shop rule: gloves, and ventilation or an organic-vapor respirator. The product's safety data sheet (section 8) and local law decide which. Never buy speed by working outside the rules of the workspace.",
        ),
    ]
}

fn footer(about: &About) -> Sentence {
    let from = match about.elsewhere {
        None => "files",
        Some(_) => "tables made elsewhere,",
    };
    say(format!(
        "Made by tallycoat {} from {from} with fingerprint {}. The page needs no network.",
        about.version, about.fingerprint
    ))
}
