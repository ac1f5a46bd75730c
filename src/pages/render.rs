//! A page's text from its view: templates, style sheet and script of
//! `reports/`, and the policy that lets a browser run these two and nothing
//! else.

use super::view::{PageView, Piece, TableView, TileFigure};
use super::year::IndexView;
use askama::Template;
use sha2::{Digest, Sha256};

/// The style sheet of every page.
pub const STYLE: &str = include_str!("../../reports/style.css");
/// The script of every page: tables that can be sorted.
pub const SCRIPT: &str = include_str!("../../reports/sort.js");

/// The template of a review.
#[derive(Template)]
#[template(path = "review.html", config = "reports/askama.toml")]
struct Review<'a> {
    view: &'a PageView,
    policy: String,
    style: &'a str,
    script: &'a str,
}

impl Review<'_> {
    /// True where column `i` of the table holds numbers.
    fn is_numeric(&self, table: &TableView, i: usize) -> bool {
        table.columns.get(i).is_some_and(|column| column.numeric)
    }

    /// True where the cells of column `i` carry what they are sorted by.
    fn is_keyed(&self, keyed: &[bool], i: usize) -> bool {
        keyed.get(i) == Some(&true)
    }
}

/// The template of several months' index.
#[derive(Template)]
#[template(path = "year.html", config = "reports/askama.toml")]
struct Year<'a> {
    view: &'a IndexView,
    policy: String,
    style: &'a str,
    script: &'a str,
}

impl Year<'_> {
    /// True where column `i` of the table holds numbers.
    fn is_numeric(&self, table: &TableView, i: usize) -> bool {
        table.columns.get(i).is_some_and(|column| column.numeric)
    }

    /// True where the cells of column `i` carry what they are sorted by.
    fn is_keyed(&self, keyed: &[bool], i: usize) -> bool {
        keyed.get(i) == Some(&true)
    }
}

/// The whole HTML text of an index. Same view, same bytes.
///
/// # Errors
/// As [`page`].
pub fn index(view: &IndexView) -> Result<String, askama::Error> {
    Year {
        view,
        policy: policy(),
        style: STYLE,
        script: SCRIPT,
    }
    .render()
}

/// The whole HTML text of a review. Same view, same bytes.
///
/// # Errors
/// Where the template engine fails, which no view should bring about.
pub fn page(view: &PageView) -> Result<String, askama::Error> {
    Review {
        view,
        policy: policy(),
        style: STYLE,
        script: SCRIPT,
    }
    .render()
}

/// Content security policy: this style sheet and this script by their
/// fingerprints, images within the page, and nothing from anywhere else.
fn policy() -> String {
    format!(
        "default-src 'none'; style-src 'sha256-{}'; script-src 'sha256-{}'; \
         img-src data:; base-uri 'none'; form-action 'none'",
        fingerprint(STYLE),
        fingerprint(SCRIPT)
    )
}

fn fingerprint(text: &str) -> String {
    base64(&Sha256::digest(text.as_bytes()))
}

/// Base64 with padding (RFC 4648, section 4).
fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::new();
    for chunk in bytes.chunks(3) {
        let byte = |i: usize| u32::from(chunk.get(i).copied().unwrap_or(0));
        let word = byte(0) << 16 | byte(1) << 8 | byte(2);
        for i in 0..4 {
            let letter = LETTERS[(word >> (18 - 6 * i) & 63) as usize];
            out.push(if i <= chunk.len() {
                char::from(letter)
            } else {
                '='
            });
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4648, section 10: the test vectors.
    #[test]
    fn base64_matches_the_published_vectors() {
        let vectors = [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ];
        for (plain, coded) in vectors {
            assert_eq!(base64(plain.as_bytes()), coded);
        }
    }
}
