//! A folder of exports, from its files to frames, ledger and quarantine.

use super::account::account_file;
use super::changed::Before;
use super::error::{FileFault, FileFaultKind, IntakeError};
use super::file::{self, FileRows, Progress};
use super::frames::Frames;
use super::ledger::{FileLedger, Ledger};
use super::links::{self, Linked};
use super::listed::{self, List};
use super::plan::Decided;
use super::reason::Rejected;
use super::sources::{self, SourceFile};
use crate::settings::contract::Table;
use crate::settings::shop::Shop;
use crate::threads::both_where;
use std::path::Path;

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

/// Reads a folder as [`read`] does, and makes no frames of it.
///
/// # Errors
/// As [`read`].
pub fn account(
    folder: &Path,
    shop: &Shop,
    progress: &mut dyn FnMut(Progress),
) -> Result<Accounted, IntakeError> {
    account_sources(&sources::find(folder, shop)?, shop, progress)
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
        let account = account_file(
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
    if linked.are_many() {
        // Nobody need wait until so much memory is given back; where there is
        // no thread for it, it is given back here.
        let _ = std::thread::Builder::new().spawn(move || drop(files));
    }
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
