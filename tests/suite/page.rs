//! The demo page, read as a reader would: every number in a sentence, a note,
//! a figure of the first screen or a thing to do stands in a table of the
//! section that it speaks of, as it is shown there.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use tallycoat::run;
use tallycoat::settings::command::ReviewArgs;

fn page(folder: &str) -> String {
    let out = tempfile::tempdir().unwrap();
    let args = ReviewArgs {
        folder: Path::new(env!("CARGO_MANIFEST_DIR")).join(folder),
        month: None,
        out: Some(out.path().join("r")),
        strict: false,
        ..ReviewArgs::default()
    };
    run::review(&args, &mut |_| {}).unwrap();
    fs::read_to_string(out.path().join("r/review.html")).unwrap()
}

/// Inner text of what stands between `open` and `close`, all occurrences.
fn between<'a>(html: &'a str, open: &str, close: &str) -> Vec<&'a str> {
    html.split(open)
        .skip(1)
        .map(|rest| rest.split(close).next().unwrap_or(""))
        .collect()
}

/// Text without markup; entities of the characters that the page uses.
fn text(html: &str) -> String {
    let mut out = String::new();
    let mut inside = false;
    for c in html.chars() {
        match c {
            '<' => inside = true,
            '>' => inside = false,
            c if !inside => out.push(c),
            _ => {}
        }
    }
    out.replace("&#38;", "&")
        .replace("&#39;", "'")
        .replace("&amp;", "&")
        .replace('\u{a0}', " ")
}

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// Years of a month ("October 2026") are names, not figures.
fn without_years(text: &str) -> String {
    let words: Vec<&str> = text.split(' ').collect();
    let mut out = Vec::new();
    for (i, word) in words.iter().enumerate() {
        let after_month = i > 0 && MONTHS.contains(&words[i - 1].trim_matches(['(', ',']));
        let is_year = word.chars().take(4).filter(char::is_ascii_digit).count() == 4;
        if !(after_month && is_year) {
            out.push(*word);
        }
    }
    out.join(" ")
}

/// Figures within a text: digits with group and decimal marks, without both.
fn figures(text: &str) -> BTreeSet<String> {
    let text = without_years(text);
    let mut all = BTreeSet::new();
    let mut run = String::new();
    for c in text.chars().chain([' ']) {
        if c.is_ascii_digit() || ((c == '.' || c == ',') && !run.is_empty()) {
            run.push(c);
            continue;
        }
        let figure: String = run.trim_end_matches(['.', ',']).replace(',', "");
        if !figure.is_empty() {
            all.insert(figure);
        }
        run.clear();
    }
    all
}

/// m² and ft² hold a superscript, which is no digit here; "100 ft²" of the US
/// rate is a unit, not a figure.
fn without_units(text: &str) -> String {
    text.replace("100 ft", "ft")
}

/// The same figure, or the shown one rounded to the digits that are said:
/// "$31" of "$31.20".
fn same(said: &str, shown: &str) -> bool {
    let decimals = said.split_once('.').map_or(0, |x| x.1.len());
    let (Ok(a), Ok(b)) = (said.parse::<f64>(), shown.parse::<f64>()) else {
        return said == shown;
    };
    said == shown
        || (a - b).abs() <= 0.5000001 * 10_f64.powi(-(decimals as i32)) && shown.contains('.')
}

struct Proof {
    said: Vec<String>,
    shown: BTreeSet<String>,
}

fn proofs(html: &str) -> BTreeMap<String, Proof> {
    let mut all = BTreeMap::new();
    for section in between(html, "<section class=\"proof\"", "</section>") {
        let id = between(section, "<h3 id=\"", "\"")[0].to_string();
        let mut said: Vec<String> = between(section, "<p class=\"say\">", "</p>")
            .into_iter()
            .chain(between(section, "<p class=\"note\">", "</p>"))
            .map(text)
            .collect();
        said.extend(
            between(section, "<desc id=", "</desc>")
                .into_iter()
                .map(|d| text(d.split_once('>').map_or("", |x| x.1))),
        );
        let cells = between(section, "<tbody>", "</tbody>");
        let shown = cells.iter().flat_map(|body| {
            body.replace("</td>", " \n")
                .replace("</th>", " \n")
                .lines()
                .map(text)
                .collect::<Vec<_>>()
        });
        let shown: BTreeSet<String> = shown.flat_map(|cell| figures(&cell)).collect();
        all.insert(id, Proof { said, shown });
    }
    all
}

