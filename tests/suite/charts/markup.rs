//! The page's markup: names, ids, links, order of headings, and nothing in it
//! that a shop's text could have put there.

use super::page::page;
use std::collections::BTreeSet;
use tallycoat::pages::render;

const DANGER: &str = "<script>alert(1)</script>'\"&";

fn text() -> String {
    render::page(&page("")).unwrap()
}

/// The page without style sheet and script.
fn body(page: &str) -> &str {
    let from = page.find("<body>").unwrap();
    &page[from..page.rfind("<script>").unwrap()]
}

fn values<'a>(page: &'a str, attribute: &str) -> Vec<&'a str> {
    let start = format!(" {attribute}=\"");
    let parts = page.split(start.as_str()).skip(1);
    parts.map(|part| part.split('"').next().unwrap()).collect()
}

#[test]
fn ids_are_unique_and_every_reference_leads_somewhere() {
    let page = text();
    let ids = values(&page, "id");
    let set: BTreeSet<&str> = ids.iter().copied().collect();
    assert_eq!(ids.len(), set.len(), "{ids:?}");
    for labels in values(&page, "aria-labelledby") {
        for id in labels.split(' ') {
            assert!(set.contains(id), "no element has the id {id}");
        }
    }
    for link in values(&page, "href") {
        let id = link.strip_prefix('#').expect("a link that leaves the page");
        assert!(set.contains(id), "no element has the id {id}");
    }
}

#[test]
fn every_drawing_has_a_name_and_a_description() {
    let page = text();
    let charts =
        page.matches("<svg class=\"wide\"").count() + page.matches("<svg class=\"narrow\"").count();
    assert!(charts >= 20);
    assert_eq!(page.matches("role=\"img\"").count(), charts);
    // Both sizes of a figure point at the same words, written once.
    assert_eq!(page.matches("<desc id=").count() * 2, charts);
    let labels = values(&page, "aria-labelledby");
    for class in ["wide", "narrow"] {
        let drawn = page.matches(&format!("<svg class=\"{class}\"")).count();
        assert_eq!(drawn * 2, charts, "{class}");
    }
    let of_drawings = labels.iter().filter(|l| l.contains("-t ")).count();
    assert_eq!(of_drawings, charts);
    assert_eq!(page.matches("<g aria-hidden=\"true\"").count(), charts);
    let hidden = page
        .matches("<svg class=\"k\" viewBox=\"0 0 20 14\" aria-hidden=\"true\">")
        .count();
    assert_eq!(page.matches("<svg").count(), charts + hidden);
}

#[test]
fn headings_never_skip_a_level() {
    let page = text();
    let levels: Vec<u32> = page
        .match_indices("<h")
        .filter_map(|(i, _)| page[i + 2..].chars().next()?.to_digit(10))
        .collect();
    assert_eq!(levels.iter().filter(|l| **l == 1).count(), 1);
    assert_eq!(levels[0], 1);
    for pair in levels.windows(2) {
        assert!(pair[1] <= pair[0] + 1, "{levels:?}");
    }
}

#[test]
fn nothing_is_fetched_and_nothing_styled_in_place() {
    let page = text();
    for wanted in [
        "http://",
        "https://",
        " style=\"",
        "javascript:",
        "@import",
        "url(",
    ] {
        assert!(!page.contains(wanted), "the page holds {wanted}");
    }
    assert_eq!(page.matches("<style>").count(), 1);
    assert_eq!(page.matches("<script>").count(), 1);
    assert!(!page.contains("unsafe"));
}

#[test]
fn a_shop_s_text_stays_text() {
    let page = render::page(&page(DANGER)).unwrap();
    let body = body(&page);
    assert!(!body.contains("<script"), "markup got through");
    assert!(!body.contains("'\"&"), "quotes got through");
    assert_eq!(body.matches("alert(1)").count(), 4);
}

/// Style, script, a drawing and the key's pictures: the charts escape their
/// own text, the other two are files of this project.
#[test]
fn only_four_places_print_markup_as_it_is() {
    let count = |template: &str| template.matches("|safe").count();
    assert_eq!(count(include_str!("../../../reports/review.html")), 2);
    assert_eq!(count(include_str!("../../../reports/pieces.html")), 2);
}

/// Measured when written: 206 kB, with twelve drawings in two sizes each.
#[test]
fn the_page_is_small() {
    let bytes = text().len();
    assert!(bytes < 240_000, "{bytes} bytes");
}

#[test]
fn the_same_view_gives_the_same_bytes() {
    assert_eq!(text(), text());
}

#[test]
fn an_empty_month_still_makes_a_page() {
    let view = tallycoat::pages::view::PageView {
        title: "Coating review, October 2026".into(),
        h1: "October 2026".into(),
        ..Default::default()
    };
    let page = render::page(&view).unwrap();
    assert!(page.contains("<h1>October 2026</h1>"));
    assert!(page.ends_with("</html>\n") || page.ends_with("</html>"));
    for heading in ["Do next", "The evidence", "Not enough data yet"] {
        assert!(
            !body(&page).contains(heading),
            "{heading} stands over nothing"
        );
    }
}
