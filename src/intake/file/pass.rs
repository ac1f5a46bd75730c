//! One pass over a file: chunks are read on one thread, parsed on others on
//! the assumption that each begins where a record does, put in order, and
//! parsed again where that was wrong.

use super::super::aside::{Dropped, Reject};
use super::super::bytes::{CHUNK, Chunk, LINE_MAX, Lines};
use super::super::chunk::{self, Parsed};
use super::super::encoding::Outside;
use super::super::error::IntakeError;
use super::super::intake::REJECTED_KEPT;
use super::super::plan::{Evidence, Plan};
use super::super::reason::{Fault, Reason};
use super::super::sources::SourceFile;
use super::{Progress, unreadable};
use polars::prelude::{PolarsError, PolarsResult};
use std::collections::BTreeMap;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex};

/// Most workers on one file.
const WORKERS: usize = 8;

/// Bytes that a chunk of a file aims at: a file of a few MiB keeps two workers
/// busy to its end only in smaller parts.
fn chunk_of(size: u64) -> usize {
    const PARTS: usize = 10;
    (size as usize / PARTS).clamp(CHUNK / 12, CHUNK)
}

/// Frame faults of one file.
fn frame_fault(file: &SourceFile) -> impl Fn(PolarsError) -> IntakeError + '_ {
    |e| IntakeError::Frame {
        table: file.tables.first().map_or("", |t| t.name()),
        what: e.to_string(),
    }
}

/// One pass over a file.
pub(super) struct Run {
    pub(super) parsed: Vec<Parsed>,
    pub(super) sha256: String,
    pub(super) dropped: Dropped,
}

/// A chunk on its way to a worker.
struct Task {
    index: usize,
    chunk: Chunk,
    from: usize,
}

impl Task {
    /// A chunk after the first.
    fn later(index: usize, chunk: Chunk) -> Self {
        Self {
            index,
            chunk,
            from: 0,
        }
    }
}

/// A chunk that was read on the assumption that it begins where a record does.
struct Done {
    index: usize,
    bytes: Vec<u8>,
    last: bool,
    long: bool,
    parsed: PolarsResult<Parsed>,
}

fn work(plan: &Plan, task: Task) -> Done {
    let (bytes, last, long) = match task.chunk {
        Chunk::Lines { bytes, last } => (bytes, last, false),
        Chunk::Long { head, last } => (head, last, true),
    };
    let parsed = if long {
        long_line(plan, &bytes)
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
    kept: usize,
    dropped: Dropped,
}

impl Sequence<'_> {
    fn take(&mut self, done: Done) -> PolarsResult<()> {
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
            let room = REJECTED_KEPT - self.kept;
            self.dropped.beyond(room, &mut parsed.rejects);
            self.kept += parsed.rejects.len();
            self.out.push(parsed);
            self.spare.push(done.bytes);
        }
        Ok(())
    }
}

impl Run {
    pub(super) fn over(
        file: &SourceFile,
        plan: &Plan,
        size: u64,
        progress: &mut dyn FnMut(Progress),
    ) -> Result<Self, IntakeError> {
        let bad = unreadable(file);
        let mut lines = Lines::open(&file.origin, plan.encoding, true).map_err(&bad)?;
        let mut sequence = Sequence {
            plan,
            next: 0,
            waiting: BTreeMap::new(),
            tail: Vec::new(),
            out: Vec::new(),
            spare: Vec::new(),
            kept: 0,
            dropped: Dropped::default(),
        };
        // The heading must lie whole within the first chunk.
        let aim = chunk_of(size).max(plan.layout.data_start + 1);
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
                    Failed::Workers => IntakeError::Frame {
                        table: file.tables.first().map_or("", |t| t.name()),
                        what: "a reading thread ended early".to_string(),
                    },
                })?;
            }
        }
        Ok(Self {
            parsed: sequence.out,
            dropped: sequence.dropped,
            sha256: lines.digest().map_err(&bad)?,
        })
    }

    pub(super) fn outside(&self) -> Outside {
        let all = self.parsed.iter().map(|p| p.outside);
        all.fold(Outside::default(), Outside::and)
    }

    pub(super) fn evidence(&mut self, plan: &Plan) -> Vec<Evidence> {
        let mut all = plan.no_evidence();
        for parsed in &mut self.parsed {
            for (sum, one) in all.iter_mut().zip(parsed.evidence.drain(..)) {
                sum.add(one);
            }
        }
        all
    }
}

enum Failed {
    Read(IntakeError),
    Frame(PolarsError),
    /// The workers are gone, which only a panic of theirs can do.
    Workers,
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
        // Dropped on every way out, which ends the workers.
        let to_workers = to_workers;
        for _ in 0..workers {
            let (tasks, to_here) = (Arc::clone(&tasks), to_here.clone());
            scope.spawn(move || serve(plan, &tasks, &to_here));
        }
        drop(to_here);
        let mut abroad = 0;
        let send = |task: Task| to_workers.send(task).map_err(|_| Failed::Workers);
        let mut index = first.index;
        send(first)?;
        loop {
            // One chunk more than workers, so that none waits for this thread.
            while abroad < workers {
                let chunk = next(sequence.spare.pop()).map_err(Failed::Read)?;
                let Some(chunk) = chunk else { break };
                index += 1;
                abroad += 1;
                send(Task::later(index, chunk))?;
            }
            let done = results.recv().map_err(|_| Failed::Workers)?;
            sequence.take(done).map_err(Failed::Frame)?;
            if abroad == 0 {
                return Ok(());
            }
            abroad -= 1;
        }
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

/// A line that is too long to be read, as a chunk of its own.
fn long_line(plan: &Plan, head: &[u8]) -> PolarsResult<Parsed> {
    let mut parsed = chunk::parse(plan, &[], 0, true)?;
    (parsed.lines, parsed.line_ends) = (1, 1);
    parsed.rejects.push(Reject {
        line: 0,
        lines: 1,
        faults: vec![Fault {
            column: None,
            reason: Reason::ConstraintError,
            found: format!("a line over {} MiB", LINE_MAX >> 20),
            expected: "a shorter line; only its beginning is kept here".to_string(),
        }],
        raw: head.to_vec(),
        cut: true,
        held: Vec::new(),
        total: false,
    });
    Ok(parsed)
}
