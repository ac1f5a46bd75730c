//! Where a file's bytes come from: the disk or memory, unpacked where they
//! are gzip; with how many were read and, where it is wanted, their SHA-256.

use flate2::read::MultiGzDecoder;
use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::{self, Read};
use std::path::PathBuf;
use std::sync::Arc;

/// Where a file's bytes lie.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Origin {
    /// On the disk.
    Disk(PathBuf),
    /// In memory.
    Memory(Arc<[u8]>),
}

impl Origin {
    /// How many bytes there are, as they lie.
    ///
    /// # Errors
    /// A file that cannot be asked.
    pub fn size(&self) -> io::Result<u64> {
        match self {
            Self::Disk(path) => Ok(std::fs::metadata(path)?.len()),
            Self::Memory(bytes) => Ok(bytes.len() as u64),
        }
    }

    fn open(&self) -> io::Result<Raw> {
        Ok(match self {
            Self::Disk(path) => Raw::Disk(File::open(path)?),
            Self::Memory(bytes) => Raw::Memory(io::Cursor::new(Arc::clone(bytes))),
        })
    }

    /// True where the bytes begin as gzip does.
    fn is_packed(&self) -> io::Result<bool> {
        let mut first = Vec::new();
        self.open()?.take(2).read_to_end(&mut first)?;
        Ok(first == [0x1f, 0x8b])
    }
}

/// Bytes as they lie.
enum Raw {
    Disk(File),
    Memory(io::Cursor<Arc<[u8]>>),
}

impl Read for Raw {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        match self {
            Self::Disk(file) => file.read(buffer),
            Self::Memory(bytes) => bytes.read(buffer),
        }
    }
}

/// Bytes of the file seen so far, and their digest where it is wanted.
#[derive(Default)]
struct Seen {
    bytes: u64,
    digest: Option<Sha256>,
}

impl Seen {
    fn note(&mut self, bytes: &[u8]) {
        self.bytes += bytes.len() as u64;
        if let Some(digest) = &mut self.digest {
            digest.update(bytes);
        }
    }
}

/// Notes what passes through it on its way to be unpacked.
struct Noting {
    raw: Raw,
    seen: Seen,
}

impl Read for Noting {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let n = self.raw.read(buffer)?;
        self.seen.note(&buffer[..n]);
        Ok(n)
    }
}

/// A file's bytes as they lie, or unpacked.
pub(super) struct Unpacked(Kind);

enum Kind {
    Plain(Noting),
    Packed(Box<MultiGzDecoder<io::BufReader<Noting>>>),
}

impl Unpacked {
    /// Opens a file, unpacking it where it begins as gzip does.
    pub(super) fn open(origin: &Origin, digest: bool) -> io::Result<Self> {
        let is_packed = origin.is_packed()?;
        let raw = Noting {
            raw: origin.open()?,
            seen: Seen {
                bytes: 0,
                digest: digest.then(Sha256::new),
            },
        };
        Ok(Self(if is_packed {
            let buffered = io::BufReader::with_capacity(1 << 16, raw);
            Kind::Packed(Box::new(MultiGzDecoder::new(buffered)))
        } else {
            Kind::Plain(raw)
        }))
    }

    /// Bytes read so far, as they lie.
    pub(super) fn seen(&self) -> u64 {
        let noting = match &self.0 {
            Kind::Plain(noting) => noting,
            Kind::Packed(packed) => packed.get_ref().get_ref(),
        };
        noting.seen.bytes
    }

    /// Appends up to `n` bytes; returns how many, 0 at the end.
    pub(super) fn append(&mut self, bytes: &mut Vec<u8>, n: usize) -> io::Result<usize> {
        match &mut self.0 {
            Kind::Plain(noting) => {
                let at = bytes.len();
                let read = (&mut noting.raw).take(n as u64).read_to_end(bytes)?;
                noting.seen.note(&bytes[at..]);
                Ok(read)
            }
            Kind::Packed(packed) => packed.take(n as u64).read_to_end(bytes),
        }
    }

    /// The SHA-256 of all bytes as they lie, in hexadecimal; reads what is
    /// left of them.
    pub(super) fn digest(self) -> io::Result<String> {
        let mut noting = match self.0 {
            Kind::Plain(noting) => noting,
            Kind::Packed(packed) => packed.into_inner().into_inner(),
        };
        io::copy(&mut noting, &mut io::sink())?;
        let digest = noting.seen.digest.map(|d| d.finalize().to_vec());
        let bytes = digest.unwrap_or_default();
        Ok(bytes.iter().map(|b| format!("{b:02x}")).collect())
    }
}
