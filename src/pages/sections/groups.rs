//! Who takes the coating: tables and sentences within "How often the coating
//! is sold".

use super::{Context, say};
use crate::findings::groups::{Comparison, Group, Groups, Odds};
use crate::pages::format::{Format, month};
use crate::pages::table::{Cell, Table, numbers_column, words_column};
use crate::pages::view::Sentence;

/// How the sample was shown, in words.
pub(in crate::pages) fn shown(way: &str) -> String {
    match way {
        "full_pair" => "a whole pair".into(),
        "half_and_half" => "a half-and-half sample".into(),
        "none" => "no sample".into(),
        "" => "not recorded".into(),
        other => other.into(),
    }
}

/// A group's name, or that it has none.
fn named(name: &str) -> String {
    if name.is_empty() {
        "not recorded".into()
    } else {
        name.into()
    }
}

/// What the samples say; and, for those who look closer, where they say nothing
/// and what is odd about the offers.
pub(super) fn notes(g: &Groups, f: &Format) -> (Vec<Sentence>, Vec<Sentence>) {
    let said = |tells: bool| {
        let those = g.samples.iter().filter(move |c| c.tells() == tells);
        those
            .filter_map(|c| against(c, f))
            .collect::<Vec<Sentence>>()
    };
    let mut all = said(false);
    if g.coated_refused > 0 {
        all.push(say(format!(
            "{} coated though written down as not offered: they count as sold, not as offered.",
            f.count_of(g.coated_refused, "job was", "jobs were")
        )));
    }
    if g.without_seller + g.without_sample > 0 {
        all.push(say(format!(
            "Not written down: who sold {}, and how the coating was shown on {}.",
            f.count_of(g.without_seller, "film job", "film jobs"),
            f.count_of(g.without_sample, "offer", "offers")
        )));
    }
    (said(true), all)
}

/// "19 points more said yes ..., likely 8 to 30 more".
fn against(c: &Comparison, f: &Format) -> Option<Sentence> {
    let e = c.difference.known()?;
    let pair = format!("{} against {}", shown(&c.shown), shown(&c.against));
    let points = |x: f64| f.number(x.abs() * 100.0, 0);
    Some(if !c.tells() {
        say(format!(
            "Shown {pair}, on the same finishes and sellers: no difference beyond what luck makes (likely {} fewer to {} more of a hundred).",
            points(e.low),
            points(e.high)
        ))
    } else if e.value > 0.0 {
        say(format!(
            "Shown {pair}, on the same finishes and sellers: **{} more** of a hundred said yes, likely {} to {} more.",
            points(e.value),
            points(e.low),
            points(e.high)
        ))
    } else {
        say(format!(
            "Shown {pair}, on the same finishes and sellers: **{} fewer** of a hundred said yes, likely {} to {} fewer.",
            points(e.value),
            points(e.high),
            points(e.low)
        ))
    })
}

/// All tables of the groups.
pub(super) fn tables(g: &Groups, c: Context<'_>) -> Vec<Table> {
    let mut all = vec![groups(g, c)];
    if !g.samples.is_empty() {
        all.push(samples(g, c));
    }
    if !g.sellers.is_empty() {
        all.push(sellers(g, c));
    }
    all
}

fn groups(g: &Groups, c: Context<'_>) -> Table {
    let row = |by: &str, group: &Group, name: String| {
        vec![
            Cell::Text(by.into()),
            Cell::Text(name),
            Cell::Count(group.eligible),
            Cell::Count(group.coated),
            Cell::value(&group.rate, Cell::Share),
            Cell::low(&group.rate, Cell::Share),
            Cell::high(&group.rate, Cell::Share),
            Cell::Count(group.offered),
            Cell::value(&group.acceptance, Cell::Share),
        ]
    };
    let mut rows = Vec::new();
    for (by, groups) in [
        ("shop", &g.shop),
        ("film", &g.film),
        ("finish", &g.finish),
        ("class", &g.class),
    ] {
        rows.extend(groups.iter().map(|x| row(by, x, named(&x.name))));
    }
    rows.extend(g.sample.iter().map(|x| row("sample", x, shown(&x.name))));
    Table {
        name: "attach_by_group",
        fold: match g.shop.is_empty() {
            true => "By film, finish, class and sample",
            false => "By shop, film, finish, class and sample",
        },
        caption: format!("Coating sold, months looked at, up to {}", month(c.scope.month.first())),
        columns: vec![
            words_column("by", "By"),
            words_column("group", "Group"),
            numbers_column("eligible", "Film jobs it suits"),
            numbers_column("coated", "Coated"),
            numbers_column("rate", "Share"),
            numbers_column("rate_low", "Likely from"),
            numbers_column("rate_high", "Likely to"),
            numbers_column("offered", "Known to have been offered it"),
            numbers_column("acceptance", "Said yes among them"),
        ],
        rows,
        definition: "All months looked at. Two-tone: work that carries several finishes. A group of fewer than 5 has no share. Groups differ in more than what they are named by.".into(),
    }
}

