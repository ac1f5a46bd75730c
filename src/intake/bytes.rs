//! A file's bytes in bounded chunks that end where a line ends, unpacked and,
//! where it was UTF-16, as UTF-8; with the file's size and SHA-256.

mod origin;

pub use origin::Origin;

use super::encoding::{Encoding, Settled};
use origin::Unpacked;
use std::io;

/// Bytes that a chunk aims at.
pub const CHUNK: usize = 3 << 20;
/// Bytes that a single line may take; a longer one is put aside unread.
pub const LINE_MAX: usize = 16 << 20;
/// Bytes of an overlong line that are kept for people to see.
pub const LONG_KEPT: usize = 4 << 10;

/// A run of whole lines, or the beginning of one that is too long to read.
#[derive(Debug)]
pub enum Chunk {
    /// Whole lines; the file's last where `last`.
    Lines {
        /// The bytes.
        bytes: Vec<u8>,
        /// True where no more follow.
        last: bool,
    },
    /// The first [`LONG_KEPT`] bytes of one line over [`LINE_MAX`].
    Long {
        /// The bytes kept.
        head: Vec<u8>,
        /// True where no more follow.
        last: bool,
    },
}

/// Gives a file's text in chunks.
pub struct Lines {
    from: Unpacked,
    decoder: Option<encoding_rs::Decoder>,
    carry: Vec<u8>,
    ended: bool,
}

impl std::fmt::Debug for Lines {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Lines").field("ended", &self.ended).finish()
    }
}

/// The first bytes of a file, unpacked, at most `n`.
///
/// # Errors
/// A file that cannot be read or unpacked.
pub fn head(origin: &Origin, n: usize) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    Unpacked::open(origin, false)?.append(&mut bytes, n)?;
    Ok(bytes)
}

/// UTF-8 of the first bytes of a file, its mark left out; what is malformed
/// becomes a byte that UTF-8 never holds, so that its line is noticed.
pub fn as_utf8(head: &[u8], settled: Settled) -> Vec<u8> {
    let body = head.get(settled.mark..).unwrap_or_default();
    match decoder(settled.encoding) {
        None => body.to_vec(),
        Some(mut decoder) => {
            let mut out = Vec::new();
            decode(&mut decoder, body, false, &mut out);
            out
        }
    }
}

fn decoder(encoding: Encoding) -> Option<encoding_rs::Decoder> {
    match encoding {
        Encoding::Utf16Le => Some(encoding_rs::UTF_16LE.new_decoder_without_bom_handling()),
        Encoding::Utf16Be => Some(encoding_rs::UTF_16BE.new_decoder_without_bom_handling()),
        Encoding::Utf8 | Encoding::Windows1252 => None,
    }
}

fn decode(decoder: &mut encoding_rs::Decoder, mut from: &[u8], last: bool, to: &mut Vec<u8>) {
    const NEVER_UTF8: u8 = 0xff;
    loop {
        let room = from.len() * 3 / 2 + 16;
        let at = to.len();
        to.resize(at + room, 0);
        let (result, read, written) =
            decoder.decode_to_utf8_without_replacement(from, &mut to[at..], last);
        to.truncate(at + written);
        from = from.get(read..).unwrap_or_default();
        match result {
            encoding_rs::DecoderResult::InputEmpty => return,
            encoding_rs::DecoderResult::OutputFull => {}
            encoding_rs::DecoderResult::Malformed(..) => to.push(NEVER_UTF8),
        }
    }
}

