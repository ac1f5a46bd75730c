//! Where records and cells begin and end: a strict RFC 4180 machine that
//! knows physical lines.
//!
//! Lines end in LF, CRLF or CR. A quote fault costs the line on which its
//! record began and no other: the machine resumes at the next physical line.
//! A quoted line break is believed only where what follows it cannot stand as
//! a record of its own.

mod cell;
mod lines;

pub use cell::{Cell, resolve};
pub use lines::{after_line_end, count_lines, line_end, line_ends};

/// What separates, encloses and escapes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Marks {
    /// Stands between cells.
    pub delimiter: u8,
    /// May enclose a cell.
    pub quote: u8,
    /// True where a backslash makes the next byte of a quoted cell literal;
    /// otherwise a quote is made literal by doubling it.
    pub backslash: bool,
}

impl Default for Marks {
    fn default() -> Self {
        Self {
            delimiter: b',',
            quote: b'"',
            backslash: false,
        }
    }
}

/// Bytes that a quoted cell may take; without a bound one open quote would
/// let every line after it be read twice.
pub const CELL_MAX: usize = 1 << 20;

/// A sound record. Its cells were pushed onto the caller's list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Record {
    /// First byte.
    pub start: usize,
    /// One past the last byte, line end left out.
    pub end: usize,
    /// Physical lines that it takes, at least 1.
    pub lines: u32,
    /// Cells.
    pub cells: usize,
    /// True where a NUL byte stands within.
    pub nul: bool,
}

/// What is wrong with the quotes of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum QuoteFault {
    /// A quote within a cell that does not begin with one.
    Stray,
    /// Something other than a delimiter or a line end after a closing quote.
    TextAfter,
    /// No closing quote up to the file's end.
    Unclosed,
    /// No closing quote within [`CELL_MAX`] bytes.
    TooLong,
    /// A quoted line break whose continuation is a whole record by itself.
    Swallows,
}

/// A physical line whose quotes are at fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FaultyLine {
    /// First byte.
    pub start: usize,
    /// One past the last byte, line end left out.
    pub end: usize,
    /// Cell, from 0, in which the fault stands.
    pub cell: usize,
    /// What is wrong.
    pub fault: QuoteFault,
    /// True where a NUL byte stands within the line.
    pub nul: bool,
}

/// What the machine found next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// A sound record.
    Record(Record),
    /// One line at fault.
    Faulty(FaultyLine),
    /// A quoted cell is open at the end of the bytes and more bytes follow;
    /// its record begins at this byte.
    NeedMore(usize),
    /// All bytes are used up.
    End,
}

const PLAIN: u8 = 0;
const DELIMITER: u8 = 1;
const LINE_END: u8 = 2;
const QUOTE: u8 = 3;
const NUL: u8 = 4;

/// Finds records in a run of bytes that begins where a record begins.
#[derive(Debug, Clone)]
pub struct Machine<'a> {
    bytes: &'a [u8],
    marks: Marks,
    class: [u8; 256],
    arity: usize,
    last: bool,
    at: usize,
}

/// Where a quoted cell ended.
struct Closed {
    end: usize,
    escaped: bool,
    breaks: u32,
    nul: bool,
}

impl<'a> Machine<'a> {
    /// A machine over `bytes` (under 2 GiB), which are the file's last where
    /// `last` is true. `arity` is the number of cells of a whole record; under
    /// 2, every quoted line break is believed.
    pub fn new(bytes: &'a [u8], marks: Marks, arity: usize, last: bool) -> Self {
        let mut class = [PLAIN; 256];
        class[0] = NUL;
        class[usize::from(b'\n')] = LINE_END;
        class[usize::from(b'\r')] = LINE_END;
        class[usize::from(marks.delimiter)] = DELIMITER;
        class[usize::from(marks.quote)] = QUOTE;
        Self {
            bytes,
            marks,
            class,
            arity,
            last,
            at: 0,
        }
    }

    /// The byte at which the next record begins.
    pub fn at(&self) -> usize {
        self.at
    }

    /// Moves on to `at`, which must be where a line begins.
    pub fn go_to(&mut self, at: usize) {
        self.at = at;
    }

    /// The next record; its cells are pushed onto `cells`, and none where the
    /// step is not a record.
    #[inline]
    pub fn step(&mut self, cells: &mut Vec<Cell>) -> Step {
        if self.at >= self.bytes.len() {
            return Step::End;
        }
        let before = cells.len();
        match self.record(cells) {
            Ok((record, next)) => {
                if record.lines > 1 && self.swallows(&record) {
                    let cell = self.broken_cell(&cells[before..]);
                    cells.truncate(before);
                    return self.faulty(record.start, cell, QuoteFault::Swallows);
                }
                self.at = next;
                Step::Record(record)
            }
            Err((cell, fault)) => {
                cells.truncate(before);
                match fault {
                    Some(fault) => self.faulty(self.at, cell, fault),
                    None => Step::NeedMore(self.at),
                }
            }
        }
    }

