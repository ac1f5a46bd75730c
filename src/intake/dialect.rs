//! Delimiter, quote, preamble and heading of a file, by the settings or by
//! looking at its first lines for the headings that are sought.

mod sizes;

use super::encoding::{Encoding, text};
use super::error::FileFaultKind;
use super::headings::{Label, folded};
use super::record::{Machine, Marks, Step, after_line_end, count_lines, line_end};
use crate::settings::shop::FileFormat;
use sizes::{Size, mean_bytes, record_sizes, usual};
use std::collections::BTreeSet;

/// Delimiters that are tried, in this order where nothing else decides.
const DELIMITERS: [u8; 5] = *b",;\t| ";
/// Physical lines among which the heading is sought.
const SEARCHED: usize = 50;

/// How a file's first lines are laid out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Layout {
    /// What separates and encloses.
    pub marks: Marks,
    /// One label a column.
    pub labels: Vec<Label>,
    /// Cells of a whole record.
    pub arity: usize,
    /// True where every record ends in a further, empty cell.
    pub trailing: bool,
    /// True where the first line is a `sep=` line.
    pub sep_line: bool,
    /// Physical line of the heading, from 1; 0 = none.
    pub heading_line: u64,
    /// Physical lines that the heading takes.
    pub heading_lines: u64,
    /// Byte at which the heading begins.
    pub heading_start: usize,
    /// Byte after the heading.
    pub data_start: usize,
    /// Bytes of the heading's first record, line end left out.
    pub heading_raw: Vec<u8>,
    /// Bytes that a record takes, on the average of the first ones.
    pub record_bytes: usize,
}

/// Why a layout could not be found, and the heading's line if it was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unfit {
    /// Physical line, from 1.
    pub line: Option<u64>,
    /// What is wrong.
    pub kind: FileFaultKind,
}

impl From<FileFaultKind> for Unfit {
    fn from(kind: FileFaultKind) -> Self {
        Self { line: None, kind }
    }
}

/// The settings of one file: its own before those of all files.
pub fn format_of(all: &FileFormat, own: Option<&FileFormat>) -> FileFormat {
    let Some(own) = own else { return all.clone() };
    FileFormat {
        encoding: own.encoding.or(all.encoding),
        delimiter: own.delimiter.or(all.delimiter),
        quote: own.quote.or(all.quote),
        backslash_escape: own.backslash_escape || all.backslash_escape,
        heading_line: own.heading_line.or(all.heading_line),
        heading_lines: own.heading_lines.or(all.heading_lines),
        later_by: own.later_by.clone().or_else(|| all.later_by.clone()),
    }
}

/// The delimiter of a `sep=;` line.
fn sep_hint(line: &[u8]) -> Option<u8> {
    let line = line.strip_prefix(b"\"").unwrap_or(line);
    let line = line.strip_suffix(b"\"").unwrap_or(line);
    let (name, rest) = line.split_at_checked(4)?;
    match rest {
        [d] if name.eq_ignore_ascii_case(b"sep=") && DELIMITERS.contains(d) => Some(*d),
        _ => None,
    }
}

/// Where the first lines begin.
fn line_starts(head: &[u8], from: usize, most: usize) -> Vec<usize> {
    let mut starts = Vec::new();
    let mut at = from;
    while at < head.len() && starts.len() < most {
        starts.push(at);
        at = after_line_end(head, line_end(head, at));
    }
    starts
}

/// A candidate for the heading.
struct Candidate {
    marks: Marks,
    start: usize,
    matched: usize,
}

