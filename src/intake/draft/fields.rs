//! How well a heading names a field.

use super::vocabulary;
use crate::settings::contract::{Field, Table};

/// A heading against a field's usual ones.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Named {
    /// 0 not at all, 1 in full.
    pub(super) score: f64,
    /// True where the heading means the field's opposite.
    pub(super) opposite: bool,
}

/// A heading's words: lower case, unit and punctuation taken off.
pub(super) fn words(heading: &str) -> Vec<String> {
    let lower = heading.to_lowercase().replace('_', " ");
    let bare = match lower.find(['(', '[']) {
        Some(at) if at > 0 => &lower[..at],
        _ => lower.as_str(),
    };
    let words = bare
        .split(|c: char| !c.is_alphanumeric())
        .filter(|w| !w.is_empty());
    words.map(String::from).collect()
}

/// How well `heading` names the field.
pub(super) fn named(heading: &str, table: Table, field: &Field) -> Named {
    let here = words(heading);
    let canonical = words(field.name);
    let mut best = Named {
        score: if here == canonical { 1.0 } else { 0.0 },
        opposite: false,
    };
    for (place, phrase) in vocabulary::headings(table, field.name).iter().enumerate() {
        let opposite = phrase.starts_with('!');
        // Usual headings stand first: of two columns the more usual wins.
        let score = likeness(&here, &words(phrase)) - 0.002 * place as f64;
        if score > best.score {
            best = Named { score, opposite };
        }
    }
    best
}

/// How alike two runs of words are: 1 the same, less where one holds the
/// other and more.
fn likeness(heading: &[String], phrase: &[String]) -> f64 {
    if heading.is_empty() || phrase.is_empty() {
        return 0.0;
    }
    if heading == phrase {
        return 1.0;
    }
    let shared = phrase.iter().filter(|p| heading.contains(p)).count();
    if shared == phrase.len() {
        return 0.5 + 0.4 * shared as f64 / heading.len() as f64;
    }
    0.6 * shared as f64 / heading.len().max(phrase.len()) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn score(heading: &str, table: Table, field: &str) -> f64 {
        named(heading, table, table.field(field).unwrap()).score
    }

    #[test]
    fn the_usual_heading_names_its_field_best() {
        for (heading, table, field) in [
            ("Ticket #", Table::Jobs, "job"),
            ("finished_on", Table::Jobs, "finished_on"),
            ("Area (ft²)", Table::Jobs, "area"),
            ("Coating price", Table::Jobs, "coating_price"),
            ("Panel temp (°F)", Table::Coatings, "surface_temperature"),
        ] {
            let own = score(heading, table, field);
            assert!(own > 0.9, "{heading}: {own}");
            for other in table.fields().iter().filter(|f| f.name != field) {
                let theirs = score(heading, table, other.name);
                assert!(
                    theirs < own,
                    "{heading}: {} {theirs} against {own}",
                    other.name
                );
            }
        }
    }

    #[test]
    fn a_heading_may_mean_the_opposite() {
        let field = Table::Jobs.field("excluded").unwrap();
        assert!(named("Coating suits?", Table::Jobs, field).opposite);
        assert!(!named("Excluded", Table::Jobs, field).opposite);
    }
}
