//! The demo page, read as a reader would: every number in a sentence, a note,
//! a figure of the first screen or a thing to do stands in a table of the
//! section that it speaks of, as it is shown there.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use tallycoat::invent::{Plan, invent_into};
use tallycoat::run;
use tallycoat::settings::command::ReviewArgs;

fn page(folder: &str) -> String {
    page_of(&Path::new(env!("CARGO_MANIFEST_DIR")).join(folder))
}

fn page_of(folder: &Path) -> String {
    let out = tempfile::tempdir().unwrap();
    let args = ReviewArgs {
        folder: folder.to_path_buf(),
        out: Some(out.path().join("r")),
        ..ReviewArgs::default()
    };
    run::review(&args, &mut |_| {}).unwrap();
    fs::read_to_string(out.path().join("r/review.html")).unwrap()
}

/// A small shop, and what is left of it where it keeps fewer records.
fn sparse(change: impl Fn(&Path)) -> String {
    let plan = Plan {
        jobs: 60,
        months: 6,
        people: 2,
        seed: 5,
        ..Plan::default()
    };
    let dir = tempfile::tempdir().unwrap();
    invent_into(&plan, dir.path()).unwrap();
    change(dir.path());
    page_of(dir.path())
}

/// Blanks a column of a table that has no quoted cells.
fn blank(folder: &Path, file: &str, column: &str) {
    let path = folder.join(file);
    let text = fs::read_to_string(&path).unwrap();
    assert!(!text.contains('"'), "{file}");
    let at = text
        .lines()
        .next()
        .unwrap()
        .split(',')
        .position(|c| c == column);
    let row = |(i, line): (usize, &str)| -> String {
        let cells = line.split(',').enumerate();
        let keep = |(k, cell)| if i > 0 && Some(k) == at { "" } else { cell };
        cells.map(keep).collect::<Vec<_>>().join(",")
    };
    let rows: Vec<String> = text.lines().enumerate().map(row).collect();
    fs::write(path, rows.join("\n")).unwrap();
}

/// Leaves the last lines of the jobs, and of no other table.
fn last_jobs(folder: &Path, n: usize) {
    let jobs = fs::read_to_string(folder.join("jobs.csv")).unwrap();
    let mut lines: Vec<&str> = jobs.lines().collect();
    let from = lines.len() - n;
    lines.drain(1..from);
    for entry in fs::read_dir(folder).unwrap() {
        fs::remove_file(entry.unwrap().path()).unwrap();
    }
    fs::write(folder.join("jobs.csv"), lines.join("\n")).unwrap();
}

/// Pages of shops that write down more and less.
fn pages() -> Vec<(&'static str, String)> {
    let without = |file: &'static str| move |d: &Path| fs::remove_file(d.join(file)).unwrap();
    vec![
        ("the demo", page("demo-data/film-shop")),
        ("the messy export", page("demo-data/messy-export")),
        ("60 jobs", sparse(|_| {})),
        ("no bottles", sparse(without("bottles.csv"))),
        ("no callbacks", sparse(without("callbacks.csv"))),
        ("no planning figures", sparse(without("constants.toml"))),
        ("no work", sparse(without("coatings.csv"))),
        (
            "no people",
            sparse(|d| {
                without("people.csv")(d);
                blank(d, "coatings.csv", "applied_by");
            }),
        ),
        ("one job", sparse(|d| last_jobs(d, 1))),
        ("two jobs", sparse(|d| last_jobs(d, 2))),
    ]
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

/// Figures of `said` that no table of these sections shows.
fn unshown(proofs: &BTreeMap<String, Proof>, ids: &[&str], said: &str) -> Vec<String> {
    let proof = |id: &&str| {
        proofs
            .get(*id)
            .unwrap_or_else(|| panic!("no section {id:?}"))
    };
    let shown: Vec<&String> = ids.iter().map(proof).flat_map(|p| &p.shown).collect();
    let said_figures = figures(&without_units(said)).into_iter();
    said_figures
        .filter(|figure| !shown.iter().any(|s| same(figure, s)))
        .map(|figure| format!("{}: {figure} of {said:?}", ids.join(", ")))
        .collect()
}

/// The items of a list, each with the sections that it leads to.
fn items<'a>(html: &'a str, open: &str, close: &str) -> Vec<(Vec<&'a str>, &'a str)> {
    let lists = between(html, open, close);
    let items = lists.iter().flat_map(|l| between(l, "<li>", "</li>"));
    items
        .map(|item| (between(item, "href=\"#", "\""), item))
        .collect()
}

