//! Where a cell lies, and what it says once its escapes are resolved.

use super::Marks;

/// Where a cell lies: quotes around it are left out, escapes within are not
/// resolved ([`Machine::resolve`] does).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cell {
    start: u32,
    /// Length, with the top bit set where escapes stand within.
    len: u32,
}

const ESCAPED: u32 = 1 << 31;

impl Cell {
    pub(in super::super) fn new(start: usize, end: usize, escaped: bool) -> Self {
        let flag = if escaped { ESCAPED } else { 0 };
        Self {
            start: start as u32,
            len: (end - start) as u32 | flag,
        }
    }

    /// First byte.
    pub fn start(self) -> usize {
        self.start as usize
    }

    /// One past the last byte.
    pub fn end(self) -> usize {
        self.start as usize + (self.len & !ESCAPED) as usize
    }

    /// True where a quote within is doubled or escaped.
    pub fn is_escaped(self) -> bool {
        self.len & ESCAPED != 0
    }
}

/// The content of a quoted cell with its escapes resolved.
pub fn resolve(content: &[u8], marks: Marks) -> Vec<u8> {
    let escape = if marks.backslash { b'\\' } else { marks.quote };
    let mut out = Vec::with_capacity(content.len());
    let mut rest = content.iter();
    while let Some(b) = rest.next() {
        let literal = if *b == escape { rest.next() } else { None };
        out.push(*literal.unwrap_or(b));
    }
    out
}
