//! Pages for single people, on request.

use super::Error;
use crate::findings::pace::PersonPace;
use crate::findings::person::{self, NoPage, OwnPage};
use crate::findings::{Findings, Missing};
use crate::measures::Person;

/// Codes that a message names at most.
const NAMED: usize = 30;

/// What each of the people asked for is shown, each once, in the order of
/// asking.
///
/// # Errors
/// [`Error::NoPerson`] for a code that is not there, or that several shops
/// have.
pub(super) fn asked(all: &Findings, codes: &[String]) -> Result<Vec<OwnPage>, Error> {
    let mut pages: Vec<OwnPage> = Vec::new();
    for code in codes {
        let page = page(all, code).map_err(|why| Error::NoPerson {
            asked: code.clone(),
            why,
        })?;
        if pages.iter().all(|p| p.key != page.key) {
            pages.push(page);
        }
    }
    Ok(pages)
}

fn page(all: &Findings, code: &str) -> Result<OwnPage, String> {
    let pace = all.pace.as_ref().map_err(too_few)?;
    let known = || listed(pace.people.iter().map(PersonPace::key));
    let unknown = || {
        format!(
            "nobody of that code has timed jobs of their own in the months looked at. There is: {}.",
            known()
        )
    };
    let key = person::named(code, pace).map_err(|why| match why {
        NoPage::Unknown => unknown(),
        NoPage::Several(keys) => format!(
            "several shops have that code. Ask for one of {}.",
            listed(keys.into_iter())
        ),
    })?;
    person::find(all, &key).ok_or_else(unknown)
}

fn too_few(why: &Missing) -> String {
    match why {
        Missing::TooFew(n) => format!(
            "no person can be shown yet, with {} of the {} {} needed.",
            n.have, n.need, n.of
        ),
        Missing::NoPrice(_) => "no person can be shown yet.".into(),
    }
}

/// Codes as `--person` takes them; the first of many.
fn listed(keys: impl Iterator<Item = Person>) -> String {
    let word = |p: Person| {
        if p.shop.is_empty() {
            p.person
        } else {
            format!("{}/{}", p.shop, p.person)
        }
    };
    let all: Vec<String> = keys.map(word).collect();
    let first: Vec<&str> = all.iter().take(NAMED).map(String::as_str).collect();
    let text = first.join(", ");
    match all.len() - first.len() {
        0 => text,
        more => format!("{text} and {more} more"),
    }
}