/// What is said of a section but not shown in its tables.
pub fn unproved(html: &str) -> Vec<String> {
    let proofs = proofs(html);
    let mut missing = Vec::new();
    // A section without a table says what it lacks, and how much of it.
    let lacks = |s: &str| s.starts_with("Not enough yet (") || s.starts_with("No ");
    for (id, proof) in &proofs {
        let empty = proof.shown.is_empty();
        for said in proof.said.iter().filter(|s| !(empty && lacks(s))) {
            missing.extend(unshown(&proofs, &[id], said));
        }
    }
    for tile in between(html, "<li>\n<span class=\"lab\">", "</li>") {
        let id = between(tile, "href=\"#", "\"");
        let body = tile.replace("</span>", " </span>");
        missing.extend(unshown(&proofs, &id[..1], &text(&body)));
    }
    let nav = "<nav aria-label=\"Sections of the evidence\">";
    for (id, line) in items(html, nav, "</nav>") {
        let beside = line.split_once("</a>").map_or("", |x| x.1);
        missing.extend(unshown(&proofs, &id, &text(beside)));
    }
    // A line beside what to do next may speak of several sections.
    for (open, close) in [
        ("<ol class=\"do\">", "</ol>"),
        ("<ul class=\"also\">", "</ul>"),
    ] {
        for (ids, item) in items(html, open, close) {
            missing.extend(unshown(&proofs, &ids, &text(item)));
        }
    }
    missing
}

