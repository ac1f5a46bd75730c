//! The names that are there, those most like the one asked for first.

/// Names that a message gives at most.
const NAMED: usize = 12;
/// Letters of a name that are compared and said, at most.
const LETTERS: usize = 60;

/// The nearest names in a row, and how many more there are.
pub(super) fn said(asked: &str, names: &[&str]) -> String {
    let named: Vec<&str> = names.iter().copied().filter(|n| !n.is_empty()).collect();
    if named.is_empty() {
        return "The exports name no shop: all jobs are of one".into();
    }
    let mut near: Vec<(usize, &str)> = named.iter().map(|n| (distance(asked, n), *n)).collect();
    near.sort_unstable();
    let first: Vec<String> = near.iter().take(NAMED).map(|(_, n)| cut(n)).collect();
    let more = match near.len() - first.len() {
        0 => String::new(),
        n => format!(" and {n} more"),
    };
    format!("There is: {}{more}", first.join(", "))
}

fn cut(name: &str) -> String {
    let mut text: String = name.chars().take(LETTERS).collect();
    if text.len() < name.len() {
        text.push('\u{2026}');
    }
    text
}

/// How many letters must be put in, taken out or changed to come from one name
/// to the other (Levenshtein's distance), capitals aside.
fn distance(a: &str, b: &str) -> usize {
    let letters = |t: &str| -> Vec<char> { t.to_lowercase().chars().take(LETTERS).collect() };
    let (a, b) = (letters(a), letters(b));
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.iter().enumerate() {
        let mut before = i;
        let mut left = i + 1;
        for (above, y) in row.iter_mut().skip(1).zip(&b) {
            let changed = before + usize::from(x != y);
            before = *above;
            left = changed.min(before + 1).min(left + 1);
            *above = left;
        }
        if let Some(first) = row.first_mut() {
            *first = i + 1;
        }
    }
    row.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_are_those_of_the_textbook() {
        // Levenshtein's own kind of example, worked by hand: k→s, e→i, +g.
        assert_eq!(distance("kitten", "sitting"), 3);
        assert_eq!(distance("", "abc"), 3);
        assert_eq!(distance("abc", ""), 3);
        assert_eq!(distance("South", "south"), 0);
        assert_eq!(distance("ab", "ba"), 2);
        assert_eq!(distance("flaw", "lawn"), 2);
    }

    #[test]
    fn the_nearest_stand_first_and_the_rest_is_counted() {
        let names: Vec<String> = (1..=40).map(|i| format!("S{i:02}")).collect();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        let text = said("S7", &names);
        assert!(text.starts_with("There is: S07, "), "{text}");
        assert!(text.ends_with(" and 28 more"), "{text}");
        assert!(said("x", &[""]).contains("no shop"));
        assert_eq!(said("nroth", &["South", "North"]), "There is: North, South");
        let long = "y".repeat(5_000);
        assert!(said("x", &[&long]).len() < 100);
    }
}
