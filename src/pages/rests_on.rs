//! What the numbers rest on: constants, prices, settings, lines and files.

use super::format::{Format, date, month};
use super::table::{Cell, Table, numbers_column, words_column};
use super::view::{Piece, RestsOn, Sentence, sentence};
use super::{Elsewhere, ElsewhereFile, Material};
use crate::findings::{Prices, Source};
use crate::intake::ledger::FileLedger;

fn say(text: impl AsRef<str>) -> Sentence {
    sentence(text.as_ref())
}

/// All parts.
pub(super) fn parts(m: &Material<'_>) -> Vec<RestsOn> {
    let mut all = vec![window(m), constants(m), prices(m)];
    all.extend(read(m));
    all.extend(super::noticed::part(m));
    all
}

fn window(m: &Material<'_>) -> RestsOn {
    let s = &m.findings.scope;
    let outliers = if m.review.leave_out {
        "Jobs far off their kind are left out of what jobs are said to take, listed, and kept in counts and money."
    } else {
        "Jobs far off their kind count like the others, as the settings say."
    };
    RestsOn {
        heading: "Months".into(),
        paragraphs: vec![
            say(format!(
                "The months looked at are {} to {}; usual means these months without {}.",
                month(s.window_from.first()),
                month(s.month.first()),
                month(s.month.first())
            )),
            say(outliers),
        ],
        tables: Vec::new(),
    }
}

fn constants(m: &Material<'_>) -> RestsOn {
    let paragraph = match &m.findings.record {
        None => {
            say("There is no constants.toml, so there are no planning figures to compare with.")
        }
        Some(r) => {
            let mut all = say(format!(
                "In use at the month's end: the record of {}, source: ",
                date(r.effective_on)
            ));
            all.push(Piece::text(if r.source.is_empty() {
                "not stated".to_string()
            } else {
                r.source.clone()
            }));
            all.extend(say("."));
            all
        }
    };
    RestsOn {
        heading: "Planning figures in use".into(),
        paragraphs: vec![paragraph],
        tables: Vec::new(),
    }
}

fn prices(m: &Material<'_>) -> RestsOn {
    let f = m.format;
    let money = m.money;
    let mut paragraphs = vec![
        say(coating_price(&m.findings.prices, f)),
        say(wage(&m.findings.prices, f)),
    ];
    let loading = f.number(money.labour_loading, 2);
    paragraphs.push(say(if money.labour_loading_given {
        format!("Labor loading: {loading}, from the settings.")
    } else {
        format!(
            "Labor loading: {loading}. That is a national average of one country (US private industry, June 2025); set labour_loading in shop.toml to your own."
        )
    }));
    paragraphs.push(say(format!(
        "Consumables {} per coated job, card fees {} of the price, floor margin {}, target margin {}.",
        f.money_about_exact(money.consumables * f.currency.scale() as f64),
        f.share_fine(money.card_fee_share),
        f.share(money.floor_margin),
        f.share(money.target_margin)
    )));
    paragraphs.push(say(if money.prices_include_tax {
        format!(
            "Prices in the exports include sales tax of {}, which is taken out.",
            f.share_fine(money.tax_rate)
        )
    } else {
        "Prices in the exports are taken as without sales tax.".to_string()
    }));
    RestsOn {
        heading: "Prices and settings".into(),
        paragraphs,
        tables: Vec::new(),
    }
}

fn coating_price(p: &Prices, f: &Format) -> String {
    match (p.per_ml_from, p.per_ml_used) {
        (Source::Data, Some(x)) => {
            let bottles = p.bought.map_or_else(String::new, |b| {
                format!(
                    " over {}, left-overs included; single bottles cost {} to {}",
                    f.count_of(b.bottles, "bottle", "bottles"),
                    f.money_about_exact(b.least),
                    f.money_about_exact(b.most)
                )
            });
            format!("Coating: {} per mL{bottles}.", f.money_about_exact(x))
        }
        (Source::Constants, Some(x)) => format!(
            "Coating: {} per mL, from constants.toml, as no bottle of the months looked at has both volume and cost.",
            f.money_about_exact(x)
        ),
        _ => "Coating: its price is not known.".into(),
    }
}

