//! One file from its bytes to typed rows: looked at, planned, read in chunks
//! on all processors, and read again where the whole column says that the
//! first look was wrong.

use super::bytes::{self, CHUNK, Chunk, Lines};
use super::chunk::{self, Parsed, Reject};
use super::dialect::{self, format_of};
use super::encoding::{Encoding, Outside, SettledBy, settle};
use super::error::{FileFault, FileFaultKind, IntakeError};
use super::ledger::{Dialect, FieldFound, FileLedger, Lines as LineCounts, Structure};
use super::numbers::Mark;
use super::plan::{How, Plan};
use super::record::{Machine, Step, count_lines};
use super::sources::SourceFile;
use crate::settings::shop::Shop;
use std::collections::BTreeMap;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex};

/// Bytes that are looked at before a file is read.
const HEAD: usize = 256 << 10;
/// Most workers on one file.
const WORKERS: usize = 8;
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
}

fn unreadable(file: &SourceFile) -> impl Fn(std::io::Error) -> IntakeError + '_ {
    |source| IntakeError::Unreadable {
        file: file.name.clone(),
        source,
    }
}

/// Frame faults of one file.
fn frame_fault(file: &SourceFile) -> impl Fn(polars::prelude::PolarsError) -> IntakeError + '_ {
    |e| IntakeError::Frame {
        table: file.tables.first().map_or("", |t| t.name()),
        what: e.to_string(),
    }
}

/// What looking at a file gave.
enum Looked {
    Planned(Box<Plan>, Box<FileLedger>, u64),
    Faults(Vec<FileFault>),
}

