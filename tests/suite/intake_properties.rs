//! What must hold of intake whatever the bytes: it ends without a panic; every
//! physical line is in exactly one state; what is put aside is kept as it
//! stands; and what was accepted, written out in canonical form, is read again
//! as the same values.
//!
//! Shared by the suite and by the coverage-guided fuzzing of `tests/fuzz`.

use polars::prelude::{AnyValue, DataFrame};
use std::collections::BTreeMap;
use std::sync::Arc;
use tallycoat::intake::bytes::Origin;
use tallycoat::intake::sources::SourceFile;
use tallycoat::intake::{self, Accounted, Intake, IntakeError};
use tallycoat::money::Currency;
use tallycoat::settings::contract::{Kind, TABLES, Table};
use tallycoat::settings::shop::{DateOrder, Shop};

/// Parts a case into an export and a later one of the same table.
const NEXT_EXPORT: u8 = 0x1e;

/// Sound jobs, for what hangs on them.
const JOBS: &str = "job,shop,finished_on,vehicle_class,coated,finish,area,coating_price\n\
                    1,,2026-10-01,suv,yes,gloss,21.5,310.50\n\
                    2,,2026-10-22,coupe,no,matte,20,\n\
                    3,,2026-10-03,van,yes,satin,20,300\n";

/// How a case's bytes are read: which tables they serve, by which settings.
pub struct Setup {
    pub shop: Shop,
    /// Tables that the case's bytes serve.
    pub tables: Vec<Table>,
}

/// All setups; the first byte of a case picks one.
pub fn setups() -> Vec<Setup> {
    let plain = |table| Setup {
        shop: Shop::default(),
        tables: vec![table],
    };
    let mut all: Vec<Setup> = TABLES.into_iter().map(plain).collect();
    all.extend([wide_sheet(), office(), no_heading(), ordered()]);
    all
}

