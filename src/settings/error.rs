//! What can be wrong with a shop's settings, said with file and line.

use std::path::PathBuf;

/// A setting that cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum SettingsError {
    /// The file is there but could not be read.
    #[error("{}: cannot be read ({source}). Check that the file is readable text.", file.display())]
    Unreadable {
        /// The settings file.
        file: PathBuf,
        /// The operating system's word.
        source: std::io::Error,
    },
    /// Not TOML, an unknown key, or a value of the wrong type.
    #[error("{}, line {line}: {what}", file.display())]
    Syntax {
        /// The settings file.
        file: PathBuf,
        /// Line, from 1.
        line: usize,
        /// What was found and what is allowed.
        what: String,
    },
    /// A value of the right type that is not allowed.
    #[error("{}, line {line}: {key} is {found}; expected {expected}", file.display())]
    Value {
        /// The settings file.
        file: PathBuf,
        /// Line, from 1.
        line: usize,
        /// The key, with its table.
        key: String,
        /// What stands there.
        found: String,
        /// What is allowed.
        expected: String,
    },
    /// A record cannot be written as TOML.
    #[error("the next record cannot be written: {what}")]
    Record {
        /// Why.
        what: String,
    },
    /// Another record starts on the day of the one to adopt.
    #[error("{}: a record already starts on {day} (source: {source_of_it}), so nothing was added. Move its effective_on, or keep it.", file.display())]
    Taken {
        /// The settings file.
        file: PathBuf,
        /// The day.
        day: chrono::NaiveDate,
        /// Where that record came from, in the shop's words.
        source_of_it: String,
    },
    /// The file cannot be written; it stands as it did.
    #[error(transparent)]
    NotWritten(#[from] crate::disk::DiskError),
    /// The month asked for is not a month.
    #[error("--month {found}: expected a year and a month, as in 2026-10")]
    Month {
        /// What was given.
        found: String,
    },
}

/// Reads text and turns TOML positions into lines.
#[derive(Debug)]
pub(super) struct Source {
    pub(super) file: PathBuf,
    pub(super) text: String,
}

impl Source {
    /// The file's text, or `None` where there is no such file.
    pub(super) fn read(file: PathBuf) -> Result<Option<Self>, SettingsError> {
        match std::fs::read_to_string(&file) {
            Ok(text) => Ok(Some(Self { file, text })),
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(None),
            Err(source) => Err(SettingsError::Unreadable { file, source }),
        }
    }

    /// Parses the text as `T`.
    pub(super) fn parse<T: serde::de::DeserializeOwned>(&self) -> Result<T, SettingsError> {
        toml::from_str(&self.text).map_err(|e| SettingsError::Syntax {
            file: self.file.clone(),
            line: self.line(e.span().map_or(0, |s| s.start)),
            what: e.message().replace('\n', " "),
        })
    }

    /// The line, from 1, of a byte position.
    pub(super) fn line(&self, at: usize) -> usize {
        let end = at.min(self.text.len());
        1 + self.text.as_bytes()[..end]
            .iter()
            .filter(|b| **b == b'\n')
            .count()
    }

    /// The line, from 1, on which `[table]` holds `key`; the file's first
    /// where the key is not written as plainly as that.
    pub(super) fn line_of(&self, table: &str, key: &str) -> usize {
        let mut here = table.is_empty();
        for (i, line) in self.text.lines().enumerate() {
            let line = line.trim();
            if let Some(head) = line.strip_prefix('[') {
                let name = head.trim_start_matches('[').split(']').next();
                here = name.is_some_and(|n| n.trim() == table);
            } else if here {
                let name = line.split('=').next().unwrap_or("");
                if name.trim().trim_matches(['"', '\'']) == key {
                    return i + 1;
                }
            }
        }
        1
    }

    /// A complaint about a value.
    pub(super) fn value(
        &self,
        table: &str,
        key: &str,
        found: impl std::fmt::Display,
        expected: impl Into<String>,
    ) -> SettingsError {
        let name = if table.is_empty() {
            key.to_string()
        } else {
            format!("{table}.{key}")
        };
        SettingsError::Value {
            file: self.file.clone(),
            line: self.line_of(table, key),
            key: name,
            found: found.to_string(),
            expected: expected.into(),
        }
    }
}
