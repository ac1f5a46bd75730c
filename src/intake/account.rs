//! One file's lines by state, and what of it was put aside.

use super::error::IntakeError;
use super::file::FileRows;
use super::ledger::FileLedger;
use super::links::{Linked, RecordId, State};
use super::raw::{self, Wanted};
use super::reason::{Fault, Rejected};
use super::sources::SourceFile;
use std::sync::Arc;

/// One file's ledger and rejects.
pub(super) struct FileAccount {
    pub(super) ledger: FileLedger,
    pub(super) rejected: Vec<Rejected>,
    /// More of them.
    pub(super) not_kept: u64,
}

/// A record that linking put aside and that is kept.
struct Late<'a> {
    wanted: Wanted,
    faults: &'a [Fault],
}

/// The first of a file's records that linking put aside, and how many more
/// there are.
#[derive(Default)]
struct Aside<'a> {
    kept: Vec<Late<'a>>,
    not_kept: u64,
}

impl<'a> Aside<'a> {
    /// Keeps a record where there is room and its faults are known in full.
    fn add(&mut self, wanted: Wanted, faults: &'a [Fault], room: usize) {
        if self.kept.len() < room && !faults.is_empty() {
            self.kept.push(Late { wanted, faults });
        } else {
            self.not_kept += 1;
        }
    }
}

/// Counts a file's lines by state, and checks that they add up; keeps up to
/// `room` rejected records.
///
/// # Errors
/// Lines that do not add up; a file that can no longer be read.
pub(super) fn account_file(
    at: usize,
    source: &SourceFile,
    file: &FileRows,
    linked: &Linked<'_>,
    room: usize,
) -> Result<FileAccount, IntakeError> {
    let mut account = before_linking(at, file, linked, room);
    let room = room.saturating_sub(account.rejected.len());
    let late = by_state(at, file, linked, room, &mut account.ledger);
    let lines = account.ledger.lines;
    if !lines.add_up() {
        return Err(IntakeError::Conservation {
            file: file.plan.file.to_string(),
            read: lines.read,
            accounted: lines.accepted + lines.structure + lines.superseded + lines.quarantined,
        });
    }
    account.not_kept += late.not_kept;
    account
        .rejected
        .extend(with_raw_lines(source, file, &late.kept)?);
    account.rejected.sort_by_key(|r| r.line);
    Ok(account)
}

/// What was put aside before linking: superseded where a later export mends
/// it, else quarantined.
fn before_linking(at: usize, file: &FileRows, linked: &Linked<'_>, room: usize) -> FileAccount {
    let mut account = FileAccount {
        ledger: file.ledger.clone(),
        rejected: Vec::new(),
        not_kept: file.dropped.records,
    };
    account.ledger.lines.quarantined += file.dropped.lines;
    for (reason, lines) in &file.dropped.by_reason {
        account.ledger.by_reason.entry(*reason).or_default().lines += lines;
    }
    for (place, reject) in file.rejects.iter().enumerate() {
        let lines = u64::from(reject.lines);
        if linked.mended.binary_search(&(at, place)).is_ok() {
            account.ledger.lines.superseded += lines;
            continue;
        }
        account.ledger.lines.quarantined += lines;
        let record = Rejected {
            file: Arc::clone(&file.plan.file),
            line: reject.line,
            lines: reject.lines,
            faults: reject.faults.clone(),
            raw: reject.raw.clone(),
            cut: reject.cut,
            encoding: file.plan.encoding.encoding,
        };
        let reasons = record.reasons();
        account.ledger.note_rejected(&reasons, reject.line, lines);
        if account.rejected.len() < room {
            account.rejected.push(record);
        } else {
            account.not_kept += 1;
        }
    }
    account
}

/// Records that linking put aside, with their lines out of the file.
fn with_raw_lines(
    source: &SourceFile,
    file: &FileRows,
    late: &[Late<'_>],
) -> Result<Vec<Rejected>, IntakeError> {
    if late.is_empty() {
        return Ok(Vec::new());
    }
    let wanted: Vec<Wanted> = late.iter().map(|l| l.wanted).collect();
    let lines = raw::lines(&source.origin, file.plan.encoding, &wanted).map_err(|source| {
        IntakeError::Unreadable {
            file: file.plan.file.to_string(),
            source,
        }
    })?;
    let pairs = late.iter().zip(lines);
    Ok(pairs.map(|(one, raw)| of_late(file, one, raw)).collect())
}

fn of_late(file: &FileRows, late: &Late<'_>, raw: Vec<u8>) -> Rejected {
    Rejected {
        file: Arc::clone(&file.plan.file),
        line: late.wanted.line,
        lines: late.wanted.lines,
        faults: late.faults.to_vec(),
        raw,
        cut: false,
        encoding: file.plan.encoding.encoding,
    }
}

/// Adds the lines of the records that were kept to their states; returns
/// those that linking put aside, in order, as far as there is room.
fn by_state<'a>(
    at: usize,
    file: &FileRows,
    linked: &'a Linked<'_>,
    room: usize,
    ledger: &mut FileLedger,
) -> Aside<'a> {
    let mut late = Aside::default();
    let states = linked.states.of_file(at);
    let mut first = 0;
    for (before, parsed) in &file.chunks {
        let here = &states[first..first + parsed.records.len()];
        if here.iter().all(|state| *state == State::Accepted) {
            let more = parsed.long.iter().map(|(_, lines)| u64::from(*lines) - 1);
            ledger.lines.accepted += here.len() as u64 + more.sum::<u64>();
            first += here.len();
            continue;
        }
        let mut long = parsed.long.iter().peekable();
        for (i, state) in here.iter().enumerate() {
            let lines = match long.next_if(|(record, _)| *record as usize == i) {
                Some((_, lines)) => *lines,
                None => 1,
            };
            let counted = u64::from(lines);
            match state {
                State::Accepted => ledger.lines.accepted += counted,
                State::Superseded => ledger.lines.superseded += counted,
                State::Quarantined => {
                    ledger.lines.quarantined += counted;
                    let id = RecordId {
                        file: at as u32,
                        record: (first + i) as u32,
                    };
                    let line = before + 1 + u64::from(parsed.records.line(i));
                    let whys = &linked.states.whys;
                    ledger.note_rejected(&whys.reasons(id), line, counted);
                    late.add(Wanted { line, lines }, whys.of(id), room);
                }
            }
        }
        first += parsed.records.len();
    }
    late
}
