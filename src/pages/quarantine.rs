//! What was put aside, for mending: quarantine.csv says what is wrong, in
//! plain words, and opens in a spreadsheet; beside it the lines themselves,
//! byte for byte, as files to mend and put back.

use super::File;
use super::table::defused;
use crate::intake::ledger::Ledger;
use crate::intake::mend::to_mend;
use crate::intake::reason::Rejected;

/// Headings. The last says what a reader must know before passing it on.
const HEADINGS: [&str; 7] = [
    "file",
    "line",
    "column",
    "found",
    "expected",
    "reason",
    "raw line (all its cells: also columns that the review does not use, such as names or phones)",
];

/// What stands beside the raw lines.
const READ_ME: &str = "\
These files hold the lines of your exports that could not be used, as they stand, each under
its export's own heading. ../quarantine.csv says what is wrong with each.

To mend: correct the lines here, then copy the file into the folder of the exports, beside the
export that it is named after, and run the review again. Mended lines are read after their
export; a line that is mended no longer counts as put aside. The name (\"...mended...\") is
all that is needed; no setting has to be changed. Lines that are not mended may be left out.

The lines hold every column of the export, also those that the review does not use, such as
names or phone numbers. Pass them on only to who may see those.
";

/// A byte order mark: without it, spreadsheets take UTF-8 for an older
/// encoding.
const MARK: &[u8] = b"\xef\xbb\xbf";

/// All files about what was put aside.
///
/// # Errors
/// None in practice: they are written to memory.
pub(super) fn files(ledger: &Ledger, rejected: &[Rejected]) -> Result<Vec<File>, csv::Error> {
    let mut all = vec![File {
        path: "quarantine.csv".into(),
        bytes: csv(rejected)?,
    }];
    let raw = to_mend(ledger, rejected);
    if !raw.is_empty() {
        all.push(File {
            path: "quarantine/READ-ME.txt".into(),
            bytes: READ_ME.into(),
        });
    }
    all.extend(raw.into_iter().map(|file| File {
        path: format!("quarantine/{}", inside(&file.name)),
        bytes: file.bytes,
    }));
    Ok(all)
}

/// A name that stays within the folder that it is put in: an export may lie
/// above the folder of exports (`../exports/jobs.csv`).
fn inside(name: &str) -> String {
    let parts = name.split('/').filter(|p| !p.is_empty() && *p != ".");
    let parts: Vec<&str> = parts.map(|p| if p == ".." { "above" } else { p }).collect();
    parts.join("/")
}

/// One row a fault.
fn csv(rejected: &[Rejected]) -> Result<Vec<u8>, csv::Error> {
    let mut out = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    out.write_record(HEADINGS)?;
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
    let bytes = out
        .into_inner()
        .map_err(|e| csv::Error::from(e.into_error()))?;
    Ok(if bytes.is_ascii() {
        bytes
    } else {
        [MARK, &bytes].concat()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::intake::encoding::Encoding;
    use crate::intake::reason::{Fault, Reason};

    fn rejected(raw: &[u8], encoding: Encoding) -> Rejected {
        Rejected {
            file: "jobs.csv".into(),
            line: 3,
            lines: 1,
            faults: vec![Fault {
                column: Some("=area".into()),
                reason: Reason::TypeError,
                found: "\"x\"".into(),
                expected: "a number".into(),
            }],
            raw: raw.to_vec(),
            cut: false,
            encoding,
        }
    }

    #[test]
    fn a_spreadsheet_reads_it_as_text_in_the_exports_own_letters() {
        let text = |raw: &[u8], encoding| {
            let bytes = csv(&[rejected(raw, encoding)]).unwrap();
            String::from_utf8(bytes).unwrap()
        };
        let old = text(b"=caf\xe9,\0\x80", Encoding::Windows1252);
        assert!(old.starts_with('\u{feff}'));
        assert!(
            old.ends_with("jobs.csv,3,'=area,\"\"\"x\"\"\",a number,type-error,\"'=café,␀€\"\r\n"),
            "{old}"
        );
        let new = text("café".as_bytes(), Encoding::Utf8);
        assert!(new.ends_with(",café\r\n"));
        assert!(!text(b"cafe", Encoding::Utf8).starts_with('\u{feff}'));
    }

    #[test]
    fn raw_files_stay_within_their_folder() {
        assert_eq!(
            inside("../exports/jobs.mended.csv"),
            "above/exports/jobs.mended.csv"
        );
        assert_eq!(inside("/a/./b.csv"), "a/b.csv");
    }
}
