//! Raw lines of records that were put aside after their bytes were gone: the
//! file is read once more, as far as the last of them.

use super::bytes::{CHUNK, Chunk, Lines, Origin};
use super::encoding::Settled;
use super::record::{after_line_end, line_end};
use std::io;

/// Lines wanted: the first and how many.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Wanted {
    pub(super) line: u64,
    pub(super) lines: u32,
}

/// The bytes of each run of lines, last line end left out. `wanted` is in
/// order and does not overlap.
pub(super) fn lines(
    origin: &Origin,
    settled: Settled,
    wanted: &[Wanted],
) -> io::Result<Vec<Vec<u8>>> {
    let mut out: Vec<Vec<u8>> = vec![Vec::new(); wanted.len()];
    let mut from = Lines::open(origin, settled, false)?;
    let mut spare = Vec::new();
    let mut line = 1_u64;
    let mut next = 0;
    while let Some(chunk) = from.next(std::mem::take(&mut spare), CHUNK)? {
        let (bytes, single) = match chunk {
            Chunk::Lines { bytes, .. } => (bytes, false),
            Chunk::Long { head, .. } => (head, true),
        };
        let mut at = 0;
        while at < bytes.len() {
            let Some(want) = wanted.get(next) else {
                return Ok(out);
            };
            let end = if single {
                bytes.len()
            } else {
                line_end(&bytes, at)
            };
            let after = after_line_end(&bytes, end);
            let last = want.line + u64::from(want.lines) - 1;
            if line >= want.line {
                let whole = if line == last { end } else { after };
                out[next].extend_from_slice(&bytes[at..whole]);
                next += usize::from(line == last);
            }
            line += 1;
            at = after;
        }
        spare = bytes;
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::super::encoding::settle;
    use super::*;

    #[test]
    fn runs_of_lines_come_back_as_they_stand() {
        let held = Origin::Memory(b"a\r\n\"b\nc\"\r\nd\re".as_slice().into());
        let want = |line, lines| Wanted { line, lines };
        let found = lines(&held, settle(b"", None), &[want(2, 2), want(5, 1)]).unwrap();
        assert_eq!(found, [b"\"b\nc\"".to_vec(), b"e".to_vec()]);
    }
}