fn samples(g: &Groups, c: Context<'_>) -> Table {
    let odds = |o: &Odds, end: fn(&Odds) -> Option<f64>| Cell::maybe(end(o), Cell::Factor);
    let row = |x: &Comparison| {
        vec![
            Cell::Text(shown(&x.shown)),
            Cell::Text(shown(&x.against)),
            Cell::Count(x.offers),
            Cell::Count(x.against_offers),
            Cell::value(&x.difference, Cell::Points),
            Cell::low(&x.difference, Cell::Points),
            Cell::high(&x.difference, Cell::Points),
            odds(&x.odds_ratio, |o| match o {
                Odds::Known(e) => Some(e.value),
                _ => None,
            }),
            odds(&x.odds_ratio, |o| match o {
                Odds::Known(e) => Some(e.low),
                Odds::AtLeast(low) => Some(*low),
                _ => None,
            }),
            odds(&x.odds_ratio, |o| match o {
                Odds::Known(e) => Some(e.high),
                Odds::AtMost(high) => Some(*high),
                _ => None,
            }),
            Cell::Count(x.strata),
        ]
    };
    let mut rows: Vec<Vec<Cell>> = g.samples.iter().map(row).collect();
    let blank = |what: &str, n: u64| {
        let mut cells = vec![Cell::Text(what.into()), Cell::Blank, Cell::Count(n)];
        cells.extend(vec![Cell::Blank; 8]);
        cells
    };
    rows.push(blank("not written down how it was shown", g.without_sample));
    Table {
        name: "attach_by_sample",
        fold: "How it was shown, like with like",
        caption: format!("Ways of showing it, same finishes and sellers, months looked at, up to {}", month(c.scope.month.first())),
        columns: vec![
            words_column("shown", "Shown"),
            words_column("against", "Against"),
            numbers_column("offers", "Offers shown so"),
            numbers_column("against_offers", "Offers of the other"),
            numbers_column("difference", "More said yes"),
            numbers_column("difference_low", "Likely from"),
            numbers_column("difference_high", "Likely to"),
            numbers_column("odds_ratio", "Odds of a yes, times the other's"),
            numbers_column("odds_ratio_low", "Likely from"),
            numbers_column("odds_ratio_high", "Likely to"),
            numbers_column("strata", "Finishes and sellers that tell"),
        ],
        rows,
        definition: "Among jobs known to have been offered it. More said yes: in points, of a hundred customers. Compared within each finish and seller, then put together. Nobody drew lots for who was shown what.".into(),
    }
}

fn sellers(g: &Groups, c: Context<'_>) -> Table {
    let several = g.sellers.iter().any(|s| !s.shop.is_empty());
    let name = |shop: &str, person: &str| {
        if several {
            format!("{shop} {person}")
        } else {
            person.to_string()
        }
    };
    let mut rows: Vec<Vec<Cell>> = (g.sellers.iter())
        .map(|s| {
            vec![
                Cell::Text(name(&s.shop, &s.person)),
                Cell::Count(s.offered),
                Cell::Count(s.accepted),
                Cell::value(&s.acceptance, Cell::Share),
                Cell::low(&s.acceptance, Cell::Share),
                Cell::high(&s.acceptance, Cell::Share),
            ]
        })
        .collect();
    let offered: u64 = g.sellers.iter().map(|s| s.offered).sum();
    let accepted: u64 = g.sellers.iter().map(|s| s.accepted).sum();
    rows.push(vec![
        Cell::Text("everybody".into()),
        Cell::Count(offered),
        Cell::Count(accepted),
        Cell::value(&g.common, Cell::Share),
        Cell::low(&g.common, Cell::Share),
        Cell::high(&g.common, Cell::Share),
    ]);
    rows.push(vec![
        Cell::Text("film jobs whose seller is not written down".into()),
        Cell::Count(g.without_seller),
        Cell::Blank,
        Cell::Blank,
        Cell::Blank,
        Cell::Blank,
    ]);
    Table {
        name: "attach_by_seller",
        fold: "By seller; not a league table",
        caption: format!("Offers by seller, months looked at, up to {}", month(c.scope.month.first())),
        columns: vec![
            words_column("seller", "Seller"),
            numbers_column("offered", "Offers"),
            numbers_column("accepted", "Said yes"),
            numbers_column("acceptance", "Likely share"),
            numbers_column("acceptance_low", "From"),
            numbers_column("acceptance_high", "To"),
        ],
        rows,
        definition: "In order of names. Likely share: a person's own, drawn towards everybody's by as much as few offers say little. Sellers meet different customers; a difference is a reason to ask, not a verdict. Nobody is spoken of under 8 offers.".into(),
    }
}
