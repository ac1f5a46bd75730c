//! The shops of a chain beside each other, or one of them within its chain.
//! Never ranks.

mod drawings;
mod json;
mod on_page;
mod tables;

use super::{Context, Section, say};
use crate::estimate::Estimate;
use crate::findings::shops::{LOOKED_FOR, Said, Shop, Shops, Whole};
use crate::pages::error::PageError;
use crate::pages::format::{Format, list};
use crate::pages::table::Table;
use crate::pages::view::{Piece, SectionView, Sentence};
use drawings::drawings;
pub(in crate::pages) use json::json;
use on_page::on_page;
use tables::{constants, figures, whole, work};

pub(in crate::pages) const ID: &str = "shops";
const HEADING: &str = "The shops beside each other";
const HEADING_OF_ONE: &str = "This shop within its chain";
/// Shops that the sentence names, at most.
const NAMED: usize = 8;

/// The section; nothing where there is one shop and no chain.
pub(in crate::pages) fn section(
    found: Option<&Shops>,
    c: Context<'_>,
) -> Option<Result<Section, PageError>> {
    found.map(|x| shown(x, c))
}

fn shown(x: &Shops, c: Context<'_>) -> Result<Section, PageError> {
    let f = c.format;
    let page = on_page(x);
    let (heading, sentence) = match x.shops.first().filter(|_| x.is_of_one()) {
        Some(one) => (HEADING_OF_ONE, of_one(one, x, f)),
        None => (HEADING, of_all(&page, x, f)),
    };
    let view = SectionView {
        id: ID.into(),
        heading: heading.into(),
        figures: drawings(&page, x, &sentence, f)?,
        sentence,
        how_to_read: how_to_read(x),
        notes: notes(&page, x, f),
        ..SectionView::default()
    };
    let tables = |shops: &Shops, constants: Table| {
        vec![
            figures(shops, c),
            work(shops),
            constants,
            whole(x, page.shops.len()),
        ]
    };
    let own = constants(x);
    let mut section = Section::new(view, tables(&page, own.on_page(&page)), f);
    section.tables = tables(x, own.table);
    Ok(section)
}

/// A shop's name, or that it has none.
fn called(shop: &Shop) -> String {
    match shop.name.as_str() {
        "" => "(no name)".into(),
        name => name.into(),
    }
}

/// `page`: those on the page, of all in `x`.
fn of_all(page: &Shops, x: &Shops, f: &Format) -> Sentence {
    let spoken = f.count_of(x.spoken_of, "shop", "shops");
    let mut all = match x.pointed_at {
        0 => say(format!(
            "**No shop stands out** among {spoken} with enough jobs to speak of. "
        )),
        _ => Sentence::new(),
    };
    let pointed = page.shops.iter().filter(|s| !s.said.is_empty());
    for shop in pointed.take(NAMED) {
        all.push(Piece::strong(called(shop)));
        let words: Vec<String> = shop.said.iter().map(|s| said(*s, shop, x, f)).collect();
        all.extend(say(format!(" {}. ", list(&words))));
    }
    if x.pointed_at > NAMED as u64 {
        all.extend(say(format!(
            "In all something stands out at {} of {spoken} with enough jobs; tables/shops.csv has them. ",
            f.count(x.pointed_at)
        )));
    }
    all.extend(say(sight(x, f)));
    all
}

/// How one shop stands within its chain.
fn of_one(shop: &Shop, x: &Shops, f: &Format) -> Sentence {
    let mut all = say(format!(
        "Within its chain of {}, ",
        f.count_of(x.count, "shop", "shops")
    ));
    all.push(Piece::strong(called(shop)));
    let words: Vec<String> = [
        shop.used.figure.known().map(|e| use_words(e, f)),
        shop.time.figure.known().map(|e| time_words(e, f)),
        sold_words(shop, &x.whole, f),
        back_words(shop, &x.whole, f),
    ]
    .into_iter()
    .flatten()
    .collect();
    let verdict = match (words.is_empty(), shop.said.is_empty()) {
        (true, _) => {
            all.extend(say(" has too few jobs yet to be held against it."));
            return all;
        }
        (false, true) => "None of this stands out",
        (false, false) => "Something of this stands out; the table says what",
    };
    all.extend(say(format!(" {}. {verdict}.", list(&words))));
    all
}

/// What is said of a shop, after its name.
fn said(said: Said, shop: &Shop, x: &Shops, f: &Format) -> String {
    let words = match said {
        Said::UsesMore | Said::UsesLess => shop.used.figure.known().map(|e| use_words(e, f)),
        Said::TakesLonger | Said::TakesLess => shop.time.figure.known().map(|e| time_words(e, f)),
        Said::SellsMore | Said::SellsLess => sold_words(shop, &x.whole, f),
        Said::ComesBackMore => back_words(shop, &x.whole, f),
    };
    words.unwrap_or_default()
}

fn percent(factor: f64, f: &Format) -> String {
    format!("{}%", f.signed(100.0 * (factor - 1.0), 0))
}

