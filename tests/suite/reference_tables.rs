//! Published data sets and certified values, read from tests/reference.

use std::collections::BTreeMap;
use std::path::Path;

/// A table of tests/reference: columns by heading, cells as text.
pub struct Table {
    columns: BTreeMap<String, Vec<String>>,
}

impl Table {
    /// Reads `tests/reference/<name>.csv`.
    pub fn read(name: &str) -> Self {
        let path =
            Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/reference/{name}.csv"));
        let mut reader = csv::Reader::from_path(&path).unwrap_or_else(|e| panic!("{path:?}: {e}"));
        let headings: Vec<String> = reader.headers().unwrap().iter().map(String::from).collect();
        let mut columns: BTreeMap<String, Vec<String>> = BTreeMap::new();
        for record in reader.records() {
            for (heading, cell) in headings.iter().zip(&record.unwrap()) {
                let column = columns.entry(heading.clone()).or_default();
                column.push(cell.to_owned());
            }
        }
        Self { columns }
    }

    /// A column as text.
    pub fn text(&self, heading: &str) -> &[String] {
        &self.columns[heading]
    }

    /// A column as numbers.
    pub fn numbers(&self, heading: &str) -> Vec<f64> {
        self.text(heading)
            .iter()
            .map(|c| c.parse().unwrap())
            .collect()
    }
}

/// Digits to which `computed` agrees with `certified` (NIST's log relative
/// error; absolute where the certified value is zero).
pub fn digits(computed: f64, certified: f64) -> f64 {
    let scale = if certified == 0.0 {
        1.0
    } else {
        certified.abs()
    };
    -((computed - certified).abs() / scale).max(1e-17).log10()
}

/// Fails, naming what, where fewer than `need` digits agree.
#[track_caller]
pub fn assert_digits(what: &str, computed: f64, certified: f64, need: f64) {
    let have = digits(computed, certified);
    assert!(
        have >= need,
        "{what}: {computed:e} against {certified:e}: {have:.1} digits, {need} needed"
    );
}
