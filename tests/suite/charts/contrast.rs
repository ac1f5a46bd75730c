//! Contrast, as WCAG 2.2 defines it (relative luminance, success criteria
//! 1.4.3 and 1.4.11): 4.5:1 for words, 3:1 for marks, in every theme, with the
//! opacity that the drawings really use.

use super::shapes::{Element, read};
use super::{SIZES, specs};
use std::collections::BTreeMap;
use tallycoat::charts::theme::Ink;
use tallycoat::pages::render::STYLE;

type Colour = [f64; 3];
type Theme = BTreeMap<String, Colour>;

/// The custom properties of the first `:root` after `heading`.
fn theme(heading: &str) -> Theme {
    let from = STYLE.find(heading).expect(heading);
    let block = STYLE[from..].split_once(":root {").unwrap().1;
    let block = block.split_once('}').unwrap().0;
    let property = |line: &str| {
        let (name, value) = line.trim().strip_prefix("--")?.split_once(':')?;
        let hex = value.trim().strip_prefix('#')?;
        let part = |i: usize| f64::from(u8::from_str_radix(&hex[i..i + 2], 16).unwrap());
        Some((name.to_string(), [part(0), part(2), part(4)]))
    };
    block.split(';').filter_map(property).collect()
}

fn themes() -> [(&'static str, Theme); 3] {
    [
        ("light", theme("One style sheet")),
        ("dark", theme("prefers-color-scheme: dark")),
        ("print", theme("@media print")),
    ]
}

fn luminance(colour: Colour) -> f64 {
    let [r, g, b] = colour.map(|part| {
        let share = part / 255.0;
        if share <= 0.04045 {
            share / 12.92
        } else {
            ((share + 0.055) / 1.055).powf(2.4)
        }
    });
    0.2126 * r + 0.7152 * g + 0.0722 * b
}

fn contrast(a: Colour, b: Colour) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

fn over(top: Colour, opacity: f64, ground: Colour) -> Colour {
    [0, 1, 2].map(|i| opacity * top[i] + (1.0 - opacity) * ground[i])
}

/// W3C, "Understanding SC 1.4.3": black on white is 21:1, and #777 on white
/// just misses 4.5:1 (4.48).
#[test]
fn the_measure_agrees_with_known_values() {
    let (black, white, grey) = ([0.0; 3], [255.0; 3], [119.0; 3]);
    assert!((contrast(black, white) - 21.0).abs() < 1e-9);
    assert!((contrast(grey, white) - 4.48).abs() < 0.005);
}

#[test]
fn the_light_theme_and_the_pen_know_the_same_colours() {
    let light = theme("One style sheet");
    for ink in Ink::ALL {
        assert_eq!(light[ink.name()], ink.light().map(f64::from), "{ink:?}");
    }
}

#[test]
fn every_theme_names_every_ink() {
    for (name, theme) in themes() {
        for ink in Ink::ALL {
            assert!(theme.contains_key(ink.name()), "{name} lacks {ink:?}");
        }
    }
}

#[test]
fn words_of_the_page_can_be_read_on_both_grounds() {
    for (name, theme) in themes() {
        for ink in ["text", "muted", "link"] {
            for ground in ["paper", "tint"] {
                let ratio = contrast(theme[ink], theme[ground]);
                assert!(ratio >= 4.5, "{name}: {ink} on {ground} {ratio:.2}");
            }
        }
        for ground in ["paper", "tint"] {
            // The dashed line over "Not enough data yet", and the focus ring.
            for mark in ["axis", "main"] {
                let ratio = contrast(theme[mark], theme[ground]);
                assert!(ratio >= 3.0, "{name}: {mark} on {ground} {ratio:.2}");
            }
        }
    }
}

/// Grid and ground only guide the eye; a wash has an edge of full strength,
/// drawn with it.
fn needs(element: &Element) -> Option<f64> {
    if element.is_text() {
        return Some(4.5);
    }
    let ground = matches!(element.ink(), "grid" | "paper");
    let wash = element.is_filled() && element.opacity < 0.5;
    (!ground && !wash).then_some(3.0)
}

fn washes(elements: &[Element]) -> Vec<(&str, f64)> {
    let washes = elements.iter().filter(|e| e.is_filled() && e.opacity < 0.5);
    let mut washes: Vec<_> = washes.map(|e| (e.ink(), e.opacity)).collect();
    washes.dedup();
    washes
}

#[test]
fn every_mark_can_be_seen_and_every_word_read() {
    let mut seen = 0;
    for (name, theme) in themes() {
        for case in specs::all() {
            let elements = read(&(case.draw)(SIZES[0]).unwrap());
            let grounds = washes(&elements);
            for element in &elements {
                let Some(least) = needs(element) else {
                    continue;
                };
                let paper = theme["paper"];
                let ink = over(theme[element.ink()], element.opacity, paper);
                let ratio = contrast(ink, paper);
                assert!(
                    ratio >= least,
                    "{name} {}: {ratio:.2} {element:?}",
                    case.name
                );
                seen += 1;
                if !element.is_text() {
                    continue;
                }
                for (wash, opacity) in &grounds {
                    let ground = over(theme[*wash], *opacity, paper);
                    let ratio = contrast(theme[element.ink()], ground);
                    assert!(ratio >= 4.5, "{name} {}: {ratio:.2} on {wash}", case.name);
                }
            }
        }
    }
    assert!(seen > 1_000, "only {seen} marks seen");
}

#[test]
fn a_drawing_has_two_hues_at_most() {
    for case in specs::all() {
        let elements = read(&(case.draw)(SIZES[0]).unwrap());
        let greys = ["text", "muted", "axis", "grid", "paper"];
        let hues = elements
            .iter()
            .map(Element::ink)
            .filter(|ink| !greys.contains(ink));
        let hues: std::collections::BTreeSet<&str> = hues.collect();
        assert!(hues.len() <= 2, "{}: {hues:?}", case.name);
    }
}
