//! What stops intake: where, what was found, what was expected, what to do.

use std::fmt;
use std::path::PathBuf;

/// Why a folder could not be read.
#[derive(Debug, thiserror::Error)]
pub enum IntakeError {
    /// There is no such folder.
    #[error("{}: no such folder. Give the folder that holds the exports.", folder.display())]
    NoFolder {
        /// What was given.
        folder: PathBuf,
    },
    /// It is a file.
    #[error("{}: a file, not a folder. Give the folder that holds the exports.", folder.display())]
    NotAFolder {
        /// What was given.
        folder: PathBuf,
    },
    /// No file serves the jobs.
    #[error(
        "{}: no file of jobs. Looked for {}. Put the export there, or name it in shop.toml: \
         [files] jobs = \"...\".",
        folder.display(), looked_for.join(", ")
    )]
    NoJobsFile {
        /// The folder.
        folder: PathBuf,
        /// Names and patterns that were tried.
        looked_for: Vec<String>,
    },
    /// A file that the settings name is not there.
    #[error(
        "shop.toml, [files] {table}: no file matches {pattern:?}. Correct the name, or take it out."
    )]
    NoSuchFile {
        /// The table.
        table: &'static str,
        /// The name or pattern.
        pattern: String,
    },
    /// A pattern that is none.
    #[error("shop.toml, [files] {table}: {pattern:?} is no pattern ({what}).")]
    Pattern {
        /// The table.
        table: &'static str,
        /// The pattern.
        pattern: String,
        /// What is wrong with it.
        what: String,
    },
    /// A file that cannot be read or unpacked.
    #[error("{file}: cannot be read ({source}). Export it again, or check who may read it.")]
    Unreadable {
        /// The file.
        file: String,
        /// The operating system's word.
        source: std::io::Error,
    },
    /// A file that was written to while it was read.
    #[error(
        "{file}: changed while it was read ({before} bytes before, {} after), so what was read may be half of \
         it. No figure was made, and an earlier review still stands. Wait until the export has ended, and run again.",
        now.map_or_else(|| "gone".to_string(), |n| n.to_string())
    )]
    Changed {
        /// The file.
        file: String,
        /// Its bytes before.
        before: u64,
        /// Its bytes after, where it is still there.
        now: Option<u64>,
    },
    /// Files whose headings or columns do not settle how they are to be read.
    #[error("{}", list(faults))]
    Files {
        /// All that is wrong, file by file.
        faults: Vec<FileFault>,
    },
    /// There are files of jobs, and no job in them.
    #[error(
        "no job to review: {files} hold{} {read} lines, of which {quarantined} were put aside and \
         none was accepted. Run `check` on the folder to see why.",
        if files.contains(", ") { "" } else { "s" }
    )]
    NoJobs {
        /// The files that serve jobs.
        files: String,
        /// Lines in them.
        read: u64,
        /// Lines put aside.
        quarantined: u64,
    },
    /// The states of a file's lines do not add up: a fault of this program.
    #[error(
        "{file}: {read} lines were read and {accounted} accounted for. This is a fault of the \
         program, not of the file; no figure was made. Please report it."
    )]
    Conservation {
        /// The file.
        file: String,
        /// Lines read.
        read: u64,
        /// Lines in some state.
        accounted: u64,
    },
    /// Frames could not be put together: a fault of this program.
    #[error("{table}: the columns could not be put together ({what}). Please report it.")]
    Frame {
        /// The table.
        table: &'static str,
        /// What the frame library said.
        what: String,
    },
}

/// Something about a whole file that keeps it from being read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FileFault {
    /// The file.
    pub file: String,
    /// Physical line, where there is one.
    pub line: Option<u64>,
    /// What is wrong.
    pub kind: FileFaultKind,
}

/// What keeps a file from being read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FileFaultKind {
    /// Nothing in it.
    Empty,
    /// None of the headings sought stands in its first lines.
    NoHeading {
        /// Headings sought.
        sought: Vec<String>,
    },
    /// A heading that a required field needs is not there.
    MissingLabel {
        /// "table.field".
        field: String,
        /// The heading sought.
        sought: String,
        /// Headings found.
        found: Vec<String>,
    },
    /// A heading that a field claims stands there twice.
    DuplicateLabel {
        /// The heading.
        label: String,
    },
    /// The records have another number of cells than the heading.
    LabelCount {
        /// Headings.
        labels: usize,
        /// Cells of most records.
        cells: usize,
        /// True where a heading is blank.
        blank: bool,
    },
    /// Jobs need a finish, or a table of surfaces.
    NoFinish,
    /// Both orders of day and month fit.
    AmbiguousDates {
        /// The heading.
        column: String,
        /// A cell that both fit.
        example: String,
        /// True where some cells fit only one order and some only the other.
        mixed: bool,
    },
    /// Both decimal marks fit.
    AmbiguousNumbers {
        /// The heading.
        column: String,
        /// A cell that both fit.
        example: String,
        /// True where some cells fit only one mark and some only the other.
        mixed: bool,
    },
    /// The heading names a unit that may be several.
    UnclearUnit {
        /// The heading.
        column: String,
        /// The unit.
        unit: String,
        /// The setting that settles it.
        setting: String,
    },
    /// A unit that needs a factor of the shop's.
    NoFactor {
        /// The heading.
        column: String,
        /// The unit.
        unit: &'static str,
        /// The table of shop.toml that holds the factor.
        setting: &'static str,
    },
}

