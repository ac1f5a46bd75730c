//! How wide a line of text is, without a font at hand.
//!
//! A page is read in whatever sans serif face the reader's system has. The
//! table holds the advance widths of DejaVu Sans 2.37 (its `hmtx` table, per
//! mille of the letter height), one of the widest in common use, so that room
//! measured by it suffices for the others. Characters are counted, not bytes.

/// Advance widths of the printable ASCII characters, from the space on.
const ASCII: [u16; 95] = [
    318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337, 636, 636, 636,
    636, 636, 636, 636, 636, 636, 636, 337, 337, 838, 838, 838, 531, 1000, 684, 686, 698, 770, 632,
    575, 775, 752, 295, 295, 656, 557, 863, 748, 787, 603, 787, 695, 635, 611, 732, 684, 989, 685,
    611, 685, 390, 337, 390, 838, 500, 500, 613, 635, 550, 635, 615, 352, 635, 634, 278, 278, 579,
    278, 974, 634, 612, 635, 635, 411, 521, 392, 634, 592, 818, 592, 592, 525, 636, 337, 636, 838,
];
/// Anything that the table does not name, full-width letters included.
const UNKNOWN: u16 = 1000;
/// Bold letters over plain ones: the widest ratio among DejaVu Sans' digits
/// and lower case, `hmtx` of the bold face over that of the plain one.
const BOLD: f64 = 1.15;

fn advance(c: char) -> u16 {
    match c {
        ' '..='~' => ASCII
            .get(c as usize - ' ' as usize)
            .copied()
            .unwrap_or(UNKNOWN),
        '\u{a0}' | '\u{b7}' | '\u{2019}' => 318,
        '\u{b2}' => 401,
        '\u{b0}' | '\u{2013}' => 500,
        '\u{20ac}' | '\u{a3}' | '\u{a5}' => 636,
        '\u{2212}' | '\u{d7}' | '\u{b1}' => 838,
        '\u{c0}'..='\u{de}' => 790,
        '\u{df}'..='\u{24f}' | '\u{370}'..='\u{45f}' => 700,
        _ => UNKNOWN,
    }
}

/// Width of `text` in px at a letter height of `size` px.
pub(super) fn width(text: &str, size: f64, bold: bool) -> f64 {
    let plain: f64 = text.chars().map(|c| f64::from(advance(c))).sum();
    plain / 1000.0 * size * if bold { BOLD } else { 1.0 }
}

/// Width of the widest of `texts`, px; 0 where there is none.
pub(super) fn widest<'a>(texts: impl IntoIterator<Item = &'a str>, size: f64, bold: bool) -> f64 {
    texts
        .into_iter()
        .map(|text| width(text, size, bold))
        .fold(0.0, f64::max)
}

/// `text` in at most `lines` lines of at most `room` px, broken at spaces;
/// what does not fit ends in an ellipsis. A drawing's tip and the table give
/// the whole text.
pub(super) fn wrap(text: &str, size: f64, room: f64, lines: usize) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let mut words = text.split_whitespace().peekable();
    while let Some(first) = words.next() {
        let mut line = first.to_string();
        let last = out.len() + 1 == lines;
        while let Some(word) = words.peek() {
            let longer = format!("{line} {word}");
            if !last && width(&longer, size, false) > room {
                break;
            }
            line = longer;
            words.next();
        }
        out.push(shorten(&line, size, room));
    }
    out
}

/// `text`, cut to `room` px with an ellipsis where it is longer.
pub(super) fn shorten(text: &str, size: f64, room: f64) -> String {
    if width(text, size, false) <= room {
        return text.to_string();
    }
    let mut kept = String::new();
    for c in text.chars() {
        let longer = format!("{kept}{c}\u{2026}");
        if width(&longer, size, false) > room {
            break;
        }
        kept.push(c);
    }
    format!("{}\u{2026}", kept.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn characters_count_and_not_bytes() {
        let square = width("m\u{b2}", 10.0, false);
        assert!((square - (9.74 + 4.01)).abs() < 1e-9, "{square}");
        assert_eq!(width("", 12.0, true), 0.0);
        assert!(width("52%", 12.0, true) > width("52%", 12.0, false));
    }

    #[test]
    fn a_long_label_is_broken_at_spaces_and_cut_at_last() {
        let lines = wrap("Labour efficiency on full vehicles", 12.0, 90.0, 2);
        assert_eq!(lines.len(), 2);
        assert_eq!(lines[0], "Labour");
        assert!(lines[1].ends_with('\u{2026}'), "{lines:?}");
        for line in &lines {
            assert!(width(line, 12.0, false) <= 90.0, "{line}");
        }
        assert!(wrap("", 12.0, 90.0, 2).is_empty());
        assert_eq!(wrap("one two", 12.0, 900.0, 1), ["one two"]);
    }

    #[test]
    fn a_word_longer_than_the_room_is_cut() {
        let cut = shorten("Unbrokenlabelwithoutspaces", 12.0, 60.0);
        assert!(width(&cut, 12.0, false) <= 60.0, "{cut}");
        assert!(cut.ends_with('\u{2026}'));
    }
}
