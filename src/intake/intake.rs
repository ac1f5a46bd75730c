//! A folder of exports, from its files to frames, ledger and quarantine.

use super::error::{FileFault, FileFaultKind, IntakeError};
use super::file::{self, FileRows, Progress};
use super::frames::Frames;
use super::ledger::{FileLedger, Ledger};
use super::links::{self, Linked, RecordId, State};
use super::listed::{self, List};
use super::raw::{self, Wanted};
use super::reason::{Fault, Rejected};
use super::sources::{self, SourceFile};
use crate::settings::contract::Table;
use crate::settings::shop::Shop;
use std::path::Path;
use std::sync::Arc;

/// Rejected records that are kept one by one; more are counted.
pub const REJECTED_KEPT: usize = 250_000;

/// Everything that intake gives.
#[derive(Debug, Clone)]
pub struct Intake {
    /// Typed frames, one a table.
    pub frames: Frames,
    /// Every line's state.
    pub ledger: Ledger,
    /// What was put aside, by file and line.
    pub quarantine: Vec<Rejected>,
    /// What is odd and was accepted.
    pub odd: List,
}

impl Intake {
    /// An error where there is no job to review.
    ///
    /// # Errors
    /// [`IntakeError::NoJobs`].
    pub fn need_jobs(&self) -> Result<(), IntakeError> {
        if self.frames.of(Table::Jobs).height() > 0 {
            return Ok(());
        }
        let jobs = Table::Jobs.name();
        let files: Vec<&FileLedger> = self
            .ledger
            .files
            .iter()
            .filter(|f| f.tables.contains(&jobs))
            .collect();
        let names: Vec<&str> = files.iter().map(|f| f.file.as_str()).collect();
        Err(IntakeError::NoJobs {
            files: names.join(", "),
            read: files.iter().map(|f| f.lines.read).sum(),
            quarantined: files.iter().map(|f| f.lines.quarantined).sum(),
        })
    }
}

/// Reads a folder by its settings. `progress` is told of every few MiB.
///
/// # Errors
/// A folder or file that cannot be read, headings or columns that do not
/// settle how a file is to be read; and, as a fault of this program, lines
/// that are not all accounted for.
pub fn read(
    folder: &Path,
    shop: &Shop,
    progress: &mut dyn FnMut(Progress),
) -> Result<Intake, IntakeError> {
    let sources = sources::find(folder, shop)?;
    let mut files = Vec::with_capacity(sources.len());
    let mut faults = Vec::new();
    for source in &sources {
        match file::read(source, shop, progress)? {
            Ok(rows) => files.push(rows),
            Err(found) => faults.extend(found),
        }
    }
    faults.extend(finish_anywhere(&sources, &files));
    if !faults.is_empty() {
        return Err(IntakeError::Files { faults });
    }
    let linked = links::link(&files, shop);
    let frames = Frames::build(&linked)?;
    let odd = listed::list(&files, &linked);
    let mut quarantine = Vec::new();
    let mut ledger = Ledger::default();
    for (at, source) in sources.iter().enumerate() {
        let account = account(
            at,
            source,
            &files[at],
            &linked,
            REJECTED_KEPT - quarantine.len(),
        )?;
        ledger.files.push(account.ledger);
        ledger.rejected_not_kept += account.not_kept;
        quarantine.extend(account.rejected);
    }
    Ok(Intake {
        frames,
        ledger,
        quarantine,
        odd,
    })
}

/// Jobs need a finish: in a column of their own or in surfaces.
fn finish_anywhere(sources: &[SourceFile], files: &[FileRows]) -> Option<FileFault> {
    let surfaces = sources.iter().any(|s| s.tables.contains(&Table::Surfaces));
    let jobs = |f: &&FileRows| f.plan.parts.iter().any(|p| p.table == Table::Jobs);
    let served = |f: &FileRows| {
        let mut parts = f.plan.parts.iter();
        parts.any(|p| p.table == Table::Jobs && p.claim("finish").is_some())
    };
    let lacking = files.iter().filter(jobs).find(|f| !served(f));
    lacking.filter(|_| !surfaces).map(|f| FileFault {
        file: f.plan.file.to_string(),
        line: Some(f.plan.layout.heading_line).filter(|l| *l > 0),
        kind: FileFaultKind::NoFinish,
    })
}

