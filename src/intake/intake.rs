//! A folder of exports, from its files to frames, ledger and quarantine.

use super::changed::Before;
use super::error::{FileFault, FileFaultKind, IntakeError};
use super::file::{self, FileRows, Progress};
use super::frames::Frames;
use super::ledger::{FileLedger, Ledger};
use super::links::{self, Linked, RecordId, State};
use super::listed::{self, List};
use super::plan::Decided;
use super::raw::{self, Wanted};
use super::reason::{Fault, Rejected};
use super::sources::{self, SourceFile};
use crate::settings::contract::Table;
use crate::settings::shop::Shop;
use crate::threads::both_where;
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
    read_sources(&sources::find(folder, shop)?, shop, progress)
}

/// Reads files, on the disk or in memory, that are already assigned to
/// tables; a later one is a later export.
///
/// # Errors
/// As [`read`], but for what concerns folders.
pub fn read_sources(
    sources: &[SourceFile],
    shop: &Shop,
    progress: &mut dyn FnMut(Progress),
) -> Result<Intake, IntakeError> {
    let mut frames = None;
    let accounted = examine(sources, shop, progress, |linked| {
        frames = Some(Frames::build(linked)?);
        Ok(())
    })?;
    let Accounted {
        ledger,
        quarantine,
        odd,
    } = accounted;
    let frames = frames.ok_or(IntakeError::Frame {
        table: Table::Jobs.name(),
        what: "not made".to_string(),
    })?;
    Ok(Intake {
        frames,
        ledger,
        quarantine,
        odd,
    })
}

/// What intake gives without the frames.
#[derive(Debug, Clone)]
pub struct Accounted {
    /// Every line's state.
    pub ledger: Ledger,
    /// What was put aside, by file and line.
    pub quarantine: Vec<Rejected>,
    /// What is odd and was accepted.
    pub odd: List,
}

/// Reads files as [`read_sources`] does, and makes no frames of them.
///
/// # Errors
/// As [`read_sources`].
pub fn account_sources(
    sources: &[SourceFile],
    shop: &Shop,
    progress: &mut dyn FnMut(Progress),
) -> Result<Accounted, IntakeError> {
    examine(sources, shop, progress, |_| Ok(()))
}

/// Reads, links and accounts; `with` is given the linked rows.
fn examine(
    sources: &[SourceFile],
    shop: &Shop,
    progress: &mut dyn FnMut(Progress),
    with: impl FnOnce(&Linked<'_>) -> Result<(), IntakeError>,
) -> Result<Accounted, IntakeError> {
    let before = Before::of(sources);
    let (files, mut faults) = read_files(sources, shop, progress)?;
    faults.extend(finish_anywhere(sources, &files));
    before.still_so(sources)?;
    if !faults.is_empty() {
        return Err(IntakeError::Files { faults });
    }
    let linked = links::link(&files, shop);
    // What is odd is looked for while the caller makes what it wants.
    let list = || listed::list(&files, &linked);
    let (odd, made) = both_where(linked.are_many(), list, || with(&linked));
    made?;
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
    before.still_so(sources)?;
    Ok(Accounted {
        ledger,
        quarantine,
        odd,
    })
}

/// Reads every file, and once more at the end those whose own cells leave an
/// order or a mark open, for another file of the table may settle it. Files
/// come in order; where there are faults, those at fault are left out.
fn read_files(
    sources: &[SourceFile],
    shop: &Shop,
    progress: &mut dyn FnMut(Progress),
) -> Result<(Vec<FileRows>, Vec<FileFault>), IntakeError> {
    let mut decided = Decided::default();
    let mut files: Vec<Result<FileRows, Vec<FileFault>>> = Vec::with_capacity(sources.len());
    for source in sources {
        files.push(file::read(source, shop, &mut decided, progress)?);
    }
    for (source, rows) in sources.iter().zip(&mut files) {
        let open = |f: &FileFault| f.kind.code().starts_with("ambiguous");
        if rows.as_ref().is_err_and(|faults| faults.iter().all(open)) {
            *rows = file::read(source, shop, &mut decided, progress)?;
        }
    }
    let mut faults = Vec::new();
    let mut sound = Vec::with_capacity(files.len());
    for rows in files {
        match rows {
            Ok(rows) => sound.push(rows),
            Err(found) => faults.extend(found),
        }
    }
    Ok((sound, faults))
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

/// Counts a file's lines by state, and checks that they add up.
fn account(
    at: usize,
    source: &SourceFile,
    file: &FileRows,
    linked: &Linked<'_>,
    room: usize,
) -> Result<Account, IntakeError> {
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
fn before_linking(at: usize, file: &FileRows, linked: &Linked<'_>, room: usize) -> Account {
    let mut account = Account {
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
