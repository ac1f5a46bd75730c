//! Names of files for people whose codes may hold any character.

use crate::findings::person::Person;
use std::collections::BTreeSet;

/// Longest name without what stands around it, in characters; file systems
/// take 255 bytes.
const LONGEST: usize = 100;

/// Names given so far, in lower case: some file systems take `p1` and `P1`
/// for the same.
#[derive(Debug, Default)]
pub(super) struct FileNames {
    taken: BTreeSet<String>,
}

impl FileNames {
    /// `person-P003.html`; letters, digits, `_` and `-` stand as they are, a
    /// shop is set off by a dot, any other byte becomes `~` and two hexadecimal
    /// digits, so that no name leads out of the folder. Where a name is taken,
    /// it is numbered from 2.
    pub(super) fn of(&mut self, person: &Person) -> String {
        let code = plain(&person.person);
        let whole = if person.shop.is_empty() {
            code
        } else {
            format!("{}.{code}", plain(&person.shop))
        };
        // All of it is ASCII, so that a cut lies between characters.
        let stem: String = whole.chars().take(LONGEST).collect();
        let mut name = format!("person-{stem}.html");
        let mut next = 2_u32;
        while !self.taken.insert(name.to_ascii_lowercase()) {
            name = format!("person-{stem}.{next}.html");
            next += 1;
        }
        name
    }
}

fn plain(text: &str) -> String {
    let mut out = String::new();
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || matches!(byte, b'_' | b'-') {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("~{byte:02x}"));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(codes: &[&str]) -> Vec<String> {
        let mut all = FileNames::default();
        let person = |code: &&str| Person {
            shop: String::new(),
            person: (*code).into(),
        };
        codes.iter().map(|c| all.of(&person(c))).collect()
    }

    #[test]
    fn no_code_leads_out_of_the_folder() {
        let got = names(&["P003", "../../x", "a b\\c", "é", ".", "CON", "x\0y\n"]);
        let wanted = [
            "person-P003.html",
            "person-~2e~2e~2f~2e~2e~2fx.html",
            "person-a~20b~5cc.html",
            "person-~c3~a9.html",
            "person-~2e.html",
            "person-CON.html",
            "person-x~00y~0a.html",
        ];
        assert_eq!(got, wanted);
    }

    #[test]
    fn codes_that_a_file_system_may_take_for_one_get_two_names() {
        assert_eq!(
            names(&["P1", "p1", "P1"]),
            ["person-P1.html", "person-p1.2.html", "person-P1.3.html"]
        );
        let long = "é".repeat(300);
        let got = names(&[&long, &long]);
        assert!(got.iter().all(|n| n.len() < 130), "{got:?}");
        assert_ne!(got[0], got[1]);
        let mut all = FileNames::default();
        let of_shop = Person {
            shop: "S/1".into(),
            person: "P1".into(),
        };
        assert_eq!(all.of(&of_shop), "person-S~2f1.P1.html");
    }
}