/// One file's ledger and rejects.
struct Account {
    ledger: FileLedger,
    rejected: Vec<Rejected>,
    not_kept: u64,
}

/// A record that linking put aside.
struct Late<'a> {
    wanted: Wanted,
    faults: &'a [Fault],
}

/// Counts a file's lines by state, and checks that they add up.
fn account(
    at: usize,
    source: &SourceFile,
    file: &FileRows,
    linked: &Linked<'_>,
    room: usize,
) -> Result<Account, IntakeError> {
    let mut ledger = file.ledger.clone();
    let mut rejected = Vec::new();
    let mut not_kept = 0;
    let name: Arc<str> = Arc::clone(&file.plan.file);
    for (place, reject) in file.rejects.iter().enumerate() {
        let lines = u64::from(reject.lines);
        if linked.mended.binary_search(&(at, place)).is_ok() {
            ledger.lines.superseded += lines;
            continue;
        }
        let record = Rejected {
            file: Arc::clone(&name),
            line: reject.line,
            lines: reject.lines,
            faults: reject.faults.clone(),
            raw: Vec::new(),
        };
        ledger.note_rejected(&record.reasons(), reject.line, lines);
        ledger.lines.quarantined += lines;
        if rejected.len() < room {
            rejected.push(Rejected {
                raw: reject.raw.clone(),
                ..record
            });
        } else {
            not_kept += 1;
        }
    }
    let late = by_state(at, file, linked, &mut ledger);
    let kept = late.len().min(room.saturating_sub(rejected.len()));
    not_kept += (late.len() - kept) as u64;
    for one in &late {
        let record = of_late(&name, one, Vec::new());
        ledger.note_rejected(
            &record.reasons(),
            one.wanted.line,
            u64::from(one.wanted.lines),
        );
    }
    let wanted: Vec<Wanted> = late[..kept].iter().map(|l| l.wanted).collect();
    if !wanted.is_empty() {
        let lines = raw::lines(&source.path, file.plan.encoding, &wanted);
        let lines = lines.map_err(|source| IntakeError::Unreadable {
            file: name.to_string(),
            source,
        })?;
        let pairs = late.iter().zip(lines);
        rejected.extend(pairs.map(|(one, raw)| of_late(&name, one, raw)));
        rejected.sort_by_key(|r| r.line);
    }
    let lines = ledger.lines;
    if !lines.add_up() {
        return Err(IntakeError::Conservation {
            file: name.to_string(),
            read: lines.read,
            accounted: lines.accepted + lines.structure + lines.superseded + lines.quarantined,
        });
    }
    Ok(Account {
        ledger,
        rejected,
        not_kept,
    })
}

fn of_late(file: &Arc<str>, late: &Late<'_>, raw: Vec<u8>) -> Rejected {
    Rejected {
        file: Arc::clone(file),
        line: late.wanted.line,
        lines: late.wanted.lines,
        faults: late.faults.to_vec(),
        raw,
    }
}

/// Adds the lines of the records that were kept to their states; returns
/// those that linking put aside, in order.
fn by_state<'a>(
    at: usize,
    file: &FileRows,
    linked: &'a Linked<'_>,
    ledger: &mut FileLedger,
) -> Vec<Late<'a>> {
    let mut late = Vec::new();
    let states = linked.states.of_file(at);
    let mut first = 0;
    for (before, parsed) in &file.chunks {
        let here = &states[first..first + parsed.records.len()];
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
                    late.push(Late {
                        wanted: Wanted { line, lines },
                        faults: linked.states.faults.get(&id).map_or(&[], Vec::as_slice),
                    });
                }
            }
        }
        first += parsed.records.len();
    }
    late
}
