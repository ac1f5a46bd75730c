//! The record machine against csv-spectrum's expected cells, and against the
//! `csv` crate on tables that are strictly clean.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::Value;
use std::path::Path;
use tallycoat::intake::record::{Machine, Marks, Step};

/// Cells of every record; panics on a fault.
fn records(bytes: &[u8], marks: Marks, arity: usize) -> Vec<Vec<Vec<u8>>> {
    let mut machine = Machine::new(bytes, marks, arity, true);
    let mut cells = Vec::new();
    let mut out = Vec::new();
    loop {
        cells.clear();
        match machine.step(&mut cells) {
            Step::Record(_) => out.push(
                cells
                    .iter()
                    .map(|c| match c.is_escaped() {
                        true => machine.resolve(*c),
                        false => bytes[c.start()..c.end()].to_vec(),
                    })
                    .collect(),
            ),
            Step::End => return out,
            other => panic!("{other:?} in {:?}", String::from_utf8_lossy(bytes)),
        }
    }
}

/// One upstream pair disagrees with itself (its README says so): it parses to
/// one row of four cells.
const WRONG_UPSTREAM: &str = "location_coordinates";

#[test]
fn every_pair_of_csv_spectrum_agrees() {
    let at = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/intake/csv-spectrum");
    if !at.is_dir() {
        eprintln!("SKIPPED: {} is not there", at.display());
        return;
    }
    let mut pairs = 0;
    for entry in std::fs::read_dir(at.join("csvs")).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_stem().unwrap().to_string_lossy().into_owned();
        let bytes = std::fs::read(&path).unwrap();
        if name == WRONG_UPSTREAM {
            // Its quote marks stand within cells: the strict machine names the line.
            let mut machine = Machine::new(&bytes, Marks::default(), 4, true);
            let mut cells = Vec::new();
            assert!(matches!(machine.step(&mut cells), Step::Record(r) if r.cells == 4));
            assert!(matches!(machine.step(&mut cells), Step::Faulty(f) if f.cell == 1));
            pairs += 1;
            continue;
        }
        let json = std::fs::read_to_string(at.join(format!("json/{name}.json"))).unwrap();
        let expected: Vec<serde_json::Map<String, Value>> = serde_json::from_str(&json).unwrap();
        let found = records(&bytes, Marks::default(), 0);
        let text = |c: &Vec<u8>| String::from_utf8(c.clone()).unwrap();
        let heading: Vec<String> = found[0].iter().map(text).collect();
        assert_eq!(found.len() - 1, expected.len(), "{name}");
        for (record, expected) in found[1..].iter().zip(&expected) {
            assert_eq!(record.len(), heading.len(), "{name}");
            for (label, cell) in heading.iter().zip(record) {
                assert_eq!(
                    Value::String(text(cell)),
                    expected[label],
                    "{name}: {label}"
                );
            }
        }
        pairs += 1;
    }
    assert_eq!(pairs, 12);
}

/// A strictly clean table: equal numbers of cells, quotes where needed, line
/// breaks within quotes that no line after them could stand alone.
fn clean_table(rng: &mut ChaCha8Rng) -> (Vec<u8>, Marks, usize) {
    let delimiter = *b",;\t|".get(rng.random_range(0..4)).unwrap();
    let quote = if rng.random_bool(0.8) { b'"' } else { b'\'' };
    let arity = rng.random_range(2..7);
    let end: &[u8] = if rng.random_bool(0.5) { b"\n" } else { b"\r\n" };
    let mut out = Vec::new();
    let rows = rng.random_range(1..12);
    for row in 0..rows {
        for cell in 0..arity {
            if cell > 0 {
                out.push(delimiter);
            }
            write_cell(rng, delimiter, quote, &mut out);
        }
        if row + 1 < rows || rng.random_bool(0.5) {
            out.extend(end);
        }
    }
    let marks = Marks {
        delimiter,
        quote,
        backslash: false,
    };
    (out, marks, arity)
}

fn write_cell(rng: &mut ChaCha8Rng, delimiter: u8, quote: u8, out: &mut Vec<u8>) {
    let alphabet: [&[u8]; 9] = [
        b"a",
        b"7",
        b" ",
        "é".as_bytes(),
        b".",
        b"-",
        b"\n",
        &[quote],
        &[delimiter],
    ];
    let quoted = rng.random_bool(0.4);
    let length = rng.random_range(usize::from(!quoted)..8);
    if quoted {
        out.push(quote);
    }
    for _ in 0..length {
        let piece = alphabet[rng.random_range(0..if quoted { 9 } else { 6 })];
        out.extend(piece);
        if quoted && piece == [quote] {
            out.push(quote);
        }
    }
    if quoted {
        out.push(quote);
    }
}

#[test]
fn clean_tables_read_as_the_csv_crate_reads_them() {
    let mut rng = ChaCha8Rng::seed_from_u64(20_261_031);
    let mut cells = 0;
    for _ in 0..20_000 {
        let (bytes, marks, arity) = clean_table(&mut rng);
        let theirs: Vec<Vec<Vec<u8>>> = csv::ReaderBuilder::new()
            .has_headers(false)
            .delimiter(marks.delimiter)
            .quote(marks.quote)
            .from_reader(&bytes[..])
            .byte_records()
            .map(|r| r.unwrap().iter().map(<[u8]>::to_vec).collect())
            .collect();
        // Arity 0: a quoted line break is believed, as that crate believes it.
        let mine = records(&bytes, marks, 0);
        assert_eq!(mine, theirs, "{:?}", String::from_utf8_lossy(&bytes));
        assert!(mine.iter().all(|r| r.len() == arity));
        cells += mine.iter().map(Vec::len).sum::<usize>();
    }
    assert!(cells > 400_000, "{cells}");
}
