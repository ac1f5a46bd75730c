//! Headings: which column serves which field, by name and never by position.

use super::error::FileFaultKind;
use crate::settings::contract::{Field, Kind, Table};
use crate::settings::shop::Shop;
use std::borrow::Cow;
use std::sync::Arc;

/// A column's heading: as people see it, and the spellings by which a field
/// may find it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Label {
    /// As in the file.
    pub text: Arc<str>,
    /// Spellings of [`folded`].
    names: Vec<String>,
}

impl Label {
    /// The label of a column whose heading cells are `parts`, top first. A
    /// heading of two lines may be named as a whole or by one of its lines.
    pub fn of(parts: &[String]) -> Self {
        let parts: Vec<&str> = parts
            .iter()
            .map(|p| p.trim())
            .filter(|p| !p.is_empty())
            .collect();
        let whole = parts.join(" ");
        let mut names = vec![folded(&whole).into_owned()];
        names.extend(parts.iter().rev().map(|p| folded(p).into_owned()));
        names.dedup();
        Self {
            text: whole.into(),
            names,
        }
    }

    /// True where a field whose heading is `sought` (folded) may find it.
    pub fn is(&self, sought: &str) -> bool {
        self.names.iter().any(|n| n == sought)
    }

    /// True where it has no text.
    pub fn is_blank(&self) -> bool {
        self.text.is_empty()
    }
}

/// A heading in lower case with single blanks: how headings are compared.
pub fn folded(heading: &str) -> Cow<'_, str> {
    let as_is = |b: u8| b.is_ascii_graphic() && !b.is_ascii_uppercase();
    if heading.bytes().all(as_is) {
        return Cow::Borrowed(heading);
    }
    let words: Vec<&str> = heading.split_whitespace().collect();
    Cow::Owned(words.join(" ").to_lowercase())
}

/// A field and the column that serves it.
#[derive(Debug, Clone, PartialEq)]
pub struct Bound {
    /// Its table.
    pub table: Table,
    /// The field.
    pub field: &'static Field,
    /// The column, from 0.
    pub column: usize,
    /// True where the settings name the heading.
    pub named: bool,
}

/// What binding found.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Binding {
    /// Fields with a column, by table in the order given, then as in the contract.
    pub bound: Vec<Bound>,
    /// Fields without, as "table.field".
    pub missing: Vec<String>,
    /// Headings that the settings name and the file lacks.
    pub absent: Vec<String>,
    /// What keeps the file from being read.
    pub faults: Vec<FileFaultKind>,
}

/// The columns of a heading: those whose whole label is the heading, else
/// those of which one line is.
fn columns_named(labels: &[Label], heading: &str) -> Vec<usize> {
    let sought = folded(heading);
    let at = |test: &dyn Fn(&Label) -> bool| -> Vec<usize> {
        let hits = labels.iter().enumerate().filter(|(_, l)| test(l));
        hits.map(|(i, _)| i).collect()
    };
    let whole = at(&|l| l.names.first().is_some_and(|n| *n == sought));
    if whole.is_empty() {
        at(&|l| l.is(&sought))
    } else {
        whole
    }
}

/// True where the settings name a field's heading.
fn is_named(shop: &Shop, table: Table, field: &Field) -> bool {
    shop.columns
        .get(&table)
        .is_some_and(|c| c.contains_key(field.name))
}

/// Binds the fields of `tables` to columns. A column that a field found by
/// its canonical name serves no second table so, keys apart: the minutes of a
/// spell are not those of a callback.
pub fn bind(labels: &[Label], tables: &[Table], shop: &Shop) -> Binding {
    let mut out = Binding::default();
    let order = |named: bool| {
        let pairs = tables
            .iter()
            .flat_map(|t| t.fields().iter().map(|f| (*t, f)));
        pairs.filter(move |(t, f)| is_named(shop, *t, f) == named)
    };
    for (table, field) in order(true).chain(order(false)) {
        let named = is_named(shop, table, field);
        let heading = shop.heading(table, field);
        let mut columns = columns_named(labels, heading);
        if !named && field.kind != Kind::Key {
            columns.retain(|c| !out.bound.iter().any(|b| b.column == *c));
        }
        match columns.as_slice() {
            [column] => out.bound.push(Bound {
                table,
                field,
                column: *column,
                named,
            }),
            [] => lacking(&mut out, labels, table, field, named, heading),
            _ => {
                let label = heading.to_string();
                let fault = FileFaultKind::DuplicateLabel { label };
                if !out.faults.contains(&fault) {
                    out.faults.push(fault);
                }
            }
        }
    }
    let place = |b: &Bound| {
        let field = b.table.fields().iter().position(|f| f.name == b.field.name);
        (tables.iter().position(|t| *t == b.table), field)
    };
    out.bound.sort_by_key(place);
    out.missing.sort();
    out
}

fn lacking(
    out: &mut Binding,
    labels: &[Label],
    table: Table,
    field: &Field,
    named: bool,
    heading: &str,
) {
    let name = format!("{table}.{}", field.name);
    if field.column_required {
        out.faults.push(FileFaultKind::MissingLabel {
            field: name.clone(),
            sought: heading.to_string(),
            found: labels.iter().map(|l| l.text.to_string()).collect(),
        });
    } else if named {
        out.absent.push(heading.to_string());
    }
    out.missing.push(name);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labels(names: &[&str]) -> Vec<Label> {
        names.iter().map(|n| Label::of(&[n.to_string()])).collect()
    }

    fn bound(binding: &Binding) -> Vec<String> {
        let text = |b: &Bound| format!("{}.{}@{}", b.table, b.field.name, b.column);
        binding.bound.iter().map(text).collect()
    }

    #[test]
    fn fields_are_bound_by_name_in_any_order_and_case() {
        let labels = labels(&["Hourly_Cost", " person ", "notes"]);
        let found = bind(&labels, &[Table::People], &Shop::default());
        assert_eq!(bound(&found), ["people.person@1", "people.hourly_cost@0"]);
        assert!(found.faults.is_empty());
        assert!(found.missing.contains(&"people.role".to_string()));
    }

    #[test]
    fn a_claimed_heading_that_stands_twice_stops_the_file() {
        let found = bind(
            &labels(&["person", "role", "role"]),
            &[Table::People],
            &Shop::default(),
        );
        let label = "role".to_string();
        assert_eq!(found.faults, [FileFaultKind::DuplicateLabel { label }]);
        let found = bind(
            &labels(&["person", "x", "x"]),
            &[Table::People],
            &Shop::default(),
        );
        assert!(found.faults.is_empty());
    }

    #[test]
    fn a_needed_heading_that_is_missing_is_named() {
        let found = bind(&labels(&["role"]), &[Table::People], &Shop::default());
        assert_eq!(found.faults[0].code(), "missing-label");
    }

    #[test]
    fn a_column_found_by_its_canonical_name_serves_one_table() {
        let labels = labels(&["job", "minutes", "cause"]);
        let found = bind(
            &labels,
            &[Table::Coatings, Table::Callbacks],
            &Shop::default(),
        );
        assert_eq!(
            bound(&found),
            [
                "coatings.job@0",
                "coatings.minutes@1",
                "callbacks.job@0",
                "callbacks.cause@2"
            ]
        );
    }

    #[test]
    fn a_heading_of_two_lines_is_found_whole_or_by_either() {
        let two = Label::of(&["Vehicle".into(), "Class".into()]);
        for heading in ["vehicle class", "CLASS", "Vehicle"] {
            assert_eq!(
                columns_named(std::slice::from_ref(&two), heading),
                [0],
                "{heading}"
            );
        }
    }
}
