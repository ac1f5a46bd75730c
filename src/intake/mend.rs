//! What was put aside, as files to mend: the lines of an export as they stand,
//! under its own first lines and in its own encoding. Such a file, mended and
//! put beside its export, is read after it and supersedes what it mends.

use super::encoding::Encoding;
use super::ledger::{FileLedger, Ledger};
use super::reason::Rejected;

/// A file to mend.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ToMend {
    /// The name under which it is read once it lies in the folder.
    pub name: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// One file for each export of which lines were put aside and are kept;
/// lines too long to be kept whole are left out. These hold the cells of
/// columns that no field claims too.
pub fn to_mend(ledger: &Ledger, rejected: &[Rejected]) -> Vec<ToMend> {
    let of = |file: &FileLedger| {
        let mut lines = rejected
            .iter()
            .filter(|r| *r.file == file.file && !r.cut)
            .peekable();
        lines.peek()?;
        Some(ToMend {
            name: mended_name(&file.file),
            bytes: raw_file(file, lines),
        })
    };
    ledger.files.iter().filter_map(of).collect()
}

fn raw_file<'a>(file: &FileLedger, lines: impl Iterator<Item = &'a Rejected>) -> Vec<u8> {
    let end: &[u8] = match file.dialect.line_ends.first() {
        Some(&"crlf") => b"\r\n",
        Some(&"cr") => b"\r",
        _ => b"\n",
    };
    let mut bytes = file.top.clone();
    for line in lines {
        bytes.extend_from_slice(&line.raw);
        bytes.extend_from_slice(end);
    }
    let wide = |two: fn(u16) -> [u8; 2]| -> Vec<u8> {
        let text = String::from_utf8_lossy(&bytes);
        let units = std::iter::once(0xfeff).chain(text.encode_utf16());
        units.flat_map(two).collect()
    };
    match file.encoding.encoding {
        Encoding::Utf16Le => wide(u16::to_le_bytes),
        Encoding::Utf16Be => wide(u16::to_be_bytes),
        Encoding::Utf8 if file.encoding.mark > 0 => [b"\xef\xbb\xbf".as_slice(), &bytes].concat(),
        Encoding::Utf8 | Encoding::Windows1252 => bytes,
    }
}

/// An export's name and how often it was mended: `jobs.mended-2.csv` is the
/// second mending of `jobs.csv`, `jobs.mended.csv` the first. A packed export
/// goes by its unpacked name.
pub(super) fn plain_name(name: &str) -> (String, u32) {
    let name = name.strip_suffix(".gz").unwrap_or(name);
    let (stem, end) = split(name);
    let Some((plain, mark)) = stem.rsplit_once(MARK) else {
        return (name.to_string(), 0);
    };
    let times = match mark {
        "" => Some(1),
        number => number.strip_prefix('-').and_then(|n| n.parse().ok()),
    };
    match times {
        Some(times) if times > 0 => (format!("{plain}{end}"), times),
        _ => (name.to_string(), 0),
    }
}

const MARK: &str = ".mended";

/// The name under which the mended lines of an export are read after it.
pub fn mended_name(name: &str) -> String {
    let (plain, times) = plain_name(name);
    let (stem, end) = split(&plain);
    match times {
        0 => format!("{stem}{MARK}{end}"),
        n => format!("{stem}{MARK}-{}{end}", n + 1),
    }
}

/// A name and its ending, with the dot.
fn split(name: &str) -> (&str, &str) {
    let from = name.rfind('/').map_or(0, |at| at + 1);
    match name[from..].rfind('.') {
        Some(dot) if dot > 0 && !name[from + dot..].starts_with(MARK) => name.split_at(from + dot),
        _ => (name, ""),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mended_files_are_named_after_their_export() {
        let chain = |name: &str| (mended_name(name), mended_name(&mended_name(name)));
        let two = |a: &str, b: &str| (a.to_string(), b.to_string());
        assert_eq!(
            chain("jobs.csv"),
            two("jobs.mended.csv", "jobs.mended-2.csv")
        );
        assert_eq!(chain("a.b/x"), two("a.b/x.mended", "a.b/x.mended-2"));
        assert_eq!(mended_name("jobs.csv.gz"), "jobs.mended.csv");
        for name in ["jobs.csv", "a.b/x", "a/b.tsv", "jobs-2026.09.csv"] {
            assert_eq!(plain_name(name), (name.to_string(), 0));
            assert_eq!(plain_name(&mended_name(name)), (name.to_string(), 1));
            assert_eq!(plain_name(&chain(name).1), (name.to_string(), 2), "{name}");
        }
        assert_eq!(plain_name("jobs.mended-x.csv").1, 0);
        assert_eq!(plain_name("jobs.csv.gz").0, "jobs.csv");
    }
}