#[test]
fn every_number_that_is_said_is_shown_in_the_section_it_speaks_of() {
    let mut wrong = Vec::new();
    for (shop, html) in pages() {
        let proofs = proofs(&html);
        assert!(proofs.len() >= 5, "{:?}", proofs.keys());
        let said: usize = proofs
            .values()
            .flat_map(|p| &p.said)
            .map(|s| figures(s).len())
            .sum();
        let least = if shop.ends_with("job") || shop.starts_with("two") {
            2
        } else {
            20
        };
        assert!(said > least, "{shop}: the walk found {said} figures");
        let ill = all_said(&html);
        let ill = ill.iter().flat_map(|s| ill_said(s));
        wrong.extend(
            unproved(&html)
                .into_iter()
                .chain(ill)
                .map(|w| format!("{shop}: {w}")),
        );
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Every sentence outside tables and drawings.
fn all_said(html: &str) -> Vec<String> {
    let body = html.split("<main").nth(1).unwrap_or("");
    let mut open = body.to_string();
    for (from, to) in [("<details>", "</details>"), ("<svg", "</svg>")] {
        for part in between(body, from, to) {
            open = open.replace(part, "");
        }
    }
    let mut all = Vec::new();
    for (from, to) in [("<p", "</p>"), ("<li>", "</li>")] {
        let parts = between(&open, from, to).into_iter();
        all.extend(parts.map(|p| {
            text(p.split_once('>').map_or("", |x| x.1))
                .trim()
                .to_string()
        }));
    }
    all
}

const COUNTED: [[&str; 2]; 16] = [
    ["job", "jobs"],
    ["vehicle", "vehicles"],
    ["bottle", "bottles"],
    ["month", "months"],
    ["person", "people"],
    ["customer", "customers"],
    ["offer", "offers"],
    ["callback", "callbacks"],
    ["entry", "entries"],
    ["record", "records"],
    ["line", "lines"],
    ["heading", "headings"],
    ["figure", "figures"],
    ["price", "prices"],
    ["seller", "sellers"],
    ["question", "questions"],
];
/// Words that may stand between a number and what it counts.
const BETWEEN: [&str; 11] = [
    "film", "coated", "timed", "measured", "emptied", "open", "planning", "list", "bare", "more",
    "unopened",
];

/// What is wrong with the grammar of a sentence: one of many, many of one,
/// "1 of 8 were", marks that stand doubled or alone.
fn ill_said(said: &str) -> Vec<String> {
    let mut ill = Vec::new();
    for mark in ["  ", " .", " ,", "..", ",,", ". .", ":.", "()", "%%"] {
        if said.contains(mark) {
            ill.push(format!("{mark:?} in {said:?}"));
        }
    }
    let trim = |w: &&str| w.trim_matches(|c: char| !c.is_alphanumeric()).to_string();
    // A full stop ends a sentence, and with it what a number may count.
    let parts = said.split(' ').flat_map(|w| {
        let end = w.ends_with(['.', ';', ':']).then(|| ".".to_string());
        [Some(trim(&w)), end]
    });
    let words: Vec<String> = parts.flatten().collect();
    let number = |w: &str| w.replace(',', "").parse::<u64>().ok();
    for (i, n) in words
        .iter()
        .enumerate()
        .filter_map(|(i, w)| Some((i, number(w)?)))
    {
        let rest = words[i + 1..].iter().map(String::as_str);
        let rest = rest.take_while(|w| *w != ".");
        let what = rest.clone().find(|w| !BETWEEN.contains(w)).unwrap_or("");
        let wrong = usize::from(n == 1);
        if COUNTED.iter().any(|c| c[wrong] == what) {
            ill.push(format!("{n} {what} in {said:?}"));
        }
        let mut rest = rest;
        let of = rest.next() == Some("of") && rest.next().and_then(number).is_some();
        let verb = rest.find(|w| ["was", "were", "is", "are"].contains(w));
        if of && verb.is_some_and(|v| ["was", "is"].contains(&v) != (n == 1)) {
            ill.push(format!("{n} of ... {} in {said:?}", verb.unwrap_or("")));
        }
    }
    ill
}

#[test]
fn bad_grammar_is_caught() {
    for said in [
        "1 jobs came back.",
        "2 coated job came back.",
        "1 of 37 coated jobs were outside.",
        "3 of 37 coated jobs was outside.",
        "On hand: 1 open bottles.",
        "Change 3 planning figures, also wage.. ",
        "It cost more . And so on",
    ] {
        assert!(!ill_said(said).is_empty(), "{said}");
    }
    for said in [
        "1 of 37 coated jobs was outside: job J7.",
        "Not enough yet (39 of 60 offers with a price).",
        "1,200 jobs over 12 months.",
        "Buy 1 bottle.",
    ] {
        assert!(ill_said(said).is_empty(), "{:?}", ill_said(said));
    }
}

/// Words that a shop would not use: nowhere on the page, tables included.
#[test]
fn planning_figures_and_months_are_called_so_everywhere() {
    for (shop, html) in pages() {
        let body = text(html.split("<main").nth(1).unwrap()).to_lowercase();
        for file in ["constants-proposed.toml", "constants.toml"] {
            assert!(shop != "the demo" || body.contains(file), "{file}");
        }
        let body = body
            .replace("constants-proposed.toml", "")
            .replace("constants.toml", "");
        for word in [
            "window",
            "constant",
            "in force",
            "the fit",
            "refit",
            "of the design",
        ] {
            let at = body.find(word);
            let near = at.map(|i| {
                body.chars()
                    .skip(body[..i].chars().count().saturating_sub(60))
                    .take(120)
                    .collect::<String>()
            });
            assert_eq!(near, None, "{shop}: {word:?}");
        }
    }
}

/// The walk itself can fail: a figure changed in one sentence is caught.
#[test]
fn a_number_changed_in_a_sentence_is_caught() {
    let html = page("demo-data/film-shop");
    for (open, close) in [
        ("<p class=\"say\">", "</p>"),
        ("<ul class=\"also\">", "</ul>"),
    ] {
        let said = between(&html, open, close)[0];
        let figure = figures(&text(said)).into_iter().next().unwrap();
        let wrong = said.replacen(&figure, "98765", 1);
        assert_eq!(unproved(&html.replacen(said, &wrong, 1)).len(), 1, "{open}");
    }
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

/// Names of methods, which stand in the last part alone: not in folds either.
const METHODS: [&str; 30] = [
    "mantel",
    "haenszel",
    "kaplan",
    "greenwood",
    "log-log",
    "log-rank",
    "cox regression",
    "efron",
    "strata",
    "reml",
    "kenward",
    "mixed model",
    "half-cauchy",
    "posterior",
    "sigma",
    "t-interval",
    "binomial",
    "koopman",
    "magnus",
    "poisson",
    "standard deviation",
    "odds ratio",
    "crawford",
    "least squares",
    "variance",
    "logarithm",
    "iglewicz",
    "logistic",
    "coefficient",
    "98.75%",
];

/// What a manager asks of the demo month.
const ANSWERS: [&str; 23] = [
    // Did more customers take it, and was that luck?
    "72%",
    "40% in September",
    "usual 54%",
    "Probably real",
    // What does a coated job earn, and what moved that?
    "$103",
    "usual $98",
    "$333 less left over, mostly cost of the coating ($177) and discounts ($175)",
    // Which prices, which planning figures, and to what?
    "van/matte from $220 to $245",
    "Cost per mL from $2.80 to $2.96",
    "set-up per job from 1.3 mL to 0.7 mL",
    "wage an hour from $22.00 to $21.60",
    // Whom to talk to, about what?
    "P005 and P006 are new and getting quicker: leave their pace alone",
    "P008 about 1 job below the floor price, $25 short",
    "$175 on 7 jobs",
    // What is nothing to act on?
    "Leave alone: what a coated job leaves over",
    // What came back, of what kind, on which job?
    "1 of 39 coated jobs so far: job J01190 (high spot)",
    // Which jobs were outside the rules?
    "J01169 (panel too near the dew point)",
    "J01144 (not kept inside overnight though it rained)",
    // How many bottles to buy?
    "buy 11 bottles",
    "this month's 39 repeat",
    // Who was not asked?
    "Not offered",
    // Does coated film last longer?
    "failed about half as often as bare (likely a third to just as often)",
    // When can be said what cannot yet?
    "137 more declined offers need one, about 10 months at this pace",
];

/// Answers that the first screen does not give.
fn unanswered(html: &str) -> Vec<&'static str> {
    let first = between(html, "<section class=\"minute\"", "</section>")[0];
    let first = text(first).replace('\n', " ");
    let mut answers = Vec::from(ANSWERS);
    answers.retain(|a| !first.contains(a));
    answers
}

#[test]
fn the_first_screen_answers_by_itself() {
    let html = page("demo-data/film-shop");
    assert!(unanswered(&html).is_empty(), "{:?}", unanswered(&html));
    let also = between(&html, "<ul class=\"also\">", "</ul>")[0];
    assert_eq!(unanswered(&html.replacen(also, "", 1)).len(), 12);
}

/// Each section is found by the question that it answers.
#[test]
fn the_list_of_sections_asks_a_question_of_each() {
    let html = page("demo-data/film-shop");
    let nav = between(
        &html,
        "<nav aria-label=\"Sections of the evidence\">",
        "</nav>",
    )[0];
    let lines = between(nav, "<li>", "</li>");
    assert_eq!(lines.len(), proofs(&html).len());
    for line in lines {
        let asked = between(line, "<a href", "</a>")[0];
        let asked = asked.split_once('>').map_or("", |x| x.1).trim();
        assert!(asked.ends_with('?'), "{asked}");
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
    let folded = text(before).to_lowercase();
    for method in METHODS {
        assert!(
            !folded.contains(method),
            "{method:?} in {:?}",
            folded
                .find(method)
                .map(|i| folded.get(i.saturating_sub(60)..(i + 60).min(folded.len())))
        );
    }
    let last = text(body.split("id=\"rests-on\"").nth(1).unwrap()).to_lowercase();
    for method in ["mantel-haenszel", "kaplan-meier", "reml", "beta-binomial"] {
        assert!(last.contains(method), "{method:?} is named nowhere");
    }
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
