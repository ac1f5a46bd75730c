//! Imports run one way: settings → intake → measures → fits → findings →
//! charts → pages. Reads the `crate::` paths of every file.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// What each room must never know, and why, from the stages' own contracts.
const NEVER: &[(&str, &[&str])] = &[
    (
        "settings",
        &[
            "intake", "measures", "fits", "findings", "charts", "pages", "invent", "run", "error",
        ],
    ),
    (
        "intake",
        &[
            "measures", "fits", "findings", "charts", "pages", "invent", "run", "error",
        ],
    ),
    (
        "measures",
        &[
            "intake", "fits", "findings", "charts", "pages", "invent", "run", "error",
        ],
    ),
    (
        "fits",
        &[
            "settings", "intake", "measures", "findings", "charts", "pages", "invent", "run",
            "error", "disk",
        ],
    ),
    (
        "findings",
        &[
            "intake", "charts", "pages", "invent", "run", "error", "disk",
        ],
    ),
    (
        "charts",
        &[
            "settings", "intake", "measures", "fits", "findings", "pages", "invent", "run",
            "error", "disk",
        ],
    ),
    ("pages", &["measures", "fits", "invent", "run", "error"]),
    (
        "invent",
        &[
            "settings", "intake", "measures", "fits", "findings", "charts", "pages", "run", "error",
        ],
    ),
    (
        "disk",
        &[
            "settings", "intake", "measures", "fits", "findings", "charts", "pages", "invent",
            "run", "error", "estimate", "money", "units",
        ],
    ),
    (
        "estimate",
        &[
            "settings", "intake", "measures", "fits", "findings", "charts", "pages", "invent",
            "run", "error", "money", "units",
        ],
    ),
    (
        "money",
        &[
            "settings", "intake", "measures", "fits", "findings", "charts", "pages", "invent",
            "run", "error",
        ],
    ),
    (
        "threads",
        &[
            "settings", "intake", "measures", "fits", "findings", "charts", "pages", "invent",
            "run", "error", "estimate", "money", "units", "disk",
        ],
    ),
    (
        "units",
        &[
            "settings", "intake", "measures", "fits", "findings", "charts", "pages", "invent",
            "run", "error",
        ],
    ),
];

/// Words that a room must not hold at all: outside libraries and the machine.
const FOREIGN: &[(&str, &[&str])] = &[
    (
        "fits",
        &[
            "polars",
            "std::fs",
            "std::io",
            "std::env",
            "SystemTime",
            "Instant",
            "<svg",
            "askama",
            "plotters",
        ],
    ),
    (
        "findings",
        &[
            "polars", "std::fs", "std::env", "<svg", "askama", "plotters",
        ],
    ),
    (
        "charts",
        &["polars", "std::fs", "std::env", "askama", "statrs"],
    ),
    (
        "pages",
        &[
            "polars",
            "statrs",
            "nalgebra",
            "SystemTime",
            "Local::now",
            "Utc::now",
        ],
    ),
    ("invent", &["polars", "statrs", "nalgebra"]),
    ("measures", &["statrs", "nalgebra", "std::fs"]),
];

fn files(folder: &Path, to: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files(&path, to);
        } else if path.extension().is_some_and(|e| e == "rs") {
            to.push(path);
        }
    }
}

/// The room of a file: its folder under src/, or its own stem.
fn room(src: &Path, file: &Path) -> String {
    let inside = file.strip_prefix(src).unwrap();
    let first = inside.iter().next().unwrap().to_string_lossy();
    first.trim_end_matches(".rs").to_string()
}

/// Rooms named behind `crate::`, in use lines and in paths, braces included.
fn named(text: &str) -> Vec<String> {
    let mut all = Vec::new();
    let code: String = text
        .lines()
        .map(|l| l.split("//").next().unwrap_or(""))
        .collect::<Vec<_>>()
        .join("\n");
    for (at, _) in code.match_indices("crate::") {
        let rest = &code[at + "crate::".len()..];
        let inner = match rest.strip_prefix('{') {
            Some(list) => list.split('}').next().unwrap_or("").split(','),
            None => rest.split('}').next().unwrap_or("")
                [..rest.find([';', ' ', '\n', '(']).unwrap_or(rest.len())]
                .split(','),
        };
        for name in inner {
            let name: String = name
                .trim()
                .chars()
                .take_while(|c| c.is_alphanumeric() || *c == '_')
                .collect();
            all.push(name);
        }
    }
    all
}

fn source() -> Vec<(String, PathBuf, String)> {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut all = Vec::new();
    files(&src, &mut all);
    all.sort();
    assert!(all.len() > 50, "the walk found {} files", all.len());
    all.into_iter()
        .map(|f| {
            (
                room(&src, &f),
                f.clone(),
                std::fs::read_to_string(&f).unwrap(),
            )
        })
        .collect()
}

#[test]
fn imports_run_one_way() {
    let never: BTreeMap<_, _> = NEVER.iter().copied().collect();
    let mut broken = Vec::new();
    for (room, file, text) in source() {
        let Some(forbidden) = never.get(room.as_str()) else {
            continue;
        };
        for name in named(&text) {
            if forbidden.contains(&name.as_str()) {
                broken.push(format!(
                    "{}: {room} must not know {name}. Move what both need into an earlier room or a leaf.",
                    file.display()
                ));
            }
        }
    }
    assert!(broken.is_empty(), "\n{}", broken.join("\n"));
}

#[test]
fn rooms_hold_no_foreign_words() {
    let foreign: BTreeMap<_, _> = FOREIGN.iter().copied().collect();
    let mut broken = Vec::new();
    for (room, file, text) in source() {
        let words = foreign.get(room.as_str()).copied().unwrap_or_default();
        // Tests within a file may read and compare what the room itself may not.
        let code = text.split("#[cfg(test)]").next().unwrap_or("");
        for (i, line) in code.lines().enumerate() {
            let line = line.split("//").next().unwrap_or("");
            for word in words.iter().filter(|w| line.contains(**w)) {
                broken.push(format!(
                    "{}:{}: {room} must not hold {word}",
                    file.display(),
                    i + 1
                ));
            }
        }
    }
    assert!(broken.is_empty(), "\n{}", broken.join("\n"));
}

#[test]
fn the_reader_of_paths_sees_every_way_to_write_one() {
    let text = "use crate::fits::mean::Sample;\nuse crate::{money::Minor, pages};\nlet x = crate::intake::read(y); // crate::charts::no";
    assert_eq!(named(text), ["fits", "money", "pages", "intake"]);
}

#[test]
fn the_top_level_holds_what_was_settled_and_nothing_else() {
    let settled = [
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "src",
        "queries",
        "tests",
        "reports",
        "demo-data",
        "target",
    ];
    let top = Path::new(env!("CARGO_MANIFEST_DIR"));
    let extra: Vec<String> = std::fs::read_dir(top)
        .unwrap()
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
        .filter(|n| !n.starts_with('.') && !settled.contains(&n.as_str()))
        .collect();
    assert!(extra.is_empty(), "{extra:?}");
}

/// No room by the names under which unrelated things gather.
#[test]
fn no_room_is_called_by_a_name_that_says_nothing() {
    for (_, file, _) in source() {
        let text = file.to_string_lossy().into_owned();
        for name in ["utils", "common", "prelude", "helpers", "misc"] {
            let parts = text.split(['/', '.']);
            assert!(!parts.clone().any(|p| p == name), "{text}");
        }
    }
}