fn likely(e: &Estimate, f: &Format) -> String {
    format!("likely {} to {}", percent(e.low, f), percent(e.high, f))
}

fn use_words(e: &Estimate, f: &Format) -> String {
    let much = match e.value {
        v if v >= 1.0 => format!("{} more", f.share(v - 1.0)),
        v => format!("{} less", f.share(1.0 - v)),
    };
    format!(
        "uses {much} coating on the same work than is usual in the chain ({})",
        likely(e, f)
    )
}

fn time_words(e: &Estimate, f: &Format) -> String {
    let much = match e.value {
        v if v >= 1.0 => format!("{} more", f.share(v - 1.0)),
        v => format!("{} less", f.share(1.0 - v)),
    };
    format!("takes {much} time on the same work ({})", likely(e, f))
}

fn sold_words(shop: &Shop, whole: &Whole, f: &Format) -> Option<String> {
    let (own, usual) = (shop.sold.figure.known()?, whole.sold_usual?);
    Some(format!(
        "sells the coating on {} of its film jobs (likely {}; usual {})",
        f.share(own.value),
        f.share_range(own.low, own.high),
        f.share(usual.value)
    ))
}

fn back_words(shop: &Shop, whole: &Whole, f: &Format) -> Option<String> {
    let (own, usual) = (shop.back.figure.known()?, whole.back_usual?);
    Some(format!(
        "gets {} of its coated jobs back (likely {}; usual {})",
        f.share_fine(own.value),
        format_args!("{} to {}", f.share_fine(own.low), f.share_fine(own.high)),
        f.share_fine(usual.value)
    ))
}

/// What a chain of this size could have seen.
fn sight(x: &Shops, f: &Format) -> String {
    x.whole.sight.map_or_else(String::new, |s| {
        format!(
            "This chain would notice a shop truly {} slower, with {}, {}.",
            f.share(LOOKED_FOR),
            f.count_of(s.jobs, "timed job", "timed jobs"),
            how_often(s.in_ten(), f)
        )
    })
}

fn how_often(in_ten: u64, f: &Format) -> String {
    match in_ten {
        0 => "seldom or never".into(),
        10 => "nearly always".into(),
        n => format!("about {} in ten", f.count_of(n, "time", "times")),
    }
}

fn how_to_read(x: &Shops) -> Sentence {
    if x.is_of_one() {
        return say(
            "The usual is the plain mean of the chain's shops, of those with jobs enough to speak of where it is a share. The shop's figures are drawn towards the chain's by as much as few jobs say little. In the chart, a shop within the gray band sells no more and no less often than chance makes of so many film jobs.",
        );
    }
    say(
        "This is not a league table: shops stand by name, and small differences between them are luck. In the first chart, shops within the gray band sell no more and no less often than chance makes of so many film jobs. In the others the dot is the best guess of a shop's figure on the same work, drawn towards the chain's by as much as few jobs say little; the bar is where it likely lies.",
    )
}

/// Shops outside the band of which nothing is said, where there are any.
fn beyond(page: &Shops) -> Option<Sentence> {
    let sells = |s: &Shop| {
        s.said
            .iter()
            .any(|x| matches!(x, Said::SellsMore | Said::SellsLess))
    };
    let those = page.shops.iter().filter(|s| s.sold_outside && !sells(s));
    let mut names: Vec<String> = those.map(called).collect();
    if names.len() > NAMED {
        names.truncate(NAMED);
        names.push("others".into());
    }
    let mut all = vec![Piece::strong(list(&names))];
    all.extend(say(
        ": outside the gray band, as is seldom by chance alone, but not surely a tenth from the usual, which is what stands out here.",
    ));
    (!names.is_empty()).then_some(all)
}

/// `page`: those on the page, of all in `x`.
fn notes(page: &Shops, x: &Shops, f: &Format) -> Vec<Sentence> {
    let mut all = Vec::new();
    if page.shops.len() < x.shops.len() {
        all.push(say(format!(
            "{} are shown here: those that stand out, then those with most film jobs. tables/shops.csv and tables/shops_work.csv have all {}.",
            f.count_of(page.shops.len() as u64, "shop", "shops"),
            f.count(x.shops.len() as u64)
        )));
    }
    let too_few = x.count - x.spoken_of;
    if too_few > 0 && !x.is_of_one() {
        all.push(say(format!(
            "{} too few jobs in the months looked at and {} not spoken of.",
            f.count_of(too_few, "shop has", "shops have"),
            if too_few == 1 { "is" } else { "are" }
        )));
    }
    all.extend(beyond(page));
    if x.shops.iter().any(|s| !s.said.is_empty()) {
        all.push(say(
            "**Where a shop stands out**, ask first whether all shops weigh, time and write down in the same way. Then let two shops do a job together: the one that needs more may have found what the other leaves out.",
        ));
    }
    all.push(say(
        "Shops meet different customers and film, so the share sold says where to look and not who sells well. A shop's figures hold its people: look at hands-on time by person too. No figure here says which shop is better.",
    ));
    all
}