    /// One record from `self.at`: it and where the next begins, or the cell
    /// at fault (`None`: more bytes are needed). Inlined, for what it gives is
    /// more than fits registers.
    #[inline(always)]
    fn record(
        &self,
        cells: &mut Vec<Cell>,
    ) -> Result<(Record, usize), (usize, Option<QuoteFault>)> {
        let bytes = self.bytes;
        let (start, before) = (self.at, cells.len());
        let (mut i, mut lines, mut nul) = (start, 1, false);
        loop {
            let from = i;
            let open = bytes.get(i) == Some(&self.marks.quote);
            if open {
                let here = cells.len() - before;
                let closed = self.quoted(i + 1).map_err(|f| (here, f))?;
                cells.push(Cell::new(from + 1, closed.end, closed.escaped));
                lines += closed.breaks;
                nul |= closed.nul;
                i = closed.end + 1;
            }
            loop {
                while i < bytes.len() && self.class[usize::from(bytes[i])] == PLAIN && !open {
                    i += 1;
                }
                let class = bytes
                    .get(i)
                    .map_or(LINE_END, |b| self.class[usize::from(*b)]);
                if class == NUL && !open {
                    nul = true;
                    i += 1;
                } else if class == DELIMITER || class == LINE_END {
                    break;
                } else {
                    let here = cells.len() - before;
                    return Err(match open {
                        true => (here - 1, Some(QuoteFault::TextAfter)),
                        false => (here, Some(QuoteFault::Stray)),
                    });
                }
            }
            if !open {
                cells.push(Cell::new(from, i, false));
            }
            if bytes.get(i) == Some(&self.marks.delimiter) {
                i += 1;
                continue;
            }
            let record = Record {
                start,
                end: i,
                lines,
                cells: cells.len() - before,
                nul,
            };
            return Ok((record, after_line_end(bytes, i)));
        }
    }

    /// The end of a quoted cell whose content begins at `from`.
    fn quoted(&self, from: usize) -> Result<Closed, Option<QuoteFault>> {
        let bytes = self.bytes;
        let limit = bytes.len().min(from.saturating_add(CELL_MAX));
        let mut closed = Closed {
            end: from,
            escaped: false,
            breaks: 0,
            nul: false,
        };
        let mut i = from;
        while i < limit {
            let b = bytes[i];
            if b == self.marks.quote {
                if self.marks.backslash || bytes.get(i + 1) != Some(&b) {
                    closed.end = i;
                    return Ok(closed);
                }
                closed.escaped = true;
                i += 2;
                continue;
            }
            match b {
                b'\\' if self.marks.backslash => {
                    closed.escaped = true;
                    i += 1;
                    // What is escaped is literal, but a line end stays one.
                    if !matches!(bytes.get(i), Some(b'\n' | b'\r' | 0)) {
                        i += 1;
                    }
                    continue;
                }
                b'\n' => closed.breaks += 1,
                b'\r' if bytes.get(i + 1) != Some(&b'\n') => closed.breaks += 1,
                0 => closed.nul = true,
                _ => {}
            }
            i += 1;
        }
        Err(if i >= bytes.len() {
            self.last.then_some(QuoteFault::Unclosed)
        } else {
            Some(QuoteFault::TooLong)
        })
    }

    /// Takes the physical line at `start` as faulty and moves to the next.
    fn faulty(&mut self, start: usize, cell: usize, fault: QuoteFault) -> Step {
        let end = line_end(self.bytes, start);
        self.at = after_line_end(self.bytes, end);
        Step::Faulty(FaultyLine {
            start,
            end,
            cell,
            fault,
            nul: self.bytes[start..end].contains(&0),
        })
    }

    /// True where a line after the record's first is by itself a record of
    /// full arity.
    fn swallows(&self, record: &Record) -> bool {
        if self.arity < 2 {
            return false;
        }
        let whole = &self.bytes[..record.end];
        let mut at = after_line_end(whole, line_end(whole, record.start));
        let mut cells = Vec::new();
        while at < record.end {
            let end = line_end(whole, at);
            cells.clear();
            let mut alone = self.clone();
            (alone.bytes, alone.at, alone.last) = (&whole[..end], at, true);
            if let Ok((found, _)) = alone.record(&mut cells)
                && found.cells == self.arity
            {
                return true;
            }
            at = after_line_end(whole, end);
        }
        false
    }

    /// The first of the cells that holds a line end.
    fn broken_cell(&self, cells: &[Cell]) -> usize {
        let breaks = |c: &Cell| {
            self.bytes[c.start()..c.end()]
                .iter()
                .any(|b| matches!(b, b'\n' | b'\r'))
        };
        cells.iter().position(breaks).unwrap_or(0)
    }

    /// A cell's bytes with its escapes resolved.
    pub fn resolve(&self, cell: Cell) -> Vec<u8> {
        resolve(&self.bytes[cell.start()..cell.end()], self.marks)
    }
}

