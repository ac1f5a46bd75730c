//! Which files serve which tables.

mod pattern;

use super::bytes::Origin;
use super::error::IntakeError;
use super::mend::{mended_name, plain_name};
use crate::settings::contract::{TABLES, Table};
use crate::settings::shop::Shop;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// A file and the tables that it serves.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SourceFile {
    /// Its name within the folder, with `/` between parts.
    pub name: String,
    /// Where its bytes lie.
    pub origin: Origin,
    /// Its tables, in the contract's order.
    pub tables: Vec<Table>,
}

/// The files of a folder by the settings, in the order in which they are
/// read: by their first table, then by name, so that a later export comes
/// after an earlier one, and an export's mended lines after it.
///
/// # Errors
/// No folder, no file of jobs, a named file that is not there.
pub fn find(folder: &Path, shop: &Shop) -> Result<Vec<SourceFile>, IntakeError> {
    if !folder.exists() {
        let folder = folder.to_path_buf();
        return Err(IntakeError::NoFolder { folder });
    }
    if !folder.is_dir() {
        let folder = folder.to_path_buf();
        return Err(IntakeError::NotAFolder { folder });
    }
    let mut by_name: BTreeMap<String, SourceFile> = BTreeMap::new();
    for table in TABLES {
        for (name, path) in files_of(folder, shop, table)? {
            let file = by_name.entry(name.clone()).or_insert(SourceFile {
                name,
                origin: Origin::Disk(path),
                tables: Vec::new(),
            });
            file.tables.push(table);
        }
    }
    let mut files: Vec<SourceFile> = by_name.into_values().collect();
    files.sort_by_cached_key(|f| (f.tables.first().copied(), plain_name(&f.name)));
    Ok(files)
}

fn files_of(
    folder: &Path,
    shop: &Shop,
    table: Table,
) -> Result<BTreeMap<String, PathBuf>, IntakeError> {
    let mut found = BTreeMap::new();
    let mut looked_for = Vec::new();
    if let Some(names) = shop.files.get(&table) {
        for name in names {
            let before = found.len();
            matching(folder, table, name, &mut found)?;
            looked_for.push(name.clone());
            if found.len() == before && table != Table::Jobs && !found.contains_key(name) {
                return Err(IntakeError::NoSuchFile {
                    table: table.name(),
                    pattern: name.clone(),
                });
            }
        }
    } else {
        for name in [format!("{table}.csv"), format!("{table}.csv.gz")] {
            let path = folder.join(&name);
            if found.is_empty() && path.is_file() {
                found.insert(name.clone(), path);
            }
            looked_for.push(name);
        }
    }
    add_mended(folder, &mut found);
    if table == Table::Jobs && found.is_empty() {
        return Err(IntakeError::NoJobsFile {
            folder: folder.to_path_buf(),
            looked_for,
        });
    }
    Ok(found)
}

/// Adds the mended lines that lie beside their exports.
fn add_mended(folder: &Path, found: &mut BTreeMap<String, PathBuf>) {
    for mut name in found.keys().cloned().collect::<Vec<_>>() {
        loop {
            name = mended_name(&name);
            let path = folder.join(&name);
            if !path.is_file() {
                break;
            }
            found.insert(name.clone(), path);
        }
    }
}

/// Adds the files that a name or pattern stands for.
fn matching(
    folder: &Path,
    table: Table,
    name: &str,
    found: &mut BTreeMap<String, PathBuf>,
) -> Result<(), IntakeError> {
    let plain = folder.join(name);
    if plain.is_file() {
        found.insert(within(folder, &plain), plain);
        return Ok(());
    }
    let paths = pattern::files(folder, name).map_err(|e| IntakeError::Pattern {
        table: table.name(),
        pattern: name.to_string(),
        what: e.msg.to_string(),
    })?;
    for path in paths {
        let mut name = within(folder, &path);
        // Names that are no text can look alike.
        while found.get(&name).is_some_and(|other| *other != path) {
            name.push('+');
        }
        found.insert(name, path);
    }
    Ok(())
}

fn within(folder: &Path, path: &Path) -> String {
    let path = path.strip_prefix(folder).unwrap_or(path);
    let parts: Vec<_> = path
        .components()
        .map(|c| c.as_os_str().to_string_lossy())
        .collect();
    parts.join("/")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder(names: &[&str]) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        for name in names {
            let path = folder.path().join(name);
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(path, "x").unwrap();
        }
        folder
    }

    fn names(files: &[SourceFile]) -> Vec<String> {
        files
            .iter()
            .map(|f| {
                let tables: Vec<_> = f.tables.iter().map(|t| t.name()).collect();
                format!("{}={}", f.name, tables.join("+"))
            })
            .collect()
    }

    #[test]
    fn canonical_names_serve_their_tables_and_output_is_never_input() {
        let at = folder(&[
            "jobs.csv",
            "people.csv.gz",
            "reviews/2026-10/jobs.csv",
            "x.csv",
        ]);
        let found = find(at.path(), &Shop::default()).unwrap();
        assert_eq!(names(&found), ["jobs.csv=jobs", "people.csv.gz=people"]);
        let mut shop = Shop::default();
        shop.files.insert(Table::Jobs, vec!["**/*.csv".into()]);
        let found = find(at.path(), &shop).unwrap();
        assert_eq!(
            names(&found),
            ["jobs.csv=jobs", "x.csv=jobs", "people.csv.gz=people"]
        );
    }

    #[test]
    fn a_pattern_serves_several_tables_in_order_of_name() {
        let at = folder(&["exports/2026-10.csv", "exports/2026-09.csv"]);
        let mut shop = Shop::default();
        shop.files.insert(Table::Jobs, vec!["exports/*.csv".into()]);
        shop.files
            .insert(Table::Coatings, vec!["exports/*.csv".into()]);
        let found = find(at.path(), &shop).unwrap();
        assert_eq!(
            names(&found),
            [
                "exports/2026-09.csv=jobs+coatings",
                "exports/2026-10.csv=jobs+coatings"
            ]
        );
    }

    #[test]
    fn what_is_missing_is_named() {
        let at = folder(&["people.csv"]);
        let shop = Shop::default();
        let message = |e: IntakeError| e.to_string();
        let none = find(at.path(), &shop).map_err(message).unwrap_err();
        assert!(
            none.contains("no file of jobs. Looked for jobs.csv, jobs.csv.gz"),
            "{none}"
        );
        let absent = find(&at.path().join("absent"), &shop)
            .map_err(message)
            .unwrap_err();
        assert!(absent.contains("no such folder"), "{absent}");
        let file = find(&at.path().join("people.csv"), &shop)
            .map_err(message)
            .unwrap_err();
        assert!(file.contains("a file, not a folder"), "{file}");
    }
}
