//! A shop's own questions: SQL files in its folder `queries/`.
//!
//! Only their text is read here. What a file may ask, and whether it can be
//! answered, is decided where it is run.

use std::fs;
use std::io::Read;
use std::path::Path;

/// The folder, within the shop's, that holds the questions.
pub const FOLDER: &str = "queries";
/// The most questions that one review answers.
pub const MOST: usize = 50;
/// The longest text of a question [bytes].
pub const LONGEST: u64 = 16 * 1024;
/// The longest name of a question [letters].
const LONGEST_NAME: usize = 60;

/// One question.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Question {
    /// What it is called: the file's name in lower case, without `.sql`.
    pub name: String,
    /// The file within the shop's folder: "queries/sellers.sql".
    pub file: String,
    /// What it asks, or why it cannot be read.
    pub text: Result<Text, Unreadable>,
}

/// The text of a question.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Text {
    /// First line of the comment at the head; the name where there is none.
    pub title: String,
    /// The rest of that comment, as one paragraph; may be empty.
    pub description: String,
    /// The whole file.
    pub sql: String,
}

/// Why a question cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Unreadable {
    /// The file cannot be opened or read.
    #[error("the file cannot be read: {0}")]
    Io(String),
    /// It is not UTF-8.
    #[error("the file is not UTF-8 text; save it as UTF-8")]
    NotText,
    /// It is longer than [`LONGEST`].
    #[error("the file is longer than {LONGEST} bytes")]
    TooLong,
    /// Its name cannot be one of a table.
    #[error(
        "its name may hold letters a to z, digits, hyphens and underscores, {LONGEST_NAME} at most; rename the file"
    )]
    Name,
    /// Another file has the name.
    #[error("{0} has the same name, as capitals do not count; rename one of the two")]
    Clash(String),
    /// There are more than [`MOST`].
    #[error(
        "a review answers {MOST} questions at most, in order of names, and this one comes after them"
    )]
    TooMany,
}

/// All questions of a shop's folder, in order of file names; none where it has
/// no folder `queries/`.
pub fn read(folder: &Path) -> Vec<Question> {
    let Ok(entries) = fs::read_dir(folder.join(FOLDER)) else {
        return Vec::new();
    };
    let mut names: Vec<String> = entries
        .flatten()
        .filter(|e| e.path().is_file())
        .map(|e| e.file_name().to_string_lossy().into_owned())
        .filter(|name| stem(name).is_some())
        .collect();
    names.sort();
    let mut all: Vec<Question> = Vec::new();
    for (i, file_name) in names.iter().enumerate() {
        let name = stem(file_name).unwrap_or(file_name).to_lowercase();
        let earlier = all.iter().find(|q| q.name == name);
        let text = if i >= MOST {
            Err(Unreadable::TooMany)
        } else if !is_name(&name) {
            Err(Unreadable::Name)
        } else if let Some(other) = earlier {
            Err(Unreadable::Clash(other.file.clone()))
        } else {
            text(&folder.join(FOLDER).join(file_name), &name)
        };
        all.push(Question {
            file: format!("{FOLDER}/{file_name}"),
            name,
            text,
        });
    }
    all
}

/// "sellers" of "sellers.sql"; hidden files are no questions.
fn stem(file_name: &str) -> Option<&str> {
    let (stem, ending) = file_name.rsplit_once('.')?;
    (ending.eq_ignore_ascii_case("sql") && !stem.starts_with('.') && !stem.is_empty())
        .then_some(stem)
}

fn is_name(name: &str) -> bool {
    let plain = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit() || matches!(b, b'-' | b'_');
    name.len() <= LONGEST_NAME && name.bytes().all(plain)
}

fn text(path: &Path, name: &str) -> Result<Text, Unreadable> {
    let failed = |e: std::io::Error| Unreadable::Io(e.kind().to_string());
    let mut bytes = Vec::new();
    let file = fs::File::open(path).map_err(failed)?;
    let length = file.take(LONGEST + 1).read_to_end(&mut bytes);
    if length.map_err(failed)? as u64 > LONGEST {
        return Err(Unreadable::TooLong);
    }
    let sql = String::from_utf8(bytes).map_err(|_| Unreadable::NotText)?;
    let sql = sql.trim_start_matches('\u{feff}').replace("\r\n", "\n");
    let (title, description) = header(&sql);
    Ok(Text {
        title: title.unwrap_or_else(|| name.to_string()),
        description,
        sql,
    })
}