/// The raw text of a record or line, for people: its cells as bytes. Slow;
/// for headings and messages.
pub fn cells_of(line: &[u8], marks: Marks) -> Option<Vec<Vec<u8>>> {
    let mut machine = Machine::new(line, marks, 0, true);
    let mut cells = Vec::new();
    match machine.step(&mut cells) {
        Step::Record(_) => Some(
            cells
                .iter()
                .map(|c| {
                    if c.is_escaped() {
                        machine.resolve(*c)
                    } else {
                        line[c.start()..c.end()].to_vec()
                    }
                })
                .collect(),
        ),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Records as text, or `!line:cell` for faults, with the line each began on.
    fn read(text: &str, marks: Marks, arity: usize) -> Vec<String> {
        let mut machine = Machine::new(text.as_bytes(), marks, arity, true);
        let mut cells = Vec::new();
        let mut line = 1;
        let mut out = Vec::new();
        loop {
            cells.clear();
            match machine.step(&mut cells) {
                Step::Record(r) => {
                    let texts: Vec<_> = cells
                        .iter()
                        .map(|c| {
                            let raw = &text.as_bytes()[c.start()..c.end()];
                            let bytes = if c.is_escaped() {
                                machine.resolve(*c)
                            } else {
                                raw.to_vec()
                            };
                            String::from_utf8(bytes).unwrap()
                        })
                        .collect();
                    out.push(format!("{line}:{}", texts.join("|")));
                    line += r.lines;
                }
                Step::Faulty(f) => {
                    out.push(format!("{line}!{:?}@{}", f.fault, f.cell));
                    line += 1;
                }
                Step::NeedMore(at) => out.push(format!("more@{at}")),
                Step::End => return out,
            }
        }
    }

    fn plain(text: &str) -> Vec<String> {
        read(text, Marks::default(), 2)
    }

    #[test]
    fn every_kind_of_line_end_ends_a_line() {
        assert_eq!(
            plain("a,b\nc,d\r\ne,f\rg,h"),
            ["1:a|b", "2:c|d", "3:e|f", "4:g|h"]
        );
        assert_eq!(plain("a,b\n\nc,"), ["1:a|b", "2:", "3:c|"]);
        assert_eq!(count_lines(b"a\n\r\nb\rc"), 4);
        assert_eq!(count_lines(b""), 0);
    }

    #[test]
    fn quoted_cells_hold_delimiters_doubled_quotes_and_line_ends() {
        assert_eq!(
            plain("1,\"a,\"\"b\"\"\"\n2,\"x\r\ny\"\n3,\"\""),
            ["1:1|a,\"b\"", "2:2|x\r\ny", "4:3|"]
        );
    }

    #[test]
    fn a_quote_fault_costs_its_own_line() {
        assert_eq!(plain("\"1,a\n2,b\n3,c"), ["1!Unclosed@0", "2:2|b", "3:3|c"]);
        assert_eq!(plain("1,12\" wheel\n2,b"), ["1!Stray@1", "2:2|b"]);
        assert_eq!(plain("1,\"a\"b\n2,\"b\"\n"), ["1!TextAfter@1", "2:2|b"]);
        assert_eq!(plain("1,\"a\n2,\"b\"\n"), ["1!TextAfter@1", "2:2|b"]);
    }

    #[test]
    fn a_line_break_that_swallows_a_record_is_not_believed() {
        assert_eq!(
            plain("1,\"a\n2,b\n3,c\"\n4,d"),
            ["1!Swallows@1", "2:2|b", "3!Stray@1", "4:4|d"]
        );
        assert_eq!(plain("1,\"a\nb\"\n4,d"), ["1:1|a\nb", "3:4|d"]);
    }

    #[test]
    fn a_backslash_escapes_only_where_it_is_set() {
        let marks = Marks {
            backslash: true,
            ..Marks::default()
        };
        assert_eq!(read("1,\"a\\\"b\"\n", marks, 2), ["1:1|a\"b"]);
        assert_eq!(plain("1,\"a\\\"b\"\n"), ["1!TextAfter@1"]);
        assert_eq!(read("1,\"a\\", marks, 2), ["1!Unclosed@1"]);
    }

    #[test]
    fn an_open_quote_asks_for_more_only_where_more_can_come() {
        let mut machine = Machine::new(b"1,a\n2,\"b\n", Marks::default(), 2, false);
        let mut cells = Vec::new();
        assert!(matches!(machine.step(&mut cells), Step::Record(_)));
        assert_eq!(machine.step(&mut cells), Step::NeedMore(4));
    }

    #[test]
    fn a_quoted_cell_is_bounded() {
        let text = format!("1,\"{}\n2,b", "x".repeat(CELL_MAX + 10));
        let steps = plain(&text);
        assert_eq!(steps, ["1!TooLong@1", "2:2|b"]);
    }
}
