//! `recalibrate`: every constant against the records, and the next record.

use super::find;
use super::made;
use super::read;
use super::{Error, Progress};
use crate::pages;
use crate::settings::adopt::{self, Adopted};
use crate::settings::command::RecalibrateArgs;

/// Decides every constant; returns what to print. Writes nothing unless told
/// by `--adopt` or `--out`.
///
/// # Errors
/// Settings and intake's; a file that cannot be written.
pub fn recalibrate(
    args: &RecalibrateArgs,
    progress: &mut dyn FnMut(Progress),
) -> Result<String, Error> {
    let mut f = read::read(&args.folder, args.month, progress)?;
    let history = std::mem::take(&mut f.history);
    let findings = find::find(&f, history)?;
    let format = made::format(&f.shop);
    let found = &findings.constants;
    let adopted = match (&found.proposed, args.adopt) {
        (Some(record), true) => Some(adopt::append(&args.folder, record)?),
        _ => None,
    };
    if let Some(out) = &args.out {
        pages::write::into(out, &pages::recalibration_files(&findings, &format)?)?;
    }
    if args.json {
        return Ok(pages::recalibration_json(&findings, &format)?);
    }
    let mut text = pages::recalibration_text(&findings, &format);
    text.push_str(&last_line(args, found.proposed.is_some(), adopted));
    Ok(text)
}

fn last_line(args: &RecalibrateArgs, proposed: bool, adopted: Option<Adopted>) -> String {
    let file = args.folder.join("constants.toml");
    let file = file.display();
    match (proposed, adopted) {
        (false, _) => "Nothing to adopt.\n".to_string(),
        (true, None) => {
            format!("--adopt adds the new record to {file}; earlier records stay as they are.\n")
        }
        (true, Some(Adopted::Appended)) => {
            format!("Added to {file}; earlier records stand as they were.\n")
        }
        (true, Some(Adopted::Already)) => {
            format!("{file} holds this record already: nothing was added.\n")
        }
    }
}