/// Finds the layout of a file from its first bytes (`whole`: there are no
/// others). `sought` are the headings of the fields; without any, the first
/// record of the most usual number of cells is the heading.
///
/// # Errors
/// No heading, or one that cannot be the heading of the records under it.
pub fn find(
    head: &[u8],
    whole: bool,
    encoding: Encoding,
    format: &FileFormat,
    sought: &BTreeSet<String>,
) -> Result<Layout, Unfit> {
    let first_end = line_end(head, 0);
    let hint = sep_hint(&head[..first_end]);
    let from = match hint {
        Some(_) => after_line_end(head, first_end),
        None => 0,
    };
    if head[from..]
        .iter()
        .all(|b| b.is_ascii_whitespace() || matches!(b, 0x1a))
    {
        return Err(FileFaultKind::Empty.into());
    }
    let delimiters = match format.delimiter.or(hint) {
        Some(d) => vec![d],
        None => DELIMITERS.to_vec(),
    };
    let quotes = match format.quote {
        Some(q) => vec![q],
        None if head.contains(&b'\'') => vec![b'"', b'\''],
        None => vec![b'"'],
    };
    let marks = quotes.iter().flat_map(|quote| {
        delimiters.iter().map(|delimiter| Marks {
            delimiter: *delimiter,
            quote: *quote,
            backslash: format.backslash_escape,
        })
    });
    let marks: Vec<Marks> = marks.collect();
    let best = if format.heading_lines == Some(0) || sought.is_empty() {
        steadiest(head, whole, from, &marks, format)
    } else {
        matching(head, from, encoding, &marks, format, sought)
    };
    let best = best.ok_or_else(|| FileFaultKind::NoHeading {
        sought: sought.iter().cloned().collect(),
    })?;
    lay_out(head, whole, encoding, format, best, hint.is_some())
}

/// The marks and line under which most of the headings sought are found.
fn matching(
    head: &[u8],
    from: usize,
    encoding: Encoding,
    marks: &[Marks],
    format: &FileFormat,
    sought: &BTreeSet<String>,
) -> Option<Candidate> {
    let starts = match format.heading_line {
        Some(line) => {
            let all = line_starts(head, 0, line as usize);
            all.get(line as usize - 1).copied().into_iter().collect()
        }
        None => line_starts(head, from, SEARCHED),
    };
    let rows = format.heading_lines.unwrap_or(1) as usize;
    let mut best: Option<Candidate> = None;
    for marks in marks {
        for start in &starts {
            let line = &head[*start..line_end(head, *start)];
            // Of a single column, any delimiter serves: the first is tried.
            if marks.delimiter != DELIMITERS[0] && !line.contains(&marks.delimiter) {
                continue;
            }
            let rows = heading_rows(head, *start, *marks, encoding, rows);
            let matched = match rows.as_slice() {
                [one] => one.iter().filter(|c| sought.contains(&*folded(c))).count(),
                _ => {
                    let labels = labels_of(&rows);
                    let is = |s: &&String| labels.iter().any(|l| l.is(s));
                    sought.iter().filter(is).count()
                }
            };
            if matched > best.as_ref().map_or(0, |b| b.matched) {
                best = Some(Candidate {
                    marks: *marks,
                    start: *start,
                    matched,
                });
            }
        }
    }
    best
}

/// The marks under which the records have most steadily the same number of
/// cells, and the first record of that number.
fn steadiest(
    head: &[u8],
    whole: bool,
    from: usize,
    marks: &[Marks],
    format: &FileFormat,
) -> Option<Candidate> {
    let from = match format.heading_line {
        Some(line) => *line_starts(head, 0, line as usize).get(line as usize - 1)?,
        None => from,
    };
    let mut best: Option<(usize, Candidate)> = None;
    for marks in marks {
        let sizes = record_sizes(head, whole, from, *marks, 0);
        let Some((cells, count)) = usual(&sizes) else {
            continue;
        };
        let start = sizes
            .iter()
            .find(|s| s.cells == cells)
            .map_or(from, |s| s.start);
        let score = count * cells.min(2) * if cells > 1 { 10 } else { 1 };
        if best.as_ref().is_none_or(|(b, _)| score > *b) {
            let candidate = Candidate {
                marks: *marks,
                start: if format.heading_line.is_some() {
                    from
                } else {
                    start
                },
                matched: 0,
            };
            best = Some((score, candidate));
        }
    }
    best.map(|(_, c)| c)
}

/// The cells of the heading's records as text; stops at one that is unsound.
fn heading_rows(
    head: &[u8],
    start: usize,
    marks: Marks,
    encoding: Encoding,
    rows: usize,
) -> Vec<Vec<String>> {
    let mut machine = Machine::new(head, marks, 0, true);
    machine.go_to(start);
    let mut out = Vec::new();
    for _ in 0..rows {
        let mut cells = Vec::new();
        let Step::Record(_) = machine.step(&mut cells) else {
            break;
        };
        let texts = cells.iter().map(|c| {
            let content = &head[c.start()..c.end()];
            match c.is_escaped() {
                true => text(&machine.resolve(*c), encoding)
                    .unwrap_or_default()
                    .into_owned(),
                false => text(content, encoding).unwrap_or_default().into_owned(),
            }
        });
        out.push(texts.collect());
    }
    out
}