impl Lines {
    /// Opens a file; `digest` where its SHA-256 is wanted.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn open(origin: &Origin, settled: Settled, digest: bool) -> io::Result<Self> {
        let mut from = Unpacked::open(origin, digest)?;
        let mut mark = Vec::new();
        from.append(&mut mark, settled.mark)?;
        Ok(Self {
            from,
            decoder: decoder(settled.encoding),
            carry: Vec::new(),
            ended: false,
        })
    }

    /// Bytes of the file as it lies that were read so far.
    pub fn bytes_read(&self) -> u64 {
        self.from.seen()
    }

    /// The SHA-256 of the whole file, in lower-case hexadecimal; reads what
    /// is left of it.
    ///
    /// # Errors
    /// A file that cannot be read to its end.
    pub fn digest(self) -> io::Result<String> {
        self.from.digest()
    }

    /// The next chunk, in `buffer`'s memory where it serves; `None` at the end.
    ///
    /// # Errors
    /// A file that cannot be read or unpacked.
    pub fn next(&mut self, buffer: Vec<u8>, aim: usize) -> io::Result<Option<Chunk>> {
        let mut bytes = buffer;
        bytes.clear();
        bytes.append(&mut self.carry);
        let mut looked = 0;
        while !self.ended {
            if bytes.len() >= aim {
                match cut(&bytes, looked) {
                    Some(at) => {
                        self.carry.extend_from_slice(&bytes[at..]);
                        bytes.truncate(at);
                        return Ok(Some(Chunk::Lines { bytes, last: false }));
                    }
                    None if bytes.len() > LINE_MAX => return self.long(bytes).map(Some),
                    None => looked = bytes.len() - 1,
                }
            }
            self.fill(&mut bytes, aim)?;
        }
        Ok((!bytes.is_empty()).then_some(Chunk::Lines { bytes, last: true }))
    }

    /// Appends some bytes, or notes that there are none.
    fn fill(&mut self, bytes: &mut Vec<u8>, aim: usize) -> io::Result<()> {
        const LEAST: usize = 1 << 16;
        let want = aim.saturating_sub(bytes.len()).max(LEAST);
        let n = match &mut self.decoder {
            None => self.from.append(bytes, want)?,
            Some(decoder) => {
                let mut raw = Vec::new();
                let n = self.from.append(&mut raw, want)?;
                decode(decoder, &raw, n == 0, bytes);
                n
            }
        };
        self.ended = n == 0;
        Ok(())
    }

    /// Skips the rest of an overlong line.
    fn long(&mut self, bytes: Vec<u8>) -> io::Result<Chunk> {
        let head = bytes[..LONG_KEPT.min(bytes.len())].to_vec();
        let mut more = bytes;
        loop {
            // The last byte may be half of a CRLF, so it is kept for the next look.
            let kept = more.split_off(more.len().saturating_sub(1));
            more = kept;
            self.fill(&mut more, 1 << 20)?;
            let end = super::record::line_end(&more, 0);
            if end + 1 < more.len() || self.ended {
                let next = super::record::after_line_end(&more, end);
                self.carry = more.split_off(next);
                let last = self.ended && self.carry.is_empty();
                return Ok(Chunk::Long { head, last });
            }
        }
    }
}

/// Where the last whole line ends: after its LF, or after a CR that is not
/// the last byte (an LF may follow). Bytes before `looked` hold no line end.
fn cut(bytes: &[u8], looked: usize) -> Option<usize> {
    let fresh = bytes.get(looked..)?;
    let body = fresh.get(..fresh.len().saturating_sub(1))?;
    let lf = fresh.iter().rposition(|b| *b == b'\n');
    let at = lf.or_else(|| body.iter().rposition(|b| *b == b'\r'))?;
    Some(looked + at + 1)
}

#[cfg(test)]
mod tests {
    use super::super::encoding::settle;
    use super::*;
    use std::io::Write;

    fn all(bytes: &[u8], aim: usize) -> (Vec<String>, String) {
        let mut file = tempfile::NamedTempFile::new().unwrap();
        file.write_all(bytes).unwrap();
        let disk = of(&Origin::Disk(file.path().to_path_buf()), aim);
        assert_eq!(of(&Origin::Memory(bytes.into()), aim), disk);
        disk
    }

    fn of(origin: &Origin, aim: usize) -> (Vec<String>, String) {
        let settled = settle(&head(origin, 1 << 16).unwrap(), None);
        let mut lines = Lines::open(origin, settled, true).unwrap();
        let mut out = Vec::new();
        while let Some(chunk) = lines.next(Vec::new(), aim).unwrap() {
            out.push(match chunk {
                Chunk::Lines { bytes, .. } => String::from_utf8_lossy(&bytes).into_owned(),
                Chunk::Long { head, .. } => format!("long {}", head.len()),
            });
        }
        (out, lines.digest().unwrap())
    }

    #[test]
    fn chunks_end_where_lines_end_and_add_up_to_the_file() {
        let text = "ab,c\r\nd\re,f\n".repeat(40_000);
        let (chunks, _) = all(text.as_bytes(), 1000);
        assert!(chunks.len() > 2);
        assert!(
            chunks
                .iter()
                .all(|c| c.ends_with('\n') || c.ends_with('\r'))
        );
        assert!(chunks.iter().skip(1).all(|c| !c.starts_with('\n')));
        assert_eq!(chunks.concat(), text);
    }

    #[test]
    fn gzip_and_utf16_come_out_as_text_and_the_digest_is_of_the_file() {
        // SHA-256 of "abc": FIPS 180-2, appendix B.1.
        let (_, digest) = all(b"abc", 1000);
        assert_eq!(
            digest,
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
        let mut packed = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
        packed.write_all(b"a,b\nc,d\n").unwrap();
        assert_eq!(
            all(&packed.finish().unwrap(), 1000).0.concat(),
            "a,b\nc,d\n"
        );
        let wide: Vec<u8> = "\u{feff}é,b\n"
            .encode_utf16()
            .flat_map(u16::to_be_bytes)
            .collect();
        assert_eq!(all(&wide, 1000).0.concat(), "é,b\n");
    }

    #[test]
    fn an_overlong_line_is_named_and_the_next_is_read() {
        let mut bytes = b"a,b\n".to_vec();
        bytes.extend(vec![b'x'; LINE_MAX + CHUNK]);
        bytes.extend(b"\r\nc,d\n");
        let (chunks, _) = all(&bytes, 1 << 16);
        assert_eq!(chunks, ["a,b\n", "long 4096", "c,d\n"]);
    }
}