fn wage(p: &Prices, f: &Format) -> String {
    match (p.wage_from, p.wage) {
        (Source::Data, Some(x)) => format!(
            "Wage: each person's own; where it is not on the list, their mean of {} an hour, before loading.",
            f.money_about_exact(x)
        ),
        (Source::Constants, Some(x)) => {
            format!(
                "Wage: {} an hour before loading, from constants.toml.",
                f.money_about_exact(x)
            )
        }
        _ => "Wage: not known.".into(),
    }
}

/// Lines and files, or the tables where the lines were counted elsewhere.
fn read(m: &Material<'_>) -> Vec<RestsOn> {
    match &m.about.elsewhere {
        None => vec![lines(m), files(m)],
        Some(e) => vec![counted_elsewhere(e, m.format), tables(e, m.format)],
    }
}

fn counted_elsewhere(e: &Elsewhere, f: &Format) -> RestsOn {
    let mut paragraphs = vec![say(format!(
        "This page was made from {} that the same queries gave elsewhere, in {}. How many lines the exports had, how many were put aside and why, is known there.",
        f.count_of(e.files.len() as u64, "table", "tables"),
        f.count_of(e.folders, "folder", "folders")
    ))];
    if e.folders > 1 {
        paragraphs.push(say(
            "The area of a full job is the median over the folders' jobs, each taken at its folder's own median: it can differ a little from the median over all jobs.",
        ));
    }
    RestsOn {
        heading: "Lines".into(),
        paragraphs,
        tables: Vec::new(),
    }
}

fn tables(e: &Elsewhere, f: &Format) -> RestsOn {
    let row = |file: &ElsewhereFile| {
        vec![
            Cell::Text(file.file.clone()),
            Cell::Count(file.rows),
            Cell::Text(file.sha256.chars().take(12).collect()),
        ]
    };
    let table = Table {
        name: "files",
        fold: "The tables",
        caption: "Tables read".into(),
        columns: vec![
            words_column("file", "File"),
            numbers_column("rows", "Rows"),
            words_column("fingerprint", "Fingerprint"),
        ],
        rows: e.files.iter().map(row).collect(),
        definition: "Fingerprint: the first 12 digits of the file's SHA-256.".into(),
    };
    RestsOn {
        heading: "Files".into(),
        paragraphs: Vec::new(),
        tables: vec![table.shown(f)],
    }
}

fn lines(m: &Material<'_>) -> RestsOn {
    let f = m.format;
    let l = m.ledger.lines();
    let counted = format!(
        "{} read: {} accepted, {}, {} replaced by a later export or a repeat, {} put aside.",
        f.count_of(l.read, "line", "lines"),
        f.count(l.accepted),
        f.count_of(l.structure, "heading or the like", "headings and the like"),
        f.count(l.superseded),
        f.count(l.quarantined)
    );
    let rows = m
        .ledger
        .by_reason()
        .into_iter()
        .map(|(reason, n)| vec![Cell::Text(reason.code().into()), Cell::Count(n)]);
    let reasons = Table {
        name: "lines_by_reason",
        fold: "Lines put aside, by reason",
        caption: "Lines put aside, by reason".into(),
        columns: vec![
            words_column("reason", "Reason"),
            numbers_column("lines", "Lines"),
        ],
        rows: rows.collect(),
        definition:
            "A line can have several reasons, so they may add up to more than the lines put aside."
                .into(),
    };
    let tables = if reasons.rows.is_empty() {
        Vec::new()
    } else {
        vec![reasons.shown(f)]
    };
    RestsOn {
        heading: "Lines".into(),
        paragraphs: vec![say(counted)],
        tables,
    }
}

fn files(m: &Material<'_>) -> RestsOn {
    let row = |l: &FileLedger| {
        vec![
            Cell::Text(l.file.clone()),
            Cell::Count(l.lines.read),
            Cell::Count(l.lines.accepted),
            Cell::Count(l.lines.quarantined),
            Cell::Text(l.sha256.chars().take(12).collect()),
        ]
    };
    let table = Table {
        name: "files",
        fold: "The files",
        caption: "Files read".into(),
        columns: vec![
            words_column("file", "File"),
            numbers_column("lines", "Lines"),
            numbers_column("accepted", "Accepted"),
            numbers_column("quarantined", "Put aside"),
            words_column("fingerprint", "Fingerprint"),
        ],
        rows: m.ledger.files.iter().map(row).collect(),
        definition: "Fingerprint: the first 12 digits of the file's SHA-256.".into(),
    };
    RestsOn {
        heading: "Files".into(),
        paragraphs: Vec::new(),
        tables: vec![table.shown(m.format)],
    }
}
