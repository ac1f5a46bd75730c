//! What `check` prints: every line of every file accounted for.

use super::unlocks::{SECTIONS, lacking};
use crate::intake::encoding::{Encoding, Settled, SettledBy};
use crate::intake::ledger::{FileLedger, Ledger};
use crate::intake::{List, Listed};
use serde_json::{Value, json};
use std::fmt::Write;

/// The account in words.
pub(super) fn text(ledger: &Ledger, odd: &List) -> String {
    let mut out = String::new();
    for file in &ledger.files {
        write_file(&mut out, file);
    }
    let l = ledger.lines();
    line(
        &mut out,
        format!(
            "In all: {} lines = {} accepted + {} put aside + {} structure + {} superseded",
            l.read, l.accepted, l.quarantined, l.structure, l.superseded
        ),
    );
    write_listed(&mut out, &odd.listed);
    line(&mut out, "Sections of the review:".into());
    for section in &SECTIONS {
        let missing = lacking(section, ledger);
        let state = if missing.is_empty() {
            "unlocked".to_string()
        } else {
            format!("needs {}", missing.join(" and "))
        };
        line(&mut out, format!("  {}: {state}", section.name));
    }
    out
}

/// Appends a line. Writing to a string cannot fail.
fn line(out: &mut String, text: String) {
    let _ = writeln!(out, "{text}");
}

fn write_file(out: &mut String, f: &FileLedger) {
    let l = &f.lines;
    line(out, format!("{} ({})", f.file, f.tables.join(", ")));
    line(
        out,
        format!(
            "  {} bytes, {}, delimiter {}, quote {}, heading on line {}",
            f.size,
            encoding(f.encoding),
            f.dialect.delimiter,
            f.dialect.quote,
            f.dialect.heading_line
        ),
    );
    line(
        out,
        format!(
            "  {} lines = {} accepted + {} put aside + {} structure + {} superseded",
            l.read, l.accepted, l.quarantined, l.structure, l.superseded
        ),
    );
    for (reason, count) in &f.by_reason {
        let first: Vec<String> = count.first.iter().map(u64::to_string).collect();
        line(
            out,
            format!(
                "  put aside, {reason}: {} (first: line {})",
                count.lines,
                first.join(", ")
            ),
        );
    }
    let found: Vec<String> = f
        .found
        .iter()
        .map(|x| format!("{}.{}", x.table, x.field))
        .collect();
    line(out, format!("  fields found: {}", found.join(", ")));
    if !f.missing.is_empty() {
        line(out, format!("  fields missing: {}", f.missing.join(", ")));
    }
    if !f.unclaimed.is_empty() {
        line(
            out,
            format!("  columns not used: {}", f.unclaimed.join(", ")),
        );
    }
    for note in &f.notes {
        line(out, format!("  note: {note}"));
    }
}

/// The encoding, and what settled it.
fn encoding(e: Settled) -> String {
    let name = match e.encoding {
        Encoding::Utf8 => "UTF-8",
        Encoding::Utf16Le => "UTF-16 LE",
        Encoding::Utf16Be => "UTF-16 BE",
        Encoding::Windows1252 => "windows-1252",
    };
    let by = match e.by {
        SettledBy::Mark => "by its byte order mark",
        SettledBy::Setting => "by the settings",
        SettledBy::Looking => "found by looking",
    };
    format!("{name} ({by})")
}

fn write_listed(out: &mut String, listed: &[Listed]) {
    if !listed.is_empty() {
        line(out, "Accepted, and worth a look:".into());
    }
    for l in listed {
        let more = if l.count > 1 {
            format!(" ({} records)", l.count)
        } else {
            String::new()
        };
        line(
            out,
            format!(
                "  {}, line {}: {}: {}{more}",
                l.file, l.line, l.subject, l.found
            ),
        );
    }
}

/// The account for machines.
pub(super) fn json(ledger: &Ledger, odd: &List) -> Value {
    let sections: Vec<Value> = SECTIONS
        .iter()
        .map(|s| json!({"section": s.name, "needs": lacking(s, ledger)}))
        .collect();
    json!({
        "format": "tallycoat-check",
        "version": 1,
        "lines": ledger.lines(),
        "files": ledger.files,
        "listed": odd,
        "sections": sections,
    })
}