/// One sheet with the columns of jobs and coatings, under its own headings.
fn wide_sheet() -> Setup {
    let mut shop = Shop::default();
    let own = |pairs: &[(&'static str, &str)]| -> BTreeMap<&'static str, String> {
        pairs.iter().map(|(f, h)| (*f, h.to_string())).collect()
    };
    let jobs = own(&[
        ("job", "Ticket"),
        ("vehicle_class", "Type"),
        ("area", "Area (sq ft)"),
    ]);
    let coatings = own(&[
        ("job", "Ticket"),
        ("applied_by", "By"),
        ("used", "Used (fl oz)"),
    ]);
    shop.columns.insert(Table::Jobs, jobs);
    shop.columns.insert(Table::Coatings, coatings);
    Setup {
        shop,
        tables: vec![Table::Jobs, Table::Coatings],
    }
}

/// Settings of an office far from the defaults.
fn office() -> Setup {
    let mut shop = Shop {
        date_order: Some(DateOrder::DayFirst),
        ..Shop::default()
    };
    shop.numbers.decimal = Some(',');
    shop.numbers.thousands = Some('.');
    shop.format.backslash_escape = true;
    shop.format.delimiter = Some(b';');
    if let Some(euro) = Currency::of("EUR") {
        shop.money.currency = euro;
    }
    let coated = [("ja", "yes"), ("nein", "no"), ("-", "")];
    let coated = coated.map(|(theirs, ours)| (theirs.to_string(), ours.to_string()));
    shop.words.insert("coated".to_string(), coated.into());
    Setup {
        shop,
        tables: vec![Table::Jobs],
    }
}

/// Columns by number.
fn no_heading() -> Setup {
    let mut shop = Shop::default();
    shop.format.heading_lines = Some(0);
    let fields = [
        "job",
        "finished_on",
        "vehicle_class",
        "coated",
        "finish",
        "area",
    ];
    let numbered = fields.iter().enumerate();
    let numbered = numbered.map(|(i, f)| (*f, (i + 1).to_string())).collect();
    shop.columns.insert(Table::Jobs, numbered);
    Setup {
        shop,
        tables: vec![Table::Jobs],
    }
}

/// Exports ordered by a column.
fn ordered() -> Setup {
    let mut shop = Shop::default();
    shop.format.later_by = Some("exported_on".to_string());
    Setup {
        shop,
        tables: vec![Table::Jobs],
    }
}

fn held(name: &str, tables: &[Table], bytes: &[u8]) -> SourceFile {
    SourceFile {
        name: name.to_string(),
        origin: Origin::Memory(Arc::from(bytes)),
        tables: tables.to_vec(),
    }
}

/// The files of a case: sound jobs where it is of what hangs on them, and one
/// or two exports.
pub fn files(setup: &Setup, case: &[u8]) -> Vec<SourceFile> {
    let mut all = Vec::new();
    if setup.tables[0] != Table::Jobs {
        all.push(held("jobs.csv", &[Table::Jobs], JOBS.as_bytes()));
    }
    let cut = case.iter().position(|b| *b == NEXT_EXPORT);
    let (first, second) = case.split_at(cut.unwrap_or(case.len()));
    all.push(held("a.csv", &setup.tables, first));
    if let Some((_, second)) = second.split_first() {
        all.push(held("b.csv", &setup.tables, second));
    }
    all
}

/// Holds a case, whose first byte picks the setup, to everything.
///
/// # Panics
/// Where something does not hold.
pub fn hold(setups: &[Setup], case: &[u8]) {
    let Some((pick, bytes)) = case.split_first() else {
        return;
    };
    let setup = &setups[usize::from(*pick) % setups.len()];
    let files = files(setup, bytes);
    if accounted(&files, &setup.shop).is_some() {
        read_again(&files, &setup.shop);
    }
}

/// Reads files and holds the account of their lines to them; `None` where
/// they do not settle how they are to be read.
///
/// # Panics
/// Where something does not hold.
pub fn accounted(files: &[SourceFile], shop: &Shop) -> Option<Accounted> {
    let found = match intake::account_sources(files, shop, &mut |_| {}) {
        Ok(found) => found,
        Err(e @ (IntakeError::Conservation { .. } | IntakeError::Frame { .. })) => panic!("{e}"),
        Err(e) => {
            assert!(!e.to_string().is_empty());
            return None;
        }
    };
    for (file, ledger) in files.iter().zip(&found.ledger.files) {
        let Origin::Memory(bytes) = &file.origin else {
            continue;
        };
        assert!(ledger.lines.add_up(), "{:?}", ledger.lines);
        let mine = || found.quarantine.iter().filter(|r| *r.file == file.name);
        let put_aside: u64 = mine().map(|r| u64::from(r.lines)).sum();
        assert_eq!(put_aside, ledger.lines.quarantined);
        let packed = bytes.starts_with(b"\x1f\x8b");
        if packed || ledger.encoding.encoding.is_wide() {
            continue;
        }
        let lines = plain_lines(&bytes[ledger.encoding.mark..]);
        assert_eq!(ledger.lines.read, lines.len() as u64);
        for one in mine() {
            let from = one.line as usize - 1;
            let whole = lines[from..from + one.lines as usize].concat();
            let end = whole.strip_suffix(b"\n").unwrap_or(&whole);
            let end = end.strip_suffix(b"\r").unwrap_or(end);
            assert_eq!(one.raw, end, "line {}", one.line);
        }
    }
    Some(found)
}

/// Physical lines with their ends, by the plainest reading: LF, CRLF or CR
/// ends one.
pub fn plain_lines(bytes: &[u8]) -> Vec<&[u8]> {
    let mut lines = Vec::new();
    let mut start = 0;
    let mut i = 0;
    while i < bytes.len() {
        let crlf = bytes[i] == b'\r' && bytes.get(i + 1) == Some(&b'\n');
        if crlf || bytes[i] == b'\r' || bytes[i] == b'\n' {
            i += usize::from(crlf);
            lines.push(&bytes[start..=i]);
            start = i + 1;
        }
        i += 1;
    }
    if start < bytes.len() {
        lines.push(&bytes[start..]);
    }
    lines
}

/// Reads files that can be read, writes what was accepted in canonical form,
/// reads that, and compares.
///
/// # Panics
/// Where it is read otherwise, or anything of it is not accepted.
pub fn read_again(files: &[SourceFile], shop: &Shop) {
    let found = &intake::read_sources(files, shop, &mut |_| {}).expect("was read before");
    let served: Vec<Table> = TABLES
        .into_iter()
        .filter(|t| t.fields().iter().any(|f| found.ledger.has(*t, f.name)))
        .collect();
    let mut files = Vec::new();
    for table in &served {
        match canonical(found, *table, &shop.money.currency) {
            Some(text) => files.push(held(table.name(), &[*table], text.as_bytes())),
            None => return,
        }
    }
    let mut plain = Shop::default();
    plain.money.currency = shop.money.currency.clone();
    // A date that stood within a year of one put aside may now stand alone.
    plain.review.data_until = chrono::NaiveDate::from_ymd_opt(2199, 12, 31);
    let again = match intake::read_sources(&files, &plain, &mut |_| {}) {
        Ok(again) => again,
        Err(e) => panic!("{e}\n{}", texts(&files)),
    };
    if let Some(rejected) = again.quarantine.first() {
        panic!("{rejected}\n{}", texts(&files));
    }
    for table in served {
        let (a, b) = (found.frames.of(table), again.frames.of(table));
        assert!(a.equals_missing(b), "{a:?}\n{b:?}\n{}", texts(&files));
    }
}

fn texts(files: &[SourceFile]) -> String {
    let text = |f: &SourceFile| match &f.origin {
        Origin::Memory(bytes) => format!("{}:\n{}", f.name, String::from_utf8_lossy(bytes)),
        Origin::Disk(path) => path.display().to_string(),
    };
    files.iter().map(text).collect::<Vec<_>>().join("\n")
}

/// A table in canonical form; `None` where a cell holds what a canonical file
/// cannot: a line break that may be taken for an open quote, a first cell
/// that reads as a total, a record that reads as the heading.
fn canonical(found: &Intake, table: Table, currency: &Currency) -> Option<String> {
    let frame = found.frames.of(table);
    let fields: Vec<_> = table
        .fields()
        .iter()
        .filter(|f| found.ledger.has(table, f.name))
        .collect();
    let mut out = csv::Writer::from_writer(Vec::new());
    // A column that no field claims keeps apart what one kept apart before.
    let headings = fields.iter().map(|f| f.name).chain(["row"]);
    out.write_record(headings).ok()?;
    for row in 0..frame.height() {
        let cells: Vec<String> = fields
            .iter()
            .map(|f| cell(frame, f.name, f.kind, row, currency))
            .collect();
        let special = |c: &String| c.contains(['\n', '\r', '\0']);
        let total = |c: &String| c.to_lowercase().starts_with(['t', 's', 'g']);
        let heading = cells.iter().zip(&fields).all(|(c, f)| c == f.name);
        if cells.iter().any(special) || cells.first().is_some_and(total) || heading {
            return None;
        }
        out.write_record(cells.iter().chain([&row.to_string()]))
            .ok()?;
    }
    String::from_utf8(out.into_inner().ok()?).ok()
}

/// A cell in canonical form.
fn cell(frame: &DataFrame, name: &str, kind: Kind, row: usize, currency: &Currency) -> String {
    let Ok(column) = frame.column(name) else {
        return String::new();
    };
    match (column.get(row).unwrap_or(AnyValue::Null), kind) {
        (AnyValue::Null, _) => String::new(),
        (AnyValue::String(s), _) => s.to_string(),
        (AnyValue::StringOwned(s), _) => s.to_string(),
        (AnyValue::Boolean(yes), _) => (if yes { "yes" } else { "no" }).to_string(),
        (AnyValue::Int64(minor), Kind::Money) => major(minor, currency.decimals),
        (AnyValue::Float64(x), _) => format!("{x}"),
        (other, _) => other.to_string(),
    }
}

/// Minor units as an amount with a decimal point.
fn major(minor: i64, decimals: u32) -> String {
    let scale = 10_i64.pow(decimals);
    match decimals {
        0 => minor.to_string(),
        d => format!(
            "{}.{:0width$}",
            minor / scale,
            minor % scale,
            width = d as usize
        ),
    }
}
