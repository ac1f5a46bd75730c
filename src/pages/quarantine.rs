//! quarantine.csv: what was put aside, for mending. Opens in a spreadsheet.

use super::table::defused;
use crate::intake::reason::Rejected;

/// One row a fault: file, line, column, found, expected, reason, raw line.
///
/// # Errors
/// None in practice: it is written to memory.
pub(super) fn csv(rejected: &[Rejected]) -> Result<Vec<u8>, csv::Error> {
    let mut out = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    out.write_record([
        "file", "line", "column", "found", "expected", "reason", "raw_line",
    ])?;
    for r in rejected {
        // A NUL would make the file binary to most programs: U+2400 stands in.
        let raw = defused(&r.raw_text().replace('\0', "\u{2400}"));
        let line = r.line.to_string();
        for fault in &r.faults {
            let column = defused(fault.column.as_deref().unwrap_or(""));
            out.write_record([
                &defused(&r.file),
                &line,
                &column,
                &defused(&fault.found),
                &defused(&fault.expected),
                fault.reason.code(),
                &raw,
            ])?;
        }
    }
    out.into_inner()
        .map_err(|e| csv::Error::from(e.into_error()))
}
