//! How a file's bytes become text: by its byte order mark, by a setting, or
//! by looking, and then the file says which it was and why.

use super::record::{after_line_end, line_end};
use crate::settings::shop;
use serde::Serialize;
use std::borrow::Cow;

/// An encoding that intake reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Encoding {
    /// UTF-8.
    #[serde(rename = "utf-8")]
    Utf8,
    /// UTF-16, little endian.
    #[serde(rename = "utf-16-le")]
    Utf16Le,
    /// UTF-16, big endian.
    #[serde(rename = "utf-16-be")]
    Utf16Be,
    /// windows-1252.
    #[serde(rename = "windows-1252")]
    Windows1252,
}

impl Encoding {
    /// Its usual name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Utf8 => "utf-8",
            Self::Utf16Le => "utf-16-le",
            Self::Utf16Be => "utf-16-be",
            Self::Windows1252 => "windows-1252",
        }
    }

    /// True where intake turns the bytes into UTF-8 before it looks at them.
    pub fn is_wide(self) -> bool {
        matches!(self, Self::Utf16Le | Self::Utf16Be)
    }
}

/// What settled the encoding.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum SettledBy {
    /// A byte order mark.
    Mark,
    /// A setting.
    Setting,
    /// The bytes themselves.
    Looking,
}

/// An encoding and what settled it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Settled {
    /// The encoding.
    pub encoding: Encoding,
    /// What settled it.
    pub by: SettledBy,
    /// Bytes of the byte order mark.
    pub mark: usize,
}

/// Lines with bytes outside ASCII: how many read as UTF-8 and how many only
/// as windows-1252.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Outside {
    /// Lines that are UTF-8.
    pub utf8: u64,
    /// Lines that are not, and are windows-1252.
    pub only_1252: u64,
}

/// Bytes that stand for nothing in windows-1252.
const UNDEFINED_1252: [u8; 5] = [0x81, 0x8d, 0x8f, 0x90, 0x9d];

/// True where every byte stands for something in windows-1252.
pub fn is_1252(bytes: &[u8]) -> bool {
    !bytes.iter().any(|b| UNDEFINED_1252.contains(b))
}

impl Outside {
    /// Counts the lines of `bytes`.
    pub fn count(bytes: &[u8]) -> Self {
        let mut found = Self::default();
        if bytes.is_ascii() {
            return found;
        }
        let mut at = 0;
        while at < bytes.len() {
            let end = line_end(bytes, at);
            let line = &bytes[at..end];
            if !line.is_ascii() {
                if std::str::from_utf8(line).is_ok() {
                    found.utf8 += 1;
                } else if is_1252(line) {
                    found.only_1252 += 1;
                }
            }
            at = after_line_end(bytes, end);
        }
        found
    }

    /// Both counts together.
    pub fn and(self, other: Self) -> Self {
        Self {
            utf8: self.utf8 + other.utf8,
            only_1252: self.only_1252 + other.only_1252,
        }
    }

    /// windows-1252 where most lines outside ASCII read only so; else UTF-8,
    /// whose few bad lines are put aside.
    pub fn verdict(self) -> Encoding {
        if self.only_1252 > self.utf8 {
            Encoding::Windows1252
        } else {
            Encoding::Utf8
        }
    }
}

