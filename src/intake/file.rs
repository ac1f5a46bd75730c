//! One file from its bytes to typed rows: looked at, planned, read in chunks
//! on all processors, and read again where the whole column says that the
//! first look was wrong.

mod look;
mod pass;

use super::aside::{Dropped, Reject};
use super::chunk::Parsed;
use super::encoding::SettledBy;
use super::error::{FileFault, FileFaultKind, IntakeError};
use super::ledger::{FileLedger, Structure};
use super::plan::{Decided, How, Plan};
use super::sources::SourceFile;
use crate::settings::shop::Shop;
use look::{Looked, fields_found};
use pass::Run;

/// Times that a file is read before its columns must be settled: the first
/// look, then encoding, then orders and marks.
const PASSES: usize = 4;

/// How far intake is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Progress {
    /// The file.
    pub file: String,
    /// Bytes of it that were read.
    pub done: u64,
    /// Bytes that it has.
    pub of: u64,
}

/// A file's rows, rejects and ledger, before tables are linked.
#[derive(Debug)]
pub(super) struct FileRows {
    pub(super) plan: Plan,
    pub(super) ledger: FileLedger,
    /// Chunks in order, each with the lines before it.
    pub(super) chunks: Vec<(u64, Parsed)>,
    /// Rejects in order, lines from 1.
    pub(super) rejects: Vec<Reject>,
    /// More of them, counted only.
    pub(super) dropped: Dropped,
}

pub(super) fn unreadable(file: &SourceFile) -> impl Fn(std::io::Error) -> IntakeError + '_ {
    |source| IntakeError::Unreadable {
        file: file.name.clone(),
        source,
    }
}

/// What a first look alone gives.
pub(super) enum Look {
    Planned(Box<Plan>),
    Faults(Vec<FileFault>),
}

/// Looks at a file without reading it whole.
///
/// # Errors
/// A file that cannot be read.
pub(super) fn look(file: &SourceFile, shop: &Shop) -> Result<Look, IntakeError> {
    Ok(match look::look(file, shop, 0, None)? {
        Looked::Planned(plan, ..) => Look::Planned(plan),
        Looked::Faults(faults) => Look::Faults(faults),
    })
}

/// Reads one file whole.
///
/// # Errors
/// A file that cannot be read; `Ok(Err)`: headings or columns that do not
/// settle how it is to be read.
pub(super) fn read(
    file: &SourceFile,
    shop: &Shop,
    decided: &mut Decided,
    progress: &mut dyn FnMut(Progress),
) -> Result<Result<FileRows, Vec<FileFault>>, IntakeError> {
    let size = file.origin.size().map_err(unreadable(file))?;
    let mut forced = None;
    let mut settled_columns: Option<Vec<How>> = None;
    let mut pass = 0;
    loop {
        pass += 1;
        let (mut plan, mut ledger, top) = match look::look(file, shop, size, forced)? {
            Looked::Planned(plan, ledger, top) => (*plan, *ledger, top),
            Looked::Faults(faults) => return Ok(Err(faults)),
        };
        if let Some(how) = &settled_columns {
            for (claim, how) in plan.claims.iter_mut().zip(how) {
                claim.how = how.clone();
            }
        }
        let mut run = Run::over(file, &plan, size, progress)?;
        ledger.sha256 = std::mem::take(&mut run.sha256);
        let encoding = run.outside().verdict();
        let by_looking =
            plan.encoding.by == SettledBy::Looking && !plan.encoding.encoding.is_wide();
        if by_looking && encoding != plan.encoding.encoding && pass < PASSES {
            forced = Some(encoding);
            continue;
        }
        let evidence = run.evidence(&plan);
        let read_as: Vec<How> = plan.claims.iter().map(|c| c.how.clone()).collect();
        decided.learn(&plan, &evidence);
        match plan.settle(&evidence, decided) {
            Err(faults) => {
                return Ok(Err(at_heading(file, &plan, faults)));
            }
            Ok(true) if pass < PASSES => {
                settled_columns = Some(plan.claims.iter().map(|c| c.how.clone()).collect());
                continue;
            }
            Ok(changed) => {
                if changed {
                    for (claim, how) in plan.claims.iter_mut().zip(read_as) {
                        claim.how = how;
                    }
                }
            }
        }
        let mut rows = into_rows(run.parsed, plan, ledger, top);
        rows.dropped = run.dropped;
        return Ok(Ok(rows));
    }
}

/// Faults of a file, at its heading's line.
fn at_heading(file: &SourceFile, plan: &Plan, kinds: Vec<FileFaultKind>) -> Vec<FileFault> {
    let of = |kind| FileFault {
        file: file.name.clone(),
        line: Some(plan.layout.heading_line).filter(|l| *l > 0),
        kind,
    };
    kinds.into_iter().map(of).collect()
}

/// Chunks and rejects with the file's own line numbers; totals at the
/// foot become structure.
fn into_rows(parsed: Vec<Parsed>, plan: Plan, mut ledger: FileLedger, top: u64) -> FileRows {
    let mut before = top;
    ledger.lines.read = top;
    let mut chunks = Vec::with_capacity(parsed.len());
    let mut rejects = Vec::new();
    let mut last_kept = 0;
    for mut parsed in parsed {
        for mut reject in parsed.rejects.drain(..) {
            reject.line += before + 1;
            rejects.push(reject);
        }
        if let Some(line) = parsed.records.last() {
            last_kept = before + 1 + u64::from(line);
        }
        for (kind, lines) in &parsed.structure {
            *ledger.structure.entry(*kind).or_default() += lines;
        }
        let lines = parsed.lines;
        ledger.lines.read += parsed.line_ends;
        chunks.push((before, parsed));
        before += lines;
    }
    let at_foot = |r: &Reject| r.total && r.line > last_kept && last_kept > 0;
    let totals: u64 = rejects
        .iter()
        .filter(|r| at_foot(r))
        .map(|r| u64::from(r.lines))
        .sum();
    rejects.retain(|r| !at_foot(r));
    if totals > 0 {
        *ledger.structure.entry(Structure::Total).or_default() += totals;
    }
    ledger.lines.structure = ledger.structure.values().sum();
    ledger.found = fields_found(&plan);
    FileRows {
        plan,
        ledger,
        chunks,
        rejects,
        dropped: Dropped::default(),
    }
}