/// One label a column of the heading's records. A blank cell of an upper row
/// belongs to the group on its left, as merged cells are exported.
fn labels_of(rows: &[Vec<String>]) -> Vec<Label> {
    let width = rows.iter().map(Vec::len).max().unwrap_or(0);
    let mut columns = vec![Vec::new(); width];
    for (i, row) in rows.iter().enumerate() {
        let upper = i + 1 < rows.len();
        let mut group = String::new();
        for (c, column) in columns.iter_mut().enumerate() {
            let cell = row.get(c).map(|s| s.trim().to_string()).unwrap_or_default();
            if !cell.is_empty() {
                group.clone_from(&cell);
            }
            column.push(if upper && cell.is_empty() {
                group.clone()
            } else {
                cell
            });
        }
    }
    columns.iter().map(|parts| Label::of(parts)).collect()
}

/// True where a line holds nothing but delimiters, quotes and blanks.
pub fn is_blank(line: &[u8], marks: Marks) -> bool {
    line.iter()
        .all(|b| matches!(b, b' ' | b'\t' | 0x1a) || *b == marks.delimiter || *b == marks.quote)
}

fn lay_out(
    head: &[u8],
    whole: bool,
    encoding: Encoding,
    format: &FileFormat,
    best: Candidate,
    sep_line: bool,
) -> Result<Layout, Unfit> {
    let marks = best.marks;
    let rows = format.heading_lines.unwrap_or(1) as usize;
    let mut machine = Machine::new(head, marks, 0, true);
    machine.go_to(best.start);
    let mut heading_raw = Vec::new();
    let mut cells = Vec::new();
    for i in 0..rows {
        cells.clear();
        if let Step::Record(r) = machine.step(&mut cells)
            && i == 0
        {
            heading_raw = head[r.start..r.end].to_vec();
        }
    }
    let data_start = machine.at();
    let mut labels = labels_of(&heading_rows(head, best.start, marks, encoding, rows));
    let sizes = record_sizes(head, whole, data_start, marks, labels.len());
    if rows == 0 {
        let width = usual(&sizes).map_or(0, |(cells, _)| cells);
        labels = (1..=width).map(|n| Label::of(&[n.to_string()])).collect();
    }
    let line = 1 + count_lines(&head[..best.start]);
    let (arity, trailing) = cells_of_record(&mut labels, &sizes).map_err(|kind| Unfit {
        line: Some(line),
        kind,
    })?;
    Ok(Layout {
        marks,
        labels,
        arity,
        trailing,
        sep_line,
        heading_line: if rows == 0 { 0 } else { line },
        heading_lines: count_lines(&head[best.start..data_start]),
        heading_start: best.start,
        data_start,
        heading_raw,
        record_bytes: mean_bytes(&sizes),
    })
}

/// Cells of a whole record, and whether the last of them is always empty and
/// has no label; labels that only trailing delimiters made are taken off.
fn cells_of_record(
    labels: &mut Vec<Label>,
    sizes: &[Size],
) -> Result<(usize, bool), FileFaultKind> {
    let width = labels.len();
    let Some((cells, count)) = usual(sizes) else {
        return Ok((width, false));
    };
    let decided = cells != width && count >= 2 && count * 2 > sizes.len();
    if !decided {
        return Ok((width, false));
    }
    let mut of_that_size = sizes.iter().filter(|s| s.cells == cells);
    if cells == width + 1 && of_that_size.all(|s| s.last_empty) {
        return Ok((cells, true));
    }
    let named = labels
        .iter()
        .rposition(|l| !l.is_blank())
        .map_or(0, |i| i + 1);
    if named <= cells && cells < width {
        labels.truncate(cells);
        return Ok((cells, false));
    }
    Err(FileFaultKind::LabelCount {
        labels: width,
        cells,
        blank: labels.iter().any(Label::is_blank),
    })
}

