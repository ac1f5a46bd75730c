//! The `shop.toml` that maps the export, made from the same lists as its
//! headings and words.

use super::sheet::{Coding, Dialect};
use super::vocabulary::VOCABULARY;
use super::{small, wide};
use std::fmt::Write;

/// One table of the contract, its file, and its columns.
struct Source {
    table: &'static str,
    dialect: Dialect,
    heading_line: u32,
    columns: &'static [[&'static str; 2]],
}

const SOURCES: [Source; 7] = [
    Source {
        table: "jobs",
        dialect: wide::DIALECT,
        heading_line: wide::HEADING_LINE,
        columns: &wide::COLUMNS,
    },
    Source {
        table: "surfaces",
        dialect: small::PANELS,
        heading_line: 1,
        columns: &small::PANEL_COLUMNS,
    },
    Source {
        table: "coatings",
        dialect: wide::DIALECT,
        heading_line: wide::HEADING_LINE,
        columns: &wide::COLUMNS,
    },
    Source {
        table: "bottles",
        dialect: small::BOTTLES,
        heading_line: 2,
        columns: &small::BOTTLE_COLUMNS,
    },
    Source {
        table: "callbacks",
        dialect: small::CALLBACKS,
        heading_line: 1,
        columns: &small::CALLBACK_COLUMNS,
    },
    Source {
        table: "people",
        dialect: small::STAFF,
        heading_line: 1,
        columns: &small::STAFF_COLUMNS,
    },
    Source {
        table: "inspections",
        dialect: small::LOOKS,
        heading_line: 1,
        columns: &small::LOOK_COLUMNS,
    },
];

const HEAD: &str = "\
# How this invented shop's exports are to be read. The front desk's sheet holds
# two tables: a line per job, with a further line for each further spell of
# coating.

[files]
";

const REST: &str = "
[units]
area = \"ft2\"
used = \"US fl oz\"
volume = \"US fl oz\"
temperature = \"F\"

[dates]
order = \"month-first\"

[numbers]
decimal = \".\"
thousands = \",\"

[money]
currency = \"USD\"
";

/// The text. Writing to a String cannot fail.
pub(super) fn text() -> String {
    let mut text = String::from(HEAD);
    for source in &SOURCES {
        let _ = writeln!(text, "{} = \"{}\"", source.table, source.dialect.name);
    }
    for source in &SOURCES {
        columns(source, &mut text);
    }
    text.push_str(REST);
    for source in SOURCES.iter().filter(|s| s.table != "coatings") {
        format(source, &mut text);
    }
    for vocabulary in &VOCABULARY {
        let _ = writeln!(text, "\n[words.{}]", vocabulary.field);
        for [theirs, ours] in vocabulary.words {
            let _ = writeln!(text, "\"{theirs}\" = \"{ours}\"");
        }
    }
    text
}

fn columns(source: &Source, text: &mut String) {
    let _ = writeln!(text, "\n[columns.{}]", source.table);
    if source.table == "coatings" {
        let _ = writeln!(text, "job = \"Ticket #\"");
    }
    for [heading, field] in source.columns {
        let field = field.strip_prefix(source.table);
        if let Some(field) = field.and_then(|f| f.strip_prefix('.')) {
            let _ = writeln!(text, "{field} = \"{heading}\"");
        }
    }
}

fn format(source: &Source, text: &mut String) {
    let dialect = &source.dialect;
    let encoding = match dialect.coding {
        Coding::Cp1252 => "windows-1252",
        Coding::Utf8 | Coding::Utf8Mark => "utf-8",
    };
    let delimiter = match dialect.delimiter {
        '\t' => "tab".to_string(),
        other => other.to_string(),
    };
    let _ = write!(
        text,
        "\n[format.file.\"{}\"]\nencoding = \"{encoding}\"\ndelimiter = \"{delimiter}\"\n\
         heading_line = {}\n",
        dialect.name, source.heading_line
    );
}