/// Reads one file whole.
///
/// # Errors
/// A file that cannot be read; `Ok(Err)`: headings or columns that do not
/// settle how it is to be read.
pub(super) fn read(
    file: &SourceFile,
    shop: &Shop,
    progress: &mut dyn FnMut(Progress),
) -> Result<Result<FileRows, Vec<FileFault>>, IntakeError> {
    let size = std::fs::metadata(&file.path)
        .map_err(unreadable(file))?
        .len();
    let mut forced = None;
    let mut settled_columns: Option<Vec<How>> = None;
    for pass in 0..PASSES {
        let (mut plan, mut ledger, top) = match look(file, shop, size, forced)? {
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
        if by_looking && encoding != plan.encoding.encoding && pass + 1 < PASSES {
            forced = Some(encoding);
            continue;
        }
        let evidence = run.evidence(&plan);
        let read_as: Vec<How> = plan.claims.iter().map(|c| c.how.clone()).collect();
        match plan.settle(&evidence) {
            Err(faults) => {
                let line = Some(plan.layout.heading_line).filter(|l| *l > 0);
                let of = |kind| FileFault {
                    file: file.name.clone(),
                    line,
                    kind,
                };
                return Ok(Err(faults.into_iter().map(of).collect()));
            }
            Ok(true) if pass + 1 < PASSES => {
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
        return Ok(Ok(run.into_rows(plan, ledger, top)));
    }
    Ok(Err(Vec::new()))
}

/// Looks at a file's first bytes and plans how to read it.
fn look(
    file: &SourceFile,
    shop: &Shop,
    size: u64,
    forced: Option<Encoding>,
) -> Result<Looked, IntakeError> {
    let own = shop.file_formats.get(&file.name).or_else(|| {
        let name = file.name.rsplit('/').next().unwrap_or(&file.name);
        shop.file_formats.get(name)
    });
    let format = format_of(&shop.format, own);
    let raw = bytes::head(&file.path, HEAD).map_err(unreadable(file))?;
    let whole = raw.len() < HEAD;
    let mut encoding = settle(&raw, format.encoding);
    if let Some(forced) = forced {
        encoding.encoding = forced;
    }
    let head = bytes::as_utf8(&raw, encoding);
    let stop = |kinds: Vec<FileFaultKind>, line: Option<u64>| {
        let of = |kind| FileFault {
            file: file.name.clone(),
            line,
            kind,
        };
        Looked::Faults(kinds.into_iter().map(of).collect())
    };
    let sought = dialect::sought(&file.tables, shop);
    let layout = match dialect::find(&head, whole, encoding.encoding, &format, &sought) {
        Ok(layout) => layout,
        Err(unfit) => return Ok(stop(vec![unfit.kind], unfit.line)),
    };
    let line = Some(layout.heading_line).filter(|l| *l > 0);
    let later_by = format.later_by.as_deref();
    let planned = match Plan::make(&file.name, layout, encoding, &file.tables, shop, later_by) {
        Ok(planned) => planned,
        Err(faults) => return Ok(stop(faults, line)),
    };
    let mut plan = planned.plan;
    let second = second_headings(&mut plan, &head);
    let top = count_lines(&head[..plan.layout.data_start]);
    let mut ledger = ledger_of(file, size, &plan, &head, second);
    ledger.missing = planned.missing;
    for heading in planned.absent {
        ledger.notes.push(format!(
            "shop.toml names a column \"{heading}\" that the file does not have"
        ));
    }
    if let (Some(heading), None) = (later_by, plan.later) {
        ledger.notes.push(format!(
            "no column \"{heading}\" to order exports by; the file's name orders them"
        ));
    }
    Ok(Looked::Planned(Box::new(plan), Box::new(ledger), top))
}

/// Moves the beginning of the data below further rows of headings: records
/// right under the heading without a digit (but in "m2"), of which no typed cell can be
/// read and either one is filled or no key is.
fn second_headings(plan: &mut Plan, head: &[u8]) -> u64 {
    const MOST: usize = 3;
    if plan.layout.heading_line == 0 {
        return 0;
    }
    let start = plan.layout.data_start;
    for _ in 0..MOST {
        let mut machine = Machine::new(head, plan.layout.marks, plan.layout.arity, true);
        machine.go_to(plan.layout.data_start);
        let mut cells = Vec::new();
        let Step::Record(record) = machine.step(&mut cells) else {
            break;
        };
        let raw = &head[record.start..record.end];
        let more = machine.at() < head.len();
        if !more || record.cells != plan.layout.arity || !is_second_heading(plan, raw) {
            break;
        }
        plan.layout.data_start = machine.at();
    }
    count_lines(&head[start..plan.layout.data_start])
}

fn is_second_heading(plan: &Plan, raw: &[u8]) -> bool {
    let Some(cells) = super::record::cells_of(raw, plan.layout.marks) else {
        return false;
    };
    let digits = |c: &Vec<u8>| c.iter().any(u8::is_ascii_digit) && !super::units::is_spelling(c);
    if cells.iter().any(digits) || dialect::is_blank(raw, plan.layout.marks) {
        return false;
    }
    let filled = |column: usize| {
        cells
            .get(column)
            .is_some_and(|c| !c.trim_ascii().is_empty())
    };
    let typed = |how: &How| !matches!(how, How::Key | How::Open(_));
    let mut typed_filled = plan
        .claims
        .iter()
        .filter(|c| typed(&c.how) && filled(c.column));
    let key = |c: &super::plan::Claim| c.field.cell_required && matches!(c.how, How::Key);
    let no_key = || !plan.claims.iter().any(|c| key(c) && filled(c.column));
    let reads = |c: &super::plan::Claim| match &c.how {
        How::YesNo(words) => {
            let text = String::from_utf8_lossy(&cells[c.column]);
            words.yes_no(text.trim()) != super::words::Meaning::Unknown
        }
        How::Listed(words, list) => {
            let text = String::from_utf8_lossy(&cells[c.column]);
            words.listed(text.trim(), list) != super::words::Meaning::Unknown
        }
        // Dates and numbers have digits, and there is none.
        _ => false,
    };
    let mut any = false;
    let none_reads = typed_filled.all(|c| {
        any = true;
        !reads(c)
    });
    none_reads && (any || no_key())
}

fn ledger_of(file: &SourceFile, size: u64, plan: &Plan, head: &[u8], second: u64) -> FileLedger {
    let layout = &plan.layout;
    let mut structure = BTreeMap::new();
    let mut add = |kind, lines: u64| {
        if lines > 0 {
            *structure.entry(kind).or_default() += lines;
        }
    };
    let above = count_lines(&head[..layout.heading_start]);
    add(Structure::SepLine, u64::from(layout.sep_line));
    let body = &head[..layout.heading_start];
    let blank = blank_lines(body, layout.marks);
    add(Structure::Blank, blank);
    add(
        Structure::Preamble,
        above - blank - u64::from(layout.sep_line),
    );
    add(
        Structure::Heading,
        if layout.heading_line > 0 {
            layout.heading_lines
        } else {
            0
        },
    );
    add(Structure::SecondHeading, second);
    let claimed = |column: usize| plan.claims.iter().any(|c| c.column == column);
    let unclaimed = layout
        .labels
        .iter()
        .enumerate()
        .filter(|(i, l)| !claimed(*i) && !l.is_blank());
    let mut notes = Vec::new();
    let blank = layout.labels.iter().filter(|l| l.is_blank()).count();
    if blank > 0 {
        notes.push(format!("{blank} columns without a heading; not read"));
    }
    for label in repeated(plan) {
        notes.push(format!(
            "two columns are headed \"{label}\"; neither is read"
        ));
    }
    FileLedger {
        file: file.name.clone(),
        tables: file.tables.iter().map(|t| t.name()).collect(),
        size,
        sha256: String::new(),
        encoding: plan.encoding,
        dialect: Dialect {
            delimiter: match layout.marks.delimiter {
                b'\t' => "tab".to_string(),
                b' ' => "space".to_string(),
                other => char::from(other).to_string(),
            },
            quote: char::from(layout.marks.quote).to_string(),
            escape: if layout.marks.backslash {
                "backslash"
            } else {
                "doubled"
            },
            line_ends: dialect::line_ends(head),
            heading_line: layout.heading_line,
            heading_lines: layout.heading_lines,
            trailing_delimiter: layout.trailing,
        },
        lines: LineCounts::default(),
        structure,
        by_reason: BTreeMap::new(),
        found: Vec::new(),
        missing: Vec::new(),
        unclaimed: unclaimed.map(|(_, l)| l.text.to_string()).collect(),
        notes,
    }
}

fn repeated(plan: &Plan) -> Vec<String> {
    let texts: Vec<&str> = plan.layout.labels.iter().map(|l| &*l.text).collect();
    let mut out: Vec<String> = Vec::new();
    for (i, text) in texts.iter().enumerate() {
        if !text.is_empty() && texts[..i].contains(text) && !out.iter().any(|o| o == text) {
            out.push((*text).to_string());
        }
    }
    out
}

fn blank_lines(body: &[u8], marks: super::record::Marks) -> u64 {
    let mut blank = 0;
    let mut at = 0;
    while at < body.len() {
        let end = super::record::line_end(body, at);
        blank += u64::from(dialect::is_blank(&body[at..end], marks));
        at = super::record::after_line_end(body, end);
    }
    blank
}

/// How each field's cells were read, for people.
fn fields_found(plan: &Plan) -> Vec<FieldFound> {
    let served = plan.claims.iter().filter(|c| c.part < plan.parts.len());
    let of = |claim: &super::plan::Claim| {
        let order = |order: &super::dates::Order| match order {
            super::dates::Order::MonthFirst => "month first where the year is last",
            super::dates::Order::DayFirst => "day first where the year is last",
            super::dates::Order::YearFirst => "year first",
        };
        let mark = |mark: &Mark| match mark {
            Mark::Point => "decimal point",
            Mark::Comma => "decimal comma",
        };
        let read_as = match &claim.how {
            How::Key => "key".to_string(),
            How::Open(_) | How::Listed(..) => "word".to_string(),
            How::YesNo(_) => "yes or no".to_string(),
            How::Day(o) | How::Later(o) => format!("date, {}", order(o)),
            How::Moment(o) => format!("date and time, {}", order(o)),
            How::Money { mark: m } => format!("{}, {}", plan.currency.code, mark(m)),
            How::Real { mark: m, unit } => {
                format!("{}, {}", unit.name(claim.field.kind), mark(m))
            }
        };
        FieldFound {
            table: plan.parts[claim.part].table.name(),
            field: claim.field.name,
            heading: claim.heading.to_string(),
            read_as,
        }
    };
    served.map(of).collect()
}

/// One pass over a file.
struct Run {
    parsed: Vec<Parsed>,
    sha256: String,
}

/// A chunk on its way to a worker.
struct Task {
    index: usize,
    chunk: Chunk,
    from: usize,
}

/// A chunk that was read on the assumption that it begins where a record does.
struct Done {
    index: usize,
    bytes: Vec<u8>,
    last: bool,
    long: bool,
    parsed: polars::prelude::PolarsResult<Parsed>,
}

fn work(plan: &Plan, task: Task) -> Done {
    let (bytes, last, long) = match task.chunk {
        Chunk::Lines { bytes, last } => (bytes, last, false),
        Chunk::Long { head, last } => (head, last, true),
    };
    let parsed = if long {
        chunk::long_line(plan, &bytes)
    } else {
        chunk::parse(plan, &bytes, task.from, last)
    };
    Done {
        index: task.index,
        bytes,
        last,
        long,
        parsed,
    }
}

/// Puts chunks in order, and reads again what began within a record.
struct Sequence<'a> {
    plan: &'a Plan,
    next: usize,
    waiting: BTreeMap<usize, Done>,
    tail: Vec<u8>,
    out: Vec<Parsed>,
    spare: Vec<Vec<u8>>,
}

impl Sequence<'_> {
    fn take(&mut self, done: Done) -> polars::prelude::PolarsResult<()> {
        self.waiting.insert(done.index, done);
        while let Some(done) = self.waiting.remove(&self.next) {
            self.next += 1;
            let mut parsed = done.parsed?;
            if !self.tail.is_empty() {
                let mut joined = std::mem::take(&mut self.tail);
                if done.long {
                    let before = chunk::parse(self.plan, &joined, 0, true)?;
                    self.out.push(before);
                } else {
                    joined.extend_from_slice(&done.bytes);
                    parsed = chunk::parse(self.plan, &joined, 0, done.last)?;
                }
            }
            self.tail = std::mem::take(&mut parsed.tail);
            self.out.push(parsed);
            self.spare.push(done.bytes);
        }
        Ok(())
    }
}

impl Run {
    fn over(
        file: &SourceFile,
        plan: &Plan,
        size: u64,
        progress: &mut dyn FnMut(Progress),
    ) -> Result<Self, IntakeError> {
        let bad = unreadable(file);
        let mut lines = Lines::open(&file.path, plan.encoding, true).map_err(&bad)?;
        let mut sequence = Sequence {
            plan,
            next: 0,
            waiting: BTreeMap::new(),
            tail: Vec::new(),
            out: Vec::new(),
            spare: Vec::new(),
        };
        // The heading must lie whole within the first chunk.
        let aim = CHUNK.max(plan.layout.data_start + 1);
        let mut next = |lines: &mut Lines, spare: Option<Vec<u8>>| {
            let chunk = lines.next(spare.unwrap_or_default(), aim).map_err(&bad)?;
            progress(Progress {
                file: file.name.clone(),
                done: lines.bytes_read(),
                of: size,
            });
            Ok::<_, IntakeError>(chunk)
        };
        let from = plan.layout.data_start;
        let first = next(&mut lines, None)?;
        let first = first.map(|chunk| Task {
            index: 0,
            chunk,
            from,
        });
        let frame = frame_fault(file);
        match first {
            None => {}
            Some(task) if matches!(task.chunk, Chunk::Lines { last: true, .. }) => {
                sequence.take(work(plan, task)).map_err(&frame)?;
            }
            Some(task) => {
                let rest = |spare| next(&mut lines, spare);
                in_parallel(plan, task, rest, &mut sequence).map_err(|e| match e {
                    Failed::Read(e) => e,
                    Failed::Frame(e) => frame(e),
                })?;
            }
        }
        Ok(Self {
            parsed: sequence.out,
            sha256: lines.digest().map_err(&bad)?,
        })
    }

    fn outside(&self) -> Outside {
        let all = self.parsed.iter().map(|p| p.outside);
        all.fold(Outside::default(), Outside::and)
    }

    fn evidence(&mut self, plan: &Plan) -> Vec<super::plan::Evidence> {
        let mut all = plan.no_evidence();
        for parsed in &mut self.parsed {
            for (sum, one) in all.iter_mut().zip(parsed.evidence.drain(..)) {
                sum.add(one);
            }
        }
        all
    }

    /// Chunks and rejects with the file's own line numbers; totals at the
    /// foot become structure.
    fn into_rows(self, plan: Plan, mut ledger: FileLedger, top: u64) -> FileRows {
        let mut before = top;
        let mut chunks = Vec::with_capacity(self.parsed.len());
        let mut rejects = Vec::new();
        let mut last_kept = 0;
        for mut parsed in self.parsed {
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
        ledger.lines.read = before;
        ledger.lines.structure = ledger.structure.values().sum();
        ledger.found = fields_found(&plan);
        FileRows {
            plan,
            ledger,
            chunks,
            rejects,
        }
    }
}

enum Failed {
    Read(IntakeError),
    Frame(polars::prelude::PolarsError),
}

/// Reads chunks on this thread and has them parsed on others, a bounded
/// number at a time.
fn in_parallel(
    plan: &Plan,
    first: Task,
    mut next: impl FnMut(Option<Vec<u8>>) -> Result<Option<Chunk>, IntakeError>,
    sequence: &mut Sequence<'_>,
) -> Result<(), Failed> {
    let workers = std::thread::available_parallelism().map_or(2, |n| n.get().min(WORKERS));
    let (to_workers, tasks) = channel::<Task>();
    let tasks = Arc::new(Mutex::new(tasks));
    let (to_here, results) = channel::<Done>();
    std::thread::scope(|scope| {
        for _ in 0..workers {
            let (tasks, to_here) = (Arc::clone(&tasks), to_here.clone());
            scope.spawn(move || serve(plan, &tasks, &to_here));
        }
        drop(to_here);
        let mut out = Ok(());
        let mut waiting = Some(first);
        let mut index = 0;
        let mut abroad = 0;
        loop {
            if let Some(task) = waiting.take() {
                index = task.index + 1;
                if to_workers.send(task).is_err() {
                    break;
                }
                abroad += 1;
                if abroad <= workers {
                    match next(sequence.spare.pop()) {
                        Ok(chunk) => {
                            waiting = chunk.map(|chunk| Task {
                                index,
                                chunk,
                                from: 0,
                            })
                        }
                        Err(e) => out = Err(Failed::Read(e)),
                    }
                    if waiting.is_some() {
                        continue;
                    }
                }
            }
            if abroad == 0 || out.is_err() {
                break;
            }
            let Ok(done) = results.recv() else { break };
            abroad -= 1;
            if let Err(e) = sequence.take(done) {
                out = Err(Failed::Frame(e));
                break;
            }
            match next(sequence.spare.pop()) {
                Ok(chunk) => {
                    waiting = chunk.map(|chunk| Task {
                        index,
                        chunk,
                        from: 0,
                    })
                }
                Err(e) => out = Err(Failed::Read(e)),
            }
        }
        drop(to_workers);
        out
    })
}

fn serve(plan: &Plan, tasks: &Mutex<Receiver<Task>>, to: &Sender<Done>) {
    loop {
        let task = match tasks.lock() {
            Ok(tasks) => tasks.recv(),
            Err(_) => return,
        };
        let Ok(task) = task else { return };
        if to.send(work(plan, task)).is_err() {
            return;
        }
    }
}