/// Settles the encoding from a file's first bytes, as far as they go.
pub fn settle(head: &[u8], setting: Option<shop::Encoding>) -> Settled {
    let marked = |encoding, mark| Settled {
        encoding,
        by: SettledBy::Mark,
        mark,
    };
    let set = |encoding| Settled {
        encoding,
        by: SettledBy::Setting,
        mark: 0,
    };
    match (head, setting) {
        ([0xef, 0xbb, 0xbf, ..], _) => marked(Encoding::Utf8, 3),
        ([0xff, 0xfe, ..], None | Some(shop::Encoding::Utf16)) => marked(Encoding::Utf16Le, 2),
        ([0xfe, 0xff, ..], None | Some(shop::Encoding::Utf16)) => marked(Encoding::Utf16Be, 2),
        (_, Some(shop::Encoding::Utf8)) => set(Encoding::Utf8),
        (_, Some(shop::Encoding::Windows1252)) => set(Encoding::Windows1252),
        (_, Some(shop::Encoding::Utf16)) => set(wide(head).unwrap_or(Encoding::Utf16Le)),
        (_, None) => Settled {
            encoding: wide(head).unwrap_or_else(|| Outside::count(head).verdict()),
            by: SettledBy::Looking,
            mark: 0,
        },
    }
}

/// UTF-16 without a mark: nearly every second byte of the first is NUL.
fn wide(head: &[u8]) -> Option<Encoding> {
    let pairs = head.len().min(1024) / 2;
    if pairs < 8 {
        return None;
    }
    let nul = |odd: usize| (0..pairs).filter(|i| head[2 * i + odd] == 0).count();
    let (even, odd) = (nul(0), nul(1));
    let most = pairs * 9 / 10;
    if odd >= most && even * 10 < pairs {
        Some(Encoding::Utf16Le)
    } else if even >= most && odd * 10 < pairs {
        Some(Encoding::Utf16Be)
    } else {
        None
    }
}

/// A cell as text; `None` where its bytes are none in that encoding. Wide
/// encodings are UTF-8 by the time a cell is seen.
pub fn text(bytes: &[u8], encoding: Encoding) -> Option<Cow<'_, str>> {
    match encoding {
        Encoding::Windows1252 if !bytes.is_ascii() => is_1252(bytes).then(|| {
            let (text, _) = encoding_rs::WINDOWS_1252.decode_without_bom_handling(bytes);
            text
        }),
        _ => std::str::from_utf8(bytes).ok().map(Cow::Borrowed),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mark_wins_then_a_setting_then_the_bytes() {
        let of = |head: &[u8], s| {
            let found = settle(head, s);
            (found.encoding, found.by)
        };
        use SettledBy::{Looking, Mark, Setting};
        let win = Some(shop::Encoding::Windows1252);
        assert_eq!(of(b"\xef\xbb\xbfa", win), (Encoding::Utf8, Mark));
        assert_eq!(of(b"\xff\xfea\0", None), (Encoding::Utf16Le, Mark));
        assert_eq!(of(b"\xfe\xff\0a", None), (Encoding::Utf16Be, Mark));
        assert_eq!(of(b"caf\xe9", None), (Encoding::Windows1252, Looking));
        assert_eq!(of(b"caf\xc3\xa9", None), (Encoding::Utf8, Looking));
        assert_eq!(of(b"caf\xc3\xa9", win), (Encoding::Windows1252, Setting));
        let plain: Vec<u8> = b"job,finished_on\n1,2026-01-01\n"
            .iter()
            .flat_map(|b| [*b, 0])
            .collect();
        assert_eq!(of(&plain, None), (Encoding::Utf16Le, Looking));
    }

    #[test]
    fn one_bad_line_among_good_ones_does_not_turn_the_file() {
        let good = "é\n".repeat(3);
        let mut bytes = good.into_bytes();
        bytes.extend(b"caf\xe9\n");
        assert_eq!(Outside::count(&bytes).verdict(), Encoding::Utf8);
        assert_eq!(
            Outside::count(b"caf\xe9\n").verdict(),
            Encoding::Windows1252
        );
        assert_eq!(Outside::count(b"\x81\n").verdict(), Encoding::Utf8);
    }

    #[test]
    fn cells_decode_or_are_refused() {
        assert_eq!(text(b"10 \x80", Encoding::Windows1252).unwrap(), "10 €");
        assert_eq!(text(b"\x81", Encoding::Windows1252), None);
        assert_eq!(text(b"\xe9", Encoding::Utf8), None);
    }
}