impl FileFaultKind {
    /// A code as in the reason codes: "duplicate-label", "blank-label",
    /// "missing-label", "extra-label", or a word of its own.
    pub fn code(&self) -> &'static str {
        match self {
            Self::Empty => "empty-file",
            Self::NoHeading { .. } => "no-heading",
            Self::MissingLabel { .. } | Self::NoFinish => "missing-label",
            Self::DuplicateLabel { .. } => "duplicate-label",
            Self::LabelCount { blank: true, .. } => "blank-label",
            Self::LabelCount { labels, cells, .. } if labels < cells => "missing-label",
            Self::LabelCount { .. } => "extra-label",
            Self::AmbiguousDates { .. } => "ambiguous-dates",
            Self::AmbiguousNumbers { .. } => "ambiguous-numbers",
            Self::UnclearUnit { .. } | Self::NoFactor { .. } => "unit-error",
        }
    }
}

impl fmt::Display for FileFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if let Some(line) = self.line {
            write!(f, ", line {line}")?;
        }
        write!(f, ": {}", self.kind)
    }
}

// Long because it is a list: one sentence a kind of fault, no logic.
impl fmt::Display for FileFaultKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Empty => f.write_str("the file is empty. Export it again, or take it out."),
            Self::NoHeading { sought } => write!(
                f,
                "no heading found in the first lines; looked for {}. Name the shop's headings in \
                 shop.toml under [columns.*], or the heading's line with heading_line under [format].",
                quoted(sought)
            ),
            Self::MissingLabel {
                field,
                sought,
                found,
            } => write!(
                f,
                "{field} is needed and no column is headed \"{sought}\"; found {}. Name its \
                 heading in shop.toml under [columns.*].",
                quoted(found)
            ),
            Self::DuplicateLabel { label } => write!(
                f,
                "two columns are headed \"{label}\"; expected one. Rename one of them in the file.",
            ),
            Self::LabelCount {
                labels,
                cells,
                blank,
            } => {
                let blank = if *blank { ", one of them blank" } else { "" };
                write!(
                    f,
                    "the heading has {labels} labels{blank}, and most records have {cells} cells, so \
                     columns cannot be told apart. Mend the heading line.",
                )
            }
            Self::NoFinish => f.write_str(
                "jobs need a finish: neither a column for jobs.finish nor a file of surfaces was \
                 found. Name it in shop.toml under [columns.jobs], or add the file.",
            ),
            Self::AmbiguousDates {
                column,
                example,
                mixed: false,
            } => write!(
                f,
                "column \"{column}\": \"{example}\" and every other date fit day-first and \
                 month-first alike. Set order = \"day-first\" or \"month-first\" under [dates] in \
                 shop.toml.",
            ),
            Self::AmbiguousDates {
                column,
                mixed: true,
                ..
            } => write!(
                f,
                "column \"{column}\": some dates fit only day-first and others only month-first. \
                 Set the right order under [dates] in shop.toml; the others are then put aside.",
            ),
            Self::AmbiguousNumbers {
                column,
                example,
                mixed: false,
            } => write!(
                f,
                "column \"{column}\": the mark in \"{example}\" may be a decimal or a thousands \
                 mark. Set decimal = \".\" or \",\" under [numbers] in shop.toml.",
            ),
            Self::AmbiguousNumbers {
                column,
                mixed: true,
                ..
            } => write!(
                f,
                "column \"{column}\": some numbers have a decimal point and others a decimal comma. \
                 Set decimal under [numbers] in shop.toml; the others are then put aside.",
            ),
            Self::UnclearUnit {
                column,
                unit,
                setting,
            } => write!(
                f,
                "column \"{column}\": \"{unit}\" may be a weight or a volume, and of several \
                 countries. Say which with {setting} under [units] in shop.toml.",
            ),
            Self::NoFactor {
                column,
                unit,
                setting,
            } => write!(
                f,
                "column \"{column}\" is in {unit}, which needs the product's factor. Add it under \
                 [{setting}] in shop.toml.",
            ),
        }
    }
}

fn quoted(words: &[String]) -> String {
    const SHOWN: usize = 12;
    let mut text: Vec<String> = words
        .iter()
        .take(SHOWN)
        .map(|w| format!("\"{w}\""))
        .collect();
    if words.len() > SHOWN {
        text.push(format!("and {} more", words.len() - SHOWN));
    }
    text.join(", ")
}

fn list(faults: &[FileFault]) -> String {
    let lines: Vec<String> = faults.iter().map(FileFault::to_string).collect();
    lines.join("\n")
}