/// Spellings of all headings that fields of `tables` may have.
pub fn sought(
    tables: &[crate::settings::contract::Table],
    shop: &crate::settings::shop::Shop,
) -> BTreeSet<String> {
    let fields = tables
        .iter()
        .flat_map(|t| t.fields().iter().map(|f| (*t, f)));
    fields
        .map(|(t, f)| folded(shop.heading(t, f)).into_owned())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(head: &str, format: &FileFormat) -> Result<Layout, Unfit> {
        let sought = ["job", "finished on", "price"].map(String::from).into();
        find(head.as_bytes(), true, Encoding::Utf8, format, &sought)
    }

    fn plain(head: &str) -> Layout {
        found(head, &FileFormat::default()).unwrap()
    }

    #[test]
    fn every_delimiter_and_quote_is_found_by_its_headings() {
        for d in [",", ";", "\t", "|", " "] {
            let head = format!("job{d}\"finished on\"{d}price\n1{d}2026-01-01{d}5\n");
            let layout = plain(&head);
            assert_eq!((layout.marks.delimiter, layout.arity), (d.as_bytes()[0], 3));
        }
        let layout = plain("'job';'finished on';'price'\n'1';'a;b';'5'\n");
        assert_eq!((layout.marks.quote, layout.arity), (b'\'', 3));
    }

    #[test]
    fn preamble_and_sep_line_stand_above_the_heading() {
        let layout =
            plain("Example Shop\nPrinted: today, by nobody\n\njob,finished on\n1,x\n2,y\n");
        assert_eq!((layout.heading_line, layout.labels.len()), (4, 2));
        let layout = plain("sep=;\njob;finished on\n1;x\n");
        assert!(layout.sep_line);
        assert_eq!((layout.marks.delimiter, layout.heading_line), (b';', 2));
    }

    #[test]
    fn the_settings_win() {
        let format = FileFormat {
            heading_line: Some(3),
            heading_lines: Some(2),
            ..FileFormat::default()
        };
        let layout = found(
            "job,x\n1,x\nWork,,Money\njob,finished on,price\n1,x,5\n",
            &format,
        )
        .unwrap();
        assert_eq!((layout.heading_line, layout.heading_lines), (3, 2));
        let texts: Vec<_> = layout.labels.iter().map(|l| l.text.to_string()).collect();
        assert_eq!(texts, ["Work job", "Work finished on", "Money price"]);
        let none = FileFormat {
            heading_lines: Some(0),
            ..FileFormat::default()
        };
        let layout = found("7;2026-01-01;5\n8;2026-01-02;6\n", &none).unwrap();
        assert_eq!((layout.heading_line, layout.data_start), (0, 0));
        assert_eq!(&*layout.labels[2].text, "3");
    }

    #[test]
    fn trailing_delimiters_are_understood() {
        let layout = plain("job,finished on\n1,x,\n2,y,\n");
        assert_eq!((layout.arity, layout.trailing), (3, true));
        let layout = plain("job,finished on,\n1,x\n2,y\n");
        assert_eq!((layout.arity, layout.labels.len()), (2, 2));
        let layout = plain("job,finished on,\n1,x,\n2,y,\n");
        assert_eq!((layout.arity, layout.trailing), (3, false));
    }

    #[test]
    fn a_heading_that_is_not_of_its_records_is_refused() {
        let code = |head: &str| found(head, &FileFormat::default()).unwrap_err().kind.code();
        assert_eq!(
            code("job,finished onprice\n1,x,5\n2,y,6\n"),
            "missing-label"
        );
        assert_eq!(
            code("job,,finished on,price\n1,x,5\n2,y,6\n"),
            "blank-label"
        );
        assert_eq!(code("job,finished on,price\n1,x\n2,y\n"), "extra-label");
        assert_eq!(code("1,x,5\n2,y,6\n"), "no-heading");
        assert_eq!(code(" \r\n\u{1a}"), "empty-file");
        // One record alone does not outvote the heading: it is at fault itself.
        assert_eq!(plain("job,finished on,price\n1,x\n").arity, 3);
    }

    #[test]
    fn line_ends_are_named() {
        use super::super::record::line_ends;
        assert_eq!(line_ends(b"a\r\nb\nc\rd"), ["crlf", "lf", "cr"]);
    }
}
