//! The first look at a file: its encoding, layout and headings, and so how it
//! is to be read.

use super::super::bytes;
use super::super::dialect::{self, format_of};
use super::super::encoding::{Encoding, settle};
use super::super::error::{FileFault, FileFaultKind, IntakeError};
use super::super::ledger::{Dialect, FieldFound, FileLedger, Lines as LineCounts, Structure};
use super::super::mend::plain_name;
use super::super::numbers::Mark;
use super::super::plan::{How, Plan};
use super::super::record::{Machine, Step, count_lines, line_ends};
use super::super::sources::SourceFile;
use super::unreadable;
use crate::settings::shop::{FileFormat, Shop};
use std::collections::BTreeMap;

/// Bytes that are looked at before a file is read.
const HEAD: usize = 256 << 10;

/// What looking at a file gave.
pub(super) enum Looked {
    Planned(Box<Plan>, Box<FileLedger>, u64),
    Faults(Vec<FileFault>),
}

/// Looks at a file's first bytes and plans how to read it.
pub(super) fn look(
    file: &SourceFile,
    shop: &Shop,
    size: u64,
    forced: Option<Encoding>,
) -> Result<Looked, IntakeError> {
    let format = format_of(&shop.format, own_format(file, shop));
    let raw = bytes::head(&file.origin, HEAD).map_err(unreadable(file))?;
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

/// A file's own format in the settings, by its name, with or without the
/// folders before it; mended lines are as their export is.
fn own_format<'s>(file: &SourceFile, shop: &'s Shop) -> Option<&'s FileFormat> {
    let (plain, times) = plain_name(&file.name);
    let of = |name: &str| {
        let last = name.rsplit('/').next().unwrap_or(name);
        let formats = &shop.file_formats;
        formats.get(name).or_else(|| formats.get(last))
    };
    of(&file.name).or_else(|| match times {
        0 => None,
        _ => of(&plain).or_else(|| of(&format!("{plain}.gz"))),
    })
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
    let Some(cells) = super::super::record::cells_of(raw, plan.layout.marks) else {
        return false;
    };
    let digits =
        |c: &Vec<u8>| c.iter().any(u8::is_ascii_digit) && !super::super::units::is_spelling(c);
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
    let key = |c: &super::super::plan::Claim| c.field.cell_required && matches!(c.how, How::Key);
    let no_key = || !plan.claims.iter().any(|c| key(c) && filled(c.column));
    let reads = |c: &super::super::plan::Claim| match &c.how {
        How::YesNo(words) => {
            let text = String::from_utf8_lossy(&cells[c.column]);
            words.yes_no(text.trim()) != super::super::words::Meaning::Unknown
        }
        How::Listed(words, list) => {
            let text = String::from_utf8_lossy(&cells[c.column]);
            words.listed(text.trim(), list) != super::super::words::Meaning::Unknown
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

/// Lines that are structure down to the data.
fn structure_above(plan: &Plan, head: &[u8], second: u64) -> BTreeMap<Structure, u64> {
    let layout = &plan.layout;
    let above = &head[..layout.heading_start];
    let sep = u64::from(layout.sep_line);
    let blank = blank_lines(above, layout.marks);
    let all = [
        (Structure::SepLine, sep),
        (Structure::Blank, blank),
        (Structure::Preamble, count_lines(above) - blank - sep),
        (Structure::Heading, layout.heading_lines),
        (Structure::SecondHeading, second),
    ];
    all.into_iter().filter(|(_, lines)| *lines > 0).collect()
}

/// What is odd about the headings and does not stop the file.
fn heading_notes(plan: &Plan) -> Vec<String> {
    let mut notes = Vec::new();
    let blank = plan.layout.labels.iter().filter(|l| l.is_blank()).count();
    if blank > 0 {
        notes.push(format!("columns without a heading, not read: {blank}"));
    }
    let twice = |label| format!("two columns are headed \"{label}\"; neither is read");
    notes.extend(repeated(plan).into_iter().map(twice));
    notes
}

fn dialect_of(plan: &Plan, head: &[u8]) -> Dialect {
    let layout = &plan.layout;
    Dialect {
        delimiter: match layout.marks.delimiter {
            b'\t' => "tab".to_string(),
            b' ' => "space".to_string(),
            other => char::from(other).to_string(),
        },
        quote: char::from(layout.marks.quote).to_string(),
        escape: match layout.marks.backslash {
            true => "backslash",
            false => "doubled",
        },
        line_ends: line_ends(head),
        heading_line: layout.heading_line,
        heading_lines: layout.heading_lines,
        trailing_delimiter: layout.trailing,
    }
}

fn ledger_of(file: &SourceFile, size: u64, plan: &Plan, head: &[u8], second: u64) -> FileLedger {
    let claimed = |column: usize| plan.claims.iter().any(|c| c.column == column);
    let labels = plan.layout.labels.iter().enumerate();
    let unclaimed = labels.filter(|(i, l)| !claimed(*i) && !l.is_blank());
    FileLedger {
        file: file.name.clone(),
        tables: file.tables.iter().map(|t| t.name()).collect(),
        size,
        sha256: String::new(),
        encoding: plan.encoding,
        dialect: dialect_of(plan, head),
        lines: LineCounts::default(),
        structure: structure_above(plan, head, second),
        by_reason: BTreeMap::new(),
        found: Vec::new(),
        missing: Vec::new(),
        unclaimed: unclaimed.map(|(_, l)| l.text.to_string()).collect(),
        notes: heading_notes(plan),
        top: head[..plan.layout.data_start].to_vec(),
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

fn blank_lines(body: &[u8], marks: super::super::record::Marks) -> u64 {
    let mut blank = 0;
    let mut at = 0;
    while at < body.len() {
        let end = super::super::record::line_end(body, at);
        blank += u64::from(dialect::is_blank(&body[at..end], marks));
        at = super::super::record::after_line_end(body, end);
    }
    blank
}

/// How each field's cells were read, for people.
pub(super) fn fields_found(plan: &Plan) -> Vec<FieldFound> {
    let served = plan.claims.iter().filter(|c| c.part < plan.parts.len());
    let of = |claim: &super::super::plan::Claim| {
        let order = |order: &super::super::dates::Order| match order {
            super::super::dates::Order::MonthFirst => "month first where the year is last",
            super::super::dates::Order::DayFirst => "day first where the year is last",
            super::super::dates::Order::YearFirst => "year first",
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
