//! Why a line was put aside, in a manager's words.

use super::encoding::Encoding;
use serde::Serialize;
use std::borrow::Cow;
use std::fmt;
use std::sync::Arc;

/// Reason codes of the data contract.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reason {
    /// Fewer cells than headings.
    MissingCell,
    /// More cells than headings.
    ExtraCell,
    /// A cell that is not of its field's kind.
    TypeError,
    /// A cell of the right kind that its field does not allow.
    ConstraintError,
    /// A key that came already, with other content.
    UniqueError,
    /// A job that there is no record of.
    ForeignKeyError,
    /// Quotes that do not match.
    QuoteError,
    /// Bytes that are no text in the file's encoding.
    EncodingError,
    /// A NUL byte.
    NulByte,
    /// Another unit than the column's, or one that cannot be converted.
    UnitError,
    /// An end before its start.
    DateOrderError,
}

/// All reasons, in the contract's order.
pub const REASONS: [Reason; 11] = [
    Reason::MissingCell,
    Reason::ExtraCell,
    Reason::TypeError,
    Reason::ConstraintError,
    Reason::UniqueError,
    Reason::ForeignKeyError,
    Reason::QuoteError,
    Reason::EncodingError,
    Reason::NulByte,
    Reason::UnitError,
    Reason::DateOrderError,
];

impl Reason {
    /// The contract's code.
    pub fn code(self) -> &'static str {
        match self {
            Self::MissingCell => "missing-cell",
            Self::ExtraCell => "extra-cell",
            Self::TypeError => "type-error",
            Self::ConstraintError => "constraint-error",
            Self::UniqueError => "unique-error",
            Self::ForeignKeyError => "foreign-key-error",
            Self::QuoteError => "quote-error",
            Self::EncodingError => "encoding-error",
            Self::NulByte => "nul-byte",
            Self::UnitError => "unit-error",
            Self::DateOrderError => "date-order-error",
        }
    }
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code())
    }
}

/// One fault of a record. Nothing of a column that no field claims stands in
/// `found`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Fault {
    /// Heading of the column, as the file has it; `None` for the whole line.
    pub column: Option<Arc<str>>,
    /// The code.
    pub reason: Reason,
    /// What stands there.
    pub found: String,
    /// What was expected, and where it helps, what to do.
    pub expected: String,
}

/// A record, or a line at fault, that was put aside.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rejected {
    /// Its file, within the folder.
    pub file: Arc<str>,
    /// Its first physical line, from 1.
    pub line: u64,
    /// Physical lines that it takes.
    pub lines: u32,
    /// What is wrong with it, at least one.
    pub faults: Vec<Fault>,
    /// Its bytes as the file has them, without the last line end (UTF-16 as
    /// UTF-8). These hold the cells of unclaimed columns too.
    pub raw: Vec<u8>,
    /// True where they are only its beginning, for it is too long to be kept.
    pub cut: bool,
    /// How the file's bytes become text.
    pub encoding: Encoding,
}

impl Rejected {
    /// Its reasons, each once, in order.
    pub fn reasons(&self) -> Vec<Reason> {
        let mut all: Vec<Reason> = self.faults.iter().map(|f| f.reason).collect();
        all.sort_unstable();
        all.dedup();
        all
    }

    /// Its raw line as text, with what is none in the file's encoding replaced.
    pub fn raw_text(&self) -> Cow<'_, str> {
        match self.encoding {
            Encoding::Windows1252 => {
                encoding_rs::WINDOWS_1252
                    .decode_without_bom_handling(&self.raw)
                    .0
            }
            _ => String::from_utf8_lossy(&self.raw),
        }
    }
}

impl fmt::Display for Rejected {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, line {}", self.file, self.line)?;
        for fault in &self.faults {
            let column = fault.column.as_deref();
            let column = column
                .map(|c| format!(", column \"{c}\""))
                .unwrap_or_default();
            write!(
                f,
                "{column}: found {}; expected {}",
                fault.found, fault.expected
            )?;
        }
        Ok(())
    }
}