/// What is said of a section but not shown in its tables.
pub fn unproved(html: &str) -> Vec<String> {
    let proofs = proofs(html);
    let mut missing = Vec::new();
    let mut hold = |id: &str, said: &str| {
        let proof = proofs
            .get(id)
            .unwrap_or_else(|| panic!("no section {id:?}"));
        for figure in figures(&without_units(said)) {
            if !proof.shown.iter().any(|shown| same(&figure, shown)) {
                missing.push(format!("{id}: {figure} of {said:?}"));
            }
        }
    };
    for (id, proof) in &proofs {
        for said in &proof.said {
            hold(id, said);
        }
    }
    for tile in between(html, "<li>\n<span class=\"lab\">", "</li>") {
        let id = between(tile, "href=\"#", "\"");
        let body = tile.replace("</span>", " </span>");
        hold(id[0], &text(&body));
    }
    let list = between(html, "<ol class=\"do\">", "</ol>");
    for action in list.iter().flat_map(|l| between(l, "<li>", "</li>")) {
        let id = between(action, "href=\"#", "\"");
        hold(id[0], &text(action));
    }
    missing
}

#[test]
fn every_number_that_is_said_is_shown_in_the_section_it_speaks_of() {
    for folder in ["demo-data/film-shop", "demo-data/messy-export"] {
        let html = page(folder);
        let proofs = proofs(&html);
        assert!(proofs.len() >= 5, "{:?}", proofs.keys());
        let said: usize = proofs
            .values()
            .flat_map(|p| &p.said)
            .map(|s| figures(s).len())
            .sum();
        assert!(said > 40, "the walk found {said} figures");
        let missing = unproved(&html);
        assert!(missing.is_empty(), "{folder}:\n{}", missing.join("\n"));
    }
}

/// The walk itself can fail: a figure changed in one sentence is caught.
#[test]
fn a_number_changed_in_a_sentence_is_caught() {
    let html = page("demo-data/film-shop");
    let said = between(&html, "<p class=\"say\">", "</p>")[0];
    let figure = figures(&text(said)).into_iter().next().unwrap();
    let wrong = said.replacen(&figure, "98765", 1);
    assert_eq!(unproved(&html.replacen(said, &wrong, 1)).len(), 1);
}

#[test]
fn the_page_of_the_demo_is_small_and_reaches_for_nothing() {
    let html = page("demo-data/film-shop");
    assert!(html.len() < 300_000, "{} bytes", html.len());
    for outside in ["http://", "https://", "src=", "@import", "url("] {
        let html = html.replace("http://www.w3.org/2000/svg", "");
        assert!(!html.contains(outside), "{outside}");
    }
}

/// Words of the trade's statistics belong in the last part of the page.
#[test]
fn no_jargon_stands_before_the_last_part() {
    let html = page("demo-data/film-shop");
    let body = html.split("<main").nth(1).unwrap();
    let before = body.split("id=\"how-to-read\"").next().unwrap();
    // What stands in folded definitions is for those who look.
    let mut open = before.to_string();
    for folded in between(before, "<details>", "</details>") {
        open = open.replace(folded, "");
    }
    let open = text(&open).to_lowercase();
    for word in [
        "p-value",
        "significan",
        "regression",
        "posterior",
        "prior",
        "bayes",
        "wilson",
        "reml",
        "confidence interval",
        "null hypothesis",
        "standard error",
        "proved",
        "proven",
        "\u{b1}",
        "outlier",
        "quantile",
        "percentile",
    ] {
        assert!(
            !open.contains(word),
            "{word:?} in {:?}",
            open.find(word)
                .map(|i| &open[i.saturating_sub(60)..(i + 60).min(open.len())])
        );
    }
}