/// Title and description from the comment lines (`--`) at the head.
fn header(sql: &str) -> (Option<String>, String) {
    let lines = sql.lines().map(str::trim).skip_while(|l| l.is_empty());
    // Fused, so that the first line that is no comment ends it for good.
    let comment = lines.map_while(|l| l.strip_prefix("--")).fuse();
    let mut words = comment
        .map(|l| l.trim_matches(|c: char| c == '-' || c.is_whitespace()))
        .filter(|l| !l.is_empty());
    let title = words.next().map(str::to_string);
    (title, words.collect::<Vec<_>>().join(" "))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder(files: &[(&str, &[u8])]) -> tempfile::TempDir {
        let dir = tempfile::tempdir().unwrap();
        fs::create_dir(dir.path().join(FOLDER)).unwrap();
        for (name, text) in files {
            fs::write(dir.path().join(FOLDER).join(name), text).unwrap();
        }
        dir
    }

    #[test]
    fn the_comment_at_the_head_names_and_describes_a_question() {
        let sql =
            "\n-- Jobs by seller\n--\n-- One row each;\n--   all history.\nSELECT 1 -- not this\n";
        let (title, description) = header(sql);
        assert_eq!(title.as_deref(), Some("Jobs by seller"));
        assert_eq!(description, "One row each; all history.");
        assert_eq!(header("SELECT 1\n-- late"), (None, String::new()));
        assert_eq!(header(""), (None, String::new()));
    }

    #[test]
    fn questions_come_in_order_and_bad_ones_say_why() {
        let long = vec![b'x'; LONGEST as usize + 1];
        let dir = folder(&[
            ("b.sql", b"\xef\xbb\xbf-- Second\r\nSELECT 1"),
            ("a.SQL", b"SELECT 1"),
            ("A.sql", b"SELECT 2"),
            ("c d.sql", b"SELECT 1"),
            ("latin.sql", b"-- caf\xe9"),
            ("long.sql", &long),
            ("notes.txt", b""),
            (".hidden.sql", b""),
        ]);
        fs::create_dir(dir.path().join("queries/z.sql")).unwrap();
        let found = read(dir.path());
        let names: Vec<&str> = found.iter().map(|q| q.file.as_str()).collect();
        let files = [
            "A.sql",
            "a.SQL",
            "b.sql",
            "c d.sql",
            "latin.sql",
            "long.sql",
        ];
        assert_eq!(names, files.map(|f| format!("queries/{f}")));
        assert_eq!(found[0].text.as_ref().unwrap().title, "a");
        let clash = found[1].text.as_ref().unwrap_err().to_string();
        assert!(
            clash.starts_with("queries/A.sql has the same name"),
            "{clash}"
        );
        let second = found[2].text.as_ref().unwrap();
        assert_eq!(
            (second.title.as_str(), second.sql.lines().count()),
            ("Second", 2)
        );
        assert_eq!(found[3].text, Err(Unreadable::Name));
        assert_eq!(found[4].text, Err(Unreadable::NotText));
        assert_eq!(found[5].text, Err(Unreadable::TooLong));
        assert!(read(&dir.path().join("nowhere")).is_empty());
    }

    #[test]
    fn a_review_answers_so_many_and_says_which_come_after() {
        let names: Vec<String> = (0..=MOST).map(|i| format!("q{i:03}.sql")).collect();
        let files: Vec<(&str, &[u8])> = names
            .iter()
            .map(|n| (n.as_str(), &b"SELECT 1"[..]))
            .collect();
        let dir = folder(&files);
        let found = read(dir.path());
        assert!(found[MOST - 1].text.is_ok());
        assert_eq!(found[MOST].text, Err(Unreadable::TooMany));
    }
}
